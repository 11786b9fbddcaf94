"""Why designs fall out, in the words of the certificate."""

RUN_TOO_LONG = "a lateral longer than its label allows"
LINE_SHORT = "the emitter line in stock is too short or its rolls shorter than a lateral"
TUBE_SHORT = "the blank tube in stock is too short"
BURSTS = "standing pressure above the rating of the tubing"
TIMER_FULL = "more zones than the timer has outlets"

"""How long to run it: crop water need, soil water and the schedule of the timer."""

"""HiGHS without its banner on standard output."""

from __future__ import annotations

import highspy


class QuietHighs(highspy.Highs):
    """A HiGHS model on one thread that prints nothing; the wrapper's own constructor prints before it can be told."""

    def __init__(self) -> None:
        super(highspy.Highs, self).__init__()
        self.setOptionValue("output_flag", False)
        self.setOptionValue("threads", 1)

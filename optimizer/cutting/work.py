"""What one solve may spend: a repeatable count of solver steps, and a wall clock only where the user asks for one."""

from __future__ import annotations

import time
from dataclasses import dataclass, field

from optimizer.cutting.model import Limits

_ITERATIONS_PER_WORK = 20_000.0
_CELLS_PER_WORK = 200_000_000.0


@dataclass
class Work:
    """Steps spent so far under given limits."""

    limits: Limits
    done: float = 0.0
    nodes: int = 0
    clock_ended: bool = False
    started: float = field(default_factory=time.monotonic)

    def book_iterations(self, count: int) -> None:
        """Book simplex iterations.

        Args:
            count: How many [-].
        """
        self.done += max(0, count) / _ITERATIONS_PER_WORK

    def book_cells(self, count: int) -> None:
        """Book cells of knapsack tables.

        Args:
            count: How many [-].
        """
        self.done += count / _CELLS_PER_WORK

    @property
    def left(self) -> float:
        """Work still allowed."""
        return max(0.0, self.limits.work - self.done)

    @property
    def seconds_left(self) -> float | None:
        """Wall-clock seconds still allowed; None without a limit [s]."""
        if self.limits.seconds is None:
            return None
        return max(0.0, self.limits.seconds - (time.monotonic() - self.started))

    @property
    def iterations_left(self) -> int:
        """Simplex iterations still allowed."""
        return int(self.left * _ITERATIONS_PER_WORK)

    @property
    def spent(self) -> bool:
        """Whether a limit is reached."""
        if self.seconds_left == 0.0:
            self.clock_ended = True
        return self.clock_ended or self.left <= 0.0

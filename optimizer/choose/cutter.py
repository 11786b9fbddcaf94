"""Cutting for the search: tasks that come up again are not solved again, bounds are kept."""

from __future__ import annotations

import time
from dataclasses import dataclass, field

from optimizer.choose.tubebound import TubeBound, tube_bound
from optimizer.cutting import CuttingOutcome, CuttingStatus, CuttingTask, Limits, money_bound, solve_cutting

EFFORTS = (0.05, 1.0, 30.0)
"""work allowed to each cutting task: a look, a try, and what it takes"""

_FIRST_LOOK_S = 0.05

_SETTLED = (CuttingStatus.PROVEN_BEST, CuttingStatus.IMPOSSIBLE)


class UnsettledError(Exception):
    """The effort allowed settled neither that the tube can be cut nor that it cannot."""


@dataclass(eq=False)
class Cutter:
    """Solves cutting tasks of one scenario.

    Args:
        seed: seed of every solver run.
        end: reading of the monotonic clock at which cutting stops with the best found; None to go on to the proof [s].
    """

    seed: int = 1
    end: float | None = None
    _cuts: dict[CuttingTask, tuple[int, CuttingOutcome]] = field(default_factory=dict)
    _covers: dict[CuttingTask, int | None] = field(default_factory=dict)
    _tube_bounds: dict[tuple[CuttingTask, int], TubeBound | None] = field(default_factory=dict)

    def cut(self, task: CuttingTask, effort: int) -> CuttingOutcome:
        """Solve a cutting task, or return what was found for it before with as much effort.

        Args:
            task: stock and pieces.
            effort: index into `EFFORTS`.
        """
        known = self._cuts.get(task)
        if known is None or (known[0] < effort and known[1].status not in _SETTLED):
            limits = Limits(self.seconds_left, EFFORTS[effort], self.seed)
            known = effort, solve_cutting(task, limits)
            self._cuts[task] = known
        return known[1]

    def least_money(self, task: CuttingTask) -> int | None:
        """Return what no cutting of a task costs less than; None if there is not enough [ct]."""
        if task not in self._covers:
            self._covers[task] = money_bound(task)
        return self._covers[task]

    def tube_bound(self, stock: CuttingTask, units: int) -> TubeBound | None:
        """Return a bound for blank tube of a total length; None if there is not enough.

        Args:
            stock: a task without pieces: what there is to cut from.
            units: total length [cutting units].
        """
        key = (stock, units)
        if key not in self._tube_bounds:
            self._tube_bounds[key] = tube_bound(stock.stocks, stock.usable_um, units * stock.unit_um)
        return self._tube_bounds[key]

    @property
    def time_is_up(self) -> bool:
        """Whether the search has lasted as long as it may."""
        return self.end is not None and time.monotonic() > self.end

    @property
    def seconds_left(self) -> float | None:
        """Time that a piece of work may still take; a first look is always allowed [s]."""
        return None if self.end is None else max(self.end - time.monotonic(), _FIRST_LOOK_S)

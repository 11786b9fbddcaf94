"""One goal at a time: what a pattern costs under it, and the rows every solution must keep."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from math import gcd

import numpy as np

from optimizer.cutting.core import Core, Pattern
from optimizer.cutting.pricing import Ints, Sinks, sinks_with_waste, sinks_without_waste

MONEY, WASTE, COUPLERS = 0, 1, 2


@dataclass(frozen=True)
class Row:
    """A limit on a sum over the bins used: `per_bin` plus `per_waste` times the bin's waste in steps."""

    per_bin: Ints
    per_waste: int
    lower: int | None
    upper: int | None

    @cached_property
    def norm(self) -> int:
        """Size of a typical entry, by which linear programs scale the row."""
        return max(1, int(self.per_bin.max(initial=0)), self.upper or 0 if self.per_waste else 1)

    def of(self, bin_: int | Ints, waste: int | Ints) -> Ints:
        """Entry of patterns in a bin with a waste.

        Args:
            bin_: Index of the bin, or many.
            waste: Waste in steps, or many.
        """
        return self.per_bin[bin_] + self.per_waste * np.asarray(waste, dtype=np.int64)


@dataclass(frozen=True)
class Goal:
    """Minimise goal `index` with the goals before it held at `fixed`.

    Args:
        core: Pieces and bins.
        index: MONEY, WASTE or COUPLERS.
        fixed: Values the goals before it must not exceed.
        rolls_ct: Least and most money for rolls alone; None for no limit of its own [ct].
    """

    core: Core
    index: int
    fixed: tuple[int, ...] = ()
    rolls_ct: tuple[int | None, int | None] = (None, None)

    @property
    def exactly(self) -> bool:
        """Whether pieces must be cut exactly as often as wanted; for money alone more often does no harm."""
        return self.index > MONEY

    @cached_property
    def sinks(self) -> Sinks:
        """Ways to end a pattern that this goal tells apart."""
        return sinks_with_waste(self.core) if self.index > MONEY else sinks_without_waste(self.core)

    @cached_property
    def waste_step(self) -> int:
        """Every waste is a multiple of this [um]."""
        return gcd(self.core.unit_um, *(c.length_um for c in self.core.stock))

    @property
    def steps(self) -> tuple[int, int, int]:
        """Every value of money, waste and couplers is a multiple of these [ct, um, -]."""
        return self.core.money_step, self.waste_step, 1

    @property
    def step(self) -> int:
        """Step of the goal that is minimised."""
        return self.steps[self.index]

    @cached_property
    def goal_rows(self) -> tuple[Row, Row, Row]:
        """Money, waste and couplers as sums over bins, in steps."""
        bins = self.core.bins
        money = np.array([b.money_ct for b in bins], dtype=np.int64) // self.core.money_step
        couplers = np.array([b.couplers for b in bins], dtype=np.int64)
        nothing = np.zeros(len(bins), dtype=np.int64)
        limits = [value // step for value, step in zip(self.fixed, self.steps, strict=False)] + [None, None, None]
        return Row(money, 0, None, limits[0]), Row(nothing, 1, None, limits[1]), Row(couplers, 0, None, None)

    @cached_property
    def rows(self) -> tuple[Row, ...]:
        """Stock that can run out, goals held, and money for rolls alone."""
        uses = np.array([b.rolls for b in self.core.bins], dtype=np.int64)
        limited = [(k, c.available) for k, c in enumerate(self.core.stock) if c.available is not None]
        rows = [Row(uses[:, k], 0, None, available) for k, available in limited]
        rows += self.goal_rows[: self.index]
        if self.rolls_ct != (None, None):
            prices = np.array([c.price_ct for c in self.core.stock], dtype=np.int64)
            rows.append(Row(uses @ prices, 0, *self.rolls_ct))
        return tuple(rows)

    @cached_property
    def sink_costs(self) -> Ints:
        """Cost of each sink, in steps."""
        return self.goal_rows[self.index].of(self.sinks.bins, self.sinks.waste // self.waste_step)

    @cached_property
    def norm(self) -> int:
        """Size of a typical cost, by which linear programs scale the goal."""
        return max(1, int(self.sink_costs.max()))

    def waste_of(self, pattern: Pattern) -> int:
        """Waste of a pattern, in steps.

        Args:
            pattern: Bin and pieces.
        """
        return self.core.bins[pattern[0]].waste_um(self.core.used(pattern), self.core.unit_um) // self.waste_step

    def value(self, packing: list[Pattern]) -> int:
        """Value of the goal, in steps.

        Args:
            packing: One pattern per bin.
        """
        return self.core.goals(packing)[self.index] // self.step

    def allows(self, packing: list[Pattern]) -> bool:
        """Whether a packing keeps all rows.

        Args:
            packing: One pattern per bin.
        """
        for row in self.rows:
            total = sum(int(row.of(p[0], self.waste_of(p))) for p in packing)
            if (row.upper is not None and total > row.upper) or (row.lower is not None and total < row.lower):
                return False
        return True

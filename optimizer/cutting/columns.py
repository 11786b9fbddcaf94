"""Column generation: the linear program over all patterns, and the exact bound its prices prove.

Gilmore and Gomory 1961, "A linear programming approach to the cutting-stock problem". The prices of the linear program
are rounded to whole numbers; the Lagrangian bound is then computed from an exact knapsack, so it holds whatever the
solver's rounding errors were (the rounding of Farley 1990 and its kin, with integers).
"""

from __future__ import annotations

from dataclasses import dataclass

import highspy
import numpy as np

from optimizer.cutting.core import Pattern
from optimizer.cutting.goal import Goal
from optimizer.cutting.lp import QuietHighs
from optimizer.cutting.pricing import Ints, Knapsack
from optimizer.cutting.work import Work

_COLUMNS_PER_ROUND = 60
_DEAREST_PENALTY = 40_000.0


@dataclass(frozen=True)
class Prices:
    """Whole-number prices of pieces and of the goal's rows, `scale` to one step of the goal."""

    scale: int
    pieces: Ints
    rows: tuple[int, ...]

    def knapsack(self, goal: Goal) -> Knapsack:
        """Pattern values under these prices.

        Args:
            goal: Goal the prices belong to.
        """
        costs = self.scale * goal.sink_costs
        for price, row in zip(self.rows, goal.rows, strict=True):
            if price:
                costs = costs - price * row.of(goal.sinks.bins, goal.sinks.waste // goal.waste_step)
        return Knapsack(goal.core, goal.sinks, self.pieces, costs)

    def dual_value(self, goal: Goal) -> int:
        """Scaled dual objective.

        Args:
            goal: Goal the prices belong to.
        """
        value = sum(int(price) * count for price, count in zip(self.pieces, goal.core.counts, strict=True))
        for price, row in zip(self.rows, goal.rows, strict=True):
            value += price * ((row.lower if price > 0 else row.upper) or 0)
        return value


class Master:
    """Linear program over the patterns known so far.

    Args:
        goal: What is minimised and held.
        most_bins: No solution of interest uses more bins than this [-].
    """

    def __init__(self, goal: Goal, most_bins: int) -> None:
        self.goal = goal
        self.most_bins = most_bins
        self.patterns: list[Pattern] = []
        self._known: set[Pattern] = set()
        self._penalty = 4.0
        self._lp = QuietHighs()
        self._lp.setOptionValue("presolve", "off")
        core, inf = goal.core, highspy.kHighsInf
        for count in core.counts:
            self._lp.addRow(count, count if goal.exactly else inf, 0, _NO_INDEX, _NO_VALUE)
        for limit in goal.rows:
            lower = -inf if limit.lower is None else limit.lower / limit.norm
            upper = inf if limit.upper is None else limit.upper / limit.norm
            self._lp.addRow(lower, upper, 0, _NO_INDEX, _NO_VALUE)
        floors = [len(core.counts) + j for j, row in enumerate(goal.rows) if row.lower is not None]
        self._makeshift = [*range(len(core.counts)), *floors]  # rows that may be met at a penalty while patterns lack
        for row in self._makeshift:
            self._lp.addCol(self._penalty, 0.0, inf, 1, np.array([row], dtype=np.int32), np.ones(1))

    def add(self, patterns: list[Pattern]) -> int:
        """Add the patterns not known yet; returns how many were new.

        Args:
            patterns: Patterns to add.
        """
        new = [p for p in dict.fromkeys(patterns) if p not in self._known]
        for pattern in new:
            self._add_one(pattern)
        return len(new)

    def _add_one(self, pattern: Pattern) -> None:
        goal = self.goal
        waste = goal.waste_of(pattern)
        entries = [(row, float(n)) for row, n in enumerate(pattern[1]) if n]
        limits = ((row.norm, int(row.of(pattern[0], waste))) for row in goal.rows)
        entries += [(len(pattern[1]) + j, entry / norm) for j, (norm, entry) in enumerate(limits) if entry]
        rows = np.array([row for row, _ in entries], dtype=np.int32)
        values = np.array([value for _, value in entries])
        cost = int(goal.goal_rows[goal.index].of(pattern[0], waste)) / goal.norm
        self._lp.addCol(cost, 0.0, highspy.kHighsInf, len(rows), rows, values)
        self._known.add(pattern)
        self.patterns.append(pattern)

    def solve(self, work: Work) -> Prices:
        """Solve the linear program and round its prices.

        Args:
            work: Where the effort is booked.
        """
        self._lp.run()
        if self._lp.getModelStatus() != highspy.HighsModelStatus.kOptimal:
            raise ArithmeticError(f"linear program of the patterns ended as {self._lp.getModelStatus()}")
        work.book_iterations(self._lp.getInfo().simplex_iteration_count)
        return self._rounded(np.array(self._lp.getSolution().row_dual))

    def _rounded(self, duals: np.ndarray) -> Prices:
        goal = self.goal
        scale = max(1, 10**9 // goal.norm)
        pieces = len(goal.core.counts)
        worth = np.floor(duals[:pieces] * (goal.norm * scale)).astype(np.int64)
        if not goal.exactly:
            worth = np.maximum(worth, 0)
        rows = []
        for row, dual in zip(goal.rows, duals[pieces:], strict=True):
            price = int(dual * goal.norm * scale / row.norm)
            useless = row.lower is None if price > 0 else row.upper is None
            rows.append(0 if useless else price)
        return Prices(scale, worth, tuple(rows))

    def values(self) -> np.ndarray:
        """Value of each pattern in the last solution."""
        return np.array(self._lp.getSolution().col_value)[len(self._makeshift) :]

    def missing(self) -> float:
        """How far the last solution falls short of pieces and of rows that need a least sum [-]."""
        return float(np.array(self._lp.getSolution().col_value)[: len(self._makeshift)].sum())

    def raise_penalty(self) -> bool:
        """Make falling short dearer; False if it is as dear as whole-number prices can bear."""
        if self._penalty >= _DEAREST_PENALTY:
            return False
        self._penalty *= 100.0
        for column in range(len(self._makeshift)):
            self._lp.changeColCost(column, self._penalty)
        return True


_NO_INDEX = np.array([], dtype=np.int32)
_NO_VALUE = np.array([], dtype=np.float64)


@dataclass(frozen=True)
class Relaxed:
    """Outcome of column generation.

    Args:
        bound: No solution is below this, in steps of the goal.
        prices: Prices that prove it.
        knapsack: Pattern values under these prices.
        values: Value of each of the master's patterns.
    """

    bound: int
    prices: Prices
    knapsack: Knapsack
    values: np.ndarray


def lagrangian_bound(goal: Goal, prices: Prices, knapsack: Knapsack, most_bins: int) -> int:
    """Bound proven by prices, rounded up to a whole step.

    Args:
        goal: Goal the prices belong to.
        prices: Whole-number prices.
        knapsack: Pattern values under them.
        most_bins: No solution of interest uses more bins than this [-].
    """
    scaled = prices.dual_value(goal) + most_bins * knapsack.least_reduced_cost
    return max(0, -(-scaled // prices.scale))


def generate_columns(master: Master, work: Work, enough: int | None) -> Relaxed:
    """Add patterns until no price set finds a better one, or the bound reaches `enough` steps.

    Args:
        master: Linear program with at least one pattern per piece.
        work: Limits.
        enough: Stop once this bound is proven, in steps of the goal.
    """
    goal = master.goal
    best: tuple[int, Prices, Knapsack] | None = None
    while True:
        prices = master.solve(work)
        knapsack = prices.knapsack(goal)
        work.book_cells(2 * knapsack.forward.size)
        bound = lagrangian_bound(goal, prices, knapsack, master.most_bins)
        if best is None or bound >= best[0]:
            best = bound, prices, knapsack
        if (enough is not None and best[0] >= enough) or work.spent:
            break
        settled = knapsack.least_reduced_cost > -_tolerance(prices)
        if not settled:
            settled = not master.add(knapsack.patterns(_COLUMNS_PER_ROUND))
        if settled and (master.missing() < 1e-7 or not master.raise_penalty()):
            break
    return Relaxed(best[0], best[1], best[2], master.values())


def _tolerance(prices: Prices) -> int:
    return max(1, prices.scale // 10**6)

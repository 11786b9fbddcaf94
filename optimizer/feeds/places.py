"""The places a header may take in a bed, measured along the rows."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations, pairwise

from optimizer.rows import RowPlan
from optimizer.units import Display


@dataclass(frozen=True, order=True)
class HeaderPlace:
    """Where a header crosses the rows: at this u, or at the row's end where the row does not reach it."""

    u: float
    """position along the rows; minus or plus infinity follow the row ends [m]"""

    def cross(self, stretches: Sequence[tuple[float, float]], shortest_m: float) -> float:
        """Return where the header crosses a row.

        Closer than `shortest_m` to an end it moves to the end, so that no stub is left without water; in a gap of the
        row it moves to the nearer side of the gap.

        Args:
            stretches: stretches of the row in increasing u [m].
            shortest_m: shortest stretch worth a lateral [m].
        """
        low, high = stretches[0][0], stretches[-1][1]
        if self.u <= low + shortest_m:
            return low
        if self.u >= high - shortest_m:
            return high
        for (_, end), (start, _) in pairwise(stretches):
            if end < self.u < start:
                return end if self.u - end <= start - self.u else start
        return self.u

    def name(self, low: float, display: Display) -> str:
        """Return what the place is called; `low` is where the rows start [m]."""
        if math.isinf(self.u):
            return "at the near row ends" if self.u < 0.0 else "at the far row ends"
        return f"{display.length(self.u - low)} along the rows"


def reach(plan: RowPlan) -> tuple[float, float]:
    """Return the least and greatest u any line of the rows reaches [m]."""
    stretches = [stretch for row in plan.rows for line in row.lines for stretch in line.stretches]
    return min(a for a, _ in stretches), max(b for _, b in stretches)


def header_places(plan: RowPlan, step_m: float, most: int) -> tuple[tuple[HeaderPlace, ...], ...]:
    """Return the sets of header places to compare.

    Args:
        plan: the rows.
        step_m: grid of places between the row ends [m].
        most: greatest number of headers side by side [-].

    Returns:
        One tuple per choice, each with 1 to `most` places in increasing u: both ends, and the grid between.
    """
    low, high = reach(plan)
    count = math.ceil((high - low) / step_m - 1e-9)
    between = [HeaderPlace(round(low + index * step_m, 6)) for index in range(1, count)]
    single = [HeaderPlace(-math.inf), HeaderPlace(math.inf), *between]
    ordered = sorted(single)
    several = [group for size in range(2, most + 1) for group in combinations(ordered, size)]
    return tuple([*((place,) for place in single), *several])

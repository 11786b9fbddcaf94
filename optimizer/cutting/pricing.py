"""Best patterns under given prices of pieces: a bounded knapsack in whole numbers, from both ends.

Forward values say what the best filling of exactly `u` units is worth, backward values what the best completion from
`u` units is worth, roll included. Together they give the best pattern through every piece, and the least reduced cost
of every arc of the arc-flow model. All numbers are integers, so bounds derived from them are exact.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from optimizer.cutting.core import Core, Pattern
from optimizer.cutting.cover import chunks

Ints = NDArray[np.int64]
NEVER = -(2**60)


@dataclass(frozen=True)
class Sinks:
    """Every way to end a pattern: a bin, the units it may have used, and the waste that goes with it.

    An entry with `exact` false holds for any number of units up to `units`, one with `exact` true for that number.
    """

    bins: Ints
    units: Ints
    waste: Ints
    exact: NDArray[np.bool_]


def sinks_without_waste(core: Core) -> Sinks:
    """One entry per bin: any number of units up to its capacity; for goals that do not look at waste.

    Args:
        core: Pieces and bins.
    """
    count = len(core.bins)
    units = np.array([b.capacity for b in core.bins], dtype=np.int64)
    return Sinks(np.arange(count), units, np.zeros(count, dtype=np.int64), np.zeros(count, dtype=np.bool_))


def sinks_with_waste(core: Core) -> Sinks:
    """Entries for each usable-offcut level of each bin, and one per number of units above all levels.

    Args:
        core: Pieces and bins.
    """
    rows: list[tuple[int, int, int, bool]] = []
    for i, b in enumerate(core.bins):
        rows.extend((i, most, waste, False) for most, waste in b.levels)
        above = b.levels[-1][0] + 1 if b.levels else 0
        rows.extend((i, used, b.waste_um(used, core.unit_um), True) for used in range(above, b.capacity + 1))
    table = np.array([row[:3] for row in rows], dtype=np.int64)
    return Sinks(table[:, 0], table[:, 1], table[:, 2], np.array([row[3] for row in rows], dtype=np.bool_))


class Knapsack:
    """Forward and backward values of all patterns for given piece values and sink costs.

    Args:
        core: Pieces and bins.
        sinks: Ways to end a pattern.
        values: What one piece of each size is worth.
        costs: What each sink costs.
    """

    def __init__(self, core: Core, sinks: Sinks, values: Ints, costs: Ints) -> None:
        self.core = core
        self.sinks = sinks
        self.values = values
        self.costs = costs
        self.longest = min(core.total, int(sinks.units.max()))
        self.chunks = [
            (i, copies)
            for i, (size, count) in enumerate(zip(core.sizes, core.counts, strict=True))
            for copies in chunks(min(count, self.longest // size))
        ]

    @cached_property
    def end(self) -> Ints:
        """Least cost of ending with exactly `u` units, for each `u`."""
        far = -NEVER
        within = np.full(self.longest + 1, far, dtype=np.int64)
        exact = within.copy()
        loose = ~self.sinks.exact
        np.minimum.at(within, np.minimum(self.sinks.units[loose], self.longest), self.costs[loose])
        within = np.minimum.accumulate(within[::-1])[::-1]
        fits = self.sinks.exact & (self.sinks.units <= self.longest)
        np.minimum.at(exact, self.sinks.units[fits], self.costs[fits])
        return np.minimum(within, exact)

    @cached_property
    def forward(self) -> Ints:
        """Best value of exactly `u` units from the first `c` chunks, as a matrix [c, u]."""
        table = np.full((len(self.chunks) + 1, self.longest + 1), NEVER, dtype=np.int64)
        table[0, 0] = 0
        for c, (i, copies) in enumerate(self.chunks):
            step, value = copies * self.core.sizes[i], copies * self.values[i]
            table[c + 1, :step] = table[c, :step]
            np.maximum(table[c, step:], table[c, : self.longest + 1 - step] + value, out=table[c + 1, step:])
        return table

    @cached_property
    def backward(self) -> Ints:
        """Best value of completing `u` units with chunks from `c` on, less the sink's cost, as a matrix [c, u]."""
        table = np.empty((len(self.chunks) + 1, self.longest + 1), dtype=np.int64)
        table[-1] = -self.end
        for c in reversed(range(len(self.chunks))):
            i, copies = self.chunks[c]
            step, value = copies * self.core.sizes[i], copies * self.values[i]
            top = self.longest + 1 - step
            table[c, top:] = table[c + 1, top:]
            np.maximum(table[c + 1, :top], table[c + 1, step:] + value, out=table[c, :top])
        return table

    @property
    def least_reduced_cost(self) -> int:
        """Least of sink cost minus piece values over all patterns (the empty one costs nothing)."""
        return int(min(0, -(self.forward[-1] - self.end).max()))

    def patterns(self, most: int) -> list[Pattern]:
        """Patterns of negative reduced cost: the best through each chunk, at most `most`, best first.

        Args:
            most: How many at most [-].
        """
        starts = self._through_chunks()
        starts = starts[np.argsort(starts[:, 0], kind="stable")][:most]
        counts, used = self._fill(starts[:, 1], starts[:, 2])
        bins = [self.best_sink(int(u)) for u in used]
        found = {
            (int(self.sinks.bins[b]), tuple(int(n) for n in row)): None for b, row in zip(bins, counts, strict=True)
        }
        return list(found)

    def _through_chunks(self) -> Ints:
        """Rows (reduced cost, chunk, units before it) of the best pattern through each chunk, if negative."""
        rows = []
        for c, (i, copies) in enumerate(self.chunks):
            step, value = copies * self.core.sizes[i], copies * self.values[i]
            worth = self.forward[c, : self.longest + 1 - step] + value + self.backward[c + 1, step:]
            at = int(worth.argmax())
            if worth[at] > 0:
                rows.append((-int(worth[at]), c, at))
        return np.array(rows, dtype=np.int64).reshape(-1, 3)

    def _fill(self, at_chunk: Ints, before: Ints) -> tuple[Ints, Ints]:
        """Piece counts and units used of the best patterns through the given chunks, all at once."""
        counts = np.zeros((len(at_chunk), len(self.core.sizes)), dtype=np.int64)
        left = before.copy()
        for c in reversed(range(len(self.chunks))):
            i, copies = self.chunks[c]
            counts[at_chunk == c, i] += copies
            taken = (at_chunk > c) & (self.forward[c, left] != self.forward[c + 1, left])
            counts[taken, i] += copies
            left[taken] -= copies * self.core.sizes[i]
        used = before + np.array(
            [self.chunks[c][1] * self.core.sizes[self.chunks[c][0]] for c in at_chunk], dtype=np.int64
        )
        for c, (i, copies) in enumerate(self.chunks):
            taken = (at_chunk < c) & (self.backward[c + 1, used] != self.backward[c, used])
            counts[taken, i] += copies
            used[taken] += copies * self.core.sizes[i]
        return counts, used

    def best_sink(self, used: int) -> int:
        """Index of the cheapest sink for exactly `used` units.

        Args:
            used: Units cut [-].
        """
        fits = np.where(self.sinks.exact, self.sinks.units == used, self.sinks.units >= used)
        return int(np.where(fits, self.costs, -NEVER).argmin())

"""Zones of rows with shut-offs: any rows of a header may run together, opened by hand.

Fewest zones first, then the most even. Up to `MOST_FREE` rows every grouping is compared. Above that rows are put in
order, those of crops that may share a zone together, and every cut of that order into groups is compared.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from optimizer.choose.judge import OpenRows, RunFigures, ZoneJudge
from optimizer.choose.runs import crops_apart
from optimizer.choose.waterlimits import WaterLimits
from optimizer.problem.case import Case

MOST_FREE = 12
"""rows up to which every grouping is looked at"""

_AT_ONCE = 4096

Group = tuple[int, ...]


class NoGroupsError(Exception):
    """The rows cannot be grouped into zones that hold the limits; carries the reason."""


@dataclass(frozen=True)
class RowGroups:
    """Rows that run together, zone by zone."""

    groups: tuple[Group, ...]
    unevenness: int
    """flow variation of the worst zone, in hundredths of a per cent"""


def best_groups(case: Case, limits: WaterLimits, judge: ZoneJudge, failed: Collection[Group] = ()) -> RowGroups:
    """Return the fewest zones of a design whose rows have shut-offs, and of those the most even.

    Args:
        case: a design with one header.
        limits: what its zones must hold.
        judge: judges rows.
        failed: groups found to break a limit when they were solved emitter by emitter; with rows added they do too.

    Raises:
        NoGroupsError: some row cannot run at all, or only with others that cannot.
    """
    judged = _Judged(case, limits, judge, failed)
    found = judged.free() if case.row_count <= MOST_FREE else judged.in_order()
    if found is None:
        raise NoGroupsError(judged.why)
    worst, groups = found
    return RowGroups(groups, worst)


class _Judged:
    """Groups of rows and what they do."""

    def __init__(self, case: Case, limits: WaterLimits, judge: ZoneJudge, failed: Collection[Group]) -> None:
        self.case, self.limits, self.judge = case, limits, judge
        self.failed = [frozenset(group) for group in failed]
        self.rows = case.row_count
        self.crops = [row.crop for row in case.layout.plan.rows]
        self.apart = crops_apart(case)
        self.offs = judge.take_offs(case, 0)
        self.why = ""

    def figures(self, groups: Sequence[Group]) -> Iterator[tuple[Group, bool, bool, int]]:
        """Yield each group with whether it works, whether more rows might, and its flow variation."""
        for start in range(0, len(groups), _AT_ONCE):
            part = groups[start : start + _AT_ONCE]
            found: RunFigures = self.judge.judge_open(OpenRows(self.case, self.limits, self.offs, part))
            if not self.why:
                self.why = next((reason for reason in found.reasons if reason), "")
            columns = found.feasible.tolist(), (~found.grows_worse).tolist(), found.unevenness.tolist()
            for group, feasible, may_grow, uneven in zip(part, *columns, strict=True):
                fails = any(item.issubset(group) for item in self.failed)
                yield group, feasible and not fails, may_grow and not fails, uneven

    def may_share(self, group: Group, row: int) -> bool:
        """Say whether a row's crop may run with those of a group."""
        return not any((self.crops[other], self.crops[row]) in self.apart for other in group)

    # ------------------------------------------------------------ every grouping

    def free(self) -> tuple[int, tuple[Group, ...]] | None:
        """Return worst flow variation and groups among all groupings; None if there are none."""
        works: dict[int, int] = {}
        layer: list[Group] = [(row,) for row in range(self.rows)]
        while layer:
            grown: list[Group] = []
            for group, feasible, may_grow, uneven in self.figures(layer):
                if feasible:
                    works[_mask(group)] = uneven
                if may_grow:
                    more = range(group[-1] + 1, self.rows)
                    grown += ((*group, row) for row in more if self.may_share(group, row))
            layer = grown
        return _fewest_sets(works, self.rows)

    # ------------------------------------------------------------ cuts of one order

    def in_order(self) -> tuple[int, tuple[Group, ...]] | None:
        """Return worst flow variation and groups among all cuts of the rows in order; None if there are none."""
        order, barred = self._order()
        works: dict[tuple[int, int], int] = {}
        going = [(start, start) for start in range(self.rows)]
        while going:
            groups = [tuple(sorted(order[start : end + 1])) for start, end in going]
            onward = []
            for (start, end), (_, feasible, may_grow, uneven) in zip(going, self.figures(groups), strict=True):
                if feasible:
                    works[start, end] = uneven
                if may_grow and end + 1 < self.rows and end + 1 not in barred:
                    onward.append((start, end + 1))
            going = onward
        return _fewest_cuts(works, order)

    def _order(self) -> tuple[list[int], set[int]]:
        """Return the rows, those of crops that may share a zone together, and the places where a new kind begins."""
        kinds: list[list[int]] = []
        for row in range(self.rows):
            home = next((kind for kind in kinds if self.may_share(tuple(kind), row)), None)
            if home is None:
                kinds.append([row])
            else:
                home.append(row)
        starts = np.cumsum([0, *(len(kind) for kind in kinds)])
        return [row for kind in kinds for row in kind], {int(start) for start in starts}


def _mask(group: Group) -> int:
    return sum(1 << row for row in group)


def _rows_of(mask: int) -> Group:
    return tuple(row for row in range(mask.bit_length()) if mask >> row & 1)


def _fewest_sets(works: dict[int, int], rows: int) -> tuple[int, tuple[Group, ...]] | None:
    """Return the partition of all rows into the fewest sets that work, of these the one with the least worst value.

    The fewest sets of a whole leave the fewest for the rest of any of its parts, so both goals pass on to the rest.
    """
    by_lowest: list[list[tuple[int, int]]] = [[] for _ in range(rows)]
    for mask, uneven in sorted(works.items()):
        by_lowest[(mask & -mask).bit_length() - 1].append((mask, uneven))
    best: list[tuple[float, int, int]] = [(0.0, 0, 0)]
    for mask in range(1, 1 << rows):
        lowest = (mask & -mask).bit_length() - 1
        tries = (
            (best[mask ^ part][0] + 1, max(best[mask ^ part][1], uneven), part)
            for part, uneven in by_lowest[lowest]
            if part & mask == part
        )
        best.append(min(tries, default=(math.inf, 0, 0)))
    zones, worst, _ = best[-1]
    if math.isinf(zones):
        return None
    groups, mask = [], (1 << rows) - 1
    while mask:
        groups.append(_rows_of(best[mask][2]))
        mask ^= best[mask][2]
    return worst, tuple(groups)


def _fewest_cuts(works: dict[tuple[int, int], int], order: Sequence[int]) -> tuple[int, tuple[Group, ...]] | None:
    """Return the cut of an order into the fewest groups that work, of these the one with the least worst value."""
    best: list[tuple[float, int, int]] = [(0.0, 0, 0)]
    ending: dict[int, list[int]] = {}
    for start, end in works:
        ending.setdefault(end, []).append(start)
    for end in range(len(order)):
        tries = ((best[start][0] + 1, max(best[start][1], works[start, end]), start) for start in ending.get(end, ()))
        best.append(min(tries, default=(math.inf, 0, 0)))
    zones, worst, _ = best[-1]
    if math.isinf(zones):
        return None
    groups, stop = [], len(order)
    while stop:
        start = best[stop][2]
        groups.append(tuple(sorted(order[start:stop])))
        stop = start
    return worst, tuple(groups[::-1])

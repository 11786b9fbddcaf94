"""Zones of many units: groups of neighbours along the mainline, where comparing every grouping would take too long."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import accumulate
from typing import Protocol

from optimizer.choose.manybeds.lay import Groups, Hung
from optimizer.choose.manybeds.units import Units
from optimizer.choose.manybeds.zones import Reading


class Feeding(Protocol):
    """Units on their mainline, asked what groups of them do."""

    def on(self, groups: Groups) -> Hung:
        """Return the units hung on mainline."""
        ...

    def reading(self, group: tuple[int, ...]) -> Reading:
        """Return what a group of units does as a zone."""
        ...


def in_order(units: Units, fed: Feeding, most: int | None) -> Iterator[Groups]:
    """Yield groupings of neighbours into the fewest zones, first the one whose zones are most alike in size.

    The units are put in the order in which mainline passes them, those that may run together by kind. Then the order is
    cut: no zone reaches farther than the longest that holds from where it starts.

    Args:
        units: the units.
        fed: units on their common mainline.
        most: greatest number of zones.
    """
    every = tuple(range(len(units.units)))
    passed = sorted(every, key=lambda unit: (_passed(fed.on((every,)), unit), unit))
    order, starts = _by_kind(units, passed)
    reach = _reach(order, starts, fed)
    farthest = _farthest(reach)
    if farthest is None or (most is not None and len(farthest) > most):
        return
    sizes = [units.emitters(unit) for unit in order]
    for cuts in dict.fromkeys((_most_alike(reach, sizes, len(farthest)), farthest)):
        yield tuple(tuple(sorted(order[start:end])) for start, end in cuts)


def _reach(order: list[int], starts: set[int], fed: Feeding) -> list[int]:
    """Return behind which place a zone that starts at each place must end; a place itself where none holds.

    What does not hold does not hold with more units either, so a later start reaches at least as far.
    """
    reach: list[int] = []
    end = 0
    for start in range(len(order)):
        end = max(end, start)
        kind = min((place for place in starts if place > start), default=len(order))
        while end < kind and fed.reading(tuple(sorted(order[start : end + 1]))).holds:
            end += 1
        reach.append(end)
    return reach


def _farthest(reach: list[int]) -> tuple[tuple[int, int], ...] | None:
    """Return the cuts with every zone as long as it may be; None if a unit holds in no zone."""
    cuts, start = [], 0
    while start < len(reach):
        if reach[start] <= start:
            return None
        cuts.append((start, reach[start]))
        start = reach[start]
    return tuple(cuts)


def _most_alike(reach: list[int], sizes: list[int], zones: int) -> tuple[tuple[int, int], ...]:
    """Return the cuts into so many zones whose largest is smallest."""
    total = [0, *accumulate(sizes)]
    best: dict[tuple[int, int], tuple[int, tuple[tuple[int, int], ...]]] = {(0, 0): (0, ())}
    for zone in range(zones):
        for start in range(len(reach)):
            if (zone, start) in best:
                largest, cuts = best[zone, start]
                for end in range(start + 1, reach[start] + 1):
                    found = max(largest, total[end] - total[start]), (*cuts, (start, end))
                    key = zone + 1, end
                    best[key] = min(best.get(key, found), found)
    return best[zones, len(reach)][1]


def _passed(on: Hung, unit: int) -> tuple[int, ...]:
    """Return the way to a unit as numbers of parts from the supply on; parts are numbered in the order of a walk."""
    way = []
    part = on.fed[unit][0]
    while part >= 0:
        way.append(part)
        part = on.parts[part].above
    return tuple(reversed(way))


def _by_kind(units: Units, passed: list[int]) -> tuple[list[int], set[int]]:
    """Return units with those that may run together side by side, and the places at which a new kind begins."""
    kinds: list[list[int]] = []
    for unit in passed:
        home = next((kind for kind in kinds if units.may_share(kind, unit)), None)
        if home is None:
            kinds.append([unit])
        else:
            home.append(unit)
    starts, order = set(), list[int]()
    for kind in kinds:
        starts.add(len(order))
        order += kind
    return order, starts

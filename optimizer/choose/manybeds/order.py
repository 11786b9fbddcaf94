"""Zones of many units: groups of neighbours along the mainline, where comparing every grouping would take too long."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from functools import cache
from itertools import accumulate
from typing import Protocol

from optimizer.choose.manybeds.cuts import best_cuts
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


def in_order(units: Units, fed: Feeding, most: int | None, more: int = 0) -> Iterator[Groups]:
    """Yield groupings of neighbours along the mainline: those with fewest valves, and those most alike in size.

    The units are put in the order in which mainline passes them, those that may run together by kind. Then the order is
    cut: no zone reaches farther than the longest that holds from where it starts.

    Args:
        units: the units.
        fed: units on their common mainline.
        most: greatest number of zones.
        more: zones beyond the fewest to look at as well; smaller zones do with thinner mainline.
    """
    every = tuple(range(len(units.units)))
    on = fed.on((every,))
    passed = sorted(every, key=lambda unit: (_passed(on, unit), unit))
    order, starts = _by_kind(units, passed)
    reach = _reach(order, starts, fed)
    farthest = _farthest(reach)
    if farthest is None or (most is not None and len(farthest) > most):
        return
    total = [0, *accumulate(units.emitters(unit) for unit in order)]
    valves = valves_of(on, order)
    few = best_cuts(reach, lambda start, end: (valves(start, end), total[end] - total[start]), most)
    alike = best_cuts(reach, lambda start, end: (0, total[end] - total[start]), most)
    counts = [count for count in sorted(few) if count <= len(farthest) + more]
    found = [min(few.values()), *(each[count] for count in counts for each in (alike, few))]
    for cuts in dict.fromkeys((*(item.cuts for item in found), farthest)):
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


def valves_of(on: Hung, order: list[int]) -> Callable[[int, int], int]:
    """Return how many valves a zone of units from a place in the order to another needs on its common mainline.

    A valve stands where tube begins to serve one zone alone.
    """
    behind: list[set[int]] = [set() for _ in on.parts]
    for place, unit in enumerate(order):
        part = on.fed[unit][0]
        while part >= 0:
            behind[part].add(place)
            part = on.parts[part].above
    spans = [(min(places, default=0), max(places, default=-1) + 1, len(places)) for places in behind]

    @cache
    def valves(start: int, end: int) -> int:
        alone = [count > 0 and start <= low and high <= end for low, high, count in spans]
        opened = {
            on.parts[part].above
            for part, mine in enumerate(alone)
            if mine and not (on.parts[part].above >= 0 and alone[on.parts[part].above])
        }
        opened |= {on.fed[unit][0] for unit in order[start:end] if not alone[on.fed[unit][0]]}
        return len(opened)

    return valves


def _passed(on: Hung, unit: int) -> tuple[int, ...]:
    """Return the way to a unit as numbers of parts from the supply on; parts are numbered in the order of a walk."""
    way = []
    part = on.fed[unit][0]
    while part >= 0:
        way.append(part)
        part = on.parts[part].above
    return tuple(reversed(way))


def kinds_of(units: Units, passed: Sequence[int]) -> list[list[int]]:
    """Return units with those together that may run together."""
    kinds: list[list[int]] = []
    for unit in passed:
        home = next((kind for kind in kinds if units.may_share(kind, unit)), None)
        if home is None:
            kinds.append([unit])
        else:
            home.append(unit)
    return kinds


def _by_kind(units: Units, passed: list[int]) -> tuple[list[int], set[int]]:
    """Return units with those that may run together side by side, and the places at which a new kind begins."""
    starts, order = set(), list[int]()
    for kind in kinds_of(units, passed):
        starts.add(len(order))
        order += kind
    return order, starts

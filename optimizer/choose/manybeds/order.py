"""Zones of many units: groups of neighbours along the mainline, where comparing every grouping would take too long."""

from __future__ import annotations

import math
from collections.abc import Iterator
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
    """Yield groupings of neighbours into few zones.

    The units are put in the order in which mainline passes them, those that may run together by kind; then the order is
    cut into the fewest zones that hold, of these cuts the one whose worst zone is most even.

    Args:
        units: the units.
        fed: units on their mainline.
        most: greatest number of zones.
    """
    every = tuple(range(len(units.units)))
    passed = sorted(every, key=lambda unit: (_passed(fed.on((every,)), unit), unit))
    order, starts = _by_kind(units, passed)
    works: dict[tuple[int, int], int] = {}
    for start in range(len(order)):
        for end in range(start, len(order)):
            if end > start and end in starts:
                break
            found = fed.reading(tuple(sorted(order[start : end + 1])))
            if not found.holds:
                break
            works[start, end] = found.unevenness
    groups = _fewest(works, order)
    if groups is not None and (most is None or len(groups) <= most):
        yield groups


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


def _fewest(works: dict[tuple[int, int], int], order: list[int]) -> Groups | None:
    best: list[tuple[float, int, int]] = [(0.0, 0, 0)]
    for end in range(len(order)):
        tries = (
            (best[start][0] + 1, max(best[start][1], works[start, end]), start)
            for start in range(end + 1)
            if (start, end) in works
        )
        best.append(min(tries, default=(math.inf, 0, 0)))
    if math.isinf(best[-1][0]):
        return None
    groups, stop = [], len(order)
    while stop:
        start = best[stop][2]
        groups.append(tuple(sorted(order[start:stop])))
        stop = start
    return tuple(groups[::-1])

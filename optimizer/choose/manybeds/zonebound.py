"""How many zones a set of combinations needs at least, by the flow of their emitters."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence

from optimizer.choose.manybeds.shares import Share
from optimizer.choose.manybeds.zones import velocity_flow
from optimizer.choose.waterlimits import water_limits
from optimizer.problem.case import Case
from optimizer.scenario.schema import BlankTube

_ROUNDING = 1e-6

_FINE = 10_000
"""parts of what a zone may take in which flows are counted"""

MOST_A_ZONE = 12
"""up to so many alike units in a zone the waste of their whole number is seen"""


def least_zones(cases: Sequence[Case], shares: Sequence[Sequence[Share]], mains: Sequence[BlankTube]) -> int:
    """Return the least number of zones of blocks with one emitter line: each stretch of header runs as a whole.

    Args:
        cases: a design of each block.
        shares: what its layouts add.
        mains: tubes of the mainline.
    """
    most = zone_room(cases, mains)
    sizes = [[[math.floor(_FINE * flow / most) for flow in item.unit_flows_m3_s] for item in each] for each in shares]
    return max(least_bins(sizes, _FINE), 1)


def zone_room(cases: Sequence[Case], mains: Sequence[BlankTube]) -> float:
    """Return what a zone may take at most: what the supply gives and the widest tube passes [m3/s].

    Args:
        cases: a design of each block.
        mains: tubes of the mainline.
    """
    fastest = max(velocity_flow(tube, cases[0].scenario) for tube in mains)
    return min(max(water_limits(case).usable_m3_s for case in cases), fastest)


def least_bins(choices: Sequence[Sequence[Sequence[int]]], room: int) -> int:
    """Return a bound on the bins that hold one choice of sizes of each item.

    Sizes are measured so that what fits into a bin together measures no more than one (dual feasible functions; Fekete
    and Schepers, New classes of fast lower bounds for bin packing problems, Mathematical Programming 91, 2001).

    Args:
        choices: for each item the choices, each of several sizes that need not share a bin.
        room: size of a bin.
    """
    if room < 1:
        return 1
    sizes = sorted({size for each in choices for units in each for size in units})
    found = 0.0
    for measure in _measures(sizes, room):
        known = {size: measure(size) for size in sizes}
        found = max(found, sum(min(sum(known[size] for size in units) for units in each) for each in choices))
    return math.ceil(found - _ROUNDING)


def _measures(sizes: Sequence[int], room: int) -> Iterator[Callable[[int], float]]:
    yield lambda size: size / room
    for least in sizes:
        if 2 * least <= room:
            # Small sizes count nothing, sizes that leave room only for those count one.
            yield lambda size, least=least: (  # type: ignore[misc]
                0.0 if size < least else 1.0 if size > room - least else size / room
            )
    for whole in range(1, MOST_A_ZONE + 1):
        yield lambda size, whole=whole: _in_whole_parts(size, room, whole)  # type: ignore[misc]


def _in_whole_parts(size: int, room: int, parts: int) -> float:
    """Return a size in parts of a bin: by itself where the next finer parts measure it exactly, else rounded down."""
    finer, rest = divmod(size * (parts + 1), room)
    return size / room if rest == 0 else finer / parts

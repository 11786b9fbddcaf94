"""Ways to part a garden into zones along the gaps between its beds."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import combinations, pairwise

import shapely
from shapely.geometry import MultiPoint

from optimizer.geometry import Point

BlockGroups = tuple[tuple[int, ...], ...]
"""blocks of each zone"""

MOST_GAPS = 6
"""widest gaps looked at across each direction"""

_SAME_M = 1e-3


def across_gaps(places: Sequence[Point], zones: int) -> Iterator[BlockGroups]:
    """Yield groups of blocks parted by straight lines through gaps, whatever flow they take.

    Args:
        places: middle of each block [m].
        zones: how many groups, at least 2.
    """
    seen = set()
    for along in _axes(places):
        for groups in _parted(along, zones):
            if groups not in seen:
                seen.add(groups)
                yield groups


def _axes(places: Sequence[Point]) -> Iterator[list[float]]:
    """Yield how far along each side of the least rectangle around all places these lie [m]."""
    around = shapely.oriented_envelope(MultiPoint(places))
    corners = list(shapely.get_coordinates(around)) if around.geom_type == "Polygon" else [(0.0, 0.0), (1.0, 0.0)]
    (x0, y0), (x1, y1) = corners[0], corners[1]
    angle = math.atan2(y1 - y0, x1 - x0)
    for turned in (angle, angle + math.pi / 2.0):
        yield [x * math.cos(turned) + y * math.sin(turned) for x, y in places]


def _parted(along: Sequence[float], zones: int) -> Iterator[BlockGroups]:
    """Yield the blocks parted at all choices of some gaps."""
    order = sorted(range(len(along)), key=lambda block: (along[block], block))
    widths = [(along[b] - along[a], number + 1) for number, (a, b) in enumerate(pairwise(order))]
    widest = sorted(widths, key=lambda gap: (-gap[0], gap[1]))[:MOST_GAPS]
    gaps = sorted(number for width, number in widest if width > _SAME_M)
    for cuts in combinations(gaps, zones - 1):
        ends = (0, *cuts, len(order))
        yield tuple(tuple(sorted(order[start:end])) for start, end in pairwise(ends))

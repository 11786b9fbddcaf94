"""Identical beds treated alike, so that any of their lines fits any of them."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import product

from optimizer.choose.evaluate import RuledOutError
from optimizer.choose.manybeds.garden import Garden
from optimizer.choose.manybeds.opened import Open
from optimizer.geometry import Point
from optimizer.scenario.outlines import corners
from optimizer.scenario.schema import Bed
from optimizer.units import micrometres

_SAME_M = 0.001
_SAME_RAD = 0.001

Lengths = frozenset[int]
"""lengths of the lines in a bed [um]"""


def alike_choices(garden: Garden, every: Open) -> Iterator[Open]:
    """Part combinations into those that give the lines in beds of one shape the same lengths.

    Args:
        garden: the garden.
        every: the combinations; all of them stay together unless the scenario asks for beds alike.
    """
    if not garden.scenario.limits.beds_alike:
        yield every
        return
    lengths = [
        {layout: found for layout in layouts if (found := _lengths(garden, every, block, layout)) is not None}
        for block, layouts in enumerate(every.layouts)
    ]
    groups = _groups(garden.scenario.beds)
    owners = {bed: block for block, each in enumerate(garden.patterns[every.pattern].blocks) for bed in each.beds}
    for chosen in product(*(_shared(group, owners, lengths) for group in groups)):
        wanted = {bed: each for group, each in zip(groups, chosen, strict=True) for bed in group}
        layouts = tuple(
            tuple(layout for layout, beds in each.items() if all(wanted[bed] == held for bed, held in beds.items()))
            for each in lengths
        )
        if all(layouts):
            yield Open(every.pattern, every.kit, layouts)


def _lengths(garden: Garden, every: Open, block: int, layout: int) -> dict[int, Lengths] | None:
    """Return the lengths of the lines in each bed of a block; None if it cannot be laid."""
    try:
        case = garden.case(every.pattern, every.kit, block, layout)
    except RuledOutError:
        return None
    found: dict[int, set[int]] = {bed: set() for bed in garden.patterns[every.pattern].blocks[block].beds}
    beds, spacing_um = list(found), micrometres(case.line.spacing)
    for lateral in case.feed.laterals:
        found[beds[case.layout.bed_of(lateral.row)]] |= {part.spacings * spacing_um for part in lateral.parts}
    return {bed: frozenset(held) for bed, held in found.items()}


def _shared(
    group: Sequence[int], owners: dict[int, int], lengths: Sequence[dict[int, dict[int, Lengths]]]
) -> list[Lengths]:
    """Return the lengths that every bed of a group can have."""
    each = [dict.fromkeys(beds[bed] for beds in lengths[owners[bed]].values()) for bed in group]
    return [held for held in each[0] if all(held in others for others in each[1:])]


def _groups(beds: Sequence[Bed]) -> list[tuple[int, ...]]:
    """Return the beds of each shape."""
    found: list[list[int]] = []
    for index, bed in enumerate(beds):
        home = next((group for group in found if _of_one_shape(beds[group[0]], bed)), None)
        if home is None:
            found.append([index])
        else:
            home.append(index)
    return [tuple(group) for group in found]


def _of_one_shape(one: Bed, two: Bed) -> bool:
    """Say whether beds are alike but for their place and how they are turned: sides, corners, height and margins."""
    plain = ((bed.raised, bed.edge_margin, bed.row_end_margin) for bed in (one, two))
    sides, others = _sides(one), _sides(two)
    if len(sides) != len(others) or len(set(plain)) > 1:
        return False
    starts = range(len(others))
    return any(all(map(_same_side, sides, others[start:] + others[:start])) for start in starts)


def _same_side(one: tuple[float, float], two: tuple[float, float]) -> bool:
    turned = math.remainder(one[1] - two[1], 2.0 * math.pi)
    return abs(one[0] - two[0]) <= _SAME_M and abs(turned) <= _SAME_RAD


def _sides(bed: Bed) -> list[tuple[float, float]]:
    """Return length and turn at the end of each side, in order around the bed [m, rad]."""
    around = _anticlockwise(corners(bed))
    count = len(around)
    found = []
    for index in range(count):
        a, b, c = (around[(index + step) % count] for step in range(3))
        turn = math.atan2(c[1] - b[1], c[0] - b[0]) - math.atan2(b[1] - a[1], b[0] - a[0])
        found.append((math.dist(a, b), turn))
    return found


def _anticlockwise(outline: Sequence[Point]) -> list[Point]:
    area = sum(x0 * y1 - x1 * y0 for (x0, y0), (x1, y1) in zip(outline, [*outline[1:], outline[0]], strict=True))
    return list(outline) if area > 0.0 else list(reversed(outline))

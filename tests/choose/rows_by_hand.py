"""Row plans by brute force: every set of places on the grid, every crop on each of them."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise, permutations

from optimizer.rows import RowField
from optimizer.scenario.schema import Bed

Placing = tuple[tuple[int, float], ...]
"""(crop, v) of each row, in the order of v"""


def placings(bed: Bed, field: RowField) -> Iterator[Placing]:
    """Yield every way to place rows: crops in blocks, neighbours at least the larger of their row spacings apart."""
    for order in permutations(range(len(bed.crops))):
        yield from _further(bed, field, order, ())


def _further(bed: Bed, field: RowField, order: tuple[int, ...], placed: Placing) -> Iterator[Placing]:
    yield placed
    at = order.index(placed[-1][0]) if placed else 0
    for crop in order[at:]:
        for v in field.places_m.tolist():
            if (
                placed
                and v - placed[-1][1] < max(bed.crops[crop].row_spacing, bed.crops[placed[-1][0]].row_spacing) - 1e-6
            ):
                continue
            wanted = bed.crops[crop].rows
            if wanted is not None and sum(other == crop for other, _ in placed) >= wanted:
                continue
            if _metres(bed, field, crop, v) > 0.0:
                yield from _further(bed, field, order, (*placed, (crop, v)))


def _metres(bed: Bed, field: RowField, crop: int, v: float) -> float:
    """Return the watered length of a row; 0 if one of its lines has nowhere to lie."""
    item = bed.crops[crop]
    lines = [v + (number - (item.lines_per_row - 1) / 2) * item.line_spacing for number in range(item.lines_per_row)]
    return field.planted_m(v) if all(field.stretches(line) for line in lines) else 0.0


def goals(bed: Bed, field: RowField, placing: Placing) -> tuple[int, int, int]:
    """Return missing share [ppm], filling rows and planted length [mm]; the last two are to be large."""
    missing, filling = 0.0, 0
    for index, crop in enumerate(bed.crops):
        own = sum(other == index for other, _ in placing)
        if crop.fill:
            filling += own
            missing += 0.0 if own else 1.0
        else:
            missing += 1.0 - own / crop.rows
    length = sum(round(1000 * _metres(bed, field, crop, v)) for crop, v in placing)
    return round(1e6 * missing), -filling, -length


def best_goals(bed: Bed, field: RowField) -> tuple[int, int, int]:
    """Return the best goals of all placings."""
    assert all(one < two for one, two in pairwise(field.places_m))
    return min(goals(bed, field, placing) for placing in placings(bed, field))

"""Standing pressure: what the tubing feels with all valves shut, most of it at its lowest place."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from itertools import pairwise

import numpy as np

from optimizer.geometry import Point
from optimizer.problem.bill import header_points
from optimizer.problem.case import Case
from optimizer.problem.laying import Laying

_GROUND_STEP_M = 0.5  # mainline follows bent ground in steps of this


def standing_head(case: Case) -> float:
    """Return the greatest pressure in the tubing of a design with all valves shut [m]."""
    headers = [point for line in case.layout.headers for point in line.points]
    mainline = [line.approach.points for line in case.layout.headers]
    laterals = [] if case.shapes.ground.flat else _on_laterals(case)
    return standing_at(case, [*headers, *laterals], mainline)


def standing_at(case: Case, on_bed: Sequence[Point], mainline: Sequence[Sequence[Point]]) -> float:
    """Return the greatest standing pressure in tubing at the given places [m].

    Args:
        case: the design.
        on_bed: places of headers and laterals [m].
        mainline: lines of tube that lie on the ground [m].
    """
    heights = case.shapes.ground.heights
    ground = np.array([place for way in mainline for place in _along(case, way)])
    on_beds = float(heights(np.array(on_bed)).min()) + case.layout.raised
    # Tube leaves the supply at its own height, which may lie below the ground around it.
    lowest = min(on_beds, float(heights(ground).min()), case.shapes.source_z_m)
    return float(case.assembly.shut_heads()[-1]) + case.shapes.source_z_m - lowest


def laid_standing_head(laying: Laying, zone: int) -> float:
    """Return the greatest pressure in the tubing of a zone with all valves shut [m]."""
    blocks: dict[int, list[int]] = {}
    for header, index in laying.zone_laterals(zone):
        blocks.setdefault(laying.headers[header].block, []).append(index)
    ways = [laying.mainline[part].points for part in laying.zone_parts(zone)]
    heads = []
    for block, indices in blocks.items():
        case = laying.cases[block]
        members = [laying.headers[member.header] for member in laying.zones[zone]]
        headers = [point for item in members if item.block == block for point in header_points(laying, item)]
        heads.append(standing_at(case, [*headers, *_on_laterals(case, indices)], ways))
    return max(heads)


def _on_laterals(case: Case, indices: Iterable[int] | None = None) -> Iterator[Point]:
    """Yield the ends of every stretch; on bent ground every emitter as well, half a spacing apart."""
    frame, rows, half = case.layout.frame, case.layout.plan.rows, case.line.spacing / 2.0
    laterals = case.feed.laterals if indices is None else [case.feed.laterals[index] for index in indices]
    for lateral in laterals:
        v = rows[lateral.row].lines[lateral.line].v
        for part in lateral.parts:
            step = 1 if case.shapes.ground.spots else 2 * part.spacings
            for number in range(0, 2 * part.spacings + 1, step):
                yield frame.to_plan((part.u + lateral.side * number * half, v))


def _along(case: Case, way: Sequence[Point]) -> Iterator[Point]:
    """Yield the corners of a line; on bent ground also places between."""
    yield from way
    if case.shapes.ground.spots:
        for (x0, y0), (x1, y1) in pairwise(way):
            steps = max(math.ceil(math.dist((x0, y0), (x1, y1)) / _GROUND_STEP_M), 1)
            yield from ((x0 + (x1 - x0) * i / steps, y0 + (y1 - y0) * i / steps) for i in range(1, steps))

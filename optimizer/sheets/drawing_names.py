"""Words on the ground: source, shapes, tubes, and the measures of the plot."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from matplotlib.axes import Axes
from shapely.geometry import Point as ShapelyPoint
from shapely.geometry import Polygon

from optimizer.plan import MapShape, Plan, Point
from optimizer.sheets.drawing_board import Board, Box, readable
from optimizer.sheets.drawing_places import along, is_area, line_length, zone_valves
from optimizer.sheets.drawing_tubes import VALVE_CLEAR_MM
from optimizer.sheets.labels import place_name, text_size, write
from optimizer.sheets.palette import INK, SOFT_INK
from optimizer.sheets.paper import View, points
from optimizer.units import Display

_LIGHT = 2.0
"""what a name that is told elsewhere may cover at most [1]"""
_TRIES: dict[bool | None, tuple[tuple[float, float], ...]] = {
    None: ((24.0, 0.0), (70.0, math.inf)),
    False: ((24.0, 0.0), (40.0, _LIGHT)),
    True: ((14.0, 0.0),),
}
"""how far off a name may stand [mm] and what it may cover [1]"""
_BED_WEIGHT = 3.0
"""how unwelcome the name of another thing is on a bed [1]"""
_MOST_SIDES = 12
"""an outline of more corners gets its overall measures only"""


@dataclass(frozen=True)
class _Name:
    """Wordings of a name, best first, and the points it may belong to on the page [mm]."""

    wordings: tuple[str, ...]
    anchors: tuple[Point, ...]
    bold: bool = False
    skirt_mm: float = 0.6
    close: bool | None = None
    """True for names that stand close by or not at all, False for those that may go a little further"""


def name_inside(axes: Axes, board: Board, plan: Plan, view: View) -> tuple[str, ...]:
    """Write names of shapes that have room for them, before anything else is written.

    Obstacles are then kept clear of other words as far as can be.

    Returns:
        The names written.
    """
    out = []
    for shape in plan.site.shapes:
        if not is_area(shape):
            continue
        area = Polygon(view.to_page(shape.points))
        width, height = text_size(shape.name)
        for x, y in _in_shape(shape, view):
            box = Box(x, y, width, height)
            if area.covers(Polygon(box.corners())) and board.is_free(box) and board.covered(box) == 0.0:
                board.block(box)
                write(axes, box, shape.name, clear=0.8)
                out.append(shape.name)
                break
        if shape.kind == "obstacle":
            x0, y0, x1, y1 = area.bounds
            board.discourage(Box((x0 + x1) / 2, (y0 + y1) / 2, x1 - x0, y1 - y0), 2.0)
    return tuple(out)


@dataclass(frozen=True)
class GroundNames:
    """What of the ground found no place for its name."""

    missed: tuple[str, ...] = ()
    """told nowhere else"""
    tubes: tuple[str, ...] = ()
    """ids of headers and mainline parts"""


def name_ground(axes: Axes, board: Board, plan: Plan, view: View, inside: Sequence[str]) -> GroundNames:
    """Write the names of source, valves, headers, mainline and shapes.

    Args:
        axes: page in millimetres.
        board: what is taken.
        plan: whose names.
        view: places them.
        inside: shapes whose names stand already.
    """
    several = len(plan.beds) > 1
    if several:
        _spare_beds(board, plan, view)
    names = [_Name((plan.site.source_kind,), (view.at(plan.site.source_at),), True, 2.6)]
    for place in zone_valves(plan, VALVE_CLEAR_MM / view.mm_per_m):
        words = ("valve of all zones", "valve") if place.name == "all" else (f"valve {place.name}", place.name)
        names.append(_Name(words, (view.at(place.at),), False, 2.4))
    shapes = [_Name((shape.name,), _in_shape(shape, view)) for shape in plan.site.shapes if shape.name not in inside]
    tubes = [_Name((header.id,), _on_line(header.points, view), True, 0.8, several) for header in plan.headers]
    tubes += [_Name((part.id,), _on_line(part.points, view), False, 0.8, several) for part in plan.mainline]
    # Among several beds tubes are many and listed by bed: there shapes come first.
    order = [*names, *shapes, *tubes] if several else [*names, *tubes, *shapes]
    missed = [name for name in order if not _place(axes, board, name)]
    listed = {name.wordings[0] for name in tubes}
    return GroundNames(
        tuple(name.wordings[0] for name in missed if name.wordings[0] not in listed),
        tuple(name.wordings[0] for name in missed if name.wordings[0] in listed),
    )


def _spare_beds(board: Board, plan: Plan, view: View) -> None:
    """Keep names of other things off the beds as far as can be: there they would be taken for names of rows."""
    for bed in plan.beds:
        x0, y0, x1, y1 = Polygon(view.to_page(bed.outline)).bounds
        board.discourage(Box((x0 + x1) / 2, (y0 + y1) / 2, x1 - x0, y1 - y0), _BED_WEIGHT)


def _place(axes: Axes, board: Board, name: _Name) -> bool:
    """Try every wording near by where it covers nothing, then further off or covering more."""
    for reach, bearable in _TRIES[name.close]:
        for text in name.wordings:
            if place_name(
                axes, board, name.anchors, text,
                bold=name.bold, reach_mm=reach, skirt_mm=name.skirt_mm, bearable=bearable,
            ):  # fmt: skip
                return True
    return False


def _on_line(line: Sequence[Point], view: View) -> tuple[Point, ...]:
    """Return points along a tube at which its name may stand, the middle first [mm]."""
    length = line_length(line)
    return tuple(view.at(along(line, t * length)[0]) for t in (0.5, 0.4, 0.6, 0.25, 0.75, 0.1, 0.9))


def _in_shape(shape: MapShape, view: View) -> tuple[Point, ...]:
    """Return points in a shape, or on it if it is a line, at which its name may stand [mm]."""
    if not is_area(shape):
        return _on_line(shape.points, view)
    area = Polygon(shape.points)
    x0, y0, x1, y1 = area.bounds
    out = [(area.representative_point().x, area.representative_point().y)]
    for t in (0.5, 0.3, 0.7, 0.12, 0.88):
        across, up = (x0 + t * (x1 - x0), (y0 + y1) / 2), ((x0 + x1) / 2, y0 + t * (y1 - y0))
        out += [point for point in (across, up) if area.covers(ShapelyPoint(point))]
    return tuple(view.at(point) for point in out)


def measure_outline(axes: Axes, board: Board, plan: Plan, view: View, display: Display) -> list[str]:
    """Write the length of the sides of the plot, or of its only bed, outside it; return what found no place.

    A rectangle is measured on two sides, a plot of many corners over all.
    """
    outline = plan.site.outline or (plan.beds[0].outline if len(plan.beds) == 1 else ())
    return [
        text
        for a, b in _sides(outline)
        if (text := _measure(axes, board, view.at(a), view.at(b), display.length(math.dist(a, b))))
    ]


def _sides(outline: Sequence[Point]) -> list[tuple[Point, Point]]:
    """Return the strokes to measure, anticlockwise so that outside is at their right."""
    if len(outline) < 3:
        return []
    ring = list(outline) if _is_anticlockwise(outline) else list(outline)[::-1]
    sides = list(pairwise([*ring, ring[0]]))
    xs, ys = zip(*ring, strict=True)
    if len(ring) > _MOST_SIDES:
        return [((min(xs), min(ys)), (max(xs), min(ys))), ((min(xs), max(ys)), (min(xs), min(ys)))]
    if len(ring) == 4 and _is_rectangle(sides):
        sides.sort(key=lambda side: (round(side[0][1] + side[1][1], 6), round(side[0][0] + side[1][0], 6)))
        bottom = sides[0]
        upright = [s for s in sides if abs(_dot(s, bottom)) < 1e-6]
        return [bottom, min(upright, key=lambda s: s[0][0] + s[1][0])]
    return sides


def _dot(a: tuple[Point, Point], b: tuple[Point, Point]) -> float:
    return (a[1][0] - a[0][0]) * (b[1][0] - b[0][0]) + (a[1][1] - a[0][1]) * (b[1][1] - b[0][1])


def _is_rectangle(sides: Sequence[tuple[Point, Point]]) -> bool:
    return all(abs(_dot(a, b)) < 1e-6 for a, b in pairwise([*sides, sides[0]]))


def _is_anticlockwise(ring: Sequence[Point]) -> bool:
    return sum(a[0] * b[1] - b[0] * a[1] for a, b in pairwise([*ring, ring[0]])) > 0


def _measure(axes: Axes, board: Board, a: Point, b: Point, text: str) -> str:
    """Draw one measure at the right of a stroke; return its text if there was no place [mm]."""
    size = math.dist(a, b)
    if size < 0.5:
        return ""
    nx, ny = (b[1] - a[1]) / size, -(b[0] - a[0]) / size
    width, height = text_size(text)
    angle = readable(math.degrees(math.atan2(b[1] - a[1], b[0] - a[0])))
    for offset in (6.0, 10.5, 15.0):
        p, q = ((x + nx * offset, y + ny * offset) for x, y in (a, b))
        for t in (0.5, 0.35, 0.65, 0.2, 0.8):
            box = Box(p[0] + (q[0] - p[0]) * t, p[1] + (q[1] - p[1]) * t, width + 1.0, height, angle)
            if width + 6.0 < size and board.is_free(box) and board.covered(box) == 0.0:
                board.block(box)
                board.discourage_line((p, q), weight=0.3)
                _measure_line(axes, (a, b), (p, q), (nx, ny))
                write(axes, box, text, clear=1.0)
                return ""
    middle = ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2)
    return "" if place_name(axes, board, (middle,), text) else text


def _measure_line(axes: Axes, side: tuple[Point, Point], line: tuple[Point, Point], outward: Point) -> None:
    """Draw the measure's line, its two thin extensions and a stroke where they meet [mm]."""
    axes.plot(*zip(*line, strict=True), color=SOFT_INK, linewidth=points(0.18), zorder=3)
    for corner, end in zip(side, line, strict=True):
        first, last = ((x + outward[0] * 1.2, y + outward[1] * 1.2) for x, y in (corner, end))
        axes.plot((first[0], last[0]), (first[1], last[1]), color=SOFT_INK, linewidth=points(0.13), zorder=3)
        xs, ys = (end[0] - 0.8, end[0] + 0.8), (end[1] - 0.8, end[1] + 0.8)
        axes.plot(xs, ys, color=INK, linewidth=points(0.35), zorder=3)

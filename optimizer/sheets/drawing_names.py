"""Words on the ground itself: rows, zones, tubes, beds and shapes, measures of the plot."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import shapely
from matplotlib.axes import Axes
from shapely.geometry.base import BaseGeometry

from optimizer.plan import Plan, Point, Row
from optimizer.sheets import drawing_marks as marks
from optimizer.sheets.drawing_places import line_length, zone_valves
from optimizer.sheets.drawing_rows import BYPASS, Group, Run, id_span, laterals_by_row, length_text, run_text, runs_of
from optimizer.sheets.labels import Board, Box, draw_leader, near_edge, place_name, segment_box, text_size, write
from optimizer.sheets.palette import INK, SOFT_INK, ZoneLook
from optimizer.sheets.paper import View, points
from optimizer.units import Display

_BLANK_MM = 1.3
_MOST_SIDES = 12
"""an outline of more corners gets its overall measures only"""


def readable(angle_deg: float) -> float:
    """Turn an angle by half a turn if text along it would stand on its head: (-90, 90] [deg]."""
    angle = angle_deg % 180.0
    return angle if angle <= 90.0 + 1e-6 else angle - 180.0


def longest_stroke(way: Sequence[Point]) -> tuple[Point, Point]:
    """Return the longest straight part of a polyline, in its direction."""
    return max(zip(way, way[1:], strict=False), key=lambda ab: math.dist(*ab))


def _spots_along(a: Point, b: Point, width: float, height: float) -> Iterator[Box]:
    """Yield boxes that lie on a stroke, from its start onwards [mm]."""
    size = math.dist(a, b)
    angle = readable(math.degrees(math.atan2(b[1] - a[1], b[0] - a[0])))
    along = width / 2 + 4.0
    while along + width / 2 + 1.5 <= size:
        t = along / size
        yield Box(a[0] + (b[0] - a[0]) * t, a[1] + (b[1] - a[1]) * t, width, height, angle)
        along += 4.0


def _write_parts(axes: Axes, box: Box, strong: str, weak: str, ink: str) -> None:
    """Write a heavy word and light ones behind it on one line of a box."""
    axes.fill(*zip(*box.corners(), strict=True), color="white", alpha=0.86, linewidth=0, zorder=19)
    first = text_size(strong, bold=True)[0] if strong else 0.0
    second = text_size(weak)[0] if weak else 0.0
    gap = _BLANK_MM if strong and weak else 0.0
    c, s = math.cos(math.radians(box.angle_deg)), math.sin(math.radians(box.angle_deg))
    left = -(first + gap + second) / 2
    for text, offset, width, bold in (
        (strong, left + first / 2, first, True),
        (weak, left + first + gap + second / 2, second, False),
    ):
        if text:
            part = Box(box.x + offset * c, box.y + offset * s, width, box.height, box.angle_deg)
            write(axes, part, text, bold=bold, colour=ink if bold else INK)


def _parts_size(strong: str, weak: str) -> Point:
    first = text_size(strong, bold=True)[0] if strong else 0.0
    second = text_size(weak)[0] if weak else 0.0
    return first + second + (_BLANK_MM if strong and weak else 0.0), text_size("R")[1]


def _put_on_stroke(
    axes: Axes, board: Board, stroke: tuple[Point, Point], texts: Sequence[tuple[str, str]], ink: str
) -> bool:
    """Write the first of several wordings that has a free place on a stroke [mm]."""
    for strong, weak in texts:
        width, height = _parts_size(strong, weak)
        box = board.first_free(_spots_along(*stroke, width, height), tubes_matter=False)
        if box is not None:
            board.block(box)
            _write_parts(axes, box, strong, weak, ink)
            return True
    return False


def name_every_row(
    axes: Axes, board: Board, plan: Plan, view: View, looks: dict[str, ZoneLook], display: Display
) -> list[str]:
    """Write number, crop and cut lengths on every row.

    Returns:
        What found no place.
    """
    laterals, missed = laterals_by_row(plan), []
    for row in plan.rows:
        for index, run in enumerate(runs_of(row, laterals[row.id])):
            if not _name_run(axes, board, run, view, looks[run.zone_id].ink, display, first=index == 0):
                missed.append(f"{row.id} {run_text(run, display)}")
    return missed


def _name_run(axes: Axes, board: Board, run: Run, view: View, ink: str, display: Display, *, first: bool) -> bool:
    a, b = longest_stroke([view.at(point) for point in run.way])
    if run.kind == BYPASS:
        return place_name(axes, board, ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2), run_text(run, display), reach_mm=40.0)
    length = length_text(run.lengths_um, display)
    texts = (
        [(run.row.id, f"{run.row.crop} {length}"), (run.row.id, length)]
        if first
        else [(run.row.id, length), ("", length)]
    )
    if _put_on_stroke(axes, board, (a, b), texts, ink):
        return True
    middle = ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2)
    return place_name(axes, board, middle, f"{run.row.id} {length}", colour=ink, reach_mm=40.0)


def name_row_groups(
    axes: Axes, board: Board, groups: Sequence[Group], plan: Plan, view: View, looks: dict[str, ZoneLook]
) -> list[str]:
    """Write the numbers of rows too close for a label each; lengths are in the key.

    A group of several rows gets one label across all of them. Single rows get theirs where there is room; the first
    and last row of a bed always.

    Returns:
        What found no place.
    """
    laterals, missed = laterals_by_row(plan), []
    edge_rows = {row.id for bed in plan.beds for row in _first_and_last(plan, bed.name)}
    for group in groups:
        ink = looks[group.zone_ids[0]].ink if group.zone_ids else INK
        strokes = [longest_stroke([view.at(p) for p in _main_way(row, laterals)]) for row in group.rows]
        text = id_span([row.id for row in group.rows])
        if len(group.rows) > 1:
            placed = _bracketed(axes, board, strokes, text, ink)
        else:
            placed = _put_on_stroke(axes, board, strokes[0], [(text, "")], ink)
        must = len(group.rows) > 1 or group.rows[0].id in edge_rows
        if not placed and must and not _lead(axes, board, strokes[len(strokes) // 2], text, ink):
            missed.append(text)
    return missed


def _main_way(row: Row, laterals: dict[str, list]) -> tuple[Point, ...]:  # type: ignore[type-arg]
    runs = [run for run in runs_of(row, laterals[row.id]) if run.kind != BYPASS]
    return max(runs, key=lambda run: line_length(run.way)).way if runs else (row.start, row.end)


def _first_and_last(plan: Plan, bed: str) -> list[Row]:
    rows = [row for row in plan.rows if row.bed == bed]
    return [rows[0], rows[-1]] if rows else []


def _lead(axes: Axes, board: Board, stroke: tuple[Point, Point], text: str, ink: str) -> bool:
    return place_name(axes, board, stroke[1], text, bold=True, colour=ink)


def _bracketed(axes: Axes, board: Board, strokes: Sequence[tuple[Point, Point]], text: str, ink: str) -> bool:
    """Write one label in the middle of several rows with a bar from the first to the last of them."""
    first, last, middle = strokes[0], strokes[-1], strokes[len(strokes) // 2]
    shortest = min(math.dist(*stroke) for stroke in strokes)
    width, height = _parts_size(text, "")
    for box in _spots_along(*middle, width, height):
        along = math.dist(middle[0], (box.x, box.y))
        if along + width / 2 > shortest or not board.is_free(box):
            continue
        near = along - width / 2 - 1.2
        ends = [_on(stroke, near) for stroke in (first, last)]
        bar = segment_box(ends[0], ends[1], 0.4)
        if not board.is_free(bar):
            continue
        board.block(box)
        board.block(bar)
        axes.plot(
            *zip(*ends, strict=True), color=ink, linewidth=points(0.35), marker="o", markersize=points(1.1), zorder=16
        )
        _write_parts(axes, box, text, "", ink)
        return True
    return False


def _on(stroke: tuple[Point, Point], along: float) -> Point:
    t = along / math.dist(*stroke)
    (xa, ya), (xb, yb) = stroke
    return xa + (xb - xa) * t, ya + (yb - ya) * t


def name_zones(axes: Axes, board: Board, areas: dict[str, BaseGeometry], looks: dict[str, ZoneLook]) -> list[str]:
    """Put the letter on every separate part of a zone's area on the page [mm]."""
    missed = []
    for zone_id, area in areas.items():
        size = text_size(zone_id, 15.0, bold=True)
        for part in sorted(shapely.get_parts(area), key=lambda p: (-p.area, p.bounds)):
            spots = (Box(x, y, max(size) + 1.4, size[1] + 1.4) for x, y in _inner_grid(part))
            box = board.first_free(spots, tubes_matter=False)
            if box is None:
                middle = part.representative_point()
                if not place_name(
                    axes, board, (middle.x, middle.y), f"zone {zone_id}", bold=True, colour=looks[zone_id].ink
                ):
                    missed.append(f"zone {zone_id}")
                continue
            marks.zone_badge(axes, (box.x, box.y), zone_id, looks[zone_id], 15.0)
            board.block(box)
    return missed


def _inner_grid(area: BaseGeometry) -> Iterator[Point]:
    """Yield points inside an area, from its middle outwards."""
    x0, y0, x1, y1 = area.bounds
    inner = area.buffer(-4.0)
    middle = ((x0 + x1) / 2, (y0 + y1) / 2)
    step = max(3.0, math.sqrt((x1 - x0) * (y1 - y0)) / 24)
    xs = [x0 + step * (k + 0.5) for k in range(int((x1 - x0) / step) + 1)]
    ys = [y0 + step * (k + 0.5) for k in range(int((y1 - y0) / step) + 1)]
    grid = sorted(((x, y) for x in xs for y in ys), key=lambda p: (round(math.dist(p, middle), 3), p))
    yield from (p for p in grid if not inner.is_empty and inner.covers(shapely.Point(p)))


def name_ground(axes: Axes, board: Board, plan: Plan, view: View, display: Display) -> list[str]:
    """Write the names of source, shapes, beds, valves, headers and mainline; return what found no place."""
    wanted: list[tuple[Point, str, bool]] = [(view.at(plan.site.source_at), plan.site.source_kind, True)]
    wanted += [(view.at(place.at), f"valve {place.name}", False) for place in zone_valves(plan)]
    for shape in plan.site.shapes:
        wanted.append((_middle(shape.points, view), shape.name, False))
    for header in plan.headers:
        text = f"{header.id} {display.length(header.length_um / 1e6)}"
        wanted.append((_midway(header.points, view), text, True))
    for part in plan.mainline:
        wanted.append((_midway(part.points, view), f"{part.id} {display.length(part.length_um / 1e6)}", False))
    missed = [text for at, text, bold in wanted if not place_name(axes, board, at, text, bold=bold)]
    return missed + _name_beds(axes, board, plan, view, display)


def _middle(shape: Sequence[Point], view: View) -> Point:
    area = shapely.Polygon(shape) if len(shape) > 2 else shapely.LineString(shape)
    middle = area.representative_point()
    return view.at((middle.x, middle.y))


def _midway(line: Sequence[Point], view: View) -> Point:
    a, b = longest_stroke([view.at(point) for point in line])
    return (a[0] + b[0]) / 2, (a[1] + b[1]) / 2


def _name_beds(axes: Axes, board: Board, plan: Plan, view: View, display: Display) -> list[str]:
    missed = []
    for bed in plan.beds:
        if len(plan.beds) == 1 and plan.site.outline or len(bed.outline) < 3:
            continue
        xs, ys = zip(*bed.outline, strict=True)
        text = f"{bed.name} {display.length(max(xs) - min(xs))} × {display.length(max(ys) - min(ys))}"
        texts = (text, bed.name)
        x0, y1 = view.at((min(xs), max(ys)))
        _, y0 = view.at((min(xs), min(ys)))
        for wording in texts:
            width, height = text_size(wording, bold=True)
            spots = [Box(x0 + width / 2, y, width, height) for y in (y1 + height / 2 + 0.8, y0 - height / 2 - 0.8)]
            box = board.first_free(spots)
            if box is not None:
                board.block(box)
                write(axes, box, wording, bold=True, clear=0.8)
                break
        else:
            if not place_name(axes, board, (x0, y1), text, bold=True):
                missed.append(text)
    return missed


def measure_outline(axes: Axes, board: Board, plan: Plan, view: View, display: Display) -> list[str]:
    """Write the length of every side of the plot outside it; of a rounded plot width and depth."""
    outline = plan.site.outline
    if not outline:
        return []
    sides = list(zip(outline, (*outline[1:], outline[0]), strict=True))
    if len(sides) > _MOST_SIDES:
        xs, ys = zip(*outline, strict=True)
        low, high = (min(xs), min(ys)), (max(xs), max(ys))
        sides = [(low, (high[0], low[1])), ((high[0], low[1]), high)]
    turn = 1.0 if shapely.LinearRing(outline).is_ccw or len(outline) > _MOST_SIDES else -1.0
    return [
        text
        for a, b in sides
        if (text := _measure(axes, board, view.at(a), view.at(b), turn, display.length(math.dist(a, b))))
    ]


def _measure(axes: Axes, board: Board, a: Point, b: Point, turn: float, text: str) -> str:
    """Draw one measure on the outer side of a stroke; return its text if there was no place [mm]."""
    size = math.dist(a, b)
    if size < 0.5:
        return ""
    nx, ny = turn * (b[1] - a[1]) / size, -turn * (b[0] - a[0]) / size
    width, height = text_size(text)
    angle = readable(math.degrees(math.atan2(b[1] - a[1], b[0] - a[0])))
    for offset in (6.0, 10.5, 15.0):
        p, q = ((x + nx * offset, y + ny * offset) for x, y in (a, b))
        for t in (0.5, 0.35, 0.65, 0.2, 0.8):
            box = Box(p[0] + (q[0] - p[0]) * t, p[1] + (q[1] - p[1]) * t, width + 1.0, height, angle)
            if width + 6.0 < size and board.is_free(box) and board.covered(box) == 0:
                board.block(box)
                board.discourage_line((p, q))
                _measure_line(axes, (a, b), (p, q), (nx, ny))
                write(axes, box, text, clear=1.0)
                return ""
    middle = ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2)
    return "" if place_name(axes, board, middle, text) else text


def _measure_line(axes: Axes, side: tuple[Point, Point], line: tuple[Point, Point], outward: Point) -> None:
    axes.plot(*zip(*line, strict=True), color=SOFT_INK, linewidth=points(0.18), zorder=3)
    for corner, end in zip(side, line, strict=True):
        from_, to = ((x + outward[0] * k, y + outward[1] * k) for (x, y), k in ((corner, 1.2), (end, 1.2)))
        axes.plot((from_[0], to[0]), (from_[1], to[1]), color=SOFT_INK, linewidth=points(0.13), zorder=3)
        axes.plot(
            (end[0] - 0.8, end[0] + 0.8), (end[1] - 0.8, end[1] + 0.8), color=INK, linewidth=points(0.35), zorder=3
        )


__all__ = [
    "draw_leader", "measure_outline", "name_every_row", "name_ground", "name_row_groups", "name_zones", "near_edge",
]  # fmt: skip

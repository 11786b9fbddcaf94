"""Words on rows and zones: numbers, crops and cut lengths where they fit, letters of the zones."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import shapely
from matplotlib.axes import Axes
from shapely.geometry import Point as ShapelyPoint
from shapely.geometry.base import BaseGeometry

from optimizer.plan import Lateral, Plan, Point, Row
from optimizer.sheets import drawing_marks as marks
from optimizer.sheets.drawing_board import Board, Box, readable, segment_box
from optimizer.sheets.drawing_places import line_length
from optimizer.sheets.drawing_rows import BYPASS, Group, Run, id_span, laterals_by_row, length_text, run_text, runs_of
from optimizer.sheets.labels import place_name, text_size, write
from optimizer.sheets.palette import INK, ZoneLook
from optimizer.sheets.paper import View, points
from optimizer.sheets.spans import bed_key
from optimizer.units import Display

_BLANK_MM = 1.3
_STEP_MM = 4.0
Stroke = tuple[Point, Point]


@dataclass(frozen=True)
class Desk:
    """What every function that writes on rows needs: the page, what is taken, and how to write."""

    axes: Axes
    board: Board
    view: View
    looks: dict[str, ZoneLook]
    display: Display


@dataclass(frozen=True)
class RowNames:
    """What came of naming all rows."""

    missed: tuple[str, ...]
    """found no place"""
    crops_shown: bool
    """every row carries its crop"""


def longest_stroke(way: Sequence[Point]) -> Stroke:
    """Return the longest straight part of a polyline, in its direction."""
    return max(pairwise(way), key=lambda ab: math.dist(*ab))


def _spots_along(stroke: Stroke, width: float, height: float) -> Iterator[Box]:
    """Yield boxes that lie on a stroke, from its start onwards [mm]."""
    (xa, ya), (xb, yb) = stroke
    size = math.dist(*stroke)
    angle = readable(math.degrees(math.atan2(yb - ya, xb - xa)))
    along = width / 2 + 4.0
    while along + width / 2 + 1.5 <= size:
        t = along / size
        yield Box(xa + (xb - xa) * t, ya + (yb - ya) * t, width, height, angle)
        along += _STEP_MM


def parts_size(strong: str, weak: str) -> Point:
    """Return width and height of a heavy word with light ones behind it [mm]."""
    first = text_size(strong, bold=True)[0] if strong else 0.0
    second = text_size(weak)[0] if weak else 0.0
    return first + second + (_BLANK_MM if strong and weak else 0.0), text_size("R")[1]


def write_parts(axes: Axes, box: Box, strong: str, weak: str, ink: str) -> None:
    """Write a heavy word and light ones behind it on one line of a box [mm]."""
    axes.fill(*zip(*box.corners(), strict=True), color="white", alpha=0.86, linewidth=0, zorder=19)
    first = text_size(strong, bold=True)[0] if strong else 0.0
    second = text_size(weak)[0] if weak else 0.0
    c, s = math.cos(math.radians(box.angle_deg)), math.sin(math.radians(box.angle_deg))
    heavy, light = (first - box.width) / 2, (box.width - second) / 2
    for text, offset, width, bold in ((strong, heavy, first, True), (weak, light, second, False)):
        if text:
            part = Box(box.x + offset * c, box.y + offset * s, width, box.height, box.angle_deg)
            write(axes, part, text, bold=bold, colour=ink if bold else INK)


def _put_on_stroke(desk: Desk, stroke: Stroke, texts: Sequence[tuple[str, str]], ink: str) -> int | None:
    """Write the first of several wordings that has a free place on a stroke; return which."""
    for index, (strong, weak) in enumerate(texts):
        spots = _spots_along(stroke, *parts_size(strong, weak))
        # A row's label always lies on its own laterals; only blank tube is to be spared.
        box = desk.board.first_free(spots, bearable=5.0)
        if box is not None:
            desk.board.block(box)
            write_parts(desk.axes, box, strong, weak, ink)
            return index
    return None


def name_every_row(desk: Desk, plan: Plan) -> RowNames:
    """Write number, crop and cut lengths on every row, beside it where it is too short."""
    laterals, missed, crops = laterals_by_row(plan), [], True
    runs = [(k == 0, run) for row in plan.rows for k, run in enumerate(runs_of(row, laterals[row.id]))]
    # Bypasses last: their names may stand anywhere near, those of rows belong on the row.
    for first, run in sorted(runs, key=lambda item: item[1].kind == BYPASS):
        placed, with_crop = _name_run(desk, run, first=first)
        crops = crops and with_crop
        if not placed:
            missed.append(f"{run.row.id} {run_text(run, desk.display)}")
    return RowNames(tuple(missed), crops)


def _name_run(desk: Desk, run: Run, *, first: bool) -> tuple[bool, bool]:
    """Return whether the run was named, and whether the row's crop does not lack."""
    stroke = longest_stroke([desk.view.at(point) for point in run.way])
    middle = ((stroke[0][0] + stroke[1][0]) / 2, (stroke[0][1] + stroke[1][1]) / 2)
    if run.kind == BYPASS:
        text = f"{run.row.id} {run_text(run, desk.display)}"
        return place_name(desk.axes, desk.board, (middle,), text, reach_mm=40.0), True
    ink, length = desk.looks[run.zone_id].ink, length_text(run.lengths_um, desk.display)
    texts = [(run.row.id, f"{run.row.crop} {length}"), (run.row.id, length)] if first else [(run.row.id, length)]
    chosen = _put_on_stroke(desk, stroke, [*texts, ("", length)] if not first else texts, ink)
    if chosen is not None:
        return True, chosen == 0 or not first
    anchors = (stroke[1], middle, stroke[0])
    placed = place_name(desk.axes, desk.board, anchors, f"{run.row.id} {length}", colour=ink, reach_mm=40.0)
    return placed, not first


def name_row_groups(desk: Desk, groups: Sequence[Group], plan: Plan, told: Sequence[str] = ()) -> list[str]:
    """Write the numbers of rows too close for a label each; lengths are in the key.

    A group of several rows gets one label across all of them. Single rows get theirs where there is room; the first
    and last row of a bed always. Of several beds with a number, or of one group each, the key names rows by their bed,
    so that there they are written only if there is room on them.

    Args:
        desk: where.
        groups: rows taken together.
        plan: whose rows.
        told: beds whose rows stand with the name of the bed already.

    Returns:
        What found no place.
    """
    laterals, missed = laterals_by_row(plan), []
    told_by_bed = _told_by_bed(groups, plan)
    edges = {row.id for bed in plan.beds for row in _first_and_last(plan, bed.name)}
    for group in (group for group in groups if group.bed not in told):
        ink = desk.looks[group.zone_ids[0]].ink if group.zone_ids else INK
        strokes = [longest_stroke([desk.view.at(p) for p in _main_way(row, laterals)]) for row in group.rows]
        span = id_span([row.id for row in group.rows])
        if len(group.rows) > 1:
            placed = _bracketed(desk, strokes, ((span, group.crop), (span, "")), ink)
        else:
            placed = _put_on_stroke(desk, strokes[0], [(span, "")], ink) is not None
        must = group.bed not in told_by_bed and (len(group.rows) > 1 or group.rows[0].id in edges)
        if not placed and must and not place_name(
            desk.axes, desk.board, [strokes[k][1] for k in (len(strokes) // 2, 0, -1)], span, bold=True, colour=ink
        ):  # fmt: skip
            missed.append(span)
    return missed


def _told_by_bed(groups: Sequence[Group], plan: Plan) -> set[str]:
    """Return the beds whose rows can be told from one another by the key alone."""
    counts = Counter(group.bed for group in groups)
    several = [bed.name for bed in plan.beds if len(plan.beds) > 1]
    return {name for name in several if counts[name] == 1 or bed_key(plan, name)}


def _main_way(row: Row, laterals: dict[str, list[Lateral]]) -> tuple[Point, ...]:
    runs = [run for run in runs_of(row, laterals[row.id]) if run.kind != BYPASS]
    return max(runs, key=lambda run: line_length(run.way)).way if runs else (row.start, row.end)


def _first_and_last(plan: Plan, bed: str) -> list[Row]:
    rows = [row for row in plan.rows if row.bed == bed]
    return [rows[0], rows[-1]] if rows else []


def _bracketed(desk: Desk, strokes: Sequence[Stroke], texts: Sequence[tuple[str, str]], ink: str) -> bool:
    """Write one label in the middle of several rows with a bar from the first to the last of them."""
    middle = strokes[len(strokes) // 2]
    shortest = min(math.dist(*stroke) for stroke in strokes)
    for strong, weak in texts:
        width, height = parts_size(strong, weak)
        for box in _spots_along(middle, width, height):
            along = math.dist(middle[0], (box.x, box.y))
            ends = [on_stroke(stroke, along - width / 2 - 1.2) for stroke in (strokes[0], strokes[-1])]
            bar = segment_box(ends[0], ends[1], 0.4)
            if along + width / 2 > shortest or not (desk.board.is_free(box) and desk.board.is_free(bar)):
                continue
            desk.board.block(box)
            desk.board.block(bar)
            draw_bar(desk.axes, ends[0], ends[1], ink)
            write_parts(desk.axes, box, strong, weak, ink)
            return True
    return False


def draw_bar(axes: Axes, a: Point, b: Point, ink: str) -> None:
    """Draw a bar across several rows, a dot at either end [mm]."""
    axes.plot(
        (a[0], b[0]), (a[1], b[1]), color=ink, zorder=16, marker="o", markersize=points(1.1), linewidth=points(0.35)
    )


def on_stroke(stroke: Stroke, along: float) -> Point:
    """Return the point at a running distance of a stroke [mm]."""
    t = along / math.dist(*stroke)
    (xa, ya), (xb, yb) = stroke
    return xa + (xb - xa) * t, ya + (yb - ya) * t


def name_zones(desk: Desk, areas: dict[tuple[str, str], BaseGeometry], told: Sequence[tuple[str, str]]) -> None:
    """Put the letter on every separate part of a zone's areas on the page, as long as there is room.

    Fill and hatch tell the zone also where its letter found no place, and the key names its rows.

    Args:
        desk: where.
        areas: by zone and bed [mm].
        told: zones and beds whose letter stands with the name of the bed already.
    """
    for (zone_id, bed), area in areas.items():
        for part in sorted(shapely.get_parts(area), key=lambda p: (-p.area, p.bounds)):
            if (zone_id, bed) in told or any(_badge(desk, part, zone_id, size) for size in (15.0, 10.0)):
                continue
            rim = [(float(x), float(y)) for x, y in part.exterior.coords][:12]
            place_name(desk.axes, desk.board, rim, f"zone {zone_id}", bold=True, colour=desk.looks[zone_id].ink)


def _badge(desk: Desk, part: BaseGeometry, zone_id: str, size_pt: float) -> bool:
    width, height = text_size(zone_id, size_pt, bold=True)
    side = max(width, height) + 1.4
    spots = (Box(x, y, side, height + 1.4) for x, y in _inner_grid(part, side / 2 + 0.3))
    box = desk.board.first_free(spots, bearable=5.0)
    if box is None or desk.board.covered(box) > 5.0:
        return False
    marks.zone_badge(desk.axes, (box.x, box.y), zone_id, desk.looks[zone_id], size_pt)
    desk.board.block(box)
    return True


def _inner_grid(area: BaseGeometry, clear_mm: float) -> Iterator[Point]:
    """Yield points inside an area, from its middle outwards [mm]."""
    inner = area.buffer(-clear_mm)
    if inner.is_empty:
        return
    x0, y0, x1, y1 = inner.bounds
    middle = ((x0 + x1) / 2, (y0 + y1) / 2)
    columns, rows = (min(24, max(2, int(size / 2.0))) for size in (x1 - x0, y1 - y0))
    xs = [x0 + (x1 - x0) * k / columns for k in range(columns + 1)]
    ys = [y0 + (y1 - y0) * k / rows for k in range(rows + 1)]
    grid = sorted(((x, y) for x in xs for y in ys), key=lambda p: (round(math.dist(p, middle), 3), p))
    yield from (point for point in grid if inner.covers(ShapelyPoint(point)))

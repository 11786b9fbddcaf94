"""Blocks of the panel: title, zones, rows, head parts, meaning of the marks, north and slope."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from shapely import box as shapely_box

from optimizer.plan import Plan, Point
from optimizer.sheets import drawing_marks as marks
from optimizer.sheets.drawing_areas import fill_zone
from optimizer.sheets.drawing_bed_keys import bed_numbers, group_text, rows_by_bed
from optimizer.sheets.drawing_board import Box
from optimizer.sheets.drawing_panel import COLUMN_MM, GUTTER_MM, Block, Entry, Sign, paired
from optimizer.sheets.drawing_places import couplers, crossings, row_shut_offs
from optimizer.sheets.drawing_rows import BYPASS, Group, id_span
from optimizer.sheets.labels import glued, text_size, write
from optimizer.sheets.palette import INK, ZoneLook, zone_look
from optimizer.sheets.paper import points
from optimizer.sheets.spans import beds_text, rows_text
from optimizer.units import Display

_COMPASS_MM = 16.0
_LEVEL = 0.0005
"""mean slopes below this are called level [1]"""


def looks(plan: Plan) -> dict[str, ZoneLook]:
    """Return the look of every zone, in the order of the plan."""
    return {zone.id: zone_look(index) for index, zone in enumerate(plan.zones)}


def swatch(look: ZoneLook, letter: str) -> Sign:
    """Return a sign with a zone's fill, hatch and letter."""

    def sign(axes: Axes, x: float, y: float) -> None:
        fill_zone(axes, shapely_box(x - 4.2, y - 2.0, x + 4.2, y + 2.0), look, f"key zone {letter}")
        width, height = text_size(letter, bold=True)
        backing = Box(x, y, width + 1.2, height - 0.4)
        axes.fill(*zip(*backing.corners(), strict=True), color="white", linewidth=0, zorder=18)
        write(axes, Box(x, y, width, height), letter, bold=True, colour=look.ink)

    return sign


def title_block(plan: Plan, sheet: str, scale: str, paper: str) -> Block:
    """Return title, sheet name, scale and units."""
    return Block(
        "",
        (
            Entry(plan.title, bold=True, size_pt=14.0),
            Entry(sheet, bold=True, size_pt=11.0),
            Entry(f"Scale {scale} on {paper}"),
            Entry(f"Units: {'metric' if plan.unit_system == 'metric' else 'US'}"),
            Entry(f"{str(plan.certificate.status).capitalize()}"),
        ),
    )


def zone_block(plan: Plan, display: Display) -> Block:
    """Return flow, pressure, rows and product of every zone."""
    entries: list[Entry] = []
    for zone_id, look in looks(plan).items():
        zone = next(item for item in plan.zones if item.id == zone_id)
        water = glued(f"{display.flow(zone.water.flow_m3_s)} at {display.pressure(zone.water.inlet_head_m)}")
        word = "rows " if len(plan.beds) == 1 else ""
        entries.append(
            Entry(f"{water}, {word}{rows_text(plan, zone.row_ids, by_key=True)}", sign=swatch(look, zone_id))
        )
        if len({item.product for item in plan.zones}) > 1:
            entries.append(Entry(zone.product, indent=True))
    return Block("Zones, pressure behind the head", tuple(entries))


def product_block(plan: Plan, display: Display, *, lengths: bool = True) -> Block:
    """Return what is laid as lateral, bypass, header and mainline.

    Args:
        plan: whose tubing.
        display: writes the lengths.
        lengths: False leaves the lengths of blank tubes to the cut list, and says so.
    """
    entries = [Entry(text, sign=_line_sign("lateral")) for text in sorted({zone.product for zone in plan.zones})]
    bypasses = sorted({piece.product for piece in plan.pieces if piece.purpose == BYPASS})
    entries += [Entry(f"bypass: {text}", sign=_line_sign(BYPASS)) for text in bypasses]
    for kind, lines in (("header", plan.headers), ("mainline", plan.mainline)):
        for tube in sorted({line.tube for line in lines}):
            entries.append(Entry(f"{kind}: {tube}", sign=_line_sign(kind)))
            named = [(line.id, display.length(line.length_um / 1e6)) for line in lines if line.tube == tube]
            entries += [Entry("; ".join(_equal_together(named)), indent=True)] if lengths else []
    entries += [] if lengths else [Entry("Lengths of headers and mainline: see the cut list.")]
    return Block("Tubing", tuple(entries))


def _equal_together(named: Sequence[tuple[str, str]]) -> list[str]:
    """Write ids of equal text together: "H1-H6 1.00 m"."""
    texts: dict[str, list[str]] = {}
    for name, text in named:
        texts.setdefault(text, []).append(name)
    return [f"{id_span(names)}\u00a0{glued(text)}" for text, names in texts.items()]


def _line_sign(kind: str) -> Sign:
    def sign(axes: Axes, x: float, y: float) -> None:
        line = np.array([[x - 4.0, y], [x + 4.0, y]])
        if kind in ("mainline", "header"):
            marks.tube_line(axes, line, kind)
        else:
            style = (0, (2.0, 1.2)) if kind == BYPASS else "-"
            axes.plot(line[:, 0], line[:, 1], color=INK, linewidth=points(0.45), linestyle=style, zorder=8)

    return sign


def bed_block(plan: Plan, display: Display, *, names: bool = True) -> Block | None:
    """Return sizes and heights of beds, equal ones together, and what their keys mean; None for a single flat bed."""
    if len(plan.beds) < 2 and not any(bed.raised_m for bed in plan.beds):
        return None
    sizes: dict[str, list[str]] = {}
    for bed in plan.beds:
        xs, ys = zip(*bed.outline, strict=True)
        text = f"{display.length(max(xs) - min(xs))} × {display.length(max(ys) - min(ys))}"
        text += f", {display.length(bed.raised_m)} high" if bed.raised_m > 0 else ""
        sizes.setdefault(text, []).append(bed.name)
    sized = [Entry(f"{beds_text(plan, beds)}: {text}") for text, beds in sizes.items()]
    return Block("Beds, width × depth", (*sized, *bed_numbers(plan, names=names)))


def head_block(plan: Plan) -> Block:
    """Return the head parts in the order of flow."""
    entries = [Entry(f"{number}. {unit.name}") for number, unit in enumerate(plan.head_units, start=1)]
    return Block(f"At the {plan.site.source_kind}, in order of flow", paired(entries))


def row_block(plan: Plan, groups: Sequence[Group], *, every_row_shown: bool) -> Block:
    """Return the key of rows: crop, lines, cut lengths and zone; by beds if there are several."""
    if len({group.bed for group in groups}) > 1:
        entries = rows_by_bed(plan, groups)
    else:
        entries = [Entry(f"{id_span([row.id for row in group.rows])} {group_text(group)}") for group in groups]
    if not every_row_shown:
        entries.append(Entry("Cut lengths row by row: see the cut list."))
    return Block("Rows: crop, cut length, zone", tuple(entries))


def crop_block(groups: Sequence[Group]) -> Block:
    """Return which rows carry which crop."""
    crops: dict[str, list[str]] = {}
    for group in groups:
        crops.setdefault(group.crop, []).extend(row.id for row in group.rows)
    return Block("Crops", paired([Entry(f"{id_span(rows)} {crop}") for crop, rows in crops.items()]))


def mark_block(plan: Plan) -> Block:
    """Return what the marks mean; only those on this plan."""
    entries = [
        Entry(plan.site.source_kind, sign=lambda axes, x, y: marks.source(axes, (x, y))),
        Entry("closed end", sign=_end_sign),
        Entry("take-off", sign=_take_off_sign),
        Entry("zero of header", sign=_zero_sign),
        Entry("low drain", sign=lambda axes, x, y: marks.low_drain(axes, (x, y + 1.9))),
    ]
    if plan.valves:
        entries.append(Entry("zone valve", sign=lambda axes, x, y: marks.zone_valve(axes, (x, y), 0.0)))
    if row_shut_offs(plan):
        entries.append(Entry("row shut-off", sign=_shut_off_sign))
    if couplers(plan):
        entries.append(Entry("coupler", sign=lambda axes, x, y: marks.coupler(axes, (x, y), 0.0)))
    if crossings(plan):
        entries.append(Entry("covered crossing", sign=_crossing_sign))
    return Block("Marks", paired(entries))


def _take_off_sign(axes: Axes, x: float, y: float) -> None:
    _line_sign("header")(axes, x, y)
    axes.plot((x, x), (y, y + 2.0), color=INK, linewidth=points(0.45), zorder=8)
    marks.take_off(axes, (x, y), 1.7)


def _shut_off_sign(axes: Axes, x: float, y: float) -> None:
    axes.plot((x - 2.5, x + 4.0), (y, y), color=INK, linewidth=points(0.45), zorder=8)
    marks.take_off(axes, (x - 2.5, y), 1.7)
    marks.row_shut_off(axes, (x - 2.5, y), 0.0)


def _zero_sign(axes: Axes, x: float, y: float) -> None:
    marks.tube_line(axes, np.array([[x - 2.0, y], [x + 4.0, y]]), "header")
    marks.header_zero(axes, (x - 2.0, y), 0.0)


def _end_sign(axes: Axes, x: float, y: float) -> None:
    axes.plot((x - 4.0, x + 2.0), (y, y), color=INK, linewidth=points(0.45), zorder=8)
    marks.end_closures(axes, [((x + 2.0, y), 0.0)], [INK])


def _crossing_sign(axes: Axes, x: float, y: float) -> None:
    _line_sign("mainline")(axes, x, y)
    marks.covered_crossing(axes, (x, y), 0.0)


def compass_block(plan: Plan) -> Block:
    """Return north and slope, side by side."""
    rise = math.hypot(*plan.site.uphill)
    downhill = math.degrees(math.atan2(-plan.site.uphill[1], -plan.site.uphill[0])) if rise >= _LEVEL else None
    text = "level ground" if downhill is None else f"falls {100 * rise:.1f} %"

    def sign(axes: Axes, x: float, y: float) -> None:
        left = x - GUTTER_MM / 2 + 0.8
        _north_arrow(axes, (left + 8.0, y), 90.0 - plan.site.north_deg)
        _say(axes, left + 17.5, y, "north")
        if downhill is not None:
            _slope_arrow(axes, (left + 8.0 + COLUMN_MM / 2, y), downhill)
        _say(axes, left + COLUMN_MM / 2 + (0.0 if downhill is None else 17.5), y, text)

    return Block("", (Entry("", sign=sign, height_mm=_COMPASS_MM),))


def _say(axes: Axes, left: float, y: float, text: str) -> None:
    width, height = text_size(text)
    write(axes, Box(left + width / 2, y, width, height), text, flush=True)


def _north_arrow(axes: Axes, at: Point, angle_deg: float) -> None:
    """A slim arrow, its left half dark, half as long behind its middle as before it."""
    for side, face in ((1.0, INK), (-1.0, "white")):
        xy = marks.turned(((7.5, 0.0), (-7.5, side * 3.0), (-4.5, 0.0)), at, angle_deg)
        axes.fill(xy[:, 0], xy[:, 1], facecolor=face, edgecolor=INK, linewidth=points(0.25), zorder=12)


def _slope_arrow(axes: Axes, at: Point, angle_deg: float) -> None:
    """A row of chevrons that run the way water would."""
    for shift in (-4.5, 0.0, 4.5):
        xy = marks.turned(((shift - 1.2, 1.8), (shift + 1.4, 0.0), (shift - 1.2, -1.8)), at, angle_deg)
        axes.plot(xy[:, 0], xy[:, 1], color=INK, linewidth=points(0.4), zorder=12)
    xy = marks.turned(((-7.5, 0.0), (7.5, 0.0)), at, angle_deg)
    axes.plot(xy[:, 0], xy[:, 1], color=INK, linewidth=points(0.25), zorder=12)

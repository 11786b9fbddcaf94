"""Blocks of the panel: title, zones, rows, head parts, meaning of the marks, north and slope."""

from __future__ import annotations

import math
from collections.abc import Sequence

from matplotlib.axes import Axes
from shapely import box as shapely_box

from optimizer.plan import Plan
from optimizer.sheets import drawing_marks as marks
from optimizer.sheets.drawing_areas import fill_zone
from optimizer.sheets.drawing_panel import Block, Entry, Sign
from optimizer.sheets.drawing_places import couplers, crossings, zone_valves
from optimizer.sheets.drawing_rows import BYPASS, Group, id_span
from optimizer.sheets.labels import Box, text_size, write
from optimizer.sheets.palette import INK, ZoneLook, zone_look
from optimizer.sheets.paper import points
from optimizer.units import Display

import numpy as np

_COMPASS_MM = 17.0


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
    status = f"Status: {plan.certificate.status}"
    return Block(
        "",
        (
            Entry(plan.title, bold=True, size_pt=14.0),
            Entry(sheet, bold=True, size_pt=11.0),
            Entry(f"Scale {scale} on {paper}"),
            Entry(f"Units: {'metric' if plan.unit_system == 'metric' else 'US'}"),
            Entry(status),
        ),
    )


def zone_block(plan: Plan, display: Display) -> Block:
    """Return flow, pressure, rows and product of every zone."""
    entries: list[Entry] = []
    for zone_id, look in looks(plan).items():
        zone = next(item for item in plan.zones if item.id == zone_id)
        water = f"{display.flow(zone.water.flow_m3_s)} at {display.pressure(zone.water.inlet_head_m)}"
        entries.append(Entry(f"{water}, rows {id_span(zone.row_ids)}", sign=swatch(look, zone_id)))
        if len({item.product for item in plan.zones}) > 1:
            entries.append(Entry(zone.product, indent=True))
    return Block("Zones: flow, pressure behind the head", tuple(entries))


def product_block(plan: Plan) -> Block:
    """Return what is laid as lateral, header and mainline."""
    laterals = sorted({zone.product for zone in plan.zones})
    headers, mainline = sorted({h.tube for h in plan.headers}), sorted({m.tube for m in plan.mainline})
    bypasses = sorted({piece.product for piece in plan.pieces if piece.purpose == BYPASS})
    entries = [Entry(f"{text}", sign=_line_sign("lateral")) for text in laterals]
    entries += [Entry(f"header: {text}", sign=_line_sign("header")) for text in headers]
    entries += [Entry(f"mainline: {text}", sign=_line_sign("mainline")) for text in mainline]
    entries += [Entry(f"bypass: {text}", sign=_line_sign(BYPASS)) for text in bypasses]
    return Block("Tubing", tuple(entries))


def _line_sign(kind: str) -> Sign:
    def sign(axes: Axes, x: float, y: float) -> None:
        line = np.array([[x - 4.0, y], [x + 4.0, y]])
        if kind in ("mainline", "header"):
            marks.tube_line(axes, line, kind)
        else:
            style = (0, (2.0, 1.2)) if kind == BYPASS else "-"
            axes.plot(line[:, 0], line[:, 1], color=INK, linewidth=points(0.45), linestyle=style, zorder=8)

    return sign


def head_block(plan: Plan) -> Block:
    """Return the head parts in the order of flow."""
    entries = [Entry(f"{number}. {unit.name}") for number, unit in enumerate(plan.head_units, start=1)]
    return Block(f"From the {plan.site.source_kind}, in order of flow", tuple(entries))


def row_block(groups: Sequence[Group], *, every_row_shown: bool) -> Block:
    """Return the key of rows: crop, lines, cut lengths and zone."""
    entries = []
    for group in groups:
        span = id_span([row.id for row in group.rows])
        each = "each " if len(group.rows) > 1 and "to" not in " ".join(group.texts) else ""
        zones = "/".join(group.zone_ids) or "none"
        entries.append(Entry(f"{span} {group.crop}, {each}{' + '.join(group.texts)}, {zones}"))
    if not every_row_shown:
        entries.append(Entry("Cut lengths row by row: see the cut list."))
    return Block("Rows: crop, cut length, zone", tuple(entries))


def mark_block(plan: Plan) -> Block:
    """Return what the marks mean; only those on this plan."""
    entries = [
        Entry(f"{plan.site.source_kind} with the head parts", sign=lambda axes, x, y: marks.source(axes, (x, y))),
        Entry("take-off on the header", sign=_take_off_sign),
        Entry("zero of header measures", sign=_zero_sign),
        Entry("closed end", sign=_end_sign),
        Entry("low drain", sign=lambda axes, x, y: marks.low_drain(axes, (x, y + 1.9))),
    ]
    if zone_valves(plan):
        entries.append(Entry("valve of a zone", sign=lambda axes, x, y: marks.zone_valve(axes, (x, y), 0.0)))
    if couplers(plan):
        entries.append(Entry("coupler", sign=lambda axes, x, y: marks.coupler(axes, (x, y), 0.0)))
    if crossings(plan):
        entries.append(Entry("path crossing, cover or sleeve", sign=_crossing_sign))
    return Block("Marks", tuple(entries))


def _take_off_sign(axes: Axes, x: float, y: float) -> None:
    _line_sign("header")(axes, x, y)
    axes.plot((x, x), (y, y + 2.0), color=INK, linewidth=points(0.45), zorder=8)
    marks.take_off(axes, (x, y), 1.7)


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
    """Return north and slope."""
    north = Entry("north", sign=_arrow(90.0 - plan.site.north_deg, feathered=True), height_mm=_COMPASS_MM)
    rise = math.hypot(*plan.site.uphill)
    if rise < 0.0005:
        return Block("", (north, Entry("level ground", indent=True)))
    downhill = math.degrees(math.atan2(-plan.site.uphill[1], -plan.site.uphill[0]))
    text = f"ground falls {100 * rise:.1f} % this way"
    return Block("", (north, Entry(text, sign=_arrow(downhill, feathered=False), height_mm=_COMPASS_MM)))


def _arrow(angle_deg: float, *, feathered: bool) -> Sign:
    """Return an arrow 15 mm long; the one for north is half filled, that for slope has a row of chevrons."""

    def sign(axes: Axes, x: float, y: float) -> None:
        turn = lambda shape: marks.turned(shape, (x, y), angle_deg)  # noqa: E731
        if feathered:
            for side, face in ((1.0, INK), (-1.0, "white")):
                xy = turn(((7.0, 0.0), (-7.0, side * 2.8), (-4.5, 0.0)))
                axes.fill(xy[:, 0], xy[:, 1], facecolor=face, edgecolor=INK, linewidth=points(0.25), zorder=12)
            return
        for shift in (-4.5, 0.0, 4.5):
            xy = turn(((shift - 1.2, 1.8), (shift + 1.4, 0.0), (shift - 1.2, -1.8)))
            axes.plot(xy[:, 0], xy[:, 1], color=INK, linewidth=points(0.4), zorder=12)
        xy = turn(((-7.0, 0.0), (7.0, 0.0)))
        axes.plot(xy[:, 0], xy[:, 1], color=INK, linewidth=points(0.25), zorder=12)

    return sign

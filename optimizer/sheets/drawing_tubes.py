"""Tubes on the page: mainline, headers, laterals with their fittings."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection

from optimizer.plan import Plan
from optimizer.sheets import drawing_marks as marks
from optimizer.sheets.drawing_board import Board, Box
from optimizer.sheets.drawing_places import couplers, crossings, ends, low_drains, row_shut_offs, take_offs, zone_valves
from optimizer.sheets.drawing_rows import BYPASS
from optimizer.sheets.palette import INK, ZoneLook
from optimizer.sheets.paper import View, mark_id, points

_BLANK_WEIGHT = 6.0
"""how unwelcome a word on header or mainline is, against one on a lateral [1]"""
VALVE_CLEAR_MM = 6.0


def draw_laterals(axes: Axes, board: Board, plan: Plan, view: View, looks: dict[str, ZoneLook]) -> None:
    """Draw emitter lines in the ink of their zone, bypasses dashed."""
    width = lateral_width(plan, view)
    for lateral in plan.laterals:
        ink = looks[lateral.zone_id].ink
        for stretch in lateral.stretches:
            line = view.to_page(stretch.points)
            blank = stretch.kind == BYPASS
            axes.plot(
                line[:, 0], line[:, 1], color=INK if blank else ink, linewidth=points(width), zorder=8,
                linestyle=(0, (2.0, 1.2)) if blank else "-", gid=mark_id("piece", stretch.piece_id),
            )  # fmt: skip
            board.discourage_line(line)


def lateral_width(plan: Plan, view: View) -> float:
    """Return a line width at which neighbouring laterals stay apart and the hatch between them shows [mm]."""
    gaps = [row.spacing_m / max(row.lines, 1) for row in plan.rows]
    return min(0.45, max(0.08, 0.3 * min(gaps, default=1.0) * view.mm_per_m))


def draw_blank_tube(axes: Axes, board: Board, plan: Plan, view: View) -> None:
    """Draw mainline and headers."""
    for part in plan.mainline:
        line = view.to_page(part.points)
        marks.tube_line(axes, line, "mainline", gid=mark_id("mainline", part.id))
        board.discourage_line(line, 1.6, _BLANK_WEIGHT)
    for header in plan.headers:
        line = view.to_page(header.points)
        marks.tube_line(axes, line, "header", gid=mark_id("header", header.id))
        board.discourage_line(line, 1.6, _BLANK_WEIGHT)


def draw_fittings(axes: Axes, board: Board, plan: Plan, view: View, looks: dict[str, ZoneLook]) -> None:
    """Draw take-offs, ends, couplers, valves, crossings, drains and the source; marks are blocked for labels."""
    pitch = _take_off_pitch(plan, view)
    for place in take_offs(plan):
        marks.take_off(axes, view.at(place.at), min(1.7, max(0.7, 0.5 * pitch)))
    for place in row_shut_offs(plan):
        marks.row_shut_off(axes, view.at(place.at), place.angle_deg, min(1.7, max(0.7, 0.6 * pitch)))
    closed = [(view.at(place.at), place.angle_deg) for place in ends(plan)]
    inks = [looks[lateral.zone_id].ink for lateral in plan.laterals if lateral.stretches]
    marks.end_closures(axes, closed, [*inks, *[INK] * (len(closed) - len(inks))], min(0.9, max(0.3, 0.35 * pitch)))
    for header in plan.headers:
        first, second = view.at(header.points[0]), view.at(header.points[1])
        marks.header_zero(axes, first, float(np.degrees(np.arctan2(second[1] - first[1], second[0] - first[0]))))
    for place in couplers(plan):
        marks.coupler(axes, view.at(place.at), place.angle_deg)
        board.discourage(Box(*view.at(place.at), 2.4, 1.6, place.angle_deg), 3.0)
    for place in crossings(plan):
        marks.covered_crossing(axes, view.at(place.at), place.angle_deg)
        board.block(Box(*view.at(place.at), 4.4, 2.6, place.angle_deg))
    for place in low_drains(plan):
        marks.low_drain(axes, view.at(place.at))
        x, y = view.at(place.at)
        board.block(Box(x, y - 1.9, 2.2, 3.4))
    marks.source(axes, view.at(plan.site.source_at))
    board.block(Box(*view.at(plan.site.source_at), 4.8, 4.8))
    for place in zone_valves(plan, VALVE_CLEAR_MM / view.mm_per_m):
        face = looks[place.name].fill if place.name in looks else "white"
        marks.zone_valve(axes, view.at(place.at), place.angle_deg, face)
        board.block(Box(*view.at(place.at), 4.4, 3.0, place.angle_deg))


def _take_off_pitch(plan: Plan, view: View) -> float:
    """Return the least distance of neighbouring take-offs on the page [mm]."""
    gaps = [
        (b.distance_um - a.distance_um) / 1e6 * view.mm_per_m
        for header in plan.headers
        for a, b in pairwise(header.take_offs)
        if b.distance_um > a.distance_um
    ]
    return min(gaps, default=10.0)


def row_guides(axes: Axes, plan: Plan, view: View) -> None:
    """Draw the middle of rows with several lines thinly, where it can be told from the lines."""
    guides = [view.to_page((row.start, row.end)) for row in plan.rows if row.lines > 1]
    style = (0, (6, 2, 0.5, 2))
    axes.add_collection(
        LineCollection(guides, colors="#777777", linewidths=points(0.13), linestyles=[style], zorder=7), autolim=False
    )

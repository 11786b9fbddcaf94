"""The plan to scale: the picture that is pinned to the shed door."""

from __future__ import annotations

import math
from collections.abc import Sequence

import shapely
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from optimizer.plan import Plan, Row
from optimizer.sheets import drawing_legend as legend
from optimizer.sheets import drawing_names as names
from optimizer.sheets.drawing_areas import draw_beds, draw_outline, draw_shape, fill_zone, to_page, zone_areas
from optimizer.sheets.drawing_layout import Layout, choose_layout, draw_frame, sized
from optimizer.sheets.drawing_panel import Block, Entry
from optimizer.sheets.drawing_places import extent
from optimizer.sheets.drawing_rows import Group, group_rows
from optimizer.sheets.drawing_tubes import draw_blank_tube, draw_fittings, draw_laterals, row_guides
from optimizer.sheets.labels import Board, text_size
from optimizer.sheets.paper import Paper, View, new_page, scale_text
from optimizer.units import Display, System

_CLEAR_MM = 17.0
"""room around the ground for measures and names"""
_ROW_CLEAR_MM = 0.8
_KEY_SHRINK = 1.7
"""a key of every row is given up when it would make the drawing smaller by more than this"""


def draw_plan(plan: Plan, paper: Paper) -> Figure:
    """Draw a plan to scale on one page.

    Rows that lie far enough apart carry number, crop and cut length; closer ones are numbered in groups, with the
    lengths in a key. What finds no place on the ground is written in the panel, so nothing is left out.

    Args:
        plan: what is drawn.
        paper: the page; it is turned to whichever way gives the larger scale.

    Returns:
        The figure, for `save_drawing`.

    Raises:
        DripLayoutError: the paper is too small for the text alone.
    """
    display = Display(System(plan.unit_system))
    groups: Sequence[Group] | None = None
    layout = _layout(plan, paper, display, None, [])
    if _row_pitch(plan, layout.view) < text_size("R")[1] + _ROW_CLEAR_MM:
        groups = _groups_that_fit(plan, paper, display, layout)
    missed: list[str] = []
    while True:
        layout = _layout(plan, paper, display, groups, missed)
        figure, still_missed = _draw(plan, display, layout, groups, missed)
        fresh = [text for text in still_missed if text not in missed]
        if not fresh:
            return figure
        missed = missed + fresh


def _groups_that_fit(plan: Plan, paper: Paper, display: Display, bare: Layout) -> Sequence[Group]:
    fine = group_rows(plan, display, by_length=True)
    coarse = group_rows(plan, display, by_length=False)
    if len(fine) == len(coarse):
        return fine
    try:
        layout = _layout(plan, paper, display, fine, [])
    except ValueError:
        return coarse
    return fine if layout.view.denominator <= _KEY_SHRINK * bare.view.denominator else coarse


def _row_pitch(plan: Plan, view: View) -> float:
    """Return the least distance of neighbouring rows of a bed on the page [mm]."""
    gaps = [
        _distance(row, other)
        for row, other in zip(plan.rows, plan.rows[1:], strict=False)
        if row.bed == other.bed and row.start != row.end
    ]
    return min((gap for gap in gaps if gap > 1e-6), default=math.inf) * view.mm_per_m


def _distance(row: Row, other: Row) -> float:
    (xa, ya), (xb, yb) = row.start, row.end
    x, y = (other.start[0] + other.end[0]) / 2, (other.start[1] + other.end[1]) / 2
    return abs((xb - xa) * (y - ya) - (yb - ya) * (x - xa)) / math.dist(row.start, row.end)


def _blocks(
    plan: Plan, display: Display, paper: Paper, groups: Sequence[Group] | None, missed: Sequence[str], scale: str
) -> list[Block]:
    blocks = [
        legend.title_block(plan, "Plan of the drip layout", scale, paper.name),
        legend.compass_block(plan),
        legend.zone_block(plan, display),
        legend.product_block(plan),
    ]
    if groups is not None:
        every = len(groups) == len(group_rows(plan, display, by_length=True))
        blocks.append(legend.row_block(groups, every_row_shown=every))
    blocks += [legend.head_block(plan), legend.mark_block(plan)]
    if missed:
        blocks.append(Block("Also, without room on the drawing", tuple(Entry(text) for text in missed)))
    return blocks


def _layout(
    plan: Plan, paper: Paper, display: Display, groups: Sequence[Group] | None, missed: Sequence[str]
) -> Layout:
    blocks = sized(lambda scale: _blocks(plan, display, paper, groups, missed, scale), display.system)
    return choose_layout(paper, *extent(plan), blocks, display.system, _CLEAR_MM)


def _draw(
    plan: Plan, display: Display, layout: Layout, groups: Sequence[Group] | None, missed: Sequence[str]
) -> tuple[Figure, list[str]]:
    figure, axes = new_page(layout.paper, lying=layout.lying)
    scale = scale_text(layout.view.denominator, display.system)
    draw_frame(axes, layout, _blocks(plan, display, layout.paper, groups, missed, scale), display)
    board = Board(layout.ground.shrunk(1.0))
    return figure, _draw_ground(axes, board, plan, display, layout.view, groups)


def _draw_ground(
    axes: Axes, board: Board, plan: Plan, display: Display, view: View, groups: Sequence[Group] | None
) -> list[str]:
    looks = legend.looks(plan)
    areas = {zone_id: to_page(area, view) for zone_id, area in zone_areas(plan).items()}
    for shape in plan.site.shapes:
        draw_shape(axes, shape, view)
    for zone_id, area in areas.items():
        fill_zone(axes, area, looks[zone_id], f"zone {zone_id}")
    draw_beds(axes, plan, view)
    draw_outline(axes, plan, view)
    row_guides(axes, plan, view)
    draw_laterals(axes, board, plan, view, looks)
    draw_blank_tube(axes, board, plan, view)
    draw_fittings(axes, board, plan, view, looks)
    missed = names.measure_outline(axes, board, plan, view, display)
    if groups is None:
        missed += names.name_every_row(axes, board, plan, view, looks, display)
    else:
        missed += names.name_row_groups(axes, board, groups, plan, view, looks)
    missed += names.name_zones(axes, board, {key: _open(area) for key, area in areas.items()}, looks)
    return missed + names.name_ground(axes, board, plan, view, display)


def _open(area: shapely.geometry.base.BaseGeometry) -> shapely.geometry.base.BaseGeometry:
    """Join parts of a zone that lie within a few millimetres, so that its letter stands once on them."""
    return area.buffer(3.0).buffer(-3.0)

"""The plan to scale: the picture that is pinned to the shed door."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from itertools import pairwise

from matplotlib.figure import Figure
from shapely.geometry.base import BaseGeometry

from optimizer.errors import DripLayoutError
from optimizer.plan import Plan, Row
from optimizer.sheets import drawing_legend as legend
from optimizer.sheets.drawing_areas import draw_beds, draw_outline, draw_shape, fill_zone, to_page, zone_areas
from optimizer.sheets.drawing_bed_keys import tubes_block
from optimizer.sheets.drawing_bed_names import name_beds
from optimizer.sheets.drawing_board import Board
from optimizer.sheets.drawing_layout import Layout, choose_layout, draw_frame, sized
from optimizer.sheets.drawing_names import measure_outline, name_ground, name_inside
from optimizer.sheets.drawing_panel import Block, Entry, paired
from optimizer.sheets.drawing_places import extent
from optimizer.sheets.drawing_row_names import Desk, RowNames, name_every_row, name_row_groups, name_zones
from optimizer.sheets.drawing_rows import Group, group_rows
from optimizer.sheets.drawing_tubes import draw_blank_tube, draw_fittings, draw_laterals, row_guides
from optimizer.sheets.labels import text_size
from optimizer.sheets.paper import Paper, View, new_page, scale_text
from optimizer.units import Display, System

_CLEAR_MM = 12.0
"""room around the ground for measures and names"""
_ROW_CLEAR_MM = 0.8
_LEAST_PITCH_MM = 2.1
"""rows nearer than this on the page are never labelled one by one"""
_KEY_SHRINK = 1.7
"""a key of every row is given up when it would make the drawing smaller by more than this"""
_MOST_REFERRED = 5
_REFER_SHRINK = 1.4
"""a panel that makes the drawing smaller by more than this, against one without keys, leaves more to other sheets"""
_ALIKE = 3.0
"""rows too close for labels side by side are grouped if there are this many to a group"""


@dataclass(frozen=True)
class _Wording:
    """What is written where: on rows one by one, or in groups with a key."""

    groups: tuple[Group, ...] | None
    """None writes on every row"""
    crops_in_key: bool = False
    tubes: tuple[str, ...] = ()
    """headers and mainline parts without a name on the ground"""
    beside: tuple[str, ...] = ()
    """what else found no room on the ground"""
    referred: int = 0
    """how much is left to other sheets, as there is no room for it: 0 nothing, 1 the order of mainline parts without a
    name, 2 also the lengths of headers and mainline, 3 also where headers without a name are, 4 also the key of rows,
    5 also names of beds that stand on the drawing by number"""


@dataclass(frozen=True)
class _Drawn:
    """A drawing, and what found no place on its ground."""

    figure: Figure
    rows: RowNames
    tubes: tuple[str, ...]
    missed: tuple[str, ...]


def draw_plan(plan: Plan, paper: Paper) -> Figure:
    """Draw a plan to scale on one page.

    Rows that lie far enough apart carry number, crop and cut length; closer ones are numbered in groups, with the
    lengths in a key. What finds no place on the ground is written in the panel, and where even the panel would crowd
    out the ground it says on which sheet the rest stands, so nothing is left out.

    Args:
        plan: what is drawn.
        paper: the page; it is turned to whichever way gives the larger scale.

    Returns:
        The figure, for `save_drawing`.

    Raises:
        DripLayoutError: the paper is too small for the text alone.
    """
    display = Display(System(plan.unit_system))
    wording, bare = _first_wording(plan, paper, display)
    while True:
        wording, layout = _fitted(plan, paper, display, wording, bare)
        drawn = _draw(plan, display, layout, wording)
        if wording.groups is None and drawn.rows.missed:
            wording = _Wording(_groups_that_fit(plan, paper, display, bare))
            continue
        fuller = _fuller(wording, drawn)
        if fuller == wording:
            return _without_surplus(plan, paper, display, wording, bare, drawn).figure
        wording = fuller


def _without_surplus(
    plan: Plan, paper: Paper, display: Display, wording: _Wording, bare: Layout, drawn: _Drawn
) -> _Drawn:
    """Return the drawing without what its panel tells in vain: names that had no place only at another scale."""
    needed = replace(wording, tubes=drawn.tubes, beside=drawn.missed)
    if (needed.tubes, needed.beside) == (wording.tubes, wording.beside):
        return drawn
    needed, layout = _fitted(plan, paper, display, needed, bare)
    again = _draw(plan, display, layout, needed)
    return again if _fuller(needed, again) == needed else drawn


def _first_wording(plan: Plan, paper: Paper, display: Display) -> tuple[_Wording, Layout]:
    """Return how rows are written to begin with, and the layout without any key of them."""
    bare = _bare_layout(plan, paper, display)
    pitch = _row_pitch(plan, bare.view)
    roomy = pitch >= text_size("R")[1] + _ROW_CLEAR_MM
    if roomy or not (pitch < _LEAST_PITCH_MM or _mostly_alike(plan, display)):
        return _Wording(None), bare
    return _Wording(_groups_that_fit(plan, paper, display, bare)), bare


def _bare_layout(plan: Plan, paper: Paper, display: Display) -> Layout:
    try:
        return _layout(plan, paper, display, _Wording(None))
    except DripLayoutError:
        return _layout(plan, paper, display, _Wording(None, referred=_MOST_REFERRED))


def _fuller(wording: _Wording, drawn: _Drawn) -> _Wording:
    """Return the wording with all in the panel that found no place on the ground."""
    return replace(
        wording,
        crops_in_key=wording.crops_in_key or not drawn.rows.crops_shown,
        tubes=(*wording.tubes, *(name for name in drawn.tubes if name not in wording.tubes)),
        beside=(*wording.beside, *(text for text in drawn.missed if text not in wording.beside)),
    )


def _fitted(plan: Plan, paper: Paper, display: Display, wording: _Wording, bare: Layout) -> tuple[_Wording, Layout]:
    """Return the wording that leaves least to other sheets and keeps the drawing large, with its layout.

    Raises:
        DripLayoutError: the page is too small however much is left to other sheets.
    """
    finest = _layout(plan, paper, display, replace(wording, referred=_MOST_REFERRED))
    # Of one bed the key of rows is what the drawing is for: there it may take more room.
    wanted = (finest if len(plan.beds) > 1 else bare).view.denominator
    found = [(replace(wording, referred=_MOST_REFERRED), finest)]
    for referred in range(_MOST_REFERRED):
        trial = replace(wording, referred=referred)
        try:
            layout = _layout(plan, paper, display, trial)
        except DripLayoutError:
            continue
        if layout.view.denominator <= _REFER_SHRINK * wanted:
            return trial, layout
        found.append((trial, layout))
    return min(found, key=lambda item: (item[1].view.denominator, item[0].referred))


def _mostly_alike(plan: Plan, display: Display) -> bool:
    return len(plan.rows) >= _ALIKE * len(group_rows(plan, display, by_length=True))


def _groups_that_fit(plan: Plan, paper: Paper, display: Display, bare: Layout) -> tuple[Group, ...]:
    """Return groups of rows alike in length, or only in crop and zone if that key would crowd out the drawing."""
    fine = group_rows(plan, display, by_length=True)
    coarse = group_rows(plan, display, by_length=False)
    if len(fine) == len(coarse):
        return fine
    try:
        layout = _layout(plan, paper, display, _Wording(fine))
    except DripLayoutError:
        return coarse
    return fine if layout.view.denominator <= _KEY_SHRINK * bare.view.denominator else coarse


def _row_pitch(plan: Plan, view: View) -> float:
    """Return the least distance of neighbouring rows of a bed on the page [mm]."""
    gaps = [_distance(row, other) for row, other in pairwise(plan.rows) if row.bed == other.bed]
    return min((gap for gap in gaps if gap > 1e-6), default=math.inf) * view.mm_per_m


def _distance(row: Row, other: Row) -> float:
    (xa, ya), (xb, yb) = row.start, row.end
    x, y = (other.start[0] + other.end[0]) / 2, (other.start[1] + other.end[1]) / 2
    return abs((xb - xa) * (y - ya) - (yb - ya) * (x - xa)) / max(math.dist(row.start, row.end), 1e-9)


def _blocks(plan: Plan, display: Display, paper: Paper, wording: _Wording, scale: str) -> list[Block]:
    blocks = [
        legend.title_block(plan, "Plan of the drip layout", scale, paper.name),
        legend.compass_block(plan),
        legend.zone_block(plan, display),
        legend.product_block(plan, display, lengths=wording.referred < 2),
        *_row_blocks(plan, display, wording),
        legend.bed_block(plan, display, names=wording.referred < 5),
        legend.head_block(plan),
        legend.mark_block(plan),
        tubes_block(plan, wording.tubes, mainline=wording.referred < 1, headers=wording.referred < 3),
    ]
    if wording.beside:
        blocks.append(Block("Also, without room on the drawing", paired([Entry(text) for text in wording.beside])))
    return [block for block in blocks if block is not None]


def _row_blocks(plan: Plan, display: Display, wording: _Wording) -> list[Block]:
    """Return the key of rows, or of crops only where every row carries the rest."""
    if wording.groups is not None and wording.referred >= 4:
        told = Entry("Crops and cut lengths of all rows: see the cut list and the field book.")
        return [Block("Rows", (told,))]
    if wording.groups is not None:
        every = len(wording.groups) == len(group_rows(plan, display, by_length=True))
        return [legend.row_block(plan, wording.groups, every_row_shown=every)]
    return [legend.crop_block(group_rows(plan, display, by_length=False))] if wording.crops_in_key else []


def _layout(plan: Plan, paper: Paper, display: Display, wording: _Wording) -> Layout:
    blocks = sized(lambda scale: _blocks(plan, display, paper, wording, scale), display.system)
    return choose_layout(paper, *extent(plan), blocks, display.system, _CLEAR_MM)


def _draw(plan: Plan, display: Display, layout: Layout, wording: _Wording) -> _Drawn:
    figure, axes = new_page(layout.paper, lying=layout.lying)
    scale = scale_text(layout.view.denominator, display.system)
    draw_frame(axes, layout, _blocks(plan, display, layout.paper, wording, scale), display)
    desk = Desk(axes, Board(layout.ground.shrunk(1.0)), layout.view, legend.looks(plan), display)
    areas = {key: to_page(area, layout.view) for key, area in zone_areas(plan).items()}
    _draw_ground(desk, plan, areas)
    missed = measure_outline(axes, desk.board, plan, layout.view, display)
    inside = name_inside(axes, desk.board, plan, layout.view)
    beds = name_beds(desk, plan, wording.groups)
    rows = RowNames((), True)
    if wording.groups is None:
        rows = name_every_row(desk, plan)
    else:
        missed += name_row_groups(desk, wording.groups, plan, beds.rows_told)
    name_zones(desk, {key: _closed(area) for key, area in areas.items()}, beds.zones_told)
    ground = name_ground(axes, desk.board, plan, layout.view, inside)
    return _Drawn(figure, rows, ground.tubes, (*missed, *beds.missed, *ground.missed))


def _draw_ground(desk: Desk, plan: Plan, areas: dict[tuple[str, str], BaseGeometry]) -> None:
    """Draw all that is no writing."""
    for shape in plan.site.shapes:
        draw_shape(desk.axes, shape, desk.view)
    for (zone_id, bed), area in areas.items():
        fill_zone(desk.axes, area, desk.looks[zone_id], f"zone {zone_id} {bed}")
    draw_beds(desk.axes, desk.board, plan, desk.view)
    draw_outline(desk.axes, desk.board, plan, desk.view)
    row_guides(desk.axes, plan, desk.view)
    draw_laterals(desk.axes, desk.board, plan, desk.view, desk.looks)
    draw_blank_tube(desk.axes, desk.board, plan, desk.view)
    draw_fittings(desk.axes, desk.board, plan, desk.view, desk.looks)


def _closed(area: BaseGeometry) -> BaseGeometry:
    """Join parts of a zone that lie within a few millimetres, so that its letter stands once on them."""
    joined: BaseGeometry = area.buffer(2.0, join_style="mitre").buffer(-2.0, join_style="mitre")
    return joined

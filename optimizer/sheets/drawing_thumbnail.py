"""Small pictures of layouts, to be set side by side."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from matplotlib.axes import Axes
from matplotlib.collections import LineCollection
from matplotlib.figure import Figure

from optimizer.errors import DripLayoutError
from optimizer.plan import Plan, Point
from optimizer.sheets.drawing_areas import polygons, zone_areas
from optimizer.sheets.drawing_board import Box
from optimizer.sheets.drawing_legend import looks
from optimizer.sheets.drawing_places import extent, is_area
from optimizer.sheets.labels import LINE_MM, text_size, wrap, write
from optimizer.sheets.palette import BED_EDGE, INK, OBSTACLE_FILL, PATH_FILL, WATER
from optimizer.sheets.paper import MARGIN_MM, Paper, Rect, View, new_page, page_size, points

_CELL_MM = 58.0
"""narrowest cell"""
_PICTURE_MM = 20.0
"""least height there must be for a picture"""
_PAD_MM = 3.0
_Text = tuple[str, bool]
"""a line, and whether it is bold"""


def draw_thumbnail(ax: Axes, plan: Plan) -> None:
    """Draw a plan without words into axes of any size.

    The axes are set to plan metres with equal steps both ways; nothing outside them is changed.

    Args:
        ax: where; its limits are set.
        plan: what is drawn.
    """
    _paint(ax, plan, View(1000.0, (0.0, 0.0)))
    low, high = extent(plan)
    pad = 0.04 * max(high[0] - low[0], high[1] - low[1])
    ax.set_xlim(low[0] - pad, high[0] + pad)
    ax.set_ylim(low[1] - pad, high[1] + pad)
    ax.set_aspect("equal")
    ax.set_axis_off()


def _paint(ax: Axes, plan: Plan, view: View) -> None:
    """Draw areas and tubes by a view; its millimetres may also stand for metres."""
    zone_looks = looks(plan)
    for shape in plan.site.shapes:
        xy = view.to_page(shape.points)
        if is_area(shape):
            face = PATH_FILL if shape.kind == "path" else OBSTACLE_FILL
            ax.fill(xy[:, 0], xy[:, 1], facecolor=face, edgecolor=INK, linewidth=points(0.12), zorder=3)
        else:
            ax.plot(xy[:, 0], xy[:, 1], color=INK, linewidth=points(0.3), linestyle="--", zorder=3)
    for (zone_id, _), area in zone_areas(plan).items():
        for part in polygons(area):
            xy = view.to_page([(float(x), float(y)) for x, y in part.exterior.coords])
            ax.fill(xy[:, 0], xy[:, 1], facecolor=zone_looks[zone_id].fill, linewidth=0, zorder=2)
    for bed in plan.beds:
        _ring(ax, bed.outline, view, BED_EDGE, 0.15)
    _ring(ax, plan.site.outline, view, INK, 0.35)
    for lateral in plan.laterals:
        ways = [view.to_page(stretch.points) for stretch in lateral.stretches]
        ink = zone_looks[lateral.zone_id].ink
        ax.add_collection(LineCollection(ways, colors=ink, linewidths=points(0.18), zorder=4), autolim=False)
    ways = [view.to_page(part.points) for part in plan.mainline]
    ax.add_collection(LineCollection(ways, colors=INK, linewidths=points(0.4), zorder=5), autolim=False)
    ways = [view.to_page(header.points) for header in plan.headers]
    ax.add_collection(LineCollection(ways, colors=WATER, linewidths=points(0.6), zorder=5), autolim=False)
    x, y = view.at(plan.site.source_at)
    ax.plot([x], [y], "o", markersize=points(1.6), markerfacecolor=WATER, markeredgecolor="white", zorder=6)


def _ring(ax: Axes, outline: Sequence[Point], view: View, colour: str, width_mm: float) -> None:
    if len(outline) > 2:
        xy = view.to_page((*outline, outline[0]))
        ax.plot(xy[:, 0], xy[:, 1], color=colour, linewidth=points(width_mm), zorder=3.5)


def draw_side_by_side(named: Sequence[tuple[str, Sequence[str], Plan]], paper: Paper, title: str) -> Figure:
    """Draw several layouts on one lying page, all to one scale, each with its name and a few figures.

    Args:
        named: name, lines of figures and plan of each layout, best first.
        paper: the page.
        title: heading of the page.

    Returns:
        The figure, for `save_drawing`.

    Raises:
        DripLayoutError: no layout, or more than the page holds.
    """
    if not named:
        raise DripLayoutError("there is no layout to compare")
    width, height = page_size(paper, lying=True)
    frame = Rect(0.0, 0.0, width, height).shrunk(MARGIN_MM)
    figure, axes = new_page(paper, lying=True)
    size = text_size(title, 14.0, bold=True)
    write(axes, Box(frame.x0 + size[0] / 2, frame.y1 - 4.0, *size), title, size_pt=14.0, bold=True, flush=True)
    found = _arranged(Rect(frame.x0, frame.y0, frame.x1, frame.y1 - 10.0), named)
    if found is None:
        raise DripLayoutError(
            f"{len(named)} layouts with their names and figures do not fit {paper.name} paper; compare fewer"
        )
    for cell, texts, (_, _, plan) in zip(found.cells, found.texts, named, strict=True):
        _draw_cell(axes, cell, plan, texts, found)
    return figure


@dataclass(frozen=True)
class _Arrangement:
    """Where each layout stands on the page, with its words broken to the width of its cell."""

    mm_per_m: float
    picture_mm: float
    """height of the pictures"""
    cells: tuple[Rect, ...]
    texts: tuple[tuple[_Text, ...], ...]


def _arranged(area: Rect, named: Sequence[tuple[str, Sequence[str], Plan]]) -> _Arrangement | None:
    """Return the number of columns that shows the layouts largest; None if they do not fit."""
    boxes = [extent(plan) for _, _, plan in named]
    wide = max(high[0] - low[0] for low, high in boxes)
    deep = max(high[1] - low[1] for low, high in boxes)
    tried = (_in_columns(area, named, columns, wide, deep) for columns in range(1, len(named) + 1))
    return max((item for item in tried if item), key=lambda item: item.mm_per_m, default=None)


def _in_columns(
    area: Rect, named: Sequence[tuple[str, Sequence[str], Plan]], columns: int, wide: float, deep: float
) -> _Arrangement | None:
    width, rows = area.width / columns, math.ceil(len(named) / columns)
    texts = tuple(_texts(name, figures, width - 2 * _PAD_MM) for name, figures, _ in named)
    written = max(len(lines) for lines in texts) * LINE_MM + _PAD_MM
    room = area.height / rows - written - 2 * _PAD_MM
    if width < _CELL_MM or room < _PICTURE_MM:
        return None
    scale = min((width - 2 * _PAD_MM) / wide, room / deep) * (1 - 1e-9)
    height = scale * deep + 2 * _PAD_MM + written
    corners = [(area.x0 + width * (k % columns), area.y1 - height * (k // columns)) for k in range(len(named))]
    return _Arrangement(scale, scale * deep, tuple(Rect(x, y - height, x + width, y) for x, y in corners), texts)


def _texts(name: str, figures: Sequence[str], width_mm: float) -> tuple[_Text, ...]:
    return (
        *((line, True) for line in wrap(name, width_mm, bold=True)),
        *((line, False) for text in figures for line in wrap(text, width_mm)),
    )


def _draw_cell(axes: Axes, cell: Rect, plan: Plan, lines: Sequence[_Text], found: _Arrangement) -> None:
    """Draw a layout in the upper part of its cell and its words below."""
    low, high = extent(plan)
    below = cell.y1 - _PAD_MM - found.picture_mm
    centre = (cell.x0 + cell.x1) / 2, cell.y1 - _PAD_MM - found.picture_mm / 2
    middle = (low[0] + high[0]) / 2 * found.mm_per_m, (low[1] + high[1]) / 2 * found.mm_per_m
    _paint(axes, plan, View(1000.0 / found.mm_per_m, (centre[0] - middle[0], centre[1] - middle[1])))
    xs, ys = (cell.x0, cell.x1, cell.x1, cell.x0, cell.x0), (cell.y0, cell.y0, cell.y1, cell.y1, cell.y0)
    axes.plot(xs, ys, color=INK, linewidth=points(0.2), zorder=2)
    for k, (line, bold) in enumerate(lines):
        size = text_size(line, bold=bold)
        y = below - _PAD_MM - (k + 0.5) * LINE_MM
        write(axes, Box(cell.x0 + _PAD_MM + size[0] / 2, y, *size), line, bold=bold, flush=True)

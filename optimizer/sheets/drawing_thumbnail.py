"""Small pictures of layouts, to be set side by side."""

from __future__ import annotations

import math
from collections.abc import Sequence

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
from optimizer.sheets.paper import MARGIN_MM, Paper, Rect, View, fit_view, new_page, page_size, points

_CELL_MM = 58.0
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
    cells = _cells(Rect(frame.x0, frame.y0, frame.x1, frame.y1 - 10.0), len(named))
    if cells is None:
        raise DripLayoutError(f"{len(named)} layouts do not fit {paper.name} paper; compare fewer")
    texts = [_texts(name, figures, cells[0].width - 2 * _PAD_MM) for name, figures, _ in named]
    written = max(len(lines) for lines in texts) * LINE_MM + _PAD_MM
    _draw_cells(axes, cells, [plan for _, _, plan in named], texts, written, paper)
    return figure


def _cells(area: Rect, count: int) -> list[Rect] | None:
    """Divide an area into equal cells whose shorter side is longest; None if they would be too small."""
    columns = max(range(1, count + 1), key=lambda c: min(area.width / c, area.height / math.ceil(count / c)))
    w, h = area.width / columns, area.height / math.ceil(count / columns)
    if min(w, h) < _CELL_MM:
        return None
    corners = [(area.x0 + w * (k % columns), area.y1 - h * (k // columns)) for k in range(count)]
    return [Rect(x, y - h, x + w, y) for x, y in corners]


def _texts(name: str, figures: Sequence[str], width_mm: float) -> list[_Text]:
    return [(line, True) for line in wrap(name, width_mm, bold=True)] + [
        (line, False) for text in figures for line in wrap(text, width_mm)
    ]


def _draw_cells(
    axes: Axes,
    cells: Sequence[Rect],
    plans: Sequence[Plan],
    texts: Sequence[Sequence[_Text]],
    written: float,
    paper: Paper,
) -> None:
    """Draw pictures over their texts, all at the scale of the one that is hardest to fit [mm]."""
    boxes = [extent(plan) for plan in plans]
    wide = max(high[0] - low[0] for low, high in boxes)
    deep = max(high[1] - low[1] for low, high in boxes)
    for cell, plan, lines, (low, high) in zip(cells, plans, texts, boxes, strict=True):
        room = Rect(cell.x0 + _PAD_MM, cell.y0 + written, cell.x1 - _PAD_MM, cell.y1 - _PAD_MM)
        if room.height < 20.0:
            raise DripLayoutError(f"names and figures leave no room for pictures on {paper.name} paper")
        scale = max(1000.0 * wide / room.width, 1000.0 * deep / room.height)
        view = fit_view(low, high, room, (scale * (1 + 1e-9),))
        if view is not None:
            _paint(axes, plan, view)
        xs, ys = (cell.x0, cell.x1, cell.x1, cell.x0, cell.x0), (cell.y0, cell.y0, cell.y1, cell.y1, cell.y0)
        axes.plot(xs, ys, color=INK, linewidth=points(0.2), zorder=2)
        for k, (line, bold) in enumerate(lines):
            size = text_size(line, bold=bold)
            y = cell.y0 + written - (k + 0.8) * LINE_MM
            write(axes, Box(cell.x0 + _PAD_MM + size[0] / 2, y, *size), line, bold=bold, flush=True)

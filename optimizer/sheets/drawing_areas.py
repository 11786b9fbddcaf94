"""Areas on the page: zones with fill and hatch, beds, obstacles, paths and barriers."""

from __future__ import annotations

import math

import numpy as np
import shapely
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection
from numpy.typing import NDArray
from shapely.geometry import LineString, MultiLineString, Polygon
from shapely.geometry.base import BaseGeometry

from optimizer.plan import MapShape, Plan, Row
from optimizer.sheets.drawing_board import Board
from optimizer.sheets.drawing_places import is_area
from optimizer.sheets.palette import BED_EDGE, INK, OBSTACLE_FILL, PATH_FILL, SOFT_INK, Hatch, ZoneLook
from optimizer.sheets.paper import View, mark_id, points

_EDGE_WEIGHT = 2.0


def polygons(shape: BaseGeometry) -> list[Polygon]:
    """Return the polygons in a geometry, in its order."""
    return [part for part in shapely.get_parts(shape) if isinstance(part, Polygon) and not part.is_empty]


def zone_areas(plan: Plan) -> dict[tuple[str, str], BaseGeometry]:
    """Return the ground each zone waters in each bed: strips of the row spacing along its rows, cut to the bed [m]."""
    beds = {bed.name: shapely.make_valid(Polygon(bed.outline)) for bed in plan.beds if len(bed.outline) > 2}
    rows = {row.id: row for row in plan.rows}
    out: dict[tuple[str, str], BaseGeometry] = {}
    for zone in plan.zones:
        mine = [rows[row_id] for row_id in zone.row_ids]
        for bed in dict.fromkeys(row.bed for row in mine):
            strips = [_strip(row) for row in mine if row.bed == bed]
            # Closing by a centimetre joins strips that only just touch.
            area = shapely.union_all(strips).buffer(0.01, join_style="mitre").buffer(-0.01, join_style="mitre")
            out[zone.id, bed] = area.intersection(beds[bed]) if bed in beds else area
    return out


def _strip(row: Row) -> BaseGeometry:
    strip: BaseGeometry = LineString((row.start, row.end)).buffer(row.spacing_m / 2, cap_style="flat")
    return strip


def hatch_lines(area: BaseGeometry, hatch: Hatch) -> list[NDArray[np.float64]]:
    """Return the strokes of a hatch that lie in an area on the page [mm]."""
    x0, y0, x1, y1 = area.bounds
    middle, reach = ((x0 + x1) / 2, (y0 + y1) / 2), math.hypot(x1 - x0, y1 - y0) / 2 + hatch.gap_mm
    strokes = [line for angle in hatch.angles_deg for line in _family(middle, reach, hatch, angle)]
    found = shapely.intersection(area, MultiLineString(strokes)) if strokes else MultiLineString()
    return [np.asarray(part.coords) for part in shapely.get_parts(found) if isinstance(part, LineString)]


def _family(
    middle: tuple[float, float], reach: float, hatch: Hatch, angle_deg: float
) -> list[list[tuple[float, float]]]:
    c, s = math.cos(math.radians(angle_deg)), math.sin(math.radians(angle_deg))
    count = math.ceil(reach / hatch.gap_mm)
    offsets = [k * hatch.gap_mm for k in range(-count, count + 1)]
    if hatch.doubled:
        offsets += [offset + 0.8 for offset in offsets]
    spans = [(-reach, reach)]
    if hatch.stroke_mm:
        step = hatch.stroke_mm + hatch.pause_mm
        steps = math.ceil(reach / step)
        spans = [(k * step, k * step + hatch.stroke_mm) for k in range(-steps, steps + 1)]
    return [[(middle[0] + t * c - o * s, middle[1] + t * s + o * c) for t in span] for o in offsets for span in spans]


def fill_zone(axes: Axes, area: BaseGeometry, look: ZoneLook, gid: str) -> None:
    """Lay a zone's fill and hatch over its area on the page [mm]."""
    for index, part in enumerate(polygons(area)):
        xy = np.asarray(part.exterior.coords)
        axes.fill(
            xy[:, 0],
            xy[:, 1],
            facecolor=look.fill,
            edgecolor=look.ink,
            linewidth=points(0.15),
            zorder=4,
            gid=None if index else mark_id(gid),
        )
        for hole in part.interiors:
            inner = np.asarray(hole.coords)
            axes.fill(inner[:, 0], inner[:, 1], facecolor="white", linewidth=0, zorder=4.05)
    strokes = hatch_lines(area, look.hatch)
    width = 0.5 if look.hatch.stroke_mm and look.hatch.stroke_mm < 0.1 else 0.14
    lines = LineCollection(strokes, colors=look.ink, linewidths=points(width), alpha=0.6, zorder=4.2, capstyle="round")
    axes.add_collection(lines, autolim=False)


def to_page(shape: BaseGeometry, view: View) -> BaseGeometry:
    """Map a geometry from plan metres to the page [mm]."""
    placed: BaseGeometry = shapely.transform(shape, lambda xy: xy * view.mm_per_m + view.origin_mm)
    return placed


def draw_shape(axes: Axes, shape: MapShape, view: View) -> None:
    """Draw an obstacle, path or barrier."""
    xy = view.to_page(shape.points)
    gid = mark_id(shape.kind, shape.name)
    if not is_area(shape):
        barrier = shape.kind == "barrier"
        style = (0, (6, 2, 1, 2)) if barrier else (0, (4, 2))
        axes.plot(
            xy[:, 0], xy[:, 1], color=INK, linewidth=points(0.7 if barrier else 0.4), linestyle=style, zorder=6, gid=gid
        )
        return
    path = shape.kind == "path"
    face = PATH_FILL if path else OBSTACLE_FILL
    axes.fill(
        xy[:, 0], xy[:, 1], facecolor=face, edgecolor=SOFT_INK if path else INK, linewidth=points(0.2 if path else 0.5),
        linestyle=(0, (4, 2)) if path else "-", zorder=3.5 if path else 6, gid=gid,
    )  # fmt: skip
    if not path:
        _cross(axes, xy)


def _cross(axes: Axes, xy: NDArray[np.float64]) -> None:
    """Two thin lines through an obstacle, as over an opening in a building plan."""
    low, high = xy.min(axis=0), xy.max(axis=0)
    area = Polygon(xy)
    for line in (((low[0], low[1]), (high[0], high[1])), ((low[0], high[1]), (high[0], low[1]))):
        for part in shapely.get_parts(shapely.make_valid(area).intersection(LineString(line))):
            if isinstance(part, LineString):
                inner = np.asarray(part.coords)
                axes.plot(inner[:, 0], inner[:, 1], color=SOFT_INK, linewidth=points(0.15), zorder=6.1)


def draw_beds(axes: Axes, board: Board, plan: Plan, view: View) -> None:
    """Draw the rim of every bed; a framed one heavier."""
    for bed in plan.beds:
        if len(bed.outline) < 3:
            continue
        xy = view.to_page((*bed.outline, bed.outline[0]))
        board.discourage_line(xy, 1.0, _EDGE_WEIGHT if bed.raised_m > 0 else 0.5)
        width, style = (0.8, "-") if bed.raised_m > 0 else (0.3, (0, (8, 2)))
        axes.plot(
            xy[:, 0],
            xy[:, 1],
            color=BED_EDGE,
            linewidth=points(width),
            linestyle=style,
            zorder=5,
            gid=mark_id("bed", bed.name),
        )


def draw_outline(axes: Axes, board: Board, plan: Plan, view: View) -> None:
    """Draw the plot boundary."""
    if plan.site.outline:
        xy = view.to_page((*plan.site.outline, plan.site.outline[0]))
        board.discourage_line(xy, 1.0, _EDGE_WEIGHT)
        axes.plot(
            xy[:, 0], xy[:, 1], color=INK, linewidth=points(0.7), zorder=6.5, gid="outline", solid_joinstyle="miter"
        )

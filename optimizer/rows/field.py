"""The places rows may take in a bed for one row direction, and how long they would be there."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from optimizer.geometry import GRID_M, Frame, Point, chords, overlap, shortened
from optimizer.scenario.outlines import corners
from optimizer.scenario.schema import Bed, Limits
from optimizer.site import SiteShapes

Stretches = tuple[tuple[float, float], ...]


@dataclass(frozen=True, eq=False)
class RowField:
    """Row places of a bed in the frame of one direction; v grows away from the tap."""

    frame: Frame
    angle_name: str
    outline: BaseGeometry
    """bed outline in frame coordinates"""
    inside: BaseGeometry
    """where rows may lie, before the row ends are cut back"""
    no_rows: BaseGeometry
    row_end_margin_m: float
    shortest_m: float
    places_m: NDArray[np.float64]
    """v of each place on the grid, ascending, shape (k,) [m]"""

    def stretches(self, v: float) -> Stretches:
        """Return the stretches of row at height v that are long enough to be watered [m]."""
        return tuple((a, b) for a, b in self._all(v) if b - a >= self.shortest_m)

    def too_short(self, v: float) -> Stretches:
        """Return the stretches at height v that are too short to be watered [m]."""
        return tuple((a, b) for a, b in self._all(v) if b - a < self.shortest_m)

    @cached_property
    def _free(self) -> BaseGeometry:
        """The outline without what rows keep out of."""
        free: BaseGeometry = self.outline.difference(self.no_rows) if not self.no_rows.is_empty else self.outline
        return free

    @cached_property
    def _known(self) -> dict[float, Stretches]:
        """Stretches by height; every crop asks for the same heights again."""
        return {}

    def _all(self, v: float) -> Stretches:
        if v not in self._known:
            ends = shortened(chords(self._free, v), self.row_end_margin_m)
            self._known[v] = tuple(overlap(ends, chords(self.inside, v)))
        return self._known[v]

    def planted_m(self, v: float) -> float:
        """Return the length of row that would be watered at height v [m]."""
        return sum(b - a for a, b in self.stretches(v))


def frame_away_from(tap: Point, bed: BaseGeometry, angle: float) -> Frame:
    """Return the frame of the two with this row direction in which v grows away from the tap."""
    frame = Frame(angle)
    centre = frame.to_frame((bed.centroid.x, bed.centroid.y))
    return frame if frame.to_frame(tap)[1] <= centre[1] else Frame(angle + math.pi)


def _drawn_in(outline: BaseGeometry, margin_m: float) -> BaseGeometry:
    inset: BaseGeometry = outline.buffer(-margin_m, join_style="mitre", mitre_limit=20.0)
    return inset


def row_field(
    bed: Bed, angle_name: str, angle: float, shapes: SiteShapes, limits: Limits, frame: Frame | None = None
) -> RowField:
    """Return the row places of a bed for one direction.

    Args:
        bed: the bed.
        angle_name: what the direction is called.
        angle: row direction, anticlockwise from x [rad].
        shapes: the site.
        limits: grid and shortest row.
        frame: frame to share with other beds; that in which v grows away from the tap unless given.
    """
    polygon = Polygon(corners(bed))
    frame = frame or frame_away_from(shapes.source_at, polygon, angle)
    outline = frame.shape_to_frame(polygon)
    # An emitter line is tube too: a barrier cuts a row as an obstacle does.
    walls = shapes.barriers.buffer(GRID_M, cap_style="flat")
    no_rows = frame.shape_to_frame(shapes.no_rows if walls.is_empty else shapes.no_rows.union(walls))
    inset = _drawn_in(outline, bed.edge_margin)
    low, high = (inset.bounds[1], inset.bounds[3]) if not inset.is_empty else (0.0, -1.0)
    # Rows on the very edge must not be lost to the last digits of a turned outline.
    loose = _drawn_in(outline, bed.edge_margin - 1e-5)
    inside = loose.difference(no_rows) if not no_rows.is_empty else loose
    count = math.floor((high - low) / limits.row_step + 1e-9) + 1
    places = low + limits.row_step * np.arange(max(count, 0), dtype=np.float64)
    return RowField(
        frame, angle_name, outline, inside, no_rows, bed.row_end_margin, limits.shortest_row, np.round(places, 9)
    )

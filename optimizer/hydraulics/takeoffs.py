"""Take-offs along a header: what leaves at each of them over the head there.

All curves stand on one grid of heads, even in the square root, so that reading them is arithmetic, not search.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np
import numpy.typing as npt

from optimizer.errors import HydraulicError
from optimizer.hydraulics.arrays import BoolArray, FloatArray, IntArray, floats, frozen_floats
from optimizer.hydraulics.friction import velocity
from optimizer.hydraulics.tables import LateralTable, hermite, monotone_slopes


@dataclass(frozen=True)
class LateralAt:
    """One lateral hanging on a take-off.

    Args:
        table: table of its product [-]
        count: its emitters [-]
        slope: its rise away from the header; one the table was built for [m/m]
        connection_loss: head lost in the connection per squared flow [s2/m5]
    """

    table: LateralTable
    count: int
    slope: float = 0.0
    connection_loss: float = 0.0


@dataclass(frozen=True, eq=False)
class _Curve:
    """One lateral on the grid of take-off heads; unknown entries are nan."""

    flow: FloatArray
    flow_slope: FloatArray
    least_head: FloatArray
    greatest_head: FloatArray
    least_flow: FloatArray
    greatest_flow: FloatArray
    velocity: FloatArray


@dataclass(frozen=True, eq=False)
class TakeOffs:
    """Take-offs in the order of their place along the header; curve arrays are (take-offs, heads).

    Args:
        position_m: place along the header, rising, shape (t,) [m]
        z_m: elevation, shape (t,) [m]
        emitters: emitters behind each, shape (t,) [-]
        heads_m: the common grid of heads, shape (u,) [m]
        flow_m3_s: flow leaving, filled in where unknown [m3/s]
        flow_slope: derivative of that flow with the square root of the head [m3/s/m^0.5]
        least_head_m: least head at an emitter, nan where unknown [m]
        greatest_head_m: greatest head at an emitter, nan where unknown [m]
        least_flow_m3_s: least emitter flow, nan where unknown [m3/s]
        greatest_flow_m3_s: greatest emitter flow, nan where unknown [m3/s]
        lateral_velocity_m_s: greatest velocity at a lateral's inlet, nan where unknown [m/s]
    """

    position_m: FloatArray
    z_m: FloatArray
    emitters: IntArray
    heads_m: FloatArray
    flow_m3_s: FloatArray
    flow_slope: FloatArray
    least_head_m: FloatArray
    greatest_head_m: FloatArray
    least_flow_m3_s: FloatArray
    greatest_flow_m3_s: FloatArray
    lateral_velocity_m_s: FloatArray

    @property
    def count(self) -> int:
        """Number of take-offs."""
        return int(self.position_m.size)

    @property
    def greatest_head(self) -> float:
        """Greatest head the curves cover [m]."""
        return float(self.heads_m[-1])

    def _cell(self, head: FloatArray) -> tuple[IntArray, FloatArray, FloatArray]:
        """Cell of the grid, and the place in it by root and by head, for heads clipped to the grid."""
        inside = np.clip(head, 0.0, self.heads_m[-1])
        place = np.sqrt(inside * ((self.heads_m.size - 1) ** 2 / self.heads_m[-1]))
        cell = np.minimum(place.astype(np.int64), self.heads_m.size - 2)
        low = self.heads_m[cell]
        return cell, place - cell, (inside - low) / (self.heads_m[cell + 1] - low)

    def flow_and_slope(self, take_off: IntArray, head: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Flow leaving at take-offs and its derivative with head; beyond the grid the slope of its end holds.

        Args:
            take_off: which take-off, any shape [-]
            head: head there, the same shape [m]

        Returns:
            Flow [m3/s] and derivative [m2/s].
        """
        cell, part, _ = self._cell(head)
        width = np.sqrt(self.heads_m[1])
        flat = take_off * self.heads_m.size + cell
        y, s = self.flow_m3_s.ravel(), self.flow_slope.ravel()
        flow, slope = hermite(part, width, y[flat], y[flat + 1], s[flat], s[flat + 1])
        inside = np.clip(head, 0.0, self.heads_m[-1])
        slope = slope / (2.0 * np.sqrt(np.maximum(inside, 0.25 * self.heads_m[1])))
        above = np.maximum(head - self.heads_m[-1], 0.0)
        return flow + slope * above, np.where(head > 0.0, slope, 0.0)

    def covered(self, head: FloatArray) -> BoolArray:
        """Whether heads lie on the grid.

        Args:
            head: heads, any shape [m]
        """
        return np.asarray((head >= 0.0) & (head <= self.heads_m[-1]))

    def extremes(self, take_off: IntArray, head: FloatArray) -> tuple[FloatArray, ...]:
        """Least and greatest emitter head, least and greatest emitter flow, lateral velocity at take-offs.

        Args:
            take_off: which take-off, any shape [-]
            head: head there, the same shape [m]

        Returns:
            Five arrays [m, m, m3/s, m3/s, m/s], nan where the curves know nothing.
        """
        cell, by_root, by_head = self._cell(head)
        flat = take_off * self.heads_m.size + cell
        curves = (
            (self.least_head_m, by_head),
            (self.greatest_head_m, by_head),
            (self.least_flow_m3_s, by_root),
            (self.greatest_flow_m3_s, by_root),
            (self.lateral_velocity_m_s, by_root),
        )
        return tuple(
            curve.ravel()[flat] + part * (curve.ravel()[flat + 1] - curve.ravel()[flat]) for curve, part in curves
        )


def joined_take_offs(items: Sequence[TakeOffs]) -> tuple[TakeOffs, list[int], list[float]]:
    """Take-offs of several headers as one list, their places moved so that they rise throughout.

    Args:
        items: take-offs on one grid of heads, at least one [-]

    Returns:
        The joined list, the number of each item's first take-off in it, and what was added to its places [m].
    """
    starts, shifts, start, shift = [], [], 0, 0.0
    for item in items:
        shift -= float(item.position_m[0])
        starts.append(start)
        shifts.append(shift if start else 0.0)
        start += item.count
        shift = shifts[-1] + float(item.position_m[-1]) + 1.0
    if len(items) == 1:
        return items[0], starts, shifts
    columns = {field.name: np.concatenate([getattr(item, field.name) for item in items]) for field in fields(TakeOffs)}
    columns["position_m"] = np.concatenate([item.position_m + by for item, by in zip(items, shifts, strict=True)])
    columns["heads_m"] = items[0].heads_m
    return TakeOffs(**columns), starts, shifts


def _lateral_curve(lateral: LateralAt) -> _Curve:
    table = lateral.table
    at = table.row(lateral.count, lateral.slope)
    least, greatest = table.least_head_m[at], table.greatest_head_m[at]
    curve = _Curve(
        flow=table.flow_m3_s[at],
        flow_slope=table.flow_slope[at],
        least_head=least,
        greatest_head=greatest,
        least_flow=table.line.law.flow(least),
        greatest_flow=table.line.law.flow(greatest),
        velocity=velocity(table.flow_m3_s[at], table.line.bore_m),
    )
    return curve if lateral.connection_loss == 0.0 else _behind_connection(curve, table.heads_m, lateral)


def _behind_connection(curve: _Curve, heads: FloatArray, lateral: LateralAt) -> _Curve:
    """The curve over the head in the header, which is the lateral's inlet head and what the connection loses."""
    if not lateral.connection_loss > 0.0:
        raise HydraulicError("a connection's loss must be 0 or more")
    known = ~np.isnan(curve.flow)
    before, root = heads + lateral.connection_loss * curve.flow**2, np.sqrt(heads)
    x, wanted = np.sqrt(before[known]), root
    if x.size < 2:
        raise HydraulicError(f"a lateral of {lateral.count} emitters is too long for its table")
    flow, rate = curve.flow[known], curve.flow_slope[known]
    # d(root of header head)/d(root of inlet head), zero only at zero head where the flow has no slope either.
    stretch = (root[known] + lateral.connection_loss * flow * rate) / np.maximum(x, 1e-12)
    slope = monotone_slopes(x, flow, rate / np.maximum(stretch, 1e-12))
    low = np.clip(np.searchsorted(x, wanted, side="right") - 1, 0, x.size - 2)
    width = x[low + 1] - x[low]
    part = (wanted - x[low]) / width
    lost = (part < 0.0) | (part > 1.0) | (np.diff(np.flatnonzero(known))[low] > 1)
    value, new_slope = hermite(part, width, flow[low], flow[low + 1], slope[low], slope[low + 1])

    def line(values: FloatArray) -> FloatArray:
        y = values[known]
        return np.where(lost, np.nan, y[low] + part * (y[low + 1] - y[low]))

    others = (curve.least_head, curve.greatest_head, curve.least_flow, curve.greatest_flow, curve.velocity)
    return _Curve(np.where(lost, np.nan, value), np.where(lost, np.nan, new_slope), *(line(y) for y in others))


def _filled(heads: FloatArray, flow: FloatArray, slope: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Flow curve with straight lines where it is unknown, so that iterations may pass through; zero at zero head."""
    known = ~np.isnan(flow)
    if np.all(known):
        return flow, slope
    root = np.sqrt(heads)
    filled = np.interp(root, np.concatenate([[0.0], root[known]]), np.concatenate([[0.0], flow[known]]))
    return filled, monotone_slopes(root, filled, np.where(known, slope, np.gradient(filled, root)))


def take_offs(positions: npt.ArrayLike, elevations: npt.ArrayLike, laterals: Sequence[Sequence[LateralAt]]) -> TakeOffs:
    """Take-offs with their curves; laterals with equal tables, counts and slopes are worked out once.

    Args:
        positions: places along the header, rising, shape (t,) [m]
        elevations: elevations, shape (t,) [m]
        laterals: laterals of each take-off, one or more each, length t [-]

    Raises:
        HydraulicError: when shapes differ, positions do not rise, or tables stand on different grids of heads.
    """
    s, z = frozen_floats(positions), frozen_floats(elevations)
    if s.ndim != 1 or s.shape != z.shape or s.size != len(laterals) or s.size == 0 or not all(laterals):
        raise HydraulicError("take-offs need one position, one elevation and at least one lateral each")
    if np.any(np.diff(s) <= 0.0) or not np.all(np.isfinite(z)):
        raise HydraulicError("take-off positions must rise along the header, elevations be finite")
    heads = laterals[0][0].table.heads_m
    cache: dict[tuple[int, int, float, float], _Curve] = {}
    alike: dict[tuple[LateralAt, ...], tuple[FloatArray, ...]] = {}
    for group in laterals:
        if tuple(group) not in alike:
            alike[tuple(group)] = _summed(group, heads, cache)
    rows = [alike[tuple(group)] for group in laterals]
    stacked = [np.stack(column) for column in zip(*rows, strict=True)]
    emitters = np.array([sum(lateral.count for lateral in group) for group in laterals], dtype=np.int64)
    return TakeOffs(s, z, emitters, heads, *stacked)


def _summed(
    group: Sequence[LateralAt], heads: FloatArray, cache: dict[tuple[int, int, float, float], _Curve]
) -> tuple[FloatArray, ...]:
    """Flows added, extremes taken, over the laterals of one take-off."""
    curves = []
    for lateral in group:
        if not np.array_equal(lateral.table.heads_m, heads):
            raise HydraulicError("the lateral tables of one header must stand on one grid of heads")
        key = (id(lateral.table), lateral.count, lateral.slope, lateral.connection_loss)
        if key not in cache:
            cache[key] = _lateral_curve(lateral)
        curves.append(cache[key])
    flow, slope = _filled(heads, floats(sum(c.flow for c in curves)), floats(sum(c.flow_slope for c in curves)))
    return (
        flow,
        slope,
        np.min([c.least_head for c in curves], axis=0),
        np.max([c.greatest_head for c in curves], axis=0),
        np.min([c.least_flow for c in curves], axis=0),
        np.max([c.greatest_flow for c in curves], axis=0),
        np.max([c.velocity for c in curves], axis=0),
    )

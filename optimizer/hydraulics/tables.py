"""Tables of laterals: inflow and extreme emitter heads over inlet head, for many lengths and slopes of one product.

The tables come from marches with exact derivatives, resampled on one grid of inlet heads that is even in the square
root of the head, and are read by monotone cubics (flow) and straight lines (heads). For laterals whose flow variation
is 0.5 or less, at inlet heads of 0.5 m or more, flows read from a table are within 0.02 % and heads within 10 mm of the
lateral solved emitter by emitter; the tests hold this. Where the end of a lateral is all but dry the tables hold no
number (nan), and reading there is an error.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from optimizer.errors import HydraulicError
from optimizer.hydraulics.arrays import FloatArray, IntArray, floats, frozen_floats, frozen_ints
from optimizer.hydraulics.fluid import Fluid
from optimizer.hydraulics.lateral import EmitterLine
from optimizer.hydraulics.march import BEYOND, Inlets, end_heads, march

HEAD_POINTS = 129
END_POINTS = 160


def monotone_slopes(x: FloatArray, y: FloatArray, slope: FloatArray) -> FloatArray:
    """Slopes cut back so that the cubic through rising points rises everywhere.

    Source: Fritsch and Carlson 1980, SIAM J. Numer. Anal. 17(2), 238-246 (the box: at most three times the chords).

    Args:
        x: positions, rising along the last axis, shape (..., u) [any]
        y: values, not falling along the last axis, shape (..., u) [any]
        slope: derivatives of y with x, not negative, shape (..., u) [any]
    """
    chord = np.diff(y, axis=-1) / np.diff(x, axis=-1)
    room = np.full(y.shape, np.inf)
    room[..., :-1] = 3.0 * chord
    room[..., 1:] = np.minimum(room[..., 1:], 3.0 * chord)
    return np.clip(slope, 0.0, room)


def hermite(
    part: FloatArray, width: FloatArray, y0: FloatArray, y1: FloatArray, s0: FloatArray, s1: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Cubic through two points with given slopes, and its derivative.

    Args:
        part: position in the interval, 0 to 1 [-]
        width: width of the interval [any]
        y0: value at its start [any]
        y1: value at its end [any]
        s0: derivative at its start [any]
        s1: derivative at its end [any]
    """
    rise = y1 - y0
    a, b = s0 * width - rise, rise - s1 * width
    rest = 1.0 - part
    value = y0 + part * (rise + rest * (rest * a + part * b))
    slope = (rise + rest * (rest * a + part * b) + part * (rest * (b - a) - (rest * a + part * b))) / width
    return value, slope


@dataclass(frozen=True, eq=False)
class LateralTable:
    """Laterals of one product over lengths, slopes and inlet heads; arrays are (counts, slopes, heads).

    Args:
        line: the emitter line [-]
        first_spacing_m: distance from the inlet to the first emitter [m]
        counts: emitter counts, rising, shape (c,) [-]
        slopes: rise along the lateral away from the inlet, shape (m,) [m/m]
        heads_m: inlet heads, even in their square roots from 0, shape (u,) [m]
        flow_m3_s: inflow [m3/s]
        flow_slope: derivative of the inflow with the square root of the inlet head [m3/s/m^0.5]
        least_head_m: least head at an emitter [m]
        greatest_head_m: greatest head at an emitter [m]
    """

    line: EmitterLine
    first_spacing_m: float
    counts: IntArray
    slopes: FloatArray
    heads_m: FloatArray
    flow_m3_s: FloatArray
    flow_slope: FloatArray
    least_head_m: FloatArray
    greatest_head_m: FloatArray

    @property
    def greatest_inlet_head_m(self) -> float:
        """Greatest inlet head the table covers [m]."""
        return float(self.heads_m[-1])

    def row(self, count: int, slope: float) -> tuple[int, int]:
        """Where laterals of a count and slope stand in the table.

        Args:
            count: number of emitters [-]
            slope: rise along the lateral away from the inlet; one the table was built for [m/m]

        Raises:
            HydraulicError: when the table was not built for them.
        """
        at = int(np.searchsorted(self.counts, count))
        if at == self.counts.size or self.counts[at] != count:
            raise HydraulicError(f"the table holds no laterals of {count} emitters")
        near = int(np.argmin(np.abs(self.slopes - slope)))
        if abs(self.slopes[near] - slope) > 1e-9:
            raise HydraulicError(f"the table holds no laterals of slope {slope}")
        return at, near

    def _cell(self, head: npt.ArrayLike) -> tuple[IntArray, FloatArray, float]:
        h = floats(head)
        if np.any(~(h >= 0.0)) or np.any(h > self.greatest_inlet_head_m):
            raise HydraulicError(f"inlet heads must lie between 0 and {self.greatest_inlet_head_m} m")
        width = float(np.sqrt(self.heads_m[1]))
        place = np.sqrt(h) / width
        cell = np.minimum(place.astype(np.int64), self.heads_m.size - 2)
        return cell, place - cell, width

    def inflow(self, count: int, slope: float, head: npt.ArrayLike) -> FloatArray:
        """Inflow of a lateral.

        Args:
            count: number of emitters [-]
            slope: rise along the lateral away from the inlet [m/m]
            head: inlet heads, any shape [m]

        Returns:
            Inflow, the shape of `head` [m3/s].

        Raises:
            HydraulicError: outside the table, or where the lateral is too long for it.
        """
        at = self.row(count, slope)
        cell, part, width = self._cell(head)
        y, s = self.flow_m3_s[at], self.flow_slope[at]
        return _known(hermite(part, np.full_like(part, width), y[cell], y[cell + 1], s[cell], s[cell + 1])[0])

    def extreme_heads(self, count: int, slope: float, head: npt.ArrayLike) -> tuple[FloatArray, FloatArray]:
        """Least and greatest head at the emitters of a lateral.

        Args:
            count: number of emitters [-]
            slope: rise along the lateral away from the inlet [m/m]
            head: inlet heads, any shape [m]

        Returns:
            Least and greatest head, the shape of `head` [m].

        Raises:
            HydraulicError: outside the table, or where the lateral is too long for it.
        """
        at = self.row(count, slope)
        cell, _, _ = self._cell(head)
        low, high = self.heads_m[cell], self.heads_m[cell + 1]
        part = (floats(head) - low) / (high - low)
        ends = (self.least_head_m[at], self.greatest_head_m[at])
        least, greatest = (_known(y[cell] + part * (y[cell + 1] - y[cell])) for y in ends)
        return least, greatest

    def extreme_flows(self, count: int, slope: float, head: npt.ArrayLike) -> tuple[FloatArray, FloatArray]:
        """Least and greatest emitter flow of a lateral.

        Args:
            count: number of emitters [-]
            slope: rise along the lateral away from the inlet [m/m]
            head: inlet heads, any shape [m]

        Returns:
            Least and greatest flow, the shape of `head` [m3/s].

        Raises:
            HydraulicError: outside the table, or where the lateral is too long for it.
        """
        least, greatest = self.extreme_heads(count, slope, head)
        return self.line.law.flow(least), self.line.law.flow(greatest)


def _known(values: FloatArray) -> FloatArray:
    if np.any(np.isnan(values)):
        raise HydraulicError("the lateral is too long for the table at this inlet head")
    return values


def _brackets(rows: FloatArray, wanted: FloatArray) -> IntArray:
    """For each row the index of the last entry not above each wanted value; rows sorted, shape (m, u)."""
    return np.stack([np.searchsorted(row, wanted, side="right") - 1 for row in rows])


def _resample(inlets: Inlets, heads: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Inflow, its slope with the inlet head, least and greatest head on the grid of inlet heads."""
    low = np.clip(_brackets(inlets.head, heads), 0, inlets.head.shape[1] - 2)

    def pair(values: FloatArray) -> tuple[FloatArray, FloatArray]:
        return np.take_along_axis(values, low, 1), np.take_along_axis(values, low + 1, 1)

    rate = inlets.flow_slope / inlets.head_slope
    (h0, h1), (q0, q1), (s0, s1) = pair(inlets.head), pair(inlets.flow), pair(rate)
    part = (heads - h0) / (h1 - h0)
    room = 3.0 * (q1 - q0) / (h1 - h0)
    flow, slope = hermite(part, h1 - h0, q0, q1, np.minimum(s0, room), np.minimum(s1, room))
    least, greatest = (y0 + part * (y1 - y0) for y0, y1 in (pair(inlets.least), pair(inlets.greatest)))
    # Where the slope changes much within one step of the end head, the end is all but dry and the cubic is a guess.
    bent = np.maximum(np.abs(s1 - s0), np.abs(2.0 * (q1 - q0) / (h1 - h0) - s0 - s1)) > 0.5 * (s0 + s1)
    guessed = bent & (h1 - h0 > 0.1 * heads + 0.02)
    lost = ~np.take_along_axis(inlets.usable, low + 1, 1) | guessed
    columns = (np.where(lost, np.nan, column) for column in (flow, slope, least, greatest))
    return next(columns), next(columns), next(columns), next(columns)


def build_lateral_table(
    line: EmitterLine,
    counts: npt.ArrayLike,
    slopes: npt.ArrayLike,
    greatest_head: float,
    fluid: Fluid,
    first_spacing: float | None = None,
    head_points: int = HEAD_POINTS,
) -> LateralTable:
    """Table of laterals of one product for wanted lengths and slopes, from one march.

    Args:
        line: the emitter line [-]
        counts: emitter counts wanted, rising, shape (c,) [-]
        slopes: rise along the lateral away from the inlet, shape (m,) [m/m]
        greatest_head: greatest inlet head covered [m]
        fluid: the water [-]
        first_spacing: distance from the inlet to the first emitter; a full spacing if not given [m]
        head_points: inlet heads in the table [-]

    Raises:
        HydraulicError: when the counts are not rising from 1 or more, or a value is out of range.
    """
    wanted, steep = frozen_ints(counts), frozen_floats(slopes)
    if wanted.size == 0 or wanted[0] < 1 or np.any(np.diff(wanted) <= 0):
        raise HydraulicError("emitter counts must rise from 1 or more")
    if steep.size == 0 or not np.all(np.abs(steep) < 1.0) or not greatest_head > 0.0 or head_points < 3:
        raise HydraulicError("a lateral table needs slopes below 1, a positive head and at least 3 grid points")
    first = line.spacing_m if first_spacing is None else first_spacing
    most = int(wanted[-1])
    length = float(np.sum(line.segment_lengths(most, first)))
    heads = greatest_head * (np.arange(head_points) / (head_points - 1)) ** 2
    ends = end_heads(steep, length, greatest_head, END_POINTS)
    kept = set(wanted.tolist())
    inlets = march(line, steep, ends, most, first, BEYOND * (greatest_head + length), fluid)
    rows = [_resample(state, heads) for state in inlets if state.count in kept]
    flow, rate, least, greatest = (np.stack(column) for column in zip(*rows, strict=True))
    root = np.broadcast_to(np.sqrt(heads), flow.shape)
    flow_slope = monotone_slopes(root, flow, 2.0 * root * rate)
    return LateralTable(line, first, wanted, steep, heads, flow, flow_slope, least, greatest)

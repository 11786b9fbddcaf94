"""Marching laterals from their closed ends upstream, for many end heads and slopes at once.

One march over a grid of end heads passes through every lateral length: after the i-th emitter from the end, one more
piece of tube leads to the inlet of the lateral with i emitters. Derivatives with the end head travel along.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from optimizer.hydraulics.arrays import FloatArray
from optimizer.hydraulics.fluid import Fluid
from optimizer.hydraulics.friction import head_loss_and_slope
from optimizer.hydraulics.lateral import EmitterLine

BEYOND = 64.0
"""Heads above this many times the greatest inlet head wanted are of no use and are frozen [-]."""


@dataclass(frozen=True, eq=False)
class Inlets:
    """What laterals of one emitter count do at their inlets, over slopes and end heads; every array is (slopes, ends).

    Args:
        count: emitters of the laterals [-]
        head: pressure head at the inlet [m]
        head_slope: its derivative with the end head [-]
        flow: inflow [m3/s]
        flow_slope: its derivative with the end head [m2/s]
        least: least head at an emitter [m]
        greatest: greatest head at an emitter [m]
        usable: whether the march stayed below the freezing head [-]
    """

    count: int
    head: FloatArray
    head_slope: FloatArray
    flow: FloatArray
    flow_slope: FloatArray
    least: FloatArray
    greatest: FloatArray
    usable: np.ndarray[tuple[int, ...], np.dtype[np.bool_]]


def end_heads(slopes: FloatArray, length: float, greatest_head: float, points: int) -> FloatArray:
    """End heads that reach inlet heads from zero to the greatest wanted, for laterals up to a length.

    A lateral that rises may end dry (head below zero) although its inlet has head; one that falls may end with more
    head than its inlet. Heads above zero are spaced evenly in their square roots, those below evenly.

    Args:
        slopes: rise along the lateral away from the inlet, shape (m,) [m/m]
        length: greatest lateral length [m]
        greatest_head: greatest inlet head wanted [m]
        points: grid points above zero, and again below [-]

    Returns:
        Heads rising along the second axis, shape (m, 2 points + 1) [m].
    """
    part = np.arange(1, points + 1) / points
    least = -np.maximum(slopes, 0.0) * length - 1e-3
    most = greatest_head + np.maximum(-slopes, 0.0) * length
    below = least[:, None] * part[::-1]
    return np.concatenate([below, np.zeros((slopes.size, 1)), most[:, None] * part**2], axis=1)


def march(
    line: EmitterLine,
    slopes: FloatArray,
    ends: FloatArray,
    count: int,
    first_spacing: float,
    limit: float,
    fluid: Fluid,
) -> Iterator[Inlets]:
    """Inlet states of laterals with 1, 2, ... `count` emitters.

    Args:
        line: the emitter line [-]
        slopes: rise along the lateral away from the inlet, shape (m,) [m/m]
        ends: heads at the last emitter, rising along the second axis, shape (m, g) [m]
        count: greatest number of emitters [-]
        first_spacing: distance from the inlet to the first emitter [m]
        limit: heads above this are frozen and marked as not usable [m]
        fluid: the water [-]
    """
    rise = slopes[:, None]
    head, head_slope = ends, np.ones_like(ends)
    flow, flow_slope = np.zeros_like(ends), np.zeros_like(ends)
    least, greatest = ends, ends
    usable = np.ones(ends.shape, dtype=np.bool_)
    # Frozen heads still rise from one end head to the next, so that every row stays sorted.
    ceiling = limit * (1.0 + np.arange(ends.shape[1]) / ends.shape[1])

    def upstream(length: float) -> tuple[FloatArray, FloatArray]:
        loss, slope = head_loss_and_slope(
            flow, length + line.emitter_loss_length_m, line.bore_m, line.roughness_m, fluid
        )
        return head + loss + rise * length, head_slope + slope * flow_slope

    for number in range(1, count + 1):
        if number > 1:
            head, head_slope = upstream(line.spacing_m)
            usable = usable & (head < ceiling)
            head = np.minimum(head, ceiling)
            least, greatest = np.minimum(least, head), np.maximum(greatest, head)
        given, given_slope = line.law.flow_and_slope(head)
        flow, flow_slope = flow + given, flow_slope + given_slope * head_slope
        inlet, inlet_slope = upstream(first_spacing)
        yield Inlets(number, inlet, inlet_slope, flow, flow_slope, least, greatest, usable & (inlet < ceiling))

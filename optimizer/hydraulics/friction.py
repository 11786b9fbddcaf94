"""Head lost to friction in a tube: the Darcy-Weisbach law with the friction factor EPANET uses.

Laminar below Re 2000, Swamee and Jain's formula above 4000, Dunlop's cubic between; continuous with a continuous
slope. All functions are vectorised and give zero loss, with a finite slope, at zero flow.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from optimizer.hydraulics.arrays import FloatArray, floats
from optimizer.hydraulics.fluid import GRAVITY_M_S2, Fluid

LAMINAR_REYNOLDS = 2000.0
TURBULENT_REYNOLDS = 4000.0
POLYETHYLENE_ROUGHNESS_M = 1.5e-6
"""Absolute roughness of smooth plastic tube, 0.0015 mm (EPANET 2 Users Manual lists 0.0015 mm for plastic)."""


def reynolds_number(flow: npt.ArrayLike, bore: npt.ArrayLike, fluid: Fluid) -> FloatArray:
    """Reynolds number of a full round tube, 4 |Q| / (pi D nu).

    Args:
        flow: flow, either sign [m3/s]
        bore: inner diameter [m]
        fluid: the water [-]
    """
    return 4.0 * np.abs(floats(flow)) / (np.pi * floats(bore) * fluid.viscosity_m2_s)


def _swamee_jain(reynolds: FloatArray, relative_roughness: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Factor f and Re df/dRe by Swamee and Jain 1976 (EPANET 2 Users Manual, appendix D)."""
    viscous = 5.74 * reynolds**-0.9
    argument = relative_roughness / 3.7 + viscous
    logarithm = np.log(argument)
    factor = (0.5 * np.log(10.0)) ** 2 / logarithm**2
    return factor, factor * 1.8 * viscous / (argument * logarithm)


def _dunlop(reynolds: FloatArray, relative_roughness: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Factor f and Re df/dRe by the cubic of Dunlop 1991 (EPANET 2 Users Manual, appendix D)."""
    r = reynolds / LAMINAR_REYNOLDS
    y2 = relative_roughness / 3.7 + 5.74 * TURBULENT_REYNOLDS**-0.9
    y3 = -2.0 / np.log(10.0) * np.log(y2)
    fa = y3**-2
    # 2 * 0.9 * 2 / ln 10 * 5.74 / 4000^0.9: makes the slope meet Swamee and Jain's at Re 4000.
    fb = fa * (2.0 - 3.6 / np.log(10.0) * 5.74 * TURBULENT_REYNOLDS**-0.9 / (y2 * y3))
    x1, x2 = 7.0 * fa - fb, 0.128 - 17.0 * fa + 2.5 * fb
    x3, x4 = -0.128 + 13.0 * fa - 2.0 * fb, 0.032 - 3.0 * fa + 0.5 * fb
    return x1 + r * (x2 + r * (x3 + r * x4)), r * (x2 + r * (2.0 * x3 + r * 3.0 * x4))


def _factor_and_slope(reynolds: FloatArray, relative_roughness: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Factor f and Re df/dRe above Re 2000; both arrays of one shape, Reynolds numbers below 2000 count as 2000."""
    factor, slope = _swamee_jain(np.maximum(reynolds, TURBULENT_REYNOLDS), relative_roughness)
    middle = reynolds < TURBULENT_REYNOLDS
    if np.any(middle):
        clipped = np.maximum(reynolds[middle], LAMINAR_REYNOLDS)
        factor[middle], slope[middle] = _dunlop(clipped, relative_roughness[middle])
    return factor, slope


def friction_factor(reynolds: npt.ArrayLike, relative_roughness: npt.ArrayLike) -> FloatArray:
    """Darcy friction factor: 64/Re, Dunlop's cubic, Swamee-Jain; infinite at Re 0.

    Source: EPANET 2 Users Manual (Rossman 2000), appendix D. Example: Re 1e5, 1e-4 -> 0.018452.

    Args:
        reynolds: Reynolds number, not negative [-]
        relative_roughness: roughness over bore, below 0.05 [-]
    """
    re, rough = np.broadcast_arrays(np.atleast_1d(floats(reynolds)), np.atleast_1d(floats(relative_roughness)))
    shape = np.broadcast_shapes(np.shape(reynolds), np.shape(relative_roughness))
    factor, _ = _factor_and_slope(re, rough)
    with np.errstate(divide="ignore"):
        return np.where(re <= LAMINAR_REYNOLDS, 64.0 / re, factor).reshape(shape)


def _loss_per_resistance(
    flow: FloatArray, bore: FloatArray, roughness: FloatArray, viscosity: float
) -> tuple[FloatArray, FloatArray]:
    """The product f Q^2 and its slope with Q, for Q >= 0; laminar in closed form so that Q = 0 needs no care."""
    linear = 16.0 * np.pi * viscosity * bore
    square, slope = linear * flow, np.array(linear)
    reynolds = 4.0 * flow / (np.pi * bore * viscosity)
    rough = reynolds > LAMINAR_REYNOLDS
    if np.any(rough):
        q = flow[rough]
        factor, change = _factor_and_slope(reynolds[rough], roughness[rough] / bore[rough])
        square[rough], slope[rough] = factor * q * q, (2.0 * factor + change) * q
    return square, slope


def head_loss_and_slope(
    flow: npt.ArrayLike,
    length: npt.ArrayLike,
    bore: npt.ArrayLike,
    roughness: npt.ArrayLike,
    fluid: Fluid,
    loss_k: npt.ArrayLike = 0.0,
) -> tuple[FloatArray, FloatArray]:
    """Head lost along a tube, with the sign of the flow, and its derivative with flow.

    Source: Darcy-Weisbach, h = (f L/D + K) v^2 / 2g. Example: `head_loss`.

    Args:
        flow: flow, either sign [m3/s]
        length: tube length, with equivalent lengths of fittings [m]
        bore: inner diameter [m]
        roughness: absolute roughness of the wall [m]
        fluid: the water [-]
        loss_k: minor-loss coefficient on the velocity head [-]

    Returns:
        Loss [m] and its derivative [s/m2], both of the common shape of the arguments.
    """
    arrays = np.broadcast_arrays(*(floats(a) for a in (flow, length, bore, roughness, loss_k)))
    shape = arrays[0].shape
    q, lengths, bores, rough, k = (np.atleast_1d(a) for a in arrays)
    size = np.abs(q)
    square, slope = _loss_per_resistance(size, bores, rough, fluid.viscosity_m2_s)
    velocity_head = 8.0 / (GRAVITY_M_S2 * np.pi**2) / bores**4
    loss = velocity_head * (lengths / bores * square + k * size * size)
    derivative = velocity_head * (lengths / bores * slope + 2.0 * k * size)
    return np.copysign(loss, q).reshape(shape), derivative.reshape(shape)


def head_loss(
    flow: npt.ArrayLike,
    length: npt.ArrayLike,
    bore: npt.ArrayLike,
    roughness: npt.ArrayLike,
    fluid: Fluid,
    loss_k: npt.ArrayLike = 0.0,
) -> FloatArray:
    """Head lost along a tube, with the sign of the flow.

    Source: Darcy-Weisbach, h = (f L/D + K) v^2 / 2g. Example: 1e-4 m3/s, 100 m of 16 mm bore at 20 C -> 2.68 m.

    Args:
        flow: flow, either sign [m3/s]
        length: tube length, with equivalent lengths of fittings [m]
        bore: inner diameter [m]
        roughness: absolute roughness of the wall [m]
        fluid: the water [-]
        loss_k: minor-loss coefficient on the velocity head [-]
    """
    return head_loss_and_slope(flow, length, bore, roughness, fluid, loss_k)[0]


def velocity(flow: npt.ArrayLike, bore: npt.ArrayLike) -> FloatArray:
    """Mean velocity in a full round tube, with the sign of the flow.

    Args:
        flow: flow, either sign [m3/s]
        bore: inner diameter [m]

    Returns:
        Velocity [m/s].
    """
    return floats(flow) / (0.25 * np.pi * floats(bore) ** 2)


def equivalent_length(loss_k: npt.ArrayLike, bore: npt.ArrayLike, factor: npt.ArrayLike) -> FloatArray:
    """Tube length that loses as much head as a fitting or barb, K D / f.

    Args:
        loss_k: minor-loss coefficient on the velocity head in the tube [-]
        bore: inner diameter of the tube [m]
        factor: friction factor of the tube at the flow meant [-]

    Returns:
        Equivalent length [m].
    """
    return floats(loss_k) * floats(bore) / floats(factor)

"""Flow through a tube for a given head drop: the friction law the other way round."""

from __future__ import annotations

import numpy as np

from optimizer.errors import HydraulicError
from optimizer.hydraulics.arrays import FloatArray
from optimizer.hydraulics.fluid import Fluid
from optimizer.hydraulics.friction import LAMINAR_REYNOLDS, head_loss_and_slope

_ROUNDS = 60
_RELATIVE = 1e-14
_NO_DROP_M = 1e-30
"""Head drops below this are rounding [m]."""


def _laminar_flow(
    drop: FloatArray, length: FloatArray, bore: FloatArray, roughness: FloatArray, fluid: Fluid
) -> FloatArray:
    """Flow the laminar law alone would give, an upper bound whatever the regime [m3/s]."""
    _, slope = head_loss_and_slope(np.zeros_like(drop), length, bore, roughness, fluid)
    return drop / slope


def tube_flow_and_slope(
    drop: FloatArray,
    guess: FloatArray,
    length: FloatArray,
    bore: FloatArray,
    roughness: FloatArray,
    loss_k: FloatArray,
    fluid: Fluid,
) -> tuple[FloatArray, FloatArray]:
    """Flow that loses `drop` in each tube and its derivative with the drop; Newton kept inside a bracket.

    Args:
        drop: head at the start of each tube less head at its end, shape (t,) [m]
        guess: flows to start from, shape (t,) [m3/s]
        length: tube lengths, shape (t,) [m]
        bore: inner diameters, shape (t,) [m]
        roughness: wall roughnesses, shape (t,) [m]
        loss_k: minor-loss coefficients, shape (t,) [-]
        fluid: the water [-]

    Returns:
        Flows [m3/s] and derivatives [m2/s], both of shape (t,).

    Raises:
        HydraulicError: when the flows are not found to 1e-14, which finite arguments never cause.
    """
    target = np.abs(drop)
    # A hair above the bound, so that rounding cannot put the root outside.
    high = (1.0 + 1e-9) * _laminar_flow(target, length, bore, roughness, fluid)
    low = np.zeros_like(high)
    laminar_limit = 0.25 * LAMINAR_REYNOLDS * np.pi * bore * fluid.viscosity_m2_s
    flow = np.where(high <= laminar_limit, high, np.clip(np.abs(guess), 0.01 * high, high))
    for _ in range(_ROUNDS):
        loss, slope = head_loss_and_slope(flow, length, bore, roughness, fluid, loss_k)
        error = loss - target
        low, high = np.where(error <= 0.0, flow, low), np.where(error >= 0.0, flow, high)
        step = flow - error / slope
        step = np.where((step < low) | (step > high), 0.5 * (low + high), step)
        done = (np.abs(step - flow) <= _RELATIVE * high) | (target <= _NO_DROP_M)
        flow = step
        if np.all(done):
            return np.copysign(flow, drop), 1.0 / slope
    # The last bits of flow may flip for ever; only a real failure is an error.
    if np.all(np.abs(loss - target) <= 1e-9 * target + _NO_DROP_M):
        return np.copysign(flow, drop), 1.0 / slope
    raise HydraulicError("the flow of a tube could not be found for its head drop")

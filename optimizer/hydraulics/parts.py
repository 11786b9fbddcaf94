"""What stands between the supply and the header: lead-in, valve, backflow device, filter, regulator."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from optimizer.errors import HydraulicError
from optimizer.hydraulics.arrays import FloatArray, floats, frozen_floats
from optimizer.hydraulics.fluid import Fluid
from optimizer.hydraulics.friction import POLYETHYLENE_ROUGHNESS_M, head_loss

DEFAULT_FLUID = Fluid()
"""Water at about 20 C."""


@dataclass(frozen=True)
class LeadIn:
    """A hose or pipe between the supply and the header.

    Args:
        name: what the user calls it [-]
        length_m: length [m]
        bore_m: inner diameter [m]
        roughness_m: wall roughness [m]
        rise_m: elevation of its end above its start [m]
        loss_k: minor-loss coefficient on the velocity head [-]
        rating_m: greatest head it bears; infinite if not known [m]
        fluid: the water [-]
        least_flow_m3_s: least flow wanted in it [m3/s]
        greatest_flow_m3_s: greatest flow wanted in it, from a velocity limit for instance [m3/s]
    """

    name: str
    length_m: float
    bore_m: float
    roughness_m: float = POLYETHYLENE_ROUGHNESS_M
    rise_m: float = 0.0
    loss_k: float = 0.0
    rating_m: float = np.inf
    fluid: Fluid = DEFAULT_FLUID
    least_flow_m3_s: float = 0.0
    greatest_flow_m3_s: float = np.inf

    def __post_init__(self) -> None:
        if not (self.length_m > 0.0 and self.bore_m > 0.0 and self.rating_m > 0.0):
            raise HydraulicError(f"{self.name}: length, bore and rating must be positive")

    def outlet(self, inlet: FloatArray, flow: FloatArray) -> FloatArray:
        """Head at its end.

        Args:
            inlet: head at its start [m]
            flow: flow, the same shape [m3/s]
        """
        lost = head_loss(flow, self.length_m, self.bore_m, self.roughness_m, self.fluid, self.loss_k)
        return inlet - lost - self.rise_m

    def shut(self, inlet: float) -> float:
        """Head at its end with all valves behind it shut [m].

        Args:
            inlet: head at its start [m]
        """
        return inlet - self.rise_m


@dataclass(frozen=True, eq=False)
class HeadPart:
    """A valve, timer, backflow device, filter or meter with a loss that grows with flow.

    The loss follows a table of points from zero, or the square of the flow from one reference point; beyond the last
    point of a table it grows with the square of the flow.

    Args:
        name: what the user calls it [-]
        flows_m3_s: flows of the known losses, rising, shape (p,) [m3/s]
        losses_m: losses at those flows, not falling, shape (p,) [m]
        least_flow_m3_s: least flow it is made for [m3/s]
        greatest_flow_m3_s: greatest flow it is made for [m3/s]
        rating_m: greatest head it bears; infinite if not known [m]
    """

    name: str
    flows_m3_s: FloatArray
    losses_m: FloatArray
    least_flow_m3_s: float = 0.0
    greatest_flow_m3_s: float = np.inf
    rating_m: float = np.inf

    def __post_init__(self) -> None:
        object.__setattr__(self, "flows_m3_s", frozen_floats(np.atleast_1d(self.flows_m3_s)))
        object.__setattr__(self, "losses_m", frozen_floats(np.atleast_1d(self.losses_m)))
        q, loss = self.flows_m3_s, self.losses_m
        if q.ndim != 1 or q.shape != loss.shape or q.size == 0:
            raise HydraulicError(f"{self.name}: losses and flows must come in pairs")
        if not (np.all(np.diff(q, prepend=0.0) > 0.0) and np.all(np.diff(loss, prepend=0.0) >= 0.0)):
            raise HydraulicError(f"{self.name}: flows must rise from above zero, losses must not fall")
        _check_limits(self.name, self.least_flow_m3_s, self.greatest_flow_m3_s, self.rating_m)

    def loss(self, flow: npt.ArrayLike) -> FloatArray:
        """Head lost at each flow.

        Args:
            flow: flows, any shape, not negative [m3/s]
        """
        q, last = floats(flow), self.flows_m3_s[-1]
        square = self.losses_m[-1] * (q / last) ** 2
        if self.flows_m3_s.size == 1:
            return floats(square)
        inside = np.interp(q, [0.0, *self.flows_m3_s], [0.0, *self.losses_m])
        return floats(np.where(q > last, square, inside))

    def outlet(self, inlet: FloatArray, flow: FloatArray) -> FloatArray:
        """Head at its outlet.

        Args:
            inlet: head at its inlet [m]
            flow: flow, the same shape [m3/s]
        """
        return floats(inlet - self.loss(flow))

    def shut(self, inlet: float) -> float:
        """Head at its outlet with all valves behind it shut [m].

        Args:
            inlet: head at its inlet [m]
        """
        return inlet


@dataclass(frozen=True)
class Regulator:
    """Holds its set head while its inlet allows, else gives its inlet head less its loss.

    Fully open it loses `least_excess_m`: at every flow, or, with a reference flow, with the square of the flow.

    Args:
        name: what the user calls it [-]
        set_head_m: head it holds behind it [m]
        least_excess_m: head its inlet must have above the set head [m]
        loss_flow_m3_s: flow at which it loses that much fully open; none: at every flow [m3/s]
        least_flow_m3_s: least flow at which it regulates [m3/s]
        greatest_flow_m3_s: greatest flow it is made for [m3/s]
        creep_m: how far the head behind it may climb above the set head with all valves shut [m]
        rating_m: greatest head it bears; infinite if not known [m]
    """

    name: str
    set_head_m: float
    least_excess_m: float
    loss_flow_m3_s: float | None = None
    least_flow_m3_s: float = 0.0
    greatest_flow_m3_s: float = np.inf
    creep_m: float = 0.0
    rating_m: float = np.inf

    def __post_init__(self) -> None:
        if not (self.set_head_m > 0.0 and self.least_excess_m >= 0.0 and self.creep_m >= 0.0):
            raise HydraulicError(f"{self.name}: its set head must be positive, its excess and creep 0 or more")
        if self.loss_flow_m3_s is not None and not self.loss_flow_m3_s > 0.0:
            raise HydraulicError(f"{self.name}: the flow of its loss must be positive")
        _check_limits(self.name, self.least_flow_m3_s, self.greatest_flow_m3_s, self.rating_m)

    def outlet(self, inlet: FloatArray, flow: FloatArray) -> FloatArray:
        """Head at its outlet.

        Args:
            inlet: head at its inlet [m]
            flow: flow, the same shape [m3/s]
        """
        share = np.ones_like(flow) if self.loss_flow_m3_s is None else (flow / self.loss_flow_m3_s) ** 2
        return np.minimum(self.set_head_m, inlet - self.least_excess_m * share)

    def shut(self, inlet: float) -> float:
        """Head at its outlet with all valves behind it shut, creep in [m].

        Args:
            inlet: head at its inlet [m]
        """
        return min(self.set_head_m + self.creep_m, inlet)


Part = LeadIn | HeadPart | Regulator


def _check_limits(name: str, least: float, greatest: float, rating: float) -> None:
    if not 0.0 <= least < greatest:
        raise HydraulicError(
            f"{name}: its flow band must start at 0 or more and not be empty, got {least} to {greatest}"
        )
    if not rating > 0.0:
        raise HydraulicError(f"{name}: its rating must be positive, got {rating}")

"""The head assembly: lead-in, valve, backflow device, filter, regulator, in order, behind a source."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
import numpy.typing as npt

from optimizer.errors import HydraulicError
from optimizer.hydraulics.arrays import FloatArray, floats, frozen_floats
from optimizer.hydraulics.fluid import Fluid
from optimizer.hydraulics.friction import POLYETHYLENE_ROUGHNESS_M, head_loss
from optimizer.hydraulics.roots import falling_root

GREATEST_SEARCH_FLOW_M3_S = 10.0
"""Supplies beyond this are out of reach of any garden or farm zone [m3/s]."""

DEFAULT_FLUID = Fluid()
"""Water at about 20 C."""


class Source(Protocol):
    """Tap, pump or tank."""

    def heads(self, flow: npt.ArrayLike, /) -> FloatArray:
        """Head at each flow, not rising with flow.

        Args:
            flow: flows, any shape [m3/s]
        """
        ...


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


@dataclass(frozen=True)
class Flag:
    """A part of the head assembly outside what it is made for.

    Args:
        part: name of the part [-]
        limit: "least flow", "greatest flow", "rating", "shut-off rating" or "regulator inlet" [-]
        value: what it has, flow or head [m3/s or m]
        bound: what it may or must have [m3/s or m]
    """

    part: str
    limit: str
    value: float
    bound: float


@dataclass(frozen=True)
class HeadAssembly:
    """A source and the parts behind it, in the order the water meets them.

    Args:
        source: tap, pump or tank [-]
        parts: lead-ins, head parts and regulators in order [-]
    """

    source: Source
    parts: tuple[Part, ...] = ()

    def trace(self, flow: npt.ArrayLike) -> FloatArray:
        """Head behind the source and behind every part, shape (parts + 1, *flow's shape) [m].

        Args:
            flow: flows, any shape, not negative [m3/s]
        """
        q = floats(flow)
        behind = [self.source.heads(q)]
        for part in self.parts:
            behind.append(part.outlet(behind[-1], q))
        return np.stack(behind)

    def heads(self, flow: npt.ArrayLike) -> FloatArray:
        """Head behind the last part at each flow; never rising with flow.

        Args:
            flow: flows, any shape, not negative [m3/s]
        """
        return floats(self.trace(flow)[-1])

    def outlet_head(self, flow: float) -> float:
        """Head behind the last part at one flow [m].

        Args:
            flow: flow, not negative [m3/s]
        """
        return float(self.heads(flow))

    def head(self, flow: float) -> float:
        """The same as `outlet_head`, so that an assembly can feed a network [m].

        Args:
            flow: flow, not negative [m3/s]
        """
        return self.outlet_head(flow)

    def shut_heads(self) -> FloatArray:
        """Head behind the source and every part with all valves shut, regulator creep in, shape (parts + 1,) [m].

        Every part is taken to stand under pressure: the shut valve is the last thing on the line.
        """
        behind = [float(self.source.heads(0.0))]
        for part in self.parts:
            behind.append(part.shut(behind[-1]))
        return np.array(behind)

    def flags(self, flow: float) -> tuple[Flag, ...]:
        """What is outside its flow band or rating at a flow, in the order of the parts.

        Args:
            flow: flow, not negative [m3/s]
        """
        running, shut = self.trace(flow), self.shut_heads()
        found = list(_band_flags(self.source, "source", flow))
        for number, part in enumerate(self.parts):
            found += _band_flags(part, part.name, flow)
            found += _head_flags(part, float(running[number]), float(shut[number]))
        return tuple(found)


def _band_flags(part: object, name: str, flow: float) -> list[Flag]:
    least = float(getattr(part, "least_flow_m3_s", 0.0))
    greatest = float(getattr(part, "greatest_flow_m3_s", np.inf))
    flags = [Flag(name, "least flow", flow, least)] if flow < least else []
    return flags + ([Flag(name, "greatest flow", flow, greatest)] if flow > greatest else [])


def _head_flags(part: Part, running: float, shut: float) -> list[Flag]:
    """Flags of one part from the head at its inlet, running and shut."""
    flags = []
    if running > part.rating_m:
        flags.append(Flag(part.name, "rating", running, part.rating_m))
    if shut > part.rating_m:
        flags.append(Flag(part.name, "shut-off rating", shut, part.rating_m))
    if isinstance(part, Regulator) and running < part.set_head_m + part.least_excess_m:
        flags.append(Flag(part.name, "regulator inlet", running, part.set_head_m + part.least_excess_m))
    return flags


@dataclass(frozen=True)
class UsableFlow:
    """What may be planned on.

    Args:
        flow_m3_s: flow to plan on: margin times the greatest flow [m3/s]
        greatest_flow_m3_s: greatest flow at which the wanted head is held and every part is inside its band [m3/s]
        limited_by: the part whose band ends there, or which takes the most head there ("source" for the supply) [-]
    """

    flow_m3_s: float
    greatest_flow_m3_s: float
    limited_by: str


def _band_limit(assembly: HeadAssembly) -> tuple[float, str]:
    bands = [(float(getattr(assembly.source, "greatest_flow_m3_s", np.inf)), "source")]
    bands += [(part.greatest_flow_m3_s, part.name) for part in assembly.parts]
    return min(bands, key=lambda band: band[0])


def _thirstiest(assembly: HeadAssembly, flow: float) -> str:
    """The part that takes the most head at a flow, against no flow."""
    names = ["source", *(part.name for part in assembly.parts)]
    gone = assembly.trace(0.0) - assembly.trace(flow)
    own = np.diff(gone, prepend=0.0)
    return names[int(np.argmax(own))]


def usable_flow(assembly: HeadAssembly, wanted_head: float, margin: float) -> UsableFlow:
    """Greatest flow at which the wanted head is still held behind the last part, and the share of it to plan on.

    Example: 60 psi static, no parts, 30 psi wanted, margin 0.75: 0.75 x 0.707 of the bucket flow.

    Args:
        assembly: source and parts [-]
        wanted_head: head wanted behind the last part [m]
        margin: share of the greatest flow to plan on, above 0 to 1 [-]

    Raises:
        HydraulicError: when the margin is out of range, or the supply has no end within 10 m3/s.
    """
    if not 0.0 < margin <= 1.0:
        raise HydraulicError(f"a margin lies above 0 and up to 1, got {margin}")
    if assembly.outlet_head(0.0) < wanted_head:
        return UsableFlow(0.0, 0.0, _static_taker(assembly))
    limit, name = _band_limit(assembly)
    most = min(limit, GREATEST_SEARCH_FLOW_M3_S)
    if assembly.outlet_head(most) >= wanted_head:
        if limit > GREATEST_SEARCH_FLOW_M3_S:
            raise HydraulicError("the supply holds the wanted head at any flow; state its losses or a greatest flow")
        return UsableFlow(margin * limit, limit, name)
    flow = _last_flow(assembly, wanted_head, most)
    return UsableFlow(margin * flow, flow, _thirstiest(assembly, flow))


def _last_flow(assembly: HeadAssembly, wanted_head: float, most: float) -> float:
    """Greatest flow that holds the wanted head; a set head just equal to it counts as held."""
    slack = 1e-9 * max(1.0, abs(wanted_head))
    low, high = 0.0, 1e-6
    while high < most and assembly.outlet_head(high) >= wanted_head - slack:
        low, high = high, 2.0 * high
    high = min(high, most)

    def surplus(flow: float) -> float:
        return assembly.outlet_head(flow) - wanted_head + slack

    return high if surplus(high) >= 0.0 else falling_root(surplus, low, high, 0.0, 1e-12 * high)


def _static_taker(assembly: HeadAssembly) -> str:
    """The part behind which the head is lowest for its size, with nothing running: the greatest static drop."""
    heads = assembly.trace(0.0)
    names = ["source", *(part.name for part in assembly.parts)]
    return names[int(np.argmax(-np.diff(heads, prepend=heads[0])))]

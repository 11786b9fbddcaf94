"""The head assembly: parts in order behind a source, and the flow it can be planned on."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
import numpy.typing as npt

from optimizer.errors import HydraulicError
from optimizer.hydraulics.arrays import FloatArray, floats
from optimizer.hydraulics.parts import HeadPart, LeadIn, Part, Regulator
from optimizer.hydraulics.roots import falling_root

__all__ = [
    "Flag",
    "HeadAssembly",
    "HeadPart",
    "LeadIn",
    "Part",
    "Regulator",
    "Source",
    "UsableFlow",
    "usable_flow",
]

GREATEST_SEARCH_FLOW_M3_S = 10.0
"""Supplies beyond this are out of reach of any garden or farm zone [m3/s]."""


class Source(Protocol):
    """Tap, pump or tank."""

    def heads(self, flow: npt.ArrayLike, /) -> FloatArray:
        """Head at each flow, not rising with flow.

        Args:
            flow: flows, any shape [m3/s]
        """
        ...


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

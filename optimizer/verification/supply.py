"""The supply of the scenario behind the head parts and the regulator the plan fits."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from optimizer.hydraulics import (
    HeadAssembly,
    HeadPart,
    LeadIn,
    PumpCurve,
    Regulator,
    TankCurve,
    TapCurve,
    usable_flow,
    water,
)
from optimizer.hydraulics.assembly import Part, Source
from optimizer.scenario.schema import PumpSupply, TankSupply, TapSupply
from optimizer.scenario.schema import Regulator as ScenarioRegulator
from optimizer.verification.facts import Facts


@dataclass(frozen=True)
class SteadyPump:
    """A pump known by one point: its pressure is held up to that flow.

    Args:
        head_m: head it holds [m]
        greatest_flow_m3_s: flow up to which it does [m3/s]
        least_flow_m3_s: flow below which it switches on and off [m3/s]
    """

    head_m: float
    greatest_flow_m3_s: float
    least_flow_m3_s: float

    def heads(self, flow: npt.ArrayLike) -> npt.NDArray[np.float64]:
        """Head at each flow, the same for all.

        Args:
            flow: flows, any shape [m3/s]
        """
        return np.full(np.shape(flow), self.head_m)


def source(supply: TapSupply | PumpSupply | TankSupply, full: bool) -> Source:
    """Return the curve of a tap, a pump, or a tank that is full or about to run empty.

    Raises:
        HydraulicError: the points make no curve.
    """
    if isinstance(supply, TankSupply):
        return TankCurve(
            supply.outlet_height, supply.water_depth, supply.volume, depth_m=supply.water_depth if full else 0.0
        )
    if isinstance(supply, PumpSupply):
        return _pump(supply)
    if supply.open_flow is not None:
        return TapCurve.from_bucket(supply.static_pressure, supply.open_flow)
    flows = [reading.flow for reading in supply.readings]
    return TapCurve.from_readings(supply.static_pressure, flows, [reading.pressure for reading in supply.readings])


def _pump(supply: PumpSupply) -> Source:
    points = sorted((reading.flow, reading.pressure) for reading in supply.curve)
    if len(points) == 1:
        return SteadyPump(points[0][1], points[0][0], supply.least_flow)
    flows, heads = np.array([flow for flow, _ in points]), np.array([head for _, head in points])
    return PumpCurve(flows, heads, supply.least_flow, points[-1][0])


def assembly(facts: Facts, full: bool) -> HeadAssembly:
    """Return supply, lead-in, head parts and regulator in the order the water meets them.

    Raises:
        HydraulicError: a part has impossible values.
    """
    supply = facts.scenario.supply
    parts: list[Part] = []
    if supply.lead_in is not None:
        fluid = water(facts.scenario.limits.water_temperature)
        lead = supply.lead_in
        parts.append(LeadIn("lead-in", lead.length, lead.bore, lead.roughness, fluid=fluid))
    for part in supply.head_parts:
        parts.append(
            HeadPart(
                part.name,
                np.array([part.at_flow]),
                np.array([part.loss]),
                part.least_flow,
                math.inf if part.greatest_flow is None else part.greatest_flow,
                math.inf if part.rated_pressure is None else part.rated_pressure,
            )
        )
    if facts.regulator is not None:
        parts.append(_regulator(facts.regulator))
    return HeadAssembly(source(supply, full), tuple(parts))


def _regulator(item: ScenarioRegulator) -> Regulator:
    greatest = math.inf if item.greatest_flow is None else item.greatest_flow
    return Regulator(item.name, item.holds, item.needs_above, None, item.least_flow, greatest)


@dataclass(frozen=True)
class Allowance:
    """What a zone may take of the supply.

    Args:
        most_m3_s: margin of the flow that still holds the wanted pressure, no more than any part may pass [m3/s]
        least_m3_s: the same with the margin also kept from what the parts may pass [m3/s]
    """

    most_m3_s: float
    least_m3_s: float


def allowance(facts: Facts, head: HeadAssembly, product: str) -> Allowance:
    """Return the flow a zone may take; infinite for a tank without stated limits.

    Raises:
        HydraulicError: the supply holds the wanted pressure at any flow.
    """
    supply = facts.scenario.supply
    limits = [float(getattr(part, "greatest_flow_m3_s", math.inf)) for part in (head.source, *head.parts)]
    limits += [math.inf if supply.greatest_flow is None else supply.greatest_flow]
    if isinstance(supply, TankSupply):
        return Allowance(min(limits), supply.margin * min(limits))
    wanted = facts.regulator.holds if facts.regulator is not None else facts.lines[product].at_pressure
    held = usable_flow(_without_limits(head), wanted, 1.0).flow_m3_s
    return Allowance(min(supply.margin * held, *limits), supply.margin * min(held, *limits))


def _without_limits(head: HeadAssembly) -> HeadAssembly:
    """Return an assembly whose parts pass any flow, so that pressure alone ends it; one-point pumps end as stated."""
    first = replace(head.source, greatest_flow_m3_s=math.inf) if isinstance(head.source, PumpCurve) else head.source
    return HeadAssembly(first, tuple(replace(part, greatest_flow_m3_s=math.inf) for part in head.parts))

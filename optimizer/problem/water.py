"""The water side of a scenario: fluid, emitter lines and the head assembly behind the tap, pump or tank."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from optimizer.hydraulics import EmitterLaw, Fluid, water
from optimizer.hydraulics import EmitterLine as WaterLine
from optimizer.hydraulics.arrays import FloatArray
from optimizer.hydraulics.assembly import HeadAssembly, HeadPart, LeadIn, Part, Regulator, Source
from optimizer.hydraulics.supply import PumpCurve, TankCurve, TapCurve
from optimizer.scenario.schema import EmitterLine, PumpSupply, Scenario, TankSupply, TapSupply
from optimizer.scenario.schema import Regulator as RegulatorChoice


def scenario_fluid(scenario: Scenario) -> Fluid:
    """Return the water at the scenario's temperature."""
    return water(scenario.limits.water_temperature)


def emitter_law(line: EmitterLine) -> EmitterLaw:
    """Return the emitter law of a product."""
    opens = line.compensating.opens if line.compensating else 0.0
    upper = line.compensating.up_to if line.compensating else math.inf
    return EmitterLaw.from_rating(line.emitter_flow, line.at_pressure, line.law_exponent, line.cv, opens, upper)


def water_line(line: EmitterLine) -> WaterLine:
    """Return a product as the hydraulics see it."""
    return WaterLine(line.bore, line.spacing, emitter_law(line), line.roughness, line.emitter_loss)


def _tap(supply: TapSupply) -> TapCurve:
    if supply.open_flow is not None:
        return TapCurve.from_bucket(supply.static_pressure, supply.open_flow)
    flows = [reading.flow for reading in supply.readings]
    return TapCurve.from_readings(supply.static_pressure, flows, [reading.pressure for reading in supply.readings])


def _pump(supply: PumpSupply) -> PumpCurve:
    points = sorted((reading.flow, reading.pressure) for reading in supply.curve)
    if len(points) == 1:
        flow, head = points[0]
        # A single point is held up to its flow; a curve must fall, so it does by a part in a billion.
        return PumpCurve(np.array([0.0, flow]), np.array([head * (1.0 + 1e-9), head]), supply.least_flow, flow)
    return PumpCurve(np.array([flow for flow, _ in points]), np.array([head for _, head in points]), supply.least_flow)


def _source(scenario: Scenario) -> Source:
    supply = scenario.supply
    if isinstance(supply, TapSupply):
        return _tap(supply)
    if isinstance(supply, PumpSupply):
        return _pump(supply)
    if isinstance(supply, TankSupply):
        # An emptying tank must still feed every emitter, so zones run from the nearly empty one.
        return TankCurve(supply.outlet_height, supply.water_depth, supply.volume).at(0.0)
    raise TypeError(f"no supply of kind {type(supply).__name__}")


@dataclass(frozen=True)
class TankAssembly(HeadAssembly):
    """Head parts behind a tank that is nearly empty while it runs, and full when it stands shut."""

    def full(self) -> HeadAssembly:
        """Return the same behind the full tank."""
        if not isinstance(self.source, TankCurve):
            raise TypeError("the source is no tank")
        return HeadAssembly(self.source.at(self.source.full_depth_m), self.parts)

    def shut_heads(self) -> FloatArray:
        """Head behind the full tank and every part with all valves shut, shape (parts + 1,) [m]."""
        return self.full().shut_heads()


def head_assembly(scenario: Scenario, regulator: RegulatorChoice | None) -> HeadAssembly:
    """Return source and head parts in the order of flow, with one of the regulators or none."""
    supply = scenario.supply
    parts: list[Part] = []
    if supply.lead_in is not None:
        lead = supply.lead_in
        parts.append(LeadIn("lead-in", lead.length, lead.bore, lead.roughness, fluid=scenario_fluid(scenario)))
    for part in supply.head_parts:
        greatest = part.greatest_flow if part.greatest_flow is not None else math.inf
        rating = part.rated_pressure if part.rated_pressure is not None else math.inf
        parts.append(
            HeadPart(part.name, np.array([part.at_flow]), np.array([part.loss]), part.least_flow, greatest, rating)
        )
    if regulator is not None:
        greatest = regulator.greatest_flow if regulator.greatest_flow is not None else math.inf
        parts.append(
            Regulator(regulator.name, regulator.holds, regulator.needs_above, None, regulator.least_flow, greatest)
        )
    kind = TankAssembly if isinstance(supply, TankSupply) else HeadAssembly
    return kind(_source(scenario), tuple(parts))

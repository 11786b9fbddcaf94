"""Ways to get more from the supply, or to fit other parts to it."""

from __future__ import annotations

from collections.abc import Sequence

from optimizer.choose.relax_values import grown, lowered, raised, replaced, rounded, shrunk, written
from optimizer.scenario.schema import HeadPart, PumpSupply, Reading, Regulator, Scenario, Supply, TankSupply, TapSupply

_MOST_FLOW_TIMES = 20.0
_MOST_PRESSURE_TIMES = 6.0
_HIGHEST_TANK_M = 12.0


def _supplied(scenario: Scenario, supply: Supply) -> Scenario:
    return replaced(scenario, supply=supply)


def _flowing(scenario: Scenario, readings: Sequence[Reading], share: float) -> tuple[Reading, ...]:
    return tuple(
        replaced(item, flow=grown(scenario.units, "flow", item.flow, share, _MOST_FLOW_TIMES)) for item in readings
    )


def more_flow(scenario: Scenario, share: float) -> Scenario:
    """Get more flow from tap or pump at the same pressures."""
    supply = scenario.supply
    if isinstance(supply, TapSupply) and supply.open_flow is not None:
        flow = grown(scenario.units, "flow", supply.open_flow, share, _MOST_FLOW_TIMES)
        return _supplied(scenario, replaced(supply, open_flow=flow))
    if isinstance(supply, TapSupply):
        return _supplied(scenario, replaced(supply, readings=_flowing(scenario, supply.readings, share)))
    if isinstance(supply, PumpSupply):
        return _supplied(scenario, replaced(supply, curve=_flowing(scenario, supply.curve, share)))
    return scenario


def greater_agreed_flow(scenario: Scenario, share: float) -> Scenario:
    """Get a greater flow agreed, or a larger meter."""
    supply = scenario.supply
    if supply.greatest_flow is None:
        return scenario
    flow = grown(scenario.units, "flow", supply.greatest_flow, share, _MOST_FLOW_TIMES)
    return _supplied(scenario, replaced(supply, greatest_flow=flow))


def smaller_reserve(scenario: Scenario, share: float) -> Scenario:
    """Plan on more of what the supply gives, up to 95 % of it."""
    before = scenario.supply.margin
    margin = min(raised(scenario.units, "percent", before, share, max(0.95, before)), 1.0)
    return _supplied(scenario, replaced(scenario.supply, margin=margin))


def _pressed(scenario: Scenario, readings: Sequence[Reading], share: float) -> tuple[Reading, ...]:
    return tuple(
        replaced(item, pressure=grown(scenario.units, "pressure", item.pressure, share, _MOST_PRESSURE_TIMES))
        for item in readings
    )


def more_pressure(scenario: Scenario, share: float) -> Scenario:
    """Get more pressure from tap or pump, at all flows alike."""
    supply = scenario.supply
    if isinstance(supply, TapSupply):
        static = grown(scenario.units, "pressure", supply.static_pressure, share, _MOST_PRESSURE_TIMES)
        readings = _pressed(scenario, supply.readings, share)
        return _supplied(scenario, replaced(supply, static_pressure=static, readings=readings))
    if isinstance(supply, PumpSupply):
        return _supplied(scenario, replaced(supply, curve=_pressed(scenario, supply.curve, share)))
    return scenario


def higher_tank(scenario: Scenario, share: float) -> Scenario:
    """Set the tank higher."""
    supply = scenario.supply
    if not isinstance(supply, TankSupply):
        return scenario
    most = max(_HIGHEST_TANK_M, supply.outlet_height)
    height = raised(scenario.units, "length", supply.outlet_height, share, most)
    return _supplied(scenario, replaced(supply, outlet_height=height))


# ---------------------------------------------------------------- parts


def _regulated(scenario: Scenario, holds: Sequence[float]) -> Scenario:
    pairs = zip(scenario.supply.regulators, holds, strict=True)
    regulators = tuple(replaced(item, holds=head) for item, head in pairs)
    return _supplied(scenario, replaced(scenario.supply, regulators=regulators))


def lower_regulators(scenario: Scenario, share: float) -> Scenario:
    """Fit regulators that hold less pressure."""
    before = [item.holds for item in scenario.supply.regulators]
    return _regulated(scenario, [shrunk(scenario.units, "pressure", head, share, 5.0) for head in before])


def higher_regulators(scenario: Scenario, share: float) -> Scenario:
    """Fit regulators that hold more pressure, at most what all tubing is rated for."""
    before = [item.holds for item in scenario.supply.regulators]
    rated = min(item.greatest_pressure for item in (*scenario.emitter_lines, *scenario.blank_tubes))
    return _regulated(
        scenario, [min(raised(scenario.units, "pressure", head, share, rated), max(head, rated)) for head in before]
    )


def undemanding_regulators(scenario: Scenario, share: float) -> Scenario:
    """Fit regulators that need less pressure in front."""

    def less(item: Regulator) -> Regulator:
        return replaced(item, needs_above=lowered(scenario.units, "pressure", item.needs_above, share))

    supply = scenario.supply
    return _supplied(scenario, replaced(supply, regulators=tuple(less(item) for item in supply.regulators)))


def no_regulator(scenario: Scenario, share: float) -> Scenario:
    """Do without a regulator."""
    return _supplied(scenario, replaced(scenario.supply, regulators=())) if share > 0.0 else scenario


def added_regulator(scenario: Scenario, share: float) -> Scenario:
    """Fit a regulator where there is none: the more relaxed, the less it holds."""
    supply = scenario.supply
    if share <= 0.0 or supply.regulators or isinstance(supply, TankSupply):
        return scenario
    full = supply.static_pressure if isinstance(supply, TapSupply) else max(item.pressure for item in supply.curve)
    holds = rounded(scenario.units, "pressure", full / 20.0**share, False)
    fitted = Regulator.model_validate({"name": "regulator", "holds": written(scenario.units, "pressure", holds)})
    return _supplied(scenario, replaced(supply, regulators=(fitted,)))


def less_least_flow(scenario: Scenario, share: float) -> Scenario:
    """Fit parts that work at less flow: what needs more than a common least flow is lowered to it."""
    supply = scenario.supply
    pump = supply.least_flow if isinstance(supply, PumpSupply) else 0.0
    fitted = [item.least_flow for item in supply.regulators] + [item.least_flow for item in supply.head_parts]
    greatest = max(pump, *fitted, 0.0)
    wanted = lowered(scenario.units, "flow", greatest, share)
    regulators = tuple(replaced(item, least_flow=min(item.least_flow, wanted)) for item in supply.regulators)
    parts = tuple(replaced(item, least_flow=min(item.least_flow, wanted)) for item in supply.head_parts)
    if isinstance(supply, PumpSupply):
        supply = replaced(supply, least_flow=min(pump, wanted))
    return _supplied(scenario, replaced(supply, regulators=regulators, head_parts=parts))


def wider_parts(scenario: Scenario, share: float) -> Scenario:
    """Fit head parts that lose as much pressure only at a greater flow, and may pass as much more."""

    def wider(part: HeadPart) -> HeadPart:
        at = grown(scenario.units, "flow", part.at_flow, share, 10.0)
        most = part.greatest_flow
        most = most if most is None else grown(scenario.units, "flow", most, share, 10.0)
        return replaced(part, at_flow=at, greatest_flow=most)

    supply = scenario.supply
    return _supplied(scenario, replaced(supply, head_parts=tuple(wider(part) for part in supply.head_parts)))


def shorter_lead_in(scenario: Scenario, share: float) -> Scenario:
    """Use a shorter hose from the tap to the head parts."""
    lead = scenario.supply.lead_in
    if lead is None:
        return scenario
    shorter = replaced(lead, length=shrunk(scenario.units, "length", lead.length, share, 20.0))
    return _supplied(scenario, replaced(scenario.supply, lead_in=shorter))


def wider_lead_in(scenario: Scenario, share: float) -> Scenario:
    """Use a wider hose from the tap to the head parts."""
    lead = scenario.supply.lead_in
    if lead is None:
        return scenario
    wider = replaced(lead, bore=grown(scenario.units, "bore", lead.bore, share, 5.0))
    return _supplied(scenario, replaced(scenario.supply, lead_in=wider))

"""Answers of a finished plan's zones: flushing, what drains, and how near every limit is to binding."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from optimizer.errors import Problem, ScenarioError
from optimizer.hydraulics import HeadAssembly, Network, NetworkSolution, solve_network
from optimizer.hydraulics.assembly import UsableFlow
from optimizer.hydraulics.report import (
    Limit,
    assembly_limits,
    at_least,
    at_most,
    binding_first,
    drain_down_volume,
    evenness,
    fill_volume,
    flushing,
    tube_velocities,
)
from optimizer.hydraulics.supply import TankCurve
from optimizer.plan import Plan, Zone, ZoneNetwork
from optimizer.problem.water import TankAssembly, head_assembly, scenario_fluid
from optimizer.scenario.schema import BlankTube, EmitterLine, PumpSupply, Regulator, Scenario, TankSupply
from optimizer.study.limits_heads import Working, greatest_head, least_head
from optimizer.study.limits_supply import supply_limiter

DEFAULT_VARIATION = 0.10


@dataclass(frozen=True)
class NearLimit:
    """One limit of a zone and how much of it is used."""

    name: str
    kind: str
    """flow, pressure, velocity or share: what value and bound are"""
    value: float
    bound: float
    used: float
    """share of the bound used; above 1 it is broken"""


@dataclass(frozen=True)
class TankRun:
    """A zone that runs from full to empty."""

    full_flow_m3_s: float
    empty_flow_m3_s: float
    empty_least_head_m: float
    empty_variation: float
    empties_s: float


@dataclass(frozen=True)
class ZoneAnswers:
    """What a grower asks about a zone once it is planned."""

    zone: str
    flow_m3_s: float
    ends: int
    """closed ends that can be opened"""
    ends_at_once: int
    """so many can be flushed together at 1 ft/s, the ones with the least pressure opened first"""
    flushing_flow_m3_s: float
    """flow of the zone while they are open"""
    fill_volume_m3: float
    drain_volume_m3: float
    """water above the lowest emitter: the most that can run out there after the valve shuts"""
    limits: tuple[NearLimit, ...]
    """the most used first"""
    tank: TankRun | None = None

    @property
    def binds(self) -> NearLimit:
        """The limit that binds first."""
        return self.limits[0]


def _network(stored: ZoneNetwork) -> Network:
    """Return the network a plan holds."""
    upper = np.array(stored.emitter_upper_m)
    return Network(
        z_m=np.array(stored.node_z_m),
        tube_from=np.array(stored.tube_from, dtype=np.int64),
        tube_to=np.array(stored.tube_to, dtype=np.int64),
        tube_length_m=np.array(stored.tube_length_m),
        tube_bore_m=np.array(stored.tube_bore_m),
        tube_roughness_m=np.array(stored.tube_roughness_m),
        tube_loss_k=np.array(stored.tube_loss_k),
        emitter_node=np.array(stored.emitter_node, dtype=np.int64),
        emitter_k=np.array(stored.emitter_k),
        emitter_exponent=np.array(stored.emitter_exponent),
        emitter_opening_head_m=np.array(stored.emitter_opening_m),
        emitter_upper_head_m=np.where(upper > 0.0, upper, np.inf),
        inlet_node=stored.inlet_node,
    )


def _named(plan: Plan, scenario: Scenario, zone: Zone) -> tuple[EmitterLine, BlankTube, Regulator | None]:
    """Return the products of a zone and the plan's regulator.

    Raises:
        ScenarioError: the scenario lacks one of them.
    """
    headers = [header for header in plan.headers if header.id in zone.header_ids]
    fitted = [unit.name for unit in plan.head_units if unit.kind == "regulator"]
    lines = [line for line in scenario.emitter_lines if line.name == zone.product]
    tubes = [tube for tube in scenario.blank_tubes if headers and tube.name == headers[0].tube]
    regulators = [item for item in scenario.supply.regulators if item.name in fitted]
    if not lines or not tubes or len(regulators) != len(fitted):
        problem = Problem(f"zone {zone.id}", "line, tube or regulator of the plan is not in this scenario")
        raise ScenarioError("plan", [problem])
    return lines[0], tubes[0], regulators[0] if regulators else None


def _laid_lengths(network: Network, line: EmitterLine) -> NDArray[np.float64]:
    """Return tube lengths without what stands for the loss of built-in emitters [m]."""
    built_in = np.isin(network.tube_to, network.emitter_node)
    return np.asarray(network.tube_length_m - np.where(built_in, line.emitter_loss, 0.0))


def closed_ends(stored: ZoneNetwork) -> list[int]:
    """Return the node at the closed end of every lateral: its last emitter, the least pressure first."""
    last: dict[str, int] = {}
    for lateral, node in zip(stored.emitter_lateral, stored.emitter_node, strict=True):
        last[lateral] = node
    return sorted(last.values(), key=lambda node: (stored.node_head_m[node], node))


def _kind(name: str) -> str:
    if "velocity" in name:
        return "velocity"
    if "flow variation" in name or "uniformity" in name:
        return "share"
    return "flow" if "flow" in name or name.startswith("supply") else "pressure"


def _zone_limits(
    scenario: Scenario, line: EmitterLine, tube: BlankTube, zone: Zone, network: Network, solution: NetworkSolution
) -> list[Limit]:
    wanted, spread = scenario.limits, evenness(solution, line.cv)
    blank = network.tube_bore_m == tube.bore
    speed = float(tube_velocities(network, solution)[blank].max(initial=0.0))
    limits = [
        at_most("velocity in the blank tube", speed, wanted.velocity),
        at_most("rating of the tubing", zone.water.static_head_m, min(line.greatest_pressure, tube.greatest_pressure)),
        at_most("greatest pressure at an emitter", spread.greatest_head_m, greatest_head(line)),
        at_least("least pressure at an emitter", spread.least_head_m, least_head(line)),
    ]
    variation = wanted.flow_variation
    if variation is None and wanted.emission_uniformity is None:
        variation = DEFAULT_VARIATION
    if variation is not None:
        limits.append(at_most("flow variation", spread.flow_variation, variation))
    if wanted.emission_uniformity is not None:
        limits.append(at_least("emission uniformity", spread.emission_uniformity / 100.0, wanted.emission_uniformity))
    if isinstance(scenario.supply, PumpSupply):
        limits.append(at_least("pump: least flow", solution.inlet_flow_m3_s, scenario.supply.least_flow))
    return limits


def _usable(scenario: Scenario, line: EmitterLine, regulator: Regulator | None, zone: Zone) -> UsableFlow:
    """Return the flow the plan says a zone may use, and what limits it; a tank sets none."""
    flow = zone.water.usable_flow_m3_s or math.inf
    if isinstance(scenario.supply, TankSupply):
        return UsableFlow(math.inf, math.inf, "tank")
    working = Working(line, regulator.holds if regulator else line.at_pressure, "plan", regulator)
    return UsableFlow(flow, flow, supply_limiter(scenario, working))


def _near(limits: tuple[Limit, ...]) -> tuple[NearLimit, ...]:
    """Return the limits that bind at all."""
    return tuple(
        NearLimit(limit.name, _kind(limit.name), limit.value, limit.bound, limit.used)
        for limit in limits
        if math.isfinite(limit.bound) and limit.bound > 0.0
    )


def _tank_run(head: HeadAssembly, network: Network, scenario: Scenario) -> TankRun | None:
    if not isinstance(head, TankAssembly):
        return None
    tank = head.full().source
    if not isinstance(tank, TankCurve):
        raise TypeError("the source is no tank")
    fluid = scenario_fluid(scenario)

    def drawn(level: TankCurve) -> float:
        return solve_network(network, HeadAssembly(level, head.parts), fluid).inlet_flow_m3_s

    last = solve_network(network, head, fluid)
    spread = evenness(last, 0.0)
    return TankRun(
        drawn(tank), last.inlet_flow_m3_s, spread.least_head_m, spread.flow_variation, tank.time_to_empty(drawn)
    )


def _answers(plan: Plan, scenario: Scenario, zone: Zone) -> ZoneAnswers:
    line, tube, regulator = _named(plan, scenario, zone)
    head, fluid = head_assembly(scenario, regulator), scenario_fluid(scenario)
    network = _network(zone.network)
    solution = solve_network(network, head, fluid)
    ends = closed_ends(zone.network)
    flushed = flushing(network, ends, np.full(len(ends), line.bore), head, fluid)
    laid = _laid_lengths(network, line)
    flow, zone_limits = solution.inlet_flow_m3_s, _zone_limits(scenario, line, tube, zone, network, solution)
    limits = binding_first(_usable(scenario, line, regulator, zone), flow, assembly_limits(head, flow), zone_limits)
    return ZoneAnswers(
        zone.id,
        flow,
        len(ends),
        flushed.ends_at_once,
        flushed.zone_flow_m3_s,
        fill_volume(network, laid),
        drain_down_volume(network, laid),
        _near(limits),
        _tank_run(head, network, scenario),
    )


def zone_answers(plan: Plan, scenario: Scenario) -> tuple[ZoneAnswers, ...]:
    """Return for every zone of a plan what can be flushed, what drains, and how near each limit is.

    Args:
        plan: a finished plan.
        scenario: the scenario it was made from.

    Raises:
        ScenarioError: the plan names products the scenario lacks.
        HydraulicError: the water of a zone cannot be solved.
    """
    return tuple(_answers(plan, scenario, zone) for zone in plan.zones)

"""The water of each zone: its network, its solution and what it comes to."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np

from optimizer.build.laid import Laid
from optimizer.build.naming import zone_letter
from optimizer.choose.laidzones import rating, zone_cases, zone_limits
from optimizer.choose.waterlimits import WaterLimits
from optimizer.hydraulics import NetworkSolution, solve_network
from optimizer.hydraulics.assembly import UsableFlow
from optimizer.hydraulics.report import (
    Evenness,
    Limit,
    assembly_limits,
    at_least,
    at_most,
    binding_first,
    evenness,
    fill_volume,
    tube_velocities,
)
from optimizer.plan import Zone, ZoneNetwork, ZoneWater
from optimizer.problem.case import Case
from optimizer.problem.laying import Laying
from optimizer.problem.networks import PlacedNetwork, laid_network
from optimizer.problem.standing import laid_standing_head

At = tuple[float, float]
"""a figure and its limit"""


def _stored(placed: PlacedNetwork, solution: NetworkSolution, names: Sequence[str], viscosity: float) -> ZoneNetwork:
    network = placed.network

    def numbers(values: object) -> tuple[float, ...]:
        return tuple(float(value) for value in np.asarray(values))

    upper = np.where(np.isfinite(network.emitter_upper_head_m), network.emitter_upper_head_m, 0.0)
    return ZoneNetwork(
        node_x_m=tuple(place[0] for place in placed.places),
        node_y_m=tuple(place[1] for place in placed.places),
        node_z_m=numbers(network.z_m),
        tube_from=tuple(int(node) for node in network.tube_from),
        tube_to=tuple(int(node) for node in network.tube_to),
        tube_length_m=numbers(network.tube_length_m),
        tube_bore_m=numbers(network.tube_bore_m),
        tube_roughness_m=numbers(network.tube_roughness_m),
        tube_loss_k=numbers(network.tube_loss_k),
        emitter_node=tuple(int(node) for node in network.emitter_node),
        emitter_lateral=tuple(names[index] for index in placed.emitter_lateral),
        emitter_k=numbers(network.emitter_k),
        emitter_exponent=numbers(network.emitter_exponent),
        emitter_opening_m=numbers(network.emitter_opening_head_m),
        emitter_upper_m=numbers(upper),
        inlet_node=network.inlet_node,
        inlet_head_m=solution.inlet_head_m,
        viscosity_m2_s=viscosity,
        node_head_m=numbers(solution.head_m),
        emitter_flow_m3_s=numbers(solution.emitter_flow_m3_s),
    )


def blank_velocity(placed: PlacedNetwork, solution: NetworkSolution) -> float:
    """Return the greatest velocity in the blank tube of a solved zone [m/s]."""
    speeds = np.abs(tube_velocities(placed.network, solution))
    return float(speeds[placed.blank].max(initial=0.0))


def _limits(
    case: Case, limits: WaterLimits, spread: Evenness, flow: float, speed: float, standing: At
) -> tuple[Limit, ...]:
    zone = [
        at_most("velocity in the blank tube", speed, limits.velocity_m_s),
        at_most("rating of the tubing", *standing),
        at_least("least pressure at an emitter", spread.least_head_m, limits.least_head_m),
    ]
    if limits.variation is not None:
        zone.append(at_most("flow variation", spread.flow_variation, limits.variation))
    if limits.uniformity is not None:
        zone.append(at_least("emission uniformity", spread.emission_uniformity / 100.0, limits.uniformity))
    usable = UsableFlow(
        limits.usable_m3_s, limits.usable_m3_s / case.scenario.supply.margin, "flow at working pressure"
    )
    return binding_first(usable, flow, assembly_limits(case.assembly, flow), zone)


def zone_water(
    case: Case, limits: WaterLimits, placed: PlacedNetwork, solution: NetworkSolution, standing: At
) -> ZoneWater:
    """Return what a solved zone comes to, given its standing pressure and the least rating of its tubing [m]."""
    spread = evenness(solution, case.line.cv)
    flow = solution.inlet_flow_m3_s
    speed = blank_velocity(placed, solution)
    first = _limits(case, limits, spread, flow, speed, standing)[0]
    return ZoneWater(
        flow_m3_s=flow,
        usable_flow_m3_s=limits.usable_m3_s if math.isfinite(limits.usable_m3_s) else 0.0,
        source_head_m=float(case.assembly.source.heads(flow)),
        inlet_head_m=solution.inlet_head_m,
        least_flow_m3_s=spread.least_flow_m3_s,
        greatest_flow_m3_s=spread.greatest_flow_m3_s,
        least_head_m=spread.least_head_m,
        greatest_head_m=spread.greatest_head_m,
        flow_variation=spread.flow_variation,
        emission_uniformity=spread.emission_uniformity / 100.0,
        greatest_velocity_m_s=speed,
        static_head_m=standing[0],
        fill_volume_m3=fill_volume(placed.network, placed.laid_m),
        binds=f"{first.name} ({100.0 * first.used:.0f} % used)",
    )


def _names(laying: Laying, laid: Laid, zone: int) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return the ids of the laterals of a zone and of the headers they leave."""
    letter = zone_letter(zone)
    members = [lateral for lateral in laid.laterals if lateral.zone_id == letter]
    return tuple(lateral.id for lateral in members), tuple(dict.fromkeys(lateral.header_id for lateral in members))


def zones(laying: Laying, laid: Laid) -> Iterator[Zone]:
    """Yield every zone with its water."""
    names = [lateral.id for lateral in laid.laterals]
    rows = {lateral.id: lateral.row_id for lateral in laid.laterals}
    for zone in range(len(laying.zones)):
        case = zone_cases(laying, zone)[0]
        placed = laid_network(laying, zone)
        solution = solve_network(placed.network, case.assembly, case.fluid)
        laterals, headers = _names(laying, laid, zone)
        standing = laid_standing_head(laying, zone), rating(laying, zone)
        water = zone_water(case, zone_limits(laying, zone), placed, solution, standing)
        yield Zone(
            zone_letter(zone),
            tuple(dict.fromkeys(rows[name] for name in laterals)),
            laterals,
            headers,
            case.line.name,
            water,
            _stored(placed, solution, names, case.fluid.viscosity_m2_s),
        )

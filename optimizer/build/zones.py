"""The water of each zone: its network, its solution and what it comes to."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from optimizer.build.laid import Laid
from optimizer.choose.waterlimits import water_limits
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
from optimizer.plan import Header, Lateral, Zone, ZoneNetwork, ZoneWater
from optimizer.problem.case import Case, Run
from optimizer.problem.networks import PlacedNetwork, zone_network
from optimizer.problem.standing import standing_at


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


def blank_velocity(case: Case, placed: PlacedNetwork, solution: NetworkSolution) -> float:
    """Return the greatest velocity in the blank tube of a solved zone [m/s]."""
    blank = placed.network.tube_bore_m == case.tube.bore
    speeds = np.abs(tube_velocities(placed.network, solution))
    return float(speeds[blank].max(initial=0.0))


def _limits(case: Case, spread: Evenness, flow: float, speed: float, standing: float) -> tuple[Limit, ...]:
    limits = water_limits(case)
    zone = [
        at_most("velocity in the blank tube", speed, limits.velocity_m_s),
        at_most("rating of the tubing", standing, min(case.line.greatest_pressure, case.tube.greatest_pressure)),
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


def zone_water(case: Case, placed: PlacedNetwork, solution: NetworkSolution, standing: float) -> ZoneWater:
    """Return what a solved zone comes to, given its standing pressure [m]."""
    spread = evenness(solution, case.line.cv)
    flow = solution.inlet_flow_m3_s
    speed = blank_velocity(case, placed, solution)
    first = _limits(case, spread, flow, speed, standing)[0]
    usable = water_limits(case).usable_m3_s
    return ZoneWater(
        flow_m3_s=flow,
        usable_flow_m3_s=usable if math.isfinite(usable) else 0.0,
        source_head_m=float(case.assembly.source.heads(flow)),
        inlet_head_m=solution.inlet_head_m,
        least_flow_m3_s=spread.least_flow_m3_s,
        greatest_flow_m3_s=spread.greatest_flow_m3_s,
        least_head_m=spread.least_head_m,
        greatest_head_m=spread.greatest_head_m,
        flow_variation=spread.flow_variation,
        emission_uniformity=spread.emission_uniformity / 100.0,
        greatest_velocity_m_s=speed,
        static_head_m=standing,
        fill_volume_m3=fill_volume(placed.network, placed.laid_m),
        binds=f"{first.name} ({100.0 * first.used:.0f} % used)",
    )


def solve_zone(case: Case, run: Run) -> tuple[PlacedNetwork, NetworkSolution]:
    """Return the network of a zone and its solution behind the head parts."""
    placed = zone_network(case, run)
    return placed, solve_network(placed.network, case.assembly, case.fluid)


def _standing(case: Case, laid: Laid, members: Sequence[Lateral], header: Header) -> float:
    """Return the standing pressure in the tubing of one zone [m]."""
    half = case.line.spacing / 2.0
    on_bed = list(header.points)
    for stretch in (stretch for lateral in members for stretch in lateral.stretches if stretch.emitters):
        (x0, y0), (x1, y1) = stretch.points[0], stretch.points[-1]
        steps = max(round(math.dist((x0, y0), (x1, y1)) / half), 1)
        on_bed += [(x0 + (x1 - x0) * i / steps, y0 + (y1 - y0) * i / steps) for i in range(steps + 1)]
    ways = [part.points for part in laid.mainline if header.zone_id in part.zone_ids]
    return standing_at(case, on_bed, ways)


def zones(case: Case, laid: Laid) -> tuple[Zone, ...]:
    """Return every zone with its water."""
    found = []
    names = [lateral.id for lateral in laid.laterals]
    for (letter, run), header in zip(laid.zone_runs, laid.headers, strict=True):
        placed, solution = solve_zone(case, run)
        members = [lateral for lateral in laid.laterals if lateral.zone_id == letter]
        rows = tuple(dict.fromkeys(lateral.row_id for lateral in members))
        water = zone_water(case, placed, solution, _standing(case, laid, members, header))
        network = _stored(placed, solution, names, case.fluid.viscosity_m2_s)
        found.append(
            Zone(letter, rows, tuple(item.id for item in members), (header.id,), case.line.name, water, network)
        )
    return tuple(found)

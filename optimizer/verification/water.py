"""Water: every zone solved again, emitter by emitter, from the supply on, and held against its limits."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from optimizer.errors import HydraulicError
from optimizer.hydraulics import Fluid, HeadAssembly, Network, NetworkSolution, solve_network, water
from optimizer.hydraulics.friction import velocity
from optimizer.plan import Zone, ZoneNetwork
from optimizer.verification.facts import TOLERANCE_M, Facts
from optimizer.verification.findings import Verdict, Verdicts, ZoneFigures, judged
from optimizer.verification.network import ZonePipes, zone_pipes
from optimizer.verification.supply import Allowance, allowance, assembly

FLOW_SHARE = 2e-3
"""Emitter flows and zone figures agree to this share [1]."""

HEAD_M = 0.02
"""Pressures agree to this or to FLOW_SHARE [m]."""

SLACK = 1.0 + 1e-6

FULL, EMPTY = " (tank full)", " (tank running empty)"


@dataclass(frozen=True, eq=False)
class ZoneRun:
    """A zone as recomputed, beside what the plan says of it."""

    facts: Facts
    zone: Zone
    pipes: ZonePipes
    head: HeadAssembly
    solution: NetworkSolution
    allowance: Allowance
    figures: ZoneFigures
    level: str
    """of a tank, empty for other supplies"""
    shut_m: float
    """pressure behind the head parts with all valves shut, a tank full [m]"""

    @property
    def path(self) -> str:
        """How messages name it."""
        return f"zone {self.zone.id}{self.level}"


def zone_runs(facts: Facts, zone: Zone) -> tuple[ZoneRun, ...]:
    """Solve a zone: behind a tank twice, full and about to run empty, for the limits must hold all the way.

    Raises:
        HydraulicError: a run has no solution, or no water comes out.
    """
    if facts.scenario.supply.kind != "tank":
        return (_run(facts, zone, ""),)
    return (_run(facts, zone, FULL), _run(facts, zone, EMPTY))


def nearest_run(runs: tuple[ZoneRun, ...]) -> ZoneRun:
    """Return the run the plan tells of: that whose source pressure is nearest to the plan's."""
    return min(runs, key=lambda run: abs(run.figures.source_head_m - run.zone.water.source_head_m))


def _run(facts: Facts, zone: Zone, level: str) -> ZoneRun:
    pipes, head = zone_pipes(facts, zone), assembly(facts, level != EMPTY)
    solution = solve_network(pipes.network, head, water(facts.scenario.limits.water_temperature))
    if float(solution.emitter_flow_m3_s.max()) <= 0.0:
        raise HydraulicError("no water comes out of any emitter")
    allowed = allowance(facts, head, zone.product)
    shut = float(assembly(facts, True).shut_heads()[-1])
    figures = _figures(facts, zone, pipes, head, solution, allowed, shut)
    return ZoneRun(facts, zone, pipes, head, solution, allowed, figures, level, shut)


def _figures(
    facts: Facts,
    zone: Zone,
    pipes: ZonePipes,
    head: HeadAssembly,
    solution: NetworkSolution,
    allowed: Allowance,
    shut: float,
) -> ZoneFigures:
    q, h, flow = solution.emitter_flow_m3_s, solution.emitter_head_m, solution.inlet_flow_m3_s
    speed = np.abs(velocity(solution.tube_flow_m3_s, pipes.network.tube_bore_m))
    fall = facts.source_height_m - min(pipes.lowest_m.values())
    bores = pipes.network.tube_bore_m
    return ZoneFigures(
        zone_id=zone.id,
        emitters=int(q.size),
        flow_m3_s=float(flow),
        usable_flow_m3_s=allowed.most_m3_s,
        source_head_m=float(head.trace(flow)[0]),
        inlet_head_m=float(solution.inlet_head_m),
        least_flow_m3_s=float(q.min()),
        greatest_flow_m3_s=float(q.max()),
        least_head_m=float(h.min()),
        greatest_head_m=float(h.max()),
        flow_variation=float(1.0 - q.min() / q.max()),
        emission_uniformity=float((1.0 - 1.27 * facts.lines[zone.product].cv) * q.min() / q.mean()),
        greatest_velocity_m_s=float(speed[pipes.tube_blank].max(initial=0.0)),
        static_head_m=shut + fall,
        fill_volume_m3=float(np.sum(0.25 * np.pi * bores**2 * pipes.tube_laid_m)),
        greatest_flow_difference=_greatest_difference(pipes, zone.network, solution),
    )


def _plan_flows(network: ZoneNetwork, lateral: str) -> list[float]:
    pairs = zip(network.emitter_lateral, network.emitter_flow_m3_s, strict=False)
    return [flow for name, flow in pairs if name == lateral]


def _my_flows(pipes: ZonePipes, solution: NetworkSolution, lateral: str) -> list[float]:
    pairs = zip(pipes.emitter_lateral, solution.emitter_flow_m3_s, strict=True)
    return [float(flow) for name, flow in pairs if name == lateral]


def _share_off(mine: list[float], theirs: list[float]) -> float:
    """Return the greatest difference of flows in order, as a share of mine; infinite if they cannot be paired."""
    if len(mine) != len(theirs):
        return math.inf
    return max((abs(a - b) / max(a, 1e-12) for a, b in zip(mine, theirs, strict=True)), default=0.0)


def _greatest_difference(pipes: ZonePipes, network: ZoneNetwork, solution: NetworkSolution) -> float:
    names = sorted(set(pipes.emitter_lateral))
    return max(_share_off(_my_flows(pipes, solution, name), _plan_flows(network, name)) for name in names)


def emitter_flows(run: ZoneRun) -> Verdicts:
    """Every emitter of the plan gives the flow found here."""
    for name in sorted({*run.pipes.emitter_lateral, *run.zone.network.emitter_lateral}):
        mine = _my_flows(run.pipes, run.solution, name)
        theirs = _plan_flows(run.zone.network, name)
        off = _share_off(mine, theirs)
        message = f"its emitter flows differ by up to {off:.2%} from those found here"
        if len(mine) != len(theirs):
            message = f"{len(mine)} emitters are drawn, the plan's network has {len(theirs)}"
        yield judged(f"lateral {name}", off <= FLOW_SHARE, message)


def emitter_places(run: ZoneRun) -> Verdicts:
    """The emitters of the plan's network lie where the drawing puts them, at the same height."""
    stored = run.zone.network
    for name in sorted(set(run.pipes.emitter_lateral)):
        mine = [
            (*run.pipes.places[node], float(run.pipes.network.z_m[node]))
            for node, lateral in zip(run.pipes.network.emitter_node, run.pipes.emitter_lateral, strict=True)
            if lateral == name
        ]
        theirs = [
            (stored.node_x_m[node], stored.node_y_m[node], stored.node_z_m[node])
            for node, lateral in zip(stored.emitter_node, stored.emitter_lateral, strict=False)
            if lateral == name and 0 <= node < min(len(stored.node_x_m), len(stored.node_y_m), len(stored.node_z_m))
        ]
        off = max((math.dist(a, b) for a, b in zip(mine, theirs, strict=False)), default=math.inf)
        message = f"its emitters lie up to {off:.3f} m off the drawing"
        yield judged(f"lateral {name}", len(mine) == len(theirs) and off <= 2 * TOLERANCE_M, message)


def stored_network(run: ZoneRun) -> Verdicts:
    """The network in the plan, solved again at its inlet head, gives the heads and flows in the plan."""
    stored = run.zone.network
    try:
        solution = solve_network(_as_network(stored), stored.inlet_head_m, Fluid(stored.viscosity_m2_s))
    except HydraulicError as error:
        yield Verdict(run.path, f"the network in the plan cannot be solved: {error}")
        return
    off = _share_off([float(q) for q in solution.emitter_flow_m3_s], list(stored.emitter_flow_m3_s))
    yield judged(run.path, off <= FLOW_SHARE, f"solved again, emitter flows differ by up to {off:.2%}")
    heads = np.array(stored.node_head_m)
    gap = float(np.max(np.abs(heads - solution.head_m))) if heads.shape == solution.head_m.shape else math.inf
    yield judged(run.path, gap <= HEAD_M, f"solved again, pressures differ by up to {gap:.3f} m")


def _as_network(stored: ZoneNetwork) -> Network:
    upper = np.array([high if high > 0.0 else math.inf for high in stored.emitter_upper_m])
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
        emitter_upper_head_m=upper,
        inlet_node=stored.inlet_node,
    )


def zone_figures(run: ZoneRun) -> Verdicts:
    """The water figures of the plan are those found here."""
    show, mine, theirs = run.facts.show, run.figures, run.zone.water
    flows = ("flow_m3_s", "least_flow_m3_s", "greatest_flow_m3_s", "greatest_velocity_m_s", "fill_volume_m3")
    for name in flows:
        yield _figure(run, name, getattr(mine, name), getattr(theirs, name), FLOW_SHARE * getattr(mine, name))
    for name in ("source_head_m", "inlet_head_m", "least_head_m", "greatest_head_m", "static_head_m"):
        value, said = getattr(mine, name), getattr(theirs, name)
        message = f"{_words(name)}: the plan says {show.pressure(said)}, found {show.pressure(value)}"
        yield judged(run.path, abs(said - value) <= max(HEAD_M, FLOW_SHARE * abs(value)), message)
    for name in ("flow_variation", "emission_uniformity"):
        yield _figure(run, name, getattr(mine, name), getattr(theirs, name), FLOW_SHARE)
    yield _usable_figure(run)


def _usable_figure(run: ZoneRun) -> Verdict:
    """The usable flow stated is no more than may be used, and no less than with the margin kept from every limit."""
    show, said, allowed = run.facts.show, run.zone.water.usable_flow_m3_s, run.allowance
    most, least = allowed.most_m3_s, allowed.least_m3_s
    if math.isinf(most):
        # Without any limit the plan may also say nothing, which it writes as zero.
        return judged(run.path, not said or said >= run.zone.water.flow_m3_s, "usable flow: less than the zone takes")
    message = f"usable flow: the plan says {show.flow(said)}, found {show.flow(least)} to {show.flow(most)}"
    return judged(run.path, least * (1.0 - FLOW_SHARE) <= said <= most * (1.0 + FLOW_SHARE), message)


def _words(name: str) -> str:
    for unit in ("_m3_s", "_m_s", "_m3", "_m"):
        if name.endswith(unit):
            return name.removesuffix(unit).replace("_", " ")
    return name.replace("_", " ")


def _figure(run: ZoneRun, name: str, mine: float, theirs: float, tolerance: float) -> Verdict:
    message = f"{_words(name)}: the plan says {theirs:.5g}, found {mine:.5g} (SI)"
    return judged(run.path, abs(mine - theirs) <= tolerance, message)


def flow_sums(run: ZoneRun) -> Verdicts:
    """The flow of a zone is the sum of its emitters', in the plan as here."""
    total, said = sum(run.zone.network.emitter_flow_m3_s), run.zone.water.flow_m3_s
    message = f"its emitters add up to {run.facts.show.flow(total)}, the plan says {run.facts.show.flow(said)}"
    yield judged(run.path, abs(total - said) <= FLOW_SHARE * max(total, said), message)


def usable_flows(run: ZoneRun) -> Verdicts:
    """A zone takes no more than the supply can be planned on for."""
    flow, limit = run.figures.flow_m3_s, run.figures.usable_flow_m3_s
    message = f"it takes {run.facts.show.flow(flow)} of {run.facts.show.flow(min(limit, 10.0))} that may be used"
    yield judged(run.path, flow <= limit * SLACK, message)


def flow_bands(run: ZoneRun) -> Verdicts:
    """Pump, head parts and regulator run within their flows and ratings."""
    show = run.facts.show
    flags = [flag for flag in run.head.flags(run.figures.flow_m3_s) if flag.limit != "regulator inlet"]
    for flag in flags:
        flow = flag.limit in ("least flow", "greatest flow")
        value, bound = (show.flow(flag.value), show.flow(flag.bound)) if flow else (flag.value, flag.bound)
        if not flow:
            value, bound = show.pressure(flag.value), show.pressure(flag.bound)
        yield Verdict(run.path, f"{flag.part}, {flag.limit}: {value} against {bound}")
    if not flags:
        yield Verdict(run.path)


def emitter_pressures(run: ZoneRun) -> Verdicts:
    """Every emitter works within the pressures of its product."""
    show = run.facts.show
    for name in sorted(set(run.pipes.emitter_lateral)):
        line = run.facts.lines[run.facts.laterals[name].product]
        mine = np.array([lateral == name for lateral in run.pipes.emitter_lateral])
        low, high = float(run.solution.emitter_head_m[mine].min()), float(run.solution.emitter_head_m[mine].max())
        least, most = line.least_pressure, line.greatest_pressure
        if line.compensating is not None:
            least, most = max(least, line.compensating.opens), min(most, line.compensating.up_to)
        message = (
            f"{show.pressure(low)} to {show.pressure(high)}; {show.pressure(least)} to {show.pressure(most)} needed"
        )
        yield judged(f"lateral {name}{run.level}", low >= least - 1e-4 and high <= most + 1e-4, message)


def evenness(run: ZoneRun) -> Verdicts:
    """Flows of a zone are as even as wanted: 10 % flow variation unless another limit is stated."""
    limits, mine, show = run.facts.scenario.limits, run.figures, run.facts.show
    variation, wanted = limits.flow_variation, limits.emission_uniformity
    if variation is None and wanted is None:
        variation = 0.10
    if variation is not None:
        message = f"flow variation is {show.percent(mine.flow_variation)}, at most {show.percent(variation)} is wanted"
        yield judged(run.path, mine.flow_variation <= variation + 1e-5, message)
    if wanted is not None:
        message = f"emission uniformity is {show.percent(mine.emission_uniformity)}, {show.percent(wanted)} is wanted"
        yield judged(run.path, mine.emission_uniformity >= wanted - 1e-5, message)


def velocities(run: ZoneRun) -> Verdicts:
    """Water in blank tube is no faster than the limit."""
    limit, fastest = run.facts.scenario.limits.velocity, run.figures.greatest_velocity_m_s
    message = f"{run.facts.show.velocity(fastest)} in blank tube, at most {run.facts.show.velocity(limit)} is wanted"
    yield judged(run.path, fastest <= limit * SLACK, message)


def standing_pressure(run: ZoneRun) -> Verdicts:
    """With all valves shut no tube stands under more pressure than it is rated for, at its lowest place."""
    for name, low in sorted(run.pipes.lowest_m.items()):
        stands, rating = run.shut_m + run.facts.source_height_m - low, run.facts.products[name].greatest_pressure
        show = run.facts.show
        message = f"{name} stands under {show.pressure(stands)}, its rating is {show.pressure(rating)}"
        yield judged(run.path, stands <= rating + 1e-6, message)

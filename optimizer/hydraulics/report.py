"""What a solved zone looks like: extremes, velocities, volumes, flushing, and which limit binds first."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from optimizer.errors import HydraulicError
from optimizer.hydraulics.arrays import FloatArray, floats, frozen_ints
from optimizer.hydraulics.assembly import HeadAssembly, LeadIn, Regulator, UsableFlow
from optimizer.hydraulics.fluid import GRAVITY_M_S2, Fluid
from optimizer.hydraulics.friction import velocity
from optimizer.hydraulics.network import Network, NetworkSolution
from optimizer.hydraulics.solver import HeadCurve, solve_network
from optimizer.hydraulics.uniformity import emission_uniformity, flow_variation

FLUSHING_VELOCITY_M_S = 0.3048
"""1 ft/s at the end of each line (Univ. of California ANR, maintenance of microirrigation systems)."""


@dataclass(frozen=True)
class Evenness:
    """How even a zone is.

    Args:
        least_emitter: emitter with the least flow [-]
        greatest_emitter: emitter with the greatest flow [-]
        least_flow_m3_s: least flow [m3/s]
        greatest_flow_m3_s: greatest flow [m3/s]
        mean_flow_m3_s: mean flow [m3/s]
        least_head_m: least head at an emitter [m]
        greatest_head_m: greatest head at an emitter [m]
        flow_variation: (qmax - qmin) / qmax [-]
        emission_uniformity: design emission uniformity in percent [-]
    """

    least_emitter: int
    greatest_emitter: int
    least_flow_m3_s: float
    greatest_flow_m3_s: float
    mean_flow_m3_s: float
    least_head_m: float
    greatest_head_m: float
    flow_variation: float
    emission_uniformity: float


def evenness(solution: NetworkSolution, cv: float, emitters_per_plant: float = 1.0) -> Evenness:
    """Extremes and evenness of a solved zone.

    Args:
        solution: the solved zone [-]
        cv: manufacturer's coefficient of variation [-]
        emitters_per_plant: emitters that share a plant [-]

    Raises:
        HydraulicError: when no emitter runs.
    """
    q, h = solution.emitter_flow_m3_s, solution.emitter_head_m
    variation = flow_variation(q)
    least, greatest, mean = float(q.min()), float(q.max()), float(q.mean())
    return Evenness(
        least_emitter=int(np.argmin(q)),
        greatest_emitter=int(np.argmax(q)),
        least_flow_m3_s=least,
        greatest_flow_m3_s=greatest,
        mean_flow_m3_s=mean,
        least_head_m=float(h.min()),
        greatest_head_m=float(h.max()),
        flow_variation=variation,
        # Rounding may put the mean of equal flows a hair below the least of them.
        emission_uniformity=emission_uniformity(cv, emitters_per_plant, least, max(mean, least)),
    )


def tube_velocities(network: Network, solution: NetworkSolution) -> FloatArray:
    """Speed in every tube, shape (t,) [m/s].

    Args:
        network: the zone [-]
        solution: its solution [-]
    """
    return np.abs(velocity(solution.tube_flow_m3_s, network.tube_bore_m))


def _tube_volumes(network: Network, laid_lengths: npt.ArrayLike | None) -> FloatArray:
    lengths = network.tube_length_m if laid_lengths is None else floats(laid_lengths)
    if lengths.shape != network.tube_length_m.shape:
        raise HydraulicError(f"laid lengths must have shape {network.tube_length_m.shape}, got {lengths.shape}")
    return 0.25 * np.pi * network.tube_bore_m**2 * lengths


def fill_volume(network: Network, laid_lengths: npt.ArrayLike | None = None) -> float:
    """Water that fills the tubes.

    Args:
        network: the zone [-]
        laid_lengths: lengths as laid, where the network's hold equivalent lengths of fittings, shape (t,) [m]

    Returns:
        Volume [m3].
    """
    return float(np.sum(_tube_volumes(network, laid_lengths)))


def drain_down_volume(
    network: Network, laid_lengths: npt.ArrayLike | None = None, outlet_z: float | None = None
) -> float:
    """Water standing above the lowest outlet: the most that can run out there after the valve shuts.

    An upper bound: dips between high points hold some of it back. Level zones keep all of it.

    Args:
        network: the zone [-]
        laid_lengths: lengths as laid, where the network's hold equivalent lengths of fittings, shape (t,) [m]
        outlet_z: elevation of the outlet; the lowest emitter's if not given [m]

    Returns:
        Volume [m3].
    """
    outlet = float(np.min(network.z_m[network.emitter_node])) if outlet_z is None else outlet_z
    ends = np.sort(np.stack([network.z_m[network.tube_from], network.z_m[network.tube_to]]), axis=0) - outlet
    low, high = ends
    steep = np.maximum(high - low, 1e-300)
    above = np.where(high > low, np.clip(high / steep, 0.0, 1.0), (low > 0.0).astype(np.float64))
    return float(np.sum(above * _tube_volumes(network, laid_lengths)))


def flushing_flow(bore: npt.ArrayLike, flushing_velocity: float = FLUSHING_VELOCITY_M_S) -> FloatArray:
    """Flow out of an open end that flushes a line.

    Source: Univ. of California ANR, maintenance of microirrigation systems. Example: 5/8 in at 1 ft/s -> 0.96 gal/min.

    Args:
        bore: inner diameters of the lines, any shape [m]
        flushing_velocity: velocity wanted at the end [m/s]
    """
    return 0.25 * np.pi * floats(bore) ** 2 * flushing_velocity


def with_open_ends(network: Network, ends: npt.ArrayLike, bores: npt.ArrayLike) -> Network:
    """The zone with some line ends open: each is an emitter that spends its whole head as velocity.

    Args:
        network: the zone [-]
        ends: nodes whose ends are open, shape (k,) [-]
        bores: inner diameters there, shape (k,) [m]
    """
    nodes = frozen_ints(ends)
    more = np.ones(nodes.size)
    k = 0.25 * np.pi * floats(bores) ** 2 * np.sqrt(2.0 * GRAVITY_M_S2)
    return replace(
        network,
        emitter_node=np.concatenate([network.emitter_node, nodes]),
        emitter_k=np.concatenate([network.emitter_k, k * more]),
        emitter_exponent=np.concatenate([network.emitter_exponent, 0.5 * more]),
        emitter_opening_head_m=np.concatenate([network.emitter_opening_head_m, 0.0 * more]),
        emitter_upper_head_m=np.concatenate([network.emitter_upper_head_m, np.inf * more]),
    )


@dataclass(frozen=True, eq=False)
class Flushing:
    """Ends opened together.

    Args:
        ends_at_once: how many of the ends, in the order given, reach the wanted velocity together [-]
        end_flow_m3_s: flow out of each of them [m3/s]
        end_velocity_m_s: velocity at each of them [m/s]
        zone_flow_m3_s: flow of the zone meanwhile [m3/s]
    """

    ends_at_once: int
    end_flow_m3_s: FloatArray
    end_velocity_m_s: FloatArray
    zone_flow_m3_s: float


def flushing(
    network: Network,
    ends: npt.ArrayLike,
    bores: npt.ArrayLike,
    source: float | HeadCurve,
    fluid: Fluid,
    flushing_velocity: float = FLUSHING_VELOCITY_M_S,
) -> Flushing:
    """How many line ends can be flushed at once, and what comes out of each; the zone is solved with its ends open.

    Opening one more end never raises the flow of another, so the number is found by halving.

    Args:
        network: the zone [-]
        ends: nodes at the closed ends of lines, in the order they would be opened, shape (k,) [-]
        bores: inner diameters there, shape (k,) [m]
        source: pressure head at the inlet, or a source whose head does not rise with flow [m]
        fluid: the water [-]
        flushing_velocity: velocity wanted at each end [m/s]
    """
    nodes, wide = frozen_ints(ends), floats(bores)

    def opened(number: int) -> Flushing:
        solution = solve_network(with_open_ends(network, nodes[:number], wide[:number]), source, fluid)
        flow = solution.emitter_flow_m3_s[network.emitter_count :]
        return Flushing(number, flow, velocity(flow, wide[:number]), solution.inlet_flow_m3_s)

    low, high = 0, nodes.size
    while low < high:
        middle = (low + high + 1) // 2
        enough = bool(np.all(opened(middle).end_velocity_m_s >= flushing_velocity))
        low, high = (middle, high) if enough else (low, middle - 1)
    return opened(low)


@dataclass(frozen=True)
class Limit:
    """One limit and how much of it is used; above 1 it is broken.

    Args:
        name: what limits, in the words of the head assembly or of the zone [-]
        value: what the zone has [any]
        bound: what it may or must have [any]
        used: share of the bound used: value / bound, or bound / value where the value must be at least the bound [-]
    """

    name: str
    value: float
    bound: float
    used: float


def at_most(name: str, value: float, bound: float) -> Limit:
    """A value that must not pass a bound; an infinite bound is never used.

    Args:
        name: what limits [-]
        value: what the zone has, not negative [any]
        bound: greatest allowed [any]
    """
    share = value / bound if bound > 0.0 else (np.inf if value > 0.0 else 0.0)
    return Limit(name, value, bound, float(share))


def at_least(name: str, value: float, bound: float) -> Limit:
    """A value that must reach a bound.

    Args:
        name: what limits [-]
        value: what the zone has [any]
        bound: least allowed, not negative [any]
    """
    share = bound / value if value > 0.0 else (np.inf if bound > 0.0 or value < 0.0 else 0.0)
    return Limit(name, value, bound, float(share))


def assembly_limits(assembly: HeadAssembly, flow: float, velocity_limit: float = np.inf) -> list[Limit]:
    """Limits of the head assembly at a flow: flow bands, ratings running and shut, regulator inlet, lead-in velocity.

    Args:
        assembly: source and parts [-]
        flow: flow of the zone [m3/s]
        velocity_limit: greatest velocity wanted in lead-ins [m/s]
    """
    running, shut = assembly.trace(flow), assembly.shut_heads()
    limits = []
    for number, part in enumerate(assembly.parts):
        limits.append(at_most(f"{part.name}: greatest flow", flow, part.greatest_flow_m3_s))
        limits.append(at_least(f"{part.name}: least flow", flow, part.least_flow_m3_s))
        worst = max(float(running[number]), float(shut[number]))
        limits.append(at_most(f"{part.name}: rating", worst, part.rating_m))
        if isinstance(part, Regulator):
            needed = part.set_head_m + part.least_excess_m
            limits.append(at_least(f"{part.name}: inlet head", float(running[number]), needed))
        if isinstance(part, LeadIn):
            limits.append(at_most(f"{part.name}: velocity", float(velocity(flow, part.bore_m)), velocity_limit))
    return limits


def binding_first(
    usable: UsableFlow, flow: float, assembly: Sequence[Limit], zone: Sequence[Limit]
) -> tuple[Limit, ...]:
    """All limits of a zone, the most used first; equal shares keep the order supply, assembly, zone.

    Args:
        usable: flow to plan on [-]
        flow: flow of the zone [m3/s]
        assembly: limits of the head assembly, see `assembly_limits` [-]
        zone: limits of header, laterals, ratings and evenness, made by `at_most` and `at_least` [-]
    """
    supply = at_most(f"supply ({usable.limited_by})", flow, usable.flow_m3_s)
    return tuple(sorted([supply, *assembly, *zone], key=lambda limit: -limit.used))

"""Zones over several beds: what a group of units does on its mainline, solved emitter by emitter."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from optimizer.choose.exact import figures_of, stacked
from optimizer.choose.laidzones import broken_by, rating, zone_cases, zone_limits
from optimizer.choose.reasons import BURSTS, LOST_ON_THE_WAY, NOT_SOLVED, TOO_FAST
from optimizer.errors import HydraulicError
from optimizer.hydraulics import HeadAssembly, NetworkSolution, solve_network
from optimizer.problem.laying import SUPPLY, Laying
from optimizer.problem.networks import PlacedNetwork, laid_network
from optimizer.problem.standing import laid_standing_head
from optimizer.problem.water import TankAssembly
from optimizer.scenario.schema import BlankTube, Scenario

_ROUNDING_M = 1e-6
_ROUNDING_SHARE = 1e-9


@dataclass(frozen=True)
class Reading:
    """What a zone does.

    Args:
        reason: the limit it breaks first, empty if it holds all.
        flow_m3_s: its flow; 0 where it has no solution [m3/s].
        unevenness: flow variation in hundredths of a per cent.
    """

    reason: str
    flow_m3_s: float
    unevenness: int

    @property
    def holds(self) -> bool:
        """Whether it holds all limits."""
        return not self.reason


def reading(laying: Laying, zone: int) -> Reading:
    """Return what a zone of a garden as it is laid does.

    Args:
        laying: the garden.
        zone: number of the zone.
    """
    case, placed = zone_cases(laying, zone)[0], laid_network(laying, zone)
    try:
        solved = [
            (assembly, solve_network(placed.network, assembly, case.fluid)) for assembly in _assemblies(case.assembly)
        ]
    except HydraulicError:
        return Reading(NOT_SOLVED, 0.0, 10_000)
    figures = tuple(stacked(np.array([figures_of(placed, solution)])) for _, solution in solved)
    first = figures[0]
    if not first.solved[0]:
        return Reading(NOT_SOLVED, 0.0, 10_000)
    reason = broken_by(figures, zone_limits(laying, zone))
    if not reason and first.flow_m3_s[0] > _through(laying, zone) * (1.0 + _ROUNDING_SHARE):
        reason = TOO_FAST
    if not reason and any(_lost_too_much(laying, placed, solution) for _, solution in solved):
        reason = LOST_ON_THE_WAY
    if not reason and laid_standing_head(laying, zone) > rating(laying, zone) + _ROUNDING_M:
        reason = BURSTS
    return Reading(reason, float(first.flow_m3_s[0]), round(10_000.0 * float(first.flow_variation[0])))


def velocity_flow(tube: BlankTube, scenario: Scenario) -> float:
    """Return the flow at which water in a tube is as fast as it may be [m3/s]."""
    return scenario.limits.velocity * math.pi * tube.bore**2 / 4.0


def _through(laying: Laying, zone: int) -> float:
    """Return what the connection at the supply passes: the widest tube that leaves it takes the whole zone [m3/s]."""
    leaving = (laying.mainline[part] for part in laying.zone_parts(zone))
    return max(velocity_flow(part.tube, laying.scenario) for part in leaving if part.above == SUPPLY)


def _assemblies(assembly: HeadAssembly) -> Iterator[HeadAssembly]:
    yield assembly
    if isinstance(assembly, TankAssembly):
        yield assembly.full()


def _lost_too_much(laying: Laying, placed: PlacedNetwork, solution: NetworkSolution) -> bool:
    """Say whether mainline loses more than its share of the pressure behind the head parts on the way to a header."""
    most = laying.scenario.limits.mainline_loss * solution.inlet_head_m
    return greatest_loss(placed, solution) > most + _ROUNDING_M


def greatest_loss(placed: PlacedNetwork, solution: NetworkSolution) -> float:
    """Return the greatest head lost by friction between the head parts and a header [m]."""
    total = solution.head_m + placed.network.z_m
    inlets: Sequence[int] = placed.inlets
    return float(total[placed.network.inlet_node] - total[list(inlets)].min())

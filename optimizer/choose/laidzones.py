"""The zones of a garden as it is laid, held against their limits emitter by emitter."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from optimizer.choose.exact import solved_networks
from optimizer.choose.waterlimits import WaterLimits, broken_limits, first_reasons, water_limits
from optimizer.hydraulics.batch import BatchSolution
from optimizer.problem.case import Case
from optimizer.problem.laying import Laying
from optimizer.problem.networks import laid_network
from optimizer.problem.water import TankAssembly
from optimizer.scenario.schema import Tubing


def zone_cases(laying: Laying, zone: int) -> tuple[Case, ...]:
    """Return the designs of the blocks that a zone waters."""
    blocks = dict.fromkeys(laying.headers[member.header].block for member in laying.zones[zone])
    return tuple(laying.cases[block] for block in blocks)


def zone_limits(laying: Laying, zone: int) -> WaterLimits:
    """Return what a zone must hold: all its blocks have the same line, so only the flow it may take can differ."""
    limits = [water_limits(case) for case in zone_cases(laying, zone)]
    return replace(limits[0], usable_m3_s=min(item.usable_m3_s for item in limits))


def rating(laying: Laying, zone: int) -> float:
    """Return the least pressure that tubing of a zone is rated for [m]."""
    tubing: list[Tubing] = [laying.mainline[part].tube for part in laying.zone_parts(zone)]
    for case in zone_cases(laying, zone):
        tubing += [case.line, case.tube]
    return min(item.greatest_pressure for item in tubing)


def solved_zone(laying: Laying, zone: int) -> tuple[BatchSolution, ...]:
    """Return what a zone does, each of one entry; behind a tank when it is nearly empty, and when it is full."""
    case, placed = zone_cases(laying, zone)[0], laid_network(laying, zone)
    found = [solved_networks([placed], case.assembly, case.fluid)]
    if isinstance(case.assembly, TankAssembly):
        found.append(solved_networks([placed], case.assembly.full(), case.fluid))
    return tuple(found)


def broken_by(solutions: tuple[BatchSolution, ...], limits: WaterLimits) -> str:
    """Return the limit a zone breaks first, or nothing if it holds them all."""
    with np.errstate(invalid="ignore"):
        reasons = [first_reasons(broken_limits(solution, limits))[0] for solution in solutions]
    return next((reason for reason in reasons if reason), "")


def broken_limit(laying: Laying, zone: int) -> str:
    """Return the limit a zone as it is laid breaks first, or nothing if it holds them all."""
    return broken_by(solved_zone(laying, zone), zone_limits(laying, zone))

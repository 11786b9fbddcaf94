"""What zones of a design must hold, and which of it a set of solved zones breaks."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from optimizer.choose.reasons import (
    HIGH_PRESSURE,
    LOW_PRESSURE,
    NOT_SOLVED,
    TOO_FAST,
    TOO_LITTLE_FLOW,
    TOO_MUCH_FLOW,
    UNEVEN,
)
from optimizer.hydraulics.assembly import GREATEST_SEARCH_FLOW_M3_S, HeadAssembly, usable_flow
from optimizer.hydraulics.batch import BatchSolution
from optimizer.problem.case import Case
from optimizer.problem.water import TankAssembly
from optimizer.scenario.schema import PumpSupply

DEFAULT_VARIATION = 0.10

usable_behind = lru_cache(maxsize=256)(usable_flow)
"""what a head assembly can be planned on, asked again for every design; worked out once"""

_ROUNDING = 1e-9


@dataclass(frozen=True)
class WaterLimits:
    """What zones of a design must hold."""

    usable_m3_s: float
    least_flow_m3_s: float
    least_head_m: float
    greatest_head_m: float
    """at an emitter"""
    rated_head_m: float
    """in the line"""
    variation: float | None
    uniformity: float | None
    velocity_m_s: float
    cv: float


def working_head(case: Case) -> float:
    """Return the head wanted behind the head parts while a zone runs [m]."""
    return case.regulator.holds if case.regulator else case.line.at_pressure


def usable(case: Case) -> float:
    """Return the flow zones may use: the margin of what the supply gives at working pressure [m3/s]."""
    supply = case.scenario.supply
    agreed = supply.greatest_flow if supply.greatest_flow is not None else math.inf
    if isinstance(case.assembly, TankAssembly):
        return _tank_flow(case, case.assembly.full(), agreed)
    return min(agreed, usable_behind(case.assembly, working_head(case), supply.margin).flow_m3_s)


def _tank_flow(case: Case, full: HeadAssembly, agreed: float) -> float:
    """Return the flow a tank's parts may pass at most: within their bands, and below what would take all its head."""
    bands = [agreed, *(part.greatest_flow_m3_s for part in full.parts)]
    fall = max(case.shapes.source_z_m - lowest_header_m(case), 0.0)
    if full.outlet_head(GREATEST_SEARCH_FLOW_M3_S) + fall < 0.0:
        bands.append(usable_behind(full, -fall, 1.0).flow_m3_s)
    return min(bands)


def lowest_header_m(case: Case) -> float:
    """Return the height of the lowest header vertex of a design [m]."""
    points = np.array([point for header in case.layout.headers for point in header.points])
    return float(case.shapes.ground.heights(points).min()) + case.layout.raised


def water_limits(case: Case) -> WaterLimits:
    """Return the limits zones of a design must hold."""
    limits, line, supply = case.scenario.limits, case.line, case.scenario.supply
    opens = line.compensating.opens if line.compensating else 0.0
    upper = line.compensating.up_to if line.compensating else math.inf
    least = [part.least_flow_m3_s for part in case.assembly.parts]
    least += [supply.least_flow] if isinstance(supply, PumpSupply) else []
    variation = limits.flow_variation
    if variation is None and limits.emission_uniformity is None:
        variation = DEFAULT_VARIATION
    return WaterLimits(
        usable(case),
        max(least, default=0.0),
        max(line.least_pressure, opens),
        min(line.greatest_pressure, upper),
        line.greatest_pressure,
        variation,
        limits.emission_uniformity,
        limits.velocity,
        line.cv,
    )


def broken_limits(solution: BatchSolution, limits: WaterLimits) -> dict[str, NDArray[np.bool_]]:
    """Return for each limit which runs break it; the order is that in which reasons are given."""
    variation = solution.flow_variation
    mean_share = (1.0 - 1.27 * limits.cv) * solution.least_flow_m3_s / solution.mean_flow_m3_s
    uneven = np.zeros(variation.shape, dtype=np.bool_)
    if limits.variation is not None:
        uneven |= variation > limits.variation + _ROUNDING
    if limits.uniformity is not None:
        uneven |= mean_share < limits.uniformity - _ROUNDING
    speed = np.maximum(solution.header_velocity_m_s, solution.feed_velocity_m_s)
    return {
        NOT_SOLVED: ~solution.solved,
        TOO_MUCH_FLOW: solution.flow_m3_s > limits.usable_m3_s * (1.0 + _ROUNDING),
        LOW_PRESSURE: solution.least_head_m < limits.least_head_m - 1e-6,
        UNEVEN: uneven,
        TOO_FAST: speed > limits.velocity_m_s + _ROUNDING,
        HIGH_PRESSURE: (solution.greatest_head_m > limits.greatest_head_m + 1e-6)
        | (solution.greatest_take_off_head_m > limits.rated_head_m + 1e-6),
        TOO_LITTLE_FLOW: solution.flow_m3_s < limits.least_flow_m3_s * (1.0 - _ROUNDING),
    }


def first_reasons(broken: dict[str, NDArray[np.bool_]]) -> tuple[str, ...]:
    """Return the limit each run breaks first, empty for none."""
    count = len(next(iter(broken.values())))
    return tuple(next((name for name, mask in broken.items() if mask[index]), "") for index in range(count))

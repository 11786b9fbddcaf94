"""How long a lateral may be, and where a header feeds a sloping row most evenly."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from optimizer.errors import HydraulicError
from optimizer.hydraulics import EmitterLine as WaterLine
from optimizer.hydraulics import Fluid, solve_lateral
from optimizer.hydraulics.runs import MOST_EMITTERS, longest_run
from optimizer.hydraulics.uniformity import flow_variation
from optimizer.problem.water import scenario_fluid, water_line
from optimizer.scenario.schema import EmitterLine, Scenario
from optimizer.study.limits_beds import TypicalRow
from optimizer.study.limits_heads import Working, greatest_head, least_head

VARIATIONS = (0.10, 0.20)
STANDARD_SLOPES = (0.0, 0.01, -0.01)
"""slopes compared where the rows of a site are level"""

EVENNESS, LABEL, RATING, LEAST, NO_END = "evenness", "label", "rating", "least pressure", "no end found"
_LEVEL = 5e-4


@dataclass(frozen=True)
class RunLimit:
    """The longest lateral of one product at one pressure and slope."""

    line: str
    head_m: float
    source: str
    slope: float
    """rise away from the header [m/m]"""
    lengths_m: tuple[float, ...]
    """whole emitter spacings, one length for each of `VARIATIONS`; infinite where no end was found"""
    ends_by: tuple[str, ...]
    """what ends each: evenness, the label, the pressure rating downhill, the least pressure of an emitter"""


@dataclass(frozen=True)
class PlaceSpread:
    """Flow variation of the typical row, fed at different places along it."""

    bed: str
    direction: str
    line: str
    head_m: float
    source: str
    low_end: float
    middle: float
    high_end: float
    best: float
    best_place_m: float
    """distance of the most even place from the low end of the row"""


def run_slopes(rows: Sequence[TypicalRow]) -> tuple[float, ...]:
    """Return the slopes to compare: level and the rows' own, up and down; standard ones where all rows lie level."""
    own = sorted({round(abs(row.rise), 4) for row in rows if abs(row.rise) >= _LEVEL})
    if not own:
        return STANDARD_SLOPES
    return (0.0, *(sign * slope for slope in own for sign in (1.0, -1.0)))


def _even_run(line: WaterLine, head_m: float, variation: float, fluid: Fluid, slope: float) -> float:
    """Return the length that keeps a variation, infinite if even the longest tried does [m]."""
    try:
        return longest_run(line, head_m, variation, fluid, slope, line.spacing_m / 2.0) * line.spacing_m
    except HydraulicError as error:
        if "still keep the flow variation" not in str(error):
            raise
        return math.inf


def _held_run(line: WaterLine, head_m: float, needed_m: float, most: int, fluid: Fluid, slope: float) -> float:
    """Return the length at which every emitter still has the pressure it needs; at most so many emitters [m].

    One emitter more lowers the pressure at all before it, so the number is found by halving.
    """

    def holds(count: int) -> bool:
        heads = solve_lateral(line, count, head_m, fluid, line.spacing_m / 2.0, slope).emitter_head_m
        return bool(heads.min() >= needed_m)

    low, high = 0, most
    while low < high:
        middle = (low + high + 1) // 2
        low, high = (middle, high) if holds(middle) else (low, middle - 1)
    return low * line.spacing_m


def _held(line: EmitterLine, head_m: float, slope: float, even_m: float, fluid: Fluid) -> float:
    """Return where the least pressure ends a run that is even so far; infinite if it does not [m]."""
    needed = least_head(line)
    most = round(min(even_m / line.spacing, MOST_EMITTERS))
    if needed <= 0.0 or most == 0:
        return math.inf
    held = _held_run(water_line(line), head_m, needed, most, fluid, slope)
    return held if held < most * line.spacing - 1e-9 else math.inf


def _shortest(line: EmitterLine, head_m: float, slope: float, even_m: float, held_m: float) -> tuple[float, str]:
    """Return the shortest of the limits of a run and its name; whole emitter spacings."""
    room = max(greatest_head(line) - head_m, 0.0)
    limits = [
        (even_m, EVENNESS if math.isfinite(even_m) else NO_END),
        (held_m, LEAST),
        (line.longest_run if line.longest_run is not None else math.inf, LABEL),
        (room / -slope if slope < 0.0 else math.inf, RATING),
    ]
    length, name = min(limits, key=lambda limit: limit[0])
    if math.isfinite(length):
        length = math.floor(length / line.spacing + 1e-6) * line.spacing
    return length, name


def run_limit(working: Working, slope: float, fluid: Fluid) -> RunLimit:
    """Return the longest runs of a line at a pressure and slope, for each of `VARIATIONS`."""
    line = working.line
    water = water_line(line)
    ends = []
    for variation in VARIATIONS:
        even = _even_run(water, working.head_m, variation, fluid, slope)
        held = _held(line, working.head_m, slope, even, fluid)
        ends.append(_shortest(line, working.head_m, slope, even, held))
    lengths, names = zip(*ends, strict=True)
    return RunLimit(line.name, working.head_m, working.source, slope, lengths, names)


def row_variation(line: WaterLine, emitters: int, before: int, rise: float, head_m: float, fluid: Fluid) -> float:
    """Return the flow variation of a row fed between its emitters; 1 when an emitter gets nothing.

    Args:
        line: the emitter line [-]
        emitters: emitters of the whole row [-]
        before: emitters on the low side of the header [-]
        rise: rise of the row from its low to its high end, 0 or more [m/m]
        head_m: pressure head at the header [m]
        fluid: the water [-]
    """
    sides = [(before, -rise), (emitters - before, rise)]
    flows = [
        solve_lateral(line, count, head_m, fluid, line.spacing_m / 2.0, slope).emitter_flow_m3_s
        for count, slope in sides
        if count > 0
    ]
    together = np.concatenate(flows)
    return flow_variation(together) if np.any(together > 0.0) else 1.0


def place_spread(row: TypicalRow, working: Working, fluid: Fluid) -> PlaceSpread:
    """Return how even the typical row is with the header at its low end, middle, high end and best place."""
    water, count, rise = water_line(working.line), row.emitters(working.line), abs(row.rise)

    def spread(before: int) -> float:
        return row_variation(water, count, before, rise, working.head_m, fluid)

    step = max(count // 40, 1)
    tried = {before: spread(before) for before in sorted({0, count // 2, count, *range(0, count, step)})}
    best = min(tried, key=lambda before: (round(tried[before], 6), before))
    return PlaceSpread(
        row.bed,
        row.direction,
        working.line.name,
        working.head_m,
        working.source,
        tried[0],
        tried[count // 2],
        tried[count],
        tried[best],
        best * working.line.spacing,
    )


def all_runs(scenario: Scenario, rows: Sequence[TypicalRow], workings: Sequence[Working]) -> tuple[RunLimit, ...]:
    """Return the longest runs of all workings over the slopes of the site."""
    fluid = scenario_fluid(scenario)
    return tuple(run_limit(working, slope, fluid) for working in workings for slope in run_slopes(rows))

"""The pressures emitter lines work at: behind each regulator, from a tank, or at the rating; and which regulator suits.

The words of a verdict are complete sentences' ends, so that they can stand in a table.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from optimizer.problem.water import emitter_law, head_assembly
from optimizer.scenario.schema import EmitterLine, Regulator, Scenario, TankSupply
from optimizer.study.limits_beds import TypicalRow
from optimizer.units import Display


@dataclass(frozen=True)
class Working:
    """A pressure one emitter line is run at."""

    line: EmitterLine
    head_m: float
    source: str
    """regulator's name, "tank full", "tank empty" or "rating" """
    regulator: Regulator | None = None


@dataclass(frozen=True)
class RegulatorVerdict:
    """Whether a regulator suits an emitter line."""

    line: str
    regulator: str
    holds_m: float | None
    standing_m: float
    """pressure in the tubing with all valves shut, at the height of the supply"""
    least_rows: int
    """typical rows that must run at once to reach its least flow"""
    most_rows: int | None
    """typical rows that may run at once; None where no greatest flow is stated"""
    suits: bool
    best: bool
    why: str


def least_head(line: EmitterLine) -> float:
    """Return the least pressure the line's emitters work at [m]; 0 where nothing is stated."""
    return max(line.least_pressure, line.compensating.opens if line.compensating else 0.0)


def greatest_head(line: EmitterLine) -> float:
    """Return the greatest pressure the line may run at [m]."""
    return min(line.greatest_pressure, line.compensating.up_to if line.compensating else math.inf)


def _pressure_fault(line: EmitterLine, holds_m: float, show: Display) -> str:
    if holds_m > greatest_head(line):
        return f"too much: the line takes {show.pressure(greatest_head(line))} at most"
    if holds_m < least_head(line):
        return f"too little: the emitters need {show.pressure(least_head(line))}"
    return ""


def _supply_fault(scenario: Scenario, regulator: Regulator, row_flow: float, show: Display) -> str:
    """Return what the supply lacks for one row behind a regulator."""
    held = head_assembly(scenario, regulator).outlet_head(row_flow)
    if held >= regulator.holds - 1e-6:
        return ""
    needed = show.pressure(regulator.holds + regulator.needs_above)
    return f"the supply is too weak: it needs {needed} in front even for one row"


def _fault(scenario: Scenario, line: EmitterLine, regulator: Regulator, row: TypicalRow, row_flow: float) -> str:
    show = Display(scenario.units)
    fault = _pressure_fault(line, regulator.holds, show) or _supply_fault(scenario, regulator, row_flow, show)
    if fault:
        return fault
    if regulator.least_flow > row.rows * row_flow:
        return f"it needs {show.flow(regulator.least_flow)}; all rows together take {show.flow(row.rows * row_flow)}"
    if regulator.greatest_flow is not None and regulator.greatest_flow < row_flow:
        return f"one row takes {show.flow(row_flow)}, more than it may pass"
    return ""


def _verdict(scenario: Scenario, line: EmitterLine, regulator: Regulator, row: TypicalRow) -> RegulatorVerdict:
    flow = emitter_flow(line, regulator.holds)
    row_flow = row.nominal_flow(line, flow)
    fault = _fault(scenario, line, regulator, row, row_flow)
    greatest = regulator.greatest_flow
    share = flow / line.emitter_flow
    return RegulatorVerdict(
        line.name,
        regulator.name,
        regulator.holds,
        float(head_assembly(scenario, regulator).shut_heads()[-1]),
        max(math.ceil(regulator.least_flow / row_flow - 1e-9), 1),
        None if greatest is None else math.floor(greatest / row_flow + 1e-9),
        not fault,
        False,
        fault or ("suits" if abs(share - 1.0) < 0.005 else f"suits; emitters give {100.0 * share:.0f} % of rated"),
    )


def emitter_flow(line: EmitterLine, head_m: float) -> float:
    """Return the flow of one emitter at a head [m3/s]."""
    return float(emitter_law(line).flow(head_m))


def _without(scenario: Scenario, line: EmitterLine) -> RegulatorVerdict:
    """Return the verdict on fitting no regulator."""
    standing = float(head_assembly(scenario, None).shut_heads()[-1])
    show = Display(scenario.units)
    fits = standing <= greatest_head(line)
    hold = show.pressure(min(greatest_head(line), line.at_pressure))
    why = "none needed" if fits else f"fit one that holds about {hold}"
    return RegulatorVerdict(line.name, "none", None, standing, 1, None, fits, False, why)


def _with_best(verdicts: list[RegulatorVerdict], line: EmitterLine) -> list[RegulatorVerdict]:
    """Mark the suitable regulator whose pressure is nearest to the line's rating, by ratio."""
    fits = [item for item in verdicts if item.suits and item.holds_m is not None]
    if not fits:
        return verdicts
    best = min(fits, key=lambda item: (abs(math.log((item.holds_m or 1.0) / line.at_pressure)), item.regulator))
    return [RegulatorVerdict(**{**item.__dict__, "best": item is best}) for item in verdicts]


def regulator_verdicts(scenario: Scenario, row: TypicalRow) -> tuple[RegulatorVerdict, ...]:
    """Return for every emitter line which of the scenario's regulators suit it.

    Args:
        scenario: the scenario.
        row: the row whose flow counts.
    """
    found: list[RegulatorVerdict] = []
    for line in scenario.emitter_lines:
        regulators = scenario.supply.regulators
        verdicts = [_verdict(scenario, line, item, row) for item in regulators] or [_without(scenario, line)]
        found += _with_best(verdicts, line)
    return tuple(found)


def tank_heads(scenario: Scenario, row: TypicalRow) -> tuple[float, float]:
    """Return the standing pressure at the bed when a tank is full and nearly empty [m]."""
    supply = scenario.supply
    if not isinstance(supply, TankSupply):
        raise TypeError("the supply is no tank")
    empty = supply.outlet_height + row.fall_m
    return empty + supply.water_depth, empty


def workings(scenario: Scenario, line: EmitterLine, row: TypicalRow) -> tuple[Working, ...]:
    """Return the pressures a line is run at: behind each regulator it can bear, else as the supply gives it.

    Args:
        scenario: the scenario.
        line: one of its emitter lines.
        row: the row whose height counts below a tank.
    """
    if isinstance(scenario.supply, TankSupply) and not scenario.supply.regulators:
        full, empty = tank_heads(scenario, row)
        both = (Working(line, full, "tank full"), Working(line, empty, "tank empty"))
        return tuple(item for item in both if item.head_m > 0.0)
    show = Display(scenario.units)
    found = [
        Working(line, item.holds, item.name, item)
        for item in scenario.supply.regulators
        if not _pressure_fault(line, item.holds, show)
    ]
    return tuple(found) or (Working(line, line.at_pressure, "rating"),)

"""What the water of a scenario allows, before any plan is made; and what a finished plan leaves to spare."""

from __future__ import annotations

from dataclasses import dataclass

from optimizer.plan import Plan
from optimizer.problem.water import scenario_fluid
from optimizer.scenario.schema import Scenario, TankSupply
from optimizer.study.limits_beds import TypicalRow, typical_rows
from optimizer.study.limits_headers import HeaderSizes, HeaderTask, header_sizes
from optimizer.study.limits_heads import RegulatorVerdict, Working, regulator_verdicts, workings
from optimizer.study.limits_runs import PlaceSpread, RunLimit, all_runs, place_spread
from optimizer.study.limits_supply import RowsFed, rows_fed
from optimizer.study.limits_tank import TankAnswer, tank_answer
from optimizer.study.limits_zones import ZoneAnswers, zone_answers

__all__ = ["LimitsReport", "limits", "zone_answers"]


@dataclass(frozen=True)
class LimitsReport:
    """All answers about the water of a scenario."""

    rows: tuple[TypicalRow, ...]
    runs: tuple[RunLimit, ...]
    regulators: tuple[RegulatorVerdict, ...]
    fed: tuple[RowsFed, ...]
    places: tuple[PlaceSpread, ...]
    headers: tuple[HeaderSizes, ...]
    tanks: tuple[TankAnswer, ...]
    zones: tuple[ZoneAnswers, ...]


def _best_workings(scenario: Scenario, row: TypicalRow) -> list[Working]:
    """Return one pressure for every line that can be run: behind its best regulator, or the tank's least."""
    best = {item.line: item.regulator for item in regulator_verdicts(scenario, row) if item.best}
    found: list[Working] = []
    for line in scenario.emitter_lines:
        several = workings(scenario, line, row)
        named = [item for item in several if item.source == best.get(line.name)]
        found += named[:1] or several[-1:]
    return found


def _zone_rows(fed: RowsFed) -> int:
    """Return the rows of a zone: all of the bed, or as many as are fed at once, at least one."""
    most = fed.now.rows
    return max(fed.rows_wanted if most is None else min(fed.rows_wanted, most), 1)


def limits(scenario: Scenario, plan: Plan | None = None) -> LimitsReport:
    """Return longest runs, rows fed at once, suitable regulators, header sizes and tank answers of a scenario.

    Args:
        scenario: a loaded scenario.
        plan: a plan made from it, if its zones are to be answered for.

    Raises:
        ScenarioError: no row fits, or the plan is not of this scenario.
        HydraulicError: some water cannot be solved.
    """
    rows, fluid = typical_rows(scenario), scenario_fluid(scenario)
    each = [(row, working) for row in rows for working in _best_workings(scenario, row)]
    fed = tuple(rows_fed(scenario, working, row) for row, working in each)
    tasks = [HeaderTask(row, working, _zone_rows(found)) for (row, working), found in zip(each, fed, strict=True)]
    tanks = isinstance(scenario.supply, TankSupply) and not scenario.supply.regulators
    every = [working for line in scenario.emitter_lines for working in workings(scenario, line, rows[0])]
    return LimitsReport(
        rows=rows,
        runs=all_runs(scenario, rows, every),
        regulators=regulator_verdicts(scenario, rows[0]),
        fed=fed,
        places=tuple(place_spread(row, working, fluid) for row, working in each),
        headers=tuple(header_sizes(scenario, task) for task in tasks),
        tanks=tuple(tank_answer(scenario, line, row) for row in rows for line in scenario.emitter_lines if tanks),
        zones=() if plan is None else zone_answers(plan, scenario),
    )

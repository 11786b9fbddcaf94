"""Why nothing fits, said in the user's own units."""

from __future__ import annotations

import numpy as np

from optimizer.choose import reasons
from optimizer.choose.designs import ChoiceSet, Design
from optimizer.choose.evaluate import Evaluator, RuledOutError
from optimizer.choose.judge import Asked, ZoneJudge
from optimizer.choose.levers import working_levers
from optimizer.choose.manybeds.search import GardenResult
from optimizer.choose.search import SearchResult
from optimizer.choose.waterlimits import water_limits
from optimizer.plan import Lever, Outcome, Status
from optimizer.problem.case import Case, Run
from optimizer.scenario.schema import Scenario
from optimizer.units import Display, whole


def explain(scenario: Scenario, choices: ChoiceSet, result: SearchResult) -> Outcome:
    """Return an outcome without a plan that says what stands in the way.

    Args:
        scenario: the scenario.
        choices: what was open.
        result: a search that found nothing.
    """
    sentences = tuple(_sentence(scenario, choices, reason, count) for reason, count in result.ruled_out)
    if not choices.directions or not any(plan.rows for direction in choices.directions for plan in direction.plans):
        sentences = ("No row fits: margins, obstacles and row spacing leave no room in the bed.",)
    levers = () if result.status is not Status.IMPOSSIBLE else _levers(scenario, result)
    return Outcome(result.status, None, sentences, levers, result.ruled_out)


def explain_garden(scenario: Scenario, result: GardenResult) -> Outcome:
    """Return an outcome without a plan that says what stands in the way of all layouts of several beds.

    Args:
        scenario: the scenario.
        result: a search that found nothing.
    """
    sentences = tuple(f"{whole(count)} of the combinations: {reason}." for reason, count in result.ruled_out)
    if not result.combinations:
        sentences = ("No row fits in one of the beds: margins, obstacles and row spacing leave no room.",)
    levers = () if result.status is not Status.IMPOSSIBLE else _levers(scenario, result)
    return Outcome(result.status, None, sentences, levers, result.ruled_out)


def _levers(scenario: Scenario, result: SearchResult | GardenResult) -> tuple[Lever, ...]:
    why = [reason for reason, _ in result.ruled_out]
    return tuple(lever for lever, _ in working_levers(scenario, why))


def _first_case(choices: ChoiceSet) -> tuple[Case, Design] | None:
    evaluator = Evaluator(choices)
    for design in choices.designs():
        try:
            return evaluator.bound(design)[0], design
        except RuledOutError:
            continue
    return None


def _sentence(scenario: Scenario, choices: ChoiceSet, reason: str, count: int) -> str:
    display = Display(scenario.units)
    text = f"{whole(count)} of the designs: {reason}."
    found = _first_case(choices)
    if reason == reasons.TOO_MUCH_FLOW and found is not None:
        case = found[0]
        limits = water_limits(case)
        judge = ZoneJudge()
        rows = [Run(0, row, row) for row in range(case.row_count)]
        figures = judge.judge(Asked(case, limits, judge.take_offs(case, 0), 0, rows))
        least = display.flow(float(np.nanmax(figures.flow_m3_s, initial=0.0)))
        gives = display.flow(limits.usable_m3_s)
        return f"{text} The supply gives {gives} at working pressure; a single row takes up to {least}."
    if reason == reasons.LINE_SHORT:
        longest = max((roll.length for line in scenario.emitter_lines for roll in line.rolls), default=0.0)
        joints = scenario.limits.joints_per_lateral
        return f"{text} The longest roll is {display.length(longest)}; joints_per_lateral is {joints}."
    return text

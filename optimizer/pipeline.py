"""The whole way from a scenario to a verified plan."""

from __future__ import annotations

from collections.abc import Callable

from optimizer.build import build_plan
from optimizer.choose.chosen import Chosen, Proof
from optimizer.choose.designs import choice_set
from optimizer.choose.explain import explain, explain_garden
from optimizer.choose.manybeds.chosen import chosen_garden
from optimizer.choose.manybeds.search import GardenSearch
from optimizer.choose.onebed import chosen_bed
from optimizer.choose.search import Progress, Search, SearchLimits
from optimizer.errors import Problem, ScenarioError, VerificationError
from optimizer.plan import Alternative, Outcome, Plan
from optimizer.routes import GroundError
from optimizer.rows import CropOrderError
from optimizer.scenario.schema import Scenario
from optimizer.verification import verify

Report = Callable[[Progress], None]


def design(scenario: Scenario, limits: SearchLimits | None = None, report: Report | None = None) -> Outcome:
    """Choose the best layout for a scenario and return it verified.

    Args:
        scenario: a loaded scenario.
        limits: how long to search; to the proof unless given.
        report: told about progress, if given.

    Raises:
        ScenarioError: the scenario asks for what this program cannot lay out.
        VerificationError: the plan found did not pass the independent check.
    """
    planned = _one_bed if len(scenario.beds) == 1 else _several_beds
    try:
        return planned(scenario, limits or SearchLimits(), report)
    except CropOrderError as error:
        number = [bed.name for bed in scenario.beds].index(error.bed)
        raise ScenarioError("scenario", [Problem(f"beds.{number}.crops", str(error))]) from None
    except GroundError as error:
        raise ScenarioError("scenario", [Problem("supply.at", str(error))]) from None


def _one_bed(scenario: Scenario, limits: SearchLimits, report: Report | None) -> Outcome:
    choices = choice_set(scenario, scenario.beds[0])
    search = Search(choices, limits, report)
    result = search.run()
    if result.best is None:
        return explain(scenario, choices, result)
    plan = _verified(_undisturbed(search, lambda: chosen_bed(search, result, choices)), scenario)
    return Outcome(result.status, plan, ruled_out=result.ruled_out)


def _several_beds(scenario: Scenario, limits: SearchLimits, report: Report | None) -> Outcome:
    search = GardenSearch(scenario, limits, report)
    result = search.run()
    if result.best is None:
        return explain_garden(scenario, result)
    chosen, proof, others = _undisturbed(search, lambda: chosen_garden(search))
    return Outcome(proof.status, _verified((chosen, proof, others), scenario), ruled_out=proof.ruled_out)


Made = tuple[Chosen, Proof, tuple[Alternative, ...]]


def _undisturbed(search: Search | GardenSearch, made: Callable[[], Made]) -> Made:
    """Return what was chosen; an interruption only cuts short the comparison with other kinds of layout."""
    try:
        return made()
    except KeyboardInterrupt:
        search.stopped = True
        return made()


def _verified(made: Made, scenario: Scenario) -> Plan:
    plan = build_plan(*made)
    check = verify(plan, scenario)
    if not check.holds:
        raise VerificationError(
            "the plan did not pass its check:\n" + "\n".join(f"  {item}" for item in check.findings)
        )
    return plan

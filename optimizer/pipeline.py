"""The whole way from a scenario to a verified plan."""

from __future__ import annotations

from collections.abc import Callable

from optimizer.build import build_plan
from optimizer.choose.designs import choice_set
from optimizer.choose.explain import explain
from optimizer.choose.onebed import chosen_bed
from optimizer.choose.search import Progress, Search, SearchLimits
from optimizer.errors import Problem, ScenarioError, VerificationError
from optimizer.plan import Outcome
from optimizer.rows import CropOrderError
from optimizer.scenario.schema import Scenario
from optimizer.verification import verify


def design(
    scenario: Scenario, limits: SearchLimits | None = None, report: Callable[[Progress], None] | None = None
) -> Outcome:
    """Choose the best layout for a scenario and return it verified.

    Args:
        scenario: a loaded scenario.
        limits: how long to search; to the proof unless given.
        report: told about progress, if given.

    Raises:
        ScenarioError: the scenario asks for what this program cannot lay out.
        VerificationError: the plan found did not pass the independent check.
    """
    if len(scenario.beds) > 1:
        message = "several beds are not planned together yet; write one scenario for each bed"
        raise ScenarioError("scenario", [Problem("beds", message)])
    try:
        choices = choice_set(scenario, scenario.beds[0])
    except CropOrderError as error:
        raise ScenarioError("scenario", [Problem("beds.0.crops", str(error))]) from None
    search = Search(choices, limits or SearchLimits(), report)
    result = search.run()
    if result.best is None:
        return explain(scenario, choices, result)
    try:
        plan = build_plan(*chosen_bed(search, result, choices))
    except KeyboardInterrupt:
        # The best is known; only the comparison with other kinds of layout is cut short.
        search.stopped = True
        plan = build_plan(*chosen_bed(search, result, choices))
    check = verify(plan, scenario)
    if not check.holds:
        raise VerificationError(
            "the plan did not pass its check:\n" + "\n".join(f"  {item}" for item in check.findings)
        )
    return Outcome(result.status, plan, ruled_out=result.ruled_out)

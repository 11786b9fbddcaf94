"""Limits that fall between what the tables say of a zone and what its network does, solved emitter by emitter.

No published source: the limit is set half way between the two figures of the plan first found, on the side the tables
hold and the network breaks, so that this plan must not be handed out again.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from tiny_gardens import garden

from optimizer.choose.designs import choice_set
from optimizer.choose.judge import Asked
from optimizer.choose.laidzones import broken_limit, solved_zone
from optimizer.choose.search import Search, SearchLimits
from optimizer.pipeline import design
from optimizer.plan import Status

# Gardens in which the tables read the flow variation too low, or the least pressure too high.
UNEVEN = (("path", 1), ("path", 2), ("tank", 0), ("barrier", 1))
WEAK = (("velocity", 2), ("velocity", 1), ("meter", 2), ("slope", 0), ("feet", 0))


def searched(scenario):
    search = Search(choice_set(scenario, scenario.beds[0]), SearchLimits(), None)
    return search, search.run()


def both_figures(search, item):
    """Return (from the tables, from the network) of each zone: flow variation and least head."""
    judge, case = search.evaluator.judge, item.case
    found = []
    for zone, header in enumerate(item.laying.headers):
        asked = Asked(
            case,
            search.evaluator.limits(case),
            judge.take_offs(case, header.run.header),
            header.run.header,
            [header.run],
        )
        table = judge._solved([asked], [case.assembly])[0]
        exact = solved_zone(item.laying, zone)[0]
        variations = table.flow_variation[0], exact.flow_variation[0]
        found.append((variations, (table.least_head_m[0], exact.least_head_m[0])))
    return found


def limited(kind: str, seed: int, figure: str):
    """Return a garden with a limit between the two readings of its best plan."""
    scenario = garden(kind, seed)
    search, result = searched(scenario)
    figures = both_figures(search, result.best)
    if figure == "flow_variation":
        low, high = max((variation for variation, _ in figures), key=lambda pair: pair[1])
        assert low < high - 2e-8
        limits = scenario.limits.model_copy(update={"flow_variation": (low + high) / 2, "emission_uniformity": None})
        return scenario.model_copy(update={"limits": limits})
    high, low = min((head for _, head in figures), key=lambda pair: pair[1])
    assert low < high - 4e-6
    line = result.best.case.line
    lines = tuple(
        item.model_copy(update={"least_pressure": (low + high) / 2}) if item.name == line.name else item
        for item in scenario.emitter_lines
    )
    return scenario.model_copy(update={"emitter_lines": lines})


@pytest.mark.parametrize(
    ("kind", "seed", "figure"),
    [(*item, "flow_variation") for item in UNEVEN] + [(*item, "least_pressure") for item in WEAK],
)
def test_the_search_goes_on_past_a_plan_that_fails_its_exact_check(kind, seed, figure):
    scenario = limited(kind, seed, figure)
    search, result = searched(scenario)
    assert search.evaluator.failed, "the tables alone ruled the plan out"
    assert result.status in (Status.PROVEN_BEST, Status.IMPOSSIBLE)
    if result.best is not None:
        zones = range(result.best.zones)
        assert [broken_limit(result.best.laying, zone) for zone in zones] == [""] * result.best.zones
        assert result.bound == result.best.goals
    outcome = design(scenario)  # raises where a plan does not pass its check
    assert (outcome.plan is None) == (result.best is None)


def test_a_zone_that_holds_a_failed_one_is_not_tried_again():
    scenario = garden("small supply", 0)
    search, result = searched(scenario)
    case = result.best.case
    run = result.best.laying.headers[0].run
    search.evaluator.failed[case] = [(run, tuple(range(run.first, run.last + 1)))]
    again = search.evaluator.evaluate(result.best.design, case, 2)
    for header in again.laying.headers:
        assert header.run != run
        wider = header.run.header == run.header and header.run.first <= run.first and run.last <= header.run.last
        assert not wider
    assert again.goals >= replace(result.best).goals

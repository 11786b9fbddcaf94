"""The invented gardens: sound, varied and the same every time."""

import pytest
from benchmark_files import benchmark

gardens = benchmark("gardens")


@pytest.fixture(scope="module")
def scenarios():
    return [item.scenario() for item in gardens.gardens()]


def test_there_are_at_least_forty_and_all_differ():
    texts = [item.text for item in gardens.gardens()]
    assert len(set(texts)) == len(texts) >= 40


def test_the_same_seed_gives_the_same_gardens_and_another_seed_others():
    assert gardens.gardens(6) == gardens.gardens(6)
    assert gardens.garden(3, 1).text != gardens.garden(3, 2).text


def test_they_are_varied(scenarios):
    assert {scenario.units for scenario in scenarios} == {"metric", "us"}
    assert {scenario.supply.kind for scenario in scenarios} == {"tap", "pump"}
    assert {len(scenario.beds[0].crops) for scenario in scenarios} == {1, 2, 3}
    assert {len(scenario.emitter_lines) for scenario in scenarios} == {1, 2, 3}
    assert {len(scenario.beds[0].outline) for scenario in scenarios} == {4, 6}
    assert {scenario.limits.joints_per_lateral for scenario in scenarios} == {0, 1}
    some = {
        "trees": [bool(scenario.obstacles) for scenario in scenarios],
        "slope": [scenario.site.slope > 0 for scenario in scenarios],
        "owned": [any(line.owned for line in scenario.emitter_lines) for scenario in scenarios],
        "few rolls": [
            any(r.available for line in scenario.emitter_lines for r in line.rolls) for scenario in scenarios
        ],
        "double lines": [any(crop.lines_per_row > 1 for crop in scenario.beds[0].crops) for scenario in scenarios],
        "compensating": [any(line.compensating for line in scenario.emitter_lines) for scenario in scenarios],
        "fill": [any(crop.fill for crop in scenario.beds[0].crops) for scenario in scenarios],
    }
    for feature, has in some.items():
        assert 2 <= sum(has) < len(has), feature

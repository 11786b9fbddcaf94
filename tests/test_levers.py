"""What is offered when nothing fits: the change must work when it is made."""

from __future__ import annotations

import pytest

from optimizer import design
from optimizer.choose.levers import working_levers
from optimizer.plan import Status
from optimizer.scenario import parse_scenario

TEXT = """
title = "Small bed"
units = "metric"

[supply]
kind = "tap"
at = "-1 m, 0 m"
static_pressure = "3 bar"
open_flow = "6 L/min"
regulators = [{ name = "regulator", holds = "1 bar", least_flow = "0.1 L/min" }]

[[beds]]
name = "bed"
rectangle = "6 m x 2 m"
directions = ["along"]

[[beds.crops]]
name = "bean"
row_spacing = "40 cm"
rows = 4

[[emitter_lines]]
name = "dripline"
bore = "13.8 mm"
spacing = "30 cm"
flow = "2 L/h"
at_pressure = "1 bar"
greatest_pressure = "3 bar"
rolls = [{ length = "50 m", price = 30 }]

[[blank_tubes]]
name = "tube"
bore = "13.6 mm"
greatest_pressure = "4 bar"
rolls = [{ length = "25 m", price = 15 }]

[limits]
header_step = "3 m"
"""


def changed(old: str, new: str) -> str:
    assert old in TEXT
    return TEXT.replace(old, new)


# Four rows of 18 emitters take 4 x 0.6 L/min = 2.4 L/min at 1 bar.
CASES = {
    "rolls shorter than every row": changed('length = "50 m", price = 30', 'length = "2 m", price = 3'),
    "timer with one outlet": changed("[limits]", "[limits]\nzones_at_most = 1").replace("6 L/min", "3 L/min"),
    "tap below one row": changed('open_flow = "6 L/min"', 'open_flow = "0.3 L/min"'),
    "pressure below the regulator": changed('static_pressure = "3 bar"', 'static_pressure = "0.9 bar"'),
    "tubing that would burst": changed('greatest_pressure = "3 bar"', 'greatest_pressure = "0.8 bar"'),
    "label shorter than the rows": changed('at_pressure = "1 bar"\n', 'at_pressure = "1 bar"\nlongest_run = "1 m"\n'),
    "parts that need more flow": changed('least_flow = "0.1 L/min"', 'least_flow = "30 L/min"'),
}


@pytest.mark.parametrize("name", sorted(CASES))
def test_the_first_lever_makes_it_possible(name):
    scenario = parse_scenario(CASES[name], name)
    outcome = design(scenario)
    assert outcome.plan is None
    assert outcome.status is Status.IMPOSSIBLE
    assert outcome.reasons
    reasons = [reason for reason, _ in outcome.ruled_out]
    lever, relaxed = next(iter(working_levers(scenario, reasons)))
    assert lever == outcome.levers[0]
    again = design(relaxed)
    assert again.plan is not None
    assert not again.plan.goal("requests missing")


def test_several_different_levers_are_ranked():
    outcome = design(parse_scenario(CASES["rolls shorter than every row"], "short"))
    assert len({lever.field_path for lever in outcome.levers}) >= 3


def test_the_written_value_is_the_one_that_was_tried():
    # 3 L/min open at 3 bar leave 0.75 x 3 sqrt((3 - 1.34) / 3) = 1.67 L/min to plan on: two zones of two rows.
    outcome = design(parse_scenario(CASES["timer with one outlet"], "timer"))
    lever = outcome.levers[0]
    assert (lever.field_path, lever.new_value) == ("limits.zones_at_most", "2")
    text = CASES["timer with one outlet"].replace("zones_at_most = 1", f"zones_at_most = {lever.new_value}")
    plan = design(parse_scenario(text, "timer again")).plan
    assert plan is not None
    assert len(plan.zones) == 2

"""The search against the whole choice written down once more, as a single model for another solver engine."""

import pytest
from benchmark_files import benchmark

from optimizer.choose.designs import choice_set
from optimizer.choose.search import Search, SearchLimits
from optimizer.plan import Status
from optimizer.scenario.load import parse_scenario

GARDEN = """
title = "small"
units = "metric"
[supply]
kind = "tap"
at = "{at}"
static_pressure = "3 bar"
open_flow = "{flow}"
[[supply.regulators]]
name = "regulator"
holds = "1 bar"
[[beds]]
name = "bed"
rectangle = "12 m x 6 m"
[[beds.crops]]
name = "leek"
row_spacing = "80 cm"
rows = 7
[[emitter_lines]]
name = "line 30"
bore = "13.8 mm"
spacing = "30 cm"
flow = "2 L/h"
at_pressure = "1 bar"
exponent = 0.48
greatest_pressure = "4 bar"
rolls = [{{ length = "25 m", price = 18.00 }}, {{ length = "40 m", price = 26.00, available = 1 }}]
owned = ["9 m"]
[[emitter_lines]]
name = "line 50"
bore = "13.8 mm"
spacing = "50 cm"
flow = "2.2 L/h"
at_pressure = "1 bar"
exponent = 0.48
greatest_pressure = "4 bar"
rolls = [{{ length = "30 m", price = 22.00 }}]
[[blank_tubes]]
name = "tube"
bore = "17 mm"
greatest_pressure = "4 bar"
rolls = [{{ length = "10 m", price = 8.00 }}, {{ length = "25 m", price = 17.00 }}]
[[fittings]]
kind = "tube coupler"
price = 0
[limits]
header_step = "4 m"
shortest_joined_part = "10 cm"
"""


@pytest.mark.parametrize(
    ("at", "flow"), [("-1 m, -1 m", "8 L/min"), ("6 m, 3 m", "8 L/min"), ("14 m, 2 m", "30 L/min")]
)
def test_both_prove_the_same_money(at, flow):
    scenario = parse_scenario(GARDEN.format(at=at, flow=flow), "small")
    result = Search(choice_set(scenario, scenario.beds[0]), SearchLimits(), None).run()
    assert result.status is Status.PROVEN_BEST
    single = benchmark("single_model")
    model = single.SingleModel(single.options(choice_set(scenario, scenario.beds[0])))
    found = model.solve(60.0, 1)
    assert found.status == "OPTIMAL"
    assert result.best.goals.money_ct == round(found.money_ct)


def test_what_the_model_cannot_say_exactly_is_refused():
    scenario = parse_scenario(GARDEN.format(at="0 m, 0 m", flow="8 L/min").replace("price = 0", "price = 1"), "small")
    with pytest.raises(ValueError, match="free tube couplers"):
        benchmark("single_model").options(choice_set(scenario, scenario.beds[0]))

"""The layout by rule of thumb: one garden worked by hand, others held against the plan check and exact valuing."""

import dataclasses
import math

import pytest
from benchmark_files import benchmark

from optimizer.choose.designs import choice_set
from optimizer.choose.evaluate import Evaluator, RuledOutError
from optimizer.choose.rulebased import rule_based
from optimizer.choose.search import Search, SearchLimits
from optimizer.pipeline import design
from optimizer.plan import Status
from optimizer.problem.bill import tube_pieces
from optimizer.scenario.load import parse_scenario

FITTINGS = {
    "take-off": 0.90,
    "end closure": 0.50,
    "stake": 0.25,
    "zone valve": 9.00,
    "elbow": 1.20,
    "header end": 1.50,
    "tee": 1.50,
    "tube coupler": 1.00,
}

PLAIN = """
title = "four rows"
units = "metric"

[supply]
kind = "tap"
at = "-0.8 m, 0.2 m"
static_pressure = "3 bar"
open_flow = "{flow}"

[[supply.regulators]]
name = "regulator"
holds = "1 bar"
price = 12.00

[[beds]]
name = "bed"
rectangle = "10.4 m x 3.4 m"
edge_margin = "0.2 m"
row_end_margin = "0.2 m"

[[beds.crops]]
name = "leek"
row_spacing = "1 m"
rows = 4

[[emitter_lines]]
name = "line"
bore = "13.8 mm"
spacing = "50 cm"
flow = "2 L/h"
at_pressure = "1 bar"
exponent = 0.5
greatest_pressure = "4 bar"
rolls = [{{ length = "25 m", price = 10.00 }}]

[[blank_tubes]]
name = "tube"
bore = "21 mm"
greatest_pressure = "4 bar"
rolls = [{{ length = "10 m", price = 8.00 }}]
"""


def four_rows(flow="30 L/min", more=""):
    prices = "\n".join(f'[[fittings]]\nkind = "{kind}"\nprice = {price}' for kind, price in FITTINGS.items())
    scenario = parse_scenario(f"{PLAIN.format(flow=flow)}\n{prices}\n{more}", "four rows")
    return choice_set(scenario, scenario.beds[0])


def test_four_rows_worked_by_hand():
    choices = four_rows()
    item = rule_based(choices, Evaluator(choices))
    assert choices.directions[item.design.direction].name == "along"
    assert [place.u for place in item.design.places] == [-math.inf]  # the tap stands at the low end of the rows
    # Rows 10 m long are 20 emitter spacings; two of them come out of a 25 m roll and leave 5 m to keep.
    assert [[cut.units for cut in use.cuts] for use in item.line.plan.uses] == [[20, 20], [20, 20]]
    # One header over 3 m of rows with 0.1 m tail at both ends, and 1 m of mainline from the tap.
    assert sorted(piece.units for piece in tube_pieces(item.laying)) == [10, 32]
    stakes = 4 * 8 + 3 + 2  # every 1.5 m and one more: laterals of 10 m, header of 3 m, mainline of 1 m
    fittings = 4 * 90 + 4 * 50 + 900 + 120 + 150 + 25 * stakes
    assert item.goals[:4] == (0, 2 * 1000 + 800 + 1200 + fittings, 4_200_000, 4 + 4 + 3)


def test_a_weak_tap_is_filled_row_by_row_in_order():
    # A row takes 20 emitters of 2 L/h; 75 % of the flow at working pressure, which is below the open flow.
    choices = four_rows("2.6 L/min")
    item = rule_based(choices, Evaluator(choices))
    runs = [(run.first, run.last) for run in (header.run for header in item.laying.headers)]
    sizes = [last - first + 1 for first, last in runs]
    assert [first for first, _ in runs] == [0, *(last + 1 for _, last in runs[:-1])]
    assert runs[-1][1] == 3
    assert len(runs) > 1
    assert sizes == sorted(sizes, reverse=True)  # equal rows: every zone but the last is as full as the first
    for size in sizes:
        assert size * 20 * 2.0 / 60.0 <= 0.75 * 2.6 * 1.01


def test_nothing_by_rule_comes_with_the_reason():
    # The shortest row there is, 3 m across the bed, takes 6 emitters of 2 L/h: 0.2 L/min.
    choices = four_rows("0.2 L/min")
    with pytest.raises(RuledOutError, match="flow"):
        rule_based(choices, Evaluator(choices))


def test_rows_go_across_where_the_timer_has_too_few_outlets_along():
    # Along, 80 emitters of 2 L/h need 2.7 L/min; across, 4 rows of 6 emitters need 0.8 L/min.
    few = four_rows("2.6 L/min", "[limits]\nzones_at_most = 1")
    item = rule_based(few, Evaluator(few))
    assert few.directions[item.design.direction].name == "across"
    assert item.zones == 1
    none = four_rows("0.8 L/min", "[limits]\nzones_at_most = 1")
    with pytest.raises(RuledOutError):
        rule_based(none, Evaluator(none))


SMALL = (0, 2, 5, 7, 12, 26, 28, 44)


@pytest.mark.parametrize("number", SMALL)
def test_its_layouts_pass_the_plan_check(number):
    """The check knows nothing of the choice; `design` raises if it finds anything."""
    outcome = design(benchmark("gardens").garden(number).scenario(), SearchLimits(seconds=1e-9))
    assert outcome.status is Status.BEST_FOUND
    assert outcome.plan is not None


@pytest.mark.parametrize("number", SMALL)
def test_it_is_never_better_than_bounds_or_the_exact_value_of_its_design(number):
    scenario = benchmark("gardens").garden(number).scenario()
    choices = choice_set(scenario, scenario.beds[0])
    evaluator = Evaluator(choices)
    item = rule_based(choices, evaluator)
    assert item.bound <= item.goals
    exact = evaluator.evaluate(item.design, item.case, 1)
    assert exact.goals <= item.goals
    assert exact.bound <= item.goals


def test_the_search_holds_it_until_something_better_is_valued():
    search = Search(four_rows(), SearchLimits(seconds=1e-9), None)
    early = search.run()
    assert early.best is search.first[0]
    assert early.evaluated == ()
    assert early.status is Status.BEST_FOUND
    assert early.bound is not None
    assert early.bound < early.best.goals
    whole = Search(four_rows(), SearchLimits(), None).run()
    assert whole.status is Status.PROVEN_BEST
    assert whole.best in whole.evaluated
    assert early.bound <= whole.best.goals <= early.best.goals


def test_a_wish_for_one_product_is_kept():
    text = PLAIN.format(flow="30 L/min") + PLAIN.format(flow="30 L/min")[
        PLAIN.format(flow="30 L/min").index("[[emitter_lines]]") :
    ].replace('"line"', '"other"').replace('"tube"', '"other tube"')
    scenario = parse_scenario(text, "two products")
    choices = choice_set(scenario, scenario.beds[0])
    found = [rule_based(choices, Evaluator(choices), line).design for line in (None, 0, 1)]
    assert [item.line for item in found] == [0, 0, 1]
    assert dataclasses.replace(found[2], line=0, number=found[0].number) == found[0]

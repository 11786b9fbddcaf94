"""How much is asked for, against the least that can work by hand, and how it is said."""

from __future__ import annotations

import math

import pytest
from impossible_gardens import CASES, TEXT

from optimizer.choose.levers import least_amount
from optimizer.choose.relax import CHANGES, with_zones
from optimizer.choose.relax_edits import edits
from optimizer.choose.relax_plan import fewer_rows
from optimizer.choose.relax_products import stronger_tubing
from optimizer.choose.relax_values import grown, lowered, raised, rounded, shrunk, written
from optimizer.scenario import parse_scenario
from optimizer.units import System

BAR_M = 1e5 / 9806.65
L_PER_MIN = 1.0 / 60_000.0
# Halving seven times leaves 1/128 of the way, on a scale of factors for what grows: 40^(1/128) is 2.9 %.
NEAR = 1.035
ROW_FLOW = 38.0 / 3.6e6  # 19 emitters of 2 L/h
WHAT = {change.what: change for change in CHANGES}

# Least that works, by hand; (case, change, field, least).
LEAST = [
    # The header 3 m from the end of the rows leaves 10 spacings of 30 cm on its longer side.
    ("rolls shorter than every row", "buy longer rolls of emitter line", "emitter_lines.0.rolls.0.length", 3.0),
    ("label shorter than the rows", "use a line with a longer run on its label", "emitter_lines.0.longest_run", 3.0),
    # Two rolls must hold two rows of 5.70 m each.
    ("few rolls to be had", "buy longer rolls of emitter line", "emitter_lines.0.rolls.0.length", 11.4),
    # Four laterals of 3.00 m from two of the pieces, two of 2.70 m from the third, two more from another.
    ("owned pieces only", "get another piece of emitter line", "emitter_lines.0.owned.-1", 5.4),
    # The regulator holds 1 bar, on level ground.
    ("tubing that would burst", "use tubing of a higher rating", "emitter_lines.0.greatest_pressure", BAR_M),
    # Without a regulator 3 bar stand in the line.
    ("no regulator before weak tape", "use tubing of a higher rating", "emitter_lines.0.greatest_pressure", 3 * BAR_M),
    # Regulator and what it needs in front: 1.00 + 0.34 bar, and next to nothing for so little flow of an open tap.
    ("pressure below the regulator", "raise the pressure of the supply", "supply.static_pressure", BAR_M + 3.5),
    # 38 L/h through 0.3 m/s: a bore of sqrt(4 q / pi v).
    ("thin mainline", "use wider blank tube", "blank_tubes.0.bore", math.sqrt(4 * ROW_FLOW / (math.pi * 0.3))),
    ("thin mainline", "let water run faster in blank tube", "limits.velocity", 4 * ROW_FLOW / (math.pi * 0.006**2)),
    # One row of 0.63 L/min through the meter.
    ("meter below one row", "get a greater flow agreed", "supply.greatest_flow", ROW_FLOW),
]
# Greatest value that works, by hand.
MOST = [
    # A double row is 30 cm wide: (2 - 0.3) / 2 m is left at each side.
    ("margins leave no room for double rows", "let rows stand nearer to the edge", "beds.0.edge_margin", 0.85),
    # A stretch of 50 cm is left of 6 m.
    ("row ends leave no room", "let rows end nearer to the edge", "beds.0.row_end_margin", 2.75),
    ("row ends leave no room", "water shorter stretches of row", "limits.shortest_row", 0.4),
    ("tubing that would burst", "fit regulators that hold less", "supply.regulators.0.holds", 0.8 * BAR_M),
    ("no regulator before weak tape", "fit a regulator", "supply.regulators.0.holds", 1.2 * BAR_M),
    # Four rows in one zone.
    (
        "regulator that needs more flow",
        "fit parts that work at less flow",
        "supply.regulators.0.least_flow",
        4 * ROW_FLOW,
    ),
    ("pump that needs more flow", "fit parts that work at less flow", "supply.least_flow", 4 * ROW_FLOW),
    # One row within the 0.4 L/min of the meter.
    ("meter below one row", "use emitter line that gives less", "emitter_lines.0.emitter_flow", 0.4 * L_PER_MIN / 19),
    # 1.27 times the spread of making and the flow lost to friction, at most the 4 % that are allowed.
    ("uniformity out of reach", "use emitter line with more equal emitters", "emitter_lines.0.cv", 0.04 / 1.27),
]


def at(scenario, path):
    """Return a value of a scenario by its path."""
    place = scenario
    for key in path.split("."):
        place = place[int(key)] if isinstance(place, tuple) else getattr(place, key)
    return place


def relaxed(name, what):
    scenario = parse_scenario(CASES[name], name)
    return scenario, least_amount(scenario, WHAT[what])


@pytest.mark.parametrize(("name", "what", "field", "least"), LEAST, ids=[f"{name}-{what}" for name, what, *_ in LEAST])
def test_what_grows_grows_by_about_the_least(name, what, field, least):
    _, found = relaxed(name, what)
    # Lines are pressed a little less at their ends than at 1 bar: rows may take 2 % less than rated.
    assert 0.98 * least <= at(found, field) <= NEAR * least


@pytest.mark.parametrize(("name", "what", "field", "most"), MOST, ids=[f"{name}-{what}" for name, what, *_ in MOST])
def test_what_shrinks_shrinks_by_about_the_least(name, what, field, most):
    _, found = relaxed(name, what)
    assert most / (NEAR + 0.015) <= at(found, field) <= 1.02 * most


def test_only_the_product_that_needs_it_is_changed():
    """Two lines would burst; to have one of a higher rating is enough."""
    old, new = relaxed("two lines that would burst", "use tubing of a higher rating")
    assert len(edits(old, new)) == 1


def test_tubing_strong_enough_is_left_alone():
    scenario = parse_scenario(CASES["tubing that would burst"], "")
    assert [edit.path for edit in edits(scenario, stronger_tubing(scenario, 0.1))] == [
        "emitter_lines.0.greatest_pressure"
    ]


def two_beds():
    bed = TEXT[TEXT.index("[[beds]]") : TEXT.index("[[emitter_lines]]")]
    second = bed.replace('name = "bed"', 'name = "far bed"\nat = "0 m, 4 m"').replace("rows = 4", "fill = true")
    return parse_scenario(TEXT.replace(bed, bed + second), "two beds")


def test_leaving_out_rows_names_every_bed_it_changes():
    old = two_beds()
    found = edits(old, fewer_rows(old, 0.5))
    # 95 % of what is asked goes at share 1, so 47.5 % of four rows at half.
    # For a crop that fills the spacing grows 20 times: 0.4 sqrt(20) = 1.79 m.
    assert [edit.path for edit in found] == ["beds.0.crops.0.rows", "beds.1.crops.0.row_spacing"]
    assert [edit.words for edit in found] == ["bean: 4 to 2", "bean: 0.40 m to 1.79 m"]
    assert [edit.value for edit in found] == ["2", '"1.79 m"']
    one = parse_scenario(TEXT, "one bed")
    assert [edit.path for edit in edits(one, fewer_rows(one, 0.5))] == ["beds.0.crops.0.rows"]


@pytest.mark.parametrize("change", CHANGES, ids=lambda change: change.what)
def test_no_share_is_no_change(change):
    for text in CASES.values():
        scenario = parse_scenario(text, "")
        assert change.apply(scenario, 0.0) == scenario


def test_names_of_changes_differ():
    assert len(WHAT) == len(CHANGES)


def test_a_timer_gets_as_many_outlets_as_zones():
    scenario = with_zones(parse_scenario(CASES["two outlets of the timer"], ""), 5)
    assert (scenario.timer.outlets, scenario.most_zones) == (5, 5)


@pytest.mark.parametrize(
    ("system", "kind", "value", "up", "text"),
    [
        (System.METRIC, "length", 2.0011, True, "2.01 m"),
        (System.METRIC, "length", 2.0099, False, "2.00 m"),
        (System.METRIC, "pressure", 1.231 * BAR_M, True, "1.24 bar"),
        (System.METRIC, "flow", 1.21 * L_PER_MIN, True, "1.3 L/min"),
        (System.METRIC, "flow", 0.51 / 3.6e6, False, "0.51 L/h"),
        (System.METRIC, "percent", 0.1234, False, "12.3 %"),
        (System.US, "length", 0.3048 * 6.02, True, "6 ft 1/2 in"),
        (System.US, "bore", 0.0254 * 0.6201, True, "0.621 in"),
        (System.US, "pressure", 0.70307 * 14.52, True, "14.6 psi"),
        (System.US, "flow", 3.785411784 * L_PER_MIN * 0.501, True, "0.51 gal/min"),
    ],
)
def test_values_are_rounded_away_from_what_was_not_enough(system, kind, value, up, text):
    found = rounded(system, kind, value, up)
    assert written(system, kind, found) == text
    assert found >= value * (1 - 1e-9) if up else found <= value * (1 + 1e-9)


def test_a_smaller_flow_beside_a_greater_takes_its_unit():
    assert written(System.METRIC, "flow", 18.0 / 3.6e6) == "18.00 L/h"
    assert written(System.METRIC, "flow", 18.0 / 3.6e6, 1.2 * L_PER_MIN) == "0.3 L/min"


def test_ends_of_the_scales():
    assert grown(System.METRIC, "length", 2.0, 1.0, 40.0) == pytest.approx(80.0)
    assert shrunk(System.METRIC, "length", 2.0, 1.0, 4.0) == pytest.approx(0.5)
    assert raised(System.METRIC, "length", 2.0, 0.5, 3.0) == pytest.approx(2.5)
    assert lowered(System.METRIC, "length", 2.0, 1.0) == 0.0

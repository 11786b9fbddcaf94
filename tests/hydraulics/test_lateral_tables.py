"""Lateral tables against laterals solved emitter by emitter, within the stated error."""

from __future__ import annotations

import numpy as np
import pytest

from optimizer.errors import HydraulicError
from optimizer.hydraulics import EmitterLaw, EmitterLine, Fluid, build_lateral_table, solve_lateral
from optimizer.hydraulics.runs import lateral_variation, longest_run
from optimizer.hydraulics.tables import hermite

FLUID = Fluid()
COUNTS = np.array([1, 2, 5, 20, 60, 150, 250])
SLOPES = np.array([-0.05, -0.01, 0.0, 0.01, 0.05])
FLOW_SHARE, HEAD_M = 2e-4, 0.01
LAWS = {
    "turbulent": EmitterLaw.from_rating(1.6 / 3.6e6, 10.0, 0.5),
    "laminar": EmitterLaw.from_rating(1.6 / 3.6e6, 10.0, 1.0),
    "nearly held": EmitterLaw.from_rating(1.6 / 3.6e6, 10.0, 0.1),
    "held": EmitterLaw.from_rating(1.6 / 3.6e6, 10.0, 0.0, opening_head=5.0),
}


@pytest.mark.parametrize("name", sorted(LAWS))
@pytest.mark.parametrize("first", [0.15, 0.7])
def test_stated_error_holds(name, first):
    line = EmitterLine(0.0136, 0.3, LAWS[name])
    table = build_lateral_table(line, COUNTS, SLOPES, 25.0, FLUID, first)
    checked = 0
    for count in COUNTS:
        for slope in SLOPES:
            for head in (0.5, 1.3, 3.1, 7.7, 14.0, 24.9):
                exact = solve_lateral(line, int(count), head, FLUID, first, slope)
                flows = exact.emitter_flow_m3_s
                if not flows.min() >= 0.5 * flows.max() > 0.0:
                    continue
                checked += 1
                assert table.inflow(count, slope, head) == pytest.approx(exact.inlet_flow_m3_s, rel=FLOW_SHARE)
                least, greatest = table.extreme_heads(count, slope, head)
                assert least == pytest.approx(exact.emitter_head_m.min(), abs=HEAD_M)
                assert greatest == pytest.approx(exact.emitter_head_m.max(), abs=HEAD_M)
    assert checked >= 120


def test_columns_never_fall_with_head():
    table = build_lateral_table(EmitterLine(0.0136, 0.3, LAWS["held"]), COUNTS, SLOPES, 25.0, FLUID)
    for values in (table.flow_m3_s, table.least_head_m, table.greatest_head_m):
        steps = np.diff(values, axis=-1)
        assert np.all(steps[~np.isnan(steps)] >= -1e-12)
    heads = np.linspace(0.5, 25.0, 3000)
    assert np.all(np.diff(table.inflow(60, 0.01, heads)) >= -1e-18)


def test_one_march_gives_the_same_as_many():
    line = EmitterLine(0.0136, 0.3, LAWS["turbulent"])
    many = build_lateral_table(line, COUNTS, [0.0], 20.0, FLUID)
    # the grid of end heads of a level lateral does not depend on the longest count
    one = build_lateral_table(line, [20], [0.0], 20.0, FLUID)
    assert many.flow_m3_s[3] == pytest.approx(one.flow_m3_s[0], rel=1e-12)


def test_reading_outside_the_table_is_refused():
    table = build_lateral_table(EmitterLine(0.0136, 0.3, LAWS["turbulent"]), [10], [0.0], 20.0, FLUID)
    for count, slope, head in ((11, 0.0, 5.0), (10, 0.01, 5.0), (10, 0.0, 20.1), (10, 0.0, -0.1), (10, 0.0, np.nan)):
        with pytest.raises(HydraulicError):
            table.inflow(count, slope, head)


def test_lateral_too_long_for_the_table_gives_no_number():
    line = EmitterLine(0.0043, 0.15, LAWS["nearly held"])
    table = build_lateral_table(line, [600], [0.0], 20.0, FLUID)
    with pytest.raises(HydraulicError, match="too long"):
        table.inflow(600, 0.0, 10.0)


@pytest.mark.parametrize("counts", [[], [0, 1], [2, 2], [3, 1]])
def test_counts_must_rise_from_one(counts):
    with pytest.raises(HydraulicError, match="rise from 1"):
        build_lateral_table(EmitterLine(0.0136, 0.3, LAWS["turbulent"]), counts, [0.0], 20.0, FLUID)


def test_hermite_passes_through_a_cubic_exactly():
    x = np.linspace(0, 2, 9)
    value, slope = hermite(x / 2, np.full(9, 2.0), np.full(9, 1.0), np.full(9, 7.0), np.full(9, -1.0), np.full(9, 11.0))
    assert value == pytest.approx(x**3 - x + 1)
    assert slope == pytest.approx(3 * x**2 - 1)


@pytest.mark.parametrize("slope", [-0.02, 0.0, 0.01])
@pytest.mark.parametrize("head", [4.0, 12.0])
def test_longest_run_is_the_last_that_holds(slope, head):
    line = EmitterLine(0.0136, 0.3, LAWS["turbulent"])
    count = longest_run(line, head, 0.1, FLUID, slope)
    assert count > 0
    assert lateral_variation(line, count, head, FLUID, None, slope) <= 0.1
    assert lateral_variation(line, count + 1, head, FLUID, None, slope) > 0.1


def test_no_head_no_run():
    assert longest_run(EmitterLine(0.0136, 0.3, LAWS["turbulent"]), 0.05, 0.1, FLUID, slope=0.5) == 0

"""The limits of a small garden, worked out by hand."""

from __future__ import annotations

import json
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from optimizer import design
from optimizer.cli import main
from optimizer.errors import ScenarioError
from optimizer.hydraulics import solve_network
from optimizer.hydraulics.report import with_open_ends
from optimizer.planfile import plan_to_json
from optimizer.problem.water import head_assembly, scenario_fluid
from optimizer.scenario import parse_scenario
from optimizer.study.limits import limits, zone_answers
from optimizer.study.limits_beds import typical_rows
from optimizer.study.limits_supply import NOTHING
from optimizer.study.limits_zones import _network, closed_ends

# Rows of 10 m with 20 emitters of 3 L/h: 60 L/h = 1 L/min a row. Tap: 40 m static, 60 L/min open, at 10 m
# sqrt(0.75) of it, and half of that to plan on: 25.98 L/min, 25 rows.
TEXT = """
title = "Hand-worked"
units = "metric"

[supply]
kind = "tap"
at = "-1 m, 0 m"
static_pressure = "40 m head"
open_flow = "60 L/min"
margin = "50 %"
PARTS
[[beds]]
name = "bed"
rectangle = "10.2 m x 3.2 m"
directions = ["along"]
edge_margin = "10 cm"
row_end_margin = "0 m"

[[beds.crops]]
name = "bean"
row_spacing = "50 cm"
rows = 6

[[emitter_lines]]
name = "dripline"
bore = "13.8 mm"
spacing = "50 cm"
flow = "3 L/h"
at_pressure = "10 m head"
greatest_pressure = "25 m head"
rolls = [{ length = "100 m", price = 40.00 }]

[[blank_tubes]]
name = "blank"
bore = "20 mm"
greatest_pressure = "50 m head"
rolls = [{ length = "25 m", price = 10.00 }, { length = "2 m", price = 1.50 }]
"""

REGULATOR = """
[[supply.regulators]]
name = "{name}"
holds = "{holds} m head"
needs_above = "0 m head"
{more}
"""

FILTER = """
[[supply.head_parts]]
name = "filter"
kind = "filter"
loss = "{loss} m head"
at_flow = "10 L/min"
{more}
"""


def regulator(name="ten", holds=10, more=""):
    return REGULATOR.format(name=name, holds=holds, more=more)


def strainer(loss=0, more=""):
    return FILTER.format(loss=loss, more=more)


def garden(*parts, **swaps):
    text = TEXT.replace("PARTS", "\n".join(parts))
    for old, new in swaps.values():
        assert old in text
        text = text.replace(old, new)
    return parse_scenario(text, "hand-worked")


@cache
def planned():
    scenario = garden(regulator())
    return scenario, design(scenario).plan


class TestTypicalRow:
    def test_level_bed(self):
        (row,) = typical_rows(garden())
        assert (row.rows, row.header_m) == (6, 2.5)
        assert row.length_m == pytest.approx(10.0, abs=1e-3)
        assert (row.rise, row.header_rise, row.fall_m) == (0.0, 0.0, 0.0)

    def test_raised_bed_on_a_slope(self):
        # 4 % along the rows; the middle of the bed lies 6.1 m from the tap: 0.244 m, and 0.3 m of frame
        scenario = garden(
            slope=('title = "Hand-worked"\nunits = "metric"', 'title = "x"\nunits = "metric"\n[site]\nslope = "4 %"'),
            raised=('name = "bed"\n', 'name = "bed"\nraised = "30 cm"\n'),
        )
        (row,) = typical_rows(scenario)
        assert abs(row.rise) == pytest.approx(0.04)
        assert row.fall_m == pytest.approx(-0.544)

    def test_nothing_fits(self):
        with pytest.raises(ScenarioError, match="no row"):
            limits(garden(shortest=("[[blank_tubes]]", '[limits]\nshortest_row = "11 m"\n[[blank_tubes]]')))


class TestRowsFed:
    def test_tap_alone(self):
        (fed,) = limits(garden(regulator())).fed
        assert fed.row_flow_m3_s * 6e4 == pytest.approx(1.0)
        assert [(rung.rows, rung.limited_by) for rung in fed.rungs] == [(25, "tap")]

    def test_filter_then_tap(self):
        # 40 (Q/60)^2 + 10 (Q/10)^2 = 30: Q = sqrt(30 / (1/90 + 1/10)) = 16.43; half: 8.2
        (fed,) = limits(garden(strainer(10), regulator())).fed
        assert [(rung.rows, rung.limited_by) for rung in fed.rungs] == [(8, "filter"), (25, "tap")]
        assert fed.now.flow_m3_s * 6e4 == pytest.approx(0.5 * np.sqrt(30 / (1 / 90 + 1 / 10)), rel=1e-6)

    def test_two_bands_alike_are_both_named(self):
        band = 'greatest_flow = "12 L/min"'
        (fed,) = limits(garden(strainer(0, band), regulator(more=band))).fed
        assert {rung.limited_by for rung in fed.rungs} == {"filter", "ten", "tap"}
        assert fed.rungs[-1].rows == 25
        assert fed.rungs[0].rows == fed.rungs[1].rows

    def test_agreed_flow(self):
        (fed,) = limits(garden(regulator(), agreed=('margin = "50 %"', 'greatest_flow = "4.5 L/min"'))).fed
        assert (fed.now.rows, fed.now.limited_by) == (4, "agreed flow")
        assert fed.rungs[-1].limited_by == "tap"

    def test_supply_too_weak(self):
        (fed,) = limits(garden(regulator(), weak=('"40 m head"', '"9 m head"'))).fed
        assert (fed.now.rows, fed.now.limited_by) == (0, "tap")

    def test_bare_tank_feeds_any_number(self):
        tank = 'kind = "tank"\noutlet_height = "2 m"\nwater_depth = "1 m"\nvolume = "500 L"\nat'
        tap = 'static_pressure = "40 m head"\nopen_flow = "60 L/min"\n'
        (fed,) = limits(garden(kind=('kind = "tap"\nat', tank), tap=(tap, ""))).fed
        assert (fed.now.rows, fed.now.limited_by) == (None, NOTHING)


class TestRegulators:
    def verdicts(self, *parts, **swaps):
        return {item.regulator: item for item in limits(garden(*parts, **swaps)).regulators}

    def test_nearest_to_the_rating_is_best(self):
        found = self.verdicts(regulator("seven", 7), regulator("eleven", 11), regulator("thirty", 30))
        assert [name for name, item in found.items() if item.best] == ["eleven"]
        assert found["seven"].suits
        assert not found["thirty"].suits

    def test_rows_of_its_flow_band(self):
        item = self.verdicts(regulator(more='least_flow = "2.5 L/min"\ngreatest_flow = "5.5 L/min"'))["ten"]
        assert (item.least_rows, item.most_rows) == (3, 5)

    def test_least_flow_beyond_the_bed(self):
        assert not self.verdicts(regulator(more='least_flow = "7 L/min"'))["ten"].suits

    def test_supply_below_what_it_needs(self):
        assert not self.verdicts(regulator(), weak=('"40 m head"', '"9 m head"'))["ten"].suits

    def test_none_fitted_where_standing_water_bursts_the_line(self):
        assert not self.verdicts()["none"].suits

    def test_none_needed(self):
        assert self.verdicts(weak=('"40 m head"', '"20 m head"'))["none"].suits


class TestRuns:
    def test_label_ends_a_run(self):
        found = limits(garden(label=('spacing = "50 cm"\nflow', 'longest_run = "30.3 m"\nspacing = "50 cm"\nflow')))
        assert all(item.lengths_m == (30.0, 30.0) for item in found.runs)
        assert all(item.ends_by == ("label", "label") for item in found.runs)

    def test_compensating_line_ends_where_it_falls_below_its_opening(self):
        range_ = 'compensating = { opens = "6 m head", up_to = "24 m head" }\nspacing = "50 cm"\nflow'
        level = limits(garden(pc=('spacing = "50 cm"\nflow', range_))).runs[0]
        # 4 m to lose. Equal outlets of 3 L/h: J = 7.89e7 Q^1.75 / D^4.75 / 2.75 (Keller and Bliesner, from memory):
        # N^2.75 = 4 x 2.75 x 100 x 13.8^4.75 / (7.89e7 (3/3600)^1.75 0.5)
        count = (4 * 275 * 13.8**4.75 / (7.89e7 * (3 / 3600) ** 1.75 * 0.5)) ** (1 / 2.75)
        assert level.lengths_m == pytest.approx((0.5 * count, 0.5 * count), rel=0.03)
        assert level.ends_by == ("least pressure", "least pressure")


class TestHeaders:
    def test_price_is_the_cheapest_whole_rolls(self):
        # 2.5 m and two tails of 0.1 m: two rolls of 2 m at 1.50
        (found,) = limits(garden(regulator())).headers
        assert {size.tube: size.price_ct for size in found.sizes if size.in_stock} == {"blank": 300}

    def test_velocity_and_volume_by_hand(self):
        # behind the first of six rows 5 L/min run: / (pi/4 0.02^2); 2.5 m of it hold pi/4 0.02^2 2.5
        (found,) = limits(garden(regulator())).headers
        size = next(size for size in found.sizes if size.in_stock)
        assert size.velocity_m_s == pytest.approx(5 / 6e4 / (np.pi / 4 * 0.02**2), rel=5e-3)
        assert size.fill_m3 == pytest.approx(np.pi / 4 * 0.02**2 * 2.5)

    def test_wider_is_never_worse(self):
        (found,) = limits(garden(regulator())).headers
        assert [size.bore_m for size in found.sizes] == sorted(size.bore_m for size in found.sizes)
        lost = [size.lost_m for size in found.sizes]
        assert lost == sorted(lost, reverse=True)


class TestZones:
    def test_flushing_is_the_most_that_work(self):
        scenario, plan = planned()
        for zone, answer in zip(plan.zones, zone_answers(plan, scenario), strict=True):
            head = head_assembly(scenario, scenario.supply.regulators[0])
            network, ends = _network(zone.network), closed_ends(zone.network)
            enough = [self.slowest(network, ends[:n], head, scenario) >= 0.3048 for n in range(1, len(ends) + 1)]
            assert answer.ends == len(ends)
            assert answer.ends_at_once == sum(enough)

    @staticmethod
    def slowest(network, ends, head, scenario):
        bores = np.full(len(ends), 0.0138)
        solution = solve_network(with_open_ends(network, ends, bores), head, scenario_fluid(scenario))
        return solution.emitter_flow_m3_s[network.emitter_count :].min() / (np.pi / 4 * 0.0138**2)

    def test_limits_stand_in_order_and_hold(self):
        scenario, plan = planned()
        for answer in zone_answers(plan, scenario):
            used = [limit.used for limit in answer.limits]
            assert used == sorted(used, reverse=True)
            assert used[0] <= 1.0
            assert answer.binds == answer.limits[0]

    def test_supply_share_by_hand(self):
        # six rows of 1 L/min of 25.98 that may be used; friction takes a little
        scenario, plan = planned()
        (answer,) = zone_answers(plan, scenario)
        supply = next(limit for limit in answer.limits if limit.name == "supply (tap)")
        assert supply.used == pytest.approx(6 / (30 * np.sqrt(0.75)), rel=0.02)

    def test_plan_of_another_scenario_is_refused(self):
        _, plan = planned()
        with pytest.raises(ScenarioError, match="not in this scenario"):
            zone_answers(plan, garden(regulator("other")))


class TestCommand:
    @pytest.fixture
    def files(self, tmp_path):
        _, plan = planned()
        scenario, stored = tmp_path / "garden.toml", tmp_path / "plan.json"
        scenario.write_text(TEXT.replace("PARTS", regulator()), encoding="utf-8")
        stored.write_text(plan_to_json(plan), encoding="utf-8")
        return [str(scenario), str(stored)]

    def test_tables_fit_eighty_columns(self, files, capsys):
        assert main(["limits", *files]) == 0
        lines = capsys.readouterr().out.splitlines()
        assert max(len(line) for line in lines) <= 80
        assert any("25 rows now" in line for line in lines)
        assert any("flushing" in line for line in lines)

    def test_json_is_plain(self, files, capsys):
        assert main(["limits", files[0], "--json"]) == 0
        found = json.loads(capsys.readouterr().out, parse_constant=pytest.fail)
        assert found["fed"][0]["rungs"][0]["rows"] == 25
        assert found["zones"] == []

    def test_quiet_prints_nothing(self, files, capsys):
        assert main(["limits", files[0], "--quiet"]) == 0
        assert capsys.readouterr().out == ""

    def test_missing_scenario(self, tmp_path: Path, capsys):
        assert main(["limits", str(tmp_path / "none.toml")]) == 3
        assert "none.toml" in capsys.readouterr().err

"""Four gardens worked through: a slope, a rain tank, quarter-inch line, and a bed whose last rows stay dry.

Checked against the EPANET 2.2 engine, closed forms and published values, each named beside its check.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np
import pytest

from optimizer import design, load_scenario
from optimizer.hydraulics import EmitterLaw, EmitterLine, Fluid, Network
from optimizer.hydraulics.build import NetworkBuilder
from optimizer.plan import Status
from optimizer.problem.water import head_assembly, scenario_fluid
from optimizer.study.limits import limits, zone_answers
from tests.reference import epanet_engine

SCENARIOS = Path(__file__).parents[1] / "scenarios"
FOOT, INCH, PSI = 0.3048, 0.0254, 0.70307
GPH = 3.785411784e-3 / 3600
GPM = 60 * GPH
BAR = 1e5 / 9806.65


@cache
def garden(name):
    return load_scenario(str(SCENARIOS / f"water-{name}.toml"))


@cache
def report(name):
    return limits(garden(name))


@cache
def planned(name):
    outcome = design(garden(name))
    assert outcome.status is Status.PROVEN_BEST
    return outcome.plan


def stored(zone):
    """The network of a zone as its plan holds it."""
    net = zone.network
    return Network(
        z_m=np.array(net.node_z_m),
        tube_from=np.array(net.tube_from),
        tube_to=np.array(net.tube_to),
        tube_length_m=np.array(net.tube_length_m),
        tube_bore_m=np.array(net.tube_bore_m),
        tube_roughness_m=np.array(net.tube_roughness_m),
        tube_loss_k=np.array(net.tube_loss_k),
        emitter_node=np.array(net.emitter_node),
        emitter_k=np.array(net.emitter_k),
        emitter_exponent=np.array(net.emitter_exponent),
        emitter_opening_head_m=np.zeros(len(net.emitter_node)),
        emitter_upper_head_m=np.full(len(net.emitter_node), np.inf),
        inlet_node=net.inlet_node,
    )


def engine_flows(network, head, fluid, folder):
    """Emitter flows by EPANET, in the order of the network's emitters."""
    _, outflow = epanet_engine.solve(network, head, fluid, folder)
    return outflow[network.emitter_node]


def variation(flows):
    return float(1.0 - flows.min() / flows.max())


def row(line, before, after, rise):
    """A row fed between its emitters: `before` of them downhill, `after` uphill."""
    build = NetworkBuilder()
    inlet = build.node(0.0)
    for count, sign in ((before, -1.0), (after, 1.0)):
        if count:
            along = (np.arange(count) + 0.5) * line.spacing_m
            build.lateral(inlet, line, sign * rise * along, line.spacing_m / 2)
    return build.network(inlet)


class TestSlope:
    """Rows of 69.6 m up a slope of 2 %, tape of 1.0 L/h every 20 cm at 0.7 bar."""

    LINE = EmitterLine(0.0161, 0.2, EmitterLaw.from_rating(1.0 / 3.6e6, 0.7 * BAR, 0.5))

    @pytest.mark.parametrize(("place", "before"), [("low_end", 0), ("middle", 174), ("high_end", 348)])
    def test_header_place_against_the_engine(self, tmp_path, place, before):
        (spread,) = report("slope").places
        network = row(self.LINE, before, 348 - before, 0.02)
        flows = engine_flows(network, 0.7 * BAR, scenario_fluid(garden("slope")), tmp_path)
        assert getattr(spread, place) == pytest.approx(variation(flows), abs=5e-4)

    def test_only_the_low_end_breaks_ten_per_cent(self):
        (spread,) = report("slope").places
        assert spread.low_end > 0.10 > spread.middle > spread.high_end

    def test_height_alone_as_by_hand(self):
        # 0.02 x 69.4 m between first and last emitter, of 7.138 m: sqrt(1 - 1.388 / 7.138) is 10.2 % less flow;
        # the engine's 14.2 % at the low end must lie above that and its friction must make up the rest.
        (spread,) = report("slope").places
        assert spread.low_end > 1.0 - np.sqrt(1.0 - 0.02 * 69.4 / (0.7 * BAR))

    def test_plan_keeps_the_header_off_the_low_end_and_within_ten_per_cent(self, tmp_path):
        plan = planned("slope")
        # the hill rises with x; 54.6 m of upward run is all that keeps 10 %, of rows 69.6 m long
        assert all(header.inlet_at[0] > 10.0 for header in plan.headers)
        for zone in plan.zones:
            network = stored(zone)
            flows = engine_flows(network, zone.network.inlet_head_m, scenario_fluid(garden("slope")), tmp_path)
            assert variation(flows) <= 0.10
            assert zone.water.flow_variation == pytest.approx(variation(flows), abs=5e-4)

    def test_uphill_runs_end_before_level_ones_and_those_before_downhill_ones(self):
        level, up, down = report("slope").runs
        assert (level.slope, up.slope, down.slope) == (0.0, 0.02, -0.02)
        assert up.lengths_m[0] < level.lengths_m[0] < down.lengths_m[0]

    def test_downhill_the_rating_ends_the_run(self):
        # 1.0 bar of the tape less 0.7 bar at the header are 3.059 m of fall: 152.96 m at 2 %
        down = report("slope").runs[2]
        assert down.ends_by[1] == "rating"
        assert down.lengths_m[1] == pytest.approx(0.3 * BAR / 0.02, abs=0.2)

    def test_all_that_stands_above_the_lowest_emitter_may_drain(self):
        for zone in zone_answers(planned("slope"), garden("slope")):
            assert 0.9 < zone.drain_volume_m3 / zone.fill_volume_m3 < 1.0


class TestTank:
    """1000 L, outlet 1.2 m high, 1.0 m of water above it; six rows of 11.6 m of the same tape."""

    RATED = 1.0 / 3.6e6 / np.sqrt(0.7 * BAR)  # k of q = k sqrt(h)

    def test_ground_must_be_level_to_nineteen_per_cent_of_the_head(self):
        # x 0.5: 10 % less flow at 19.0 % less head
        (tank,) = report("tank").tanks
        assert tank.level_m / tank.empty_head_m == pytest.approx(0.19, abs=1e-4)

    def test_flows_are_those_of_orifices(self):
        # 6 x 58 emitters at 2.2 and 1.2 m; hose, filter and tape take a little of it
        (tank,) = report("tank").tanks
        for flow, head in ((tank.full_flow_m3_s, 2.2), (tank.empty_flow_m3_s, 1.2)):
            assert 0.99 < flow / (348 * self.RATED * np.sqrt(head)) < 1.0

    def test_time_to_empty_as_by_hand(self):
        # Q = K sqrt(h) from h = 2.2 to 1.2 m with 1 m2 of surface: t = 2 (sqrt 2.2 - sqrt 1.2) / K; friction adds a bit
        (tank,) = report("tank").tanks
        by_hand = 2.0 * (np.sqrt(2.2) - np.sqrt(1.2)) / (348 * self.RATED)
        assert 1.0 < tank.empties_s / by_hand < 1.01

    def test_zone_empties_as_the_bed_does(self):
        (tank,) = report("tank").tanks
        (zone,) = zone_answers(planned("tank"), garden("tank"))
        assert zone.tank.empties_s == pytest.approx(tank.empties_s, rel=0.005)

    @pytest.mark.parametrize("full", [True, False])
    def test_flow_full_and_nearly_empty_against_the_engine(self, tmp_path, full):
        scenario, (zone,) = garden("tank"), planned("tank").zones
        (answer,) = zone_answers(planned("tank"), scenario)
        flow = answer.tank.full_flow_m3_s if full else answer.tank.empty_flow_m3_s
        # Behind the head parts: standing head less filter (0.3 m at 20 L/min, with the square) and hose (20.8 mm).
        filtered = 0.3 * (flow / (0.02 / 60)) ** 2
        hose = hose_loss(flow, 4.0, 0.0208, scenario_fluid(scenario), tmp_path)
        head = (2.2 if full else 1.2) - filtered - hose
        flows = engine_flows(stored(zone), head, scenario_fluid(scenario), tmp_path)
        assert flow == pytest.approx(flows.sum(), rel=5e-4)
        assert 1.0 - flows.min() / flows.max() < 0.10

    def test_it_is_enough_and_says_how_high_it_must_be_if_not(self):
        (tank,) = report("tank").tanks
        assert tank.enough
        assert tank.raise_by_m == 0.0
        supply = garden("tank").supply.model_copy(update={"outlet_height": 0.5})
        (low,) = limits(garden("tank").model_copy(update={"supply": supply})).tanks
        assert not low.enough
        # 0.1 bar are 1.020 m; 0.5 m are there; hose and filter take a few millimetres at 2.2 L/min
        assert low.raise_by_m == pytest.approx(0.1 * BAR - 0.5, abs=0.01)

    def test_rated_flow_wants_seven_metres(self):
        # 0.7 bar are 7.138 m, 1.2 m are there; the filter takes 0.3 (5.8 / 20)^2 = 0.025 m, the hose some millimetres
        (tank,) = report("tank").tanks
        assert tank.raise_for_rating_m == pytest.approx(0.7 * BAR - 1.2 + 0.025, abs=0.03)


def hose_loss(flow, length, bore, fluid, folder):
    """Head lost in a hose by EPANET: one emitter at its end that takes just this flow."""
    line = EmitterLine(bore, length, EmitterLaw.from_rating(flow, 10.0, 0.5))
    build = NetworkBuilder()
    inlet = build.node(0.0)
    build.lateral(inlet, line, [0.0])
    head = 10.0
    for _ in range(30):
        inside, outflow = epanet_engine.solve(build.network(inlet), head, fluid, folder)
        lost = head - inside[1]
        if abs(outflow[1] / flow - 1.0) < 1e-6:
            break
        head = 10.0 + lost
    return lost


class TestQuarterInch:
    """Quarter-inch dripline, bore 0.17 in, 0.5 gal/h every 6 in at 20 psi, in rows of 31 ft."""

    LINE = EmitterLine(0.17 * INCH, 0.5 * FOOT, EmitterLaw.from_rating(0.5 * GPH, 20 * PSI, 0.5))

    def test_runs_lie_where_independent_computations_put_them(self):
        # 19 to 26 ft at 10 %, 26 to 35 ft at 20 %; the trade says "not over 30 ft" (common practice)
        level = report("quarter-inch").runs[0]
        assert level.slope == 0.0
        assert 19 <= level.lengths_m[0] / FOOT <= 26
        assert 26 <= level.lengths_m[1] / FOOT <= 35

    @pytest.mark.parametrize(("index", "share"), [(0, 0.1), (1, 0.2)])
    def test_one_emitter_more_is_too_many_for_the_engine(self, tmp_path, index, share):
        level = report("quarter-inch").runs[0]
        count = round(level.lengths_m[index] / self.LINE.spacing_m)
        fluid = scenario_fluid(garden("quarter-inch"))
        spreads = [
            variation(engine_flows(row(self.LINE, 0, number, 0.0), 20 * PSI, fluid, tmp_path))
            for number in (count, count + 1)
        ]
        assert spreads[0] <= share + 2e-4
        assert spreads[1] > share - 2e-4

    def test_plan_feeds_the_rows_from_inside(self, tmp_path):
        # a row of 31 ft is longer than the 26 ft any end feed could reach
        plan = planned("quarter-inch")
        assert max(lateral.length_um for lateral in plan.laterals) / 1e6 / FOOT <= 26
        assert len(plan.laterals) == 2 * len(plan.rows)
        for zone in plan.zones:
            flows = engine_flows(
                stored(zone), zone.network.inlet_head_m, scenario_fluid(garden("quarter-inch")), tmp_path
            )
            assert variation(flows) <= 0.10

    def test_feeding_at_the_middle_leaves_a_seventh_of_the_loss(self):
        # Half the length leaves 0.5^2.75 = 15 % of the head loss (exponent 1.75). The share of the variation is a bit
        # more: with 18 % variation the end-fed line takes less water than its rating, and so loses less.
        (spread,) = report("quarter-inch").places
        assert 0.15 <= spread.middle / spread.low_end <= 0.20


class TestLastRow:
    """Eight rows of 20 ft behind 20 ft of quarter-inch tube: two rows run, the others stay dry."""

    @pytest.mark.parametrize(("gpm", "psi"), [(0.1, 0.7), (0.25, 4.6), (0.33, 7.5), (0.5, 15.6)])
    def test_what_twenty_feet_of_quarter_inch_tube_take(self, gpm, psi):
        # independent computation, one digit printed after the point
        lead = head_assembly(garden("last-row"), None).parts[0]
        lost = -float(lead.outlet(np.array(0.0), np.array(gpm * GPM))) / PSI
        assert lost == pytest.approx(psi, rel=0.06, abs=0.05)

    def test_lead_in_is_named_and_the_next_limits_too(self):
        (fed,) = report("last-row").fed
        assert fed.now.limited_by == "lead-in"
        assert fed.rungs[-1].limited_by == "tap"
        assert [rung.rows for rung in fed.rungs] == sorted(rung.rows for rung in fed.rungs)

    def test_rows_of_the_tap_alone_as_by_hand(self):
        # 5 gal in 45 s are 6.667 gpm; at 20 of 50 psi sqrt(0.6) of it, 75 %: 3.873 gpm; rows of 20 x 0.6 gal/h: 19.4
        (fed,) = report("last-row").fed
        assert fed.rungs[-1].flow_m3_s / GPM == pytest.approx(0.75 * 20 / 3 * np.sqrt(0.6), rel=1e-3)
        assert fed.rungs[-1].rows == 19

    def test_rows_behind_the_thin_tube_as_by_hand(self):
        # Two rows take 0.4 gpm: near 10.6 psi in the tube (between 7.5 at 0.33 and 15.6 at 0.5), 50 - 25 psi are there.
        # Three quarters of the flow that takes all 25 psi (Blasius: 0.5 gpm x (25 / 15.6)^(1 / 1.75) = 0.654) is 0.491.
        (fed,) = report("last-row").fed
        assert fed.now.rows == 2
        assert fed.now.flow_m3_s / GPM == pytest.approx(0.75 * 0.5 * (25 / 15.6) ** (1 / 1.75), rel=0.04)

    def test_all_rows_at_once_starve_behind_the_thin_tube(self, tmp_path):
        """By EPANET: source, 20 ft of tube and eight rows; each row gets far less than its share."""
        line = EmitterLine(0.54 * INCH, FOOT, EmitterLaw.from_rating(0.6 * GPH, 20 * PSI, 0.5))
        build = NetworkBuilder()
        inlet = build.node(0.0)
        before = build.node(0.0)
        build.tube(inlet, before, 20 * FOOT, 0.17 * INCH)
        for _ in range(8):
            here = build.node(0.0)
            build.tube(before, here, 1.5 * FOOT, 0.6 * INCH)
            build.lateral(here, line, np.zeros(20), FOOT / 2)
            before = here
        # 45 psi in front of the tube: 50 static less what 1.2 gpm take at the tap and in the breaker
        flows = engine_flows(build.network(inlet), 45 * PSI, Fluid(), tmp_path)
        assert flows.sum() < 0.65 * 160 * 0.6 * GPH

    def test_plan_splits_into_zones_the_tube_can_feed_and_names_it(self):
        plan = planned("last-row")
        assert len(plan.zones) == 4
        for zone in zone_answers(plan, garden("last-row")):
            assert zone.binds.name == "supply (lead-in)"
            assert zone.binds.used < 1.0

    @pytest.mark.parametrize("bore_in", [0.17, 0.6])
    def test_last_row_of_a_thin_header_against_the_engine(self, tmp_path, bore_in):
        scenario = garden("last-row")
        wide = scenario.supply.model_copy(update={"lead_in": None})
        (found,) = limits(scenario.model_copy(update={"supply": wide})).headers
        size = next(item for item in found.sizes if abs(item.bore_m - bore_in * INCH) < 1e-5)
        assert found.rows == 8
        line = EmitterLine(0.54 * INCH, FOOT, EmitterLaw.from_rating(0.6 * GPH, 20 * PSI, 0.5))
        build = NetworkBuilder()
        here = inlet = build.node(0.0)
        for number in range(8):
            if number:
                after = build.node(0.0)
                build.tube(here, after, found.length_m / 7, bore_in * INCH)
                here = after
            build.lateral(here, line, np.zeros(20), FOOT / 2, 1.0)
        flows = (
            engine_flows(build.network(inlet), 20 * PSI, scenario_fluid(scenario), tmp_path).reshape(8, 20).sum(axis=1)
        )
        assert size.last_row == pytest.approx(flows[-1] / flows[0], abs=2e-3)
        assert (size.last_row < 0.65) == (bore_in < 0.2)

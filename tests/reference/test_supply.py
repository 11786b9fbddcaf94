"""Taps, pumps, tanks and head assemblies against published values and closed forms."""

from __future__ import annotations

import numpy as np
import pytest

from optimizer.errors import HydraulicError
from optimizer.hydraulics import (
    HeadAssembly,
    HeadPart,
    LeadIn,
    PumpCurve,
    RatedPump,
    Regulator,
    TankCurve,
    TapCurve,
    usable_flow,
    water,
)
from optimizer.hydraulics.correlations import plastic_pipe_loss
from optimizer.units import Dimension, parse, parse_bucket

PSI = 0.70307
GPM = 3.785411784e-3 / 60


def test_bucket_to_working_pressure():
    # closed form sqrt((60 - 30) / 60) = 0.707
    tap = TapCurve.from_bucket(60 * PSI, 8 * GPM)
    assert tap.flow_at(30 * PSI) / (8 * GPM) == pytest.approx(0.707, abs=5e-4)
    assert tap.head(tap.flow_at(30 * PSI)) == pytest.approx(30 * PSI, rel=1e-12)


def test_bucket_time():
    # 5 gal in 38 s
    assert TapCurve.from_bucket(40.0, parse_bucket("5 gal in 38 s")).flow_at(0.0) / GPM == pytest.approx(7.9, abs=0.05)


def test_two_point_curve():
    # NFPA 291: static 90 psi, 65 psi at 1000 gpm; 1744 gpm at 20 psi by the formula
    tap = TapCurve.from_reading(90 * PSI, 1000 * GPM, 65 * PSI)
    assert tap.flow_at(20 * PSI) / GPM == pytest.approx(1744, abs=0.5)
    # the chart of a training slide reads 1780
    assert tap.flow_at(20 * PSI) / GPM == pytest.approx(1780, rel=0.025)


@pytest.mark.parametrize(("residual_psi", "warned"), [(65, False), (67.5, False), (67.6, True), (85, True)])
def test_small_drop_is_warned_of(residual_psi, warned):
    # NFPA 291: the residual should lie a quarter of static below it
    assert bool(TapCurve.from_reading(90.0, 1e-3, residual_psi).warnings) is warned


def test_many_readings_on_one_curve_are_found_again():
    true = TapCurve(40.0, 5e-4, 20.0, 0.54)
    flows = np.array([2e-4, 4e-4, 6e-4])
    fitted = TapCurve.from_readings(40.0, flows, true.heads(flows))
    assert fitted.exponent == pytest.approx(0.54, rel=1e-9)
    assert fitted.head(3e-4) == pytest.approx(true.head(3e-4), rel=1e-9)


def test_readings_against_the_law_of_pipes_are_warned_of():
    fitted = TapCurve.from_readings(40.0, [2e-4, 4e-4], [30.0, 29.0])
    assert any("do not follow" in text for text in fitted.warnings)


def test_equal_readings_are_one_reading():
    assert TapCurve.from_readings(40.0, [3e-4, 3e-4], [25.0, 25.0]) == TapCurve.from_reading(40.0, 3e-4, 25.0)


def test_unit_facts():
    # NIST SP 811
    psi, gpm, gallon = (
        parse("1 psi", Dimension.PRESSURE),
        parse("1 gpm", Dimension.FLOW),
        parse("1 gal", Dimension.VOLUME),
    )
    foot, inch = parse("1 ft", Dimension.LENGTH), parse("1 in", Dimension.LENGTH)
    assert psi == pytest.approx(0.7031, abs=5e-5)
    assert psi / foot == pytest.approx(2.31, abs=0.005)
    assert gpm * 3600 == pytest.approx(0.2271247, abs=5e-8)
    assert foot**2 * inch / gallon == pytest.approx(0.623377, abs=5e-7)
    assert 43560 * foot**2 * inch / gallon == pytest.approx(27154.3, abs=0.05)  # an acre is 43 560 ft2


def test_rated_pump_has_a_third_more_head_shut_and_none_at_twice_the_flow():
    # single-point curve, EPANET 2 Users Manual
    pump = RatedPump(1e-3, 30.0)
    assert pump.heads(np.array([0.0, 1e-3, 2e-3])) == pytest.approx([40.0, 30.0, 0.0])


def test_pump_points_are_joined_and_carried_on():
    pump = PumpCurve([0.0, 1e-3, 2e-3], [40.0, 30.0, 10.0])
    assert pump.heads(np.array([0.5e-3, 1.5e-3, 2.5e-3])) == pytest.approx([35.0, 20.0, 0.0])


def test_pump_whose_head_rises_is_refused():
    with pytest.raises(HydraulicError, match="head fall"):
        PumpCurve([0.0, 1e-3], [30.0, 31.0])


@pytest.mark.parametrize(("outlet", "empty"), [(0.0, 0.0), (0.5, 0.1)])
def test_time_to_empty_through_an_orifice(outlet, empty):
    # closed form: Q = c sqrt(h), t = 2 A / c (sqrt h1 - sqrt h2)
    tank = TankCurve(outlet, 1.0, 0.9, empty)
    c = 1e-4
    time = tank.time_to_empty(lambda at: c * np.sqrt(at.head(0.0)))
    exact = 2 * tank.area_m2 / c * (np.sqrt(outlet + 1.0) - np.sqrt(outlet + empty))
    assert time == pytest.approx(exact, rel=1e-6)


def test_tank_that_is_refilled_as_fast_never_empties():
    assert TankCurve(0.5, 1.0, 1.0).time_to_empty(lambda at: 1e-4, refill_flow=1e-4) == np.inf


def regulator(**changes):
    return Regulator("regulator", 10.0, 3.5, **changes)


def test_regulator_holds_its_set_head_while_its_inlet_allows():
    outlet = regulator().outlet(np.array([20.0, 13.5, 12.0]), np.zeros(3))
    assert outlet == pytest.approx([10.0, 10.0, 8.5])


def test_regulator_loss_may_grow_with_flow():
    part = regulator(loss_flow_m3_s=4e-4)
    assert part.outlet(np.array([10.0, 10.0]), np.array([2e-4, 4e-4])) == pytest.approx([9.125, 6.5])


def test_shut_heads_hold_creep_and_fall_along_a_rise():
    parts = (LeadIn("hose", 20.0, 0.019, rise_m=2.0), regulator(creep_m=4.0))
    assembly = HeadAssembly(TapCurve.from_bucket(40.0, 5e-4), parts)
    assert assembly.shut_heads() == pytest.approx([40.0, 38.0, 14.0])


def test_head_part_losses():
    square = HeadPart("filter", 2e-4, 1.0)
    table = HeadPart("timer", [1e-4, 3e-4], [1.0, 4.0])
    assert square.loss([1e-4, 4e-4]) == pytest.approx([0.25, 4.0])
    assert table.loss([0.5e-4, 2e-4, 6e-4]) == pytest.approx([0.5, 2.5, 16.0])


def test_lead_in_of_the_trade_table():
    # small plastic pipe formula, Keller and Bliesner 1990, from memory; 455 L/h in 15.2 mm: 5 m per 100 m
    hose = LeadIn("hose", 100.0, 0.0152, fluid=water(20.0))
    lost = -hose.outlet(np.array(0.0), np.array(455 / 3.6e6))
    assert lost == pytest.approx(plastic_pipe_loss(455 / 3.6e6, 100.0, 0.0152), rel=0.03)
    assert lost == pytest.approx(5.0, rel=0.05)


def test_usable_flow_of_a_bare_tap():
    flow = usable_flow(HeadAssembly(TapCurve.from_bucket(60 * PSI, 8 * GPM)), 30 * PSI, 0.75)
    # about three quarters of the measured flow (common practice, no source) at half pressure: 0.75 x 0.7071
    assert flow.flow_m3_s / (8 * GPM) == pytest.approx(0.75 * np.sqrt(0.5), rel=1e-6)
    assert flow.limited_by == "source"


def test_usable_flow_behind_a_regulator_is_where_it_stops_holding():
    tap = TapCurve.from_bucket(40.0, 5e-4)
    flow = usable_flow(HeadAssembly(tap, (regulator(),)), 10.0, 1.0)
    assert flow.flow_m3_s == pytest.approx(tap.flow_at(13.5), rel=1e-6)


def test_usable_flow_ends_at_a_parts_band():
    parts = (HeadPart("filter", 1e-3, 1.0, greatest_flow_m3_s=1e-4),)
    flow = usable_flow(HeadAssembly(TapCurve.from_bucket(40.0, 5e-4), parts), 10.0, 1.0)
    assert (flow.flow_m3_s, flow.limited_by) == (1e-4, "filter")


def test_head_that_is_never_there_leaves_no_flow():
    flow = usable_flow(HeadAssembly(TapCurve.from_bucket(10.0, 5e-4)), 20.0, 0.75)
    assert flow.flow_m3_s == 0.0


def test_supply_without_an_end_is_refused():
    with pytest.raises(HydraulicError, match="at any flow"):
        usable_flow(HeadAssembly(TankCurve(10.0, 1.0, 1.0)), 5.0, 1.0)


def test_flags_name_the_part_and_its_limit():
    parts = (
        HeadPart("filter", 1e-3, 1.0, least_flow_m3_s=3e-4, rating_m=30.0),
        regulator(greatest_flow_m3_s=1e-4, rating_m=50.0),
    )
    assembly = HeadAssembly(RatedPump(1e-3, 30.0, least_flow_m3_s=5e-4), parts)
    found = [(flag.part, flag.limit) for flag in assembly.flags(2e-4)]
    assert found == [
        ("source", "least flow"),
        ("filter", "least flow"),
        ("filter", "rating"),
        ("filter", "shut-off rating"),
        ("regulator", "greatest flow"),
    ]


def test_regulator_without_enough_inlet_is_flagged():
    assembly = HeadAssembly(TapCurve.from_bucket(13.0, 5e-4), (regulator(),))
    assert [flag.limit for flag in assembly.flags(0.0)] == ["regulator inlet"]

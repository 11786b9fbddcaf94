"""The hand-made plan holds, and its figures are those worked out by hand in `small_plan`."""

from __future__ import annotations

import pytest
from small_plan import EMITTER_M3_S, small_plan, small_scenario

from optimizer.verification import verify
from optimizer.verification.check import FIRST, LIMIT_RULES, RULES, SOLVED, VARIATION, WATER_RULES
from optimizer.verification.findings import Finding


def test_the_hand_made_plan_holds():
    check = verify(small_plan(), small_scenario())
    assert check.findings == ()
    assert check.holds


def test_every_rule_looked_at_something_or_had_nothing_to_look_at():
    counts = dict(verify(small_plan(), small_scenario()).checked)
    rules = [name for name, _ in (*FIRST, *RULES, *WATER_RULES, *LIMIT_RULES)] + [SOLVED, VARIATION]
    assert sorted(counts) == sorted(rules)
    # Nothing is planted yet, the header runs one way, the timer has no stated number of outlets, no plot is given.
    idle = {"planted rows", "header tees", "zone count", "on the site"}
    # There is one bed, and nothing is asked that concerns several.
    idle |= {"beds alike", "headers in their beds", "valve for each bed", "valves where wished"}
    idle |= {"connection at the supply", "mainline loss"}
    assert {name for name in rules if counts[name] == 0} == idle


def test_counts_are_those_of_the_plan():
    counts = dict(verify(small_plan(), small_scenario()).checked)
    assert counts["row spacing"] == 3  # pairs of three rows
    assert counts["bypasses"] == 1
    assert counts["running marks"] == 8  # 1 + 4 + 3 cuts
    assert counts["barriers"] == 7  # mainline, header, five stretches
    assert counts["emitter flows"] == 3


def test_water_figures_are_those_worked_out_by_hand():
    (zone,) = verify(small_plan(), small_scenario()).zones
    assert zone.emitters == 54
    assert zone.flow_m3_s == pytest.approx(3.0e-5, rel=1e-9)
    assert zone.least_flow_m3_s == pytest.approx(EMITTER_M3_S, rel=1e-9)
    assert zone.usable_flow_m3_s == pytest.approx(5.22473e-4, rel=1e-5)
    assert zone.source_head_m == pytest.approx(29.973, abs=1e-6)
    assert zone.inlet_head_m == pytest.approx(10.0, abs=1e-9)
    assert zone.greatest_velocity_m_s == pytest.approx(0.0611155, rel=1e-5)
    assert zone.emission_uniformity == pytest.approx(0.9365, abs=1e-9)
    assert zone.static_head_m == pytest.approx(10.0, abs=1e-9)
    assert zone.fill_volume_m3 == pytest.approx(6.601507e-3, rel=1e-6)


def test_laminar_friction_in_the_mainline_is_that_of_hagen_and_poiseuille():
    """Head lost = 32 nu v L / (g d^2) (Hagen-Poiseuille); water at 20 deg C, nu 1.004e-6 m2/s (IAPWS tables)."""
    (zone,) = verify(small_plan(), small_scenario()).zones
    lost = 32.0 * 1.004e-6 * 0.0611155 * 1.15 / (9.80665 * 0.025**2)
    # The best placed emitter also pays its take-off (1 velocity head of 0.07 m/s, 0.0003 m) and 0.25 m of line.
    assert lost < 10.0 - zone.greatest_head_m < lost + 0.001


def test_findings_can_be_read():
    assert str(Finding("stock", "roll L1", "too long")) == "stock: roll L1: too long"
    assert str(Finding("stock", "", "too long")) == "stock: too long"

"""The water account closes for any season, and says what is stress and what drains."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optimizer.need.soilwater import WaterDay, stress_coefficient, water_account

DEPTH = st.floats(0.0, 40.0)


@st.composite
def seasons(draw):
    steps = draw(st.lists(st.tuples(st.floats(0.0, 12.0), DEPTH, DEPTH, st.floats(0.0, 3.0)), min_size=1, max_size=60))
    capacity, p = draw(st.floats(3.0, 60.0)), draw(st.floats(0.2, 0.65))
    days = []
    for need, rain, water, growth in steps:
        days.append(WaterDay(need, rain, water, capacity, p))
        capacity += growth
    return days, draw(st.floats(0.0, 1.0))


@given(seasons())
@settings(derandomize=True, max_examples=150, deadline=None)
def test_in_less_out_is_the_change_of_storage(case):
    """Recomputed from the series themselves, day by day and for the whole season."""
    days, start = case
    account = water_account(days, start)
    before = start * max(day.root_capacity_mm for day in days)
    assert account.start_mm == pytest.approx(before, abs=1e-9)
    for day, stored, used, drained in zip(days, account.stored_mm, account.used_mm, account.drained_mm, strict=True):
        assert day.rain_mm + day.irrigation_mm - used - drained == pytest.approx(stored - before, abs=1e-9)
        before = stored
    assert account.closure_mm == pytest.approx(0.0, abs=1e-8)


@given(seasons())
@settings(derandomize=True, max_examples=100, deadline=None)
def test_stores_stay_within_what_they_hold_and_crops_within_what_they_ask(case):
    days, start = case
    account = water_account(days, start)
    capacity = max(day.root_capacity_mm for day in days)
    assert all(-1e-9 <= stored <= capacity + 1e-9 for stored in account.stored_mm)
    assert all(
        -1e-9 <= missing <= d.root_capacity_mm + 1e-9 for missing, d in zip(account.depletion_mm, days, strict=True)
    )
    assert all(0.0 <= used <= day.need_mm + 1e-12 for used, day in zip(account.used_mm, days, strict=True))
    assert all(drained >= 0.0 for drained in account.drained_mm)


@given(seasons())
@settings(derandomize=True, max_examples=50, deadline=None)
def test_more_irrigation_never_gives_the_crop_less(case):
    days, start = case
    more = [WaterDay(d.need_mm, d.rain_mm, d.irrigation_mm + 5.0, d.root_capacity_mm, d.table_depletion) for d in days]
    assert sum(water_account(more, start).used_mm) >= sum(water_account(days, start).used_mm) - 1e-9


def test_a_week_without_water_by_hand():
    """TAW 100, p 0.5 at 5 mm/day, so RAW 50. From 60 mm stored (Dr 40): day 1 to Dr 45, day 2 to 50, day 3 to 55 at
    full rate (Dr before drawing is 50 = RAW); day 4 Ks = 45/50 = 0.9, uses 4.5; one stress day.
    """
    account = water_account([WaterDay(5.0, 0.0, 0.0, 100.0, 0.5)] * 4, start_share=0.6)
    assert account.used_mm == pytest.approx((5.0, 5.0, 5.0, 4.5))
    assert account.depletion_mm[-1] == pytest.approx(59.5)
    assert account.stress_days == 1


def test_a_downpour_on_full_soil_drains_by_hand():
    """Full at 50 mm, 30 mm of rain and 4 mm used: 30 drain, 46 stay."""
    account = water_account([WaterDay(4.0, 30.0, 0.0, 50.0, 0.5)])
    assert (account.drained_mm, account.stored_mm) == ((30.0,), (46.0,))


def test_roots_growing_into_dry_soil_bring_only_what_is_there():
    """Root zone 10 mm, below it 10 mm more; half full at the start: 10 in all, and growing moves water, makes none."""
    days = [WaterDay(0.0, 0.0, 0.0, 10.0, 0.5), WaterDay(0.0, 0.0, 0.0, 20.0, 0.5)]
    account = water_account(days, start_share=0.5)
    assert account.stored_mm == (10.0, 10.0)
    assert account.depletion_mm == (5.0, 10.0)


@pytest.mark.parametrize(("depletion", "expected"), [(0, 1.0), (50, 1.0), (75, 0.5), (100, 0.0), (120, 0.0)])
def test_stress_coefficient_equation_84(depletion, expected):
    """FAO-56 equation 84, Ks = (TAW - Dr) / ((1 - p) TAW), with TAW 100 and p 0.5."""
    assert stress_coefficient(depletion, 100.0, 0.5) == pytest.approx(expected)


@pytest.mark.parametrize(
    ("days", "share"),
    [
        ([], 1.0),
        ([WaterDay(1.0, 0.0, 0.0, 10.0, 0.5)], 1.1),
        ([WaterDay(-1.0, 0.0, 0.0, 10.0, 0.5)], 1.0),
        ([WaterDay(1.0, 0.0, 0.0, 0.0, 0.5)], 1.0),
    ],
)
def test_accounts_that_cannot_be_are_refused(days, share):
    with pytest.raises(ValueError, match=r"must|needs"):
        water_account(days, share)

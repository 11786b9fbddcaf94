"""A whole season: hand computations through `season`, and what it warns of and assumes."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest

from optimizer.errors import ScenarioError
from optimizer.need import (
    Allowance,
    Mulch,
    MulchKind,
    PeriodKind,
    Place,
    Row,
    Timer,
    Window,
    Zone,
    crop,
    from_daily_weather,
    from_monthly_eto,
    from_weekly_depth,
    group_by_minutes,
    may_share,
    may_share_season,
    parse_weather,
    peak_minutes,
    row_minutes,
    rows_apart,
    season,
    soil,
)
from optimizer.need.periods import Period, period_of
from optimizer.need.zone_period import RowPeriod

LITRE_AN_HOUR = 1.0e-3 / 3600.0
LITRE_A_MINUTE = 1.0e-3 / 60.0
JUNE_1 = dt.date(2026, 6, 1)
ALWAYS_GREEN = replace(crop("lettuce"), stage_days=(1, 0, 89, 0))
"""At full size from the second day on, so that hand computations stay short."""


def row(
    name="row", grown=ALWAYS_GREEN, planted=dt.date(2026, 6, 1), ground="loam", flow=2.0, spacing=0.3, pitch=0.5, **more
):
    return Row(name, grown, planted, soil(ground), flow * LITRE_AN_HOUR, spacing, pitch, **more)


def zone(name, *rows, flow=10.0, **more):
    return Zone(name, rows, flow * LITRE_A_MINUTE, **({"evenness": 1.0, "efficiency": 1.0} | more))


def daily(start, end, days=range(7), **more):
    timer = more.pop("timer", Timer(4, 1, 240, 4))
    return Allowance(tuple(Window(day, start, end) for day in days), timer, **more)


def month(plan, name):
    return next(each for each in plan.periods if each.period.name == name)


def test_window_thirty_percent_too_short_through_the_season():
    """By hand: 35 mm a week are 5 a day; 1.2 L/h on 0.4 by 0.5 m are 6 mm/h: 50 min a day in each of two zones.

    100 min wanted, 70 allowed: 30 % short; each zone runs 35 min a day.
    """
    slow = {"flow": 1.2, "spacing": 0.4}
    plan = season([zone("A", row(**slow)), zone("B", row(**slow))], from_weekly_depth([35.0]), daily(360, 430))
    july = month(plan, "Jul 2026")
    assert july.shortage is not None
    assert (july.shortage.short_pct, july.shortage.proven) == (30, True)
    assert [part.times.minutes * len(part.times.starts_min) for part in july.zones] == [35, 35]
    assert july.zones[0].times.wanted_week_min == pytest.approx(350.0)
    assert july.week_m3 == pytest.approx(2 * 7 * 35 * 0.010)


def test_tank_needing_2_7_fills_a_week():
    """By hand: 27 mm a week on 20 m2 are 540 L; the tank holds 200 L: 2.7.

    200 emitters of 2 L/h on 0.2 by 0.5 m: 20 mm/h, so 81 min a week, on Mon Wed Fri 27 each, at 400 L/h.
    """
    plan = season(
        [zone("bed", row(spacing=0.2), flow=400.0 / 60.0)],
        from_weekly_depth([27.0]),
        daily(360, 480, (0, 2, 4), tank_volume_m3=0.2),
    )
    july = month(plan, "Jul 2026")
    (part,) = july.zones
    assert (part.times.weekdays, part.times.minutes * len(part.times.starts_min)) == ((0, 2, 4), 27)
    assert july.week_m3 == pytest.approx(0.540)
    assert july.tank_refills == pytest.approx(2.7)


def test_tomato_and_lettuce_need_different_minutes():
    """By hand at ETo 5 mm/day: tomato 1.15 x 5 = 5.75 mm at 2 L/h on 0.3 by 1.0 m (6.667 mm/h): 51.75 min a day;
    lettuce 1.00 x 5 = 5.00 mm on 0.3 by 0.5 m (13.333 mm/h): 22.5 min. 22.5 is under 0.8 x 51.75: they may not share.
    """
    tomato = row("tomato", crop("tomato"), dt.date(2026, 4, 20), pitch=1.0)
    lettuce = row("lettuce")
    plan = season([zone("T", tomato), zone("L", lettuce)], from_monthly_eto([5.0] * 12), daily(0, 240))
    minutes = [part.rows[0].minutes_per_day for part in month(plan, "Jul 2026").zones]
    assert minutes == pytest.approx([51.75, 22.5])
    assert not may_share(*minutes, 0.2)
    assert group_by_minutes([*minutes, 45.0, 24.0], 0.2) == ((0, 2), (3, 1))
    together = season([zone("both", tomato, lettuce)], from_monthly_eto([5.0] * 12), daily(0, 240))
    (warning,) = [w for w in together.warnings if "gets too much" in w]
    assert warning == (
        "both, Jul 2026: lettuce needs 158 min a week, tomato 362; run for the longer, the other gets too much"
    )
    assert month(together, "Jul 2026").zones[0].times.wanted_week_min == pytest.approx(7 * 51.75)


def test_who_may_share_a_zone_all_season():
    """Tomato in mid-season (51.75 min) and lettuce (22.5) may not; two rows that never grow together may."""
    climate = from_monthly_eto([5.0] * 12)
    rows = [
        row("tomato", crop("tomato"), dt.date(2026, 4, 20), pitch=1.0),
        row("lettuce"),
        row("late lettuce", planted=dt.date(2026, 10, 1)),
        row("twin"),
    ]
    minutes = [row_minutes(each, climate, 1.0, 1.0) for each in rows]
    assert minutes[0][2026, 7] == pytest.approx(51.75)
    assert peak_minutes(minutes[1]) == pytest.approx(22.5)
    assert rows_apart(minutes, 0.2) == ((0, 1), (0, 3))
    assert may_share_season(minutes[0], minutes[2], 0.2)


def test_evenness_and_losses_are_made_up_for():
    """By hand: 5 mm/day at 13.333 mm/h are 22.5 min; EU 0.9 and 0.8 kept: 22.5 / 0.72 = 31.25."""
    uneven = zone("A", row(), evenness=0.9, efficiency=0.8)
    plan = season([uneven], from_weekly_depth([35.0]), daily(0, 240))
    assert month(plan, "Jul 2026").zones[0].rows[0].minutes_per_day == pytest.approx(31.25)


def test_water_of_a_season_is_that_of_its_runs():
    """90 days from 1 June to 29 August 2026, counted with the calendar; 30 min on each of the scheduled days."""
    plan = season([zone("A", row())], from_weekly_depth([28.0]), daily(0, 240, (1, 5)))
    total = 0.0
    for date in (dt.date(2026, 6, 1) + dt.timedelta(days=n) for n in range(90)):
        part = month(plan, f"{date:%b %Y}").zones[0]
        if date.weekday() in part.times.weekdays:
            total += part.times.minutes * len(part.times.starts_min) * 10.0e-3
    assert plan.season_m3 == pytest.approx(total)
    assert total > 0.0


def test_enough_water_on_enough_days_leaves_no_stress():
    """Watered daily for its whole need the lettuce gets all of it (the account starts at field capacity)."""
    plan = season([zone("A", row())], from_monthly_eto([5.0] * 12), daily(0, 240))
    (account,) = plan.accounts
    assert account.stress_days == 0
    assert account.got_mm == pytest.approx(account.need_mm)
    assert account.need_mm == pytest.approx(5.0 * (0.7 + 89 * 1.0))


def test_half_the_water_is_stress():
    plan = season([zone("A", row())], from_monthly_eto([5.0] * 12), daily(0, 12))
    (account,) = plan.accounts
    assert account.stress_days > 30
    assert account.got_mm < 0.75 * account.need_mm


def test_rain_rule_by_hand():
    """1 L/h on 0.5 by 0.5 m: 4 mm/h; 28 mm a week on 7 days are 4 mm a run, 60 min; 0.2 x 4 mm evaporate: 4.8, so 5."""
    plan = season([zone("A", row(flow=1.0, spacing=0.5))], from_weekly_depth([28.0]), daily(0, 60))
    part = month(plan, "Jul 2026").zones[0]
    assert part.times.minutes == 60
    assert part.rain.one_run_mm == 5
    assert part.rain.text.startswith("If it rains 5 mm skip the next run")


def test_rain_is_either_counted_or_skipped_by_rule():
    """100 mm a month leave 55/31 = 1.774 mm a day in July (FAO Training Manual 3): 4 - 1.774 = 2.226 to give."""
    climate = from_weekly_depth([28.0], [100.0] * 12)
    plan = season([zone("A", row())], climate, daily(0, 240), count_rain=True)
    part = month(plan, "Jul 2026").zones[0]
    assert part.rows[0].net_mm_day == pytest.approx(4.0 - 55.0 / 31.0)
    assert part.rain is None
    dry = season([zone("A", row())], climate, daily(0, 240))
    assert month(dry, "Jul 2026").zones[0].rows[0].net_mm_day == pytest.approx(4.0)
    assert month(dry, "Jul 2026").zones[0].rain is not None


def test_plastic_keeps_rain_off():
    covered = row(mulch=Mulch(MulchKind.PLASTIC))
    plan = season([zone("A", covered)], from_weekly_depth([28.0], [100.0] * 12), daily(0, 240), count_rain=True)
    assert month(plan, "Jul 2026").zones[0].rows[0].net_mm_day == pytest.approx(4.0)


def test_organic_mulch_saves_half_of_the_soil_evaporation():
    """Lettuce at full size: Kc 1.00, Kcb 0.90 (tables 12 and 17): 0.05 of 1.00 saved, 4.75 mm of 5."""
    plan = season([zone("A", row(mulch=Mulch(MulchKind.ORGANIC)))], from_monthly_eto([5.0] * 12), daily(0, 240))
    assert month(plan, "Jul 2026").zones[0].rows[0].need_mm_day == pytest.approx(4.75)
    bare = season([zone("A", row())], from_monthly_eto([5.0] * 12), daily(0, 240))
    assert month(bare, "Jul 2026").zones[0].rows[0].mulch_saves == pytest.approx(0.05)


def test_open_canopy_takes_less():
    """A quarter of the ground shaded: 0.1 sqrt(25) = 0.5 (Keller & Bliesner equation 19.9)."""
    plan = season([zone("A", row(canopy_cover_pct=25.0))], from_monthly_eto([5.0] * 12), daily(0, 240))
    assert month(plan, "Jul 2026").zones[0].rows[0].need_mm_day == pytest.approx(2.5)


def test_a_season_card_serves_its_hardest_month():
    """ETo steps up to 6 mm in July: the summer setting is that of July, not the mean of the summer."""
    climate = from_weekly_depth([21.0] * 6 + [42.0] + [21.0] * 5)
    plan = season([zone("A", row())], climate, daily(0, 240), kind=PeriodKind.SEASON)
    (summer,) = plan.periods
    assert summer.period.name == "summer 2026"
    assert summer.zones[0].rows[0].net_mm_day == pytest.approx(6.0)


def test_seeds_and_wide_emitters_are_warned_of():
    """Carrots sown in bed mix under emitters 12 in apart (common practice: 4 to 8 in there)."""
    carrots = row("carrots", crop("carrot"), ground="raised-bed mix", spacing=0.3048, direct_seeded=True)
    warnings = season([zone("B3", carrots)], from_weekly_depth([30.0]), daily(0, 240)).warnings
    assert warnings[0] == ("carrots: emitters 30 cm apart leave dry gaps in raised-bed mix; up to 20 cm is usual")
    assert warnings[1].startswith("carrots: sown in place, and seeds between emitters 30 cm apart may stay dry")
    assert warnings[1].endswith("or use up to 13 cm")
    fine = season([zone("A", row(spacing=0.2, direct_seeded=True))], from_weekly_depth([30.0]), daily(0, 240)).warnings
    assert not any("sown" in w or "dry gaps" in w for w in fine)


def test_filling_outlets_and_tank_are_warned_of():
    slow_fill = zone("A", row(), flow=1.0, fill_volume_m3=0.030)
    allowance = daily(0, 240, timer=Timer(1, 1, 240, 4), tank_volume_m3=0.01)
    plan = season([slow_fill, zone("B", row())], from_weekly_depth([30.0]), allowance)
    assert dict(plan.fill_minutes)["A"] == pytest.approx(30.0)
    assert any("30.0 min to fill" in w for w in plan.warnings)
    assert any("2 zones on a timer with 1 outlet" in w for w in plan.warnings)
    assert any("refill during the day" in w for w in plan.warnings)


def test_a_tank_just_large_enough_for_the_day_is_not_warned_of():
    """By hand: 2 L/h on 0.2 by 0.3556 m are 28.12 mm/h; sand takes 12.7 mm (0.5 in) at once, 27.1 min. 44 mm a week on
    Mon Wed Fri are 31.3 min a day, so two runs of 15.6, rounded up to 16: 32 min at 4 L/min are 128 L a day.
    """
    thirsty = row(spacing=0.2, ground="sand", pitch=0.3556)
    for litres, warned in ((127.0, True), (129.0, False)):
        allowance = daily(0, 300, (0, 2, 4), tank_volume_m3=litres / 1000.0, soak_min=30)
        plan = season([zone("bed", thirsty, flow=4.0)], from_weekly_depth([44.0]), allowance)
        part = month(plan, "Jul 2026").zones[0]
        assert (len(part.times.starts_min), part.times.minutes) == (2, 16)
        assert any(f"one day takes 128 L, the tank holds {litres:.0f} L" in w for w in plan.warnings) is warned


def test_assumptions_name_stand_ins_and_rain():
    basil = row("basil", crop("basil"), ground="clay loam")
    notes = season([zone("A", basil)], from_monthly_eto([5.0] * 12), daily(0, 240)).assumptions
    assert "crop basil: all: as lettuce (not in FAO-56)" in notes
    assert any(note.startswith("soil clay loam: water held: as silt clay loam") for note in notes)
    assert any(note.startswith("rain: not taken off") for note in notes)


def test_southern_seasons_and_seasons_over_new_year():
    plan = season(
        [zone("A", row(planted=dt.date(2026, 11, 15)))],
        from_monthly_eto([5.0] * 12),
        daily(0, 240),
        kind=PeriodKind.SEASON,
        southern=True,
    )
    assert [each.period.name for each in plan.periods] == ["spring 2026", "summer 2026"]
    assert plan.periods[1].zones[0].first == dt.date(2026, 12, 1)
    assert plan.periods[1].zones[0].last == dt.date(2027, 2, 12)
    spring = period_of(dt.date(2028, 2, 29), PeriodKind.SEASON, southern=False)
    assert spring == Period(dt.date(2027, 12, 1), dt.date(2028, 2, 29), "winter 2027")


def test_missing_weather_names_the_first_day_of_each_row():
    days = parse_weather("date,eto_mm\n2026-06-01,4\n2026-06-02,4\n", "two-days.csv")
    climate = from_daily_weather(Place(50.0, 100.0), days)
    with pytest.raises(ScenarioError, match="2026-06-03: no weather for this day"):
        season([zone("A", row())], climate, daily(0, 240))


def test_zones_must_be_there_and_have_names_of_their_own():
    with pytest.raises(ScenarioError, match="no zone to water"):
        season([], from_weekly_depth([30.0]), daily(0, 240))
    with pytest.raises(ScenarioError, match="two zones are called 'A'"):
        season([zone("A", row()), zone("A", row())], from_weekly_depth([30.0]), daily(0, 240))
    with pytest.raises(ScenarioError, match="a name of its own"):
        zone("A", row(), row())


@pytest.mark.parametrize(
    "build",
    [
        lambda: row(flow=0.0),
        lambda: row(spacing=-1.0),
        lambda: row(canopy_cover_pct=120.0),
        lambda: zone("A"),
        lambda: zone("A", row(), flow=0.0),
        lambda: zone("A", row(), evenness=1.2),
        lambda: zone("A", row(), fill_volume_m3=-1.0),
    ],
)
def test_rows_and_zones_that_cannot_be_are_refused(build):
    with pytest.raises(ScenarioError):
        build()


def test_what_the_soil_bridges_is_at_most_a_week_and_at_least_a_day():
    """Room 20 mm: at 3 mm a day six days, at 0.1 the whole week, at 30 mm still one day."""
    base = RowPeriod("r", 30, 5.0, 3.0, 3.0, 20.0, 30.0, 60.0, 0.0)
    gaps = [replace(base, net_mm_day=net).gap_days for net in (3.0, 0.1, 30.0, 0.0)]
    assert gaps == [6, 7, 1, 7]


def test_the_same_season_twice_is_the_same_plan():
    made = [season([zone("A", row()), zone("B", row())], from_monthly_eto([5.0] * 12), daily(0, 60)) for _ in range(2)]
    assert made[0] == made[1]


def test_a_bed_seventy_five_centimetres_wide():
    """Market garden: 2 lines of 1.0 L/h at 0.2 m on beds 1.2 m apart are 8.33 mm/h; 6 mm a day are 43.2 min."""
    plan = season([zone("A", row(flow=1.0, spacing=0.2, pitch=0.6))], from_weekly_depth([42.0]), daily(0, 240))
    assert month(plan, "Jul 2026").zones[0].rows[0].minutes_per_day == pytest.approx(43.2)

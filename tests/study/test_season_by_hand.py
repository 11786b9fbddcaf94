"""From the text of a scenario to the timer: seasons that can be worked out by hand."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest
from season_gardens import ALWAYS_GREEN, SHORT_WINDOW, THREE_DAYS, TWO_THIRSTS, on_a_tank, planned

from optimizer.errors import ScenarioError
from optimizer.need import PeriodKind
from optimizer.scenario import parse_scenario
from optimizer.scenario.water import may_not_share_zone
from optimizer.sheets.blocks import Table
from optimizer.sheets.schedule import schedule_blocks
from optimizer.study.season import plan_season, schedule_card
from optimizer.verification import verify


def watering(text: str, plan_of: str = "", kind: PeriodKind = PeriodKind.MONTH):
    return plan_season(parse_scenario(text, "test"), planned(plan_of or text), kind)


def month(season, name):
    return next(period for period in season.season.periods if period.period.name == name)


def test_a_window_thirty_percent_too_short():
    """By hand: two zones of 50 min a day want 100, the window has 70: 30 % short, 35 min each.

    The levers: together both take 1.2 L/min (30 emitters of 1.2 L/h each) and 50 min; 100 min are 30 more than 70;
    30 % less need.
    """
    season = watering(SHORT_WINDOW)
    july = month(season, "Jul 2026")
    assert (july.shortage.short_pct, july.shortage.proven, season.covers) == (30, True, False)
    assert [(part.times.minutes, part.times.weekdays) for part in july.zones] == [(35, tuple(range(7)))] * 2
    assert [part.times.wanted_week_min for part in july.zones] == pytest.approx([350.0, 350.0])
    assert {lever.kind: lever.amount for lever in july.shortage.levers} == pytest.approx(
        {"flow": 2 * 30 * 1.2e-3 / 3600.0, "hours": 30.0, "need": 30.0}
    )


def test_a_window_just_long_enough():
    season = watering(SHORT_WINDOW.replace("07:10", "07:40"), SHORT_WINDOW)
    july = month(season, "Jul 2026")
    assert season.covers
    assert [part.times.week_minutes for part in july.zones] == [350, 350]


def test_a_tank_needing_2_7_fills_a_week():
    """By hand: 4 rows of 10 m, 50 emitters each, on 20 m2: 27 mm gross are 540 L a week, the tank holds 200 L.

    The plan is that of the same garden on a tap: its emitters compensate and give 400 L/h there as here.
    """
    season = watering(on_a_tank(THREE_DAYS), THREE_DAYS)
    july = month(season, "Jul 2026")
    (part,) = july.zones
    assert (part.times.weekdays, part.times.minutes, part.times.starts_min) == ((0, 2, 4), 27, (360,))
    assert july.week_m3 == pytest.approx(0.540, rel=1e-6)
    assert july.tank_refills == pytest.approx(2.7, rel=1e-6)
    assert month(watering(THREE_DAYS), "Jul 2026").tank_refills is None


def test_water_of_the_season_is_runs_times_flow():
    """By hand: 1 June 2026 is a Monday, 90 days end on Saturday 29 August: 39 days Mon Wed Fri, 27 min of 400 L/h."""
    season = watering(THREE_DAYS)
    assert season.season.season_m3 == pytest.approx(39 * 27 / 60 * 0.400, rel=1e-6)


def test_tomato_and_lettuce_need_different_minutes():
    """By hand in July at ETo 5: tomato 1.15 x 5 / 0.95 = 6.053 mm at 6.667 mm/h: 54.47 min a day; lettuce 1.00 x 5
    / 0.95 = 5.263 mm at 13.333 mm/h: 23.68. 23.68 is less than 0.8 x 54.47, so each crop gets a zone.
    """
    season = watering(TWO_THIRSTS)
    july = month(season, "Jul 2026")
    found = {row.name: row.minutes_per_day for part in july.zones for row in part.rows}
    assert found == pytest.approx({"tomato": 54.47, "lettuce": 23.68}, abs=0.01)
    assert [[row.name for row in part.rows] for part in july.zones] in (
        [["tomato"], ["lettuce"]],
        [["lettuce"], ["tomato"]],
    )


def test_crops_of_different_thirst_are_zoned_apart_unless_the_scenario_lets_them_share():
    anyway = TWO_THIRSTS.replace("[limits]", "[limits]\nshare_zones_anyway = true")
    wide = TWO_THIRSTS.replace("[limits]", '[limits]\nminutes_tolerance = "60 %"')
    plain = TWO_THIRSTS[: TWO_THIRSTS.index("[climate]")]
    zones = [planned(text).zones for text in (TWO_THIRSTS, anyway, wide, plain)]
    assert [len(each) for each in zones] == [2, 1, 1, 1]
    crops = {row.id: row.crop for row in planned(TWO_THIRSTS).rows}
    assert sorted(sorted({crops[row] for row in zone.row_ids}) for zone in zones[0]) == [["lettuce"], ["tomato"]]
    assert any("gets too much" in text for text in watering(anyway).season.warnings)
    assert not any("gets too much" in text for text in watering(TWO_THIRSTS).season.warnings)


def test_the_check_of_plans_finds_crops_that_may_not_share():
    anyway = TWO_THIRSTS.replace("[limits]", "[limits]\nshare_zones_anyway = true")
    check = verify(planned(anyway), parse_scenario(TWO_THIRSTS, "test"))
    assert [item.message for item in check.of_rule("minutes alike")] == [
        "tomato and lettuce need clearly different minutes"
    ]
    assert not verify(planned(TWO_THIRSTS), parse_scenario(TWO_THIRSTS, "test")).of_rule("minutes alike")


@pytest.mark.parametrize(
    ("change", "pairs"),
    [
        (("minutes_tolerance", "56 %"), ((0, 1),)),  # 1 - 23.68 / 54.47 = 56.5 %
        (("minutes_tolerance", "57 %"), ()),
        (("planted", "2026-09-10"), ()),  # tomato ends on 11 September 2026, the lettuce is not in the ground before
    ],
)
def test_pairs_that_may_not_share(change, pairs):
    """The tomato of 20 April stands 145 days; with the lettuce it shares only months in which both grow."""
    key, value = change
    text = TWO_THIRSTS.replace("[limits]", f'[limits]\nminutes_tolerance = "{value}"')
    if key == "planted":
        text = TWO_THIRSTS.replace(ALWAYS_GREEN, ALWAYS_GREEN.replace("2026-06-01", "2026-10-01"))
    scenario = parse_scenario(text, "test")
    assert may_not_share_zone(scenario, 0, scenario.emitter_lines[0]) == pairs


def test_two_lines_a_row_halve_the_minutes():
    """By hand: 2 L/h on 0.3 m by 0.5 m instead of 1.0: 27.24 min for the tomato, beside 23.68: they may share."""
    text = TWO_THIRSTS.replace('row_spacing = "1 m"', 'row_spacing = "1 m"\nlines_per_row = 2')
    found = {row.name: row.minutes_per_day for part in month(watering(text), "Jul 2026").zones for row in part.rows}
    assert found == pytest.approx({"tomato": 27.24, "lettuce": 23.68}, abs=0.01)
    assert len(planned(text).zones) == 1


def test_crop_of_an_own_kind_canopy_and_mulch():
    """By hand: Kc 0.9, Kcb 0.5 under full straw (half of the soil's part stopped, FAO-56 chapter 10): 0.7; canopy
    49 %: 0.1 sqrt(49) = 0.7 (Keller & Bliesner eq. 19.9); 0.7 x 0.7 x 5 mm = 2.45 mm a day.
    """
    own = (
        "water = { planted = 2026-06-01, stage_days = [1, 0, 89, 0], kc = [0.9, 0.9, 0.9], kcb = [0.5, 0.5, 0.5], "
        'root_depth = "30 cm", depletion = "30 %", canopy_cover = "49 %", mulch = "organic" }'
    )
    text = TWO_THIRSTS.replace('name = "lettuce"', 'name = "cardoon"').replace(ALWAYS_GREEN, own)
    rows = {row.name: row for part in month(watering(text), "Jul 2026").zones for row in part.rows}
    assert rows["cardoon"].need_mm_day == pytest.approx(2.45)


def test_rain_is_told_and_counted_when_asked():
    """By hand: 60 mm in June are 0.6 x 60 - 10 = 26 mm useful (FAO Training Manual 3), 0.8667 a day of 3.664 wanted.

    In July and August (31 days) 0.8387. Weekly wants of June: 7 x (3.6643 - 0.8667) / 0.95 at 20 mm/h: 61.84 min.
    """
    rain = 'rain = "60 60 60 60 60 60 60 60 60 60 60 60 mm"'
    told = THREE_DAYS.replace("[climate]", f"[climate]\n{rain}")
    counted = told.replace("[climate]", "[climate]\ncount_rain = true")
    dry, wet = watering(told, THREE_DAYS), watering(counted, THREE_DAYS)
    assert dry.season.season_m3 == dry.dry_m3 == wet.dry_m3
    assert wet.season.season_m3 == wet.rainy_m3 == dry.rainy_m3 < dry.dry_m3
    assert month(wet, "Jun 2026").zones[0].times.wanted_week_min == pytest.approx(61.84, abs=0.01)
    assert month(wet, "Jun 2026").zones[0].rain is None
    assert month(dry, "Jun 2026").zones[0].rain is not None


@pytest.mark.parametrize(
    ("soil", "need_mm", "starts", "minutes"), [("sand", 51.3, 2, 27), ("loam", 51.3, 1, 54), ("clay", 102.6, 2, 54)]
)
def test_runs_are_split_where_the_soil_takes_no_more(soil, need_mm, starts, minutes):
    """By hand, with the depths a run and wetted widths of common practice, at 20 mm/h and three days a week.

    Sand takes 0.5 in over 14 in of the 50 cm: 12.7 x 0.711 = 9.03 mm or 27.1 min; loam 0.9 in over 18 in: 20.9 mm
    or 62.7 min; clay 1.0 in over all: 76.2 min. 51.3 mm a week net are 54 gross: 54 min a day. Twice that on clay: 108.
    """
    text = THREE_DAYS.replace('"loam"', f'"{soil}"').replace("25.65", str(need_mm)).replace("08:00", "10:00")
    times = month(watering(text, THREE_DAYS), "Jul 2026").zones[0].times
    assert (len(times.weekdays), len(times.starts_min), times.minutes) == (3, starts, minutes)
    assert all(two - one >= minutes + 30 for one, two in pairwise(times.starts_min))


def test_the_longest_run_of_the_timer_splits_runs():
    """By hand: 27 min in runs of up to 10 are three of 9."""
    text = THREE_DAYS + '\n[timer]\nlongest_run = "10 min"\nsoak = "20 min"\n'
    times = month(watering(text, THREE_DAYS), "Jul 2026").zones[0].times
    assert (times.starts_min, times.minutes) == ((360, 389, 418), 9)


def test_steps_of_the_timer_round_up():
    """By hand: 81 min a week in steps of 10: three runs of 30."""
    text = THREE_DAYS + '\n[timer]\nstep = "10 min"\noutlets = 1\n'
    assert month(watering(text, THREE_DAYS), "Jul 2026").zones[0].times.minutes == 30


def test_warnings_for_sown_rows_and_wide_emitters():
    """Loam: emitters up to 12 in (30 cm) and, sown in place, up to half the wetted 18 in (23 cm); common practice."""
    sown = THREE_DAYS.replace('row_spacing = "50 cm"', 'row_spacing = "50 cm"\ndirect_seeded = true')
    assert not watering(sown, THREE_DAYS).season.warnings
    mix = sown.replace('"loam"', '"raised-bed mix"')
    warnings = watering(mix, THREE_DAYS).season.warnings
    assert any("sown in place" in text for text in warnings)
    assert any("40 cm apart leave dry gaps" in text for text in watering(SHORT_WINDOW).season.warnings)


def test_more_zones_than_outlets_are_told():
    text = TWO_THIRSTS + "\n[timer]\noutlets = 1\n"
    assert any("2 zones on a timer with 1 outlet" in text for text in watering(text, TWO_THIRSTS).season.warnings)


def test_volume_a_day_is_kept():
    """By hand: 126 L a day are 18.9 min of 400 L/h, 18 whole ones; 54 of 81 min a week are 66 whole percent."""
    text = THREE_DAYS.replace('kind = "tap"', 'kind = "tap"\nvolume_per_day = "126 L"')
    july = month(watering(text, THREE_DAYS), "Jul 2026")
    assert (july.shortage.short_pct, july.zones[0].times.minutes) == (34, 18)
    assert "volume" in {lever.kind for lever in july.shortage.levers}


def test_seasons_are_named_after_the_hemisphere():
    south = THREE_DAYS.replace("[climate]", '[climate]\nlatitude = "-33 deg"')
    names = [
        watering(text, THREE_DAYS, PeriodKind.SEASON).season.periods[0].period.name for text in (THREE_DAYS, south)
    ]
    assert names == ["summer 2026", "winter 2026"]


def test_the_card_of_the_field_book():
    season, plan = watering(THREE_DAYS), planned(THREE_DAYS)
    card = schedule_card(season.season, plan)
    july = next(line for line in card.times if line.season == "Jul 2026")
    assert (july.zone_id, july.minutes, july.starts, july.days) == (plan.zones[0].id, 27, ("06:00",), ("Mon Wed Fri",))
    assert july.week_m3 == pytest.approx(0.540, rel=1e-6)
    assert any("skip the next" in rule for rule in card.rules)
    assert card.assumptions == season.season.assumptions
    tables = [block for block in schedule_blocks(plan, card) if isinstance(block, Table)]
    assert [table.caption for table in tables] == ["Jun 2026", "Jul 2026", "Aug 2026"]
    assert tables[1].rows[0] == (july.zone_id, "27", "06:00", "Mon Wed Fri", "540 L", "27 min, 1 start a day")
    strange = replace(plan, zones=tuple(replace(zone, id="X") for zone in plan.zones))
    with pytest.raises(ScenarioError, match="no zone A"):
        schedule_card(season.season, strange)


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ('name = "bed"', 'name = "other"', "no bed 'bed'"),
        ('name = "lettuce"', 'name = "radish"', "no crop 'lettuce'"),
        ('name = "dripline"', 'name = "tape"', "no emitter line 'dripline'"),
    ],
)
def test_a_plan_of_another_garden_is_refused(old, new, told):
    with pytest.raises(ScenarioError, match=told):
        watering(THREE_DAYS.replace(old, new), THREE_DAYS)

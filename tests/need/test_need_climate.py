"""Climate in, daily series out; weather files read strictly."""

from __future__ import annotations

import datetime as dt
import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optimizer.errors import FileError, ScenarioError
from optimizer.need.calendar_days import MONTH_DAYS, day_of_year, middle_day, month_of
from optimizer.need.climate import (
    from_daily_weather,
    from_monthly_eto,
    from_monthly_weather,
    from_weekly_depth,
    months_to_days,
)
from optimizer.need.weather import Place, Weather
from optimizer.need.weather_file import load_weather, parse_weather

UCCLE = Place(50.8, 100.0)


def monthly_means(daily):
    starts = [sum(MONTH_DAYS[:m]) for m in range(12)]
    return [sum(daily[s : s + n]) / n for s, n in zip(starts, MONTH_DAYS, strict=True)]


def test_days_are_counted_without_29_february():
    assert [day_of_year(dt.date(2028, m, d)) for m, d in ((1, 1), (2, 28), (2, 29), (3, 1), (12, 31))] == [
        1,
        59,
        59,
        60,
        365,
    ]
    assert [month_of(day) for day in (1, 31, 32, 59, 60, 365)] == [0, 0, 1, 1, 2, 11]


def test_middle_days_of_months_as_in_fao_56_annex_2():
    """J = integer(30.4 M - 15): January 15, July 197 (by hand: 212.8 - 15)."""
    assert (middle_day(0), middle_day(6)) == (15, 197)


@given(st.lists(st.floats(1.0, 8.0), min_size=12, max_size=12))
@settings(derandomize=True, max_examples=60, deadline=None)
def test_monthly_means_come_back_from_the_days(values):
    daily, rule = months_to_days(values)
    assert len(daily) == 365
    if "keep each month's mean" in rule:
        assert monthly_means(daily) == pytest.approx(values, rel=1e-9)
    assert min(daily) >= 0.0


def test_a_steady_year_stays_steady():
    daily, rule = months_to_days([3.0] * 12)
    assert daily == pytest.approx([3.0] * 365)
    assert "keep" in rule


def test_where_keeping_the_mean_needs_negative_days_the_plain_means_are_used_and_it_is_said():
    values = [0.0, 0.0, 9.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0]
    daily, rule = months_to_days(values)
    assert rule.endswith("through the monthly means")
    assert min(daily) == 0.0
    assert daily[middle_day(2) - 1] == pytest.approx(9.0)


def test_monthly_rain_is_spread_over_its_days():
    """100 mm leave 55 useful (FAO Training Manual 3, from memory): 55/31 a day in January, 55/28 in February."""
    climate = from_monthly_eto([3.0] * 12, [100.0] * 12)
    assert climate.rain_mm[0] == pytest.approx(55 / 31)
    assert climate.rain_mm[31] == pytest.approx(55 / 28)
    assert sum(climate.rain_mm) == pytest.approx(660.0)


def test_a_plain_depth_is_the_need_itself():
    climate = from_weekly_depth([35.0])
    assert climate.need_mm == pytest.approx([5.0] * 365)
    assert not climate.crop_coefficients_apply
    assert from_weekly_depth([7.0] * 6 + [14.0] * 6).need_mm[181] == pytest.approx(2.0)


@pytest.mark.parametrize("values", [[3.0] * 11, [3.0] * 11 + [-1.0], [3.0] * 11 + [float("nan")], [3.0] * 11 + [99.0]])
def test_bad_monthly_values_are_refused(values):
    with pytest.raises(ValueError, match="eto_mm_day"):
        from_monthly_eto(values)


def test_monthly_weather_agrees_with_the_published_month():
    """FAO-56 example 17 (from memory): Bangkok, April 34.8/25.6 deg C, 8.5 h, 2 m/s, ea 2.85 kPa: 5.72 mm/day.

    Here the soil heat comes from March and May (equation 43) instead of March alone, and day 106 is the middle: 2 %.
    """
    march, april, may = (
        Weather(33.2, 25.2, tdew_c=23.2, wind_m_s=2.0, sunshine_h=8.5),
        Weather(34.8, 25.6, tdew_c=23.24, wind_m_s=2.0, sunshine_h=8.5),
        Weather(34.8, 25.6, tdew_c=23.24, wind_m_s=2.0, sunshine_h=8.5),
    )
    climate = from_monthly_weather(Place(13.73, 2.0), [march, march, march, april, *[may] * 8])
    april_mean = sum(climate.need_mm[90:120]) / 30
    assert april_mean == pytest.approx(5.72, rel=0.02)


def test_a_second_opinion_is_given_where_weather_was_missing():
    """Lyon in July, 26.6/14.8 deg C only: 4.56 by Penman-Monteith (FAO-56 example 20, from memory), Hargreaves 5.03.

    Both are for 15 July; the middle day here is 16 July, so a tenth of a millimetre is allowed.
    """
    cool, july = Weather(15.0, 6.0), Weather(26.6, 14.8)
    climate = from_monthly_weather(Place(45.72, 200.0), [cool] * 6 + [july] + [cool] * 5)
    (note,) = [note for note in climate.assumptions if note.startswith("check: ")]
    ours, other = re.fullmatch(r"check: in Jul Penman-Monteith gives (.*) mm/day, Hargreaves .* (.*)", note).groups()
    assert float(ours) == pytest.approx(4.56, abs=0.1)
    assert float(other) == pytest.approx(5.03, abs=0.1)


HEADER = "date,tmax_c,tmin_c,rhmax_pct,rhmin_pct,wind_m_s,sunshine_h,rain_mm\n"


def test_a_weather_file_gives_the_published_day():
    """FAO-56 example 18 (wind 2.078 m/s at 2 m): 3.88 mm; 0.7 mm of rain is under 0.2 ETo and left out, 0.8 is not."""
    text = HEADER + "# Uccle\n\n2026-07-06,21.5,12.3,84,63,2.078,9.25,0.7\n2026-07-07,21.5,12.3,84,63,2.078,9.25,0.8\n"
    climate = from_daily_weather(UCCLE, parse_weather(text, "uccle.csv"))
    index = day_of_year(dt.date(2026, 7, 6)) - 1
    assert round(climate.need_mm[index], 2) == 3.88
    assert climate.rain_mm[index : index + 2] == (0.0, 0.8)
    assert climate.need_mm[0] is None
    assert any("sunshine" in note and "on 2 days" in note for note in climate.assumptions)


def test_years_are_averaged_by_calendar_day_and_29_february_left_out():
    text = "date,eto_mm,rain_mm\n2027-02-28,1.0,4\n2028-02-28,3.0,0\n2028-02-29,9.0,9\n2028-03-01,2.0,\n"
    climate = from_daily_weather(UCCLE, parse_weather(text, "two.csv"))
    assert climate.need_mm[58:60] == (2.0, 2.0)
    assert climate.rain_mm[58] == 2.0


def test_every_fault_is_told_with_its_line():
    text = (
        HEADER + "2026-07-06,21.5,12.3,84,63,2.0,9.0,0\n"  # 2: fine
        "2026-07-06,21.5,12.3,84,63,2.0,9.0,0\n"  # 3: twice
        "2026-02-30,21.5,12.3,,,,,\n"  # 4: not in the calendar
        "06.07.2026,21.5,12.3,,,,,\n"  # 5: not a date
        '2026-07-07,"21,5",12.3,,,,,\n'  # 6: decimal comma makes a cell too many
        "2026-07-08,12.3,21.5,,,,,\n"  # 7: upside down
        "2026-07-09,21.5,,,,,,\n"  # 8: half a day
        "2026-07-10,70,1e1,,,,,\n"  # 9: too hot, and no plain number
    )
    with pytest.raises(ScenarioError) as caught:
        parse_weather(text, "bad.csv")
    lines = [int(problem.path.split()[1]) for problem in caught.value.problems]
    assert lines == [3, 4, 5, 6, 7, 8, 9, 9]
    assert "bad.csv: 8 problems" in str(caught.value)
    words = str(caught.value)
    for part in ("there twice", "not in the calendar", "not a date", "cells", "is below tmin_c", "neither", "70, must"):
        assert part in words


@pytest.mark.parametrize(
    ("header", "part"),
    [
        ("date,tmax_c,tmin_c,foo", "unknown column 'foo'"),
        ("date,tmax_c,tmin_c,tmin_c", "'tmin_c' is there twice"),
        ("tmax_c,tmin_c,rain_mm,eto_mm", "'date' is missing"),
        ("date,tmax_c,rain_mm,wind_m_s", "needs the columns"),
    ],
)
def test_faults_of_the_header(header, part):
    with pytest.raises(ScenarioError, match=part):
        parse_weather(f"{header}\n2026-07-06,1,1,1\n", "h.csv")


def test_an_empty_or_missing_file(tmp_path):
    with pytest.raises(ScenarioError, match="no weather in it"):
        parse_weather("date,eto_mm\n", "empty.csv")
    with pytest.raises(FileError, match="cannot read"):
        load_weather(tmp_path / "none.csv")
    good = tmp_path / "good.csv"
    good.write_text("date,eto_mm\n2026-07-06,3.1\n", encoding="utf-8")
    assert load_weather(good)[0].eto_mm == 3.1


@pytest.mark.parametrize(("latitude", "altitude"), [(91.0, 0.0), (0.0, 99999.0), (float("nan"), 0.0)])
def test_places_off_the_earth_are_refused(latitude, altitude):
    with pytest.raises(ValueError, match="not between"):
        Place(latitude, altitude)

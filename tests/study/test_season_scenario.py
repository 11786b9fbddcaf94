"""What a scenario says about weather, soils, crops and hours is read right; a mistake is told once with its place."""

from __future__ import annotations

from pathlib import Path

import pytest
from season_gardens import ALWAYS_GREEN, THREE_DAYS

from optimizer.errors import ScenarioError
from optimizer.scenario import load_scenario, parse_scenario
from optimizer.scenario.water import windows

SCENARIOS = Path(__file__).parents[2] / "scenarios"
NEED = 'need = "25.65 mm/week"'
MONTHS = "1 2 3 4 5 6 7 6 5 4 3 2"


def climate_of(text: str):
    return parse_scenario(THREE_DAYS.replace(NEED, text), "test").climate.daily


def test_penman_monteith_from_monthly_weather():
    """FAO-56 example 17, Bangkok in April: 13 deg 44 min N, 2 m, 34.8 and 25.6 deg C, ea 2.85 kPa, 2 m/s, 8.5 h of
    sun, monthly means 29.2 (March) and 30.2 (April): 5.72 mm/day. A dew point of 23.23 deg C has ea 2.85 kPa
    (equation 14). May is chosen so that its mean gives the example's soil heat; the other months do not matter.
    """
    daily = climate_of(
        """
latitude = "13.7333 deg"
altitude = "2 m"
[climate.penman_monteith]
tmax = "34 34 33.8 34.8 35.8 34 34 34 34 34 34 34 degC"
tmin = "25 25 24.6 25.6 26.6 25 25 25 25 25 25 25 degC"
tdew = "23.23 23.23 23.23 23.23 23.23 23.23 23.23 23.23 23.23 23.23 23.23 23.23 degC"
wind = "2 2 2 2 2 2 2 2 2 2 2 2 m/s"
sunshine = "8.5 8.5 8.5 8.5 8.5 8.5 8.5 8.5 8.5 8.5 8.5 8.5 h"
"""
    )
    assert sum(daily.need_mm[90:120]) / 30 == pytest.approx(5.72, abs=0.02)


def test_hargreaves_from_temperatures():
    """FAO-56 example 20 (from memory), Lyon in July: 45 deg 43 min N, 26.6 and 14.8 deg C: 5.0 mm/day."""
    daily = climate_of(
        """
latitude = "45.7167 deg"
[climate.hargreaves]
tmax = "6 8 13 16 20 24 26.6 26 22 16 10 7 degC"
tmin = "1 1 4 6 10 13 14.8 14 11 8 4 1 degC"
"""
    )
    assert sum(daily.need_mm[181:212]) / 31 == pytest.approx(5.0, abs=0.06)


def test_fahrenheit_and_inches_are_read():
    """0.2 in/day are 5.08 mm; 2.25 in of rain are 57.15 mm, 0.6 x 57.15 - 10 = 24.29 useful (FAO Training Manual 3)."""
    twelve = " ".join(["0.2"] * 12)
    daily = climate_of(f'eto = "{twelve} in/day"\nrain = "{" ".join(["2.25"] * 12)} in"')
    assert daily.need_mm[200] == pytest.approx(5.08)
    assert 31 * daily.rain_mm[200] == pytest.approx(24.29, abs=0.005)


def test_a_plain_depth_by_month():
    """1.25 in/week are 31.75 mm/week; the crop coefficients are not applied again."""
    daily = climate_of('need = "1.25 in/week"')
    assert 7 * daily.need_mm[0] == pytest.approx(31.75)
    assert not daily.crop_coefficients_apply
    assert 7 * climate_of(f'need = "{MONTHS} mm/week"').need_mm[200] == pytest.approx(7.0)


def test_a_weather_file_lies_beside_the_scenario(tmp_path):
    days = [f"2026-{month:02d}-{day:02d},4.5,0" for month in (6, 7, 8) for day in range(1, 31)]
    (tmp_path / "weather.csv").write_text(
        "\n".join(["date,eto_mm,rain_mm", *days, "2026-07-31,4.5,0", "2026-08-31,4.5,0"])
    )
    (tmp_path / "garden.toml").write_text(THREE_DAYS.replace(NEED, 'weather_file = "weather.csv"'))
    scenario = load_scenario(tmp_path / "garden.toml")
    assert scenario.climate.daily.need_mm[200] == 4.5
    (tmp_path / "late.toml").write_text(
        THREE_DAYS.replace(NEED, 'weather_file = "weather.csv"').replace("2026-06-01", "2026-06-20")
    )
    with pytest.raises(ScenarioError, match=r"beds\.0\.crops\.0\.water\.planted: 2026-09-01: no weather for this day"):
        load_scenario(tmp_path / "late.toml")


def test_nights_across_midnight_are_two_windows():
    text = THREE_DAYS.replace('days = "Mon Wed Fri"', 'days = "Sun"').replace("06:00-08:00", "22:00-05:30")
    found = windows(parse_scenario(text, "test").hours)
    assert [(each.weekday, each.start_min, each.end_min) for each in found] == [(0, 0, 330), (6, 1320, 1440)]


def test_any_time_without_hours():
    text = THREE_DAYS[: THREE_DAYS.index("[[hours]]")]
    assert sum(each.minutes for each in windows(parse_scenario(text, "test").hours)) == 7 * 1440


WATER = "beds.0.crops.0.water"
MISTAKES = [
    (NEED, "", "climate", "give one of need, eto"),
    (NEED, f'{NEED}\neto = "{MONTHS} mm/day"', "climate", "found need, eto"),
    (NEED, 'need = "25.65"', "climate.need", "has no unit"),
    (NEED, 'need = "25,65 mm/week"', "climate.need", "a point as decimal mark"),
    (NEED, 'need = "25.65 mm"', "climate.need", "is not a water need"),
    (NEED, 'need = "1 2 3 mm/week"', "climate.need", "has 3; write one value or twelve"),
    (NEED, 'need = "900 mm/week"', "climate", "must be 0 to 175"),
    (NEED, 'eto = "4 mm/day"', "climate.eto", "has 1; write twelve values"),
    (NEED, 'weather_file = "none.csv"', "climate.weather_file", "cannot read the weather file"),
    (NEED, f"{NEED}\ncount_rain = true", "climate", "no rain in the climate"),
    (NEED, f'hargreaves = {{ tmax = "{MONTHS} degC", tmin = "{MONTHS} degC" }}', "climate", "needs the latitude"),
    (
        NEED,
        f'latitude = "50 deg"\nhargreaves = {{ tmax = "{MONTHS} degC", tmin = "9 {MONTHS[2:]} degC" }}',
        "climate",
        "tmin of month 1 is above tmax",
    ),
    (
        NEED,
        f'latitude = "50 deg"\npenman_monteith = {{ tmax = "{MONTHS} degC", tmin = "{MONTHS} degC" }}',
        "climate",
        "needs the altitude",
    ),
    (NEED, f'{NEED}\nlatitude = "95 deg"\nrain = "60 mm"', "climate.rain", "has 1; write twelve values"),
    (NEED, f'{NEED}\nlattitude = "50 deg"', "climate.lattitude", "there is no such key"),
    ('soil = "loam"\n', "", "beds.0.soil", "needs the soil of each bed: sand"),
    ('"loam"', '"moon dust"', "beds.0.soil", "no built-in soil 'moon dust'; there are: sand"),
    ('soil = "loam"', 'soil = "loam"\nroot_limit = "0 m"', "beds.0.root_limit", "must be above zero"),
    (ALWAYS_GREEN, "", WATER, "needs at least the day of planting"),
    ("2026-06-01", '"June"', f"{WATER}.planted", "'June' is not a day"),
    ("2026-06-01", '"2026-02-30"', f"{WATER}.planted", "not in the calendar"),
    ("2026-06-01", "2026-06-01T06:00:00", f"{WATER}.planted", "a day without a time"),
    ('like = "lettuce"', 'like = "triffid"', WATER, "no built-in crop 'triffid'"),
    ('name = "lettuce"\nrow', 'name = "salad"\nrow', WATER, None),
    ("[1, 0, 89, 0]", "[0, 0, 0, 0]", WATER, "at least one stage needs a day"),
    ("[1, 0, 89, 0]", "[1, 0, 89]", f"{WATER}.stage_days.3", "is missing"),
    ("[1, 0, 89, 0]", "[1, 0, 89, 0], season_days = 60", WATER, "either season_days or stage_days"),
    ("[1, 0, 89, 0]", '[1, 0, 89, 0], canopy_cover = "120 %"', WATER, "canopy_cover: must be above 0 %"),
    ("[1, 0, 89, 0]", '[1, 0, 89, 0], mulch = "gravel"', f"{WATER}.mulch", "'none', 'organic' or 'plastic'"),
    ("[1, 0, 89, 0]", "[1, 0, 89, 0], kcb = [0.1, 1.0, 0.9]", WATER, "kcb needs kc"),
    ("06:00-08:00", "06:00", "hours.0.times.0", "two times of day"),
    ("06:00-08:00", "06:00-25:00", "hours.0.times.0", "'25:00' is not a time of day"),
    ("06:00-08:00", "06:00-06:00", "hours.0.times.0", "begin and end are the same"),
    ('["06:00-08:00"]', '["06:00-08:00", "07:30-09:00"]', "hours", None),
    ("Mon Wed Fri", "Mon Wensday", "hours.0.days", "'Wensday' is not a day"),
    ("Mon Wed Fri", "Mon Mon", "hours.0.days", "each day once"),
    ("[climate]", "[timer]\noutlets = 0\n\n[climate]", "timer.outlets", "greater than or equal to 1"),
    ("[climate]", '[timer]\nstep = "90 s"\n\n[climate]', "timer.step", "a whole number of minutes"),
    ("[climate]", '[timer]\nstep = "5 min"\nlongest_run = "4 min"\n\n[climate]', "timer", "at least one step"),
    ("[limits]", '[limits]\nminutes_tolerance = "120 %"', "limits.minutes_tolerance", "between 0 % and 100 %"),
]


@pytest.mark.parametrize(("old", "new", "path", "told"), MISTAKES, ids=[f"{row[2]}: {row[1][:30]}" for row in MISTAKES])
def test_each_mistake_is_told_once_with_its_place(old, new, path, told):
    text = THREE_DAYS.replace(old, new)
    assert text != THREE_DAYS
    if new == 'name = "salad"\nrow':  # a crop nobody knows, without like
        text, told = text.replace('like = "lettuce", ', ""), "give like = a built-in crop"
    if path == "hours":
        told = "two windows overlap on"
        text = text.replace("Mon Wed Fri", "Mon")
    with pytest.raises(ScenarioError) as caught:
        parse_scenario(text, "test")
    (problem,) = caught.value.problems
    assert problem.path == path
    assert told in problem.message


def test_faults_of_a_weather_file_are_told_with_their_lines(tmp_path):
    (tmp_path / "weather.csv").write_text("date,eto_mm\n2026-06-01,4.5\n2026-06-02,hot\n")
    (tmp_path / "garden.toml").write_text(THREE_DAYS.replace(NEED, 'weather_file = "weather.csv"'))
    with pytest.raises(ScenarioError) as caught:
        load_scenario(tmp_path / "garden.toml")
    (problem,) = caught.value.problems
    assert problem.path == "climate.weather_file"
    assert "line    3" in problem.message
    assert "'hot' is not a number" in problem.message


def test_scenarios_without_climate_need_no_soils_or_plantings():
    text = THREE_DAYS[: THREE_DAYS.index("[climate]")].replace('soil = "loam"\n', "").replace(ALWAYS_GREEN, "")
    assert parse_scenario(text, "test").climate is None


@pytest.mark.parametrize("name", ["allotment", "backyard", "long-bed"])
def test_the_demo_scenarios_have_a_climate(name):
    assert load_scenario(SCENARIOS / f"{name}.toml").climate is not None

"""The command `season`: what it prints and writes, and how it ends."""

from __future__ import annotations

import csv
import io
import json

import icalendar
import pytest
from season_gardens import SHORT_WINDOW, THREE_DAYS, planned

from optimizer.cli import main
from optimizer.planfile import plan_to_json
from optimizer.scenario import parse_scenario
from optimizer.study.season import plan_season
from optimizer.study.season_text import season_text
from optimizer.study.season_words import user_text
from optimizer.units import System

STAMP = "2026-03-01T08:00:00Z"


@pytest.fixture
def garden(tmp_path):
    (tmp_path / "garden.toml").write_text(THREE_DAYS)
    (tmp_path / "plan.json").write_text(plan_to_json(planned(THREE_DAYS)))
    return tmp_path


def season(garden, *words):
    return main(["season", str(garden / "garden.toml"), str(garden / "plan.json"), *words])


def test_prints_eighty_columns_for_a_pipe(garden, capsys):
    assert season(garden) == 0
    text = capsys.readouterr().out
    assert max(len(line) for line in text.splitlines()) <= 80
    assert "\x1b" not in text
    # by hand: 27 min three times a week at 400 L/h are 540 L
    assert "Mon Wed Fri  06:00   27 min  81 min  81 min         540 L" in text
    assert "does not hold" not in text


def test_plans_first_without_a_plan(garden, capsys):
    assert main(["season", str(garden / "garden.toml")]) == 0
    assert "27 min" in capsys.readouterr().out


def test_the_calendar_is_read_back(garden):
    """27 min on Mon Wed Fri at 06:00; June has 13 such days from the 1st to the 29th (by the calendar of 2026)."""
    assert season(garden, "--out", str(garden / "out"), "--stamp", STAMP, "--quiet") == 0
    calendar = icalendar.Calendar.from_ical((garden / "out" / "schedule.ics").read_bytes())
    events = calendar.walk("VEVENT")
    assert len(events) == 3
    june = events[0]
    assert june["RRULE"]["BYDAY"] == ["MO", "WE", "FR"]
    assert june["DTSTART"].dt.isoformat() == "2026-06-01T06:00:00"
    assert june["RRULE"]["UNTIL"][0].isoformat() == "2026-06-29T06:00:00"
    assert june["DURATION"].dt.total_seconds() == 27 * 60
    assert june["DTSTAMP"].dt.isoformat() == "2026-03-01T08:00:00+00:00"
    assert "skip the next run" in june["DESCRIPTION"]


def test_files_repeat_with_the_same_stamp(garden):
    contents = []
    for name in ("one", "two"):
        assert season(garden, "--out", str(garden / name), "--stamp", STAMP, "--quiet") == 0
        contents.append({path.name: path.read_bytes() for path in sorted((garden / name).iterdir())})
    assert contents[0] == contents[1]
    assert sorted(contents[0]) == ["schedule.csv", "schedule.ics", "schedule.txt"]


def test_the_table_is_read_back(garden):
    season(garden, "--out", str(garden / "out"), "--quiet")
    rows = list(csv.DictReader(io.StringIO((garden / "out" / "schedule.csv").read_text())))
    assert [row["period"] for row in rows] == ["Jun 2026", "Jul 2026", "Aug 2026"]
    july = rows[1]
    assert (july["days"], july["run_min"], july["runs_a_week"], july["week_l"]) == ("Mon Wed Fri", "27", "3", "540.0")
    # 14 days with runs in July 2026 (Wed 1 to Fri 31), 180 L each
    assert july["period_l"] == "2520.0"


def test_json_and_quiet(garden, capsys):
    assert season(garden, "--json") == 0
    found = json.loads(capsys.readouterr().out)
    assert found["covers"] is True
    assert found["periods"][1]["zones"][0]["starts_min"] == [360]
    assert found["periods"][1]["week_m3"] == pytest.approx(0.54)
    assert season(garden, "--quiet") == 0
    assert capsys.readouterr().out == ""


def test_by_season(garden, capsys):
    assert season(garden, "--by", "season") == 0
    assert "summer 2026" in capsys.readouterr().out


def test_a_short_window_ends_with_4_and_tells_three_levers(tmp_path, capsys):
    (tmp_path / "garden.toml").write_text(SHORT_WINDOW)
    assert main(["season", str(tmp_path / "garden.toml")]) == 4
    text = capsys.readouterr().out
    assert "Short: 30 % of the need does not fit." in text
    assert all(f"    {number}. " in text for number in (1, 2, 3))
    assert "    4. " not in text


def test_a_plan_that_no_longer_holds_is_told(garden, capsys):
    (garden / "garden.toml").write_text(THREE_DAYS.replace("rows = 4", "rows = 5"))
    assert season(garden) == 0
    assert "the plan does not hold for this scenario" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("words", "text", "told"),
    [
        (("--stamp", "yesterday"), THREE_DAYS, "--stamp: 'yesterday' is not a time"),
        (("--stamp", "2026-03-01T08:00:00"), THREE_DAYS, "with its time zone"),
        ((), THREE_DAYS[: THREE_DAYS.index("[climate]")], "climate: is missing"),
    ],
)
def test_mistakes_end_with_2(garden, capsys, words, text, told):
    (garden / "garden.toml").write_text(text)
    assert season(garden, *words) == 2
    assert told in capsys.readouterr().err


def test_a_plan_that_cannot_be_read_ends_with_3(garden, capsys):
    assert main(["season", str(garden / "garden.toml"), str(garden / "none.json")]) == 3
    assert "none.json" in capsys.readouterr().err


def test_us_units_are_written_throughout():
    """25.65 mm a week are 1.01 in, 540 L 142.7 gal, 20 mm/h 0.79 in/h."""
    scenario = parse_scenario(THREE_DAYS.replace('units = "metric"', 'units = "us"'), "test")
    plan = planned(THREE_DAYS.replace('units = "metric"', 'units = "us"'))
    text = season_text(plan_season(scenario, plan))
    assert "lettuce 1.01 in." in text
    assert "142.7 gal" in text
    assert "0.79 in/h" in text
    assert " mm" not in text
    assert " L\n" not in text


@pytest.mark.parametrize(
    ("metric", "us"),
    [
        ("If it rains 10 mm skip the next run", "If it rains 0.39 in skip the next run"),
        ("emitters 40 cm apart", "emitters 15.5 in apart"),
        ("emitters 30 cm apart", "emitters 12 in apart"),
        ("needs 12.0 L/min at working pressure", "needs 3.17 gal/min at working pressure"),
        ("the tank holds 200 L: refill", "the tank holds 53 gal: refill"),
        ("wind of 2 m/s", "wind of 2 m/s"),
        ("3.5 h more a week", "3.5 h more a week"),
    ],
)
def test_words_in_us_units(metric, us):
    """1 in is 25.4 mm and 1 gal 3.785411784 L by definition; centimetres become half inches."""
    assert user_text(metric, System.US) == us
    assert user_text(metric, System.METRIC) == metric

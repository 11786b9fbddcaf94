"""The calendar file as `icalendar` and `dateutil` read it (RFC 5545)."""

from __future__ import annotations

import datetime as dt

import icalendar
import pytest
from dateutil.rrule import rrulestr

from optimizer.need import Allowance, Row, Timer, Window, Zone, calendar_text, crop, from_monthly_eto, season, soil
from optimizer.need.calendar_file import escaped, folded, timer_lines, uid

STAMP = dt.datetime(2026, 1, 2, 3, 4, 5, tzinfo=dt.UTC)
LONG_NAME = "Beet, rechts; grün \u2014 ein Name mit Umlauten äöüß, so lang, dass er gefaltet wird"
ETO = (0.6, 1.0, 1.8, 2.8, 3.8, 4.6, 4.9, 4.2, 2.9, 1.6, 0.8, 0.5)


def plan():
    def zone(name, grown, ground, planted, pitch):
        emitter = 2.0e-3 / 3600.0
        row = Row(grown, crop(grown), planted, soil(ground), emitter, 0.3, pitch)
        return Zone(name, (row,), 1.0e-4, 0.005)

    zones = [
        zone(LONG_NAME, "tomato", "loam", dt.date(2026, 5, 10), 1.0),
        zone("B", "lettuce", "clay", dt.date(2026, 4, 1), 0.5),
    ]
    windows = tuple(Window(day, 360, 600) for day in (0, 2, 4, 6))
    return season(zones, from_monthly_eto(ETO), Allowance(windows, Timer(2, 5, 60, 4)))


def events(text):
    return icalendar.Calendar.from_ical(text).walk("VEVENT")


def test_lines_end_in_cr_lf_and_hold_at_most_75_octets():
    text = calendar_text(plan(), STAMP)
    lines = text.encode("utf-8").split(b"\r\n")
    assert lines[-1] == b""
    assert max(len(line) for line in lines) <= 75
    assert not any(b"\n" in line or b"\r" in line for line in lines)
    for line in lines:
        line.decode("utf-8")


def test_every_run_of_the_plan_is_in_the_calendar_and_no_other():
    """Recurrences are expanded by `dateutil`; dates of the plan are counted here from its weekdays."""
    made = plan()
    wanted = set()
    for part in (part for period in made.periods for part in period.zones):
        day = part.first
        while day <= part.last:
            if day.weekday() in part.times.weekdays:
                for start in part.times.starts_min:
                    moment = dt.datetime(day.year, day.month, day.day) + dt.timedelta(minutes=start)
                    wanted.add((part.zone, moment, part.times.minutes))
            day += dt.timedelta(days=1)
    found = []
    for event in events(calendar_text(made, STAMP)):
        start = event.decoded("dtstart")
        assert start.tzinfo is None
        rule = event["rrule"].to_ical().decode()
        name = str(event["summary"]).removeprefix("Water ").rsplit(":", 1)[0]
        minutes = event.decoded("duration").total_seconds() / 60
        moments = list(rrulestr(rule, dtstart=start))
        assert moments[0] == start
        found += [(name, moment, minutes) for moment in moments]
    assert len(found) == len(set(found))
    assert set(found) == wanted
    assert len(wanted) > 100


def test_only_split_runs_are_numbered():
    names = {str(event["summary"]).removeprefix("Water ") for event in events(calendar_text(plan(), STAMP))}
    runs = {len(part.times.starts_min) for period in plan().periods for part in period.zones}
    assert runs >= {1, 2}
    assert any(name.endswith(", run 1 of 2") for name in names)
    assert any(name.endswith(" min") for name in names)
    assert not any("of 1" in name for name in names)


def test_names_are_unique_and_stay_the_same():
    first, second = calendar_text(plan(), STAMP), calendar_text(plan(), STAMP)
    assert first == second
    names = [str(event["uid"]) for event in events(first)]
    assert len(names) == len(set(names))
    later = [str(event["uid"]) for event in events(calendar_text(plan(), STAMP + dt.timedelta(days=9)))]
    assert later == names
    assert uid("A", "Jul 2026", 0) != uid("A", "Jul 2026", 1)


def test_no_event_is_wrong_in_the_eyes_of_the_library():
    text = calendar_text(plan(), STAMP, title="Garden, north; \\ side")
    calendar = icalendar.Calendar.from_ical(text)
    assert calendar["version"] == "2.0"
    # The library does not know that NAME is a TEXT (RFC 7986 section 5.1); under the name of a TEXT it reads it.
    renamed = icalendar.Calendar.from_ical(text.replace("\r\nNAME:", "\r\nSUMMARY:", 1))
    assert str(renamed["summary"]) == "Garden, north; \\ side"
    assert all(event.errors == [] for event in calendar.walk("VEVENT"))
    assert {event.decoded("dtstamp") for event in calendar.walk("VEVENT")} == {STAMP}
    assert all("If it rains" in str(event["description"]) for event in calendar.walk("VEVENT"))


def test_the_stamp_is_written_in_utc_and_needs_a_zone():
    east = dt.timezone(dt.timedelta(hours=2))
    text = calendar_text(plan(), dt.datetime(2026, 1, 2, 5, 4, 5, tzinfo=east))
    assert text == calendar_text(plan(), STAMP)
    with pytest.raises(ValueError, match="time zone"):
        calendar_text(plan(), dt.datetime(2026, 1, 2))


def test_text_is_escaped_as_section_3_3_11_asks():
    assert escaped("a,b;c\\d\ne\x07") == "a\\,b\\;c\\\\d\\ne"


def test_folding_as_section_3_1_asks():
    """75 octets stay on a line, 76 do not; a two-octet character is not cut; unfolding gives the line back."""
    assert folded("x" * 75) == "x" * 75 + "\r\n"
    assert folded("x" * 76) == "x" * 75 + "\r\n x\r\n"
    line = "x" * 74 + "ä" * 60
    assert folded(line).replace("\r\n ", "") == line + "\r\n"
    assert all(len(piece.encode()) <= 75 for piece in folded(line).split("\r\n"))


def test_the_card_has_one_line_a_start():
    part = plan().periods[0].zones[0]
    assert timer_lines(part)[0].startswith("06:00 ")
    assert len(timer_lines(part)) == len(part.times.starts_min)

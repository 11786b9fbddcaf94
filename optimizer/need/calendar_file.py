"""Calendar file (.ics) of the runs, after RFC 5545 and RFC 7986: a weekly event for each zone, period and start.

Times are floating (the clock on the wall of the garden), so no time zone is needed. The text is the same for the same
plan: `stamp` is a parameter, and the UID comes from zone, period and number of the start.
"""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Iterable, Sequence

from optimizer.need.season_plan import SeasonPlan, ZonePeriod
from optimizer.need.timer import clock

WEEKDAYS = ("MO", "TU", "WE", "TH", "FR", "SA", "SU")
PRODUCT = "-//drip layout optimizer//water schedule//EN"
DOMAIN = "drip-layout.invalid"
"""Right side of every UID; the name is reserved (RFC 2606), so it can belong to nobody."""
LINE_OCTETS = 75


def escaped(text: str) -> str:
    """Text as a TEXT value, RFC 5545 section 3.3.11.

    Args:
        text: any text
    """
    for plain, written in (("\\", "\\\\"), (";", "\\;"), (",", "\\,"), ("\r\n", "\\n"), ("\n", "\\n")):
        text = text.replace(plain, written)
    return "".join(character for character in text if character >= " " and character != "\x7f")


def folded(line: str) -> str:
    """A content line with its end, folded at 75 octets of UTF-8 between characters, RFC 5545 section 3.1.

    Args:
        line: without line end
    """
    pieces, piece, room = [], "", LINE_OCTETS
    for character in line:
        size = len(character.encode("utf-8"))
        if size > room:
            pieces.append(piece)
            piece, room = " ", LINE_OCTETS - 1
        piece, room = piece + character, room - size
    return "\r\n".join([*pieces, piece]) + "\r\n"


def uid(zone: str, period: str, number: int) -> str:
    """Name of an event that stays the same when the plan is made again.

    Args:
        zone: its name
        period: its name
        number: of the start on a day, from 0
    """
    digest = hashlib.sha256(f"{zone}\n{period}\n{number}".encode()).hexdigest()[:32]
    return f"{digest}@{DOMAIN}"


def local(date: dt.date, minute: int) -> str:
    """Floating date and time, RFC 5545 section 3.3.5 form 1.

    Args:
        date: the day
        minute: of the day, below 1440 [min]
    """
    return f"{date:%Y%m%d}T{minute // 60:02d}{minute % 60:02d}00"


def summary(part: ZonePeriod, number: int) -> str:
    """Title of an event.

    Args:
        part: zone and period with runs
        number: of the start on a day, from 0
    """
    times = part.times
    if times is None:
        raise ValueError(f"{part.zone} has no runs in {part.period}")
    turn = f", run {number + 1} of {len(times.starts_min)}" if len(times.starts_min) > 1 else ""
    return f"Water {part.zone}: {times.minutes} min{turn}"


def event(part: ZonePeriod, number: int, stamp: dt.datetime) -> list[str]:
    """Lines of the event of one start; none if no watering day falls into the period.

    Args:
        part: zone and period
        number: of the start on a day, from 0
        stamp: DTSTAMP, in UTC
    """
    times = part.times
    if times is None or not part.run_dates:
        return []
    first, last, start = part.run_dates[0], part.run_dates[-1], times.starts_min[number]
    days = ",".join(WEEKDAYS[day] for day in times.weekdays)
    rain = [f"DESCRIPTION:{escaped(part.rain.text)}"] if part.rain is not None else []
    return [
        "BEGIN:VEVENT",
        f"UID:{uid(part.zone, part.period, number)}",
        f"DTSTAMP:{stamp:%Y%m%dT%H%M%SZ}",
        f"DTSTART:{local(first, start)}",
        f"DURATION:PT{times.minutes}M",
        f"RRULE:FREQ=WEEKLY;UNTIL={local(last, start)};BYDAY={days}",
        f"SUMMARY:{escaped(summary(part, number))}",
        *rain,
        "END:VEVENT",
    ]


def event_lines(parts: Iterable[ZonePeriod], stamp: dt.datetime) -> list[str]:
    """Lines of all events, in the order of the plan.

    Args:
        parts: zones in periods
        stamp: DTSTAMP, in UTC
    """
    lines: list[str] = []
    for part in parts:
        for number in range(len(part.times.starts_min) if part.times is not None else 0):
            lines += event(part, number, stamp)
    return lines


def calendar_text(plan: SeasonPlan, stamp: dt.datetime, title: str = "Water schedule") -> str:
    """Calendar file of a season, RFC 5545: lines end in CR LF and are folded at 75 octets.

    Args:
        plan: the season
        stamp: when the plan was made, with a time zone; written as UTC
        title: name of the calendar

    Raises:
        ValueError: the stamp has no time zone
    """
    if stamp.tzinfo is None:
        raise ValueError("the time stamp of a calendar file needs a time zone")
    lines: Sequence[str] = [
        "BEGIN:VCALENDAR",
        "VERSION:2.0",
        f"PRODID:{PRODUCT}",
        "CALSCALE:GREGORIAN",
        f"NAME:{escaped(title)}",
        f"X-WR-CALNAME:{escaped(title)}",
        *event_lines((part for each in plan.periods for part in each.zones), stamp.astimezone(dt.UTC)),
        "END:VCALENDAR",
    ]
    return "".join(folded(line) for line in lines)


def timer_lines(part: ZonePeriod) -> tuple[str, ...]:
    """The same runs as plain lines for a card, like "06:00 25 min".

    Args:
        part: zone and period
    """
    if part.times is None:
        return ()
    return tuple(f"{clock(start)} {part.times.minutes} min" for start in part.times.starts_min)

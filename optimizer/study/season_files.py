"""A season as files: schedule.csv, schedule.txt and schedule.ics, and as plain values for JSON."""

from __future__ import annotations

import datetime as dt
from typing import Any

from optimizer.need import calendar_text
from optimizer.need.demand import ZoneTimes
from optimizer.need.season_plan import PeriodPlan, ZonePeriod
from optimizer.sheets.textual import csv_text
from optimizer.study.season import Watering, days_text
from optimizer.study.season_text import season_text, starts_text

LITRES = 1000.0
CSV_HEADER = (
    "period",
    "first_day",
    "last_day",
    "zone",
    "days",
    "starts",
    "run_min",
    "runs_a_week",
    "week_min",
    "wanted_week_min",
    "week_l",
    "period_l",
    "short_pct",
    "rain_rule",
)


def _times(times: ZoneTimes | None) -> tuple[object, ...]:
    if times is None:
        return "none", "", 0, 0, 0, 0, "0.0"
    runs = len(times.weekdays) * len(times.starts_min)
    minutes = (times.minutes, runs, times.week_minutes, f"{times.wanted_week_min:.1f}")
    return (days_text(times.weekdays), starts_text(times), *minutes, f"{LITRES * times.week_m3:.1f}")


def _row(period: PeriodPlan, part: ZonePeriod) -> tuple[object, ...]:
    short = period.shortage.short_pct if period.shortage else 0
    rule = part.rain.text if part.rain else ""
    dates = (period.period.name, part.first.isoformat(), part.last.isoformat())
    return (*dates, part.zone, *_times(part.times), f"{LITRES * part.total_m3:.1f}", short, rule)


def schedule_csv(watering: Watering) -> str:
    """A line for each period and zone; water in litres, the rain rule in the user's words.

    Args:
        watering: the season
    """
    periods = watering.season.periods
    return csv_text(CSV_HEADER, [_row(period, part) for period in periods for part in period.zones])


def schedule_files(watering: Watering, stamp: dt.datetime) -> dict[str, bytes]:
    """Return the schedule as table, text and calendar file.

    Args:
        watering: the season
        stamp: when the calendar file was made, with a time zone

    Returns:
        Contents under file names.

    Raises:
        ValueError: the stamp has no time zone
    """
    title = f"Water schedule: {watering.title}"
    return {
        "schedule.csv": schedule_csv(watering).encode(),
        "schedule.txt": season_text(watering).encode(),
        "schedule.ics": calendar_text(watering.season, stamp, title).encode(),
    }


def _part_values(part: ZonePeriod) -> dict[str, Any]:
    found: dict[str, Any] = {"zone": part.zone, "first": part.first.isoformat(), "last": part.last.isoformat()}
    found["need_mm_day"] = {row.name: round(row.need_mm_day, 3) for row in part.rows}
    found["rain_rule"] = part.rain.text if part.rain else None
    times = part.times
    found["days"] = list(times.weekdays) if times else []
    found["starts_min"] = list(times.starts_min) if times else []
    found["run_min"] = times.minutes if times else 0
    found["week_min"] = times.week_minutes if times else 0
    found["wanted_week_min"] = round(times.wanted_week_min, 3) if times else 0.0
    found["week_m3"] = round(times.week_m3, 6) if times else 0.0
    found["total_m3"] = round(part.total_m3, 6)
    return found


def _period_values(period: PeriodPlan) -> dict[str, Any]:
    short = period.shortage
    levers = (
        [{"kind": each.kind, "text": each.text, "within_reach": each.within_reach} for each in short.levers]
        if short
        else []
    )
    return {
        "period": period.period.name,
        "zones": [_part_values(part) for part in period.zones],
        "week_m3": round(period.week_m3, 6),
        "tank_refills": None if period.tank_refills is None else round(period.tank_refills, 3),
        "short_pct": short.short_pct if short else 0,
        "levers": levers,
    }


def season_values(watering: Watering) -> dict[str, Any]:
    """A season as plain values; days run from 0 (Monday), starts are minutes of the day.

    Args:
        watering: the season
    """
    season = watering.season
    return {
        "title": watering.title,
        "covers": watering.covers,
        "periods": [_period_values(period) for period in season.periods],
        "season_m3": round(season.season_m3, 6),
        "season_without_rain_m3": round(watering.dry_m3, 6),
        "season_with_mean_rain_m3": None if watering.rainy_m3 is None else round(watering.rainy_m3, 6),
        "fill_minutes": {name: round(minutes, 3) for name, minutes in season.fill_minutes},
        "warnings": list(season.warnings),
        "assumptions": list(season.assumptions),
    }

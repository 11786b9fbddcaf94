"""Days of the year: everything is computed on a year of 365 days; 29 February takes the values of 28 February."""

from __future__ import annotations

import datetime as dt
from itertools import accumulate

DAYS_IN_YEAR = 365
MONTH_NAMES = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
MONTH_DAYS = (31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)
MONTH_STARTS = (0, *accumulate(MONTH_DAYS))[:12]
"""Days of the year before each month begins."""
WEEKDAY_NAMES = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")


def day_of_year(date: dt.date) -> int:
    """Day 1 to 365 of a date, leap years without their 29 February.

    Args:
        date: any date
    """
    day = min(date.day, MONTH_DAYS[date.month - 1])
    return MONTH_STARTS[date.month - 1] + day


def month_of(day: int) -> int:
    """Month 0 (January) to 11 that a day of the year lies in.

    Args:
        day: 1 to 365 [day]
    """
    return max(month for month in range(12) if MONTH_STARTS[month] < day)


def middle_day(month: int) -> int:
    """Day of the year that stands for a month, FAO-56 annex 2 (J = integer(30.4 M - 15)).

    Args:
        month: 0 (January) to 11
    """
    return int(30.4 * (month + 1) - 15.0)


def dates(first: dt.date, last: dt.date) -> tuple[dt.date, ...]:
    """Every date from first to last, both included; empty if last is before first.

    Args:
        first: first date
        last: last date
    """
    return tuple(first + dt.timedelta(days=n) for n in range((last - first).days + 1))

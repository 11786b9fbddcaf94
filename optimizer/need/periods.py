"""Periods of the schedule card: months, or spring, summer and autumn."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum

from optimizer.need.calendar_days import MONTH_NAMES

QUARTERS = ("winter", "spring", "summer", "autumn")


class PeriodKind(Enum):
    """How the card is divided."""

    MONTH = "month"
    SEASON = "season"


@dataclass(frozen=True, order=True)
class Period:
    """A stretch of days with one setting of the timer; sorts by time.

    Args:
        first: first day
        last: last day
        name: as printed, like "Jul 2026" or "summer 2026"
    """

    first: dt.date
    last: dt.date
    name: str


def month_start(date: dt.date, months: int) -> dt.date:
    """First day of the month so many months after a date's.

    Args:
        date: any date
        months: how many later (or earlier, negative)
    """
    index = date.year * 12 + date.month - 1 + months
    return dt.date(index // 12, index % 12 + 1, 1)


def period_of(date: dt.date, kind: PeriodKind, southern: bool) -> Period:
    """The period a day lies in; seasons are whole quarters (March to May is spring in the north, autumn in the south).

    Args:
        date: any date
        kind: months or seasons
        southern: south of the equator
    """
    if kind is PeriodKind.MONTH:
        first, length, name = month_start(date, 0), 1, MONTH_NAMES[date.month - 1]
    else:
        first, length = month_start(date, -(date.month % 3)), 3
        name = QUARTERS[(first.month % 12 // 3 + (2 if southern else 0)) % 4]
    last = month_start(first, length) - dt.timedelta(days=1)
    return Period(first, last, f"{name} {first.year}")


def periods_of(dates: Sequence[dt.date], kind: PeriodKind, southern: bool) -> tuple[Period, ...]:
    """The periods some days lie in, in order of time.

    Args:
        dates: any dates
        kind: months or seasons
        southern: south of the equator
    """
    return tuple(sorted({period_of(date, kind, southern) for date in dates}))

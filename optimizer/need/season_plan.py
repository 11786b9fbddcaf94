"""What a season's plan holds: times of every zone and period, water, warnings."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from optimizer.need.calendar_days import dates
from optimizer.need.demand import ZoneTimes
from optimizer.need.periods import Period
from optimizer.need.rain import RainRule
from optimizer.need.shortage import Shortage
from optimizer.need.zone_period import RowPeriod


@dataclass(frozen=True)
class ZonePeriod:
    """A zone in a period.

    Args:
        zone: its name
        period: name of the period
        first: first day on which a row grows
        last: last day on which a row grows
        rows: what each growing row needs
        times: days, starts and minutes; None if nothing is asked for or nothing could be scheduled
        rain: rule for skipping runs; None without runs or if rain is counted already
    """

    zone: str
    period: str
    first: dt.date
    last: dt.date
    rows: tuple[RowPeriod, ...]
    times: ZoneTimes | None
    rain: RainRule | None

    @property
    def run_dates(self) -> tuple[dt.date, ...]:
        """Every date with runs."""
        if self.times is None:
            return ()
        return tuple(date for date in dates(self.first, self.last) if date.weekday() in self.times.weekdays)

    @property
    def total_m3(self) -> float:
        """Water of the period [m3]."""
        if self.times is None:
            return 0.0
        runs = len(self.run_dates) * len(self.times.starts_min)
        return runs * self.times.minutes * 60.0 * self.times.flow_m3_s


@dataclass(frozen=True)
class PeriodPlan:
    """All zones in a period.

    Args:
        period: name and days
        zones: zones with a growing row
        week_m3: water a week [m3]
        tank_refills: full tanks a week, None without a tank [1]
        shortage: None if every need is covered
    """

    period: Period
    zones: tuple[ZonePeriod, ...]
    week_m3: float
    tank_refills: float | None
    shortage: Shortage | None


@dataclass(frozen=True)
class RowAccount:
    """How the soil of a row fares with the schedule (in dry weather, unless rain is counted).

    Args:
        zone: its name
        row: its name
        stress_days: days on which the crop gets less than it asks
        need_mm: need of the season [mm]
        got_mm: what of it the crop gets [mm]
        irrigation_mm: net irrigation of the season [mm]
        drained_mm: water lost below the roots [mm]
    """

    zone: str
    row: str
    stress_days: int
    need_mm: float
    got_mm: float
    irrigation_mm: float
    drained_mm: float


@dataclass(frozen=True)
class SeasonPlan:
    """How long to run it, for a season.

    Args:
        periods: in order of time
        season_m3: water of the whole season [m3]
        fill_minutes: time until the tubes of each zone are full, by zone in order [min]
        accounts: water account of each row
        warnings: what to mind
        assumptions: what was taken where nothing was given, to be printed
    """

    periods: tuple[PeriodPlan, ...]
    season_m3: float
    fill_minutes: tuple[tuple[str, float], ...]
    accounts: tuple[RowAccount, ...]
    warnings: tuple[str, ...]
    assumptions: tuple[str, ...]

"""What a zone asks for in a period, from the rows it waters."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from optimizer.errors import Problem, ScenarioError
from optimizer.need.demand import Demand
from optimizer.need.growing import Row, RowDay, mean
from optimizer.need.minutes import gross_depth_mm, run_minutes


@dataclass(frozen=True)
class Zone:
    """Rows that run together.

    Args:
        name: as printed
        rows: at least one
        flow_m3_s: flow of the zone while it runs [m3/s]
        fill_volume_m3: water that fills its tubes [m3]
        evenness: emission uniformity EU, the share of the mean that the driest quarter gets [1]
        efficiency: share of the water not lost otherwise (leaks, drainage of tubes); 0.95 is common practice [1]
    """

    name: str
    rows: tuple[Row, ...]
    flow_m3_s: float
    fill_volume_m3: float = 0.0
    evenness: float = 0.9
    efficiency: float = 0.95

    def __post_init__(self) -> None:
        """Refuse zones without rows or flow."""
        faults = [] if self.rows else [Problem("rows", "a zone needs at least one row")]
        names = [row.name for row in self.rows]
        if len(set(names)) < len(names):
            faults.append(Problem("rows", "every row of a zone needs a name of its own"))
        if not self.flow_m3_s > 0.0:
            faults.append(Problem("flow_m3_s", "must be above 0"))
        if not self.fill_volume_m3 >= 0.0:
            faults.append(Problem("fill_volume_m3", "must not be negative"))
        if not (0.0 < self.evenness <= 1.0 and 0.0 < self.efficiency <= 1.0):
            faults.append(Problem("evenness, efficiency", "must lie above 0 and up to 1"))
        if faults:
            raise ScenarioError(f"zone {self.name!r}", faults)

    @property
    def fill_minutes(self) -> float:
        """Time until the tubes are full [min]."""
        return self.fill_volume_m3 / self.flow_m3_s / 60.0

    @property
    def net_share(self) -> float:
        """Share of the given water that the driest part gets and keeps [1]."""
        return self.evenness * self.efficiency


@dataclass(frozen=True)
class RowPeriod:
    """A row in a period.

    Args:
        name: of the row
        days: days of the period on which it grows
        reference_mm_day: mean reference need of these days [mm/day]
        need_mm_day: mean need of these days [mm/day]
        net_mm_day: what irrigation must give: the need, less rain if rain is counted [mm/day]
        room_mm: least dx of these days [mm]
        minutes_per_day: run time that gives the net depth, averaged over the week [min]
        most_minutes: longest run the soil takes [min]
        mulch_saves: share of the need that a full organic mulch would save [1]
    """

    name: str
    days: int
    reference_mm_day: float
    need_mm_day: float
    net_mm_day: float
    room_mm: float
    minutes_per_day: float
    most_minutes: float
    mulch_saves: float

    @property
    def gap_days(self) -> int:
        """Longest distance between watering days that the stored water bridges, 1 to 7 [day]."""
        return 7 if self.net_mm_day <= 0.0 else max(1, min(7, int(self.room_mm / self.net_mm_day + 1e-9)))


def row_period(zone: Zone, row: Row, days: Sequence[RowDay], count_rain: bool) -> RowPeriod:
    """A row in a period, from its days.

    Args:
        zone: evenness and efficiency
        row: rate, soil
        days: days of the period on which it grows, at least one
        count_rain: take mean rain off the need
    """
    need, straw = mean([day.need_mm for day in days]), mean([day.straw_need_mm for day in days])
    rain = mean([day.rain_mm for day in days]) if count_rain else 0.0
    net = max(0.0, need - rain)
    return RowPeriod(
        name=row.name,
        days=len(days),
        reference_mm_day=mean([day.reference_mm for day in days]),
        need_mm_day=need,
        net_mm_day=net,
        room_mm=min(day.room_mm for day in days),
        minutes_per_day=run_minutes(gross_depth_mm(net, zone.evenness, zone.efficiency), row.rate_mm_h),
        most_minutes=run_minutes(row.soil.run_depth_mm * row.wetted, row.rate_mm_h),
        mulch_saves=max(0.0, 1.0 - straw / need) if need > 0.0 else 0.0,
    )


def months_of(days: Sequence[RowDay]) -> list[list[RowDay]]:
    """Days by calendar month, in order.

    Args:
        days: in order of time
    """
    months: dict[tuple[int, int], list[RowDay]] = {}
    for day in days:
        months.setdefault((day.date.year, day.date.month), []).append(day)
    return list(months.values())


def hardest_month(zone: Zone, row: Row, days: Sequence[RowDay], count_rain: bool) -> RowPeriod:
    """A row in the month of the period that asks for most, so that a card for a season is not short at its peak.

    Args:
        zone: evenness and efficiency
        row: rate, soil
        days: days of the period on which it grows, at least one
        count_rain: take mean rain off the need
    """
    months = [row_period(zone, row, each, count_rain) for each in months_of(days)]
    return max(months, key=lambda month: month.minutes_per_day)


def zone_demand(zone: Zone, rows: Sequence[RowPeriod]) -> Demand:
    """What a zone asks for: the minutes of its thirstiest row, the run and pause of its most delicate one.

    Args:
        zone: name and flow
        rows: its rows in the period, at least one
    """
    return Demand(
        zone=zone.name,
        minutes_per_day=max(row.minutes_per_day for row in rows),
        most_minutes=min(row.most_minutes for row in rows),
        most_gap_days=min(row.gap_days for row in rows),
        flow_m3_s=zone.flow_m3_s,
    )


def growing_span(rows: Sequence[Sequence[RowDay]]) -> tuple[dt.date, dt.date]:
    """First and last day on which any row grows.

    Args:
        rows: days of each row, each in order of time and not empty
    """
    return min(days[0].date for days in rows), max(days[-1].date for days in rows)

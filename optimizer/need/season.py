"""A whole season: zones, climate, crops, soil and timer in; days, starts, minutes and water out."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from optimizer.errors import Problem, ScenarioError
from optimizer.need.advice import run_warnings, sharing_warnings, spacing_warnings, supply_warnings
from optimizer.need.climate import Climate, in_order
from optimizer.need.demand import ZoneTimes
from optimizer.need.growing import Row, RowDay, row_season
from optimizer.need.periods import Period, PeriodKind, periods_of
from optimizer.need.rain import RainRule, rain_rule
from optimizer.need.schedule import arrange
from optimizer.need.season_plan import PeriodPlan, RowAccount, SeasonPlan, ZonePeriod
from optimizer.need.shortage import find_shortage
from optimizer.need.soilwater import WaterDay, water_account
from optimizer.need.timer import Allowance
from optimizer.need.zone_period import RowPeriod, Zone, growing_span, hardest_month, zone_demand

RAIN_LEFT_OUT = "rain: not taken off the schedule; use the rain rule"
RAIN_COUNTED = "rain: the useful part of mean rain is taken off the schedule; do not skip runs for ordinary rain"
TABLE_CLIMATE = "crop coefficients: as given; those of FAO-56 are for a least humidity of 45 % and wind of 2 m/s"
SEED_ROOTS = "roots: from 0.15 m at planting to full depth at mid-season"
START_FULL = "soil: at field capacity on planting day"


Grown = dict[str, tuple[tuple[Row, tuple[RowDay, ...]], ...]]
"""Days of every row, by zone."""


def grow_all(zones: Sequence[Zone], climate: Climate) -> Grown:
    """Days of every row, by zone; all missing weather is told at once.

    Args:
        zones: with rows
        climate: need and rain

    Raises:
        ScenarioError: two zones of one name, or days without weather
    """
    problems: list[Problem] = []
    grown: Grown = {}
    for zone in zones:
        if zone.name in grown:
            problems.append(Problem("zones", f"two zones are called {zone.name!r}"))
        rows = []
        for row in zone.rows:
            try:
                rows.append((row, row_season(row, climate)))
            except ScenarioError as error:
                problems += error.problems
        grown[zone.name] = tuple(rows)
    if problems:
        raise ScenarioError("season", problems)
    return grown


def rows_in(zone: Zone, grown: Grown, period: Period, count_rain: bool) -> tuple[RowPeriod, ...]:
    """Rows of a zone that grow in a period.

    Args:
        zone: its rows
        grown: their days
        period: first and last day
        count_rain: take mean rain off the need
    """
    found = []
    for row, season_days in grown[zone.name]:
        days = [day for day in season_days if period.first <= day.date <= period.last]
        if days:
            found.append(hardest_month(zone, row, days, count_rain))
    return tuple(found)


def span_in(zone: Zone, grown: Grown, period: Period) -> tuple[dt.date, dt.date]:
    """First and last day in a period on which a zone has a growing row.

    Args:
        zone: its name
        grown: days of its rows
        period: in which at least one row grows
    """
    inside = [[day for day in days if period.first <= day.date <= period.last] for _, days in grown[zone.name]]
    return growing_span([days for days in inside if days])


def zone_rain_rule(zone: Zone, rows: Sequence[RowPeriod], times: ZoneTimes) -> RainRule:
    """Rain rule of a zone, from its thirstiest row.

    Args:
        zone: rates, evenness
        rows: its rows in the period
        times: its schedule
    """
    thirsty = max(rows, key=lambda each: each.minutes_per_day)
    row = next(each for each in zone.rows if each.name == thirsty.name)
    net = times.minutes / 60.0 * row.rate_mm_h * zone.net_share
    return rain_rule(net, thirsty.reference_mm_day, thirsty.room_mm, row.mulch.sheds_rain)


def zone_in(
    zone: Zone, grown: Grown, period: Period, times: Sequence[ZoneTimes], rows: tuple[RowPeriod, ...], count_rain: bool
) -> ZonePeriod:
    """A zone in a period, with its share of the schedule.

    Args:
        zone: the zone
        grown: days of its rows
        period: name and days
        times: schedule of all zones
        rows: its rows in the period, at least one
        count_rain: rain is off the schedule already
    """
    own = next((each for each in times if each.zone == zone.name), None)
    first, last = span_in(zone, grown, period)
    rule = None if own is None or count_rain else zone_rain_rule(zone, rows, own)
    return ZonePeriod(zone.name, period.name, first, last, rows, own, rule)


def plan_period(
    zones: Sequence[Zone], grown: Grown, period: Period, allowance: Allowance, count_rain: bool
) -> PeriodPlan:
    """Schedule of one period, or what of it can be had and what would help.

    Args:
        zones: all of them
        grown: days of their rows
        period: name and days
        allowance: windows, timer, supply
        count_rain: take mean rain off the need
    """
    growing = [(zone, rows_in(zone, grown, period, count_rain)) for zone in zones]
    active = [(zone, rows) for zone, rows in growing if rows]
    demands = [zone_demand(zone, rows) for zone, rows in active]
    times, shortage = arrange(demands, allowance), None
    if times is None:
        saves = min(row.mulch_saves for _, rows in active for row in rows)
        shortage = find_shortage(demands, allowance, saves)
        times = shortage.covered if shortage is not None else ()
    week = sum(each.week_m3 for each in times)
    tank = allowance.tank_volume_m3
    return PeriodPlan(
        period=period,
        zones=tuple(zone_in(zone, grown, period, times, rows, count_rain) for zone, rows in active),
        week_m3=week,
        tank_refills=None if tank is None else week / tank,
        shortage=shortage,
    )


def given_mm(zone: Zone, row: Row, plans: Sequence[PeriodPlan]) -> dict[dt.date, float]:
    """Net depth a row gets on each date with runs [mm].

    Args:
        zone: evenness and efficiency
        row: rate
        plans: all periods
    """
    parts = [part for plan in plans for part in plan.zones if part.zone == zone.name and part.times is not None]
    depths = {}
    for part in parts:
        minutes = part.times.minutes * len(part.times.starts_min) if part.times is not None else 0
        for date in part.run_dates:
            depths[date] = minutes / 60.0 * row.rate_mm_h * zone.net_share
    return depths


def row_account(
    zone: Zone, row: Row, days: Sequence[RowDay], plans: Sequence[PeriodPlan], count_rain: bool
) -> RowAccount:
    """Water account of a row under the schedule.

    Args:
        zone: evenness and efficiency
        row: the row
        days: its season
        plans: all periods
        count_rain: let rain enter the soil
    """
    given = given_mm(zone, row, plans)
    account = water_account(
        [
            WaterDay(
                need_mm=day.need_mm,
                rain_mm=day.rain_mm if count_rain else 0.0,
                irrigation_mm=given.get(day.date, 0.0),
                root_capacity_mm=day.capacity_mm,
                table_depletion=row.crop.depletion,
            )
            for day in days
        ]
    )
    need = sum(day.need_mm for day in days)
    irrigation = sum(given.get(day.date, 0.0) for day in days)
    return RowAccount(
        zone=zone.name,
        row=row.name,
        stress_days=account.stress_days,
        need_mm=need,
        got_mm=sum(account.used_mm),
        irrigation_mm=irrigation,
        drained_mm=sum(account.drained_mm),
    )


def all_warnings(zones: Sequence[Zone], plans: Sequence[PeriodPlan], allowance: Allowance) -> tuple[str, ...]:
    """Everything to mind, each thing once.

    Args:
        zones: all of them
        plans: all periods
        allowance: timer, tank, tolerance
    """
    found = [warning for zone in zones for row in zone.rows for warning in spacing_warnings(row)]
    for plan in plans:
        found += supply_warnings(zones, [part.times for part in plan.zones if part.times is not None], allowance)
    for zone in zones:
        parts = [part for plan in plans for part in plan.zones if part.zone == zone.name]
        found += sharing_warnings(zone, [(part.period, part.rows) for part in parts], allowance.tolerance)
        found += run_warnings(zone, [(part.period, part.times) for part in parts if part.times is not None])
    return in_order(found)


def all_assumptions(zones: Sequence[Zone], climate: Climate, count_rain: bool) -> tuple[str, ...]:
    """What was taken where nothing was given.

    Args:
        zones: rows with crops and soils
        climate: with its own assumptions
        count_rain: rain is off the schedule
    """
    rows = [row for zone in zones for row in zone.rows]
    crops = [f"crop {row.crop.name}: {row.crop.stand_in} (not in FAO-56)" for row in rows if row.crop.stand_in]
    soils = [f"soil {row.soil.name}: {row.soil.stand_in}" for row in rows if row.soil.stand_in]
    rain = RAIN_COUNTED if count_rain else RAIN_LEFT_OUT
    coefficients = [TABLE_CLIMATE] if climate.crop_coefficients_apply else []
    return in_order([*climate.assumptions, *coefficients, rain, START_FULL, SEED_ROOTS, *crops, *soils])


def season(
    zones: Sequence[Zone],
    climate: Climate,
    allowance: Allowance,
    kind: PeriodKind = PeriodKind.MONTH,
    count_rain: bool = False,
    southern: bool = False,
) -> SeasonPlan:
    """How long to run each zone, when, and how much water that takes, from the first planting to the last harvest.

    Args:
        zones: what is watered together, at least one
        climate: daily need and useful rain
        allowance: windows, timer, supply
        kind: one setting a month, or one a season (for the hardest of its months)
        count_rain: take the useful part of mean rain off the need, instead of giving a rain rule
        southern: south of the equator, for the names of the seasons

    Raises:
        ScenarioError: no zones, two of one name, or days without weather
    """
    if not zones:
        raise ScenarioError("season", [Problem("zones", "no zone to water")])
    grown = grow_all(zones, climate)
    days = [day.date for zone in zones for _, season_days in grown[zone.name] for day in season_days]
    plans = tuple(
        plan_period(zones, grown, period, allowance, count_rain) for period in periods_of(days, kind, southern)
    )
    return SeasonPlan(
        periods=plans,
        season_m3=sum(part.total_m3 for plan in plans for part in plan.zones),
        fill_minutes=tuple((zone.name, zone.fill_minutes) for zone in zones),
        accounts=tuple(
            row_account(zone, row, row_days, plans, count_rain) for zone in zones for row, row_days in grown[zone.name]
        ),
        warnings=all_warnings(zones, plans, allowance),
        assumptions=all_assumptions(zones, climate, count_rain),
    )

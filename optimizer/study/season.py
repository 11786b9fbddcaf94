"""How long to run each zone of a plan, when, and how much water that takes, through the season."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from optimizer import need
from optimizer.errors import Problem, ScenarioError
from optimizer.need.season_plan import ZonePeriod
from optimizer.need.timer import day_names
from optimizer.plan import Plan, Row, Zone
from optimizer.scenario import Scenario
from optimizer.scenario.schema import Bed, Crop, EmitterLine
from optimizer.scenario.water import allowance, crop_row, open_questions, row_name
from optimizer.sheets.schedule import ScheduleCard, ZoneTimes
from optimizer.study.season_words import in_user_units
from optimizer.units import System

WEEKDAYS = 7


@dataclass(frozen=True)
class ZoneFacts:
    """A zone of the plan as the schedule takes it.

    Args:
        zone: its id
        row_ids: rows of the plan
        rates: name and application rate of each kind of row [mm/h]
        flow_m3_s: while it runs [m3/s]
        evenness: emission uniformity of the plan [1]
        fill_minutes: time until its tubes are full [min]
    """

    zone: str
    row_ids: tuple[str, ...]
    rates: tuple[tuple[str, float], ...]
    flow_m3_s: float
    evenness: float
    fill_minutes: float


@dataclass(frozen=True)
class Watering:
    """The season of a plan, texts in the user's units.

    Args:
        title: of the plan
        system: units of the user
        zones: in the order of the plan
        season: schedule, water and warnings
        count_rain: mean rain is off the schedule
        dry_m3: water of the season with no rain counted [m3]
        rainy_m3: water of the season with mean rain counted, None if the climate has no rain [m3]
    """

    title: str
    system: System
    zones: tuple[ZoneFacts, ...]
    season: need.SeasonPlan
    count_rain: bool
    dry_m3: float
    rainy_m3: float | None

    @property
    def covers(self) -> bool:
        """Every need is covered in every period."""
        return all(each.shortage is None for each in self.season.periods)


def _bed_of(scenario: Scenario, row: Row) -> Bed:
    bed = next((bed for bed in scenario.beds if bed.name == row.bed), None)
    if bed is None:
        raise ScenarioError("plan", [Problem(f"row {row.id}", f"the scenario has no bed '{row.bed}'")])
    return bed


def _crop_of(bed: Bed, row: Row) -> Crop:
    crop = next((crop for crop in bed.crops if crop.name == row.crop), None)
    if crop is None:
        text = f"bed '{bed.name}' of the scenario has no crop '{row.crop}'"
        raise ScenarioError("plan", [Problem(f"row {row.id}", text)])
    return crop


def _line_of(scenario: Scenario, zone: Zone) -> EmitterLine:
    line = next((line for line in scenario.emitter_lines if line.name == zone.product), None)
    if line is None:
        text = f"the scenario has no emitter line '{zone.product}'"
        raise ScenarioError("plan", [Problem(f"zone {zone.id}", text)])
    return line


def _rows(scenario: Scenario, plan: Plan, zone: Zone) -> Iterator[need.Row]:
    """One row for each crop and bed of a zone; pitch is row spacing over lines a row, as the plan has them."""
    flows, line, seen = zone.network.emitter_flow_m3_s, _line_of(scenario, zone), set()
    for row in (row for row in plan.rows if row.id in zone.row_ids):
        bed = _bed_of(scenario, row)
        crop = _crop_of(bed, row)
        if (bed.name, crop.name) in seen:
            continue
        seen.add((bed.name, crop.name))
        name, pitch = row_name(scenario, bed, crop), row.spacing_m / row.lines
        yield crop_row(bed, crop, name, sum(flows) / len(flows), line.spacing, pitch)


def zones_to_water(scenario: Scenario, plan: Plan) -> tuple[need.Zone, ...]:
    """Zones of a plan as the season takes them: mean emitter flow, evenness and filling from its solved networks.

    Args:
        scenario: with climate, soils and plantings.
        plan: made from it.

    Raises:
        ScenarioError: the plan has beds, crops or products the scenario does not know, or the scenario says too
            little of soils and plantings.
    """
    return tuple(
        need.Zone(
            name=zone.id,
            rows=tuple(_rows(scenario, plan, zone)),
            flow_m3_s=zone.water.flow_m3_s,
            fill_volume_m3=zone.water.fill_volume_m3,
            evenness=zone.water.emission_uniformity,
        )
        for zone in plan.zones
    )


def _facts(plan: Plan, zones: tuple[need.Zone, ...]) -> tuple[ZoneFacts, ...]:
    return tuple(
        ZoneFacts(
            zone=zone.id,
            row_ids=zone.row_ids,
            rates=tuple((row.name, row.rate_mm_h) for row in watered.rows),
            flow_m3_s=zone.water.flow_m3_s,
            evenness=zone.water.emission_uniformity,
            fill_minutes=watered.fill_minutes,
        )
        for zone, watered in zip(plan.zones, zones, strict=True)
    )


def plan_season(scenario: Scenario, plan: Plan, kind: need.PeriodKind = need.PeriodKind.MONTH) -> Watering:
    """Work out when and how long each zone of a plan runs through the season.

    Args:
        scenario: with a climate.
        plan: made from it.
        kind: one setting a month or one a season.

    Raises:
        ScenarioError: the scenario has no climate, or the plan was not made from it.
    """
    climate = scenario.climate
    if climate is None:
        text = "is missing; give need, eto, penman_monteith, hargreaves or weather_file, and soils and plantings"
        raise ScenarioError("scenario", [Problem("climate", text)])
    zones = zones_to_water(scenario, plan)
    usable = min(zone.water.usable_flow_m3_s for zone in plan.zones)
    allowed = allowance(scenario, len(zones), usable if 0.0 < usable < float("inf") else None)

    def season(count_rain: bool) -> need.SeasonPlan:
        return need.season(zones, climate.daily, allowed, kind, count_rain, climate.southern)

    dry, rainy = season(False), season(True) if any(climate.daily.rain_mm) else None
    chosen = rainy if climate.count_rain and rainy is not None else dry
    return Watering(
        title=plan.title,
        system=System(plan.unit_system),
        zones=_facts(plan, zones),
        season=in_user_units(chosen, System(plan.unit_system), open_questions(scenario)),
        count_rain=climate.count_rain,
        dry_m3=dry.season_m3,
        rainy_m3=None if rainy is None else rainy.season_m3,
    )


def noted(watering: Watering, notes: tuple[str, ...]) -> Watering:
    """The same season with further warnings in front.

    Args:
        watering: the season
        notes: to be told first
    """
    return replace(watering, season=replace(watering.season, warnings=(*notes, *watering.season.warnings)))


def days_text(weekdays: tuple[int, ...]) -> str:
    """Weekdays as on a timer: "Mon Wed Fri" or "every day".

    Args:
        weekdays: 0 (Monday) to 6 (Sunday)
    """
    return "every day" if len(weekdays) == WEEKDAYS else day_names(weekdays)


def _timer_text(part: ZonePeriod) -> str:
    times = part.times
    if times is None:
        return "off"
    starts = len(times.starts_min)
    return f"{times.minutes} min, {starts} start{'s' * (starts != 1)} a day"


def _card_line(part: ZonePeriod) -> ZoneTimes:
    times = part.times
    return ZoneTimes(
        season=part.period,
        zone_id=part.zone,
        minutes=times.minutes if times else 0,
        starts=tuple(f"{start // 60:02d}:{start % 60:02d}" for start in times.starts_min) if times else (),
        days=(days_text(times.weekdays),) if times else ("none",),
        week_m3=times.week_m3 if times else 0.0,
        timer=_timer_text(part),
    )


def _card_rules(season: need.SeasonPlan) -> Iterator[str]:
    for period in season.periods:
        if period.shortage is not None:
            yield f"{period.period.name}: {period.shortage.short_pct} % of the need is not covered"
        for part in period.zones:
            if part.rain is not None:
                yield f"{part.zone}, {part.period}: {part.rain.text}"
    yield from season.warnings


def schedule_card(season: need.SeasonPlan, plan: Plan) -> ScheduleCard:
    """The card that hangs at the tap, for the field book.

    Args:
        season: schedule of the plan's zones, texts in the user's units.
        plan: the plan.

    Raises:
        ScenarioError: the schedule is of other zones than the plan's.
    """
    known = {zone.id for zone in plan.zones}
    parts = [part for period in season.periods for part in period.zones]
    strange = sorted({part.zone for part in parts} - known)
    if strange:
        raise ScenarioError("season", [Problem("zones", f"the plan has no zone {', '.join(strange)}")])
    return ScheduleCard(
        times=tuple(_card_line(part) for part in parts),
        rules=tuple(_card_rules(season)),
        assumptions=season.assumptions,
    )

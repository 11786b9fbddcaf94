"""A scenario's crops, soils, hours and timer as the reckoning of water need takes them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import lru_cache

from optimizer import need
from optimizer.errors import Problem, ScenarioError
from optimizer.need.timer import DAY_MINUTES
from optimizer.scenario.schema import Bed, Crop, EmitterLine, Scenario, TankSupply
from optimizer.scenario.water_schema import Hours, Timer

OWN_CROP_KEYS = ("stage_days", "kc", "root_depth", "depletion")
"""What a crop that is not built in must state."""
_ANY_HEIGHT_M = 0.5  # of no consequence: only coefficients corrected for wind and humidity depend on it

CropPlace = tuple[int, int]
"""Index of a bed and of a crop in it."""


def _built_in(crop: Crop) -> need.Crop | None:
    """The built-in crop a crop is like; None if it has no built-in name and does not ask for one.

    Raises:
        ScenarioError: it asks for a crop that is not built in.
    """
    water = crop.water
    if water is not None and water.like is not None:
        return need.crop(water.like)
    known = {each.name.casefold() for each in need.built_in_crops()}
    return need.crop(crop.name) if crop.name.strip().casefold() in known else None


def grown_crop(crop: Crop) -> need.Crop:
    """A crop with its coefficients, stages, roots and depletion.

    Args:
        crop: with its water data.

    Raises:
        ScenarioError: it is not built in and does not say enough itself.
    """
    water, base = crop.water, _built_in(crop)
    if water is None:
        raise ScenarioError("crop", [Problem("", f"'{crop.name}' says nothing of when it is planted")])
    if base is None:
        base = _own_crop(crop)
    kc = water.kc or base.kc
    grown = replace(
        base,
        kc=kc,
        kcb=water.kcb or (kc if water.kc else base.kcb),
        stage_days=water.stage_days or base.stage_days,
        root_m=water.root_depth or base.root_m,
        root_max_m=max(base.root_max_m, water.root_depth or 0.0),
        depletion=water.depletion or base.depletion,
    )
    return grown if water.season_days is None else need.stretched(grown, water.season_days)


def _own_crop(crop: Crop) -> need.Crop:
    water = crop.water
    if water is None or not (water.stage_days and water.kc and water.root_depth and water.depletion):
        missing = ", ".join(key for key in OWN_CROP_KEYS if water is None or getattr(water, key) is None)
        known = "; ".join(each.name for each in need.built_in_crops())
        text = f"'{crop.name}' is not built in: give like = a built-in crop ({known}), or also {missing}"
        raise ScenarioError("crop", [Problem("", text)])
    return need.Crop(
        name=crop.name,
        kc=water.kc,
        kcb=water.kcb or water.kc,
        stage_days=water.stage_days,
        root_m=water.root_depth,
        root_max_m=water.root_depth,
        depletion=water.depletion,
        height_m=_ANY_HEIGHT_M,
        stand_in="as the scenario states it",
    )


def bed_soil(bed: Bed) -> need.Soil:
    """The soil of a bed.

    Args:
        bed: with its soil stated.

    Raises:
        ScenarioError: none is stated, or none of that name is built in.
    """
    if bed.soil is None:
        known = "; ".join(each.name for each in need.built_in_soils())
        raise ScenarioError("soil", [Problem("", f"is missing; [climate] needs the soil of each bed: {known}")])
    return need.soil(bed.soil)


def crop_row(bed: Bed, crop: Crop, name: str, flow: float, spacing: float, pitch: float) -> need.Row:
    """A row of a crop as the water sees it.

    Args:
        bed: its bed.
        crop: with its water data.
        name: for messages.
        flow: mean of one emitter [m3/s].
        spacing: of the emitters along the line [m].
        pitch: width of ground one line serves [m].

    Raises:
        ScenarioError: crop or soil are not stated or not known.
    """
    grown, water = grown_crop(crop), crop.water
    assert water is not None
    return need.Row(
        name=name,
        crop=grown,
        planted=water.planted,
        soil=bed_soil(bed),
        emitter_flow_m3_s=flow,
        emitter_spacing_m=spacing,
        line_pitch_m=pitch,
        direct_seeded=crop.direct_seeded,
        root_limit_m=bed.root_limit,
        canopy_cover_pct=None if water.canopy_cover is None else 100.0 * water.canopy_cover,
        mulch=need.Mulch(need.MulchKind(water.mulch), water.mulch_cover),
    )


def row_name(scenario: Scenario, bed: Bed, crop: Crop) -> str:
    """A crop's name, with its bed where there are several.

    Args:
        scenario: the scenario.
        bed: the crop's bed.
        crop: the crop.
    """
    return crop.name if len(scenario.beds) == 1 else f"{crop.name}, {bed.name}"


@lru_cache(maxsize=64)
def _rows_apart(rows: tuple[need.Row, ...], climate: need.Climate, tolerance: float) -> tuple[tuple[int, int], ...]:
    return need.rows_apart([need.row_minutes(row, climate) for row in rows], tolerance)


def crops_apart(scenario: Scenario, line: EmitterLine) -> tuple[tuple[CropPlace, CropPlace], ...]:
    """Pairs of crops, each in its bed, that may not run together: their minutes differ by more than the tolerance.

    None where the scenario says nothing of the climate, or lets all crops share.

    Args:
        scenario: a sound scenario.
        line: laid in all rows.
    """
    limits, climate = scenario.limits, scenario.climate
    if climate is None or limits.share_zones_anyway:
        return ()
    places = [(b, c) for b, bed in enumerate(scenario.beds) for c in range(len(bed.crops))]
    rows = []
    for b, c in places:
        bed, crop = scenario.beds[b], scenario.beds[b].crops[c]
        pitch = crop.row_spacing / crop.lines_per_row
        rows.append(crop_row(bed, crop, row_name(scenario, bed, crop), line.emitter_flow, line.spacing, pitch))
    pairs = _rows_apart(tuple(rows), climate.daily, limits.minutes_tolerance)
    return tuple((places[one], places[two]) for one, two in pairs)


def may_not_share_zone(scenario: Scenario, bed_index: int, line: EmitterLine) -> tuple[tuple[int, int], ...]:
    """Pairs of crops of one bed that may not run together, as indices into its crops, the smaller first.

    Args:
        scenario: a sound scenario.
        bed_index: which bed.
        line: laid in all rows.
    """
    pairs = crops_apart(scenario, line)
    return tuple((one[1], two[1]) for one, two in pairs if one[0] == two[0] == bed_index)


def windows(hours: Sequence[Hours]) -> tuple[need.Window, ...]:
    """Hours of the week in which water may run, nights across midnight in two; any time if none are given.

    Args:
        hours: as stated.
    """
    found = []
    for each in hours or (Hours.model_validate({"times": ["00:00-24:00"]}),):
        for day in each.days:
            for start, end in each.times:
                if start < end:
                    found.append(need.Window(day, start, end))
                else:
                    found.append(need.Window(day, start, DAY_MINUTES))
                    found += [need.Window((day + 1) % 7, 0, end)] if end else []
    return tuple(sorted(found))


def allowance(scenario: Scenario, zones: int, usable_flow: float | None) -> need.Allowance:
    """When and how much water may be used.

    Args:
        scenario: timer, hours, supply.
        zones: of the plan, for a timer of which nothing is known.
        usable_flow: what the supply gives at working pressure, None if not known [m3/s].

    Raises:
        ScenarioError: hours overlap.
    """
    timer, supply = scenario.timer or Timer(), scenario.supply
    return need.Allowance(
        windows=windows(scenario.hours),
        timer=need.Timer(
            outlets=timer.outlets or scenario.limits.zones_at_most or zones,
            step_min=timer.step,
            longest_run_min=timer.longest_run,
            starts_per_day=timer.starts_per_day,
        ),
        soak_min=timer.soak,
        volume_per_day_m3=supply.volume_per_day,
        tank_volume_m3=supply.volume if isinstance(supply, TankSupply) else None,
        usable_flow_m3_s=usable_flow,
        tolerance=scenario.limits.minutes_tolerance,
    )


def open_questions(scenario: Scenario) -> tuple[str, ...]:
    """What was taken for climate, timer and hours where the scenario says nothing.

    Args:
        scenario: with a climate.
    """
    lines = []
    if not scenario.hours:
        lines.append("hours: none given, water may run at any time of any day")
    if scenario.timer is None:
        lines.append("timer: none given, taken as one minute a step, 4 starts a day, runs up to 4 h")
    if scenario.timer is None or scenario.timer.outlets is None:
        limit = scenario.limits.zones_at_most
        lines.append(f"timer: outlets taken as {'one for each zone' if limit is None else f'{limit}, zones_at_most'}")
    for bed in scenario.beds:
        for crop in bed.crops:
            if crop.water is not None and crop.water.like is not None:
                lines.append(f"crop {row_name(scenario, bed, crop)}: as built-in crop {crop.water.like}")
            if crop.water is not None and crop.water.kc is not None and crop.water.kcb is None:
                lines.append(f"crop {row_name(scenario, bed, crop)}: what mulch would save is not known without kcb")
    return tuple(dict.fromkeys(lines))

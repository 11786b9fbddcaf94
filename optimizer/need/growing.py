"""One row through its season: what it needs each day and what its soil holds."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from optimizer.errors import Problem, ScenarioError
from optimizer.need.calendar_days import day_of_year
from optimizer.need.climate import Climate
from optimizer.need.coefficients import (
    Mulch,
    MulchKind,
    adjusted_depletion,
    canopy_factor,
    crop_coefficient,
    net_depth_mm,
    root_depth,
    total_available_mm,
    wetted_share,
)
from optimizer.need.crops import Crop
from optimizer.need.minutes import application_rate_mm_h
from optimizer.need.soils import Soil

BARE = Mulch()
"""No mulch."""


@dataclass(frozen=True)
class Row:
    """A row of one crop (or several alike) as the water sees it.

    Args:
        name: for messages
        crop: what grows; its stage lengths decide how long (`crops.stretched` changes them)
        planted: day of sowing or planting out
        soil: under the row
        emitter_flow_m3_s: mean flow of one emitter [m3/s]
        emitter_spacing_m: along the line [m]
        line_pitch_m: width of ground one line serves: row spacing over lines a row [m]
        direct_seeded: sown in place, not planted out
        root_limit_m: depth roots cannot pass, None if there is none [m]
        canopy_cover_pct: ground shaded by the full-grown crop if it never closes, None if it does [%]
        mulch: what lies on the soil
    """

    name: str
    crop: Crop
    planted: dt.date
    soil: Soil
    emitter_flow_m3_s: float
    emitter_spacing_m: float
    line_pitch_m: float
    direct_seeded: bool = False
    root_limit_m: float | None = None
    canopy_cover_pct: float | None = None
    mulch: Mulch = BARE

    def __post_init__(self) -> None:
        """Refuse sizes of nothing."""
        faults = []
        for name in ("emitter_flow_m3_s", "emitter_spacing_m", "line_pitch_m", "root_limit_m"):
            value = getattr(self, name)
            if value is not None and not value > 0.0:
                faults.append(Problem(name, "must be above 0"))
        if self.canopy_cover_pct is not None and not 0.0 < self.canopy_cover_pct <= 100.0:
            faults.append(Problem("canopy_cover_pct", "must lie above 0 and up to 100"))
        if faults:
            raise ScenarioError(f"row {self.name!r}", faults)

    @property
    def last_day(self) -> dt.date:
        """Day of the last harvest."""
        return self.planted + dt.timedelta(days=self.crop.season_days - 1)

    @property
    def rate_mm_h(self) -> float:
        """Application rate [mm/h]."""
        return application_rate_mm_h(self.emitter_flow_m3_s, self.emitter_spacing_m, self.line_pitch_m)

    @property
    def wetted(self) -> float:
        """Share of the ground that is wetted [1]."""
        return wetted_share(self.soil.wetted_width_m, self.line_pitch_m)


@dataclass(frozen=True)
class RowDay:
    """A row on one day.

    Args:
        date: the day
        reference_mm: reference need [mm]
        need_mm: need of the row [mm]
        bare_need_mm: need of the same row without mulch [mm]
        straw_need_mm: need of the same row under full organic mulch [mm]
        rain_mm: useful rain, no more than the soil has room for [mm]
        room_mm: dx, most net depth of one irrigation [mm]
        capacity_mm: TAW of the wetted share of the root zone [mm]
    """

    date: dt.date
    reference_mm: float
    need_mm: float
    bare_need_mm: float
    straw_need_mm: float
    rain_mm: float
    room_mm: float
    capacity_mm: float


def need_with(row: Row, climate: Climate, mulch: Mulch, day: int, reference_mm: float) -> float:
    """Need of a row on a day of its season with a given mulch [mm].

    A depth stated by the grower is taken as it is. Else Kc ETo (FAO-56 equation 58), and the canopy factor if given.

    Args:
        row: crop, canopy
        climate: whether crop coefficients apply
        mulch: what lies on the soil
        day: days since planting, the first being 1 [day]
        reference_mm: reference need of the day [mm]
    """
    if not climate.crop_coefficients_apply:
        return reference_mm
    canopy = 1.0 if row.canopy_cover_pct is None else canopy_factor(row.canopy_cover_pct)
    return canopy * crop_coefficient(row.crop, mulch, day) * reference_mm


def row_day(row: Row, climate: Climate, date: dt.date) -> RowDay:
    """A row on one day of its season.

    Args:
        row: the row
        climate: need and rain; must cover the day
        date: a day of the row's season

    Raises:
        ScenarioError: the climate says nothing about that day
    """
    reference = climate.need_mm[day_of_year(date) - 1]
    if reference is None:
        raise ScenarioError("weather", [Problem(date.isoformat(), f"no weather for this day, {row.name} grows on it")])
    day = (date - row.planted).days + 1
    need = need_with(row, climate, row.mulch, day, reference)
    root = root_depth(row.crop, day, row.root_limit_m)
    depletion = adjusted_depletion(row.crop.depletion, need)
    room = net_depth_mm(depletion, row.wetted, row.soil.available_mm_per_m, root)
    rain = 0.0 if row.mulch.sheds_rain else min(room, climate.rain_mm[day_of_year(date) - 1])
    return RowDay(
        date=date,
        reference_mm=reference,
        need_mm=need,
        bare_need_mm=need_with(row, climate, BARE, day, reference),
        straw_need_mm=need_with(row, climate, Mulch(MulchKind.ORGANIC), day, reference),
        rain_mm=rain,
        room_mm=room,
        capacity_mm=row.wetted * total_available_mm(row.soil, root),
    )


def row_season(row: Row, climate: Climate) -> tuple[RowDay, ...]:
    """Every day of a row's season, from planting to the last harvest.

    Args:
        row: the row
        climate: need and rain; must cover the season

    Raises:
        ScenarioError: the climate does not cover the season; the message names the first missing day
    """
    return tuple(row_day(row, climate, row.planted + dt.timedelta(days=n)) for n in range(row.crop.season_days))


def mean(values: Sequence[float]) -> float:
    """Mean of one or more values.

    Args:
        values: at least one
    """
    return sum(values) / len(values)

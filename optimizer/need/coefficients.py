"""From crop and soil to depths: Kc curve, canopy, mulch, water the soil holds and gives.

Sources: FAO-56 (Allen, Pereira, Raes & Smith 1998); Keller & Bliesner (1990), Sprinkle and Trickle Irrigation,
chapter 19, through lecture notes of Utah State University.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from enum import Enum

from optimizer.need.crops import Crop
from optimizer.need.soils import Soil

SEEDLING_ROOT_M = 0.15
"""Depth of roots at planting (FAO-56 annex 8 works with 0.15 to 0.20 m) [m]."""


class MulchKind(Enum):
    """What lies on the soil."""

    NONE = "none"
    ORGANIC = "organic"
    PLASTIC = "plastic"


SUPPRESSION = {MulchKind.NONE: 0.0, MulchKind.ORGANIC: 0.5, MulchKind.PLASTIC: 0.65}
"""Share of soil evaporation a full cover stops: organic 5 % for each 10 % covered; plastic the middle of the average
50-80 % of table 25 (FAO-56 chapter 10; from memory)."""


@dataclass(frozen=True)
class Mulch:
    """Mulch on a row.

    Args:
        kind: none, organic (straw, compost, leaves) or plastic
        cover: share of the soil covered [1]
    """

    kind: MulchKind = MulchKind.NONE
    cover: float = 1.0

    def __post_init__(self) -> None:
        """Refuse a cover that is no share."""
        if not 0.0 <= self.cover <= 1.0:
            raise ValueError(f"mulch cover {self.cover} is not between 0 and 1")

    @property
    def suppression(self) -> float:
        """Share of the evaporation from the soil that is stopped [1]."""
        return SUPPRESSION[self.kind] * self.cover

    @property
    def sheds_rain(self) -> bool:
        """Plastic keeps the rain off the row."""
        return self.kind is MulchKind.PLASTIC and self.cover > 0.5


def curve(values: tuple[float, float, float], stage_days: tuple[int, int, int, int], day: int) -> float:
    """Crop coefficient on a day of the season: level, straight up, level, straight down; 0 outside. FAO-56 equation 66.

    Tomato 30/40/45/30 days, 0.6/1.15/0.80: day 50 gives 0.875, day 130 gives 0.975.

    Args:
        values: at start, full size and end [1]
        stage_days: lengths of the four stages [day]
        day: days since planting, the first being 1 [day]
    """
    initial, development, middle, late = stage_days
    start, full, end = values
    if not 1 <= day <= initial + development + middle + late:
        return 0.0
    if day <= initial:
        return start
    if day <= initial + development:
        return start + (day - initial) / development * (full - start)
    if day <= initial + development + middle:
        return full
    return full + (day - initial - development - middle) / late * (end - full)


def climate_adjustment(wind_m_s: float, rhmin_pct: float, height_m: float) -> float:
    """What a dry windy (or damp calm) climate adds to Kc at full size [1], FAO-56 equation 62 and 65.

    The tables hold for a least humidity of 45 % and wind of 2 m/s. Maize, 2 m tall: Taipei (1.3 m/s, 75 %) 1.20
    becomes 1.07.

    Args:
        wind_m_s: mean wind 2 m above the ground, taken between 1 and 6 [m/s]
        rhmin_pct: mean of the daily least humidity, taken between 20 and 80 [%]
        height_m: mean height of the crop, taken between 0.1 and 10 [m]
    """
    wind, humidity = min(6.0, max(1.0, wind_m_s)), min(80.0, max(20.0, rhmin_pct))
    height = min(10.0, max(0.1, height_m))
    return (0.04 * (wind - 2.0) - 0.004 * (humidity - 45.0)) * math.pow(height / 3.0, 0.3)


def climate_adjusted(grown: Crop, wind_m_s: float, rhmin_pct: float) -> Crop:
    """The crop with its coefficients at full size (and at the end, from 0.45 on) for the climate it grows in.

    FAO-56 equations 62 and 65, and 70 for the basal coefficients.

    Args:
        grown: crop with table values
        wind_m_s: mean wind 2 m above the ground in mid-season [m/s]
        rhmin_pct: mean of the daily least humidity in mid-season [%]
    """
    more = climate_adjustment(wind_m_s, rhmin_pct, grown.height_m)

    def adjusted(values: tuple[float, float, float]) -> tuple[float, float, float]:
        start, full, end = values
        return start, full + more, end + more if end >= 0.45 else end

    return replace(grown, kc=adjusted(grown.kc), kcb=adjusted(grown.kcb))


def mulched(kc: float, kcb: float, suppression: float) -> float:
    """Crop coefficient with mulch: the part that evaporates from the soil (Kc - Kcb) is reduced. FAO-56 chapter 10.

    Args:
        kc: single crop coefficient [1]
        kcb: basal crop coefficient [1]
        suppression: share of soil evaporation stopped [1]
    """
    return kc - suppression * max(0.0, kc - kcb)


def crop_coefficient(grown: Crop, mulch: Mulch, day: int) -> float:
    """Crop coefficient of a crop with its mulch on a day of its season [1].

    Args:
        grown: crop
        mulch: what lies on the soil
        day: days since planting, the first being 1 [day]
    """
    kc, kcb = curve(grown.kc, grown.stage_days, day), curve(grown.kcb, grown.stage_days, day)
    return mulched(kc, kcb, mulch.suppression)


def canopy_factor(canopy_cover_pct: float) -> float:
    """Share of full-cover need that a partly shading crop takes [1]: 0.1 sqrt(Pd), Keller & Bliesner equation 19.9.

    Args:
        canopy_cover_pct: ground shaded at noon, 0 to 100 [%]

    Raises:
        ValueError: not a percentage
    """
    if not 0.0 <= canopy_cover_pct <= 100.0:
        raise ValueError(f"canopy cover {canopy_cover_pct} % is not between 0 and 100")
    return 0.1 * math.sqrt(canopy_cover_pct)


def root_depth(grown: Crop, day: int, limit_m: float | None = None) -> float:
    """Depth of roots [m]: straight from `SEEDLING_ROOT_M` at planting to full depth at mid-season (FAO-56 annex 8).

    Args:
        grown: crop
        day: days since planting, the first being 1 [day]
        limit_m: depth roots cannot pass, as under a framed bed; None if there is none [m]
    """
    full = grown.root_m if limit_m is None else min(grown.root_m, limit_m)
    start = min(SEEDLING_ROOT_M, full)
    growing = grown.stage_days[0] + grown.stage_days[1]
    share = min(1.0, day / growing) if growing else 1.0
    return start + share * (full - start)


def total_available_mm(ground: Soil, root_m: float) -> float:
    """Total available water TAW [mm], FAO-56 equation 82.

    Args:
        ground: soil
        root_m: depth of roots [m]
    """
    return ground.available_mm_per_m * root_m


def adjusted_depletion(table_depletion: float, etc_mm_day: float) -> float:
    """Depletion fraction p for the day's need [1]: p + 0.04 (5 - ETc), kept in 0.1 to 0.8. FAO-56 table 22, footnote.

    Args:
        table_depletion: p of table 22, for ETc 5 mm/day [1]
        etc_mm_day: crop evapotranspiration [mm/day]
    """
    return min(0.8, max(0.1, table_depletion + 0.04 * (5.0 - etc_mm_day)))


def readily_available_mm(depletion: float, total_mm: float) -> float:
    """Readily available water RAW [mm], FAO-56 equation 83.

    Args:
        depletion: fraction p [1]
        total_mm: TAW [mm]
    """
    return depletion * total_mm


def wetted_share(wetted_width_m: float, line_pitch_m: float) -> float:
    """Share of the ground that the lines wet, Pw of Keller & Bliesner chapter 19 [1].

    Args:
        wetted_width_m: strip wetted by one line [m]
        line_pitch_m: width of ground one line serves [m]
    """
    return min(1.0, wetted_width_m / line_pitch_m)


def net_depth_mm(depletion: float, wetted: float, available_mm_per_m: float, root_m: float) -> float:
    """Most net depth of one irrigation dx [mm over the whole ground]: MAD/100 Pw/100 Wa Z, Keller & Bliesner eq. 19.12.

    Args:
        depletion: MAD as a share [1]
        wetted: Pw as a share [1]
        available_mm_per_m: Wa, water held between wilting point and field capacity [mm/m]
        root_m: Z, depth of roots [m]
    """
    return depletion * wetted * available_mm_per_m * root_m

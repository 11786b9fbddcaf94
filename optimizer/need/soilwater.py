"""Daily water balance of the root zone over a season, after FAO-56 chapter 8 (equations 84 and 85).

Two stores of available water (above the wilting point): the root zone, which grows with the roots, and the soil under
it down to full root depth. Rain and irrigation fill the root zone; what passes field capacity goes to the soil below
and from there out as drainage. Nothing is lost in the account: in - out = change of both stores.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from optimizer.need.coefficients import adjusted_depletion


@dataclass(frozen=True)
class WaterDay:
    """What happens to a row on one day.

    Args:
        need_mm: evapotranspiration of the well-watered crop ETc [mm]
        rain_mm: rain that enters the soil [mm]
        irrigation_mm: net irrigation [mm]
        root_capacity_mm: TAW of the root zone on this day, never shrinking [mm]
        table_depletion: fraction p of table 22 [1]
    """

    need_mm: float
    rain_mm: float
    irrigation_mm: float
    root_capacity_mm: float
    table_depletion: float


@dataclass(frozen=True)
class WaterAccount:
    """The season's account of one row.

    Args:
        stored_mm: available water of both stores at the end of each day, of shape (n,) [mm]
        depletion_mm: water missing in the root zone at the end of each day, of shape (n,) [mm]
        used_mm: evapotranspiration each day, of shape (n,) [mm]
        drained_mm: drainage below full root depth each day, of shape (n,) [mm]
        start_mm: available water at the start [mm]
        supplied_mm: rain and irrigation together [mm]
        stress_days: days on which the crop got less than it asked
    """

    stored_mm: tuple[float, ...]
    depletion_mm: tuple[float, ...]
    used_mm: tuple[float, ...]
    drained_mm: tuple[float, ...]
    start_mm: float
    supplied_mm: float
    stress_days: int

    @property
    def closure_mm(self) -> float:
        """In less out less change of storage [mm]; zero but for rounding."""
        end = self.stored_mm[-1] if self.stored_mm else self.start_mm
        return self.supplied_mm - sum(self.used_mm) - sum(self.drained_mm) - (end - self.start_mm)


def stress_coefficient(depletion_mm: float, total_mm: float, fraction: float) -> float:
    """Water stress coefficient Ks [1], FAO-56 equation 84; 1 while the depletion is within RAW.

    Args:
        depletion_mm: root zone depletion Dr [mm]
        total_mm: TAW [mm]
        fraction: depletion fraction p [1]
    """
    if depletion_mm <= fraction * total_mm:
        return 1.0
    return max(0.0, (total_mm - depletion_mm) / ((1.0 - fraction) * total_mm))


@dataclass(frozen=True)
class Stores:
    """Available water of the root zone and of the soil below it, with what each can hold [mm]."""

    root_mm: float
    root_capacity_mm: float
    below_mm: float
    below_capacity_mm: float

    def grown(self, root_capacity_mm: float) -> Stores:
        """Roots reach deeper: that part of the lower store joins the root zone with the water in it."""
        gain = root_capacity_mm - self.root_capacity_mm
        if gain <= 0.0 or self.below_capacity_mm <= 0.0:
            return self
        gain = min(gain, self.below_capacity_mm)
        water = self.below_mm * gain / self.below_capacity_mm
        return Stores(
            self.root_mm + water,
            self.root_capacity_mm + gain,
            self.below_mm - water,
            self.below_capacity_mm - gain,
        )

    def wetted(self, water_mm: float) -> tuple[Stores, float]:
        """Water comes in from above; the stores after it, and what drained out below."""
        root = self.root_mm + water_mm
        spill = max(0.0, root - self.root_capacity_mm)
        below = self.below_mm + spill
        drained = max(0.0, below - self.below_capacity_mm)
        return Stores(root - spill, self.root_capacity_mm, below - drained, self.below_capacity_mm), drained

    def drawn(self, need_mm: float, table_depletion: float) -> tuple[Stores, float]:
        """The crop draws what it can; the stores after it, and what it got."""
        fraction = adjusted_depletion(table_depletion, need_mm)
        missing = self.root_capacity_mm - self.root_mm
        got = min(self.root_mm, need_mm * stress_coefficient(missing, self.root_capacity_mm, fraction))
        return Stores(self.root_mm - got, self.root_capacity_mm, self.below_mm, self.below_capacity_mm), got


def water_account(days: Sequence[WaterDay], start_share: float = 1.0) -> WaterAccount:
    """Account of a season, day by day: roots grow, water enters and drains, the crop draws.

    Args:
        days: the season, of shape (n,), n at least 1
        start_share: share of the soil's available water there at the start (1 is field capacity) [1]

    Raises:
        ValueError: no days, a share outside 0 to 1, or a negative amount
    """
    if not days or not 0.0 <= start_share <= 1.0:
        raise ValueError("the account needs at least one day and a start share between 0 and 1")
    if min(min(day.need_mm, day.rain_mm, day.irrigation_mm) for day in days) < 0.0:
        raise ValueError("need, rain and irrigation must not be negative")
    first, full = days[0].root_capacity_mm, max(day.root_capacity_mm for day in days)
    if first <= 0.0:
        raise ValueError("the root zone must hold water")
    stores = Stores(first * start_share, first, (full - first) * start_share, full - first)
    start = stores.root_mm + stores.below_mm
    stored, missing, used, out, stress = [], [], [], [], 0
    for day in days:
        stores, drained = stores.grown(day.root_capacity_mm).wetted(day.rain_mm + day.irrigation_mm)
        stores, got = stores.drawn(day.need_mm, day.table_depletion)
        stress += got < day.need_mm - 1e-9
        stored.append(stores.root_mm + stores.below_mm)
        missing.append(stores.root_capacity_mm - stores.root_mm)
        used.append(got)
        out.append(drained)
    supplied = sum(day.rain_mm + day.irrigation_mm for day in days)
    return WaterAccount(tuple(stored), tuple(missing), tuple(used), tuple(out), start, supplied, stress)

"""Built-in crops: coefficients, stage lengths, roots and depletion of FAO Irrigation and Drainage Paper 56 (1998).

The data file `crops.csv` names beside each crop the row it was taken from in table 12 (Kc, height), table 17 (Kcb),
table 22 (roots, depletion) and table 11 (stage lengths; crop, planting, region). `stand_in` says where a crop or its
stage lengths are not in FAO-56 and what stands in. Change one with `dataclasses.replace(crop("tomato"), root_m=0.5)`.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass, replace
from functools import cache
from importlib.resources import files

from optimizer.errors import Problem, ScenarioError

NUMBERS = ("kc_ini", "kc_mid", "kc_end", "kcb_ini", "kcb_mid", "kcb_end")
LENGTHS = ("days_ini", "days_dev", "days_mid", "days_late")


@dataclass(frozen=True)
class Crop:
    """What a crop asks of the water.

    Args:
        name: as growers call it
        kc: crop coefficients at start, full size and end (table 12) [1]
        kcb: the same without evaporation from bare soil (table 17) [1]
        stage_days: length of the initial, development, middle and late stage (table 11) [day]
        root_m: depth of roots for irrigation, the smaller value of table 22 [m]
        root_max_m: the larger value of table 22 [m]
        depletion: share p of the soil water used before the crop suffers, at ETc 5 mm/day (table 22) [1]
        height_m: full height (table 12) [m]
        stand_in: what is not from FAO-56; empty if all is
    """

    name: str
    kc: tuple[float, float, float]
    kcb: tuple[float, float, float]
    stage_days: tuple[int, int, int, int]
    root_m: float
    root_max_m: float
    depletion: float
    height_m: float
    stand_in: str = ""

    def __post_init__(self) -> None:
        """Refuse values that cannot be a crop."""
        faults = []
        if not all(0.0 < value <= 2.0 for value in self.kc) or not all(0.0 <= value <= 2.0 for value in self.kcb):
            faults.append("crop coefficients must lie above 0 and up to 2")
        if min(self.stage_days) < 0 or sum(self.stage_days) < 1:
            faults.append("stage lengths must be 0 or more days, at least one day in all")
        if not 0.0 < self.root_m <= self.root_max_m <= 5.0:
            faults.append("root depth must lie above 0 and up to 5 m, the smaller value first")
        if not 0.0 < self.depletion < 1.0:
            faults.append("depletion must lie between 0 and 1")
        if faults:
            raise ScenarioError(f"crop {self.name!r}", [Problem("", fault) for fault in faults])

    @property
    def season_days(self) -> int:
        """Days from planting (or first leaves) to the last harvest."""
        return sum(self.stage_days)


def row_to_crop(row: dict[str, str]) -> Crop:
    """A line of `crops.csv` as a crop.

    Args:
        row: text by column
    """
    kc_ini, kc_mid, kc_end, kcb_ini, kcb_mid, kcb_end = (float(row[name]) for name in NUMBERS)
    ini, dev, mid, late = (int(row[name]) for name in LENGTHS)
    return Crop(
        name=row["name"],
        kc=(kc_ini, kc_mid, kc_end),
        kcb=(kcb_ini, kcb_mid, kcb_end),
        stage_days=(ini, dev, mid, late),
        root_m=float(row["root_min_m"]),
        root_max_m=float(row["root_max_m"]),
        depletion=float(row["depletion"]),
        height_m=float(row["height_m"]),
        stand_in=row["stand_in"],
    )


def crop_rows() -> tuple[dict[str, str], ...]:
    """Lines of `crops.csv`, text by column, for printing the table with its sources."""
    text = files("optimizer.need").joinpath("crops.csv").read_text(encoding="utf-8")
    return tuple(csv.DictReader(text.splitlines()))


@cache
def built_in_crops() -> tuple[Crop, ...]:
    """All built-in crops by name."""
    return tuple(sorted((row_to_crop(row) for row in crop_rows()), key=lambda each: each.name))


def crop(name: str) -> Crop:
    """Built-in crop of that name (capitals and outer blanks do not matter).

    Args:
        name: like "tomato" or "onion, dry"

    Raises:
        ScenarioError: no such crop; the message lists those there are
    """
    wanted = name.strip().casefold()
    for each in built_in_crops():
        if each.name.casefold() == wanted:
            return each
    known = "; ".join(each.name for each in built_in_crops())
    raise ScenarioError("crop", [Problem("", f"no built-in crop {name!r}; there are: {known}")])


def stretched(grown: Crop, season_days: int) -> Crop:
    """The crop with its stages lengthened or shortened in proportion to fill a season of so many days.

    Args:
        grown: crop to change
        season_days: days from planting to the last harvest, at least 4 [day]

    Raises:
        ValueError: fewer than 4 days
    """
    if season_days < 4:
        raise ValueError(f"a season of {season_days} days is too short for four stages")
    ends = [round(sum(grown.stage_days[: n + 1]) * season_days / grown.season_days) for n in range(4)]
    ini, dev, mid, late = (end - start for start, end in zip([0, *ends[:3]], ends, strict=True))
    return replace(grown, stage_days=(ini, dev, mid, late))

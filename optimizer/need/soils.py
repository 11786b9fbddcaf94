"""Built-in soils: water held from FAO-56 table 19; spacings, wetted width and depth a run are common practice.

Table 19 gives ranges; the middle of each is used, as is usual for one number per texture. The columns in inches of
`soils.csv` (line and emitter spacing, wetted width, most depth in one run over the wetted strip) are trade figures
without a published source. Change a soil with `dataclasses.replace(soil("loam"), wetted_width_m=0.5)`.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from optimizer.errors import Problem, ScenarioError

INCH = 0.0254


@dataclass(frozen=True)
class Soil:
    """A soil as the drip designer sees it.

    Args:
        name: texture
        field_capacity: water held after draining (FAO-56 table 19) [m3/m3]
        wilting_point: water roots cannot take (FAO-56 table 19) [m3/m3]
        line_spacing_m: widest usual distance of lines for a closed wet strip (common practice) [m]
        emitter_spacing_m: widest usual emitter spacing for a closed wet strip (common practice) [m]
        wetted_width_m: strip wetted by one line (common practice) [m]
        run_depth_mm: most water in one run, over the wetted strip (common practice) [mm]
        soak: water better given in several runs with pauses
        stand_in: what is not from the sources named; empty if all is
    """

    name: str
    field_capacity: float
    wilting_point: float
    line_spacing_m: float
    emitter_spacing_m: float
    wetted_width_m: float
    run_depth_mm: float
    soak: bool = False
    stand_in: str = ""

    def __post_init__(self) -> None:
        """Refuse values that cannot be a soil."""
        faults = []
        if not 0.0 < self.wilting_point < self.field_capacity < 0.9:
            faults.append("must hold 0 < wilting point < field capacity < 0.9")
        if min(self.line_spacing_m, self.emitter_spacing_m, self.wetted_width_m, self.run_depth_mm) <= 0.0:
            faults.append("spacings, wetted width and depth a run must be above 0")
        if faults:
            raise ScenarioError(f"soil {self.name!r}", [Problem("", fault) for fault in faults])

    @property
    def available_mm_per_m(self) -> float:
        """Water between wilting point and field capacity [mm per m of depth], FAO-56 equation 82 with Zr 1 m."""
        return 1000.0 * (self.field_capacity - self.wilting_point)


def middle(row: dict[str, str], name: str) -> float:
    """Middle of a range given by two columns.

    Args:
        row: text by column
        name: columns `<name>_low` and `<name>_high`
    """
    return (float(row[f"{name}_low"]) + float(row[f"{name}_high"])) / 2.0


def row_to_soil(row: dict[str, str]) -> Soil:
    """A line of `soils.csv` as a soil: the widest spacings and deepest run, else the middle of each range.

    Args:
        row: text by column
    """
    return Soil(
        name=row["name"],
        field_capacity=middle(row, "capacity"),
        wilting_point=middle(row, "wilting"),
        line_spacing_m=float(row["line_high_in"]) * INCH,
        emitter_spacing_m=float(row["emitter_high_in"]) * INCH,
        wetted_width_m=middle(row, "wetted_in") * INCH,
        run_depth_mm=float(row["run_high_in"]) * INCH * 1000.0,
        soak=row["soak"] == "yes",
        stand_in=row["stand_in"],
    )


def soil_rows() -> tuple[dict[str, str], ...]:
    """Lines of `soils.csv`, text by column, for printing the table."""
    text = files("optimizer.need").joinpath("soils.csv").read_text(encoding="utf-8")
    return tuple(csv.DictReader(text.splitlines()))


@cache
def built_in_soils() -> tuple[Soil, ...]:
    """All built-in soils, from coarse to fine, raised-bed mix last."""
    return tuple(row_to_soil(row) for row in soil_rows())


def soil(name: str) -> Soil:
    """Built-in soil of that name (capitals and outer blanks do not matter).

    Args:
        name: like "sandy loam" or "raised-bed mix"

    Raises:
        ScenarioError: no such soil; the message lists those there are
    """
    wanted = name.strip().casefold()
    for each in built_in_soils():
        if each.name.casefold() == wanted:
            return each
    known = "; ".join(each.name for each in built_in_soils())
    raise ScenarioError("soil", [Problem("", f"no built-in soil {name!r}; there are: {known}")])

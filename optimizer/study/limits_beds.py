"""The typical row of a bed: what a bed's rows come to before anything is chosen."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from statistics import fmean, median

import numpy as np

from optimizer.errors import Problem, ScenarioError
from optimizer.rows import CropOrderError, PlacedRow, RowField, row_field, row_plans
from optimizer.scenario.schema import Bed, EmitterLine, Scenario
from optimizer.site import SiteShapes, row_angles, site_shapes


@dataclass(frozen=True)
class TypicalRow:
    """The middle row of a bed in one direction, and the rows around it."""

    bed: str
    direction: str
    rows: int
    """rows of the bed in this direction"""
    length_m: float
    """median of the watered lengths"""
    lines: int
    """emitter lines in most of the rows"""
    header_m: float
    """from the first row to the last"""
    rise: float
    """mean rise along the rows [m/m]"""
    header_rise: float
    """mean rise across the rows, away from the supply [m/m]"""
    fall_m: float
    """height of the supply above the middle of the bed; below it negative"""

    def emitters(self, line: EmitterLine) -> int:
        """Return the emitters of one line of the row, at least one."""
        return max(int(self.length_m / line.spacing + 1e-6), 1)

    def nominal_flow(self, line: EmitterLine, emitter_flow_m3_s: float) -> float:
        """Return the flow of the row when every emitter gives the same [m3/s]."""
        return self.emitters(line) * self.lines * emitter_flow_m3_s


def _slope(heights: tuple[float, float], run_m: float) -> float:
    return (heights[1] - heights[0]) / run_m if run_m > 0.0 else 0.0


def _row_rise(field: RowField, row: PlacedRow, shapes: SiteShapes) -> float:
    low, high = row.stretches[0][0], row.stretches[-1][1]
    ends = field.frame.to_plan((low, row.v)), field.frame.to_plan((high, row.v))
    return _slope((shapes.ground.height(ends[0]), shapes.ground.height(ends[1])), high - low)


def _typical(bed: Bed, field: RowField, rows: tuple[PlacedRow, ...], shapes: SiteShapes) -> TypicalRow:
    middle_u = fmean(0.5 * (row.stretches[0][0] + row.stretches[-1][1]) for row in rows)
    ends = [field.frame.to_plan((middle_u, row.v)) for row in (rows[0], rows[-1])]
    first, last = shapes.ground.heights(np.array(ends))
    span = rows[-1].v - rows[0].v
    return TypicalRow(
        bed=bed.name,
        direction=field.angle_name,
        rows=len(rows),
        length_m=median(row.planted_m for row in rows),
        lines=Counter(len(row.lines) for row in rows).most_common(1)[0][0],
        header_m=span,
        rise=fmean(_row_rise(field, row, shapes) for row in rows),
        header_rise=_slope((float(first), float(last)), span),
        fall_m=shapes.source_z_m - 0.5 * (float(first) + float(last)) - bed.raised,
    )


def typical_rows(scenario: Scenario) -> tuple[TypicalRow, ...]:
    """Return the typical row of every bed and row direction in which rows fit.

    Raises:
        ScenarioError: no row fits, or wishes about neighbours contradict each other.
    """
    shapes = site_shapes(scenario)
    found = []
    for index, bed in enumerate(scenario.beds):
        for name, angle in row_angles(bed):
            field = row_field(bed, name, angle, shapes, scenario.limits)
            try:
                plans, _ = row_plans(bed, field, scenario.site.north, 1)
            except CropOrderError as error:
                raise ScenarioError("scenario", [Problem(f"beds.{index}.crops", str(error))]) from None
            if plans and plans[0].rows:
                found.append(_typical(bed, field, plans[0].rows, shapes))
    if not found:
        raise ScenarioError("scenario", [Problem("beds", "no row of any crop fits into any bed")])
    return tuple(found)

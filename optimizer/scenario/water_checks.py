"""Checks of climate, soils, crops and hours of a scenario against each other."""

from __future__ import annotations

from collections.abc import Iterator

from optimizer.errors import Problem, ScenarioError
from optimizer.need.growing import row_season
from optimizer.scenario.schema import Bed, Crop, Scenario
from optimizer.scenario.water import allowance, bed_soil, crop_row, grown_crop


def water_problems(scenario: Scenario) -> Iterator[Problem]:
    """Everything that stands in the way of working out run times."""
    yield from list(_limits(scenario)) or _hours(scenario)
    for bed_index, bed in enumerate(scenario.beds):
        path = f"beds.{bed_index}"
        soil_faults = list(_soil(scenario, bed, f"{path}.soil"))
        yield from soil_faults
        for crop_index, crop in enumerate(bed.crops):
            yield from _crop(scenario, bed, crop, f"{path}.crops.{crop_index}.water", not soil_faults)


def _limits(scenario: Scenario) -> Iterator[Problem]:
    if scenario.limits.minutes_tolerance > 1.0:
        yield Problem("limits.minutes_tolerance", "must be between 0 % and 100 %")


def _hours(scenario: Scenario) -> Iterator[Problem]:
    try:
        allowance(scenario, 1, None)
    except ScenarioError as error:
        yield from (Problem("hours", problem.message) for problem in error.problems)


def _soil(scenario: Scenario, bed: Bed, path: str) -> Iterator[Problem]:
    if scenario.climate is None and bed.soil is None:
        return
    try:
        bed_soil(bed)
    except ScenarioError as error:
        yield from (Problem(path, problem.message) for problem in error.problems)


def _crop(scenario: Scenario, bed: Bed, crop: Crop, path: str, soil_known: bool) -> Iterator[Problem]:
    if crop.water is None:
        if scenario.climate is not None:
            yield Problem(path, "is missing; [climate] needs at least the day of planting of each crop")
        return
    try:
        grown_crop(crop)
    except ScenarioError as error:
        yield from (Problem(path, problem.message) for problem in error.problems)
        return
    if scenario.climate is not None and soil_known:
        yield from _season(scenario, bed, crop, f"{path}.planted")


def _season(scenario: Scenario, bed: Bed, crop: Crop, path: str) -> Iterator[Problem]:
    """The climate must say something about every day on which the crop grows."""
    assert scenario.climate is not None
    line = scenario.emitter_lines[0]
    row = crop_row(bed, crop, crop.name, line.emitter_flow, line.spacing, crop.row_spacing / crop.lines_per_row)
    try:
        row_season(row, scenario.climate.daily)
    except ScenarioError as error:
        yield from (Problem(path, f"{problem.path}: {problem.message}") for problem in error.problems)

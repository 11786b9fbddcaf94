"""Checks between the fields of a scenario, after every field alone has been found sound."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence

from shapely.geometry import LineString, Point, Polygon

from optimizer.errors import Problem
from optimizer.geometry import GRID_M, outline_fault
from optimizer.ground import through_spots
from optimizer.scenario.outlines import corners
from optimizer.scenario.schema import Bed, Crop, Outlined, Scenario
from optimizer.scenario.water_checks import water_problems

_SAME_DIRECTION = math.radians(0.5)


def cross_check(scenario: Scenario) -> list[Problem]:
    """Return everything that is wrong between fields; empty when the scenario is sound."""
    shapes = list(_shape_faults(scenario))
    rules: list[Callable[[Scenario], Iterable[Problem]]] = [
        _names,
        _fits,
        _several_beds,
        _compensating,
        _bed_lines,
        _ground,
        _steps,
        _crop_words,
    ]
    rules.append(water_problems)
    # Places are only compared once every outline encloses something.
    rules += [] if shapes else [_places, _widths, _planted]
    return shapes + [problem for rule in rules for problem in rule(scenario)]


def _shapes(scenario: Scenario) -> Iterator[tuple[str, Outlined]]:
    if scenario.site.outline or scenario.site.rectangle or scenario.site.sides:
        yield "site", scenario.site
    groups: list[tuple[str, Sequence[Outlined]]] = [
        ("obstacles", scenario.obstacles),
        ("paths", scenario.paths),
        ("beds", scenario.beds),
    ]
    for key, group in groups:
        yield from ((f"{key}.{index}", shape) for index, shape in enumerate(group))


def _shape_faults(scenario: Scenario) -> Iterator[Problem]:
    for path, shape in _shapes(scenario):
        try:
            fault = outline_fault(corners(shape))
        except ValueError as error:
            fault = str(error)
        if fault:
            yield Problem(path, fault)


def _repeated(path: str, names: Iterable[str]) -> Iterator[Problem]:
    for name, count in sorted(Counter(names).items()):
        if count > 1:
            yield Problem(path, f"the name '{name}' is used {count} times; names must differ")


def _names(scenario: Scenario) -> Iterator[Problem]:
    yield from _repeated("beds", (bed.name for bed in scenario.beds))
    yield from _repeated("obstacles", (obstacle.name for obstacle in scenario.obstacles))
    yield from _repeated("paths", (path.name for path in scenario.paths))
    products = [*scenario.emitter_lines, *scenario.blank_tubes]
    yield from _repeated("emitter_lines and blank_tubes", (product.name for product in products))
    yield from _repeated("supply.regulators", (regulator.name for regulator in scenario.supply.regulators))
    for index, bed in enumerate(scenario.beds):
        yield from _repeated(f"beds.{index}.crops", (crop.name for crop in bed.crops))


def _fits(scenario: Scenario) -> Iterator[Problem]:
    known = {product.name for product in (*scenario.emitter_lines, *scenario.blank_tubes)}
    for index, fitting in enumerate(scenario.fittings):
        for name in fitting.fits:
            if name not in known:
                yield Problem(f"fittings.{index}.fits", f"there is no emitter line or blank tube named '{name}'")


def _compensating(scenario: Scenario) -> Iterator[Problem]:
    """Yield compensating lines whose flow is stated at a pressure outside the range in which they hold it."""
    for index, line in enumerate(scenario.emitter_lines):
        held = line.compensating
        if held is not None and not held.opens <= line.at_pressure <= held.up_to:
            yield Problem(f"emitter_lines.{index}.at_pressure", "must lie within the range of compensating")


def _several_beds(scenario: Scenario) -> Iterator[Problem]:
    """Yield wishes that do not go together where there are several beds."""
    limits = scenario.limits
    if len(scenario.beds) < 2:
        return
    if limits.zoning == "row shut-offs":
        yield Problem("limits.zoning", "row shut-offs are planned for one bed; with several write 'split headers'")
    if limits.valve_per_bed and limits.valves == "at the tap":
        yield Problem("limits.valve_per_bed", "a valve at every header and valves at the tap cannot both be had")


def _bed_lines(scenario: Scenario) -> Iterator[Problem]:
    known = {line.name for line in scenario.emitter_lines}
    for index, bed in enumerate(scenario.beds):
        for name in bed.lines:
            if name not in known:
                yield Problem(f"beds.{index}.lines", f"there is no emitter line named '{name}'")


def _ground(scenario: Scenario) -> Iterator[Problem]:
    if scenario.site.spot_heights:
        try:
            through_spots(scenario.site.spot_heights)
        except ValueError as error:
            yield Problem("site.spot_heights", str(error))


def _steps(scenario: Scenario) -> Iterator[Problem]:
    tightest = min(crop.row_spacing for bed in scenario.beds for crop in bed.crops)
    if scenario.limits.row_step > tightest:
        yield Problem("limits.row_step", "must not be larger than the smallest row_spacing")
    if not 0.0 < scenario.supply.margin <= 1.0:
        yield Problem("supply.margin", "must be above 0 % and at most 100 %")
    for key in ("flow_variation", "emission_uniformity"):
        share = getattr(scenario.limits, key)
        if share is not None and not 0.0 < share < 1.0:
            yield Problem(f"limits.{key}", "must be between 0 % and 100 %")


def _crop_words(scenario: Scenario) -> Iterator[Problem]:
    for bed_index, bed in enumerate(scenario.beds):
        names = {crop.name for crop in bed.crops}
        for crop_index, crop in enumerate(bed.crops):
            path = f"beds.{bed_index}.crops.{crop_index}"
            yield from _neighbours(path, crop, names)


def _neighbours(path: str, crop: Crop, names: set[str]) -> Iterator[Problem]:
    for key, others in (("beside", crop.beside), ("apart_from", crop.apart_from)):
        for other in others:
            if other == crop.name or other not in names:
                yield Problem(f"{path}.{key}", f"'{other}' is not another crop of this bed")


def _places(scenario: Scenario) -> Iterator[Problem]:
    polygons = [Polygon(corners(bed)) for bed in scenario.beds]
    site = corners(scenario.site)
    for index, (bed, polygon) in enumerate(zip(scenario.beds, polygons, strict=True)):
        if site and not Polygon(site).buffer(GRID_M).covers(polygon):
            yield Problem(f"beds.{index}", f"bed '{bed.name}' reaches outside the site")
        for other in range(index):
            if polygon.intersection(polygons[other]).area > GRID_M:
                yield Problem(f"beds.{index}", f"bed '{bed.name}' overlaps bed '{scenario.beds[other].name}'")
    for index, obstacle in enumerate(scenario.obstacles):
        if obstacle.keeps_out != "rows" and Polygon(corners(obstacle)).contains(Point(scenario.supply.at)):
            yield Problem("supply.at", f"the supply stands inside obstacle '{obstacle.name}' ({index})")


def _narrowest(bed: Bed) -> float:
    turned = Polygon(corners(bed)).minimum_rotated_rectangle
    sides = list(turned.exterior.coords)
    return max(math.dist(sides[0], sides[1]), math.dist(sides[1], sides[2]))


def _widths(scenario: Scenario) -> Iterator[Problem]:
    for bed_index, bed in enumerate(scenario.beds):
        for crop_index, crop in enumerate(bed.crops):
            if crop.row_spacing > _narrowest(bed):
                message = f"is wider than the whole bed '{bed.name}'; no row of it fits"
                yield Problem(f"beds.{bed_index}.crops.{crop_index}.row_spacing", message)


def _planted(scenario: Scenario) -> Iterator[Problem]:
    for bed_index, bed in enumerate(scenario.beds):
        polygon = Polygon(corners(bed)).buffer(GRID_M)
        angles = []
        for crop_index, crop in enumerate(bed.crops):
            for row_index, line in enumerate(crop.planted_rows):
                path = f"beds.{bed_index}.crops.{crop_index}.planted_rows.{row_index}"
                if len(line) != 2 or math.dist(*line) < GRID_M:
                    yield Problem(path, "a planted row has two different ends: 'x, y to x, y'")
                    continue
                if not polygon.covers(LineString(line)):
                    yield Problem(path, f"the row reaches outside bed '{bed.name}'")
                angles.append((path, math.atan2(line[1][1] - line[0][1], line[1][0] - line[0][0]) % math.pi))
        yield from (
            Problem(path, "planted rows of one bed must be parallel")
            for path, angle in angles[1:]
            if _differs(angle, angles[0][1])
        )


def _differs(angle: float, other: float) -> bool:
    turn = abs(angle - other) % math.pi
    return min(turn, math.pi - turn) > _SAME_DIRECTION

"""The site of a scenario as shapes: what rows and tube must keep clear of, and how high the ground lies."""

from __future__ import annotations

import math
from dataclasses import dataclass

import shapely
from shapely.geometry import LineString, MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from optimizer.geometry import Point, longest_side_angle
from optimizer.ground import Ground, sloping, through_spots
from optimizer.scenario.outlines import corners
from optimizer.scenario.schema import Bed, Scenario


@dataclass(frozen=True, eq=False)
class SiteShapes:
    """Shapes in plan coordinates [m]."""

    site: BaseGeometry | None
    no_rows: BaseGeometry
    """union of the obstacles rows must keep out of"""
    no_tube: BaseGeometry
    """union of the obstacles tube must keep out of"""
    barriers: BaseGeometry
    paths: tuple[tuple[str, Polygon], ...]
    ground: Ground
    source_at: Point
    source_z_m: float

    def tube_allowed(self, points: tuple[Point, ...]) -> bool:
        """Say whether tube may lie along a line: off the keep-outs and across no barrier."""
        line = LineString(points)
        # A tube may touch an obstacle, so the obstacle is drawn in by a millimetre before asking.
        return not (line.intersects(self.no_tube.buffer(-1e-3)) or line.crosses(self.barriers))

    def crossings(self, points: tuple[Point, ...]) -> list[tuple[str, Point]]:
        """Return the paths a line crosses and where the middle of each crossing lies, in order of the line."""
        found: list[tuple[float, str, Point]] = []
        if not self.paths:
            return []
        line = LineString(points)
        for name, path in self.paths:
            inside = line.intersection(path.buffer(-1e-3))
            for part in shapely.get_parts(inside):
                if part.length > 0.0:
                    middle = part.interpolate(0.5, normalized=True)
                    found.append((line.project(middle), name, (float(middle.x), float(middle.y))))
        return [(name, place) for _, name, place in sorted(found)]


def _ground(scenario: Scenario) -> Ground:
    if scenario.site.spot_heights:
        return through_spots(scenario.site.spot_heights)
    return sloping(scenario.site.slope, scenario.site.rises_toward)


def site_shapes(scenario: Scenario) -> SiteShapes:
    """Return the shapes of a checked scenario."""
    outline = corners(scenario.site)
    ground = _ground(scenario)
    supply = scenario.supply
    kept = {keep: [Polygon(corners(item)) for item in scenario.obstacles if item.keeps_out in keep] for keep in _KEEPS}
    return SiteShapes(
        site=Polygon(outline) if outline else None,
        no_rows=shapely.union_all(kept[_KEEPS[0]]) if kept[_KEEPS[0]] else MultiPolygon(),
        no_tube=shapely.union_all(kept[_KEEPS[1]]) if kept[_KEEPS[1]] else MultiPolygon(),
        barriers=shapely.union_all([LineString(barrier.line) for barrier in scenario.barriers]),
        paths=tuple((path.name, Polygon(corners(path))) for path in scenario.paths),
        ground=ground,
        source_at=supply.at,
        source_z_m=supply.height if supply.height is not None else ground.height(supply.at),
    )


_KEEPS = (("rows", "both"), ("tube", "both"))


def row_angles(bed: Bed) -> tuple[tuple[str, float], ...]:
    """Return the row directions open for a bed, each with its name.

    Rows that already stand fix the direction. Names stay those of the scenario; equal directions are kept once.

    Returns:
        (name, angle anticlockwise from x within [0, pi)) [rad].
    """
    planted = [line for crop in bed.crops for line in crop.planted_rows]
    if planted:
        (x0, y0), (x1, y1) = planted[0]
        return (("as planted", math.atan2(y1 - y0, x1 - x0) % math.pi),)
    longest = longest_side_angle(corners(bed))
    found: dict[float, str] = {}
    for direction in bed.directions:
        if isinstance(direction, float):
            angle, name = direction, f"{math.degrees(direction):.4g} deg"
        else:
            angle, name = longest + (0.0 if direction == "along" else math.pi / 2.0), str(direction)
        found.setdefault(round(angle % math.pi, 9) % round(math.pi, 9), name)
    return tuple((name, angle) for angle, name in found.items())

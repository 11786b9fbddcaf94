"""The plan and its scenario side by side, with everything looked up by name or id."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import shapely
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from optimizer.geometry import Frame, Point
from optimizer.ground import Ground, sloping, through_spots
from optimizer.plan import BedMap, Header, Lateral, Piece, Plan, Row, Stretch, Zone
from optimizer.scenario import Scenario
from optimizer.scenario.outlines import corners
from optimizer.scenario.schema import Bed, BlankTube, Crop, EmitterLine, Obstacle, Regulator
from optimizer.units import Display

TOLERANCE_M = 1e-3
"""Places and lengths are compared to one millimetre [m]."""

TOLERANCE_UM = 1000
"""The same in whole micrometres."""

EMITTER_LINE = "emitter line"
BYPASS = "bypass"


def path_length(points: Sequence[Point]) -> float:
    """Return the length of a line through points [m]."""
    return sum(math.dist(a, b) for a, b in pairwise(points))


def distance_to(shape: BaseGeometry, at: Point) -> float:
    """Return the distance of a place from a shape [m]."""
    return float(shapely.distance(shape, shapely.points(at)))


def place_along(points: Sequence[Point], distance_m: float) -> Point:
    """Return the place at a running distance along a line; beyond its ends the end [m]."""
    place = LineString(points).interpolate(min(max(distance_m, 0.0), path_length(points)))
    return (place.x, place.y)


@dataclass(frozen=True)
class Facts:
    """A plan, its scenario and lookups between them; a name that does not exist raises KeyError."""

    plan: Plan
    scenario: Scenario

    @cached_property
    def show(self) -> Display:
        """How to write values for this user."""
        return Display(self.scenario.units)

    @cached_property
    def beds(self) -> dict[str, Bed]:
        """Beds of the scenario by name."""
        return {bed.name: bed for bed in self.scenario.beds}

    @cached_property
    def bed_maps(self) -> dict[str, BedMap]:
        """Beds of the plan by name."""
        return {bed.name: bed for bed in self.plan.beds}

    @cached_property
    def bed_shapes(self) -> dict[str, Polygon]:
        """Outlines of the scenario's beds."""
        return {bed.name: Polygon(corners(bed)) for bed in self.scenario.beds}

    @cached_property
    def lines(self) -> dict[str, EmitterLine]:
        """Emitter lines by name."""
        return {line.name: line for line in self.scenario.emitter_lines}

    @cached_property
    def tubes(self) -> dict[str, BlankTube]:
        """Blank tubes by name."""
        return {tube.name: tube for tube in self.scenario.blank_tubes}

    @cached_property
    def products(self) -> dict[str, EmitterLine | BlankTube]:
        """All tubing by name."""
        return {**self.lines, **self.tubes}

    @cached_property
    def rows(self) -> dict[str, Row]:
        """Rows by id."""
        return {row.id: row for row in self.plan.rows}

    @cached_property
    def laterals(self) -> dict[str, Lateral]:
        """Laterals by id."""
        return {lateral.id: lateral for lateral in self.plan.laterals}

    @cached_property
    def headers(self) -> dict[str, Header]:
        """Headers by id."""
        return {header.id: header for header in self.plan.headers}

    @cached_property
    def zones(self) -> dict[str, Zone]:
        """Zones by id."""
        return {zone.id: zone for zone in self.plan.zones}

    @cached_property
    def pieces(self) -> dict[str, Piece]:
        """Pieces by id."""
        return {piece.id: piece for piece in self.plan.pieces}

    @cached_property
    def parts_of_piece(self) -> dict[str, list[int]]:
        """Lengths of the parts each piece is made of [um]."""
        found: dict[str, list[int]] = {piece.id: [] for piece in self.plan.pieces}
        for roll in self.plan.rolls:
            for cut in roll.cuts:
                found.setdefault(cut.piece_id, []).append(cut.length_um)
        return found

    @cached_property
    def ground(self) -> Ground:
        """Heights of the ground."""
        site = self.scenario.site
        return through_spots(site.spot_heights) if site.spot_heights else sloping(site.slope, site.rises_toward)

    @cached_property
    def source_height_m(self) -> float:
        """Height of the tap, pump or tank on the scale of the ground [m]."""
        supply = self.scenario.supply
        return self.ground.height(supply.at) if supply.height is None else supply.height

    @cached_property
    def regulator(self) -> Regulator | None:
        """The regulator the plan fits, if it fits one."""
        fitted = [unit.name for unit in self.plan.head_units if unit.kind == "regulator"]
        return next((item for item in self.scenario.supply.regulators if item.name in fitted), None)

    def crop(self, row: Row) -> Crop:
        """Return the crop of a row."""
        return next(crop for crop in self.beds[row.bed].crops if crop.name == row.crop)

    def frame(self, bed: str) -> Frame:
        """Return the row frame of a bed."""
        return Frame(math.radians(self.bed_maps[bed].row_angle_deg))

    def rows_of(self, bed: str) -> list[Row]:
        """Return the rows of a bed in their order across it."""
        frame = self.frame(bed)
        mine = [row for row in self.plan.rows if row.bed == bed]
        return sorted(mine, key=lambda row: (frame.to_frame(row.start)[1], frame.to_frame(row.start)[0]))

    def laterals_of(self, row: Row) -> list[Lateral]:
        """Return the laterals of a row."""
        return [lateral for lateral in self.plan.laterals if lateral.row_id == row.id]

    def kept_out(self, what: str) -> list[tuple[Obstacle, Polygon]]:
        """Return the obstacles that keep out `rows` or `tube`, with their shapes."""
        items = [item for item in self.scenario.obstacles if item.keeps_out in (what, "both")]
        return [(item, Polygon(corners(item))) for item in items]

    def all_stretches(self, kind: str) -> list[tuple[Lateral, Stretch]]:
        """Return all stretches of a kind with their laterals."""
        return [(lateral, part) for lateral in self.plan.laterals for part in lateral.stretches if part.kind == kind]

    def tube_paths(self) -> list[tuple[str, tuple[Point, ...]]]:
        """Return every tube that is laid, blank or with emitters, with what it is called in messages."""
        found = [(f"mainline {part.id}", part.points) for part in self.plan.mainline]
        found += [(f"header {header.id}", header.points) for header in self.plan.headers]
        found += [
            (f"lateral {lateral.id}", part.points) for lateral in self.plan.laterals for part in lateral.stretches
        ]
        return found


def repeated(ids: Iterable[str]) -> list[str]:
    """Return the ids that occur more than once, sorted."""
    seen = sorted(ids)
    return sorted({a for a, b in pairwise(seen) if a == b})

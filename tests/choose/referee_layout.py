"""One design laid out by the referee: its laterals, headers, pieces, fittings and prices, counted from the rules.

The rules are those written in the scenario's schema and in the goals; no code of the product's choice, problem,
feeds or cutting is called, except the shortest ways around obstacles, which are another part's work.
"""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass
from itertools import pairwise

import shapely
from referee_cuts import Shelf
from shapely.geometry import Polygon

from optimizer.feeds.bypass import bypass_finder
from optimizer.routes.graph import RoutePrice
from optimizer.routes.ground import Ground as TubeGround
from optimizer.routes.ground import NoRouteError
from optimizer.routes.shortest import shortest_route
from optimizer.routes.visibility import visibility_graph
from optimizer.rows import RowField, RowPlan
from optimizer.scenario.outlines import corners
from optimizer.scenario.schema import Bed, BlankTube, EmitterLine, Regulator, Scenario
from optimizer.site import SiteShapes

STEP_UM = {"metric": 100_000, "us": 152_400}
# Rough prices the documentation states for fittings a scenario says nothing about [ct].
ROUGH_CT = {
    "take-off": 90, "end closure": 50, "line coupler": 70, "bypass adapter": 80, "tube coupler": 100, "tee": 150,
    "elbow": 120, "header end": 150, "zone valve": 900, "row shut-off": 180, "tube cover": 600, "stake": 25,
}  # fmt: skip
NOT_PUSHED = ("stake", "tube cover")
STAKE_UM = 1_500_000


class NoLayoutError(Exception):
    """The header places do not work for these rows."""


@dataclass(frozen=True)
class Part:
    """A stretch of emitter line, and the blank tube that leads to it from the end of the one before."""

    u: float
    spacings: int
    way: tuple[tuple[float, float], ...]


@dataclass(frozen=True)
class Lateral:
    """A lateral of the referee."""

    vertex: int
    header: int
    row: int
    v: float
    side: int
    parts: tuple[Part, ...]


@dataclass(frozen=True)
class HeaderWay:
    """Vertices of a header in order of growing v, and the mainline that reaches one of them."""

    points: tuple[tuple[float, float], ...]
    rows: tuple[int, ...]
    at_um: tuple[int, ...]
    start: int
    approach: tuple[tuple[float, float], ...]

    def ends(self, zone: tuple[int, int]) -> tuple[int, int, int]:
        """Return first and last vertex of a zone of rows, and the vertex at which it is fed."""
        mine = [vertex for vertex, row in enumerate(self.rows) if zone[0] <= row <= zone[1]]
        fed = min(mine, key=lambda vertex: abs(vertex - self.start))
        return mine[0], mine[-1], fed


@dataclass(frozen=True, eq=False)
class Layout:
    """A design laid out."""

    scenario: Scenario
    shapes: SiteShapes
    bed: Bed
    field: RowField
    plan: RowPlan
    line: EmitterLine
    tube: BlankTube
    regulator: Regulator | None
    headers: tuple[HeaderWay, ...]
    laterals: tuple[Lateral, ...]
    dry: tuple[tuple[int, float], ...]
    """(row, length) of stretches no tube can be led to"""

    def missing_ppm(self) -> int:
        """Return what the rows miss of the requests, with stretches no tube reaches taken from metres asked for."""
        more = 0.0
        for index, crop in enumerate(self.bed.crops):
            wanted = crop.row_length or (crop.plants or 0) * (crop.plant_spacing or 0.0)
            rows = [number for number, row in enumerate(self.plan.rows) if row.crop == index]
            planted = sum(self.plan.rows[number].planted_m for number in rows)
            dry = sum(lost / len(self.plan.rows[row].lines) for row, lost in self.dry if row in rows)
            if wanted:
                more += (max(wanted - planted + dry, 0.0) - max(wanted - planted, 0.0)) / wanted
        return self.plan.missing_ppm + round(1e6 * more)

    # ---------------------------------------------------------------- lengths

    @property
    def step_um(self) -> int:
        """Blank tube is cut on multiples of this."""
        step = self.scenario.limits.tube_step
        return round(step * 1e6) if step is not None else STEP_UM[self.scenario.units.value]

    def units(self, length_um: int) -> int:
        """Return a length of tube in cutting units, rounded up."""
        return max(math.ceil(length_um / self.step_um), 1)

    @property
    def whole(self) -> tuple[tuple[tuple[int, int], ...], ...]:
        """Every header as one stretch."""
        return tuple(((0, len(self.plan.rows) - 1),) for _ in self.headers)

    def line_pieces(self) -> tuple[int, ...]:
        """Return the pieces of emitter line in emitter spacings."""
        return tuple(sorted(part.spacings for lateral in self.laterals for part in lateral.parts))

    def bypasses_um(self) -> list[int]:
        """Return the lengths of blank tube within laterals."""
        return [_length_um(part.way) for lateral in self.laterals for part in lateral.parts if part.way]

    def approach_um(self, header: int) -> int:
        """Return the length of mainline to a header, with its climb into a raised bed."""
        return _length_um(self.headers[header].approach) + round(self.bed.raised * 1e6)

    def mainline_units(self, zones: tuple[tuple[tuple[int, int], ...], ...]) -> list[int]:
        """Return the pieces of mainline: to each header, then from inlet to inlet."""
        pieces = []
        for number, header in enumerate(self.headers):
            pieces.append(self.units(self.approach_um(number)))
            inlets = sorted({header.start, *(header.ends(zone)[2] for zone in zones[number])})
            pieces += [self.units(header.at_um[b] - header.at_um[a]) for a, b in pairwise(inlets)]
        return pieces

    def header_units(self, header: int, zone: tuple[int, int]) -> list[int]:
        """Return the pieces of a zone's header: two when it is fed between its ends."""
        way = self.headers[header]
        first, last, fed = way.ends(zone)
        tail = round(self.scenario.limits.header_tail * 1e6)
        if first < fed < last:
            return [
                self.units(way.at_um[fed] - way.at_um[first] + tail),
                self.units(way.at_um[last] - way.at_um[fed] + tail),
            ]
        return [self.units(way.at_um[last] - way.at_um[first] + 2 * tail)]

    def tube_pieces(self, zones: tuple[tuple[tuple[int, int], ...], ...]) -> tuple[int, ...]:
        """Return all pieces of blank tube of a split, in cutting units."""
        zones = zones or self.whole
        pieces = self.mainline_units(zones) + [self.units(length) for length in self.bypasses_um()]
        for number, runs in enumerate(zones):
            for zone in runs:
                pieces += self.header_units(number, zone)
        return tuple(sorted(pieces))

    # ---------------------------------------------------------------- fittings

    def price(self, kind: str, product: str) -> int:
        """Return what one fitting costs: as stated for the product, as stated for all, else the rough price."""
        stated = [item for item in self.scenario.fittings if item.kind == kind]
        mine = [item.price for item in stated if product in item.fits] + [
            item.price for item in stated if not item.fits
        ]
        return mine[0] if mine else ROUGH_CT[kind]

    def fittings(self, zones: tuple[tuple[tuple[int, int], ...], ...]) -> Counter[tuple[str, str]]:
        """Return the count of every (kind, product) of a split, without couplers."""
        if not zones:  # a whole header, and a shut-off on every lateral
            opened = self.fittings(self.whole)
            opened["row shut-off", self.line.name] += len(self.laterals)
            return opened
        line, tube = self.line.name, self.tube.name
        found: Counter[tuple[str, str]] = Counter()
        spacing_um = round(self.line.spacing * 1e6)
        for lateral in self.laterals:
            found["take-off", line] += 1
            found["end closure", line] += 1
            found["stake", line] += _stakes(spacing_um * sum(part.spacings for part in lateral.parts))
            for part in lateral.parts:
                if part.way:
                    found["bypass adapter", line] += 2
                    found["stake", tube] += _stakes(_length_um(part.way))
        for number, runs in enumerate(zones):
            for zone in runs:
                first, last, fed = self.headers[number].ends(zone)
                inside = first < fed < last
                found["zone valve", tube] += 1
                found["tee" if inside else "elbow", tube] += 1
                found["header end", tube] += 2 if inside else 1
                found["stake", tube] += _stakes(self.headers[number].at_um[last] - self.headers[number].at_um[first])
                found["elbow", tube] += self.header_elbows(number, zone)
            found["elbow", tube] += self.mainline_elbows(number, runs)
        found["tee", tube] += sum(len(runs) for runs in zones) - 1
        found["stake", tube] += _stakes(self.step_um * sum(self.mainline_units(zones)))
        found["tube cover", tube] += self.covers(zones) + self.lateral_crossings()
        return found

    def header_elbows(self, number: int, zone: tuple[int, int]) -> int:
        """Return the sharp turns of a zone's header, but for the one at its inlet."""
        first, last, fed = self.headers[number].ends(zone)
        points = self.headers[number].points
        return sum(fed != vertex and _sharp(*points[vertex - 1 : vertex + 2]) for vertex in range(first + 1, last))

    def mainline_elbows(self, number: int, runs: tuple[tuple[int, int], ...]) -> int:
        """Return the sharp turns of the mainline to a header and beside it, and the foot of its climb."""
        way = self.headers[number]
        stops = {way.start, *(way.ends(zone)[2] for zone in runs)}
        turns = sum(self.turns_between(number, a, b) for a, b in pairwise(sorted(stops)))
        turns += sum(_sharp(*way.approach[index : index + 3]) for index in range(len(way.approach) - 2))
        return turns + (self.bed.raised > 0)

    def lateral_crossings(self) -> int:
        """Return how often laterals cross paths."""
        count = 0
        for lateral in self.laterals:
            for part in lateral.parts:
                end = part.u + lateral.side * part.spacings * self.line.spacing
                line = tuple(self.field.frame.to_plan((u, lateral.v)) for u in (part.u, end))
                count += len(self.shapes.crossings(line)) + (len(self.shapes.crossings(part.way)) if part.way else 0)
        return count

    def turns_between(self, number: int, a: int, b: int) -> int:
        """Return the sharp turns between two vertices of a header."""
        points = self.headers[number].points
        return sum(_sharp(*points[vertex - 1 : vertex + 2]) for vertex in range(min(a, b) + 1, max(a, b)))

    def covers(self, zones: tuple[tuple[tuple[int, int], ...], ...]) -> int:
        """Return the covers of mainline and headers where they cross paths; a hand's width apart they share one."""
        mainline, headers = [], []
        for number, runs in enumerate(zones):
            way = self.headers[number]
            stops = sorted({way.start, *(way.ends(zone)[2] for zone in runs)})
            mainline += [way.approach, *(way.points[a : b + 1] for a, b in pairwise(stops))]
            headers += [self._with_tails(number, zone) for zone in runs]
        kept: list[tuple[str, tuple[float, float]]] = []
        for points in (*mainline, *headers):
            for name, at in self.shapes.crossings(tuple(points)):
                if all(name != other or math.dist(at, place) > 0.25 for other, place in kept):
                    kept.append((name, at))
        return len(kept)

    def _with_tails(self, number: int, zone: tuple[int, int]) -> list[tuple[float, float]]:
        """Return a zone's header carried on at both ends; one of a single take-off runs like the whole header."""
        way, tail = self.headers[number], self.scenario.limits.header_tail
        first, last, _ = way.ends(zone)
        points = list(way.points[first : last + 1])
        if first < last:
            return [_beyond(points[1], points[0], tail), *points, _beyond(points[-2], points[-1], tail)]
        ahead = way.points[first + 1] if first + 1 < len(way.points) else None
        behind = way.points[first - 1] if first else None
        at = points[0]
        if ahead is None and behind is None:
            ahead = (at[0], at[1] + 1.0)
        if ahead is not None:
            return [_beyond(ahead, at, tail), at, _beyond((2 * at[0] - ahead[0], 2 * at[1] - ahead[1]), at, tail)]
        return [_beyond((2 * at[0] - behind[0], 2 * at[1] - behind[1]), at, tail), at, _beyond(behind, at, tail)]

    def fitting_money(self, found: Counter[tuple[str, str]]) -> int:
        """Return the price of fittings."""
        return sum(count * self.price(kind, product) for (kind, product), count in found.items())

    def head_money(self) -> int:
        """Return the price of head parts and of a regulator that must be bought."""
        parts = sum(part.price for part in self.scenario.supply.head_parts)
        return parts + (self.regulator.price if self.regulator and not self.regulator.owned else 0)

    # ---------------------------------------------------------------- shelves

    def shelf(self, which: str) -> Shelf:
        """Return what the emitter line or the blank tube is cut from."""
        limits = self.scenario.limits
        product = self.line if which == "line" else self.tube
        unit_um = round(self.line.spacing * 1e6) if which == "line" else self.step_um
        return Shelf(
            unit_um,
            tuple((round(roll.length * 1e6), roll.price, roll.available) for roll in product.rolls),
            tuple(round(length * 1e6) for length in product.owned),
            round(limits.usable_offcut * 1e6),
            self.price(f"{which} coupler", product.name),
            limits.joints_per_lateral if which == "line" else 20,
            max(math.ceil(round(limits.shortest_joined_part * 1e6) / unit_um), 1),
        )


def _stakes(length_um: int) -> int:
    return math.ceil(length_um / STAKE_UM) + 1


def _beyond(a: tuple[float, float], b: tuple[float, float], length: float) -> tuple[float, float]:
    """Return the place behind b on the line from a."""
    reach = math.dist(a, b)
    return (b[0] + (b[0] - a[0]) * length / reach, b[1] + (b[1] - a[1]) * length / reach)


def _sharp(a: tuple[float, float], b: tuple[float, float], c: tuple[float, float]) -> bool:
    """Say whether a tube over three places turns by more than 20 degrees, which takes an elbow."""
    (ux, uy), (vx, vy) = (b[0] - a[0], b[1] - a[1]), (c[0] - b[0], c[1] - b[1])
    sizes = math.hypot(ux, uy) * math.hypot(vx, vy)
    return sizes > 0 and (ux * vx + uy * vy) / sizes < math.cos(math.radians(20)) - 1e-12


def _length_um(points: tuple[tuple[float, float], ...]) -> int:
    return sum(round(math.dist(a, b) * 1e6) for a, b in pairwise(points))


# -------------------------------------------------------------------- laying out


def header_places(plan: RowPlan, step_m: float, most: int) -> list[tuple[float, ...]]:
    """Return every set of header places: minus and plus infinity for the row ends, the grid between."""
    ends = [end for row in plan.rows for line in row.lines for stretch in line.stretches for end in stretch]
    low, high = min(ends), max(ends)
    places, number = [-math.inf], 1
    while low + number * step_m < high - 1e-9 * step_m:
        places.append(round(low + number * step_m, 6))
        number += 1
    places.append(math.inf)
    chosen = [(place,) for place in places]
    several = list(chosen)
    for _ in range(most - 1):
        several = [(*group, place) for group in several for place in places if place > group[-1]]
        chosen += several
    return chosen


def crossing(stretches: tuple[tuple[float, float], ...], u: float, shortest_m: float) -> float:
    """Return where a header at u crosses a row: at its end when close to it, beside a gap when in one."""
    low, high = stretches[0][0], stretches[-1][1]
    if u - low <= shortest_m:
        return low
    if high - u <= shortest_m:
        return high
    gap = next(((a, b) for (_, a), (b, _) in pairwise(stretches) if a < u < b), None)
    if gap is None:
        return u
    return gap[0] if u - gap[0] <= gap[1] - u else gap[1]


def lay_out(
    scenario: Scenario,
    shapes: SiteShapes,
    field: RowField,
    plan: RowPlan,
    places: tuple[float, ...],
    products: tuple[EmitterLine, BlankTube, Regulator | None],
) -> Layout:
    """Return a design laid out.

    Raises:
        NoLayoutError: the header places do not work.
    """
    bed, limits = scenario.beds[0], scenario.limits
    find = bypass_finder(field.frame, shapes, shapes.site or Polygon(corners(bed)), limits.fitting_clearance)
    vertices: list[list[tuple[int, tuple[float, float]]]] = [[] for _ in places]
    laterals: list[Lateral] = []
    dry: list[tuple[int, float]] = []
    for row_number, row in enumerate(plan.rows):
        for line in row.lines:
            at = [crossing(line.stretches, u, limits.shortest_row) for u in places]
            if any(b - a < limits.shortest_row for a, b in pairwise(at)):
                raise NoLayoutError("headers too close")
            for header, u in enumerate(at):
                vertices[header].append((row_number, (u, line.v)))
                low = (at[header - 1] + u) / 2 if header else -math.inf
                high = (u + at[header + 1]) / 2 if header + 1 < len(at) else math.inf
                sides = [
                    (side, _parts(field, find, line, (u, low, high), side, products[0].spacing)) for side in (-1, 1)
                ]
                fed = [(side, parts) for side, (parts, _) in sides if parts]
                dry += [(row_number, lost) for _, (_, lost) in sides if lost]
                if not fed:
                    raise NoLayoutError("a row too short for an emitter")
                vertex = len(vertices[header]) - 1
                laterals += [Lateral(vertex, header, row_number, line.v, side, parts) for side, parts in fed]
    headers = tuple(_header(shapes, field, items) for items in vertices)
    return Layout(scenario, shapes, bed, field, plan, *products, headers, tuple(laterals), tuple(dry))


def _parts(field, find, line, reach, side, spacing):
    """Return the parts of a lateral, whole emitter spacings with the way around each gap, and what no way leads to."""
    at, low, high = reach
    clipped = [(max(a, at if side > 0 else low), min(b, high if side > 0 else at)) for a, b in line.stretches]
    kept = [stretch for stretch in clipped if stretch[1] > stretch[0]][::side]
    parts, cut_at, gap_from = [], at, at
    for number, stretch in enumerate(kept):
        near, far = stretch[::side]
        spacings = math.floor((abs(far - near) + 1e-6) / spacing)
        if spacings:
            way = ()
            if abs(near - at) > 1e-6:
                if not parts:
                    raise NoLayoutError("a lateral would begin with blank tube")
                around = find(line.v, gap_from, near)
                if around is None:
                    return tuple(parts), sum(b - a for a, b in kept[number:])
                start = field.frame.to_plan((cut_at, line.v))
                way = around.points if math.dist(start, around.points[0]) < 1e-6 else (start, *around.points)
            parts.append(Part(near, spacings, tuple(way)))
            cut_at = near + side * spacings * spacing
        gap_from = far
    return tuple(parts), 0.0


def _header(shapes: SiteShapes, field: RowField, items: list[tuple[int, tuple[float, float]]]) -> HeaderWay:
    points = tuple(field.frame.to_plan(at) for _, at in items)
    if len(points) > 1 and not shapes.tube_allowed(points):
        raise NoLayoutError("the header would cross an obstacle")
    at_um = [0]
    for a, b in pairwise(points):
        at_um.append(at_um[-1] + round(math.dist(a, b) * 1e6))
    tap = shapes.source_at
    start = min(range(len(points)), key=lambda index: (round(math.dist(tap, points[index]), 6), index))
    way = (tap, points[start])
    if not shapes.tube_allowed(way):
        start, way = _around(shapes, points)
    return HeaderWay(points, tuple(row for row, _ in items), tuple(at_um), start, way)


def _around(shapes: SiteShapes, points: tuple[tuple[float, float], ...]):
    ground = TubeGround(
        keep_outs=tuple(shapely.get_parts(shapes.no_tube)),
        barriers=tuple(shapely.get_parts(shapes.barriers)),
        smallest_corner_rad=0.0,  # the search takes every corner of what stands in the way too
    )
    try:
        graph = visibility_graph(ground, shapes.source_at, list(points))
        routes = [shortest_route(graph, RoutePrice(), terminal) for terminal in range(len(points))]
    except NoRouteError:
        raise NoLayoutError("no tube can reach the header") from None
    best = min(range(len(points)), key=lambda index: (routes[index].length_mm, index))
    return best, (shapes.source_at, *routes[best].points[1:-1], points[best])

"""Where fittings sit on the ground, worked out from the plan: ends, couplers, valves, drains, crossings."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from optimizer.plan import Header, MainlinePart, MapShape, Plan, Point, SiteMap

_LEVEL_M = 0.01
"""heights closer than this count as level"""


@dataclass(frozen=True)
class Place:
    """A fitting on the ground; the angle is that of its tube, anticlockwise from the x axis."""

    kind: str
    """end closure, coupler, zone valve, row shut-off, low drain, crossing, take-off"""
    at: Point
    angle_deg: float
    name: str = ""


def along(line: Sequence[Point], distance_m: float) -> tuple[Point, float]:
    """Return the point at a running distance of a polyline and the tube's direction there.

    Args:
        line: corners [m].
        distance_m: from the first corner; beyond the end counts as the end [m].

    Returns:
        The point [m] and the angle from the x axis [deg].
    """
    left = max(distance_m, 0.0)
    for a, b in pairwise(line):
        size = math.dist(a, b)
        if size > 0 and (left <= size or b == line[-1]):
            t = min(left / size, 1.0)
            return (a[0] + (b[0] - a[0]) * t, a[1] + (b[1] - a[1]) * t), _angle(a, b)
        left -= size
    return line[-1], 0.0


def _angle(a: Point, b: Point) -> float:
    return math.degrees(math.atan2(b[1] - a[1], b[0] - a[0]))


def line_length(line: Sequence[Point]) -> float:
    """Return the length of a polyline [m]."""
    return sum(math.dist(a, b) for a, b in pairwise(line))


def is_area(shape: MapShape) -> bool:
    """Say whether a shape is a polygon; barriers and two-point paths are lines."""
    return len(shape.points) > 2 and shape.kind != "barrier"


def ends(plan: Plan) -> list[Place]:
    """Return the end closures: of every lateral, and of header ends where no water comes in."""
    out = [_end_of(lateral.stretches[-1].points) for lateral in plan.laterals if lateral.stretches]
    for header in plan.headers:
        for line in (header.points, header.points[::-1]):
            if math.dist(line[-1], header.inlet_at) > _LEVEL_M:
                out.append(_end_of(line))
    return out


def _end_of(line: Sequence[Point]) -> Place:
    return Place("end closure", line[-1], _angle(line[-2], line[-1]))


def couplers(plan: Plan) -> list[Place]:
    """Return where pieces, or parts of a piece cut from two rolls, are joined by a coupler."""
    parts = _parts(plan)
    out: list[Place] = []
    for lateral in plan.laterals:
        for before, stretch in zip((None, *lateral.stretches), lateral.stretches, strict=False):
            if before is not None and before.kind == stretch.kind:
                out.append(Place("coupler", stretch.points[0], _angle(stretch.points[0], stretch.points[1])))
            out += _joints(stretch.points, parts.get(stretch.piece_id, [stretch.length_um]))
    lines: list[Header | MainlinePart] = [*plan.headers, *plan.mainline]
    for line in lines:
        out += _joints(line.points, [um for piece in line.piece_ids for um in parts.get(piece, [])])
    return out


def _parts(plan: Plan) -> dict[str, list[int]]:
    """Return the lengths every piece is made of, in order."""
    cuts = sorted((cut.piece_id, cut.part, cut.length_um) for roll in plan.rolls for cut in roll.cuts)
    out: dict[str, list[int]] = {}
    for piece_id, _, length_um in cuts:
        out.setdefault(piece_id, []).append(length_um)
    return out


def _joints(line: Sequence[Point], lengths_um: Sequence[int]) -> list[Place]:
    out, run = [], 0
    for length in lengths_um[:-1]:
        run += length
        at, angle = along(line, run / 1e6)
        out.append(Place("coupler", at, angle))
    return out


def zone_valves(plan: Plan, clear_m: float = 0.0) -> list[Place]:
    """Return the valves of a plan, each in the tube it opens.

    Valves of tubes that leave one place are moved along their tubes until they stand apart; those that cannot share a
    place and name.

    Args:
        plan: whose valves.
        clear_m: least distance from a branching place and from other valves [m].
    """
    parts = {part.id: part.points for part in plan.mainline}
    headers = {header.id: _from_inlet(header) for header in plan.headers}
    lines = [parts[valve.part_ids[0]] if valve.part_ids else headers[valve.header_ids[0]] for valve in plan.valves]
    out: list[Place] = []
    # Short tubes first: on long ones there are more places to choose from.
    for valve, line in sorted(zip(plan.valves, lines, strict=True), key=lambda item: line_length(item[1])):
        name = ", ".join(valve.zone_ids) if len(valve.zone_ids) < len(plan.zones) or len(plan.zones) == 1 else "all"
        _add_valve(out, name, line, clear_m)
    return sorted(out, key=lambda place: place.name)


def _from_inlet(header: Header) -> tuple[Point, ...]:
    backwards = math.dist(header.points[-1], header.inlet_at) < math.dist(header.points[0], header.inlet_at)
    return header.points[::-1] if backwards else header.points


def _add_valve(out: list[Place], zone_id: str, line: Sequence[Point], clear_m: float) -> None:
    length = line_length(line)
    most = max(0.5 * length, length - clear_m)
    tries = [along(line, min(clear_m * k, most)) for k in (1.0, 1.8, 2.6, 3.4, 4.2, 5.0, 5.8, 6.6)]
    for at, angle in tries:
        if all(math.dist(at, place.at) >= 0.85 * clear_m for place in out):
            out.append(Place("zone valve", at, angle, zone_id))
            return
    at = tries[0][0]
    index = min(range(len(out)), key=lambda k: math.dist(at, out[k].at))
    taken = out[index]
    if zone_id not in taken.name.split(", "):
        name = ", ".join(sorted((*taken.name.split(", "), zone_id)))
        out[index] = Place(taken.kind, taken.at, taken.angle_deg, name)


def row_shut_offs(plan: Plan) -> list[Place]:
    """Return where laterals have shut-offs, with the direction in which they leave their header."""
    shut = {name for header in plan.headers for take in header.take_offs if take.shut_offs for name in take.lateral_ids}
    return [
        Place("row shut-off", way[0], _angle(way[0], way[1]), lateral.id)
        for lateral in plan.laterals
        if lateral.id in shut and lateral.stretches
        for way in (lateral.stretches[0].points,)
    ]


def low_drains(plan: Plan) -> list[Place]:
    """Return where each header drains: its lowest corner, or on level ground the end away from the inlet."""
    heights = _Heights(plan)
    out = []
    for header in plan.headers:
        z = [heights.at(point) for point in header.points]
        if max(z) - min(z) < _LEVEL_M:
            far = max((math.dist(point, header.inlet_at), -k) for k, point in enumerate(header.points))
            at = header.points[-far[1]]
        else:
            at = header.points[z.index(min(z))]
        out.append(Place("low drain", at, 0.0, header.id))
    return out


class _Heights:
    """Ground height by the nearest node of the zones' networks, else by the mean slope."""

    def __init__(self, plan: Plan) -> None:
        self.site: SiteMap = plan.site
        nets = [zone.network for zone in plan.zones]
        self.x = np.array([x for net in nets for x in net.node_x_m])
        self.y = np.array([y for net in nets for y in net.node_y_m])
        self.z = np.array([z for net in nets for z in net.node_z_m])

    def at(self, point: Point) -> float:
        if self.x.size == 0:
            return point[0] * self.site.uphill[0] + point[1] * self.site.uphill[1]
        return float(self.z[np.argmin((self.x - point[0]) ** 2 + (self.y - point[1]) ** 2)])


def crossings(plan: Plan) -> list[Place]:
    """Return where mainline and headers cross paths, with the direction of the tube there."""
    out = []
    lines: list[Header | MainlinePart] = [*plan.mainline, *plan.headers]
    for line in lines:
        for crossing in line.crossings:
            nearest = min(pairwise(line.points), key=lambda ab: _away(crossing.at, *ab))
            out.append(Place("crossing", crossing.at, _angle(*nearest), crossing.path))
    return out


def _away(p: Point, a: Point, b: Point) -> float:
    size = math.dist(a, b) or 1.0
    t = ((p[0] - a[0]) * (b[0] - a[0]) + (p[1] - a[1]) * (b[1] - a[1])) / size**2
    t = min(max(t, 0.0), 1.0)
    return math.dist(p, (a[0] + (b[0] - a[0]) * t, a[1] + (b[1] - a[1]) * t))


def take_offs(plan: Plan) -> list[Place]:
    """Return the take-offs of all headers."""
    return [Place("take-off", take.at, 0.0, take.row_id) for header in plan.headers for take in header.take_offs]


def extent(plan: Plan) -> tuple[Point, Point]:
    """Return least and greatest x and y of everything that is drawn [m]."""
    lines: list[Sequence[Point]] = [plan.site.outline, (plan.site.source_at,)]
    lines += [shape.points for shape in plan.site.shapes] + [bed.outline for bed in plan.beds]
    lines += [header.points for header in plan.headers] + [part.points for part in plan.mainline]
    lines += [stretch.points for lateral in plan.laterals for stretch in lateral.stretches]
    xs = [point[0] for line in lines for point in line]
    ys = [point[1] for line in lines for point in line]
    return (min(xs), min(ys)), (max(xs), max(ys))

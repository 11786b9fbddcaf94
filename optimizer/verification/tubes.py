"""Headers and mainline: long enough, take-offs where they are drawn, joined up, off what tube must not touch."""

from __future__ import annotations

import math

import shapely
from shapely.geometry import LineString, Polygon

from optimizer.plan import Header, MainlinePart, Point
from optimizer.scenario.outlines import corners
from optimizer.units import micrometres
from optimizer.verification.facts import TOLERANCE_M, TOLERANCE_UM, Facts, distance_to, path_length, place_along
from optimizer.verification.findings import Verdict, Verdicts, judged
from optimizer.verification.rows import NOTHING_M, length_within


def header_lengths(facts: Facts) -> Verdicts:
    """A header is cut no shorter than its way, and its tails reach beyond the first and last take-off."""
    tail = micrometres(facts.scenario.limits.header_tail)
    for header in facts.plan.headers:
        path = f"header {header.id}"
        drawn = micrometres(path_length(header.points))
        message = f"it is cut to {header.length_um} um and drawn {drawn} um long"
        yield judged(path, header.length_um >= drawn - TOLERANCE_UM, message)
        places = [off.distance_um for off in header.take_offs]
        ends = (min(places), header.length_um - max(places))
        message = f"its tails are {ends[0]} um and {ends[1]} um long; {tail} um is wanted"
        yield judged(path, min(ends) >= tail - TOLERANCE_UM, message)


def inlet_between(header: Header) -> bool:
    """Return whether water enters a header between its take-offs and so runs both ways."""
    places = [off.distance_um for off in header.take_offs]
    return min(places) < header.inlet_um < max(places)


def header_tees(facts: Facts) -> Verdicts:
    """A header that runs both ways is cut where its inlet tee sits."""
    for header in facts.plan.headers:
        if inlet_between(header):
            ends = [facts.pieces[name].length_um for name in header.piece_ids]
            beyond = micrometres(path_length(header.points)) - header.inlet_um
            meet = [(sum(ends[:number]), sum(ends[number:])) for number in range(1, len(ends))]
            reach = any(min(a - header.inlet_um, b - beyond) >= -TOLERANCE_UM for a, b in meet)
            message = f"its tee sits {header.inlet_um} um and {beyond} um from its ends, its pieces give {meet} um"
            yield judged(f"header {header.id}", reach, message)


def take_off_places(facts: Facts) -> Verdicts:
    """Running distances of take-offs and inlet lead to the places drawn, and laterals leave there."""
    for header in facts.plan.headers:
        yield _at_distance(header, "its inlet", header.inlet_um, header.inlet_at)
        for off in header.take_offs:
            yield _at_distance(header, f"the take-off of {off.row_id}", off.distance_um, off.at)
            for name in off.lateral_ids:
                lateral = facts.laterals[name]
                gap = math.dist(lateral.take_off_at, off.at)
                holds = gap <= TOLERANCE_M and (lateral.header_id, lateral.row_id) == (header.id, off.row_id)
                yield judged(f"lateral {name}", holds, f"it leaves {gap:.3f} m from its take-off on {header.id}")


def _at_distance(header: Header, what: str, distance_um: int, at: Point) -> Verdict:
    gap = math.dist(place_along(header.points, distance_um / 1e6), at)
    return judged(f"header {header.id}", gap <= TOLERANCE_M, f"{what} lies {gap:.3f} m from its running distance")


def one_take_off(facts: Facts) -> Verdicts:
    """Every lateral leaves at exactly one take-off."""
    named = [name for header in facts.plan.headers for off in header.take_offs for name in off.lateral_ids]
    for lateral in facts.plan.laterals:
        count = named.count(lateral.id)
        yield judged(f"lateral {lateral.id}", count == 1, f"{count} take-offs name it")


def sides(facts: Facts) -> Verdicts:
    """Left and right of a header, looking along it from its zero, are told rightly."""
    for lateral in facts.plan.laterals:
        header = facts.headers[lateral.header_id]
        turn = _turn(header.points, lateral.take_off_at, lateral.stretches[0].points[1])
        side = "left" if turn > 0 else "right"
        yield judged(f"lateral {lateral.id}", side == lateral.side, f"it leaves to the {side}, not {lateral.side}")


def _turn(points: tuple[Point, ...], at: Point, toward: Point) -> float:
    """Return a number above zero where `toward` lies left of a line at a place on it."""
    line = LineString(points)
    distance = float(shapely.line_locate_point(line, shapely.points(at)))
    back, ahead = line.interpolate(max(0.0, distance - 0.01)), line.interpolate(distance + 0.01)
    return float((ahead.x - back.x) * (toward[1] - at[1]) - (ahead.y - back.y) * (toward[0] - at[0]))


def mainline_lengths(facts: Facts) -> Verdicts:
    """Mainline is cut no shorter than its way and its climb into a raised bed."""
    for part in facts.plan.mainline:
        drawn = micrometres(path_length(part.points) + climb(facts, part))
        message = f"it is cut to {part.length_um} um and drawn {drawn} um long"
        yield judged(f"mainline {part.id}", part.length_um >= drawn - TOLERANCE_UM, message)


def bed_at(facts: Facts, at: Point) -> str | None:
    """Return the bed whose header is fed at a place."""
    fed = (header for header in facts.plan.headers if math.dist(header.inlet_at, at) <= TOLERANCE_M)
    return next((header.beds[0] for header in fed), None)


def climb(facts: Facts, part: MainlinePart) -> float:
    """Return how far mainline leads up and down: between the ground and raised beds, not within one [m]."""
    start, end = bed_at(facts, part.points[0]), bed_at(facts, part.points[-1])
    return sum(facts.beds[bed].raised for bed in {start, end} if bed is not None and start != end)


def never_wider_downstream(facts: Facts) -> Verdicts:
    """No mainline or header is wider than the mainline that feeds it."""
    bores = {name: tube.bore for name, tube in facts.tubes.items()}
    after: list[tuple[str, str, Point, tuple[str, ...]]] = [
        *((f"mainline {part.id}", part.tube, part.points[0], part.zone_ids) for part in facts.plan.mainline),
        *((f"header {header.id}", header.tube, header.inlet_at, header.zone_ids) for header in facts.plan.headers),
    ]
    for path, tube, at, zones in after:
        for part in facts.plan.mainline:
            if math.dist(part.points[-1], at) <= TOLERANCE_M and set(zones) <= set(part.zone_ids):
                holds = bores[tube] <= bores[part.tube] + 1e-9
                yield judged(path, holds, f"{tube} is wider than {part.tube} of {part.id}, which feeds it")


def off_keep_outs(facts: Facts) -> Verdicts:
    """No tube lies in what keeps tube out."""
    for path, points in facts.tube_paths():
        for obstacle, shape in facts.kept_out("tube"):
            deep = length_within(shape, points)
            yield judged(path, deep <= NOTHING_M, f"it lies {deep:.3f} m within '{obstacle.name}'")


def off_barriers(facts: Facts) -> Verdicts:
    """No tube crosses a barrier."""
    for path, points in facts.tube_paths():
        line = LineString(points)
        for barrier in facts.scenario.barriers:
            wall = LineString(barrier.line)
            over = line.crosses(wall) or line.intersection(wall).length > TOLERANCE_M
            yield judged(path, not over, f"it crosses the barrier '{barrier.name}'")


def crossings_of(facts: Facts, points: tuple[Point, ...]) -> dict[str, int]:
    """Return how often a tube crosses each path of the scenario."""
    found = {}
    for path in facts.scenario.paths:
        common = LineString(points).intersection(Polygon(corners(path)).buffer(-TOLERANCE_M))
        found[path.name] = sum(1 for part in shapely.get_parts(common) if part.length > TOLERANCE_M)
    return found


def crossings_listed(facts: Facts) -> Verdicts:
    """Mainline and headers list every path they cross, at its place."""
    for path, points, listed in (
        *((f"mainline {part.id}", part.points, part.crossings) for part in facts.plan.mainline),
        *((f"header {header.id}", header.points, header.crossings) for header in facts.plan.headers),
    ):
        for name, count in crossings_of(facts, points).items():
            mine = [item for item in listed if item.path == name]
            message = f"it crosses '{name}' {count} times, {len(mine)} are listed"
            yield judged(path, len(mine) == count, message)
            off = max((distance_to(LineString(points), item.at) for item in mine), default=0.0)
            yield judged(path, off <= TOLERANCE_M, f"a crossing of '{name}' is listed {off:.3f} m off the tube")


def fed_from_source(facts: Facts) -> Verdicts:
    """Mainline leads without a gap from the supply to the inlet of every header of every zone."""
    for zone in facts.plan.zones:
        joints = [facts.scenario.supply.at]
        parts = [part for part in facts.plan.mainline if zone.id in part.zone_ids]
        while reached := [part for part in parts if min(math.dist(part.points[0], at) for at in joints) <= TOLERANCE_M]:
            joints += [part.points[-1] for part in reached]
            parts = [part for part in parts if part not in reached]
        message = f"mainline {', '.join(part.id for part in parts)} is not joined to the supply"
        yield judged(f"zone {zone.id}", not parts, message)
        for name in zone.header_ids:
            gap = min(math.dist(facts.headers[name].inlet_at, at) for at in joints)
            yield judged(f"header {name}", gap <= TOLERANCE_M, f"its inlet lies {gap:.3f} m from the mainline")

"""Laterals: whole emitter spacings, lengths that agree with the drawing, labels obeyed, bypasses led around."""

from __future__ import annotations

import math
from itertools import pairwise

from shapely.geometry import LineString, Polygon
from shapely.geometry import Point as Place

from optimizer.geometry import Point
from optimizer.units import micrometres
from optimizer.verification.facts import BYPASS, EMITTER_LINE, TOLERANCE_M, Facts, distance_to, path_length
from optimizer.verification.findings import Verdicts, judged
from optimizer.verification.rows import NOTHING_M, length_within


def whole_spacings(facts: Facts) -> Verdicts:
    """Every stretch of emitter line is a whole number of emitter spacings, with as many emitters."""
    for lateral in facts.plan.laterals:
        spacing = micrometres(facts.lines[lateral.product].spacing)
        for part in lateral.stretches:
            line = part.kind == EMITTER_LINE
            wanted = part.emitters * spacing if line else part.length_um
            message = f"{part.emitters} emitters need {wanted} um of line, the stretch has {part.length_um} um"
            emitters = part.emitters >= 1 if line else part.emitters == 0
            yield judged(f"lateral {lateral.id}", emitters and part.length_um == wanted, message)


def lateral_sums(facts: Facts) -> Verdicts:
    """Length and emitters of a lateral are those of its stretches of emitter line."""
    for lateral in facts.plan.laterals:
        parts = [part for part in lateral.stretches if part.kind == EMITTER_LINE]
        length, emitters = sum(part.length_um for part in parts), sum(part.emitters for part in parts)
        message = (
            f"its stretches have {length} um and {emitters} emitters, not {lateral.length_um} um and {lateral.emitters}"
        )
        yield judged(f"lateral {lateral.id}", (length, emitters) == (lateral.length_um, lateral.emitters), message)


def lateral_paths(facts: Facts) -> Verdicts:
    """Stretches are as long as drawn (blank tube at least), start at the take-off and follow each other."""
    for lateral in facts.plan.laterals:
        path = f"lateral {lateral.id}"
        for part in lateral.stretches:
            drawn, cut = path_length(part.points), part.length_um / 1e6
            message = f"a stretch of {part.kind} is {cut:.3f} m long and drawn {drawn:.3f} m"
            short = drawn - cut > TOLERANCE_M
            yield judged(path, not short and (part.kind == BYPASS or cut - drawn <= TOLERANCE_M), message)
        starts = [lateral.take_off_at, *(part.points[-1] for part in lateral.stretches)]
        gap = max(math.dist(end, part.points[0]) for end, part in zip(starts, lateral.stretches, strict=False))
        yield judged(path, gap <= TOLERANCE_M, f"there is a gap of {gap:.3f} m between take-off and stretches")


def stretch_order(facts: Facts) -> Verdicts:
    """A lateral begins and ends with emitter line, and bypasses lie singly between."""
    for lateral in facts.plan.laterals:
        kinds = [part.kind for part in lateral.stretches]
        ends = kinds[0] == kinds[-1] == EMITTER_LINE
        mixed = all(a != b for a, b in pairwise(kinds))
        yield judged(f"lateral {lateral.id}", ends and mixed, f"its stretches run {', '.join(kinds)}")


def longest_run(facts: Facts) -> Verdicts:
    """No lateral is longer than its label allows."""
    for lateral in facts.plan.laterals:
        limit = facts.lines[lateral.product].longest_run
        if limit is not None:
            length = lateral.length_um / 1e6
            message = f"{facts.show.length(length)} is longer than the {facts.show.length(limit)} on the label"
            yield judged(f"lateral {lateral.id}", lateral.length_um <= micrometres(limit), message)


def bypasses(facts: Facts) -> Verdicts:
    """Blank tube led around an obstacle stays out of it and passes it at the wanted distance."""
    clearance = facts.scenario.limits.fitting_clearance
    for lateral, part in facts.all_stretches(BYPASS):
        for obstacle, shape in facts.kept_out("tube"):
            deep = length_within(shape, part.points)
            near = _nearest_turn(shape, part.points, clearance)
            # Where a row meets an obstacle aslant, its ends lie nearer than the clearance, and so must the way to them.
            wanted = min(clearance, *(distance_to(shape, place) for place in _on_row(part.points)))
            message = f"its bypass runs {deep:.3f} m through '{obstacle.name}' and passes it at {near:.3f} m"
            holds = deep <= NOTHING_M and near >= wanted - TOLERANCE_M
            yield judged(f"lateral {lateral.id}", holds, message)


def _on_row(points: tuple[Point, ...]) -> list[Point]:
    """Return the places of a bypass that lie on its row: where it leaves the line, where the row ends, and beyond."""
    row = LineString((points[0], points[-1]))
    return [place for place in points if row.distance(Place(place)) <= TOLERANCE_M]


def _nearest_turn(shape: Polygon, points: tuple[Point, ...], otherwise_m: float) -> float:
    """Return how near a way around comes to a shape between its first and last turn [m]."""
    row = LineString((points[0], points[-1]))
    turns = [place for place in points[1:-1] if row.distance(Place(place)) > TOLERANCE_M]
    if not turns:
        return otherwise_m
    return float(shape.distance(LineString(turns))) if len(turns) > 1 else distance_to(shape, turns[0])

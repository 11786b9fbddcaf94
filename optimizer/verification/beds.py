"""Several beds: the lines each allows, the headers they share, and beds of one shape laid out alike."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import combinations

from optimizer.geometry import Point
from optimizer.scenario.outlines import corners
from optimizer.scenario.schema import Bed
from optimizer.verification.facts import EMITTER_LINE, TOLERANCE_M, Facts
from optimizer.verification.findings import Verdicts, judged

_SAME_TURN_RAD = 1e-3


def lines_allowed(facts: Facts) -> Verdicts:
    """The emitter line laid in a bed is one the bed allows."""
    for lateral in facts.plan.laterals:
        bed = facts.beds[facts.rows[lateral.row_id].bed]
        allowed = not bed.lines or lateral.product in bed.lines
        message = f"{lateral.product} lies in bed '{bed.name}', which allows {', '.join(bed.lines)}"
        yield judged(f"lateral {lateral.id}", allowed, message)


def headers_shared(facts: Facts) -> Verdicts:
    """A header spans several beds only where they are level and the scenario lets beds share headers."""
    for header in facts.plan.headers:
        path, several = f"header {header.id}", len(header.beds) > 1
        names = " and ".join(f"'{name}'" for name in header.beds)
        allowed = not several or facts.scenario.limits.share_headers
        yield judged(path, allowed, f"it spans the beds {names}, and beds are not to share headers")
        raised = [name for name in header.beds if facts.beds[name].raised > 0.0]
        message = f"it spans the beds {names}, of which {', '.join(raised)} is raised"
        yield judged(path, not several or not raised, message)


# ---------------------------------------------------------------- beds of one shape


def alike(facts: Facts) -> Verdicts:
    """Beds of one shape have lines of the same set of lengths, where that is wanted."""
    if not facts.scenario.limits.beds_alike:
        return
    for one, two in combinations(facts.scenario.beds, 2):
        if _one_shape(one, two):
            mine, theirs = _lengths_um(facts, one.name), _lengths_um(facts, two.name)
            odd = ", ".join(facts.show.length(length / 1e6) for length in sorted(mine ^ theirs))
            message = f"they have one shape, and only one of them has lines of {odd}"
            yield judged(f"beds {one.name} and {two.name}", mine == theirs, message)


def _lengths_um(facts: Facts, bed: str) -> set[int]:
    """Return the lengths of the emitter line that lies in a bed [um]."""
    stretches = facts.all_stretches(EMITTER_LINE)
    return {part.length_um for lateral, part in stretches if facts.rows[lateral.row_id].bed == bed}


def _one_shape(one: Bed, two: Bed) -> bool:
    """Return whether beds have the same sides and turns in order, height and margins; they may lie turned."""
    if (one.raised, one.edge_margin, one.row_end_margin) != (two.raised, two.edge_margin, two.row_end_margin):
        return False
    mine, theirs = _around(corners(one)), _around(corners(two))
    if len(mine) != len(theirs):
        return False
    return any(_same_sides(mine, theirs[start:] + theirs[:start]) for start in range(len(theirs)))


def _around(outline: Sequence[Point]) -> list[tuple[float, float]]:
    """Return the length of each side [m] and the turn at its end [rad], anticlockwise around."""
    around = list(outline)
    if sum(a[0] * b[1] - b[0] * a[1] for a, b in zip(around, around[1:] + around[:1], strict=True)) < 0.0:
        around.reverse()
    ways = [(b[0] - a[0], b[1] - a[1]) for a, b in zip(around, around[1:] + around[:1], strict=True)]
    return [(math.hypot(*way), _turn(way, after)) for way, after in zip(ways, ways[1:] + ways[:1], strict=True)]


def _turn(way: Point, after: Point) -> float:
    """Return how far a way turns to the left, within half a turn either way [rad]."""
    return math.atan2(way[0] * after[1] - way[1] * after[0], way[0] * after[0] + way[1] * after[1])


def _same_sides(mine: list[tuple[float, float]], theirs: list[tuple[float, float]]) -> bool:
    pairs = list(zip(mine, theirs, strict=True))
    sides = all(abs(a - b) <= TOLERANCE_M for (a, _), (b, _) in pairs)
    return sides and all(abs(a - b) <= _SAME_TURN_RAD for (_, a), (_, b) in pairs)

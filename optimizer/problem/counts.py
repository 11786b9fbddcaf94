"""Fittings and stakes of a design, and what they cost: one count for the search, the plan and its price."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from optimizer.geometry import Point, bends
from optimizer.problem.case import Case, Run
from optimizer.scenario.defaults import fitting_price
from optimizer.scenario.schema import FittingKind, Scenario

STAKE_EVERY_M = 1.5
"""distance of stakes along tubing [m]; common practice, no source"""

SHARP_BEND_DEG = 20.0
"""blank tube is bent by hand up to this, beyond it takes an elbow [deg]; common practice, no source"""

SIDE_BY_SIDE_M = 0.25
"""tubes that cross a path no farther apart lie under one cover [m]; common practice, no source"""

PUSHED: tuple[FittingKind, ...] = (
    "take-off",
    "end closure",
    "line coupler",
    "bypass adapter",
    "tube coupler",
    "tee",
    "elbow",
    "header end",
    "zone valve",
    "row shut-off",
)
"""fittings that are pushed on by hand and count as fittings"""


@dataclass(frozen=True)
class FittingCount:
    """How many of each fitting, by kind and the tubing it sits on."""

    counts: tuple[tuple[FittingKind, str, int], ...]

    @property
    def pushed(self) -> int:
        """Fittings to push on."""
        return sum(count for kind, _, count in self.counts if kind in PUSHED)

    def cost_ct(self, scenario: Scenario) -> int:
        """Price of all of them [ct]."""
        return sum(count * fitting_price(scenario, kind, product)[0] for kind, product, count in self.counts)


def gathered(items: Iterable[tuple[FittingKind, str, int]]) -> FittingCount:
    """Return counts with equal fittings added up, sorted, without zeros."""
    total: Counter[tuple[FittingKind, str]] = Counter()
    for kind, product, count in items:
        total[kind, product] += count
    return FittingCount(tuple((kind, product, count) for (kind, product), count in sorted(total.items()) if count))


def stakes(length_m: float) -> int:
    """Return the stakes for a length of tubing: one at each end and at every stated distance between."""
    return math.ceil(length_m / STAKE_EVERY_M - 1e-9) + 1


def lateral_fittings(case: Case) -> FittingCount:
    """Return the fittings of all laterals of a design."""
    line, tube, laterals = case.line.name, case.tube.name, case.feed.laterals
    items: list[tuple[FittingKind, str, int]] = [
        ("take-off", line, len(laterals)),
        ("end closure", line, len(laterals)),
    ]
    for spacings, count in Counter(lateral.spacings for lateral in laterals).items():
        items.append(("stake", line, count * stakes(spacings * case.line.spacing)))
    for lateral in laterals:
        lengths = lateral.bypass_lengths_m
        items += [("bypass adapter", line, 2 * len(lengths))] if lengths else []
        items += [("stake", tube, stakes(length)) for length in lengths]
    if case.shapes.paths:
        ways = (way for lateral in laterals for way in case.lateral_ways(lateral))
        items.append(("tube cover", tube, sum(len(case.shapes.crossings(way)) for way in ways)))
    return gathered(items)


def header_fittings(case: Case, run: Run, inlet: int) -> FittingCount:
    """Return the fittings of a stretch of header fed at a vertex: inlet, ends, elbows where it turns, and stakes."""
    tube = case.tube.name
    line = case.layout.headers[run.header]
    first, last = line.vertices(run)
    inside = first < inlet < last
    turns = [vertex for vertex in bends(line.points[first : last + 1], SHARP_BEND_DEG) if first + vertex != inlet]
    items: list[tuple[FittingKind, str, int]] = [
        ("tee" if inside else "elbow", tube, 1),
        ("elbow", tube, len(turns)),
        ("header end", tube, 2 if inside else 1),
        ("stake", tube, stakes(line.span_um(first, last) / 1e6)),
    ]
    return gathered(items)


def run_fittings(case: Case, run: Run) -> FittingCount:
    """Return the fittings of a run that is a zone: those of its header, and its valve."""
    inlet = case.layout.headers[run.header].inlet(run)
    return added(header_fittings(case, run, inlet), gathered([("zone valve", case.tube.name, 1)]))


def joining_fittings(case: Case, zones: int, covers: int, mainline_m: float, elbows: int = 0) -> FittingCount:
    """Return the fittings of the mainline: a tee for every zone but one, elbows, covers and stakes."""
    tube = case.tube.name
    return gathered(
        [
            ("tee", tube, zones - 1),
            ("elbow", tube, elbows),
            ("tube cover", tube, covers),
            ("stake", tube, stakes(mainline_m)),
        ]
    )


def approach_elbows(case: Case) -> int:
    """Return the elbows on the ways to the headers of a design."""
    return sum(way_elbows(line.approach.points, line.approach.rise_um) for line in case.layout.headers)


def way_elbows(points: Sequence[Point], rise_um: int) -> int:
    """Return the elbows of mainline: one at every sharp bend, and one at the foot where it climbs into a bed."""
    return len(bends(points, SHARP_BEND_DEG)) + (rise_um > 0)


def added(*parts: FittingCount) -> FittingCount:
    """Return the sum of counts."""
    return gathered(item for part in parts for item in part.counts)


def covers(crossings: Iterable[tuple[str, Point]]) -> int:
    """Return how many covers crossings of paths need: tubes side by side lie under one."""
    covered: list[tuple[str, Point]] = []
    for name, at in crossings:
        if not any(name == other and math.dist(at, place) <= SIDE_BY_SIDE_M for other, place in covered):
            covered.append((name, at))
    return len(covered)

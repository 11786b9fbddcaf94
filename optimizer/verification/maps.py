"""What the plan says of the ground is what the scenario says."""

from __future__ import annotations

import math

from optimizer.geometry import Point, longest_side_angle
from optimizer.plan import PLAN_VERSION
from optimizer.scenario.outlines import corners
from optimizer.scenario.schema import Bed
from optimizer.verification.facts import TOLERANCE_M, Facts
from optimizer.verification.findings import Verdicts, judged

_SAME_ANGLE = 1e-6


def ground_maps(facts: Facts) -> Verdicts:
    """Supply, outlines and shapes of the plan lie where the scenario puts them."""
    site, scenario = facts.plan.site, facts.scenario
    turn = math.remainder(math.radians(site.north_deg) - scenario.site.north, 2.0 * math.pi)
    yield judged("site", abs(turn) <= _SAME_ANGLE, "north is not where the scenario puts it")
    yield judged("supply", site.source_kind == scenario.supply.kind, f"it is called a {site.source_kind}")
    off = math.dist(site.source_at, scenario.supply.at)
    yield judged("supply", off <= TOLERANCE_M, f"the plan puts it {off:.3f} m from its place")
    yield judged("site", _same(site.outline, corners(scenario.site)), "its outline is not the scenario's")
    for bed in facts.plan.beds:
        wanted = facts.beds.get(bed.name)
        same = wanted is not None and _same(bed.outline, corners(wanted)) and bed.raised_m == wanted.raised
        yield judged(f"bed {bed.name}", same, "outline or height is not the scenario's")
    yield from _shapes(facts)


def labels(facts: Facts) -> Verdicts:
    """Title, units and currency are those of the scenario, and the plan is of the version this check knows."""
    plan, scenario = facts.plan, facts.scenario
    said = (plan.title, plan.unit_system, plan.currency, plan.version)
    wanted = (scenario.title, scenario.units.value, scenario.currency, PLAN_VERSION)
    for name, one, other in zip(("title", "units", "currency", "version"), said, wanted, strict=True):
        yield judged(name, one == other, f"the plan says '{one}', expected '{other}'")


def _shapes(facts: Facts) -> Verdicts:
    scenario = facts.scenario
    wanted = {("obstacle", item.name): corners(item) for item in scenario.obstacles}
    wanted |= {("path", item.name): corners(item) for item in scenario.paths}
    wanted |= {("barrier", item.name): item.line for item in scenario.barriers}
    drawn = {(shape.kind, shape.name): shape.points for shape in facts.plan.site.shapes}
    for kind, name in sorted({*wanted, *drawn}):
        same = _same(wanted.get((kind, name), ()), drawn.get((kind, name), ()))
        yield judged(f"{kind} {name}", same, "it is not drawn as the scenario has it")


def _same(first: tuple[Point, ...], second: tuple[Point, ...]) -> bool:
    return len(first) == len(second) and all(math.dist(a, b) <= TOLERANCE_M for a, b in zip(first, second, strict=True))


def all_beds(facts: Facts) -> Verdicts:
    """Every bed of the scenario is in the plan."""
    for name in facts.beds:
        yield judged(f"bed {name}", name in facts.bed_maps, "the plan leaves it out")


def directions(facts: Facts) -> Verdicts:
    """Rows run in one of the directions the bed allows."""
    for bed in facts.plan.beds:
        angle = math.radians(bed.row_angle_deg)
        open_to = _angles(facts.beds[bed.name]) if bed.name in facts.beds else []
        near = any(abs(math.sin(angle - other)) <= _SAME_ANGLE for other in open_to)
        yield judged(f"bed {bed.name}", near, f"rows at {bed.row_angle_deg:.2f} deg are not among its directions")


def _angles(bed: Bed) -> list[float]:
    along = longest_side_angle(corners(bed))
    words = {"along": along, "across": along + math.pi / 2.0}
    return [words[item] if isinstance(item, str) else item for item in bed.directions]

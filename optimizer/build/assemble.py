"""Putting the plan together."""

from __future__ import annotations

import math
import platform
from collections.abc import Sequence
from importlib.metadata import version

from optimizer.build.bill import bill
from optimizer.build.laid import lay
from optimizer.build.rolls import roll_cuts
from optimizer.build.zones import zones
from optimizer.choose.alternatives import alternatives
from optimizer.choose.designs import ChoiceSet
from optimizer.choose.evaluate import Evaluated
from optimizer.choose.goals import GOAL_WORDS
from optimizer.choose.search import Search, SearchResult
from optimizer.ground import Ground
from optimizer.plan import (
    PLAN_VERSION,
    BedMap,
    Certificate,
    GoalValue,
    HeadUnit,
    MapShape,
    Plan,
    RollCuts,
    SiteMap,
    Zone,
)
from optimizer.problem.case import Case
from optimizer.problem.counts import FittingCount, added, gathered, lateral_fittings
from optimizer.scenario.defaults import assumed_values, fitting_price
from optimizer.scenario.outlines import corners
from optimizer.scenario.schema import Scenario
from optimizer.units import Display, micrometres


def _uphill(ground: Ground, scenario: Scenario) -> tuple[float, float]:
    """Return the mean rise per metre; of a surface through many spots that of its plane part."""
    return ground.rise


def _site(case: Case) -> SiteMap:
    scenario = case.scenario
    shapes = [
        *(
            MapShape(item.name, "obstacle", corners(item), f"keeps out {_kept_out(item.keeps_out)}")
            for item in scenario.obstacles
        ),
        *(MapShape(item.name, "path", corners(item)) for item in scenario.paths),
        *(MapShape(item.name, "barrier", item.line, "no tube across") for item in scenario.barriers),
    ]
    return SiteMap(
        corners(scenario.site),
        tuple(shapes),
        scenario.supply.at,
        scenario.supply.kind,
        math.degrees(scenario.site.north),
        _uphill(case.shapes.ground, scenario),
    )


def _kept_out(word: str) -> str:
    return "rows and tube" if word == "both" else word


def _bed(found: Evaluated, choices: ChoiceSet) -> BedMap:
    bed, field = found.case.layout.bed, found.case.layout.field
    angle = math.degrees(field.frame.angle) % 180.0
    return BedMap(bed.name, corners(bed), bed.raised, angle, field.angle_name, choices.place_names(found.design))


def _head_units(case: Case, display: Display) -> tuple[HeadUnit, ...]:
    supply = case.scenario.supply
    units = [HeadUnit(supply.kind, supply.kind, "")]
    if supply.lead_in is not None:
        lead = supply.lead_in
        units.append(HeadUnit("lead-in", "hose", f"{display.length(lead.length)}, bore {display.bore(lead.bore)}"))
    units += [HeadUnit(part.name, part.kind, "") for part in supply.head_parts]
    if case.regulator is not None:
        units.append(HeadUnit(case.regulator.name, "regulator", f"holds {display.pressure(case.regulator.holds)}"))
    return tuple(units)


def all_fittings(found: Evaluated) -> FittingCount:
    """Return every fitting of an evaluated design, couplers included."""
    line_plan, tube_plan = found.line.plan, found.split.tube.plan
    couplers = gathered(
        [
            ("line coupler", found.case.line.name, line_plan.couplers if line_plan else 0),
            ("tube coupler", found.case.tube.name, tube_plan.couplers if tube_plan else 0),
        ]
    )
    return added(lateral_fittings(found.case), found.split.fittings, couplers)


def _rolls(
    found: Evaluated, line_pieces: Sequence[object], tube_pieces: Sequence[object], display: Display
) -> tuple[RollCuts, ...]:
    case, limits = found.case, found.case.scenario.limits
    usable = micrometres(limits.usable_offcut)
    rolls: list[RollCuts] = []
    for tubing, letter, outcome, pieces, unit in (
        (case.line, "L", found.line, line_pieces, micrometres(case.line.spacing)),
        (case.tube, "T", found.split.tube, tube_pieces, case.tube_step_um),
    ):
        if outcome.plan is not None:
            rolls += roll_cuts(tubing, letter, outcome.plan, pieces, unit, usable, display)  # type: ignore[arg-type]
    return tuple(rolls)


def _not_watered(found: Evaluated, display: Display) -> tuple[str, ...]:
    plan, field = found.case.layout.plan, found.case.layout.field
    lines = []
    for index, row in enumerate(plan.rows):
        for a, b in field.too_short(row.v):
            lines.append(f"R{index + 1}: {display.length(b - a)} is shorter than the shortest row worth a lateral")
        for number, line in enumerate(row.lines, start=1):
            short = row.planted_m - sum(b - a for a, b in line.stretches)
            if short > found.case.scenario.limits.shortest_row:
                lines.append(f"R{index + 1}: line {number} is {display.length(short)} shorter; the bed ends beside it")
    for row_index, length, why in found.case.feed.dropped:
        lines.append(f"R{row_index + 1}: {display.length(length)}: {why}")
    return tuple(lines)


def _missing(found: Evaluated, display: Display) -> tuple[str, ...]:
    crops = found.case.layout.bed.crops
    lines = []
    for index, unit, amount in found.case.layout.plan.missing:
        what = display.length(amount) if unit == "m" else f"{amount:.0f} {unit}"
        lines.append(f"Not all of '{crops[index].name}' fits: {what} short of what was asked.")
    return tuple(lines)


def _prices_assumed(found: Evaluated) -> tuple[str, ...]:
    kinds = {(kind, product) for kind, product, _ in all_fittings(found).counts}
    assumed = sorted({kind for kind, product in kinds if not fitting_price(found.case.scenario, kind, product)[1]})
    return (f"rough prices taken for: {', '.join(assumed)}",) if assumed else ()


def _goals(found: Evaluated, bound: tuple[int, ...], zones_: Sequence[Zone]) -> tuple[GoalValue, ...]:
    worst = max(round(10_000 * zone.water.flow_variation) for zone in zones_)
    exact = (*found.goals[:-1], worst)
    goals, open_ = [], False
    for (name, unit), value, table_value, low in zip(GOAL_WORDS, exact, found.goals, bound, strict=True):
        proven = not open_ and low >= table_value
        open_ |= not proven
        goals.append(GoalValue(name, value, value if proven else low, unit, proven))
    return tuple(goals)


def _choice_set(choices: ChoiceSet) -> tuple[tuple[str, str], ...]:
    scenario = choices.scenario
    limits, display = scenario.limits, Display(scenario.units)
    rows = [
        f"{direction.name}: {len(direction.plans)}"
        + (f" of {direction.plans_found}" if direction.plans_found > len(direction.plans) else "")
        for direction in choices.directions
    ]
    return (
        ("row directions", ", ".join(direction.name for direction in choices.directions)),
        ("crop orders that differ", ", ".join(rows)),
        (
            "row places",
            f"every {display.length(limits.row_step)}, the longest rows that meet the requests, tap side first",
        ),
        ("header places", f"both row ends and every {display.length(limits.header_step)} between"),
        ("headers side by side", f"up to {limits.headers_at_most}"),
        ("emitter lines", ", ".join(line.name for line in scenario.emitter_lines)),
        ("blank tubes", ", ".join(tube.name for tube in scenario.blank_tubes)),
        ("regulators", ", ".join(item.name if item else "none" for item in choices.regulators)),
        ("zones", "all splits into neighbouring rows that hold the limits"),
        ("mainline", "shortest way from the supply to the nearest take-off, then alongside the header"),
        ("cuts", "all ways to cut the pieces from rolls and owned pieces"),
    )


def certificate(
    result: SearchResult, found: Evaluated, choices: ChoiceSet, zones_: Sequence[Zone], seed: int, seconds: float | None
) -> Certificate:
    """Return what was proven about a plan."""
    bound = result.bound if result.bound is not None else found.bound
    return Certificate(
        result.status,
        _goals(found, tuple(bound), zones_),
        _choice_set(choices),
        result.designs,
        len(result.evaluated),
        result.ruled_out,
        seed,
        (("seconds", "none" if seconds is None else f"{seconds:g}"),),
        (
            ("drip-layout-optimizer", version("drip-layout-optimizer")),
            ("ortools", version("ortools")),
            ("python", platform.python_version()),
        ),
        result.repeatable,
    )


def build_plan(search: Search, result: SearchResult, found: Evaluated, choices: ChoiceSet) -> Plan:
    """Return the plan of the best design.

    Args:
        search: the search, asked for the best of other kinds.
        result: what it found.
        found: the design to lay.
        choices: what it was chosen among.
    """
    case, scenario = found.case, choices.scenario
    display = Display(scenario.units)
    laid = lay(found)
    rolls = _rolls(found, laid.line_pieces, laid.tube_pieces, display)
    zones_ = zones(case, laid)
    return Plan(
        version=PLAN_VERSION,
        title=scenario.title,
        unit_system=str(scenario.units),
        currency=scenario.currency,
        site=_site(case),
        beds=(_bed(found, choices),),
        rows=laid.rows,
        laterals=laid.laterals,
        headers=laid.headers,
        mainline=laid.mainline,
        zones=zones_,
        pieces=(*laid.line_pieces, *laid.tube_pieces),
        rolls=rolls,
        bill=bill(case, rolls, all_fittings(found), display),
        head_units=_head_units(case, display),
        not_watered=_not_watered(found, display),
        warnings=_missing(found, display),
        assumptions=(*assumed_values(scenario), *_prices_assumed(found)),
        alternatives=alternatives(search, found, choices),
        certificate=certificate(result, found, choices, zones_, search.limits.seed, search.limits.seconds),
    )

"""Putting the plan together."""

from __future__ import annotations

import math
import platform
from collections.abc import Iterator, Sequence
from importlib.metadata import version

from optimizer.build.bill import bill
from optimizer.build.laid import lay
from optimizer.build.naming import row_ids
from optimizer.build.rolls import roll_cuts
from optimizer.build.zones import zones
from optimizer.choose.chosen import Chosen, Proof
from optimizer.choose.goals import GOAL_WORDS, Goals
from optimizer.plan import (
    PLAN_VERSION,
    Alternative,
    BedMap,
    Certificate,
    GoalValue,
    HeadUnit,
    MapShape,
    Piece,
    Plan,
    RollCuts,
    SiteMap,
    Zone,
)
from optimizer.problem.case import Case, place_names
from optimizer.problem.counts import FittingCount
from optimizer.problem.laying import Laying
from optimizer.scenario.defaults import assumed_values, fitting_price
from optimizer.scenario.outlines import corners
from optimizer.scenario.schema import EmitterLine, Scenario
from optimizer.units import Display, micrometres


def _site(laying: Laying) -> SiteMap:
    scenario = laying.scenario
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
        laying.shapes.ground.rise,
    )


def _kept_out(word: str) -> str:
    return "rows and tube" if word == "both" else word


def _beds(laying: Laying, display: Display) -> Iterator[BedMap]:
    """Yield the beds in the order of the scenario."""
    found = {}
    for case in laying.cases:
        layout = case.layout
        names = [bed.name for bed in layout.beds]
        for bed in layout.beds:
            others = [name for name in names if name != bed.name]
            shared = f", shared with {' and '.join(others)}" if others else ""
            places = tuple(name + shared for name in place_names(layout, display))
            angle = math.degrees(layout.frame.angle) % 180.0
            found[bed.name] = BedMap(bed.name, corners(bed), bed.raised, angle, layout.fields[0].angle_name, places)
    yield from (found[bed.name] for bed in laying.scenario.beds)


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


def _rolls(chosen: Chosen, pieces: Sequence[Piece], display: Display) -> tuple[RollCuts, ...]:
    """Return all rolls with their cuts: L1, L2 ... of emitter line, T1, T2 ... of blank tube."""
    usable = micrometres(chosen.laying.scenario.limits.usable_offcut)
    rolls: list[RollCuts] = []
    for cut in chosen.cuts:
        letter = "L" if isinstance(cut.product, EmitterLine) else "T"
        mine = [piece for piece in pieces if piece.product == cut.product.name]
        first = sum(roll.id[0] == letter for roll in rolls) + 1
        if cut.outcome.plan is not None:
            rolls += roll_cuts(cut.product, (letter, first), cut.outcome.plan, mine, cut.unit_um, usable, display)
    return tuple(rolls)


def _not_watered(laying: Laying, display: Display) -> Iterator[str]:
    shortest = laying.scenario.limits.shortest_row
    for case, names in zip(laying.cases, row_ids(laying), strict=True):
        layout = case.layout
        for index, row in enumerate(layout.plan.rows):
            for a, b in layout.fields[layout.bed_of(index)].too_short(row.v):
                yield f"{names[index]}: {display.length(b - a)} is shorter than the shortest row worth a lateral"
            for number, line in enumerate(row.lines, start=1):
                short = row.planted_m - sum(b - a for a, b in line.stretches)
                if short > shortest:
                    yield f"{names[index]}: line {number} is {display.length(short)} shorter; the bed ends beside it"
        for row_index, length, why in case.feed.dropped:
            yield f"{names[row_index]}: {display.length(length)}: {why}"


def _missing(laying: Laying, display: Display) -> Iterator[str]:
    several = len(laying.scenario.beds) > 1
    for layout in (case.layout for case in laying.cases):
        for index, unit, amount in layout.plan.missing:
            what = display.length(amount) if unit == "m" else f"{amount:.0f} {unit}"
            where = f" in {layout.beds[layout.crop_beds[index]].name}" if several else ""
            yield f"Not all of '{layout.crops[index].name}'{where} fits: {what} short of what was asked."


def _prices_assumed(scenario: Scenario, fittings: FittingCount) -> tuple[str, ...]:
    kinds = {(kind, product) for kind, product, _ in fittings.counts}
    assumed = sorted({kind for kind, product in kinds if not fitting_price(scenario, kind, product)[1]})
    return (f"rough prices taken for: {', '.join(assumed)}",) if assumed else ()


def _goals(chosen: Chosen, bound: Goals, zones_: Sequence[Zone]) -> Iterator[GoalValue]:
    worst = max(round(10_000 * zone.water.flow_variation) for zone in zones_)
    exact, open_ = (*chosen.goals[:-1], worst), False
    for (name, unit), value, table_value, low in zip(GOAL_WORDS, exact, chosen.goals, bound, strict=True):
        proven = not open_ and low >= table_value
        open_ |= not proven
        yield GoalValue(name, value, value if proven else low, unit, proven)


def certificate(proof: Proof, chosen: Chosen, zones_: Sequence[Zone]) -> Certificate:
    """Return what was proven about a plan."""
    return Certificate(
        proof.status,
        tuple(_goals(chosen, proof.bound, zones_)),
        proof.choice_set,
        proof.designs,
        proof.solved,
        proof.ruled_out,
        proof.seed,
        (("seconds", "none" if proof.seconds is None else f"{proof.seconds:g}"),),
        (
            ("drip-layout-optimizer", version("drip-layout-optimizer")),
            ("ortools", version("ortools")),
            ("python", platform.python_version()),
        ),
        proof.repeatable,
    )


def build_plan(chosen: Chosen, proof: Proof, others: tuple[Alternative, ...]) -> Plan:
    """Return the plan of the layout chosen.

    Args:
        chosen: what to lay.
        proof: what was proven about it.
        others: the plan itself and the layouts it was compared with, best first.
    """
    laying, scenario = chosen.laying, chosen.laying.scenario
    display = Display(scenario.units)
    laid = lay(laying)
    rolls = _rolls(chosen, laid.pieces, display)
    zones_ = tuple(zones(laying, laid))
    fittings = chosen.fittings
    return Plan(
        version=PLAN_VERSION,
        title=scenario.title,
        unit_system=str(scenario.units),
        currency=scenario.currency,
        site=_site(laying),
        beds=tuple(_beds(laying, display)),
        rows=laid.rows,
        laterals=laid.laterals,
        headers=laid.headers,
        mainline=laid.mainline,
        valves=laid.valves,
        zones=zones_,
        pieces=laid.pieces,
        rolls=rolls,
        bill=bill(laying, rolls, fittings, display),
        head_units=_head_units(laying.cases[0], display),
        not_watered=tuple(_not_watered(laying, display)),
        warnings=tuple(_missing(laying, display)),
        assumptions=(*assumed_values(scenario), *_prices_assumed(scenario, fittings)),
        alternatives=others,
        certificate=certificate(proof, chosen, zones_),
    )

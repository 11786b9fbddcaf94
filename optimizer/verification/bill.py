"""The shopping list counted again from what is drawn, and the goals computed again from plan and list."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable
from itertools import pairwise

from optimizer.geometry import Point
from optimizer.plan import BillLine, Crossing, Header, Status
from optimizer.scenario.defaults import GENERIC_PRICE_CT, fitting_price
from optimizer.scenario.schema import FittingKind
from optimizer.verification.facts import BYPASS, EMITTER_LINE, TOLERANCE_M, Facts, path_length
from optimizer.verification.findings import Verdict, Verdicts, judged
from optimizer.verification.rows import shortfall
from optimizer.verification.tubes import climb, crossings_of, inlet_between
from optimizer.verification.ways import feeding_part

STAKE_SPACING_UM = 1_500_000
BENT_BY_HAND_DEG = 20.0
"""blank tube bends by hand up to this, beyond it takes an elbow [deg] (common practice, no source)"""
SIDE_BY_SIDE_M = 0.25
"""tubes that cross a path no farther apart lie under one cover [m]"""
"""A stake at the start of a tube and then every 1.5 m (common practice, no source) [um]."""

_KINDS: dict[str, FittingKind] = {kind: kind for kind in GENERIC_PRICE_CT}

GOAL_UNITS = {
    "requests missing": "ppm",
    "money": "ct",
    "waste": "um",
    "fittings": "count",
    "flow variation": "0.01 %",
}

_PUSHED_ON = (
    "take-off",
    "end closure",
    "line coupler",
    "tube coupler",
    "bypass adapter",
    "tee",
    "elbow",
    "header end",
    "zone valve",
    "row shut-off",
)


def stakes_for(length_um: int) -> int:
    """Return how many stakes hold a tube: one at its start and one at most every 1.5 m [um]."""
    return math.ceil(length_um / STAKE_SPACING_UM) + 1


def _couplers(facts: Facts, pieces: Iterable[str], tees: int = 0) -> int:
    """Return the couplers that join pieces laid end to end and the parts they are made of, where no tee does."""
    return max(0, sum(len(facts.parts_of_piece[name]) for name in pieces) - 1 - tees)


def _branches(facts: Facts) -> int:
    """Return the tees of the mainline: where n ways leave a part of it or the supply, n - 1 of them."""
    starts = [(part.points[0], part.zone_ids) for part in facts.plan.mainline]
    starts += [(header.inlet_at, header.zone_ids) for header in facts.plan.headers]
    feeders = (feeding_part(facts, at, zones) for at, zones in starts)
    ways = Counter("" if part is None else part.id for part in feeders)
    return sum(count - 1 for count in ways.values())


def fittings(facts: Facts) -> Counter[tuple[str, str]]:
    """Return how many of each fitting the drawing needs, by kind and product; "" for any blank tube."""
    count: Counter[tuple[str, str]] = Counter()
    _count_laterals(facts, count)
    _count_tubes(facts, count)
    return count


def _count_laterals(facts: Facts, count: Counter[tuple[str, str]]) -> None:
    offs = [off for header in facts.plan.headers for off in header.take_offs]
    shut = {name for off in offs if off.shut_offs for name in off.lateral_ids}
    for lateral in facts.plan.laterals:
        name = lateral.product
        count["take-off", name] += 1
        count["end closure", name] += 1
        count["row shut-off", name] += lateral.id in shut
        count["stake", name] += stakes_for(lateral.length_um)
        for part in lateral.stretches:
            if part.kind == EMITTER_LINE:
                count["line coupler", name] += _couplers(facts, (part.piece_id,))
            if part.kind == BYPASS:
                count["bypass adapter", name] += 2
                count["tube coupler", ""] += _couplers(facts, (part.piece_id,))
                count["stake", ""] += stakes_for(round(1e6 * path_length(part.points)))


def _count_tubes(facts: Facts, count: Counter[tuple[str, str]]) -> None:
    plan = facts.plan
    for header in plan.headers:
        both_ways = inlet_between(header)
        count["tee", ""] += both_ways
        count["elbow", ""] += not both_ways
        count["header end", ""] += 1 + both_ways
        count["tube coupler", ""] += _couplers(facts, header.piece_ids, both_ways)
        places = [off.distance_um for off in header.take_offs]
        count["stake", ""] += stakes_for(max(places) - min(places))
        count["elbow", ""] += header_turns(header)
    count["tee", ""] += _branches(facts)
    count["elbow", ""] += sum(len(turns(part.points)) + (climb(facts, part) > 0.0) for part in plan.mainline)
    count["zone valve", ""] += len(plan.valves)
    count["tube coupler", ""] += sum(_couplers(facts, part.piece_ids) for part in plan.mainline)
    if plan.mainline:
        count["stake", ""] += stakes_for(sum(part.length_um for part in plan.mainline))
    count["tube cover", ""] += covers(facts)


def turns(points: tuple[Point, ...]) -> list[Point]:
    """Return the places between its ends at which a tube turns by more than can be bent by hand."""
    found, way = [], [a for a, b in pairwise(points) if math.dist(a, b) > TOLERANCE_M] + [points[-1]]
    for before, at, after in zip(way, way[1:], way[2:], strict=False):
        ahead = math.atan2(after[1] - at[1], after[0] - at[0])
        here = math.atan2(at[1] - before[1], at[0] - before[0])
        if abs(math.degrees(math.remainder(ahead - here, math.tau))) > BENT_BY_HAND_DEG + 1e-6:
            found.append(at)
    return found


def header_turns(header: Header) -> int:
    """Return the elbows of a header between its first and last take-off, its inlet left out."""
    places = turns(header.points)
    return sum(math.dist(at, header.inlet_at) > TOLERANCE_M for at in places)


def covers(facts: Facts) -> int:
    """Return the covers needed: one for each crossing of a lateral, one where other tubes cross side by side."""
    shared: list[Crossing] = []
    listed = [part.crossings for part in facts.plan.mainline] + [header.crossings for header in facts.plan.headers]
    for crossings in listed:
        for item in crossings:
            if not any(item.path == one.path and math.dist(item.at, one.at) <= SIDE_BY_SIDE_M for one in shared):
                shared.append(item)
    stretches = (stretch for lateral in facts.plan.laterals for stretch in lateral.stretches)
    return len(shared) + sum(sum(crossings_of(facts, stretch.points).values()) for stretch in stretches)


def fitting_quantities(facts: Facts) -> Verdicts:
    """The list holds as many fittings of every kind as the drawing needs."""
    needed = +fittings(facts)
    listed: Counter[tuple[str, str]] = Counter()
    for line in facts.plan.bill:
        if line.item in _KINDS:
            listed[line.item, "" if line.fits in facts.tubes else line.fits] += line.quantity
    for kind, name in sorted({*needed, *+listed}):
        message = f"{listed[kind, name]} are listed, the drawing needs {needed[kind, name]}"
        yield judged(f"{kind} for {name or 'blank tube'}", listed[kind, name] == needed[kind, name], message)


def fitting_prices(facts: Facts) -> Verdicts:
    """Fittings cost what the scenario says, or the generic price where it says nothing."""
    for line in facts.plan.bill:
        if line.item in _KINDS:
            price, _ = fitting_price(facts.scenario, _KINDS[line.item], line.fits)
            message = f"the price is {line.unit_price_ct} ct, the scenario's is {price} ct"
            yield judged(f"{line.item} for {line.fits}", line.unit_price_ct == price, message)


def line_costs(facts: Facts) -> Verdicts:
    """Every line costs its price times what is not owned, and is a thing this plan uses."""
    known = {*_KINDS, *facts.products, *(unit.name for unit in facts.plan.head_units)}
    for line in facts.plan.bill:
        path = f"{line.item} {line.fits}"
        cost = (line.quantity - line.owned) * line.unit_price_ct
        yield judged(path, line.cost_ct == cost, f"it costs {cost} ct, the list says {line.cost_ct} ct")
        sane = line.quantity >= line.owned >= 0 and line.spare >= 0
        yield judged(path, sane, f"{line.quantity} with {line.owned} owned and {line.spare} spare cannot be")
        yield judged(path, line.item in known, "nothing in the plan calls for it")


def tube_quantities(facts: Facts) -> Verdicts:
    """The list holds the rolls and owned pieces that are cut, at their prices."""
    used = Counter((roll.product, roll.owned, roll.price_ct) for roll in facts.plan.rolls)
    listed: Counter[tuple[str, bool, int]] = Counter()
    for line in facts.plan.bill:
        if line.item in facts.products:
            listed[line.item, True, line.unit_price_ct] += line.owned
            listed[line.item, False, line.unit_price_ct] += line.quantity - line.owned
    for key in sorted({*+used, *+listed}):
        name, owned, price = key
        message = f"{listed[key]} are listed, {used[key]} are cut"
        yield judged(
            f"{'owned pieces' if owned else 'rolls'} of {name} at {price} ct", listed[key] == used[key], message
        )


def head_parts(facts: Facts) -> Verdicts:
    """Head parts are those of the scenario in order with one regulator behind, each listed once at its price."""
    supply = facts.scenario.supply
    wanted = [part.name for part in supply.head_parts]
    fitted = [unit.name for unit in facts.plan.head_units if unit.name in wanted]
    yield judged("head units", fitted == wanted, f"the plan fits {fitted}, the scenario says {wanted}")
    regulators = [unit.name for unit in facts.plan.head_units if unit.kind == "regulator"]
    known = all(name in [item.name for item in supply.regulators] for name in regulators)
    right = known and len(regulators) == min(1, len(supply.regulators))
    yield judged("head units", right, f"the plan fits the regulators {regulators}")
    prices = {part.name: (part.price, False) for part in supply.head_parts}
    prices |= {item.name: (item.price, item.owned) for item in supply.regulators if item.name in regulators}
    for name, (price, owned) in sorted(prices.items()):
        mine = [line for line in facts.plan.bill if line.item == name]
        yield _head_line(name, mine, price, owned)


def _head_line(name: str, mine: list[BillLine], price_ct: int, owned: bool) -> Verdict:
    cost = 0 if owned else price_ct
    right = sum(line.quantity for line in mine) == 1 and sum(line.cost_ct for line in mine) == cost
    return judged(name, right, f"it is to be listed once for {cost} ct")


# ---------------------------------------------------------------- goals


def _goal(facts: Facts, name: str, mine: int, slack: int = 0) -> Verdict:
    values = {goal.name: goal.value for goal in facts.plan.certificate.goals}
    if name not in values:
        return Verdict(name, "the certificate has no such goal")
    message = f"the certificate says {values[name]}, found {mine}"
    return judged(name, abs(values[name] - mine) <= slack, message)


def requests_goal(facts: Facts) -> Verdicts:
    """What is missing of the crops' requests is what the certificate says, in millionths of each request."""
    missing = 0.0
    for bed in facts.scenario.beds:
        for crop in bed.crops:
            short, wanted = shortfall(facts, bed.name, crop)
            missing += 1e6 * short / wanted if wanted else 0.0
    yield _goal(facts, "requests missing", round(missing), 2 * sum(len(bed.crops) for bed in facts.scenario.beds))


def money_goal(facts: Facts) -> Verdicts:
    """The money of the certificate is the sum of the list."""
    yield _goal(facts, "money", sum(line.cost_ct for line in facts.plan.bill))


def waste_goal(facts: Facts) -> Verdicts:
    """Waste is the blank tube laid and the leftovers too short to keep."""
    blank = sum(piece.length_um for piece in facts.plan.pieces if piece.product in facts.tubes)
    short = sum(roll.leftover_um for roll in facts.plan.rolls if not roll.leftover_usable)
    yield _goal(facts, "waste", blank + short)


def fittings_goal(facts: Facts) -> Verdicts:
    """The number of fittings to push on is that of the drawing."""
    needed = fittings(facts)
    yield _goal(facts, "fittings", sum(count for (kind, _), count in needed.items() if kind in _PUSHED_ON))


def variation_goal(facts: Facts, worst: float) -> Verdict:
    """The flow variation of the certificate is that of the worst zone, in hundredths of a per cent."""
    return _goal(facts, "flow variation", round(worst * 1e4), 2)


def proofs(facts: Facts) -> Verdicts:
    """No goal beats its bound, what is called proven has reached it, and the status claims no more."""
    for goal in facts.plan.certificate.goals:
        holds = goal.value == goal.bound if goal.proven else goal.value >= goal.bound
        yield judged(goal.name, holds, f"value {goal.value}, bound {goal.bound}, proven: {goal.proven}")
        unit = GOAL_UNITS.get(goal.name, goal.unit)
        yield judged(goal.name, goal.unit == unit, f"it is counted in {goal.unit}, not {unit}")
    status = facts.plan.certificate.status
    best = status is not Status.PROVEN_BEST or all(goal.proven for goal in facts.plan.certificate.goals)
    found = status in (Status.PROVEN_BEST, Status.BEST_FOUND)
    yield judged("status", best and found, f"'{status}' is more than was proven")

"""Zones of several beds judged by the exact network against every limit of the scenario, and sizes of the mainline.

Taken over from the product: the network of a zone as it is laid, its solution, and the law of the head parts.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import product

import numpy as np
from plot_bill import Laid, Part, Stretch, stock_of
from plot_cuts import least_price

from optimizer.errors import HydraulicError
from optimizer.hydraulics import solve_network
from optimizer.hydraulics.friction import head_loss_and_slope
from optimizer.problem.case import Case
from optimizer.problem.laying import LaidHeader, Laying, MainPart, ZoneRows
from optimizer.problem.networks import laid_network
from optimizer.scenario.schema import BlankTube, Tubing

SHARE = 1e-6
HEAD_M = 1e-5


@dataclass(frozen=True)
class Judged:
    """What a zone does: the limits it breaks, its flow [m3/s] and its flow variation in hundredths of a per cent."""

    breaks: frozenset[str]
    flow: float
    unevenness: float

    @property
    def holds(self) -> bool:
        """Whether it breaks none."""
        return not self.breaks


def as_laying(laid: Laid) -> Laying:
    """Return a garden in the form from which networks are built."""
    headers = tuple(LaidHeader(each.block, each.run, each.part, each.fed) for each in laid.stretches)
    parts = tuple(MainPart(part.points, part.length_um, part.above, part.tube, part.rise_um) for part in laid.parts)
    zones = tuple(
        tuple(
            ZoneRows(member, tuple(range(headers[member].run.first, headers[member].run.last + 1)))
            for member in members
        )
        for members in laid.zones
    )
    return Laying(laid.cases, headers, parts, zones)


def judge(laid: Laid, zone: int) -> Judged:
    """Judge one zone."""
    case = laid.cases[laid.stretches[laid.zones[zone][0]].block]
    placed = laid_network(as_laying(laid), zone)
    try:
        solution = solve_network(placed.network, case.assembly, case.fluid)
    except HydraulicError:
        return Judged(frozenset({"no solution"}), 0.0, 10_000.0)
    q, h = solution.emitter_flow_m3_s, solution.emitter_head_m
    if q.min() <= 0:
        return Judged(frozenset({"a dry emitter"}), 0.0, 10_000.0)
    flow = float(solution.inlet_flow_m3_s)
    blank = np.flatnonzero(placed.blank)
    areas = math.pi * placed.network.tube_bore_m[blank] ** 2 / 4
    fastest = float((np.abs(solution.tube_flow_m3_s[blank]) / areas).max())
    total = solution.head_m + placed.network.z_m
    lost = float(total[placed.network.inlet_node] - total[list(placed.inlets)].min())
    at_take_offs = float(solution.head_m[list(placed.take_offs)].max())
    slacks = {
        **_flow_slacks(laid, zone, case, flow),
        **_head_slacks(case, float(h.min()), float(h.max()), at_take_offs),
        **_even_slacks(case, q),
        "too fast": case.scenario.limits.velocity * (1 + SHARE) - fastest,
        "lost on the way": case.scenario.limits.mainline_loss * float(solution.inlet_head_m) + HEAD_M - lost,
        "bursts": _burst_slack(laid, zone) + HEAD_M,
    }
    breaks = frozenset(name for name, slack in slacks.items() if slack < 0)
    return Judged(breaks, flow, 1e4 * float(1 - q.min() / q.max()))


def stretch_flows(laid: Laid, zone: int) -> dict[int, float]:
    """Return what each stretch of header of a zone takes while it runs [m3/s]."""
    case = laid.cases[laid.stretches[laid.zones[zone][0]].block]
    placed = laid_network(as_laying(laid), zone)
    flows = solve_network(placed.network, case.assembly, case.fluid).emitter_flow_m3_s
    first = [0]
    for each in laid.cases:
        first.append(first[-1] + len(each.feed.laterals))
    found = dict.fromkeys(laid.zones[zone], 0.0)
    for number, flow in zip(placed.emitter_lateral, flows, strict=True):
        block = max(k for k in range(len(laid.cases)) if first[k] <= number)
        lateral = laid.cases[block].feed.laterals[number - first[block]]
        (member,) = (m for m in found if _holds(laid.stretches[m], block, lateral))
        found[member] += float(flow)
    return found


def _holds(stretch: Stretch, block: int, lateral) -> bool:
    here = (stretch.block, stretch.run.header) == (block, lateral.header)
    return here and stretch.run.first <= lateral.row <= stretch.run.last


def _flow_slacks(laid: Laid, zone: int, case: Case, flow: float) -> dict[str, float]:
    least = [part.least_flow_m3_s for part in case.assembly.parts]
    least += [case.scenario.supply.least_flow] if case.scenario.supply.kind == "pump" else []
    widest = max(
        part.tube.bore for number, part in enumerate(laid.parts) if part.above < 0 and _serves(laid, number, zone)
    )
    through = case.scenario.limits.velocity * math.pi * widest**2 / 4
    return {
        "too much flow": usable_flow(case) * (1 + SHARE) - flow,
        "too little flow": flow - max(least, default=0.0) * (1 - SHARE),
        "too fast at the supply": through * (1 + SHARE) - flow,
    }


def _serves(laid: Laid, part: int, zone: int) -> bool:
    return any(part in laid.way_to(laid.stretches[member].part) for member in laid.zones[zone])


def _head_slacks(case: Case, least: float, greatest: float, at_take_offs: float) -> dict[str, float]:
    line = case.line
    low, high = line.least_pressure, line.greatest_pressure
    if line.compensating:
        low, high = max(low, line.compensating.opens), min(high, line.compensating.up_to)
    return {
        "low pressure": least - low + HEAD_M,
        "high pressure": high + HEAD_M - greatest,
        "rating of the line": line.greatest_pressure + HEAD_M - at_take_offs,
    }


def _even_slacks(case: Case, q: np.ndarray) -> dict[str, float]:
    limits, found = case.scenario.limits, {}
    wanted = limits.flow_variation
    if wanted is None and limits.emission_uniformity is None:
        wanted = 0.10
    if wanted is not None:
        found["uneven"] = wanted + SHARE - float(1 - q.min() / q.max())
    if limits.emission_uniformity is not None:
        found["not uniform"] = (
            (1 - 1.27 * case.line.cv) * float(q.min() / q.mean()) + SHARE - limits.emission_uniformity
        )
    return found


def usable_flow(case: Case) -> float:
    """Return the flow zones may use, by halving on the supply's own curve [m3/s]."""
    supply, head = case.scenario.supply, case.assembly
    wanted = case.regulator.holds if case.regulator else case.line.at_pressure
    bands = [part.greatest_flow_m3_s for part in head.parts]
    agreed = supply.greatest_flow or math.inf
    if head.outlet_head(0.0) < wanted:
        return 0.0
    low, high = 0.0, min([1.0, *bands])
    if head.outlet_head(high) >= wanted - 1e-9:
        low = high
    for _ in range(80):
        middle = (low + high) / 2
        low, high = (middle, high) if head.outlet_head(middle) >= wanted - 1e-9 * max(1.0, wanted) else (low, middle)
    return min(agreed, supply.margin * low)


def _burst_slack(laid: Laid, zone: int) -> float:
    """Return by how much the weakest tubing of a zone is rated above the pressure with all valves shut [m]."""
    members = [laid.stretches[member] for member in laid.zones[zone]]
    lowest: list[float] = []
    tubing: list[Tubing] = []
    for number in {part for stretch in members for part in laid.way_to(stretch.part)}:
        ground = laid.cases[0].shapes.ground
        lowest.append(min(ground.height(point) for point in laid.parts[number].points))
        tubing.append(laid.parts[number].tube)
    for stretch in members:
        case = laid.cases[stretch.block]
        tubing += [case.line, case.tube]
        lowest.append(min(case.shapes.ground.height(at) for at in _on_bed(laid, stretch)) + case.layout.raised)
    shapes = laid.cases[0].shapes
    standing = float(laid.cases[members[0].block].assembly.shut_heads()[-1]) + shapes.source_z_m - min(lowest)
    return min(each.greatest_pressure for each in tubing) - standing


def _on_bed(laid: Laid, stretch) -> list[tuple[float, float]]:
    case = laid.cases[stretch.block]
    found = list(laid.with_tails(stretch))
    for lateral in case.feed.laterals:
        if lateral.header == stretch.run.header and stretch.run.first <= lateral.row <= stretch.run.last:
            v = case.layout.plan.rows[lateral.row].lines[lateral.line].v
            for part in lateral.parts:
                end = part.u + lateral.side * part.spacings * case.line.spacing
                found += [case.layout.frame.to_plan((u, v)) for u in (part.u, end)]
    return found


# -------------------------------------------------------------------- sizes of the mainline


def per_mm(tube: BlankTube) -> int:
    """Return the price of a tube by the metre of its best roll [mct/mm]."""
    return max(min((round(roll.price / roll.length) for roll in tube.rolls), default=1), 1)


Price = tuple[int, int]
"""price of rolls that are long enough together [ct], price by the metre [mct]"""


def choose_by_hand(
    laid: Laid, flows: Sequence[float], tubes: Sequence[BlankTube]
) -> tuple[Price | None, set[tuple[str, ...]]]:
    """Return the least price of tubes for all parts, and every choice that has it; no choices if none keeps the limits.

    Every tube for every part; none wider than the part that feeds it. Zones run one at a time; the flow of a zone parts
    over its headers by their emitters. Rolls go first, headers and bypasses cut from them as well, then the metre.
    """
    through = _flows_by_part(laid, flows)
    case = laid.cases[0]
    budget = case.scenario.limits.mainline_loss * (case.regulator.holds if case.regulator else case.line.at_pressure)
    able = [
        [tube for tube in tubes if max(row[number] for row in through) <= _carries(case, tube) * (1 + 1e-12)]
        for number in range(len(laid.parts))
    ]
    best: Price | None = None
    chosen = set[tuple[str, ...]]()
    for choice in product(*able):
        if _narrows(laid, choice) and _within(laid, choice, through, budget):
            cost = _price(laid, choice, tubes)
            if cost is not None and (best is None or cost <= best):
                chosen = (chosen if cost == best else set()) | {tuple(tube.name for tube in choice)}
                best = cost
    return best, chosen


def _price(laid: Laid, choice: Sequence[BlankTube], tubes: Sequence[BlankTube]) -> Price | None:
    """Return what a choice of tubes costs; None if there is not enough of one."""
    length = Counter({name: sum(pieces) for name, pieces in laid.tube_pieces().items()})
    for part, tube in zip(laid.parts, choice, strict=True):
        length[part.tube.name] -= laid.units(part.length_um)
        length[tube.name] += laid.units(part.length_um)
    rolls = [least_price(stock_of(laid.scenario, tube.name, laid.step_um), length[tube.name]) for tube in tubes]
    by_metre = sum(
        math.ceil(part.length_um / 1000) * per_mm(tube) for part, tube in zip(laid.parts, choice, strict=True)
    )
    known = [price for price in rolls if price is not None]
    return (sum(known), by_metre) if len(known) == len(rolls) else None


def _carries(case: Case, tube: BlankTube) -> float:
    return case.scenario.limits.velocity * math.pi * tube.bore**2 / 4


def _flows_by_part(laid: Laid, flows: Sequence[float]) -> list[list[float]]:
    """Return the flow through every part while each zone runs [m3/s]."""
    found = []
    for flow, members in zip(flows, laid.zones, strict=True):
        counts = [_emitters(laid, member) for member in members]
        row = [0.0] * len(laid.parts)
        for member, count in zip(members, counts, strict=True):
            for part in laid.way_to(laid.stretches[member].part):
                row[part] += flow * count / sum(counts)
        found.append(row)
    return found


def _emitters(laid: Laid, member: int) -> int:
    stretch = laid.stretches[member]
    laterals = laid.cases[stretch.block].feed.laterals
    mine = [each for each in laterals if each.header == stretch.run.header]
    return sum(each.spacings for each in mine if stretch.run.first <= each.row <= stretch.run.last)


def _narrows(laid: Laid, choice: Sequence[BlankTube]) -> bool:
    return all(
        part.above < 0 or choice[part.above].bore >= tube.bore for part, tube in zip(laid.parts, choice, strict=True)
    )


def _within(laid: Laid, choice: Sequence[BlankTube], through: Sequence[Sequence[float]], budget_m: float) -> bool:
    fluid = laid.cases[0].fluid
    for row, members in zip(through, laid.zones, strict=True):
        lost = [_lost(part, tube, flow, fluid) for part, tube, flow in zip(laid.parts, choice, row, strict=True)]
        for member in members:
            if sum(lost[part] for part in laid.way_to(laid.stretches[member].part)) > math.floor(budget_m * 1e6) / 1e6:
                return False
    return True


def _lost(part: Part, tube: BlankTube, flow: float, fluid) -> float:
    """Return the head lost in a part, rounded up to a micrometre [m]."""
    if flow <= 0:
        return 0.0
    slope, _ = head_loss_and_slope(
        np.array([flow]), np.array([1.0]), np.array([tube.bore]), np.array([tube.roughness]), fluid
    )
    return math.ceil(float(slope[0]) * math.ceil(part.length_um / 1000) * 1000) / 1e6


def with_tubes(laid: Laid, names: Sequence[str]) -> Laid:
    """Return a garden with a tube for each part."""
    by_name = {tube.name: tube for tube in laid.scenario.blank_tubes}
    parts = tuple(replace(part, tube=by_name[name]) for part, name in zip(laid.parts, names, strict=True))
    return replace(laid, parts=parts)

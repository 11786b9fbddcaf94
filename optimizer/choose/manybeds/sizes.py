"""Tubes of the mainline, part by part: wide enough, never widening downstream, cheapest by rolls, then by the metre."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from optimizer.hydraulics.fluid import Fluid
from optimizer.hydraulics.friction import head_loss_and_slope
from optimizer.problem.bill import tube_pieces
from optimizer.problem.case import Case
from optimizer.problem.laying import SUPPLY, Laying
from optimizer.problem.tubing import blank_tube_task
from optimizer.routes.ground import NoRouteError
from optimizer.routes.result import RouteTree, Status, TreeEdge
from optimizer.routes.sizes import Inlet, LossPerMetre, Roll, TubeSize, TubeStock, choose_sizes
from optimizer.scenario.schema import BlankTube, Tubing


def metre_price_mct(tube: Tubing) -> int:
    """Return the price of a tube by the metre of its best roll, at least 1; 1 if it is only owned [mct/mm]."""
    prices = [round(roll.price / roll.length) for roll in tube.rolls]
    return max(min(prices, default=1), 1)


@dataclass(frozen=True, eq=False)
class Sized:
    """A garden with a tube chosen for each part of its mainline, and whether no choice is cheaper."""

    laying: Laying
    proven: bool


def sized(laying: Laying, flows_m3_s: Sequence[float], tubes: Sequence[BlankTube]) -> Sized | None:
    """Return a garden with a tube chosen for each part of its mainline; None if no choice keeps velocity and loss.

    Args:
        laying: the garden; a zone's flow parts over its headers by their emitters.
        flows_m3_s: flow of each zone [m3/s].
        tubes: tubes to choose from.
    """
    case = laying.cases[0]
    limits = laying.scenario.limits
    wanted = case.regulator.holds if case.regulator else case.line.at_pressure
    inlets, ends = [], []
    for zone, members in enumerate(laying.zones):
        emitters = [_emitters(laying, member.header) for member in members]
        for member, count in zip(members, emitters, strict=True):
            flow = flows_m3_s[zone] * count / sum(emitters)
            inlets.append(Inlet(str(zone), flow, limits.mainline_loss * wanted))
            ends.append(laying.headers[member.header].part)
    sizes = [TubeSize(tube.name, tube.bore, metre_price_mct(tube)) for tube in tubes]
    try:
        found = choose_sizes(
            _tree(laying, ends), inlets, sizes, _loss(tubes, case.fluid), limits.velocity, stock=_stock(laying, tubes)
        )
    except NoRouteError:
        return None
    by_name = {tube.name: tube for tube in tubes}
    parts = [replace(part, tube=by_name[name]) for part, name in zip(laying.mainline, found.tubes, strict=True)]
    return Sized(replace(laying, mainline=tuple(parts)), found.proven)


def _emitters(laying: Laying, header: int) -> int:
    laid = laying.headers[header]
    case: Case = laying.cases[laid.block]
    return sum(case.feed.laterals[index].spacings for index in case.run_laterals(laid.run))


def _stock(laying: Laying, tubes: Sequence[BlankTube]) -> TubeStock:
    """Return what the tubes are cut from, and what else is: headers and bypasses."""
    case, rolls = laying.cases[0], dict[str, tuple[Roll, ...]]()
    for tube in tubes:
        task = blank_tube_task(laying.scenario, tube, case.tube_step_um, ())
        rolls[tube.name] = tuple(
            Roll(stock.length_um // case.tube_step_um, stock.price_ct, stock.available) for stock in task.stocks
        )
    others = Counter[str]()
    for piece in tube_pieces(laying):
        others[piece.tube.name] += piece.units if piece.purpose != "mainline" else 0
    return TubeStock(rolls, others, tuple(case.tube_units(part.length_um) for part in laying.mainline))


def _tree(laying: Laying, ends: Sequence[int]) -> RouteTree:
    """Return the mainline as a tree of edges: part k leads to point k + 1, point 0 is the supply."""
    edges = tuple(
        TreeEdge(0 if part.above == SUPPLY else part.above + 1, number + 1, -(-part.length_um // 1000))
        for number, part in enumerate(laying.mainline)
    )
    points = (laying.shapes.source_at, *(part.points[-1] for part in laying.mainline))
    return RouteTree(points, edges, 0, tuple(end + 1 for end in ends), (), 0, 0, Status.BEST_FOUND, "")


def _loss(tubes: Sequence[BlankTube], fluid: Fluid) -> LossPerMetre:
    by_name = {tube.name: tube for tube in tubes}

    def per_metre(name: str, flow_m3_s: float) -> float:
        tube = by_name[name]
        loss, _ = head_loss_and_slope(
            np.array([flow_m3_s]), np.array([1.0]), np.array([tube.bore]), np.array([tube.roughness]), fluid
        )
        return float(loss[0])

    return per_metre

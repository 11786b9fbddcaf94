"""Pieces a design needs and the cutting tasks that follow from them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from optimizer.cutting import CuttingTask, Demand, Stock
from optimizer.problem.case import Case, Run
from optimizer.scenario.defaults import fitting_price
from optimizer.scenario.schema import BlankTube, EmitterLine, Scenario, Tubing
from optimizer.units import micrometres

JOINTS_IN_TUBE = 20
"""blank tube may be joined as often as needed; more than this in one piece is no tube any more"""


@dataclass(frozen=True)
class TubePiece:
    """A piece of blank tube, whole cutting units long, and what it is for."""

    units: int
    purpose: str
    """header, mainline, bypass"""
    span: tuple[int, int]
    """header: first and last vertex; mainline: from and to vertex of the header, -1 for the source;
    bypass: lateral and part"""
    header: int = 0


def header_pieces(case: Case, run: Run, inlet: int) -> tuple[TubePiece, ...]:
    """Return the pieces of a stretch of header fed at a vertex: one, or two if that lies between its ends."""
    line = case.layout.headers[run.header]
    first, last = line.vertices(run)
    tail = micrometres(case.scenario.limits.header_tail)
    if first < inlet < last:
        halves = ((first, inlet), (inlet, last))
        return tuple(
            TubePiece(case.tube_units(line.span_um(a, b) + tail), "header", (a, b), run.header) for a, b in halves
        )
    return (TubePiece(case.tube_units(line.span_um(first, last) + 2 * tail), "header", (first, last), run.header),)


def mainline_spans(case: Case, runs: Sequence[Run]) -> tuple[tuple[int, int], ...]:
    """Return from where to where mainline leads that feeds the zones of one header: to it, then from inlet to inlet.

    Args:
        case: the design.
        runs: runs of one header.

    Returns:
        (start, end) vertices of the header; the start of the first is -1, the supply.
    """
    line = case.layout.headers[runs[0].header]
    start = line.approach.vertex
    inlets = sorted(line.inlet(run) for run in runs)
    spans = [(-1, start)]
    for arm in ([inlet for inlet in inlets if inlet > start], [inlet for inlet in inlets[::-1] if inlet < start]):
        spans += zip([start, *arm], arm, strict=False)
    return tuple(spans)


def mainline_pieces(case: Case, runs: Sequence[Run]) -> tuple[TubePiece, ...]:
    """Return the pieces of mainline that feed the zones of one header."""
    header = runs[0].header
    line = case.layout.headers[header]
    lengths = (
        (span, line.approach.length_um if span[0] < 0 else line.span_um(*span)) for span in mainline_spans(case, runs)
    )
    return tuple(TubePiece(case.tube_units(length), "mainline", span, header) for span, length in lengths)


def bypass_pieces(case: Case) -> tuple[TubePiece, ...]:
    """Return the pieces of blank tube within laterals."""
    return tuple(
        TubePiece(case.tube_units(micrometres(part.bypass.length_m)), "bypass", (index, number))
        for index, lateral in enumerate(case.feed.laterals)
        for number, part in enumerate(lateral.parts)
        if part.bypass is not None
    )


def _stocks(tubing: Tubing) -> tuple[Stock, ...]:
    rolls = [
        Stock(f"roll {index + 1}", micrometres(roll.length), roll.price, roll.available)
        for index, roll in enumerate(tubing.rolls)
    ]
    owned = [
        Stock(f"owned {index + 1}", micrometres(length), 0, 1, owned=True) for index, length in enumerate(tubing.owned)
    ]
    return tuple([*rolls, *owned])


def _demands(units: Iterable[int]) -> tuple[Demand, ...]:
    return tuple(Demand(f"{length}", length, count) for length, count in sorted(Counter(units).items(), reverse=True))


def line_task(case: Case) -> CuttingTask:
    """Return the cutting task of the emitter line of a design: unit one emitter spacing."""
    units = [part.spacings for lateral in case.feed.laterals for part in lateral.parts]
    return emitter_line_task(case.scenario, case.line, units)


def emitter_line_task(scenario: Scenario, line: EmitterLine, units: Iterable[int]) -> CuttingTask:
    """Return the cutting task of an emitter line for pieces of the given lengths in emitter spacings."""
    limits, spacing_um = scenario.limits, micrometres(line.spacing)
    return CuttingTask(
        unit_um=spacing_um,
        stocks=_stocks(line),
        demands=_demands(units),
        usable_um=micrometres(limits.usable_offcut),
        coupler_ct=fitting_price(scenario, "line coupler", line.name)[0],
        joints_per_piece=limits.joints_per_lateral,
        least_part_units=max(-(-micrometres(limits.shortest_joined_part) // spacing_um), 1),
    )


def tube_task(case: Case, units: Iterable[int]) -> CuttingTask:
    """Return the cutting task of the blank tube of a design for pieces of the given lengths in whole cutting units."""
    return blank_tube_task(case.scenario, case.tube, case.tube_step_um, units)


def blank_tube_task(scenario: Scenario, tube: BlankTube, unit_um: int, units: Iterable[int]) -> CuttingTask:
    """Return the cutting task of a blank tube for pieces of the given lengths in whole cutting units [um]."""
    limits = scenario.limits
    return CuttingTask(
        unit_um=unit_um,
        stocks=_stocks(tube),
        demands=_demands(units),
        usable_um=micrometres(limits.usable_offcut),
        coupler_ct=fitting_price(scenario, "tube coupler", tube.name)[0],
        joints_per_piece=JOINTS_IN_TUBE,
        least_part_units=max(-(-micrometres(limits.shortest_joined_part) // unit_um), 1),
    )


def pooled_tubes(scenario: Scenario, tubes: Sequence[BlankTube], unit_um: int) -> CuttingTask:
    """Return the stocks of several blank tubes as one task without pieces, as if one tube could stand in for another.

    What a length of tube costs at least whatever its product follows from it.
    """
    tasks = [blank_tube_task(scenario, tube, unit_um, ()) for tube in tubes]
    stocks = tuple(
        replace(stock, id=f"{tube.name}, {stock.id}")
        for tube, task in zip(tubes, tasks, strict=True)
        for stock in task.stocks
    )
    return replace(tasks[0], stocks=stocks)

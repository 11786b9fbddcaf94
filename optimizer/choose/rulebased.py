"""The layout a careful person finds with paper and pencil: the yardstick for what searching saves.

Rows run along the bed's longest side and the header stands at the row ends nearer the tap; only if no product holds
the limits there, at the other row ends, then in the middle, then with the next row direction. The first listed
product that works is laid, with the regulator set nearest to the product's own pressure and the smallest tube that
needs no more zones than the largest. Zones take rows in order from the tap for as long as the limits hold. Pieces are
cut in the order of the rows, each from the first roll that still holds it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from optimizer.choose.designs import ChoiceSet, Design
from optimizer.choose.evaluate import Evaluated, Evaluator, RuledOutError, fixed_price
from optimizer.choose.firstfit import first_fit
from optimizer.choose.goals import Goals
from optimizer.choose.runs import RunTable, Split, run_table
from optimizer.choose.splits import SplitGoals, Splits
from optimizer.choose.waterlimits import water_limits
from optimizer.cutting import CuttingOutcome, CuttingStatus, CuttingTask, Limits
from optimizer.feeds import HeaderPlace
from optimizer.feeds.places import reach
from optimizer.geometry import longest_side_angle
from optimizer.problem.case import Case, Run
from optimizer.problem.counts import lateral_fittings
from optimizer.problem.split import split_laying
from optimizer.problem.tubing import line_task, tube_task
from optimizer.rows import RowPlan
from optimizer.scenario.outlines import corners

NO_ZONES = "no zones in the order of the rows hold the limits"
NOT_CUT = "the pieces cannot be cut in the order of the rows"

NO_BOUND = Goals(0, 0, 0, 0, 0)

_Key = tuple[int, int, tuple[HeaderPlace, ...], int, int, int]


@dataclass(frozen=True)
class _Zoned:
    """A design with its zones filled in order."""

    design: Design
    case: Case
    table: RunTable
    split: Split


def rule_based(choices: ChoiceSet, evaluator: Evaluator, line: int | None = None) -> Evaluated:
    """Return the layout found by rule of thumb, valued by the same goals as the search values designs.

    Args:
        choices: what may be chosen.
        evaluator: values designs; its tables are shared with the search.
        line: index of the only emitter line to try, None for all in the order they are listed [-].

    Raises:
        RuledOutError: the rules find no layout; the reason of the first thing tried.
    """
    numbers = {_key(design): design for design in choices.designs() if not design.shut_offs}
    if not numbers:
        raise RuledOutError("no header may be split into zones")
    lines = choices.lines if line is None else (line,)
    why = ""
    for direction, places in _layouts(choices):
        for index in lines:
            for regulator in _regulators(choices, index):
                try:
                    return _with_tube(choices, evaluator, numbers, (direction, 0, places, index, 0, regulator))
                except RuledOutError as error:
                    why = why or str(error)
    raise RuledOutError(why or "there is no place for a row")


def _key(design: Design) -> _Key:
    return design.direction, design.row_plan, design.places, design.line, design.tube, design.regulator


# ------------------------------------------------------------ what is tried, in order


def _layouts(choices: ChoiceSet) -> Iterator[tuple[int, tuple[HeaderPlace, ...]]]:
    """Yield row directions and header places in the order a person tries them."""
    along = longest_side_angle(corners(choices.beds[0]))

    def turn(index: int) -> float:
        """Angle to the longest side, to a microradian [rad]."""
        apart = abs(choices.directions[index].angle - along) % math.pi
        return round(min(apart, math.pi - apart), 6)

    for index in sorted(range(len(choices.directions)), key=lambda index: (turn(index), index)):
        direction = choices.directions[index]
        if not direction.plans or not direction.plans[0].rows:
            continue
        tap = direction.frame.to_frame(choices.shapes.source_at)[0]
        yield from ((index, places) for places in _header_places(choices, direction.plans[0], tap))


def _header_places(choices: ChoiceSet, plan: RowPlan, tap_u: float) -> list[tuple[HeaderPlace, ...]]:
    """Return the row ends nearer the tap, the other row ends and the place nearest the middle."""
    low, high = reach(plan)
    middle = (low + high) / 2.0
    ends = [(HeaderPlace(-math.inf),), (HeaderPlace(math.inf),)]
    between = [places for places in choices.places(plan) if len(places) == 1 and math.isfinite(places[0].u)]
    nearest = sorted(between, key=lambda places: (abs(places[0].u - middle), places[0].u))[:1]
    return [*(ends if tap_u <= middle else ends[::-1]), *nearest]


def _regulators(choices: ChoiceSet, line: int) -> list[int]:
    """Return regulators, the one set nearest to the pressure on the product's label first."""
    wanted = choices.scenario.emitter_lines[line].at_pressure
    set_to = [regulator.holds if regulator is not None else wanted for regulator in choices.regulators]
    return sorted(range(len(set_to)), key=lambda index: (round(abs(set_to[index] - wanted), 3), index))


def _with_tube(choices: ChoiceSet, evaluator: Evaluator, numbers: dict[_Key, Design], key: _Key) -> Evaluated:
    """Return the layout with the smallest tube that needs no more zones than any other."""
    direction, plan, places, line, _, regulator = key
    tubes = choices.scenario.blank_tubes
    found: list[_Zoned] = []
    why = ""
    for tube in sorted(range(len(tubes)), key=lambda index: (tubes[index].bore, index)):
        try:
            found.append(_zoned(evaluator, numbers[direction, plan, places, line, tube, regulator]))
        except RuledOutError as error:
            why = why or str(error)
    if not found:
        raise RuledOutError(why)
    return _valued(evaluator, min(found, key=lambda item: len(item.split)))


# ------------------------------------------------------------ zones


def _zoned(evaluator: Evaluator, design: Design) -> _Zoned:
    case = evaluator.worked_out(design)
    table = run_table(case, water_limits(case), evaluator.judge)
    most = case.scenario.most_zones
    for split in _in_order(table, case.row_count):
        if (most is None or len(split) <= most) and bool(table.figures(0, split).feasible.all()):
            return _Zoned(design, case, table, split)
    raise RuledOutError(table.why or NO_ZONES)


def _in_order(table: RunTable, rows: int) -> Iterator[Split]:
    """Yield zones filled to the limit in row order, then the same number of zones or more of equal size."""
    last = table.last[0]
    if any(reach < first for first, reach in enumerate(last)):
        return
    filled = _filled(last, rows)
    yield filled
    for zones in range(len(filled), rows + 1):
        starts = [rows * zone // zones for zone in range(zones + 1)]
        runs = tuple(Run(0, first, end - 1) for first, end in pairwise(starts))
        if all(run.last <= last[run.first] for run in runs):
            yield runs


def _filled(last: Sequence[int], rows: int) -> Split:
    runs, first = [], 0
    while first < rows:
        runs.append(Run(0, first, last[first]))
        first = last[first] + 1
    return tuple(runs)


# ------------------------------------------------------------ cuts and value


def _cut(task: CuttingTask, order: Sequence[int]) -> CuttingOutcome:
    plan = first_fit(task, order)
    if plan is None:
        raise RuledOutError(NOT_CUT)
    method = "first fit in the order of the rows"
    # Nothing costs less than nothing: no bound is worked out here.
    return CuttingOutcome(CuttingStatus.BEST_FOUND, plan, 0, None, None, method, Limits(work=0.0), 0, True)


def _valued(evaluator: Evaluator, item: _Zoned) -> Evaluated:
    case, split = item.case, item.split
    line = _cut(line_task(case), [part.spacings for lateral in case.feed.laterals for part in lateral.parts])
    splits = Splits(item.table, lambda units: _cut(tube_task(case, units), units), lambda units: None)
    pieces = splits.pieces(split)
    tube = _cut(tube_task(case, (piece.units for piece in pieces)), [piece.units for piece in pieces])
    assert line.plan is not None
    assert tube.plan is not None
    fittings, laterals = splits.fittings(split), lateral_fittings(case)
    laid_um = case.tube_step_um * sum(piece.units for piece in pieces)
    goals = SplitGoals(
        fittings.cost_ct(case.scenario) + tube.plan.money_ct,
        laid_um + tube.plan.waste_um,
        fittings.pushed + tube.plan.couplers,
    )
    uneven = item.table.unevenness(split)
    total = Goals(
        case.missing_ppm,
        laterals.cost_ct(case.scenario) + fixed_price(case) + line.plan.money_ct + goals.money_ct,
        line.plan.waste_um + goals.waste_um,
        laterals.pushed + line.plan.couplers + goals.fittings,
        uneven,
    )
    return Evaluated(item.design, case, total, NO_BOUND, split_laying(case, split), line, tube)

"""The whole choice of one bed as a single CP-SAT model, money only, to compare the search with.

One literal for each design, one for each run of rows that may be a zone of it (which runs may, is worked out before
and not timed), whole numbers for the cutting patterns of its emitter line and for the rolls of tube. It is exact for
choices with one header, no paths, no joints in laterals, and tube couplers that cost nothing and may sit anywhere: then
tube costs the cheapest rolls that hold its length.
"""

from __future__ import annotations

import math
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from ortools.sat.python import cp_model

from optimizer.choose.designs import ChoiceSet
from optimizer.choose.evaluate import Evaluator, RuledOutError, fixed_price
from optimizer.choose.runs import run_table
from optimizer.choose.waterlimits import water_limits
from optimizer.cutting import CuttingTask
from optimizer.problem.case import Case, HeaderLine, Run
from optimizer.problem.counts import STAKE_EVERY_M, lateral_fittings, run_fittings
from optimizer.problem.tubing import bypass_pieces, header_pieces, line_task, tube_task
from optimizer.scenario.defaults import fitting_price

Pattern = tuple[int, ...]


@dataclass(frozen=True)
class Column:
    """A run of rows that may be a zone: its price and the tube it needs, in cutting units."""

    run: Run
    money_ct: int
    units: int
    mainline_units: int


@dataclass(frozen=True)
class Option:
    """A design as the model sees it."""

    case: Case
    fixed_ct: int
    fixed_units: int
    approach_units: int
    columns: tuple[Column, ...]
    task: CuttingTask


@dataclass(frozen=True)
class SingleResult:
    """What the single model reached."""

    status: str
    money_ct: float
    bound_ct: float
    seconds: float
    literals: int


def _mainline_spans(line: HeaderLine, run: Run, rows: int) -> Iterator[tuple[int, int]]:
    """Yield the stretches of mainline beside the header that a run answers for.

    Zones beyond the vertex at which the mainline arrives are fed at their nearest end. So where a run ends decides
    where the next one farther out is fed, and the stretch to there depends on the nearer run alone.
    """
    start, inlet = line.approach.vertex, line.inlet(run)
    first, last = line.vertices(run)
    if last >= start and run.last + 1 < rows:
        yield inlet, last + 1
    if first <= start and run.first > 0:
        yield first - 1, inlet


def _column(case: Case, run: Run) -> Column:
    line = case.layout.headers[run.header]
    spans = _mainline_spans(line, run, case.row_count)
    return Column(
        run,
        run_fittings(case, run).cost_ct(case.scenario),
        sum(piece.units for piece in header_pieces(case, run, case.layout.headers[run.header].inlet(run))),
        sum(case.tube_units(line.span_um(a, b)) for a, b in spans),
    )


def _option(case: Case, evaluator: Evaluator) -> Option | None:
    table = run_table(case, water_limits(case), evaluator.judge)
    if table.short_may_fail:
        raise ValueError("this model takes every shorter run of a zone that works to work too")
    runs = [Run(0, first, last) for first, reach in enumerate(table.last[0]) for last in range(first, reach + 1)]
    if any(reach < first for first, reach in enumerate(table.last[0])):
        return None
    return Option(
        case,
        fixed_price(case) + lateral_fittings(case).cost_ct(case.scenario),
        sum(piece.units for piece in bypass_pieces(case)),
        case.tube_units(case.layout.headers[0].approach.length_um),
        tuple(_column(case, run) for run in runs),
        line_task(case),
    )


def options(choices: ChoiceSet) -> list[Option]:
    """Return every design that can work, with the runs that may be its zones.

    Raises:
        ValueError: the model would not be exact for these choices.
    """
    scenario = choices.scenario
    tube = scenario.blank_tubes[0].name
    free = fitting_price(scenario, "tube coupler", tube)[0] == 0 and not choices.shapes.paths
    if not free or len(scenario.blank_tubes) > 1 or scenario.limits.joints_per_lateral:
        raise ValueError("the single model wants one tube, free tube couplers, no paths and no joints in laterals")
    evaluator = Evaluator(choices)
    found = []
    for design in choices.designs():
        try:
            case, _ = evaluator.bound(design)
        except RuledOutError:
            continue
        option = _option(case, evaluator)
        found += [option] if option is not None else []
    return found


def _patterns(sizes: Sequence[int], capacity: int) -> Iterator[Pattern]:
    """Yield the ways to cut a roll from which no further piece can be cut."""
    if len(sizes) == 1:
        yield (capacity // sizes[0],)
        return
    for count in range(capacity // sizes[0] + 1):
        rest = capacity - count * sizes[0]
        # The last size fills up, so what is left is shorter than it; sizes fall, so no other fits either.
        yield from ((count, *more) for more in _patterns(sizes[1:], rest))


class SingleModel:
    """The model; built once, solved with one worker."""

    def __init__(self, found: Sequence[Option]) -> None:
        """Build it.

        Args:
            found: the designs to choose among.
        """
        self.model = cp_model.CpModel()
        self.literals = 0
        self.cost: list[cp_model.LinearExpr] = []
        self.units: list[cp_model.LinearExpr] = []
        self.mainline: list[cp_model.LinearExpr] = []
        chosen = [self._literal() for _ in found]
        self.model.add_exactly_one(chosen)
        for literal, option in zip(chosen, found, strict=True):
            self._zones(literal, option)
            self._line_cuts(literal, option)
        self._tube(found[0].case)
        self.model.minimize(cp_model.LinearExpr.sum(self.cost))

    def _literal(self) -> cp_model.IntVar:
        self.literals += 1
        return self.model.new_bool_var("")

    def _zones(self, chosen: cp_model.IntVar, option: Option) -> None:
        tee = fitting_price(option.case.scenario, "tee", option.case.tube.name)[0]
        covering: list[list[cp_model.IntVar]] = [[] for _ in range(option.case.row_count)]
        self.cost.append((option.fixed_ct - tee) * chosen)
        self.units.append((option.fixed_units + option.approach_units) * chosen)
        self.mainline.append(option.approach_units * chosen)
        for column in option.columns:
            literal = self._literal()
            for row in range(column.run.first, column.run.last + 1):
                covering[row].append(literal)
            self.cost.append((column.money_ct + tee) * literal)
            self.units.append((column.units + column.mainline_units) * literal)
            self.mainline.append(column.mainline_units * literal)
        for literals in covering:
            self.model.add_exactly_one([*literals, ~chosen])

    def _line_cuts(self, chosen: cp_model.IntVar, option: Option) -> None:
        """Every piece of the chosen design is cut from some roll."""
        task = option.task
        sizes = sorted((demand.units for demand in task.demands), reverse=True)
        count = {demand.units: demand.count for demand in task.demands}
        got: list[list[cp_model.LinearExpr]] = [[] for _ in sizes]
        for stock in task.stocks:
            used = []
            for pattern in _patterns(sizes, stock.length_um // task.unit_um):
                rolls = self.model.new_int_var(0, stock.available or sum(count.values()), "")
                used.append(rolls)
                self.cost.append(stock.price_ct * rolls)
                for index, pieces in enumerate(pattern):
                    got[index].append(pieces * rolls)
            if stock.available is not None:
                self.model.add(cp_model.LinearExpr.sum(used) <= stock.available)
        for size, terms in zip(sizes, got, strict=True):
            self.model.add(cp_model.LinearExpr.sum(terms) >= count[size] * chosen)

    def _tube(self, case: Case) -> None:
        """Rolls of tube hold its whole length; stakes stand along the mainline."""
        task = tube_task(case, ())
        held = []
        for stock in task.stocks:
            rolls = self.model.new_int_var(0, stock.available or 1000, "")
            held.append(stock.length_um // task.unit_um * rolls)
            self.cost.append(stock.price_ct * rolls)
        self.model.add(cp_model.LinearExpr.sum(held) >= cp_model.LinearExpr.sum(self.units))
        stake = fitting_price(case.scenario, "stake", case.tube.name)[0]
        stakes = self.model.new_int_var(1, 10_000, "")
        every = round(STAKE_EVERY_M * 1e6)
        length_um = task.unit_um * cp_model.LinearExpr.sum(self.mainline)
        self.model.add(every * (stakes - 1) >= length_um)
        self.cost.append(stake * stakes)

    def solve(self, seconds: float, seed: int) -> SingleResult:
        """Solve with one worker.

        Args:
            seconds: limit [s].
            seed: seed of the solver.
        """
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = 1
        solver.parameters.random_seed = seed
        # Without the whole linear relaxation its bound stays at less than half of the money.
        solver.parameters.linearization_level = 2
        solver.parameters.max_time_in_seconds = seconds
        solver.parameters.presolve_inclusion_work_limit = 0
        start = time.perf_counter()
        status = solver.solve(self.model)
        taken = time.perf_counter() - start
        has_plan = status in (cp_model.OPTIMAL, cp_model.FEASIBLE)
        money = solver.objective_value if has_plan else math.inf
        return SingleResult(solver.status_name(status), money, solver.best_objective_bound, taken, self.literals)

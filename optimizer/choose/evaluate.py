"""The exact value of one design: its zones and its cuts at their best."""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass, field

from optimizer.choose.designs import ChoiceSet, Design
from optimizer.choose.fewest import Fewest, fewest_zones
from optimizer.choose.goals import Goals
from optimizer.choose.judge import ZoneJudge
from optimizer.choose.leastsplit import least_split, one_zone_a_header
from optimizer.choose.reasons import BURSTS, LINE_SHORT, RUN_TOO_LONG, TIMER_FULL, TUBE_SHORT
from optimizer.choose.runs import run_table
from optimizer.choose.splits import Splits
from optimizer.choose.tubebound import TubeBound, tube_bound
from optimizer.choose.waterlimits import WaterLimits, water_limits
from optimizer.choose.zones import NoZonesError, SplitResult, UnsettledError, best_split
from optimizer.cutting import CuttingOutcome, CuttingStatus, CuttingTask, Limits, money_bound, solve_cutting
from optimizer.feeds import Feed, FeedError
from optimizer.problem.case import Case
from optimizer.problem.counts import FittingCount, lateral_fittings
from optimizer.problem.standing import standing_head
from optimizer.problem.tubing import line_task, tube_task
from optimizer.problem.water import TankAssembly

EFFORTS = (0.05, 1.0, 30.0)
"""work allowed to each cutting task: a look, a try, and what it takes"""

_FIRST_LOOK_S = 0.05

_SETTLED = (CuttingStatus.PROVEN_BEST, CuttingStatus.IMPOSSIBLE)


class RuledOutError(Exception):
    """A design cannot work; carries the reason."""


__all__ = ["EFFORTS", "Evaluated", "Evaluator", "RuledOutError", "UnsettledError", "open_after_gap"]


@dataclass(frozen=True)
class Evaluated:
    """A design with its best zones and cuts."""

    design: Design
    case: Case
    goals: Goals
    bound: Goals
    split: SplitResult
    line: CuttingOutcome


@dataclass(eq=False)
class Evaluator:
    """Evaluates designs of one choice set; cuts that come up again are not solved again."""

    choices: ChoiceSet
    seed: int = 1
    end: float | None = None
    """reading of the monotonic clock at which cutting stops with the best found; None to go on to the proof [s]"""
    judge: ZoneJudge = field(default_factory=ZoneJudge)
    _cuts: dict[CuttingTask, tuple[int, CuttingOutcome]] = field(default_factory=dict)
    _covers: dict[CuttingTask, int | None] = field(default_factory=dict)
    _limits: dict[tuple[str, str], WaterLimits] = field(default_factory=dict)
    _laterals: dict[tuple[Feed, str, str], FittingCount] = field(default_factory=dict)
    _tube_bounds: dict[tuple[str, int], TubeBound | None] = field(default_factory=dict)

    # ------------------------------------------------------------ bounds

    def worked_out(self, design: Design) -> Case:
        """Return a design as exact lengths.

        Raises:
            RuledOutError: its header cannot be laid, a lateral is too long or the tubing would burst.
        """
        try:
            case = self.choices.case(design)
        except FeedError as error:
            raise RuledOutError(str(error)) from None
        self._check_runs(case)
        return case

    def bound(self, design: Design) -> tuple[Case, Goals]:
        """Return a design worked out, and what none of its zone splits and cuts can beat.

        Raises:
            RuledOutError: it cannot work.
        """
        case = self.worked_out(design)
        return case, self._least_goals(case, one_zone_a_header(case))

    def closer_bounds(self, cases: Sequence[Case]) -> list[Goals | RuledOutError]:
        """Return the same for many designs at once, with as many zones as their water needs.

        Args:
            cases: designs worked out.

        Returns:
            For each design its bound, or why it cannot work.
        """
        plain = [index for index, case in enumerate(cases) if not self.judge.tables_mislead(case)]
        asked = [(cases[index], self.limits(cases[index])) for index in plain]
        known = dict(zip(plain, fewest_zones(self.judge, asked), strict=True))
        found: list[Goals | RuledOutError] = []
        for index, case in enumerate(cases):
            try:
                found.append(self._least_goals(case, known.get(index, one_zone_a_header(case))))
            except RuledOutError as error:
                found.append(error)
        return found

    def _least_goals(self, case: Case, fewest: Sequence[Fewest]) -> Goals:
        """Return what no split with at least so many zones can beat.

        Raises:
            RuledOutError: there is not enough tubing, a row cannot run, or there are too many zones.
        """
        zones = _sum_of_zones(case, fewest)
        least = least_split(case, fewest, zones)
        line, tube = self._cover(line_task(case)), self.tube_bound(case, least.units)
        if line is None:
            raise RuledOutError(LINE_SHORT)
        if tube is None:
            raise RuledOutError(TUBE_SHORT)
        laterals = self.laterals(case)
        money = laterals.cost_ct(case.scenario) + least.money_ct + fixed_price(case) + line + tube.money_ct
        return Goals(case.missing_ppm, money, tube.spent_um, laterals.pushed + least.pushed, 0)

    def limits(self, case: Case) -> WaterLimits:
        """Return what zones of a design must hold."""
        if isinstance(case.assembly, TankAssembly):
            return water_limits(case)
        key = (case.line.name, case.regulator.name if case.regulator else "")
        if key not in self._limits:
            self._limits[key] = water_limits(case)
        return self._limits[key]

    def laterals(self, case: Case) -> FittingCount:
        """Return the fittings of the laterals of a design; the same for all its tubes and regulators."""
        key = (case.feed, case.line.name, case.tube.name)
        if key not in self._laterals:
            self._laterals[key] = lateral_fittings(case)
        return self._laterals[key]

    def _check_runs(self, case: Case) -> None:
        longest = case.line.longest_run
        length = max(lateral.spacings for lateral in case.feed.laterals) * case.line.spacing
        if longest is not None and length > longest + 1e-6:
            raise RuledOutError(RUN_TOO_LONG)
        if standing_head(case) > min(case.line.greatest_pressure, case.tube.greatest_pressure) + 1e-6:
            raise RuledOutError(BURSTS)

    def tube_bound(self, case: Case, units: int) -> TubeBound | None:
        """Return a bound for blank tube of a total length in cutting units; None if there is not enough."""
        key = (case.tube.name, units)
        if key not in self._tube_bounds:
            task = tube_task(case, ())
            self._tube_bounds[key] = tube_bound(task.stocks, task.usable_um, units * task.unit_um)
        return self._tube_bounds[key]

    def _cover(self, task: CuttingTask) -> int | None:
        if task not in self._covers:
            self._covers[task] = money_bound(task)
        return self._covers[task]

    def cut(self, task: CuttingTask, effort: int) -> CuttingOutcome:
        """Solve a cutting task, or return what was found for it before with as much effort."""
        known = self._cuts.get(task)
        if known is None or (known[0] < effort and known[1].status not in _SETTLED):
            limits = Limits(self._seconds_left(), EFFORTS[effort], self.seed)
            known = effort, solve_cutting(task, limits)
            self._cuts[task] = known
        return known[1]

    def _seconds_left(self) -> float | None:
        """Time a cutting task may still take; a first look is always allowed [s]."""
        return None if self.end is None else max(self.end - time.monotonic(), _FIRST_LOOK_S)

    # ------------------------------------------------------------ exact value

    def evaluate(self, design: Design, case: Case, effort: int) -> Evaluated:
        """Return the best zones and cuts of a design.

        Args:
            design: the design.
            case: the same worked out.
            effort: index into `EFFORTS`.

        Raises:
            RuledOutError: no zone split or no cutting works.
            UnsettledError: the effort did not settle whether one does.
        """
        line = self.cut(line_task(case), effort)
        if line.plan is None:
            raise RuledOutError(LINE_SHORT) if line.status is CuttingStatus.IMPOSSIBLE else UnsettledError
        table = run_table(case, self.limits(case), self.judge)
        splits = Splits(
            table,
            lambda units: self.cut(tube_task(case, units), effort),
            lambda units: self.tube_bound(case, units),
        )
        try:
            split = best_split(splits, case.scenario.most_zones)
        except NoZonesError as error:
            raise RuledOutError(str(error)) from None
        return self._valued(design, case, line, split)

    def _valued(self, design: Design, case: Case, line: CuttingOutcome, split: SplitResult) -> Evaluated:
        laterals = self.laterals(case)
        missing = case.missing_ppm
        fixed = laterals.cost_ct(case.scenario) + fixed_price(case)
        assert line.plan is not None
        goals = Goals(
            missing,
            fixed + line.plan.money_ct + split.goals.money_ct,
            line.plan.waste_um + split.goals.waste_um,
            laterals.pushed + line.plan.couplers + split.goals.fittings,
            split.unevenness,
        )
        bound = Goals(
            missing,
            fixed + (line.money_bound_ct or 0) + split.bound.money_ct,
            (line.waste_bound_um or 0) + split.bound.waste_um,
            laterals.pushed + (line.couplers_bound or 0) + split.bound.fittings,
            split.unevenness_bound,
        )
        proven = line.status is CuttingStatus.PROVEN_BEST and split.bound == split.goals
        if not proven:
            # Once an earlier goal is open, the later ones may still change either way.
            bound = open_after_gap(goals, bound)
        return Evaluated(design, case, goals, bound, split, line)


def open_after_gap(goals: Goals, bound: Goals) -> Goals:
    """Return a bound in which goals behind the first unproven one are zero."""
    values = list(bound)
    for index, (value, low) in enumerate(zip(goals, bound, strict=True)):
        if low < value:
            values[index + 1 :] = [0] * (len(values) - index - 1)
            break
    return Goals(*values)


def _sum_of_zones(case: Case, fewest: Sequence[Fewest]) -> int:
    """Return the fewest zones of all headers together.

    Raises:
        RuledOutError: a row cannot run, or the timer has not enough outlets.
    """
    zones = 0
    for item in fewest:
        if item.zones is None:
            raise RuledOutError(item.why)
        zones += item.zones
    most = case.scenario.most_zones
    if most is not None and zones > most:
        raise RuledOutError(TIMER_FULL)
    return zones


def fixed_price(case: Case) -> int:
    """Return the price of head parts and regulator to be bought [ct]."""
    parts = sum(part.price for part in case.scenario.supply.head_parts)
    regulator = case.regulator
    return parts + (regulator.price if regulator is not None and not regulator.owned else 0)

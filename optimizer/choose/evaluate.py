"""The exact value of one design: its zones and its cuts at their best."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property

from optimizer.choose.cutter import EFFORTS, Cutter, UnsettledError
from optimizer.choose.designs import ChoiceSet, Design
from optimizer.choose.fewest import Fewest, fewest_zones
from optimizer.choose.goals import Goals
from optimizer.choose.judge import ZoneJudge
from optimizer.choose.laidzones import broken_limit
from optimizer.choose.leastsplit import least_split, one_zone_a_header
from optimizer.choose.openrows import NoGroupsError, best_groups
from optimizer.choose.reasons import (
    BURSTS,
    LINE_SHORT,
    ONE_ZONE,
    RUN_TOO_LONG,
    TIMER_FULL,
    TOO_MANY_GROUPS,
    TUBE_SHORT,
)
from optimizer.choose.runs import run_table
from optimizer.choose.splits import Splits
from optimizer.choose.tubebound import TubeBound
from optimizer.choose.waterlimits import WaterLimits, water_limits
from optimizer.choose.zones import NoZonesError, SplitResult, best_split
from optimizer.cutting import CuttingOutcome, CuttingStatus
from optimizer.feeds import Feed, FeedError
from optimizer.problem.bill import laid_fittings, tube_pieces
from optimizer.problem.case import Case, Run
from optimizer.problem.counts import FittingCount, lateral_fittings
from optimizer.problem.laying import Laying
from optimizer.problem.split import open_rows_laying, split_laying
from optimizer.problem.standing import standing_head
from optimizer.problem.tubing import line_task, tube_task
from optimizer.problem.water import TankAssembly


class RuledOutError(Exception):
    """A design cannot work; carries the reason."""


__all__ = ["EFFORTS", "Evaluated", "Evaluator", "RuledOutError", "UnsettledError", "open_after_gap"]


@dataclass(frozen=True, eq=False)
class Evaluated:
    """A design with its best zones and cuts."""

    design: Design
    case: Case
    goals: Goals
    bound: Goals
    laying: Laying
    line: CuttingOutcome
    tube: CuttingOutcome

    @property
    def zones(self) -> int:
        """Number of zones."""
        return len(self.laying.zones)


@dataclass(eq=False)
class Evaluator:
    """Evaluates designs of one choice set."""

    choices: ChoiceSet
    seed: int = 1
    end: float | None = None
    """reading of the monotonic clock at which cutting stops with the best found; None to go on to the proof [s]"""
    judge: ZoneJudge = field(default_factory=ZoneJudge)
    failed: dict[Case, list[tuple[Run, tuple[int, ...]]]] = field(default_factory=dict)
    """zones found to break a limit when they were solved emitter by emitter: run and rows open in it"""
    _limits: dict[tuple[str, str], WaterLimits] = field(default_factory=dict)
    _laterals: dict[tuple[Feed, str, str], FittingCount] = field(default_factory=dict)

    @cached_property
    def cutter(self) -> Cutter:
        """Cuts rolls, none longer than the search lasts."""
        return Cutter(self.seed, self.end)

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
        if design.shut_offs:
            return case, self._least_open_rows(case, self._may_need_none)
        return case, self._least_goals(case, one_zone_a_header(case))

    def closer_bounds(self, designs: Sequence[tuple[Design, Case]]) -> list[Goals | RuledOutError]:
        """Return the same for many designs at once, with as many zones as their water needs.

        Args:
            designs: designs, each worked out.

        Returns:
            For each design its bound, or why it cannot work.
        """
        plain = [case for _, case in designs if not self.judge.tables_mislead(case)]
        known = dict(zip(plain, fewest_zones(self.judge, [(case, self.limits(case)) for case in plain]), strict=True))
        found: list[Goals | RuledOutError] = []
        for design, case in designs:
            try:
                fewest = known.get(case, one_zone_a_header(case))
                together = self._may_need_none and fewest[0].zones == 1
                found.append(
                    self._least_open_rows(case, together) if design.shut_offs else self._least_goals(case, fewest)
                )
            except RuledOutError as error:
                found.append(error)
        return found

    @property
    def _may_need_none(self) -> bool:
        """Whether a design with shut-offs may do without where all rows run together; else a split design is that."""
        return self.choices.scenario.limits.zoning == "row shut-offs"

    def _least_open_rows(self, case: Case, together: bool) -> Goals:
        """Return what no grouping of rows with shut-offs can beat: fittings and pieces are the same for all.

        Args:
            case: the design.
            together: whether all rows may run together, so that no shut-off is needed.

        Raises:
            RuledOutError: there is not enough tubing.
        """
        laying = open_rows_laying(case, [tuple(range(case.row_count))], shut_offs=not together)
        fittings, units = laid_fittings(laying), sum(piece.units for piece in tube_pieces(laying))
        line, tube = self.cutter.least_money(line_task(case)), self.tube_bound(case, units)
        if line is None:
            raise RuledOutError(LINE_SHORT)
        if tube is None:
            raise RuledOutError(TUBE_SHORT)
        money = fittings.cost_ct(case.scenario) + fixed_price(case) + line + tube.money_ct
        return Goals(case.missing_ppm, money, tube.spent_um, fittings.pushed, 0)

    def _least_goals(self, case: Case, fewest: Sequence[Fewest]) -> Goals:
        """Return what no split with at least so many zones can beat.

        Raises:
            RuledOutError: there is not enough tubing, a row cannot run, or there are too many zones.
        """
        zones = _sum_of_zones(case, fewest)
        least = least_split(case, fewest, zones)
        line, tube = self.cutter.least_money(line_task(case)), self.tube_bound(case, least.units)
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
        return self.cutter.tube_bound(tube_task(case, ()), units)

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
        line = self.cutter.cut(line_task(case), effort)
        if line.plan is None:
            raise RuledOutError(LINE_SHORT) if line.status is CuttingStatus.IMPOSSIBLE else UnsettledError
        if design.shut_offs:
            return self._open_rows(design, case, line, effort)
        table = run_table(case, self.limits(case), self.judge, [run for run, _ in self.failed.get(case, ())])
        splits = Splits(
            table,
            lambda units: self.cutter.cut(tube_task(case, units), effort),
            lambda units: self.tube_bound(case, units),
        )
        try:
            split = best_split(splits, case.scenario.most_zones)
        except NoZonesError as error:
            raise RuledOutError(str(error)) from None
        return self._valued(design, case, line, split)

    def _open_rows(self, design: Design, case: Case, line: CuttingOutcome, effort: int) -> Evaluated:
        """Return the best groups of rows with shut-offs.

        Raises:
            RuledOutError: no groups work, one is enough, there are too many, or the tube cannot be cut.
            UnsettledError: the effort did not settle whether the tube can be cut.
        """
        try:
            found = best_groups(case, self.limits(case), self.judge, [rows for _, rows in self.failed.get(case, ())])
        except NoGroupsError as error:
            raise RuledOutError(str(error)) from None
        together = len(found.groups) == 1
        if together and not self._may_need_none:
            raise RuledOutError(ONE_ZONE)
        most = case.scenario.limits.zones_at_most
        if most is not None and len(found.groups) > most:
            raise RuledOutError(TOO_MANY_GROUPS)
        laying = open_rows_laying(case, found.groups, shut_offs=not together)
        pieces = [piece.units for piece in tube_pieces(laying)]
        tube = self.cutter.cut(tube_task(case, pieces), effort)
        if tube.plan is None:
            raise RuledOutError(TUBE_SHORT) if tube.status is CuttingStatus.IMPOSSIBLE else UnsettledError
        fittings, laid_um = laid_fittings(laying), case.tube_step_um * sum(pieces)
        assert line.plan is not None
        plans, fixed = (line.plan, tube.plan), fittings.cost_ct(case.scenario) + fixed_price(case)
        goals = Goals(
            case.missing_ppm,
            fixed + sum(plan.money_ct for plan in plans),
            laid_um + sum(plan.waste_um for plan in plans),
            fittings.pushed + sum(plan.couplers for plan in plans),
            found.unevenness,
        )
        both = (line, tube)
        bound = Goals(
            case.missing_ppm,
            fixed + sum(item.money_bound_ct or 0 for item in both),
            laid_um + sum(item.waste_bound_um or 0 for item in both),
            fittings.pushed + sum(item.couplers_bound or 0 for item in both),
            found.unevenness,
        )
        if any(item.status is not CuttingStatus.PROVEN_BEST for item in both):
            bound = open_after_gap(goals, bound)
        return Evaluated(design, case, goals, bound, laying, line, tube)

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
        return Evaluated(design, case, goals, bound, split_laying(case, split.split), line, split.tube)

    def fails(self, item: Evaluated) -> bool:
        """Say whether a zone of an evaluated design breaks a limit when it is solved emitter by emitter, and keep it.

        The tables that judge zones in the search err a little; where that hides a broken limit the zone, and all
        that hold it, are ruled out from then on.
        """
        broken = [zone for zone in range(item.zones) if broken_limit(item.laying, zone)]
        for zone in broken:
            for member in item.laying.zones[zone]:
                run = item.laying.headers[member.header].run
                self.failed.setdefault(item.case, []).append((run, member.rows))
        return bool(broken)


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

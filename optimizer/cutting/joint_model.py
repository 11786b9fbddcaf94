"""Exact model of jointed pieces on single rolls (CP-SAT), for the few small tasks whose chains cannot be laid.

Chains of rolls ignore the least part and the joints allowed per piece. Where these rules bite, this model decides, from
the bounds the chains have proven and the best real plan known.
"""

from __future__ import annotations

from dataclasses import dataclass

from ortools.sat.python import cp_model

from optimizer.cutting.assemble import Laid
from optimizer.cutting.core import Core
from optimizer.cutting.model import CuttingPlan, CuttingTask
from optimizer.cutting.work import Work

_MOST_PARTS = 6_000  # possible parts (rolls times pieces) beyond which the model is not tried


@dataclass(frozen=True)
class JointResult:
    """Best layout found and bounds of the goals, as far as the goals before them are settled.

    Args:
        laid: Rolls and piece lengths; None if nothing better than the known plan was found.
        bounds: Money, waste and couplers [ct, um, -].
        impossible: Proven that no plan exists.
    """

    laid: tuple[list[Laid], list[int]] | None
    bounds: list[int]
    impossible: bool


class _Model:
    """Units of each piece that each roll gives."""

    def __init__(self, task: CuttingTask, core: Core, upper_ct: int | None) -> None:
        self.cp = cp_model.CpModel()
        self.task, self.core = task, core
        self.lengths = [size for size, count in zip(core.sizes, core.counts, strict=True) for _ in range(count)]
        self.rolls = [k for k in range(len(core.stock)) for _ in range(_copies(task, core, k, upper_ct))]
        self.used = [self.cp.new_bool_var(f"used{r}") for r in range(len(self.rolls))]
        self.units: list[list[cp_model.IntVar]] = []
        self.gives: list[list[cp_model.IntVar]] = []

    @property
    def size(self) -> int:
        return len(self.rolls) * len(self.lengths)

    def build(self) -> None:
        for r in range(len(self.rolls)):
            self.units.append([self.cp.new_int_var(0, n, f"units{r}_{i}") for i, n in enumerate(self.lengths)])
            self.gives.append([self.cp.new_bool_var(f"gives{r}_{i}") for i in range(len(self.lengths))])
            self._link_parts(r)
            self._fit(r)
        for i, length in enumerate(self.lengths):
            self.cp.add(sum(row[i] for row in self.units) == length)
            self.cp.add(sum(row[i] for row in self.gives) <= self.task.joints_per_piece + 1)
        for r in range(1, len(self.rolls)):
            if self.rolls[r] == self.rolls[r - 1]:  # equal rolls are interchangeable
                self.cp.add(sum(self.units[r - 1]) >= sum(self.units[r]))
        for i in range(1, len(self.lengths)):
            if self.lengths[i] == self.lengths[i - 1]:  # and so are equal pieces
                self.cp.add(self._place(i - 1) <= self._place(i))

    def _place(self, i: int) -> cp_model.LinearExprT:
        """A number by which equal pieces can be sorted: the rolls that give it, added up."""
        return cp_model.LinearExpr.weighted_sum([row[i] for row in self.gives], list(range(len(self.rolls))))

    def _link_parts(self, r: int) -> None:
        for i, length in enumerate(self.lengths):
            units, gives = self.units[r][i], self.gives[r][i]
            self.cp.add(units >= min(self.task.least_part_units, length)).only_enforce_if(gives)
            self.cp.add(units == 0).only_enforce_if(~gives)
            self.cp.add_implication(gives, self.used[r])

    def _fit(self, r: int) -> None:
        capacity = self.core.stock[self.rolls[r]].capacity
        self.cp.add(sum(self.units[r]) <= capacity * self.used[r])
        self.cp.add(sum(self.units[r]) >= self.used[r])

    def couplers(self) -> cp_model.LinearExprT:
        return cp_model.LinearExpr.sum([g for row in self.gives for g in row]) - len(self.lengths)

    def money(self) -> cp_model.LinearExprT:
        gives = [g for row in self.gives for g in row]
        prices = [self.core.stock[k].price_ct for k in self.rolls] + [self.task.coupler_ct] * len(gives)
        return cp_model.LinearExpr.weighted_sum([*self.used, *gives], prices) - self.task.coupler_ct * len(self.lengths)

    def waste(self) -> cp_model.LinearExprT:
        """Leftover of each used roll, unless a usable offcut is left."""
        wastes = []
        for r, k in enumerate(self.rolls):
            length = self.core.stock[k].length_um
            short = self.cp.new_bool_var(f"short{r}")
            waste = self.cp.new_int_var(0, min(length, max(0, self.task.usable_um - 1)), f"waste{r}")
            left = length - self.task.unit_um * sum(self.units[r])
            self.cp.add(left >= self.task.usable_um).only_enforce_if([~short, self.used[r]])
            self.cp.add(waste == left).only_enforce_if([short, self.used[r]])
            self.cp.add(waste == 0).only_enforce_if(~short)
            self.cp.add_implication(short, self.used[r])
            wastes.append(waste)
        return cp_model.LinearExpr.sum(wastes)


def _copies(task: CuttingTask, core: Core, k: int, upper_ct: int | None) -> int:
    """How many rolls of a class a plan within `upper_ct` can use."""
    stock = core.stock[k]
    most = sum(core.counts) * (task.joints_per_piece + 1)
    if stock.available is not None:
        most = min(most, stock.available)
    if upper_ct is not None and stock.price_ct:
        most = min(most, upper_ct // stock.price_ct)
    return most


def solve_joint_model(
    task: CuttingTask, core: Core, plan: CuttingPlan | None, bounds: list[int], work: Work
) -> JointResult:
    """Minimise money, waste and couplers in turn.

    Args:
        task: What was asked.
        core: Pieces and stock in the task's units.
        plan: Best real plan known.
        bounds: Bounds already proven for the goals in order, as far as known; the first is always there.
        work: Limits.
    """
    model = _Model(task, core, plan.money_ct if plan else None)
    if model.size > _MOST_PARTS:
        return JointResult(None, bounds[:1], False)
    model.build()
    goals = (model.money(), model.waste(), model.couplers())
    laid, proven, impossible = None, list[int](), False
    for index, goal in enumerate(goals):
        known = bounds[index] if index < len(bounds) and proven == bounds[:index] else 0
        model.cp.add(goal >= known)
        model.cp.minimize(goal)
        solver = _solver(work)
        status = solver.solve(model.cp)
        work.done += solver.response_proto.deterministic_time
        work.nodes += solver.num_branches
        if status == cp_model.INFEASIBLE and not index:
            impossible = plan is None
            break
        if status in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            laid = _layout(model, solver)
        proven.append(max(known, round(solver.best_objective_bound)) if status != cp_model.INFEASIBLE else known)
        if status != cp_model.OPTIMAL:
            break
        model.cp.add(goal == round(solver.objective_value))
    return JointResult(laid, proven or bounds[:1], impossible)


def _solver(work: Work) -> cp_model.CpSolver:
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = work.limits.seed
    solver.parameters.presolve_inclusion_work_limit = 0
    solver.parameters.max_deterministic_time = work.left
    if work.seconds_left is not None:
        solver.parameters.max_time_in_seconds = work.seconds_left
    return solver


def _layout(model: _Model, solver: cp_model.CpSolver) -> tuple[list[Laid], list[int]]:
    laid = []
    for r, k in enumerate(model.rolls):
        parts = tuple((i, n) for i, var in enumerate(model.units[r]) if (n := solver.value(var)))
        if parts:
            laid.append(Laid(k, parts))
    return laid, model.lengths

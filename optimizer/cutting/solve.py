"""Solve a cutting task: quick packings and bounds first, exact methods for what they leave open."""

from __future__ import annotations

from dataclasses import dataclass

from optimizer.cutting.assemble import assemble, laid_singles
from optimizer.cutting.core import Core, Pattern, single_roll_core
from optimizer.cutting.cover import material_cover, single_roll_bound
from optimizer.cutting.engine import reach
from optimizer.cutting.goal import COUPLERS, MONEY, WASTE, Goal
from optimizer.cutting.greedy import better, quick_packings
from optimizer.cutting.model import CuttingOutcome, CuttingPlan, CuttingStatus, CuttingTask, Limits
from optimizer.cutting.work import Work


def money_bound(task: CuttingTask) -> int | None:
    """Money no plan can go below; None if it is proven that no plan exists [ct].

    Args:
        task: What was asked.
    """
    core = single_roll_core(task)
    if not core.sizes:
        return 0
    if not core.stock:
        return None
    return material_cover(core) if task.joints_per_piece else single_roll_bound(core)


@dataclass
class Search:
    """Best packing and what is proven so far, goal by goal.

    Args:
        bounds: Bounds of money, waste and couplers, as far as the goals before them are settled.
        methods: What proved each of them.
    """

    packing: list[Pattern] | None
    bounds: list[int]
    methods: list[str]
    impossible: bool = False


def solve_cutting(task: CuttingTask, limits: Limits | None = None, upper_money_ct: int | None = None) -> CuttingOutcome:
    """Find the best plan by money, then waste, then couplers, and say what was proven.

    Args:
        task: What was asked.
        limits: How much may be spent; the defaults if None.
        upper_money_ct: Plans dearer than this are of no interest: the search ends once they are all that is left [ct].
    """
    work = Work(limits or Limits())
    bound = money_bound(task)
    if bound is None:
        return _outcome(task, Search(None, [], ["cover bound"], impossible=True), None, work)
    core = single_roll_core(task)
    if not core.sizes:
        return _outcome(task, Search([], [0, 0, 0], ["nothing wanted"]), CuttingPlan((), 0, 0, 0), work)
    search = search_singles(core, bound, upper_money_ct, work)
    plan = None
    if search.packing is not None:
        plan = assemble(task, core, *laid_singles(core, search.packing, core.unit_um // task.unit_um))
    return _outcome(task, search, plan, work)


def search_singles(core: Core, bound: int, upper_money_ct: int | None, work: Work) -> Search:
    """Goals in order for bins of one roll each.

    Args:
        core: Pieces and rolls.
        bound: Money bound already proven [ct].
        upper_money_ct: Money beyond which nothing is of interest [ct].
        work: Limits.
    """
    packings = list(quick_packings(core))
    known = [pattern for packing in packings for pattern in packing]
    search = Search(better(core, packings), [], [])
    for index in (MONEY, WASTE, COUPLERS):
        if index == MONEY and upper_money_ct is not None and bound > upper_money_ct:
            search.bounds.append(bound)
            break
        fixed = core.goals(search.packing)[:index] if search.packing is not None else ()
        reached = reach(Goal(core, index, fixed), search.packing, bound if index == MONEY else 0, known, work)
        search.methods.append(reached.method)
        if reached.bound is None:
            search.impossible = True
            break
        search.packing = reached.packing
        search.bounds.append(reached.bound)
        if reached.packing is None or core.goals(reached.packing)[index] > reached.bound:
            break
    return search


def _outcome(task: CuttingTask, search: Search, plan: CuttingPlan | None, work: Work) -> CuttingOutcome:
    bounds: list[int | None] = [*search.bounds, None, None, None]
    if search.impossible:
        status, plan, bounds = CuttingStatus.IMPOSSIBLE, None, [None, None, None]
    elif plan is None:
        status = CuttingStatus.NOTHING_FOUND
    else:
        status = CuttingStatus.PROVEN_BEST if list(plan.goals) == search.bounds else CuttingStatus.BEST_FOUND
    method = ", ".join(search.methods)
    repeatable = not work.clock_ended
    return CuttingOutcome(status, plan, *bounds[:3], method, work.limits, work.nodes, repeatable)

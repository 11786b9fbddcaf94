"""Solve a cutting task: quick packings and bounds first, exact methods for what they leave open."""

from __future__ import annotations

from dataclasses import dataclass

from optimizer.cutting.assemble import assemble, laid_singles
from optimizer.cutting.chains import chain_core, quick_chain_packings, single_roll_bins, single_roll_packings
from optimizer.cutting.check import check_cutting
from optimizer.cutting.core import Core, Pattern, single_roll_core, stock_classes, whole_unit_core
from optimizer.cutting.cover import cheapest_cover_counts, material_cover, single_roll_bound
from optimizer.cutting.engine import Quick, reach
from optimizer.cutting.goal import COUPLERS, MONEY, WASTE, Goal
from optimizer.cutting.greedy import better, quick_packings
from optimizer.cutting.joint_model import solve_joint_model
from optimizer.cutting.laying import lay_packing
from optimizer.cutting.leftover import waste_floor
from optimizer.cutting.loose import loose_layouts
from optimizer.cutting.model import CuttingOutcome, CuttingPlan, CuttingStatus, CuttingTask, Limits
from optimizer.cutting.work import Work
from optimizer.errors import VerificationError

_MOST_CHAINS = 4000


def money_bound(task: CuttingTask) -> int | None:
    """Money no plan can go below; None if it is proven that no plan exists [ct].

    Args:
        task: What was asked.
    """
    if not any(demand.count for demand in task.demands):
        return 0
    core = whole_unit_core(task) if task.joints_per_piece else single_roll_core(task)
    if not core.stock or max(core.sizes) > _longest_piece(task, core):
        return None
    return material_cover(core) if task.joints_per_piece else single_roll_bound(core)


def _longest_piece(task: CuttingTask, core: Core) -> int:
    """Length no piece can exceed: the longest rolls, as many as a piece may have parts [core units]."""
    lengths: list[int] = []
    for c in core.stock:
        most = task.joints_per_piece + 1
        lengths += [c.capacity] * (most if c.available is None else min(most, c.available))
    return sum(sorted(lengths, reverse=True)[: task.joints_per_piece + 1])


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

    Raises:
        VerificationError: The plan found fails its own check.
        ArithmeticError: A linear program ended without an optimum.
    """
    work = Work(limits or Limits())
    bound = money_bound(task)
    if bound is None:
        return _outcome(task, Search(None, [], ["cover bound"], impossible=True), None, work)
    if not any(demand.count for demand in task.demands):
        return _outcome(task, Search([], [0, 0, 0], ["nothing wanted"]), CuttingPlan((), 0, 0, 0), work)
    if task.joints_per_piece:
        return _outcome(task, *search_joints(task, bound, upper_money_ct, work), work)
    return _outcome(task, *_search_singles(task, bound, upper_money_ct, work), work)


def _search_singles(
    task: CuttingTask, bound: int, upper_ct: int | None, work: Work
) -> tuple[Search, CuttingPlan | None]:
    core = single_roll_core(task)
    search = search_goals(core, quick_packings, list(quick_packings(core)), bound, upper_ct, work)
    if search.packing is None:
        return search, None
    return search, assemble(task, core, *laid_singles(core, search.packing, core.unit_um // task.unit_um))


def search_joints(task: CuttingTask, bound: int, upper_ct: int | None, work: Work) -> tuple[Search, CuttingPlan | None]:
    """Chains of rolls first, which are a relaxation; where their plan cannot be laid, the exact model of joints.

    Args:
        task: What was asked.
        bound: Money bound already proven [ct].
        upper_ct: Money beyond which nothing is of interest [ct].
        work: Limits.
    """
    core, all_chains = _chains_up_to(task, bound)
    packings = [*single_roll_packings(core, quick_packings(single_roll_bins(core))), *quick_chain_packings(core)]
    search = search_goals(core, quick_chain_packings, packings, bound, upper_ct, work)
    laid = lay_packing(task, core, search.packing) if search.packing is not None else None
    plan = None if laid is None else assemble(task, core, *laid)
    if all_chains and (search.impossible or plan is not None):
        return search, plan
    if not all_chains:
        search = Search(None, _settled([bound], plan), ["cover bound"])
        if plan is not None and list(plan.goals) == search.bounds:
            return search, plan
    if upper_ct is not None and search.bounds[0] > upper_ct:
        return search, plan
    return _search_joint_model(task, search, plan, work)


def _search_joint_model(
    task: CuttingTask, chains: Search, laid: CuttingPlan | None, work: Work
) -> tuple[Search, CuttingPlan | None]:
    core = single_roll_bins(whole_unit_core(task))
    layouts = [laid_singles(core, packing, 1) for packing in quick_packings(core)]
    layouts += loose_layouts(task, core)
    plans = [assemble(task, core, *layout) for layout in layouts] + ([] if laid is None else [laid])
    plan = min(plans, key=lambda p: p.goals, default=None)
    result = solve_joint_model(task, core, plan, chains.bounds, work)
    if result.laid is not None:
        found = assemble(task, core, *result.laid)
        plan = found if plan is None else min(plan, found, key=lambda p: p.goals)
    bounds = max(_settled(chains.bounds, plan), _settled(result.bounds, plan))
    return Search(None, bounds, [*chains.methods[:1], "model of joints"], result.impossible), plan


def _settled(bounds: list[int], plan: CuttingPlan | None) -> list[int]:
    """Bounds of the goals up to the first that the plan does not reach; later ones say nothing about it yet."""
    settled: list[int] = []
    for index, value in enumerate(plan.goals if plan else (None,)):
        settled.append(bounds[index] if index < len(bounds) else 0)
        if value != settled[-1]:
            break
    return settled


def _chains_up_to(task: CuttingTask, bound: int) -> tuple[Core, bool]:
    stock = stock_classes(task, task.unit_um)
    total = sum(d.units * d.count for d in task.demands)
    counts = cheapest_cover_counts(
        [c.capacity for c in stock], [c.price_ct for c in stock], [c.available for c in stock], total
    )
    rolls = sum(counts) if counts else 0
    return chain_core(task, bound + task.coupler_ct * max(0, rolls - 1), _MOST_CHAINS)


def search_goals(
    core: Core, quick: Quick, packings: list[list[Pattern]], bound: int, upper_ct: int | None, work: Work
) -> Search:
    """Goals in order, each to proof before the next.

    Args:
        core: Pieces and bins.
        quick: Packs small remainders.
        packings: Packings known.
        bound: Money bound already proven [ct].
        upper_ct: Money beyond which nothing is of interest [ct].
        work: Limits.
    """
    known = [pattern for packing in packings for pattern in packing]
    search = Search(better(core, packings), [], [])
    for index in (MONEY, WASTE, COUPLERS):
        if index == MONEY and upper_ct is not None and bound > upper_ct:
            search.bounds.append(bound)
            break
        fixed = core.goals(search.packing)[:index] if search.packing is not None else ()
        goal = Goal(core, index, fixed, _rolls_ct(core))
        money = index == MONEY
        floor = bound if money else waste_floor(core, fixed[0]) if index == WASTE and fixed else 0
        reached = reach(goal, search.packing, floor, known, quick, work, upper_ct if money else None)
        search.methods.append(reached.method)
        if reached.bound is None:
            search.impossible = True
            break
        search.packing = reached.packing
        search.bounds.append(reached.bound)
        if reached.packing is None or core.goals(reached.packing)[index] > reached.bound:
            break
    return search


def _rolls_ct(core: Core) -> tuple[int | None, int | None]:
    """Rolls alone cost at least the material bound: with joints this keeps fractions of rolls out of the bound."""
    return (material_cover(core), None) if any(b.couplers for b in core.bins) else (None, None)


def _outcome(task: CuttingTask, search: Search, plan: CuttingPlan | None, work: Work) -> CuttingOutcome:
    faults = check_cutting(task, plan) if plan is not None else ()
    if faults:
        raise VerificationError("cutting plan does not hold: " + "; ".join(faults))
    if search.impossible:
        status, plan, search.bounds = CuttingStatus.IMPOSSIBLE, None, []
    elif plan is None:
        status = CuttingStatus.NOTHING_FOUND
    else:
        search.bounds = _settled(search.bounds, plan)
        status = CuttingStatus.PROVEN_BEST if list(plan.goals) == search.bounds else CuttingStatus.BEST_FOUND
    if status in (CuttingStatus.BEST_FOUND, CuttingStatus.NOTHING_FOUND) and work.seconds_left == 0.0:
        work.clock_ended = True
    money, waste, couplers = [*search.bounds, None, None, None][:3]
    method = ", ".join(search.methods)
    return CuttingOutcome(status, plan, money, waste, couplers, method, work.limits, work.nodes, not work.clock_ended)

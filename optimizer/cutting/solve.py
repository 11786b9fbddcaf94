"""Solve a cutting task: quick packings and bounds first, exact methods for what they leave open."""

from __future__ import annotations

from optimizer.cutting.assemble import assemble, laid_singles
from optimizer.cutting.core import Core, single_roll_core
from optimizer.cutting.cover import material_cover, single_roll_bound
from optimizer.cutting.greedy import better, quick_packings
from optimizer.cutting.model import CuttingOutcome, CuttingPlan, CuttingStatus, CuttingTask, Limits


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


def solve_cutting(task: CuttingTask, limits: Limits | None = None, upper_money_ct: int | None = None) -> CuttingOutcome:
    """Find the best plan by money, then waste, then couplers, and say what was proven.

    Args:
        task: What was asked.
        limits: How much may be spent; the defaults if None.
        upper_money_ct: Plans dearer than this are of no interest: the search ends once they are all that is left [ct].
    """
    limits = limits or Limits()
    core = single_roll_core(task)
    bound = money_bound(task)
    if bound is None:
        return CuttingOutcome(CuttingStatus.IMPOSSIBLE, None, None, None, None, "cover bound", limits, 0, True)
    if not core.sizes:
        empty = CuttingPlan((), 0, 0, 0)
        return CuttingOutcome(CuttingStatus.PROVEN_BEST, empty, 0, 0, 0, "nothing wanted", limits, 0, True)
    packing = better(core, quick_packings(core))
    if packing is None:
        return CuttingOutcome(CuttingStatus.NOTHING_FOUND, None, bound, None, None, "", limits, 0, True)
    plan = assemble(task, core, *laid_singles(core, packing, core.unit_um // task.unit_um))
    return _judge(core, plan, bound, limits)


def _judge(core: Core, plan: CuttingPlan, bound: int, limits: Limits) -> CuttingOutcome:
    proven = plan.money_ct == bound
    status = CuttingStatus.PROVEN_BEST if proven and plan.waste_um == 0 else CuttingStatus.BEST_FOUND
    waste = 0 if proven else None
    couplers = 0 if status is CuttingStatus.PROVEN_BEST else None
    return CuttingOutcome(status, plan, bound, waste, couplers, "cover bound", limits, 0, True)

"""Independent recomputation of a cutting plan: no solver, no shared arithmetic with the search."""

from __future__ import annotations

from collections import Counter, defaultdict

from optimizer.cutting.model import Cut, CuttingPlan, CuttingTask, Stock


def check_cutting(task: CuttingTask, plan: CuttingPlan) -> tuple[str, ...]:
    """List everything wrong with a plan; empty if it holds.

    Args:
        task: What was asked.
        plan: What is proposed.
    """
    return (*_roll_faults(task, plan), *_piece_faults(task, plan), *_goal_faults(task, plan))


def _roll_faults(task: CuttingTask, plan: CuttingPlan) -> list[str]:
    stocks = {stock.id: stock for stock in task.stocks}
    faults = [f"stock {use.stock} is not in the task" for use in plan.uses if use.stock not in stocks]
    for (name, copy), times in sorted(Counter((use.stock, use.copy) for use in plan.uses).items()):
        if times > 1:
            faults.append(f"stock {name} copy {copy} is used {times} times")
        if name in stocks and not _to_be_had(stocks[name], copy):
            faults.append(f"stock {name} has no copy {copy}")
    for use in plan.uses:
        rest_um = stocks[use.stock].length_um if use.stock in stocks else 0
        for cut in use.cuts:
            rest_um -= cut.units * task.unit_um
        if not use.cuts:
            faults.append(f"stock {use.stock} copy {use.copy} is listed but not cut")
        if rest_um < 0:
            faults.append(f"stock {use.stock} copy {use.copy} is {-rest_um} um too short for its cuts")
        if rest_um != use.leftover_um:
            faults.append(f"stock {use.stock} copy {use.copy} leaves {rest_um} um, not {use.leftover_um} um")
    return faults


def _to_be_had(stock: Stock, copy: int) -> bool:
    return copy >= 0 and (stock.available is None or copy < stock.available)


def _parts(plan: CuttingPlan) -> dict[tuple[str, int], list[Cut]]:
    parts: dict[tuple[str, int], list[Cut]] = defaultdict(list)
    for use in plan.uses:
        for cut in use.cuts:
            parts[cut.demand, cut.copy].append(cut)
    return parts


def _piece_faults(task: CuttingTask, plan: CuttingPlan) -> list[str]:
    parts = _parts(plan)
    wanted = {(d.id, copy): d.units for d in task.demands for copy in range(d.count)}
    faults = [f"piece {name} {copy} is not wanted" for name, copy in sorted(parts) if (name, copy) not in wanted]
    for (name, copy), units in wanted.items():
        cuts = parts.get((name, copy), [])
        if sum(cut.units for cut in cuts) != units:
            faults.append(f"piece {name} {copy} gets {sum(cut.units for cut in cuts)} of {units} units")
        if sorted(cut.part for cut in cuts) != list(range(len(cuts))):
            faults.append(f"parts of piece {name} {copy} are not numbered 0, 1, ...")
        if len(cuts) - 1 > task.joints_per_piece:
            faults.append(f"piece {name} {copy} has {len(cuts) - 1} joints, allowed are {task.joints_per_piece}")
        least = task.least_part_units if len(cuts) > 1 else 1
        if any(cut.units < least for cut in cuts):
            faults.append(f"piece {name} {copy} has a part shorter than {least} units")
    return faults


def _goal_faults(task: CuttingTask, plan: CuttingPlan) -> list[str]:
    stocks = {stock.id: stock for stock in task.stocks}
    couplers = sum(len(cuts) - 1 for cuts in _parts(plan).values())
    rolls_ct = sum(stocks[use.stock].price_ct for use in plan.uses if use.stock in stocks)
    waste_um = sum(use.leftover_um for use in plan.uses if use.leftover_um < task.usable_um)
    real = (rolls_ct + couplers * task.coupler_ct, waste_um, couplers)
    names = ("money", "waste", "couplers")
    return [
        f"{name} is {true}, not {said}"
        for name, true, said in zip(names, real, (plan.money_ct, plan.waste_um, plan.couplers), strict=True)
        if true != said
    ]

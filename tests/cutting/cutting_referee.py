"""A second solver for small cutting tasks: one CP-SAT model over all rolls and pieces; no code of the product.

Each goal is minimised in turn with the goals before it held. One worker and a fixed seed, so that a run repeats.
"""

from __future__ import annotations

from dataclasses import dataclass

from ortools.sat.python import cp_model

from optimizer.cutting import CuttingTask


@dataclass
class Model:
    cp: cp_model.CpModel
    money: cp_model.LinearExprT
    waste: cp_model.LinearExprT
    couplers: cp_model.LinearExprT


def build(task: CuttingTask) -> Model:
    """Every copy of every stock, every copy of every piece, and how many units of the piece the roll gives."""
    cp = cp_model.CpModel()
    pieces = [d.units for d in task.demands for _ in range(d.count)]
    total = sum(pieces)
    rolls = []
    for stock in task.stocks:
        most = len(pieces) * (task.joints_per_piece + 1) if stock.available is None else stock.available
        rolls += [stock] * min(most, total)
    parts = [[cp.new_int_var(0, units, "") for units in pieces] for _ in rolls]
    gives = [[cp.new_bool_var("") for _ in pieces] for _ in rolls]
    for r, _ in enumerate(rolls):
        for i, units in enumerate(pieces):
            least = min(task.least_part_units, units) if task.joints_per_piece else units
            cp.add(parts[r][i] >= least).only_enforce_if(gives[r][i])
            cp.add(parts[r][i] == 0).only_enforce_if(~gives[r][i])
    for i, units in enumerate(pieces):
        cp.add(sum(parts[r][i] for r in range(len(rolls))) == units)
        cp.add(sum(gives[r][i] for r in range(len(rolls))) <= task.joints_per_piece + 1)
    return _with_goals(cp, task, rolls, pieces, parts, gives)


def _with_goals(cp, task, rolls, pieces, parts, gives) -> Model:
    used, wastes = [], []
    for r, stock in enumerate(rolls):
        use = cp.new_bool_var("")
        cp.add_max_equality(use, gives[r])
        left = stock.length_um - task.unit_um * sum(parts[r])
        cp.add(left >= 0)
        waste = cp.new_int_var(0, stock.length_um, "")
        short = cp.new_bool_var("")
        cp.add(left >= task.usable_um).only_enforce_if(~short)
        cp.add(waste >= left).only_enforce_if([use, short])
        used.append(use)
        wastes.append(waste)
        if r and rolls[r - 1] is stock:
            cp.add(sum(parts[r - 1]) >= sum(parts[r]))
    couplers = sum(g for row in gives for g in row) - len(pieces)
    money = sum(u * s.price_ct for u, s in zip(used, rolls, strict=True)) + task.coupler_ct * couplers
    return Model(cp, money, sum(wastes), couplers)


def best_goals(task: CuttingTask) -> tuple[int, int, int] | None:
    """Money, waste and couplers of the best plan; None if there is none. Raises if a goal is not solved to proof."""
    if not any(d.count for d in task.demands):
        return 0, 0, 0
    if not task.stocks:
        return None
    model = build(task)
    reached = []
    for goal in (model.money, model.waste, model.couplers):
        model.cp.minimize(goal)
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = 1
        solver.parameters.random_seed = 1
        solver.parameters.presolve_inclusion_work_limit = 0
        solver.parameters.max_deterministic_time = 60.0
        status = solver.solve(model.cp)
        if status == cp_model.INFEASIBLE and not reached:
            return None
        if status != cp_model.OPTIMAL:
            raise AssertionError(f"the referee ended as {solver.status_name(status)}")
        reached.append(round(solver.objective_value))
        model.cp.add(goal <= reached[-1])
    return tuple(reached)

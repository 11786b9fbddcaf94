"""Plans: every outcome passes the check, the check finds every kind of fault, and the same task gives the same plan."""

from __future__ import annotations

from dataclasses import replace

import pytest
from cutting_tasks import garden_task

from optimizer.cutting import (
    Cut,
    CuttingPlan,
    CuttingTask,
    Demand,
    Limits,
    RollUse,
    Stock,
    check_cutting,
    money_bound,
    solve_cutting,
)

LIMITS = Limits(work=1.0)


@pytest.mark.parametrize("joints", [0, 1, 2])
def test_garden_plans_hold_and_bounds_are_below_them(joints: int) -> None:
    for seed in range(40):
        task = garden_task(seed, joints)
        outcome = solve_cutting(task, LIMITS)
        assert outcome.plan is not None
        assert check_cutting(task, outcome.plan) == ()
        assert outcome.repeatable
        bounds = (outcome.money_bound_ct, outcome.waste_bound_um, outcome.couplers_bound)
        settled = True
        for bound, value in zip(bounds, outcome.plan.goals, strict=True):
            assert (bound is not None) == settled
            settled = settled and bound == value
            assert bound is None or bound <= value
        assert (money_bound(task) or 0) <= outcome.plan.money_ct


def test_joints_never_cost_more() -> None:
    for seed in range(40):
        without, within = solve_cutting(garden_task(seed, 0), LIMITS), solve_cutting(garden_task(seed, 1), LIMITS)
        assert without.plan is not None
        assert within.money_bound_ct is not None
        assert within.money_bound_ct <= without.plan.money_ct


def test_same_task_same_outcome() -> None:
    for seed in range(12):
        task = garden_task(seed, seed % 2)
        assert solve_cutting(task, LIMITS) == solve_cutting(task, LIMITS)


def test_order_of_input_does_not_matter() -> None:
    for seed in range(12):
        task = garden_task(seed, seed % 2)
        turned = replace(task, stocks=task.stocks[::-1], demands=task.demands[::-1])
        assert solve_cutting(task, LIMITS).plan == solve_cutting(turned, LIMITS).plan


def test_equal_stock_under_two_names() -> None:
    stocks = (Stock("b", 10, 5, 1), Stock("a", 10, 5, 1))
    task = CuttingTask(1, stocks, (Demand("x", 10, 2),), 0)
    plan = solve_cutting(task).plan
    assert plan is not None
    assert [(use.stock, use.copy) for use in plan.uses] == [("a", 0), ("b", 0)]


TASK = CuttingTask(10, (Stock("r", 105, 7, 2),), (Demand("d", 4, 3),), 30, 2, 1, 2)
PLAN = CuttingPlan(
    (
        RollUse("r", 0, (Cut("d", 0, 0, 4), Cut("d", 1, 0, 4), Cut("d", 2, 0, 2)), 5),
        RollUse("r", 1, (Cut("d", 2, 1, 2),), 85),
    ),
    16,
    5,
    1,
)


def _with_use(number: int, **changes: object) -> CuttingPlan:
    uses = list(PLAN.uses)
    uses[number] = replace(uses[number], **changes)
    return replace(PLAN, uses=tuple(uses))


def test_a_sound_plan_has_no_faults() -> None:
    assert check_cutting(TASK, PLAN) == ()


@pytest.mark.parametrize(
    ("plan", "fault"),
    [
        (replace(PLAN, money_ct=14), "money is 16"),
        (replace(PLAN, waste_um=0), "waste is 5"),
        (replace(PLAN, couplers=0), "couplers is 1"),
        (replace(PLAN, uses=PLAN.uses[:1]), "gets 2 of 4 units"),
        (_with_use(1, copy=0), "used 2 times"),
        (_with_use(1, copy=2), "no copy 2"),
        (_with_use(1, stock="s"), "not in the task"),
        (_with_use(1, leftover_um=80), "leaves 85 um"),
        (_with_use(1, cuts=()), "not cut"),
        (_with_use(1, cuts=(Cut("d", 2, 0, 2),)), "not numbered"),
        (_with_use(1, cuts=(Cut("e", 2, 1, 2),)), "not wanted"),
        (_with_use(1, cuts=(Cut("d", 2, 1, 1), Cut("d", 2, 2, 1))), "2 joints"),
        (_with_use(1, cuts=(Cut("d", 2, 1, 1), Cut("d", 2, 2, 1))), "part shorter"),
        (_with_use(0, cuts=(Cut("d", 0, 0, 4), Cut("d", 1, 0, 4), Cut("d", 2, 0, 3))), "too short"),
    ],
)
def test_every_fault_is_found(plan: CuttingPlan, fault: str) -> None:
    assert any(fault in found for found in check_cutting(TASK, plan))


def test_nothing_is_printed(capfd: pytest.CaptureFixture[str]) -> None:
    solve_cutting(garden_task(34, 0), LIMITS)
    assert capfd.readouterr() == ("", "")  # solvers print nothing

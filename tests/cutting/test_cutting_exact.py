"""Every claim against full enumeration and against a second solver; neither shares code with the product."""

from __future__ import annotations

import cutting_enumeration as enumeration
import cutting_referee as referee
import pytest
from cutting_tasks import small_task, tiny_task

from optimizer.cutting import CuttingOutcome, CuttingStatus, CuttingTask, check_cutting, money_bound, solve_cutting

Goals = tuple[int, int, int]


def assert_claims_hold(task: CuttingTask, outcome: CuttingOutcome, best: Goals | None) -> None:
    if best is None:
        assert outcome.plan is None
        assert outcome.status is CuttingStatus.IMPOSSIBLE
        return
    assert outcome.status is CuttingStatus.PROVEN_BEST
    assert outcome.plan is not None
    assert check_cutting(task, outcome.plan) == ()
    assert outcome.plan.goals == best
    assert (outcome.money_bound_ct, outcome.waste_bound_um, outcome.couplers_bound) == best
    bound = money_bound(task)
    assert bound is not None
    assert bound <= best[0]


@pytest.mark.parametrize("block", range(10))
def test_agrees_with_enumeration(block: int) -> None:
    for seed in range(60 * block, 60 * block + 60):
        task = tiny_task(seed)
        assert_claims_hold(task, solve_cutting(task), enumeration.best_goals(task))


@pytest.mark.parametrize("block", range(10))
def test_agrees_with_second_solver(block: int) -> None:
    for seed in range(12 * block, 12 * block + 12):
        task = small_task(seed)
        assert_claims_hold(task, solve_cutting(task), referee.best_goals(task))


def test_generated_tasks_cover_every_rule() -> None:
    tasks = [tiny_task(seed) for seed in range(200)]
    best = [enumeration.best_goals(task) for task in tasks]
    assert sum(goals is None for goals in best) > 20
    assert sum(goals is not None and goals[2] > 0 for goals in best) > 20
    assert sum(any(s.owned for s in task.stocks) for task in tasks) > 50
    assert sum(goals is not None and goals[1] > 0 for goals in best) > 50
    without = [solve_cutting(CuttingTask(t.unit_um, t.stocks, t.demands, t.usable_um)) for t in tasks]
    pays = [g is not None and o.plan is not None and g[0] < o.plan.money_ct for g, o in zip(best, without, strict=True)]
    idle = [g is not None and g[2] == 0 and t.joints_per_piece > 0 for g, t in zip(best, tasks, strict=True)]
    assert sum(pays) > 2
    assert sum(idle) > 10

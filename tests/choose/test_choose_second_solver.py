"""Enumeration, the search and one CP-SAT model of everything must give the same optimum; no published source."""

from __future__ import annotations

import pytest
from second_solver import best_goals
from tiny_gardens import garden

from optimizer.choose.designs import choice_set
from optimizer.choose.search import Search, SearchLimits

CASES = (
    ("slope", 0), ("obstacle", 0), ("few outlets", 0), ("joints", 0),
    ("owned pieces", 1), ("small supply", 1), ("ell", 1), ("own zone", 1), ("few outlets", 1), ("burst", 1),
    ("compensating", 1), ("label", 1), ("velocity", 1), ("hollow", 1), ("barrier", 1),
    ("several rolls", 2), ("owned pieces", 2), ("raised", 2), ("burst", 2),
    ("tight variation", 3), ("dear valve", 3), ("blocked bypass", 2),
)  # fmt: skip


@pytest.mark.parametrize(("kind", "seed"), CASES)
def test_second_solver_finds_the_same_optimum(kind, seed):
    scenario = garden(kind, seed)
    found = best_goals(scenario)
    result = Search(choice_set(scenario, scenario.beds[0]), SearchLimits(), None).run()
    goals = result.best.goals if result.best else None
    assert (goals and goals[:4]) == (found and found[:4])
    # The search reads flow variation from interpolated tables.
    assert goals is None or abs(goals.unevenness - found[4]) <= 2

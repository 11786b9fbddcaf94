"""The search against full enumeration by the rules alone, on tiny gardens with a difficulty planted in each.

No published source: the referee lays out, counts, cuts and prices every candidate itself and solves every zone emitter
by emitter. The search reads zones from interpolated tables, so flow variation may differ by 2 hundredths of a per cent.
"""

from __future__ import annotations

from functools import cache

import pytest
from enumeration import Enumeration, Found, Optimum
from tiny_gardens import KINDS, SLOW, garden

from optimizer.choose.designs import choice_set
from optimizer.choose.search import Search, SearchLimits
from optimizer.plan import Status

SEEDS = (0, 1)
CASES = [(kind, seed) for kind in KINDS for seed in SEEDS if (kind, seed) not in SLOW]


@cache
def optimum(kind: str, seed: int) -> Optimum:
    """Return what the referee finds, worked out once."""
    return Enumeration(garden(kind, seed)).optimum()


def searched(scenario):
    """Return the result of the product's search."""
    return Search(choice_set(scenario, scenario.beds[0]), SearchLimits(), None).run()


def agrees(goals, found: Found | None) -> bool:
    """Say whether the goals of the search are those of the referee."""
    if goals is None or found is None:
        return goals is found
    return goals[:4] == found.goals and abs(goals[4] - found.unevenness) <= 2


@pytest.mark.parametrize(("kind", "seed"), CASES)
def test_search_is_as_good_as_full_enumeration(kind, seed):
    best = optimum(kind, seed)
    result = searched(garden(kind, seed))
    goals = result.best.goals if result.best else None
    # A figure on the edge of its limit may be read either way; both answers are the referee's.
    assert agrees(goals, best.strict) or agrees(goals, best.loose)
    assert result.status is (Status.IMPOSSIBLE if goals is None else Status.PROVEN_BEST)
    if goals is not None:
        assert result.bound == goals


def test_few_cases_hang_on_a_figure_on_the_edge():
    """Unless nearly all cases are clear, the comparison above would be soft."""
    clear = [optimum(kind, seed).clear for kind, seed in CASES]
    assert sum(clear) >= 0.95 * len(clear)


def test_what_nothing_can_meet_is_proven_impossible():
    for seed in (0, 1, 5, 7):
        assert optimum("few outlets", seed).loose is None
        result = searched(garden("few outlets", seed))
        assert result.status is Status.IMPOSSIBLE
        assert {reason for reason, _ in result.ruled_out} <= {
            "more zones than the timer has outlets",
            "more flow than the supply gives at working pressure",
        }

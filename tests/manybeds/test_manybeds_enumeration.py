"""The search over several beds against full enumeration, on tiny gardens with a difficulty planted in each.

The referee enumerates, groups, counts, cuts and prices by itself; what it takes over is said in `plot_enumeration`. Of
equally cheap mainline trees, and of equally cheap tubes along them, both look at the one the search keeps: that it is
cheapest and sound is asked for by itself. Zones of both are solved emitter by emitter, so all five goals are compared
exactly.
"""

from __future__ import annotations

from functools import cache

import pytest
from plot_enumeration import Enumeration, Found
from tiny_plots import BY_HAND, KINDS, SLOW, plot

from optimizer.choose.manybeds.search import GardenResult, GardenSearch
from optimizer.choose.search import SearchLimits
from optimizer.plan import Status

SEEDS = (1, 2, 3)
CASES = [(kind, seed) for kind in KINDS if kind not in BY_HAND for seed in SEEDS if (kind, seed) not in SLOW]


@cache
def worked_out(kind: str, seed: int) -> tuple[GardenResult, Enumeration, Found | None]:
    """Return what the search and the referee find, each over a garden of its own."""
    scenario = plot(kind, seed)
    result = GardenSearch(scenario, SearchLimits()).run()
    referee = Enumeration(GardenSearch(scenario, SearchLimits()).garden)
    return result, referee, referee.best()


@pytest.mark.parametrize(("kind", "seed"), CASES)
def test_search_is_as_good_as_full_enumeration(kind, seed):
    result, referee, best = worked_out(kind, seed)
    assert referee.tree_faults == []
    assert referee.size_faults == []
    if best is None:
        assert result.best is None
        assert result.status is Status.IMPOSSIBLE
        return
    assert result.best is not None
    assert tuple(result.best.goals) == best.goals
    assert result.status is Status.PROVEN_BEST
    assert result.bound == result.best.goals


def test_at_least_a_hundred_gardens_are_compared():
    assert len(CASES) >= 100
    assert len({kind for kind, _ in CASES}) == len(KINDS) - len(BY_HAND)

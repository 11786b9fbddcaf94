"""Ctrl-C at any moment of a search over four beds leaves a true result or a clear word that there is none.

The moment is counted in calls of functions of the program, so that a run repeats.
"""

from __future__ import annotations

import heapq
import random
import sys
from functools import cache

import pytest
from plot_enumeration import Enumeration
from tiny_plots import plot

from optimizer.choose.manybeds.search import GardenSearch
from optimizer.choose.search import SearchLimits
from optimizer.plan import Status

KIND, SEED = "four beds", 0


class Interrupter:
    """Counts calls of functions of the program and stops at one of them as Ctrl-C does."""

    def __init__(self, at: int | None = None) -> None:
        self.at, self.calls = at, 0

    def __call__(self, frame, event, argument) -> None:
        if event == "call" and "/optimizer/" in frame.f_code.co_filename:
            self.calls += 1
            if self.calls == self.at:
                sys.setprofile(None)
                raise KeyboardInterrupt

    def over(self, search: GardenSearch):
        """Run a search."""
        sys.setprofile(self)
        try:
            return search.run()
        finally:
            sys.setprofile(None)


@cache
def whole():
    """Return the result of a search that is not stopped, and how many calls it takes before it sums up."""
    search, counted = GardenSearch(plot(KIND, SEED), SearchLimits()), Interrupter()
    result = counted.over(search)
    summed_up = Interrupter()
    sys.setprofile(summed_up)
    search.result()
    sys.setprofile(None)
    return result, counted.calls - summed_up.calls - 1


@pytest.mark.parametrize("moment", range(20))
def test_interrupted_at_a_random_moment(moment):
    best, calls = whole()
    search = GardenSearch(plot(KIND, SEED), SearchLimits())
    result = Interrupter(random.Random(moment).randint(1, calls)).over(search)
    assert search.stopped
    assert not result.repeatable
    assert result.bound is not None
    assert result.bound <= best.best.goals
    if result.best is None:
        assert result.status is Status.NOTHING_FOUND
        return
    assert result.status in (Status.BEST_FOUND, Status.PROVEN_BEST)
    assert (result.status is Status.PROVEN_BEST) == (result.bound == result.best.goals)
    assert result.best.goals >= best.best.goals
    found = Enumeration(search.garden).value(result.best.combination)
    assert found is not None
    assert tuple(result.best.goals) >= found.goals


def _after_taking(search: GardenSearch, turn: int):
    """Run a search that is stopped just when it has taken a set from its queue for the so many-th time."""
    taken = 0

    def watch(frame, event, argument) -> None:
        nonlocal taken
        taken += event == "c_return" and argument is heapq.heappop and frame.f_code is GardenSearch.run.__code__
        if taken == turn:
            sys.setprofile(None)
            raise KeyboardInterrupt

    sys.setprofile(watch)
    try:
        return search.run()
    finally:
        sys.setprofile(None)


def test_interrupted_just_when_a_set_was_taken():
    best, _ = whole()
    for turn in (1, 4):
        result = _after_taking(GardenSearch(plot(KIND, SEED), SearchLimits()), turn)
        assert result.bound is None or result.bound <= best.best.goals


def test_moments_lie_all_over_the_search():
    """Some stop before anything is found and some after."""
    found = []
    for moment in (0.02, 0.999):
        search = GardenSearch(plot(KIND, SEED), SearchLimits())
        found.append(Interrupter(int(moment * whole()[1])).over(search).best is not None)
    assert found == [False, True]

"""Days, starts and minutes of each zone within the allowed windows, one zone after another.

A zone runs the same minutes at the same times on each of its days, as timers do. For every zone each set of allowed
days is a choice; with a set of days goes the least number of runs a day that keeps a run within what the soil takes
and the timer can do. First one set of days is sought for all zones (the fewest runs a week win, then fewer days, less
rounding, shorter pauses, earlier days); if none fits, zones get days of their own, found by searching all choices in
that order. Everything is deterministic. Starts are placed as early as possible.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence

from optimizer.need.demand import SECONDS, Choice, Demand, ZoneTimes, day_sets, longest_gap, zone_choice
from optimizer.need.placing import fits_days, placed
from optimizer.need.timer import Allowance

SEARCH_LIMIT = 3000
"""Steps of the search for days of each zone's own, when no common set of days fits."""


def common_choices(demands: Sequence[Demand], allowance: Allowance) -> list[tuple[Choice, ...]]:
    """Choices with one set of days for all zones, the best first.

    Args:
        demands: of shape (n,)
        allowance: windows and timer
    """
    found = []
    for days in day_sets(allowance.weekdays):
        choices = [zone_choice(demand, allowance, days) for demand in demands]
        known = tuple(choice for choice in choices if choice is not None)
        if len(known) == len(demands):
            late, runs = sum(choice.rank[0] for choice in known), sum(choice.rank[1] for choice in known)
            excess = sum(choice.rank[3] for choice in known)
            found.append(((late, runs, len(days), excess, longest_gap(days), days), known))
    return [known for _, known in sorted(found, key=lambda pair: pair[0])]


def own_choices(demands: Sequence[Demand], allowance: Allowance) -> Iterator[tuple[Choice, ...]]:
    """Choices with days of each zone's own, best first for the zones in order, cut off where a day is overfull.

    The search ends after `SEARCH_LIMIT` steps.

    Args:
        demands: of shape (n,)
        allowance: windows and timer
    """
    options = []
    for demand in demands:
        known = [zone_choice(demand, allowance, days) for days in day_sets(allowance.weekdays)]
        options.append(sorted((c for c in known if c is not None), key=lambda c: c.rank))

    steps = itertools.count()

    def extend(chosen: tuple[Choice, ...]) -> Iterator[tuple[Choice, ...]]:
        if next(steps) > SEARCH_LIMIT or not fits_days(demands[: len(chosen)], chosen, allowance):
            return
        if len(chosen) == len(demands):
            yield chosen
            return
        for option in options[len(chosen)]:
            yield from extend((*chosen, option))

    yield from extend(())


def surely_too_much(demands: Sequence[Demand], allowance: Allowance) -> bool:
    """Whether the sums alone rule a schedule out: more minutes than the week's windows, or more water than allowed.

    Args:
        demands: of shape (n,)
        allowance: windows and volume
    """
    if sum(demand.week_minutes for demand in demands) > allowance.week_minutes + 1e-9:
        return True
    if allowance.volume_per_day_m3 is None:
        return False
    water = sum(demand.week_minutes * SECONDS * demand.flow_m3_s for demand in demands)
    return water > len(allowance.weekdays) * allowance.volume_per_day_m3 * (1.0 + 1e-9)


def arrange(demands: Sequence[Demand], allowance: Allowance) -> tuple[ZoneTimes, ...] | None:
    """Times of all zones that cover their needs, or None if none were found.

    Zones that ask for nothing are left out. The answer covers the need in full and breaks no limit. None is proof of
    impossibility if `surely_too_much`; else it means that no arrangement was found among those searched.

    Args:
        demands: of shape (n,)
        allowance: windows, timer, pause, volume
    """
    asking = [demand for demand in demands if demand.minutes_per_day > 1e-9]
    if not asking:
        return ()
    if surely_too_much(asking, allowance):
        return None
    for choices in common_choices(asking, allowance):
        times = placed(asking, choices, allowance)
        if times is not None:
            return times
    for choices in own_choices(asking, allowance):
        times = placed(asking, choices, allowance)
        if times is not None:
            return times
    return None

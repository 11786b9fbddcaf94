"""Starts of the zones within the windows of each day, one zone after another."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import permutations

from optimizer.need.demand import SECONDS, Choice, Demand, ZoneTimes
from optimizer.need.timer import Allowance

PERMUTED_ZONES = 5
"""Up to this many zones every order is tried when placing starts; above, the given one and the longest first."""


def fits_days(demands: Sequence[Demand], choices: Sequence[Choice], allowance: Allowance) -> bool:
    """Whether the minutes and the water of each day stay within what is allowed.

    Args:
        demands: of shape (n,)
        choices: one for each demand, of shape (n,)
        allowance: windows and volume
    """
    for day in allowance.weekdays:
        today = [(d, c.runs * c.minutes) for d, c in zip(demands, choices, strict=True) if day in c.days]
        if sum(minutes for _, minutes in today) > allowance.day_minutes(day):
            return False
        volume = sum(minutes * SECONDS * demand.flow_m3_s for demand, minutes in today)
        if allowance.volume_per_day_m3 is not None and volume > allowance.volume_per_day_m3 * (1.0 + 1e-9):
            return False
    return True


def earliest_start(
    minutes: int, days: Sequence[int], after: int, allowance: Allowance, taken: Sequence[tuple[int, int, int]]
) -> int | None:
    """Earliest start at which a run lies in a window and clear of other runs on all of its days, or None.

    The earliest start is a window's begin, the end of another run, or `after` itself; only these are tried.

    Args:
        minutes: length of the run [min]
        days: weekdays it runs on
        after: not before this minute of the day [min]
        allowance: windows
        taken: runs there already, as (weekday, start, end)
    """
    moments = {after}
    moments |= {window.start_min for day in days for window in allowance.on(day)}
    moments |= {end for day, _, end in taken if day in days}
    for start in sorted(moment for moment in moments if moment >= after):
        end = start + minutes
        inside = all(any(w.start_min <= start and end <= w.end_min for w in allowance.on(day)) for day in days)
        if inside and not any(day in days and start < until and begin < end for day, begin, until in taken):
            return start
    return None


def place(choices: Sequence[Choice], order: Sequence[int], allowance: Allowance) -> tuple[tuple[int, ...], ...] | None:
    """Starts of each zone, first runs of all zones before second runs, or None if they do not fit in this order.

    Args:
        choices: one for each zone, of shape (n,)
        order: order in which zones are placed, of shape (n,)
        allowance: windows and pause
    """
    starts: list[list[int]] = [[] for _ in choices]
    taken: list[tuple[int, int, int]] = []
    for turn in range(max(choice.runs for choice in choices)):
        for index in order:
            choice = choices[index]
            if turn >= choice.runs:
                continue
            after = starts[index][-1] + choice.minutes + allowance.soak_min if starts[index] else 0
            start = earliest_start(choice.minutes, choice.days, after, allowance, taken)
            if start is None:
                return None
            starts[index].append(start)
            taken += [(day, start, start + choice.minutes) for day in choice.days]
    return tuple(tuple(each) for each in starts)


def orders(choices: Sequence[Choice]) -> Iterator[tuple[int, ...]]:
    """Orders in which zones are placed: as given, longest first, then all if there are few.

    Args:
        choices: one for each zone, of shape (n,)
    """
    given = tuple(range(len(choices)))
    yield given
    yield tuple(sorted(given, key=lambda i: (-choices[i].minutes, i)))
    if len(choices) <= PERMUTED_ZONES:
        yield from permutations(given)


def placed(demands: Sequence[Demand], choices: Sequence[Choice], allowance: Allowance) -> tuple[ZoneTimes, ...] | None:
    """Times of all zones for these choices, or None if they do not fit.

    Args:
        demands: of shape (n,)
        choices: one for each demand, of shape (n,)
        allowance: windows, pause, volume
    """
    if not fits_days(demands, choices, allowance):
        return None
    for order in orders(choices):
        starts = place(choices, order, allowance)
        if starts is not None:
            return tuple(
                ZoneTimes(d.zone, c.days, s, c.minutes, d.week_minutes, d.flow_m3_s, c.rank[0] == 0)
                for d, c, s in zip(demands, choices, starts, strict=True)
            )
    return None

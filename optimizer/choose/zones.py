"""The best split of a design into zones: by money, waste and fittings, then the most even of the equally good."""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass

from optimizer.choose.cutter import UnsettledError
from optimizer.choose.reasons import TIMER_FULL, TUBE_SHORT
from optimizer.choose.runs import Split
from optimizer.choose.splits import NOTHING, SplitGoals, Splits, Walk
from optimizer.cutting import CuttingOutcome

MOST_NODES = 20_000
"""splits looked at in one pass before it gives up its proof"""


class NoZonesError(Exception):
    """The rows cannot be split into zones that hold the limits; carries the reason."""


@dataclass(frozen=True)
class SplitResult:
    """The best split found, and what was proven about it."""

    split: Split
    goals: SplitGoals
    bound: SplitGoals
    unevenness: int
    unevenness_bound: int
    tube: CuttingOutcome


def best_split(splits: Splits, most_zones: int | None) -> SplitResult:
    """Return the best split of a design.

    Args:
        splits: the splits of the design.
        most_zones: greatest number of zones, None for any.

    Raises:
        NoZonesError: no split holds the limits, or the tube of none can be cut.
        UnsettledError: the effort did not settle which.
    """
    most = min(most_zones or splits.places, splits.places)
    best, low, complete = _cheapest(splits, most)
    if best is None:
        raise UnsettledError if splits.unsettled else NoZonesError(_why(splits, most))
    goals, split = best
    split, value, even_bound = _most_even(splits, goals, split)
    bound = goals if complete else min(low, goals)
    return SplitResult(split, goals, bound, value, even_bound, splits.cut_tube(split))


def _why(splits: Splits, most: int) -> str:
    """Return why no split into at most so many zones works."""
    works = [zones for zones in range(1, splits.places + 1) if splits.rest(zones, 0)]
    if not works:
        return splits.table.why
    return TIMER_FULL if works[0] > most else TUBE_SHORT


def _cheapest(splits: Splits, most: int) -> tuple[tuple[SplitGoals, Split] | None, SplitGoals, bool]:
    """Return the best goals and split, a bound on all splits, and whether every split was looked at or ruled out."""
    best: tuple[SplitGoals, Split] | None = None
    low = SplitGoals(0, 0, 0)
    complete = True
    bounds: list[SplitGoals] = []
    for zones in range(1, most + 1):
        if best is not None and splits.hopeless_from(zones, best[0]):
            break
        bound = splits.bound(NOTHING, 0, zones, 0)
        if bound is None:
            continue
        bounds.append(bound)
        pass_ = Walk(MOST_NODES)
        best = _improve(splits, zones, pass_, best)
        complete &= not pass_.spent
    if bounds:
        low = min(bounds)
    return best, low, complete and not splits.unsettled


def _improve(
    splits: Splits, zones: int, pass_: Walk, best: tuple[SplitGoals, Split] | None
) -> tuple[SplitGoals, Split] | None:
    found = [best] if best is not None else []
    for split in splits.walk(zones, pass_, lambda bound: not found or bound < found[-1][0]):
        hoped = splits.at_best(split)
        if hoped is None or (found and hoped >= found[-1][0]) or not splits.table.holds(split):
            continue
        value = splits.value(split)
        if value is not None and (not found or value < found[-1][0]):
            found.append((value, split))
    return found[-1] if found else None


def _most_even(splits: Splits, goals: SplitGoals, split: Split) -> tuple[Split, int, int]:
    """Return the most even split with these goals, its flow variation and the proven bound of that."""
    value = splits.table.unevenness(split)
    if len(split) == len(splits.headers):
        return split, value, value
    variation = splits.table.variations
    steps = sorted({item for item in variation.values() if item < value})
    low, high = 0, len(steps)
    while low < high:
        middle = (low + high) // 2
        most = steps[middle]
        pass_ = Walk(MOST_NODES, lambda run, most=most: variation.get(run, most + 1) <= most)  # type: ignore[misc]
        found = _equal(splits, goals, len(split), pass_)
        if found is not None:
            split, value = found, max(variation[run] for run in found)
            high = bisect_left(steps, value)
        elif pass_.spent:
            return split, value, steps[low]
        else:
            low = middle + 1
    return split, value, value


def _equal(splits: Splits, goals: SplitGoals, zones: int, pass_: Walk) -> Split | None:
    for split in splits.walk(zones, pass_, lambda bound: bound <= goals):
        hoped = splits.at_best(split)
        if hoped is not None and hoped <= goals and splits.table.holds(split) and splits.value(split) == goals:
            return split
    return None

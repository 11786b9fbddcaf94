"""Lower bounds on money that need no linear program: price of stock that can hold a weighted sum of all pieces.

Give every piece a weight (its length, or one for each piece longer than half a roll, ...). A roll can hold at most a
certain weight, found by a knapsack; the rolls bought must together hold the weight of all pieces. Any weights give a
valid bound: the piece lengths give the material bound, the others are dual feasible functions
(Lueker 1983; Fekete and Schepers 2001, "New classes of fast lower bounds for bin packing problems").
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from optimizer.cutting.core import Core


def cheapest_cover(
    capacities: Sequence[int], prices: Sequence[int], available: Sequence[int | None], need: int
) -> int | None:
    """Least price of stock whose capacities add up to `need`; None if all stock together does not.

    Args:
        capacities: What one of each holds [-].
        prices: Price of one of each [ct].
        available: How many of each can be had; None for as many as wanted [-].
        need: What must be held [-].
    """
    counts = cheapest_cover_counts(capacities, prices, available, need)
    return None if counts is None else sum(n * price for n, price in zip(counts, prices, strict=True))


def cheapest_cover_counts(
    capacities: Sequence[int], prices: Sequence[int], available: Sequence[int | None], need: int
) -> tuple[int, ...] | None:
    """How many of each to take in a cheapest cover of `need`; None if all stock together does not cover it.

    Args:
        capacities: What one of each holds [-].
        prices: Price of one of each [ct].
        available: How many of each can be had; None for as many as wanted [-].
        need: What must be held [-].
    """
    order = sorted(
        (i for i, c in enumerate(capacities) if c > 0), key=lambda i: (prices[i] / capacities[i], -capacities[i])
    )
    most = [_most(available[i], capacities[i], need) for i in order]
    best_price: int | None = None
    best: list[int] = []
    stack: list[tuple[int, int, int, list[int]]] = [(0, need, 0, [])]
    while stack:
        depth, rest, price, taken = stack.pop()
        if rest <= 0:
            if best_price is None or price < best_price:
                best_price, best = price, taken
            continue
        if depth == len(order):
            continue
        i = order[depth]
        if best_price is not None and (best_price - price) * capacities[i] <= rest * prices[i]:
            continue  # even at this price per length, the best still open, nothing cheaper remains
        enough = min(most[depth], -(-rest // capacities[i]))
        choices = range(enough + 1) if prices[i] else (enough,)  # what is free is taken
        stack.extend((depth + 1, rest - n * capacities[i], price + n * prices[i], [*taken, n]) for n in choices)
    if best_price is None:
        return None
    counts = [0] * len(capacities)
    for i, n in zip(order, best, strict=False):
        counts[i] = n
    return tuple(counts)


def _most(available: int | None, capacity: int, need: int) -> int:
    enough = max(0, -(-need // capacity))
    return enough if available is None else min(available, enough)


def weighted_cover(core: Core, weights: Sequence[int]) -> int | None:
    """Least price of rolls that can hold all pieces by the given weights; None if no stock can.

    Valid for bins of one roll each.

    Args:
        core: Pieces and rolls.
        weights: Weight of each piece size, not negative [-].
    """
    need = sum(w * n for w, n in zip(weights, core.counts, strict=True))
    holds = most_weight(core, weights)
    stock = core.stock
    return cheapest_cover(
        [holds[c.capacity] for c in stock], [c.price_ct for c in stock], [c.available for c in stock], need
    )


def most_weight(core: Core, weights: Sequence[int]) -> dict[int, int]:
    """Most weight a roll can hold, for each roll capacity.

    Args:
        core: Pieces and rolls.
        weights: Weight of each piece size [-].
    """
    longest = max(c.capacity for c in core.stock)
    best = np.zeros(longest + 1, dtype=np.int64)
    for size, count, weight in zip(core.sizes, core.counts, weights, strict=True):
        for copies in chunks(min(count, longest // size)):
            step = copies * size
            best[step:] = np.maximum(best[step:], best[: longest + 1 - step] + copies * weight)
    return {c.capacity: int(best[c.capacity]) for c in core.stock}


def chunks(count: int) -> list[int]:
    """Split a count into parts whose partial sums give every number up to it (1, 2, 4, ..., rest).

    Args:
        count: Number to split [-].
    """
    parts = []
    size = 1
    while count > 0:
        parts.append(min(size, count))
        count -= parts[-1]
        size *= 2
    return parts


def material_cover(core: Core) -> int | None:
    """Least price of stock at least as long as all pieces together; None if all stock is shorter. Valid with joints.

    Args:
        core: Pieces and rolls.
    """
    stock = core.stock
    return cheapest_cover(
        [c.capacity for c in stock], [c.price_ct for c in stock], [c.available for c in stock], core.total
    )


def single_roll_bound(core: Core) -> int | None:
    """Best of several weighted covers for bins of one roll each; None if they prove that the stock is too small.

    Args:
        core: Pieces and rolls.
    """
    bound = 0
    for weights in _weight_families(core):
        price = weighted_cover(core, weights)
        if price is None:
            return None
        bound = max(bound, price)
    return bound


def _weight_families(core: Core) -> list[tuple[int, ...]]:
    """Lengths; one for each piece longer than 1/k of a roll; and lengths rounded down to k-ths of a roll."""
    families = [core.sizes]
    for capacity in sorted({c.capacity for c in core.stock}):
        for k in (2, 3, 4):
            families.append(tuple(int(size * k > capacity) for size in core.sizes))
            families.append(tuple((size * (k + 1) - 1) // capacity for size in core.sizes))
        families.append(tuple(2 * (2 * size > capacity) + (2 * size == capacity) for size in core.sizes))
    return sorted({f for f in families if any(f)}, reverse=True)

"""Cutting an order of things into neighbours that belong together."""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple


class Cut(NamedTuple):
    """Zones cut from an order: sum of their first prices, how many, greatest of their second, and their ends."""

    total: int
    zones: int
    greatest: int
    cuts: tuple[tuple[int, int], ...]


def best_cuts(reach: list[int], price: Callable[[int, int], tuple[int, int]], most: int | None) -> dict[int, Cut]:
    """Return for each number of zones the cuts with the least sum of first prices, then the least greatest second.

    Args:
        reach: behind which place a zone that starts at each place must end.
        price: two prices of a zone from a start to an end.
        most: greatest number of zones.
    """
    last = len(reach)
    best: dict[tuple[int, int], Cut] = {(0, 0): Cut(0, 0, 0, ())}
    for count in range(last if most is None else min(most, last)):
        for start in range(last):
            if (count, start) in best:
                known = best[count, start]
                for end in range(start + 1, reach[start] + 1):
                    own, size = price(start, end)
                    cuts = (*known.cuts, (start, end))
                    found = Cut(known.total + own, count + 1, max(known.greatest, size), cuts)
                    best[count + 1, end] = min(best.get((count + 1, end), found), found)
    return {count: cut for (count, end), cut in best.items() if end == last}

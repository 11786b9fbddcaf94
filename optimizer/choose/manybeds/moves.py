"""Zones made better by moving one block at a time, by rough prices of their mainline."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from optimizer.choose.manybeds.gaps import BlockGroups
from optimizer.choose.manybeds.rough import RoughTrees

MOST_MOVES = 12
"""moves of which each step compares the price, the cheapest to enter first"""

_ROUNDING = 1e-9


def moved(rough: RoughTrees, groups: BlockGroups, flows_m3_s: Sequence[float], room_m3_s: float) -> BlockGroups:
    """Return groups after all moves that bring zones within their flow, or cost less mainline.

    Args:
        rough: rough prices.
        groups: blocks of each zone.
        flows_m3_s: flow of each block at least.
        room_m3_s: greatest flow of a zone.
    """

    def rank(some: BlockGroups) -> tuple[float, int]:
        over = sum(max(sum(flows_m3_s[block] for block in group) / room_m3_s - 1.0, 0.0) for group in some)
        return (over if over > _ROUNDING else 0.0), rough.cost_mct(some)

    best, known = groups, rank(groups)
    while True:
        found = min(((rank(each), each) for each in _moves(rough, best)), default=(known, best))
        if found[0] >= known:
            return best
        known, best = found


def _moves(rough: RoughTrees, groups: BlockGroups) -> Iterator[BlockGroups]:
    """Yield groups with one block moved, those first that enter another group cheapest."""
    moves = sorted(
        (rough.entering_mct(block, other), block, start, end)
        for start, group in enumerate(groups)
        for block in group
        for end, other in enumerate(groups)
        if start != end and len(group) > 1
    )
    for _, block, start, end in moves[:MOST_MOVES]:
        new = list(groups)
        new[start] = tuple(other for other in groups[start] if other != block)
        new[end] = tuple(sorted((*groups[end], block)))
        yield tuple(new)

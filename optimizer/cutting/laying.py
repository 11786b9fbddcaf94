"""Lay the pieces of a chain over its rolls so that every part is long enough and no piece has too many joints."""

from __future__ import annotations

from bisect import bisect_right
from itertools import accumulate, pairwise

from optimizer.cutting.assemble import Laid
from optimizer.cutting.chains import leftover_spreads
from optimizer.cutting.core import Core, Pattern
from optimizer.cutting.model import CuttingTask

_STEPS_PER_CHAIN = 20_000


def lay_packing(task: CuttingTask, core: Core, packing: list[Pattern]) -> tuple[list[Laid], list[int]] | None:
    """Lay every chain; None if one could not be laid.

    Args:
        task: Rules of joints.
        core: Pieces and chains.
        packing: One pattern per chain.
    """
    laid: list[Laid] = []
    lengths: list[int] = []
    for pattern in sorted(packing, key=lambda p: (p[0], [-n for n in p[1]])):
        rolls = _lay_chain(task, core, pattern)
        if rolls is None:
            return None
        order, spread = rolls
        laid += _cut_up(core, order, spread, len(lengths))
        lengths += [core.sizes[i] for i in order]
    return sorted(laid, key=lambda roll: roll.stock), lengths


def _lay_chain(task: CuttingTask, core: Core, pattern: Pattern) -> tuple[list[int], tuple[tuple[int, int], ...]] | None:
    for spread in leftover_spreads(core, core.bins[pattern[0]], core.used(pattern)):
        ends = list(accumulate(units for _, units in spread))
        order = _piece_order(task, core, pattern[1], ends)
        if order is not None:
            return order, spread
    return None


def _piece_order(task: CuttingTask, core: Core, counts: tuple[int, ...], ends: list[int]) -> list[int] | None:
    """Depth-first order of pieces, long ones first, in which every crossing of a roll's end is a joint that may be."""
    left = list(counts)
    order: list[int] = []
    at = 0
    tried: list[int] = [0]
    dead: set[tuple[int, ...]] = set()
    for _ in range(_STEPS_PER_CHAIN):
        if at == ends[-1]:
            return order
        i = tried[-1]
        while i < len(left) and not (left[i] and _may_lie(task, ends, at, at + core.sizes[i])):
            i += 1
        if i < len(left):
            tried[-1] = i + 1
            left[i] -= 1
            if tuple(left) in dead:
                left[i] += 1
                continue
            order.append(i)
            at += core.sizes[i]
            tried.append(0)
            continue
        dead.add(tuple(left))
        tried.pop()
        if not order:
            return None
        at -= core.sizes[order[-1]]
        left[order.pop()] += 1
    return None


def _may_lie(task: CuttingTask, ends: list[int], start: int, stop: int) -> bool:
    """Whether a piece from `start` to `stop` has few enough joints and long enough parts."""
    first = bisect_right(ends, start)
    last = bisect_right(ends, stop - 1)
    if last >= len(ends) or last - first > task.joints_per_piece:
        return False
    marks = [start, *ends[first:last], stop]
    parts = [b - a for a, b in pairwise(marks)]
    return len(parts) == 1 or min(parts) >= task.least_part_units


def _cut_up(core: Core, order: list[int], spread: tuple[tuple[int, int], ...], number: int) -> list[Laid]:
    """Cut the row of pieces at the ends of the rolls."""
    rolls, queue = [], [(number + j, core.sizes[i]) for j, i in enumerate(order)]
    queue.reverse()
    for stock, units in spread:
        parts = []
        while units and queue:
            piece, length = queue.pop()
            part = min(length, units)
            parts.append((piece, part))
            units -= part
            if part < length:
                queue.append((piece, length - part))
        rolls.append(Laid(stock, tuple(parts)))
    return rolls

"""One goal solved to proof: incumbent, column generation, rounding, then the arc-flow model of the gap that is left."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

import numpy as np

from optimizer.cutting.arcflow import arcs_within, solve_arcs
from optimizer.cutting.chains import roll_choices
from optimizer.cutting.columns import Master, Relaxed, generate_columns
from optimizer.cutting.core import Core, Pattern
from optimizer.cutting.goal import MONEY, WASTE, Goal
from optimizer.cutting.greedy import better
from optimizer.cutting.waste_fill import fill_with_little_waste
from optimizer.cutting.work import Work

_MOST_ARCS = 60_000  # beyond this the arc-flow model has not been seen to end
_ARCS_PER_WORK = 1_000
_FEW_PIECES = 150  # above this, filling rolls again and again takes longer than the exact search
_MOST_CHOICES = 2_000
_CHOICES_TRIED = 12
_SAME_MONEY_TRIED = 3
Quick = Callable[[Core], Iterator[list[Pattern]]]  # packings found without search


@dataclass(frozen=True)
class Reached:
    """Where one goal stands.

    Args:
        packing: Best packing; None if none is known.
        bound: No packing is below this, in units of the goal; None if proven that there is no packing at all.
        method: What proved the bound.
    """

    packing: list[Pattern] | None
    bound: int | None
    method: str


def reach(
    goal: Goal,
    packing: list[Pattern] | None,
    bound: int,
    known: list[Pattern],
    quick: Quick,
    work: Work,
    ceiling: int | None = None,
) -> Reached:
    """Minimise one goal.

    Args:
        goal: What is minimised and held.
        packing: Best packing known that keeps the goal's rows.
        bound: Bound already proven, in units of the goal.
        known: Patterns to start from.
        quick: Packs what rounding leaves over.
        work: Limits.
        ceiling: Packings above this are of no interest, in units of the goal; None for no such limit.
    """
    floor = -(-bound // goal.step)
    if packing is not None and goal.value(packing) == floor:
        return Reached(packing, bound, "cover bound")
    packing = _with_less_waste(goal, packing, work)
    if packing is not None and goal.value(packing) == floor:
        return Reached(packing, bound, "cover bound")
    master = Master(goal, sum(goal.core.counts))
    master.add(known + (packing or []))
    uppers = [] if packing is None else [goal.value(packing)]
    uppers += [] if ceiling is None else [ceiling // goal.step + 1]
    relaxed = generate_columns(master, work, min(uppers, default=None))
    if relaxed.bound > _worst(goal):
        return Reached(None, None, "linear program of all patterns")
    floor = max(floor, relaxed.bound)
    for candidate in rounded_packings(goal, master, relaxed, quick):
        if goal.allows(candidate) and (packing is None or goal.core.goals(candidate) < goal.core.goals(packing)):
            packing = candidate
    packing = _with_cheaper_rolls(goal, packing, floor, work)
    if packing is not None and goal.value(packing) <= floor:
        return Reached(packing, floor * goal.step, "linear program of all patterns")
    return _close_gap(goal, packing, floor, relaxed, min(uppers, default=_worst(goal) + 1), work)


def _with_less_waste(goal: Goal, packing: list[Pattern] | None, work: Work) -> list[Pattern] | None:
    """Try to fill the same bins with less waste, and the same bins with the owned pieces not used yet."""
    if packing is None or goal.index != WASTE:
        return packing
    bins = [p[0] for p in packing]
    tries = [bins, bins + _unused_owned(goal.core, packing), *_same_money(goal.core, packing)]
    for rolls in dict.fromkeys(tuple(t) for t in tries):
        if goal.value(packing) == 0:
            break
        other = fill_with_little_waste(goal.core, list(rolls), work.limits.seed)
        if other is not None and goal.allows(other):
            packing = min(packing, other, key=goal.core.goals)
    return packing


def _same_money(core: Core, packing: list[Pattern]) -> list[list[int]]:
    """Other choices of rolls, unjoined, that cost the same."""
    index = {b.rolls: i for i, b in enumerate(core.bins)}
    alone = [index.get(tuple(int(j == k) for j in range(len(core.stock)))) for k in range(len(core.stock))]
    money = core.goals(packing)[MONEY]
    choices = _choices_between(core, money, money)[:_SAME_MONEY_TRIED]
    return [[b for k, n in enumerate(rolls) if (b := alone[k]) is not None for _ in range(n)] for rolls in choices]


def _with_cheaper_rolls(goal: Goal, packing: list[Pattern] | None, floor: int, work: Work) -> list[Pattern] | None:
    """Try to fill each choice of single rolls whose price lies between the bound and the best packing."""
    core = goal.core
    singles = len(core.bins) == len(core.stock) > 1  # with one kind of roll, more tries of the same rolls gain little
    if packing is None or goal.index != MONEY or not singles or sum(core.counts) > _FEW_PIECES:
        return packing
    for rolls in _choices_between(core, floor * goal.step, core.goals(packing)[MONEY] - 1):
        bins = [k for k, n in enumerate(rolls) for _ in range(n)]
        found = fill_with_little_waste(core, bins, work.limits.seed)
        if found is not None:
            return found
    return packing


def _choices_between(core: Core, least_ct: int, most_ct: int) -> list[tuple[int, ...]]:
    """Rolls long enough for all pieces within a range of prices, cheapest first, longest first among equals."""
    priced = []
    for rolls in roll_choices(core, most_ct, 0, _MOST_CHOICES, core.total) or ():
        price = sum(n * c.price_ct for n, c in zip(rolls, core.stock, strict=True))
        length = sum(n * c.capacity for n, c in zip(rolls, core.stock, strict=True))
        if price >= least_ct and length >= core.total:
            priced.append((price, -length, rolls))
    return [rolls for _, _, rolls in sorted(priced)[:_CHOICES_TRIED]]


def _unused_owned(core: Core, packing: list[Pattern]) -> list[int]:
    """Bins of one owned piece each that a packing leaves unused."""
    index = {b.rolls: i for i, b in enumerate(core.bins)}
    unused: list[int] = []
    for k, c in enumerate(core.stock):
        alone = index.get(tuple(int(j == k) for j in range(len(core.stock))))
        if c.owned and alone is not None:
            used = sum(core.bins[p[0]].rolls[k] for p in packing)
            unused += [alone] * ((c.available or 0) - used)
    return unused


def _close_gap(
    goal: Goal, packing: list[Pattern] | None, floor: int, relaxed: Relaxed, upper: int, work: Work
) -> Reached:
    """Aim at the bound first, then at ever larger values, each time with only the arcs that could reach it."""
    upper = upper if packing is None else min(upper, goal.value(packing))
    most_bins, reach_out = sum(goal.core.counts), 0
    while floor < upper and not work.spent:
        target = min(floor + reach_out, upper - 1)
        arcs = arcs_within(goal, relaxed.prices, relaxed.knapsack, most_bins, target)
        if len(arcs) > min(_MOST_ARCS, _ARCS_PER_WORK * work.left):
            break
        flowed = solve_arcs(goal, arcs, floor, target, work)
        if flowed.packing is not None:
            packing, upper = flowed.packing, goal.value(flowed.packing)
        if not flowed.complete:
            break
        floor = target + 1 if flowed.bound is None else flowed.bound
        reach_out = 2 * reach_out + 1
    if packing is None and floor > _worst(goal):
        return Reached(None, None, "arc flow")
    return Reached(packing, min(floor, upper) * goal.step, "arc flow")


def _worst(goal: Goal) -> int:
    """Value no solution of whole pieces exceeds: every piece in a bin of its own, the worst."""
    return sum(goal.core.counts) * int(goal.sink_costs.max())


def rounded_packings(goal: Goal, master: Master, relaxed: Relaxed, quick: Quick) -> Iterator[list[Pattern]]:
    """Packings near the linear program: its whole part, more or less of its fractions, and the rest packed quickly.

    Args:
        goal: What is minimised and held.
        master: Patterns.
        relaxed: Their values.
        quick: Packs what is left over.
    """
    order = np.argsort(-relaxed.values, kind="stable")
    order = order[relaxed.values[order] > 1e-6]
    for threshold in (0.95, 0.75, 0.5, 0.25, 0.02):
        left = list(goal.core.counts)
        packing: list[Pattern] = []
        for j in order:
            copies = int(relaxed.values[j] + 1 - threshold)
            _take(master.patterns[j], copies, left, packing)
        rest = _rest(goal.core, left, packing)
        if rest is None:
            yield packing
        elif rest.stock:
            tail = better(rest, quick(rest))
            if tail is not None:
                yield packing + [(bin_, _spread(goal.core, left, counts)) for bin_, counts in tail]


def _take(pattern: Pattern, copies: int, left: list[int], packing: list[Pattern]) -> None:
    for _ in range(copies):
        if any(n > available for n, available in zip(pattern[1], left, strict=True)):
            return
        for i, n in enumerate(pattern[1]):
            left[i] -= n
        packing.append(pattern)


def _rest(core: Core, left: list[int], packing: list[Pattern]) -> Core | None:
    """Core of the pieces still to be packed; None if there are none."""
    kept = [i for i, n in enumerate(left) if n]
    if not kept:
        return None
    used = [sum(core.bins[p[0]].rolls[k] for p in packing) for k in range(len(core.stock))]
    stock = tuple(
        c if c.available is None else replace(c, available=max(0, c.available - n))
        for c, n in zip(core.stock, used, strict=True)
    )
    sizes = tuple(core.sizes[i] for i in kept)
    return replace(core, sizes=sizes, counts=tuple(left[i] for i in kept), stock=stock)


def _spread(core: Core, left: list[int], counts: tuple[int, ...]) -> tuple[int, ...]:
    kept = iter(counts)
    return tuple(next(kept) if n else 0 for n in left)

"""Rolls laid end to end: every chain worth having as a bin, and quick packings into chains."""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import replace
from itertools import islice

from optimizer.cutting.core import Bin, Core, Pattern, make_bin, whole_unit_core
from optimizer.cutting.cover import cheapest_cover_counts
from optimizer.cutting.greedy import fullest
from optimizer.cutting.model import CuttingTask

_TRIES = 12


def chain_core(task: CuttingTask, upper_ct: int, most_chains: int) -> tuple[Core, bool]:
    """Core whose bins are all chains of at most a given price, and whether it really holds all.

    If there are too many, only chains of few rolls are kept; then plans are plans, but bounds are none.

    Args:
        task: What was asked.
        upper_ct: Price a chain must not exceed [ct].
        most_chains: How many chains may be listed [-].
    """
    core = whole_unit_core(task)
    for most_rolls in (core.total, 6, 5, 4, 3, 2, 1):
        multisets = roll_choices(core, upper_ct, task.coupler_ct, most_chains, most_rolls)
        if multisets is not None:
            return _with_chains(core, multisets), most_rolls == core.total
    return single_roll_bins(core), False


def _with_chains(core: Core, multisets: list[tuple[int, ...]]) -> Core:
    bins = (make_bin(core.unit_um, core.usable_um, core.coupler_ct, core.stock, rolls) for rolls in multisets)
    return replace(core, bins=tuple(sorted(bins, key=lambda b: (sum(b.rolls), b.money_ct, b.capacity, b.rolls))))


def roll_choices(core: Core, upper_ct: int, joint_ct: int, most: int, most_rolls: int) -> list[tuple[int, ...]] | None:
    """All choices of rolls, how many of each class, that cost no more than a limit; None if there are too many.

    Args:
        core: Pieces and stock.
        upper_ct: Price not to be exceeded [ct].
        joint_ct: Price of joining two of the rolls [ct].
        most: How many choices may be listed [-].
        most_rolls: How many rolls a choice may have [-].
    """
    found: list[tuple[int, ...]] = [()]
    for c in core.stock:
        dearest = c.price_ct + joint_ct
        count = core.total if c.available is None else c.available
        if dearest:
            count = min(count, (upper_ct + joint_ct) // dearest)
        grown = ((*rolls, n) for rolls in found for n in range(count + 1))
        within = (r for r in grown if _price(core, r, joint_ct) <= upper_ct and sum(r) <= most_rolls)
        found = list(islice(within, most + 1))
        if len(found) > most:
            return None
    return [rolls for rolls in found if any(rolls)]


def _price(core: Core, rolls: tuple[int, ...], joint_ct: int) -> int:
    bought = sum(n * c.price_ct for n, c in zip(rolls, core.stock, strict=False))
    return bought + joint_ct * max(0, sum(rolls) - 1)


def quick_chain_packings(core: Core) -> Iterator[list[Pattern]]:
    """Yield packings into chains over the cheapest stock that is long enough, and over slightly more of it.

    Args:
        core: Pieces and chains.
    """
    index = {b.rolls: i for i, b in enumerate(core.bins)}
    stock = core.stock
    caps, prices = [c.capacity for c in stock], [c.price_ct for c in stock]
    need = core.total
    for _ in range(3):
        counts = cheapest_cover_counts(caps, prices, [c.available for c in stock], need)
        if counts is None:
            return
        if counts in index:
            yield [(index[counts], core.counts)]
        rng = random.Random(len(core.sizes))
        for _ in range(_TRIES):
            packing = _chained(core, index, counts, rng)
            if packing is not None:
                yield packing
        need = sum(n * cap for n, cap in zip(counts, caps, strict=True)) + 1


def _chained(
    core: Core, index: dict[tuple[int, ...], int], counts: tuple[int, ...], rng: random.Random
) -> list[Pattern] | None:
    """Close a chain as soon as it is filled well enough, else lengthen it; the last takes what is left."""
    rolls = [k for k, n in enumerate(counts) for _ in range(n)]
    rng.shuffle(rolls)
    spare = sum(core.stock[k].capacity for k in rolls) - core.total
    generous = rng.choice((0.0, 0.5, 1.0, 2.0))
    left = list(core.counts)
    packing: list[Pattern] = []
    while rolls and any(left):
        chain, taken, lost = _next_chain(core, rolls, left, spare, generous)
        rolls = rolls[len(chain) :]
        spare -= lost
        left = [n - t for n, t in zip(left, taken, strict=True)]
        key = tuple(chain.count(k) for k in range(len(core.stock)))
        if key not in index:
            return None
        if any(taken):
            packing.append((index[key], tuple(taken)))
    return None if any(left) else packing


def _next_chain(
    core: Core, rolls: list[int], left: list[int], spare: int, generous: float
) -> tuple[list[int], list[int], int]:
    capacity = 0
    for length in range(1, len(rolls) + 1):
        capacity += core.stock[rolls[length - 1]].capacity
        taken = fullest(core.sizes, left, capacity)
        lost = capacity - sum(size * n for size, n in zip(core.sizes, taken, strict=True))
        allowed = spare if length == len(rolls) else generous * spare * length / len(rolls)
        if lost <= min(spare, allowed):
            return rolls[:length], taken, lost
    return rolls, left.copy(), 0


def leftover_spreads(core: Core, bin_: Bin, used: int) -> list[tuple[tuple[int, int], ...]]:
    """Ways to give each roll of a chain the units it uses so that the chain wastes least: (stock class, units) each.

    Args:
        core: Stock.
        bin_: The chain.
        used: Units cut from all of it [-].
    """
    rolls = [k for k, n in enumerate(bin_.rolls) for _ in range(n)]
    spare = bin_.capacity - used
    usable = _usable_rolls(core, rolls, spare)
    spreads = []
    for order in _orders(core, rolls):
        chosen = {k: usable.count(k) for k in usable}
        spread = _spread_over(core, order, chosen, spare)
        if spread is not None:
            spreads += [spread, (*spread[1:], spread[0]), spread[::-1]]
    return list(dict.fromkeys(spreads))


def _orders(core: Core, rolls: list[int]) -> list[tuple[int, ...]]:
    """Short rolls at both ends first, as a piece may cross few joints; then long rolls first, then short ones first."""
    rising = sorted(rolls, key=lambda k: (core.stock[k].capacity, k))
    ends = rising[0::2] + rising[1::2][::-1]
    return list(dict.fromkeys((tuple(ends), tuple(reversed(rising)), tuple(rising), tuple(rolls))))


def _spare_for(core: Core, k: int) -> int:
    remainder = core.stock[k].length_um % core.unit_um
    return max(0, -((remainder - core.usable_um) // core.unit_um))


def _usable_rolls(core: Core, rolls: list[int], spare: int) -> tuple[int, ...]:
    """Rolls whose leftovers are made usable offcuts: those that save most waste within the spare units."""
    best: dict[int, tuple[int, bool, tuple[int, ...]]] = {0: (0, False, ())}
    for k in rolls:
        remainder = core.stock[k].length_um % core.unit_um
        for units, (saved, _, chosen) in sorted(best.items(), reverse=True):
            grown = (saved + remainder, True, (*chosen, k))
            at = units + _spare_for(core, k)
            if at <= spare and (at not in best or best[at][:2] < grown[:2]):
                best[at] = grown
    return max(best.values(), key=lambda entry: (entry[1], entry[0], -len(entry[2])))[2]


def _spread_over(
    core: Core, order: tuple[int, ...], usable: dict[int, int], spare: int
) -> tuple[tuple[int, int], ...] | None:
    """Take the spare units from the usable rolls (from the last roll if none is), leaving each roll some use."""
    units = [core.stock[k].capacity for k in order]
    takers = []
    for j in reversed(range(len(order))):
        if usable.get(order[j], 0):
            usable[order[j]] -= 1
            takers.append(j)
            units[j] -= _spare_for(core, order[j])
            spare -= _spare_for(core, order[j])
    for j in takers or [len(order) - 1]:
        taken = min(spare, units[j] - 1)
        units[j] -= taken
        spare -= taken
    if spare or any(n < 1 for n in units):
        return None
    return tuple(zip(order, units, strict=True))


def single_roll_packings(core: Core, packings: Iterator[list[Pattern]]) -> Iterator[list[Pattern]]:
    """Packings of single rolls, whose bins are stock classes, as packings into chains of one.

    Args:
        core: Pieces and chains.
        packings: Packings whose bins are stock classes.
    """
    index = {b.rolls: i for i, b in enumerate(core.bins)}
    count = len(core.stock)
    one = [index.get(tuple(int(j == k) for j in range(count))) for k in range(count)]
    for packing in packings:
        chained = [(one[k], counts) for k, counts in packing]
        if all(k is not None for k, _ in chained):
            yield [(k, counts) for k, counts in chained if k is not None]


def single_roll_bins(core: Core) -> Core:
    """The same pieces and stock with a bin per stock class.

    Args:
        core: Pieces and chains.
    """
    count = len(core.stock)
    ones = [tuple(int(j == k) for j in range(count)) for k in range(count)]
    bins = tuple(make_bin(core.unit_um, core.usable_um, core.coupler_ct, core.stock, rolls) for rolls in ones)
    return replace(core, bins=bins)

"""Cutting by brute force: sets of rolls and numbers of joints in the order of their money, every way to lay the pieces.

Written apart from the product's cutting: nothing of it is called here.
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from itertools import pairwise, permutations

Cut = tuple[int, int, int]  # money [ct], waste [um], couplers


@dataclass(frozen=True)
class Stock:
    """What pieces of one product are cut from, and how."""

    unit_um: int
    rolls: tuple[tuple[int, int, int | None], ...]
    """(length [um], price [ct], how many can be had) of each kind of roll"""
    owned: tuple[int, ...]
    """lengths of the pieces already there [um]"""
    usable_um: int
    coupler_ct: int
    joints: int
    least_part: int


def roll_sets(stock: Stock, units: int) -> Iterator[tuple[int, tuple[int, ...]]]:
    """Yield (price, count of each kind) of sets of rolls, cheapest first.

    Two rolls of a kind that are both at most half full are one roll, so no set has many more rolls than it fills.
    """
    most = []
    for length, _, available in stock.rolls:
        enough = 2 * units * stock.unit_um // length + 1
        most.append(enough if available is None else min(available, enough))
    start = (0,) * len(stock.rolls)
    heap, seen = [(0, start)], {start}
    while heap:
        price, counts = heapq.heappop(heap)
        yield price, counts
        for kind, (_, each, _) in enumerate(stock.rolls):
            grown = (*counts[:kind], counts[kind] + 1, *counts[kind + 1 :])
            if grown[kind] <= most[kind] and grown not in seen:
                seen.add(grown)
                heapq.heappush(heap, (price + each, grown))


@cache
def best_cut(stock: Stock, pieces: tuple[int, ...]) -> Cut | None:
    """Return the least money, then waste, then couplers for pieces given in whole units; None if impossible."""
    best: Cut | None = None
    for money, counts, joints in _attempts(stock, pieces):
        if best is not None and money > best[0]:
            break
        bins = _bins(stock, counts)
        for filled, couplers in _laid(stock, pieces, bins, joints).items():
            found = _figures(stock, counts, bins, filled, couplers)
            if best is None or found < best:
                best = found
    return best


def _attempts(stock: Stock, pieces: tuple[int, ...]) -> Iterator[tuple[int, tuple[int, ...], int]]:
    """Yield (money, counts of rolls, joints allowed) in the order of money; only sets that are long enough."""
    units, most = sum(pieces), stock.joints * len(pieces)
    sets = roll_sets(stock, units)
    waiting: list[tuple[int, int, tuple[int, ...]]] = []
    following = next(sets, None)
    while waiting or following is not None:
        if following is not None and (not waiting or following[0] <= waiting[0][0]):
            price, counts = following
            following = next(sets, None)
            room = [length // stock.unit_um for length in _bins(stock, counts)]
            if sum(room) >= units and max(room, default=0) >= (min(pieces) if not stock.joints else 1):
                heapq.heappush(waiting, (price, 0 if stock.coupler_ct else most, counts))
        else:
            money, joints, counts = heapq.heappop(waiting)
            yield money, counts, joints
            if joints < min(most, units):
                heapq.heappush(waiting, (money + stock.coupler_ct, joints + 1, counts))


def _bins(stock: Stock, counts: tuple[int, ...]) -> tuple[int, ...]:
    """Return the length of every roll and owned piece, equal ones side by side [um]."""
    bought = [length for (length, _, _), count in zip(stock.rolls, counts, strict=True) for _ in range(count)]
    return (*sorted(bought), *sorted(stock.owned))


def _laid(stock: Stock, pieces: tuple[int, ...], bins: tuple[int, ...], most: int) -> dict[tuple[int, ...], int]:
    """Return the least couplers, up to so many, for every way to fill the bins with all pieces."""
    room = tuple(length // stock.unit_um for length in bins)
    groups = _groups(bins)
    states = {(0,) * len(bins): 0}
    for units in sorted(pieces, reverse=True):
        grown: dict[tuple[int, ...], int] = {}
        for used, couplers in states.items():
            free = tuple(whole - mine for whole, mine in zip(room, used, strict=True))
            for way in _layings(units, free, min(stock.joints, most - couplers), stock.least_part):
                filled = list(used)
                for bin_, size in way:
                    filled[bin_] += size
                key = _canonical(filled, groups)
                total = couplers + len(way) - 1
                if total < grown.get(key, total + 1):
                    grown[key] = total
        states = grown
    return states


@cache
def _layings(units: int, free: tuple[int, ...], joints: int, least: int) -> tuple[tuple[tuple[int, int], ...], ...]:
    """Return every way to lay one piece on different bins, each as (bin, units) of its parts."""
    found = {((bin_, units),) for bin_, room in enumerate(free) if room >= units}
    for parts in range(2, min(joints + 1, len(free), units // max(least, 1)) + 1):
        for sizes in _shares(units, parts, least):
            for chosen in permutations(range(len(free)), parts):
                if all(size <= free[bin_] for bin_, size in zip(chosen, sizes, strict=True)):
                    found.add(tuple(sorted(zip(chosen, sizes, strict=True))))
    return tuple(sorted(found))


@cache
def _shares(units: int, parts: int, least: int) -> tuple[tuple[int, ...], ...]:
    """Return the ways to write a length as a sum of parts that do not fall."""
    if parts == 1:
        return ((units,),) if units >= least else ()
    return tuple(
        (first, *rest)
        for first in range(least, units // parts + 1)
        for rest in _shares(units - first, parts - 1, first)
    )


def _groups(bins: tuple[int, ...]) -> tuple[tuple[int, int], ...]:
    """Return the stretches of equal bins."""
    edges = [0, *(at for at in range(1, len(bins)) if bins[at] != bins[at - 1]), len(bins)]
    return tuple(pairwise(edges))


def _canonical(filled: list[int], groups: tuple[tuple[int, int], ...]) -> tuple[int, ...]:
    """Equal bins are interchangeable: the fuller first."""
    return tuple(size for start, end in groups for size in sorted(filled[start:end], reverse=True))


def _figures(
    stock: Stock, counts: tuple[int, ...], bins: tuple[int, ...], filled: tuple[int, ...], couplers: int
) -> Cut:
    price = sum(count * each for count, (_, each, _) in zip(counts, stock.rolls, strict=True))
    left = [length - size * stock.unit_um for length, size in zip(bins, filled, strict=True) if size]
    waste = sum(each for each in left if each < stock.usable_um)
    return price + couplers * stock.coupler_ct, waste, couplers


@cache
def least_price(stock: Stock, units: int) -> int | None:
    """Return the price of the cheapest rolls that hold so many units together; None if all do not [ct]."""
    for price, counts in roll_sets(stock, units):
        if sum(length // stock.unit_um for length in _bins(stock, counts)) >= units:
            return price
    return None


def least_part_units(part_um: int, unit_um: int) -> int:
    """Return the shortest part of something joined in whole units."""
    return max(math.ceil(part_um / unit_um), 1)

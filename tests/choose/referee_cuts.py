"""Cutting by brute force: every set of rolls in the order of its price, every way to lay the pieces on it.

Written apart from the product's cutting: nothing of it is called here.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from itertools import permutations

Cut = tuple[int, int, int]  # money [ct], waste [um], couplers


@dataclass(frozen=True)
class Shelf:
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


def roll_sets(shelf: Shelf, most: int) -> Iterator[tuple[int, tuple[int, ...]]]:
    """Yield (price, count of each kind) of every set of up to so many rolls, cheapest first."""
    start = (0,) * len(shelf.rolls)
    heap, seen = [(0, start)], {start}
    while heap:
        price, counts = heapq.heappop(heap)
        yield price, counts
        for kind, (_, each, available) in enumerate(shelf.rolls):
            grown = (*counts[:kind], counts[kind] + 1, *counts[kind + 1 :])
            if sum(grown) <= most and (available is None or grown[kind] <= available) and grown not in seen:
                seen.add(grown)
                heapq.heappush(heap, (price + each, grown))


def _bins(shelf: Shelf, counts: tuple[int, ...]) -> list[tuple[int, bool]]:
    """Return (length [um], bought) of every roll and owned piece, equal ones side by side."""
    bought = [(length, True) for (length, _, _), count in zip(shelf.rolls, counts, strict=True) for _ in range(count)]
    return sorted(bought) + sorted((length, False) for length in shelf.owned)


@cache
def _compositions(units: int, parts: int, least: int) -> tuple[tuple[int, ...], ...]:
    if parts == 1:
        return ((units,),) if units >= least else ()
    firsts = range(least, units - least * (parts - 1) + 1)
    return tuple((first, *rest) for first in firsts for rest in _compositions(units - first, parts - 1, least))


@cache
def _layings(units: int, bins: int, joints: int, least_part: int) -> tuple[tuple[tuple[int, int], ...], ...]:
    """Return every way to lay one piece on different bins, each as (bin, units) of its parts."""
    found = []
    for parts in range(1, min(joints + 1, bins) + 1):
        for sizes in _compositions(units, parts, least_part if parts > 1 else 1):
            # The order of the parts in the piece does not matter, so sizes stay as they are and bins are permuted.
            if list(sizes) == sorted(sizes):
                found += [tuple(zip(chosen, sizes, strict=True)) for chosen in permutations(range(bins), parts)]
    return tuple(sorted({tuple(sorted(way)) for way in found}))


def _laid(shelf: Shelf, pieces: tuple[int, ...], bins: list[tuple[int, bool]], most: int) -> dict[tuple[int, ...], int]:
    """Return the least couplers for every way to fill the bins with all pieces."""
    room = [length // shelf.unit_um for length, _ in bins]
    states = {(0,) * len(bins): 0}
    for units in sorted(pieces, reverse=True):
        grown: dict[tuple[int, ...], int] = {}
        ways = _layings(units, len(bins), shelf.joints, shelf.least_part)
        for used, couplers in states.items():
            for way in ways:
                total = couplers + len(way) - 1
                if total > most or any(used[bin_] + size > room[bin_] for bin_, size in way):
                    continue
                filled = list(used)
                for bin_, size in way:
                    filled[bin_] += size
                key = _canonical(filled, bins)
                if total < grown.get(key, total + 1):
                    grown[key] = total
        states = grown
    return states


def _canonical(used: list[int], bins: list[tuple[int, bool]]) -> tuple[int, ...]:
    """Equal rolls are interchangeable: the fuller first."""
    order = sorted(range(len(bins)), key=lambda i: (bins.index(bins[i]), -used[i]))
    return tuple(used[i] for i in order)


@cache
def best_cut(shelf: Shelf, pieces: tuple[int, ...]) -> Cut | None:
    """Return the least money, then waste, then couplers for pieces given in whole units; None if impossible."""
    best: Cut | None = None
    owned_units = sum(length // shelf.unit_um for length in shelf.owned)
    for price, counts in roll_sets(shelf, len(pieces) * (shelf.joints + 1)):
        if best is not None and price > best[0]:
            break
        units = owned_units + sum(n * (roll[0] // shelf.unit_um) for n, roll in zip(counts, shelf.rolls, strict=True))
        if units < sum(pieces):
            continue
        bins = _bins(shelf, counts)
        most = sum(pieces)
        if best is not None and shelf.coupler_ct:
            most = (best[0] - price) // shelf.coupler_ct
        for used, couplers in _laid(shelf, pieces, bins, most).items():
            goals = _goals(shelf, bins, used, price, couplers)
            if goals is not None and (best is None or goals < best):
                best = goals
    return best


def _goals(shelf: Shelf, bins: list[tuple[int, bool]], used: tuple[int, ...], price: int, couplers: int) -> Cut | None:
    if any(bought and not units for (_, bought), units in zip(bins, used, strict=True)):
        return None  # a smaller set of rolls does this too
    left = [length - units * shelf.unit_um for (length, _), units in zip(bins, used, strict=True) if units]
    return price + couplers * shelf.coupler_ct, sum(each for each in left if each < shelf.usable_um), couplers


@cache
def least_price(shelf: Shelf, total: int) -> int | None:
    """Return the price of the cheapest rolls that hold so many units together; None if all do not."""
    owned_um = sum(shelf.owned)
    for price, counts in roll_sets(shelf, 50):
        length = owned_um + sum(n * roll[0] for n, roll in zip(counts, shelf.rolls, strict=True))
        if length >= total * shelf.unit_um:
            return price
    return None

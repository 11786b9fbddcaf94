"""Cheapest tree that enters each of a few blocks by one of several ways, over the prices between all places.

The recursion of Dreyfus and Wagner (The Steiner problem in graphs, Networks 1, 1971) with blocks in the place of
terminals: what it costs to join a set of blocks to a place is what two parts of the set cost at some place where they
meet, and the way from there.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from optimizer.routes.network import FAR

IntArray = npt.NDArray[np.int64]

MOST_ENTRIES = 1 << 28
"""sets of blocks times places squared up to which the recursion is quick enough"""

_AT_ONCE = 1 << 22


def every_price(count: int, ends: IntArray, costs: IntArray) -> IntArray:
    """Return the price of the cheapest way between all places of a network (Floyd and Warshall).

    Args:
        count: number of places.
        ends: places of every edge, shape (edges, 2).
        costs: price of every edge, shape (edges,).

    Returns:
        Prices, `FAR` where there is no way, shape (count, count).
    """
    price = np.full((count, count), FAR, dtype=np.int64)
    np.fill_diagonal(price, 0)
    np.minimum.at(price, (ends[:, 0], ends[:, 1]), costs)
    price = np.minimum(price, price.T)
    for middle in range(count):
        np.minimum(price, price[:, middle, None] + price[middle], out=price)
    return np.minimum(price, FAR)


def every_last(price: IntArray, ends: IntArray, costs: IntArray) -> IntArray:
    """Return the place before the last on the cheapest way between all places of a network.

    Args:
        price: price of that way, shape (count, count).
        ends: places of every edge, shape (edges, 2).
        costs: price of every edge, at least 1, shape (edges,).

    Returns:
        Places, the way's own end where it has no other, shape (count, count).
    """
    last = np.tile(np.arange(len(price)), (len(price), 1))
    for (a, b), cost in zip(ends.tolist(), costs.tolist(), strict=True):
        for start, end in ((a, b), (b, a)):
            last[price[:, start] + cost == price[:, end], end] = start
    return last


def is_quick(blocks: int, count: int) -> bool:
    """Say whether so many blocks and places are few enough for the recursion."""
    return blocks < 20 and (count * count << blocks) <= MOST_ENTRIES


class Leg(NamedTuple):
    """A way between two places of a tree: number of the leg that leads to it, and the block it leads to if to one."""

    start: int
    end: int
    above: int
    block: int | None


class Meeting:
    """The recursion for one set of ways."""

    def __init__(self, price: IntArray, source: int, blocks: Sequence[Sequence[tuple[int | None, int]]]) -> None:
        """Fill the table.

        Args:
            price: price between all places, shape (places, places).
            source: place of the supply.
            blocks: for each block its ways in: place, None if out of reach, and price of what lies behind.
        """
        self.price, self.source = price, source
        self.full = (1 << len(blocks)) - 1
        self.met = np.full((1 << len(blocks), len(price)), FAR, dtype=np.int64)
        """price of a set of blocks where two parts of it meet, or of one block where its way in begins"""
        self.way_in: list[dict[int, int]] = []
        for block, ways in enumerate(blocks):
            best: dict[int, int] = {}
            for number, (place, behind) in enumerate(ways):
                if place is not None and (place not in best or behind < ways[best[place]][1]):
                    best[place] = number
                    self.met[1 << block, place] = behind
            self.way_in.append(best)
        self.joined = np.full_like(self.met, FAR)
        """price of a set of blocks joined to a place"""
        for size in range(1, len(blocks) + 1):
            rows = [sum(1 << bit for bit in bits) for bits in combinations(range(len(blocks)), size)]
            for row in rows if size > 1 else []:
                self._split(row)
            self.joined[rows] = self._carried(self.met[rows])

    def _split(self, row: int) -> None:
        low, part = row & -row, (row - 1) & row
        best = self.met[row]
        while part:
            if part & low:
                np.minimum(best, self.joined[part] + self.joined[row ^ part], out=best)
            part = (part - 1) & row

    def _carried(self, met: IntArray) -> IntArray:
        """Return the price at every place of what is met at any, shape (sets, places)."""
        count = len(self.price)
        step = max(_AT_ONCE // (count * count), 1)
        parts = [(met[start : start + step, :, None] + self.price).min(axis=1) for start in range(0, len(met), step)]
        return np.concatenate(parts)

    @property
    def least(self) -> int:
        """Price of a cheapest tree; `FAR` or more if a block cannot be reached."""
        return int(self.joined[self.full, self.source])

    def ways(self) -> tuple[int, ...]:
        """Return the number of the way taken into each block by a cheapest tree."""
        found = {leg.block: self.way_in[leg.block][leg.end] for leg in self.legs() if leg.block is not None}
        return tuple(found[block] for block in range(len(self.way_in)))

    def legs(self) -> list[Leg]:
        """Return the ways between the places where a cheapest tree parts, each behind the one that leads to it."""
        found: list[Leg] = []
        todo = [(self.full, self.source, -1)]
        while todo:
            row, at, above = todo.pop()
            place = int(np.argmin(self.met[row] + self.price[at]))
            block = row.bit_length() - 1 if row & (row - 1) == 0 else None
            found.append(Leg(at, place, above, block))
            if block is None:
                part = self._parting(row, place)
                todo += [(part, place, len(found) - 1), (row ^ part, place, len(found) - 1)]
        return found

    def _parting(self, row: int, place: int) -> int:
        """Return a part of a set that meets the rest at a place."""
        part = (row - 1) & row
        while int(self.joined[part, place] + self.joined[row ^ part, place]) != int(self.met[row, place]):
            part = (part - 1) & row
        return part

"""Rough prices of mainline to groups of blocks, quick enough to compare thousands of groups.

Trees grow by the nearest block: Takahashi and Matsuyama, An approximate solution for the Steiner problem in graphs,
Math. Japonica 24, 1980, with a block joined where it is entered cheapest from what is laid already.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from optimizer.choose.manybeds.ways import Ways
from optimizer.choose.manybeds.web import Way
from optimizer.routes.graph import IntArray, RoutePrice
from optimizer.routes.network import FAR


@dataclass(frozen=True)
class RoughTree:
    """Mainline to some blocks.

    Args:
        cost_mct: its rough price.
        nodes: places it passes.
    """

    cost_mct: int
    nodes: IntArray


@dataclass(eq=False)
class RoughTrees:
    """Rough trees over a site; a group of blocks is only worked out once.

    Args:
        ways: the ways over the site.
        blocks: the ways into each block, one of them at least within reach.
        price: of tube and crossings.
    """

    ways: Ways
    blocks: Sequence[Sequence[Way]]
    price: RoutePrice
    _trees: dict[tuple[int, ...], RoughTree] = field(default_factory=dict)

    @cached_property
    def _away(self) -> IntArray:
        return self.ways.every_price_for(self.price)

    @cached_property
    def _before(self) -> IntArray:
        return self.ways.every_last_for(self.price)

    @cached_property
    def _entered(self) -> tuple[IntArray, IntArray]:
        """Price of the cheapest way into each block from every place, and the place where it enters the bed."""
        prices, places = [], []
        for ways in self.blocks:
            reached = [(self.ways.nodes[way.portal], way.behind_mct) for way in ways if way.portal in self.ways.nodes]
            nodes = np.array([node for node, _ in reached])
            each = self._away[nodes] + np.array([behind for _, behind in reached])[:, None]
            best = each.argmin(axis=0)
            prices.append(each.min(axis=0))
            places.append(nodes[best])
        return np.array(prices), np.array(places)

    def cost_mct(self, groups: Sequence[tuple[int, ...]]) -> int:
        """Return the rough price of a stem to all groups and of the branches behind it."""
        return sum(self.tree(group).cost_mct for group in groups) + self._stem_mct(groups)

    def entering_mct(self, block: int, group: tuple[int, ...]) -> int:
        """Return what it costs to join a block to the tree of a group it is not in."""
        return int(self._entered[0][block, self.tree(group).nodes].min())

    def tree(self, group: tuple[int, ...]) -> RoughTree:
        """Return rough mainline to all blocks of a group, wherever its stem comes from.

        Args:
            group: sorted numbers of blocks, at least one.
        """
        if group not in self._trees:
            starts = dict.fromkeys((group[0], group[len(group) // 2], group[-1]))
            self._trees[group] = min((self._grown(group, start) for start in starts), key=lambda tree: tree.cost_mct)
        return self._trees[group]

    def _grown(self, group: tuple[int, ...], start: int) -> RoughTree:
        prices, places = self._entered
        if len(group) == 1:
            # Alone it has no branches: its stem enters it, where that is cheapest.
            at = int(np.argmin(prices[start]))
            return RoughTree(int(prices[start, at]), np.array([at]))
        others = np.array([block for block in group if block != start])
        both = prices[others] + prices[start]
        meet = int(both.argmin()) % both.shape[1]
        nodes = [meet, *self._path(meet, int(places[start, meet]))]
        total = int(prices[start, meet])
        joined = _Nearest(others, prices[others])
        joined.offer(nodes)
        while len(joined.left):
            block, cost, at = joined.take()
            total += cost
            new = self._path(at, int(places[block, at]))
            nodes += new
            joined.offer(new)
        return RoughTree(total, np.unique(nodes))

    def _path(self, start: int, end: int) -> list[int]:
        """Return the places on a cheapest way, without its start."""
        found = []
        while end != start:
            found.append(end)
            end = int(self._before[start, end])
        return found

    def _stem_mct(self, groups: Sequence[tuple[int, ...]]) -> int:
        """Return what mainline from the supply costs that comes to every group and passes through none."""
        away = np.array([self._away[self.tree(group).nodes].min(axis=0) for group in groups])
        nearest = _Nearest(np.arange(len(groups)), away)
        nearest.offer([self.ways.graph.source])
        total = 0
        while len(nearest.left):
            group, cost, at = nearest.take()
            total += cost
            nodes = self.tree(groups[group]).nodes
            nearest.offer(self._path(at, int(nodes[self._away[at, nodes].argmin()])))
        return total


class _Nearest:
    """What is not yet joined, each with the place from which joining it costs least."""

    def __init__(self, left: IntArray, prices: IntArray) -> None:
        self.left, self.prices = left, prices
        self.least = np.full(len(left), FAR)
        self.at = np.zeros(len(left), dtype=np.int64)

    def offer(self, nodes: Sequence[int]) -> None:
        """Take in that mainline passes more places."""
        if not nodes or not len(self.left):
            return
        each = self.prices[:, nodes]
        best = each.argmin(axis=1)
        least = each[np.arange(len(self.left)), best]
        nearer = least < self.least
        self.least = np.where(nearer, least, self.least)
        self.at = np.where(nearer, np.array(nodes)[best], self.at)

    def take(self) -> tuple[int, int, int]:
        """Remove the nearest and return it with the price of joining it, and from where."""
        first = int(self.least.argmin())
        found = int(self.left[first]), int(self.least[first]), int(self.at[first])
        stay = np.arange(len(self.left)) != first
        self.left, self.prices = self.left[stay], self.prices[stay]
        self.least, self.at = self.least[stay], self.at[stay]
        return found

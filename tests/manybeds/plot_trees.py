"""Cheapest mainline by the recursion over sets of ends, written for the referee; and what a tree of the search is.

The referee takes over the places and the pieces of ground that see each other. It works out by itself what the cheapest
tree costs, and whether a tree of the search is one: in one piece, to the ends it names, and as dear as it says.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np

from optimizer.choose.manybeds.trees import Tree
from optimizer.choose.manybeds.ways import Ways
from optimizer.problem.case import HeaderLine
from optimizer.routes.graph import RoutePrice

NEVER = 1 << 50


@dataclass(frozen=True, eq=False)
class Goal:
    """A header to reach: its vertices, the ways in as (place, vertex, length [um]), and its stretches of vertices.

    Where it is cut mainline enters the bed at one place, lies beside the header, and leads nowhere else from there.
    """

    line: HeaderLine
    ways: tuple[tuple[tuple[float, float], int, int], ...]
    stretches: tuple[tuple[int, int], ...]
    cut: bool

    def behind_um(self, vertex: int) -> int:
        """Return the length of mainline beside the header from a vertex to all stretches [um]."""
        if not self.cut:
            return 0
        at = self.line.distance_um
        low, high = min(last for _, last in self.stretches), max(first for first, _ in self.stretches)
        return max(at[vertex] - at[low], 0) + max(at[high] - at[vertex], 0)


@dataclass(eq=False)
class Ground:
    """Prices between all places of the ground, for one price of tube [mct]."""

    ways: Ways
    price: RoutePrice
    between: np.ndarray = field(init=False)

    def __post_init__(self) -> None:
        graph = self.ways.graph
        self.between = _no_ways(len(graph.nodes))
        for edge in graph.edges:
            cost = self.price.tube_mct_per_mm * edge.length_mm + self.price.crossing_mct * len(edge.crossings)
            _link(self.between, edge.start, edge.end, cost)
        _close(self.between)

    def cheapest(self, goals: Sequence[Goal]) -> int | None:
        """Return the price of a cheapest tree from the supply to all stretches; None if one is out of reach [mct]."""
        between, ends = self.between, [self._end(goal) for goal in goals]
        count = len(ends)
        joined = {1 << number: (between + end[None, :]).min(axis=1) for number, end in enumerate(ends)}
        for whole in range(1, 1 << count):
            if whole not in joined:
                part, met = (whole - 1) & whole, np.full(len(between), NEVER)
                while part:
                    met = np.minimum(met, joined[part] + joined[whole ^ part])
                    part = (part - 1) & whole
                joined[whole] = (between + met[None, :]).min(axis=1)
        found = int(joined[(1 << count) - 1][self.ways.graph.source])
        return found if found < NEVER else None

    def _end(self, goal: Goal) -> np.ndarray:
        """Return what it costs to reach a header from every place of the ground [mct]."""
        found = np.full(len(self.between), NEVER, dtype=np.int64)
        for place, vertex, length_um in goal.ways:
            if place in self.ways.nodes:
                node, cost = self.ways.nodes[place], self._tube(length_um) + self._tube(goal.behind_um(vertex))
                found[node] = min(int(found[node]), cost)
        return found

    def _tube(self, length_um: int) -> int:
        return math.ceil(length_um / 1000) * self.price.tube_mct_per_mm

    def slack(self, goals: Sequence[Goal]) -> int:
        """Return by how much two readings of one tree may differ: every piece is rounded up to a millimetre [mct]."""
        return self.price.tube_mct_per_mm * (len(goals) + sum(len(goal.line.points) for goal in goals if goal.cut))


def _no_ways(size: int) -> np.ndarray:
    between = np.full((size, size), NEVER, dtype=np.int64)
    np.fill_diagonal(between, 0)
    return between


def _link(between: np.ndarray, a: int, b: int, cost: int) -> None:
    between[a, b] = between[b, a] = min(int(between[a, b]), cost)


def _close(between: np.ndarray) -> None:
    for middle in range(len(between)):
        np.minimum(between, between[:, middle, None] + between[None, middle, :], out=between)
    np.minimum(between, NEVER, out=between)


def tree_price(tree: Tree, price: RoutePrice, crossings) -> int:
    """Return what a tree of the search costs by the tube of its parts and the paths they cross [mct].

    Args:
        tree: the tree.
        price: of tube and crossings.
        crossings: how often a line crosses paths.
    """
    tube = sum(part.length_um for part in tree.parts) * price.tube_mct_per_mm // 1000
    return tube + price.crossing_mct * sum(crossings(part.points) for part in tree.parts)


def faults(tree: Tree, ways: Ways, goals: Sequence[Goal]) -> list[str]:
    """Return what is wrong with a tree of the search: gaps, lengths, ends that are not where a stretch is."""
    found = []
    for number, part in enumerate(tree.parts):
        start = tree.parts[part.above].points[-1] if part.above >= 0 else ways.source
        if part.above >= number or math.dist(start, part.points[0]) > 1e-6:
            found.append(f"part {number} does not begin where the one above ends")
        length = sum(math.dist(a, b) for a, b in pairwise(part.points)) + part.rise_um / 1e6
        if not -0.001 <= part.length_um / 1e6 - length <= 0.001 * len(part.points):
            found.append(f"part {number} is {length} m long, not {part.length_um / 1e6}")
    for header, goal in enumerate(goals):
        for run, (first, last) in enumerate(goal.stretches):
            part, vertex = tree.ends[header, run]
            if not first <= vertex <= last or math.dist(tree.parts[part].points[-1], goal.line.points[vertex]) > 1e-6:
                found.append(f"stretch {run} of header {header} is not reached")
    return found

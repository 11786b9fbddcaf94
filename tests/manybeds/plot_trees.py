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

from optimizer.choose.manybeds.ways import Tree, Ways
from optimizer.problem.case import HeaderLine
from optimizer.routes.graph import RoutePrice

NEVER = 1 << 50


@dataclass(frozen=True, eq=False)
class Goal:
    """A header to reach: its vertices, the ways in as (place, vertex, length [um]), and its stretches of vertices.

    Where there are several stretches mainline may lie beside the header and go on from there.
    """

    line: HeaderLine
    ways: tuple[tuple[tuple[float, float], int, int], ...]
    stretches: tuple[tuple[int, int], ...]
    through: bool


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
        between, ends = self._with_headers(goals)
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

    def _with_headers(self, goals: Sequence[Goal]) -> tuple[np.ndarray, list[np.ndarray]]:
        """Return prices between places and vertices of headers gone through, and of the end of each stretch."""
        size = len(self.between) + sum(len(goal.line.points) for goal in goals if goal.through)
        between = _no_ways(size)
        between[: len(self.between), : len(self.between)] = self.between
        ends: list[np.ndarray] = []
        first = len(self.between)
        for goal in goals:
            if goal.through:
                self._beside(between, goal, first)
                ends += [_at(size, {first + vertex: 0 for vertex in range(a, b + 1)}) for a, b in goal.stretches]
                first += len(goal.line.points)
            else:
                ends.append(_at(size, self._ends_at(goal)))
        if size > len(self.between):
            _close(between)
        return between, ends

    def _ends_at(self, goal: Goal) -> dict[int, int]:
        found: dict[int, int] = {}
        for place, _, length_um in goal.ways:
            if place in self.ways.nodes:
                node, cost = self.ways.nodes[place], self._tube(length_um)
                found[node] = min(found.get(node, cost), cost)
        return found

    def _beside(self, between: np.ndarray, goal: Goal, first: int) -> None:
        for place, vertex, length_um in goal.ways:
            if place in self.ways.nodes:
                _link(between, self.ways.nodes[place], first + vertex, self._tube(length_um))
        for a, b in pairwise(range(len(goal.line.points))):
            _link(between, first + a, first + b, self._tube(goal.line.distance_um[b] - goal.line.distance_um[a]))

    def _tube(self, length_um: int) -> int:
        return math.ceil(length_um / 1000) * self.price.tube_mct_per_mm

    def slack(self, goals: Sequence[Goal]) -> int:
        """Return by how much two readings of one tree may differ: every piece is rounded up to a millimetre [mct]."""
        return self.price.tube_mct_per_mm * (len(goals) + sum(len(goal.line.points) for goal in goals if goal.through))


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


def _at(size: int, costs: dict[int, int]) -> np.ndarray:
    found = np.full(size, NEVER, dtype=np.int64)
    for node, cost in costs.items():
        found[node] = cost
    return found


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

"""Trees with fewer sharp bends, where an elbow costs more than the tube that goes round without one."""

from __future__ import annotations

import heapq
import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

from optimizer.routes.graph import GroundGraph, IntArray
from optimizer.routes.ground import PointM

_STILL = 1e-9


@dataclass(frozen=True, eq=False)
class Bends:
    """What sharp bends cost on a graph.

    Args:
        graph: The candidate graph.
        costs: Price of every edge, at least 1, shape (edges,) [mct].
        places: Place of every node [m].
        linked: Nodes without a place: no tube lies on their edges.
        price_mct: Price of a sharp bend [mct].
        sharper_than_deg: Turns up to this are no sharp bends [deg].
    """

    graph: GroundGraph
    costs: IntArray
    places: Sequence[PointM]
    linked: frozenset[int]
    price_mct: int
    sharper_than_deg: float

    def straighter(self, edges: Sequence[int]) -> tuple[int, ...]:
        """Return a tree after every stretch with a bend was tried against the cheapest new link of its two halves.

        Args:
            edges: Edges of a tree that holds the source and all terminals.

        Returns:
            Edges of such a tree that costs no more, bends counted.
        """
        best, price = frozenset(edges), self.price(frozenset(edges))
        tried: set[frozenset[int]] = set()
        while True:
            bent = (each for each in self._stretches(best) if self._turns(each))
            stretch = next((each for each in bent if frozenset(each) not in tried), None)
            if stretch is None:
                return tuple(sorted(best))
            tried.add(frozenset(stretch))
            other = self._relinked(best, stretch)
            if other is not None and self.price(other) < price:
                best, price = other, self.price(other)

    def price(self, edges: frozenset[int]) -> int:
        """Return what a tree costs with its bends [mct]."""
        turns = sum(self._turns(stretch) for stretch in self._stretches(edges))
        return sum(self._cost[edge] for edge in edges) + self.price_mct * turns

    @cached_property
    def _cost(self) -> list[int]:
        found: list[int] = self.costs.tolist()
        return found

    @cached_property
    def _ends(self) -> frozenset[int]:
        return frozenset({self.graph.source, *self.graph.terminals})

    # ------------------------------------------------------------ stretches

    def _stretches(self, edges: frozenset[int]) -> list[tuple[int, ...]]:
        """Return runs of edges, in their order, between the source, terminals and nodes where tube parts."""
        rows: dict[int, list[int]] = {}
        for edge in sorted(edges):
            for node in self._nodes(edge):
                rows.setdefault(node, []).append(edge)
        fixed = {*self._ends, *(node for node, row in rows.items() if len(row) != 2)}
        found, used = list[tuple[int, ...]](), set[int]()
        for start in sorted(fixed & rows.keys()):
            for first in rows[start]:
                if first not in used:
                    run, node = [first], self._across(first, start)
                    while node not in fixed:
                        run.append(next(edge for edge in rows[node] if edge != run[-1]))
                        node = self._across(run[-1], node)
                    used.update(run)
                    found.append(tuple(run))
        return found

    def _turns(self, stretch: tuple[int, ...]) -> int:
        """Return how many sharp bends a stretch has."""
        way = self._way(stretch)
        return sum(self._is_sharp(*three) for three in zip(way, way[1:], way[2:], strict=False))

    def _way(self, stretch: tuple[int, ...]) -> list[int]:
        """Return the nodes along a stretch."""
        nodes = self._nodes(stretch[0])
        if len(stretch) > 1 and nodes[0] in self._nodes(stretch[1]):
            nodes = nodes[::-1]
        way = list(nodes)
        for edge in stretch[1:]:
            way.append(self._across(edge, way[-1]))
        return way

    def _nodes(self, edge: int) -> tuple[int, int]:
        return self.graph.edges[edge].start, self.graph.edges[edge].end

    def _across(self, edge: int, node: int) -> int:
        start, end = self._nodes(edge)
        return end if start == node else start

    # ------------------------------------------------------------ new links

    def _relinked(self, edges: frozenset[int], stretch: tuple[int, ...]) -> frozenset[int] | None:
        """Return the tree with a stretch replaced by the cheapest link of its halves; None if none is cheaper."""
        rest = edges - set(stretch)
        half = self._joined_to(self.graph.source, rest)
        start = next(node for node in self._way(stretch)[:: len(stretch)] if node not in half)
        link = self._link(self._joined_to(start, rest), half, self._cost_of(stretch))
        return self._trimmed(rest | set(link)) if link else None

    def _cost_of(self, stretch: tuple[int, ...]) -> int:
        return sum(self._cost[edge] for edge in stretch) + self.price_mct * self._turns(stretch)

    def _joined_to(self, start: int, edges: frozenset[int]) -> set[int]:
        rows: dict[int, list[int]] = {}
        for edge in edges:
            a, b = self._nodes(edge)
            rows.setdefault(a, []).append(b)
            rows.setdefault(b, []).append(a)
        found, todo = {start}, [start]
        while todo:
            new = [node for node in rows.get(todo.pop(), ()) if node not in found]
            found.update(new)
            todo += new
        return found

    def _link(self, starts: set[int], goals: set[int], below: int) -> tuple[int, ...]:
        """Return the edges of the cheapest way between two sets of nodes, bends on it counted; none if not below."""
        ahead = self._ahead(goals, below)
        best: dict[tuple[int, int], int] = {}
        heap: list[tuple[int, int, int, int, tuple[int, ...]]] = [
            (ahead[node], 0, node, -1, ()) for node in sorted(starts) if node in ahead
        ]
        heapq.heapify(heap)
        while heap:
            _, cost, node, before, way = heapq.heappop(heap)
            if node in goals:
                return way
            if best.get((node, before), below) <= cost:
                continue
            best[node, before] = cost
            for other, edge in self.graph.neighbours[node]:
                if other not in ahead or other == before or other in starts:
                    continue
                further = cost + self._cost[edge] + self.price_mct * self._is_sharp(before, node, other)
                if further + ahead[other] < below and further < best.get((other, node), below):
                    heapq.heappush(heap, (further + ahead[other], further, other, node, (*way, edge)))
        return ()

    def _ahead(self, goals: set[int], below: int) -> dict[int, int]:
        """Return what the cheapest way to some nodes costs from all others from which it costs less than a price."""
        price = dict.fromkeys(goals, 0)
        heap = [(0, node) for node in sorted(goals)]
        while heap:
            cost, node = heapq.heappop(heap)
            if cost > price[node]:
                continue
            for other, edge in self.graph.neighbours[node]:
                further = cost + self._cost[edge]
                if further < price.get(other, below):
                    price[other] = further
                    heapq.heappush(heap, (further, other))
        return price

    def _is_sharp(self, before: int, node: int, after: int) -> bool:
        if before < 0 or not self.linked.isdisjoint((before, node, after)):
            return False
        (x0, y0), (x1, y1), (x2, y2) = self.places[before], self.places[node], self.places[after]
        turn = math.remainder(math.atan2(y2 - y1, x2 - x1) - math.atan2(y1 - y0, x1 - x0), 2.0 * math.pi)
        return abs(turn) > math.radians(self.sharper_than_deg) + _STILL

    def _trimmed(self, edges: frozenset[int]) -> frozenset[int]:
        """Return a tree without ends that lead nowhere."""
        kept = set(edges)
        while True:
            count: dict[int, list[int]] = {}
            for edge in kept:
                for node in self._nodes(edge):
                    count.setdefault(node, []).append(edge)
            loose = {row[0] for node, row in count.items() if len(row) == 1 and node not in self._ends}
            if not loose:
                return frozenset(kept)
            kept -= loose

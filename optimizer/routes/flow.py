"""Minimum cuts on a small directed support graph (Dinic, Soviet Math. Dokl. 11, 1970), in whole numbers."""

from __future__ import annotations

from collections.abc import Sequence


class CutFinder:
    """Capacities on arcs, and the cheapest cut between one source and different sinks.

    Args:
        count: Number of nodes.
        arcs: (tail, head) of every arc.
        capacities: Whole-number capacity of every arc.
    """

    def __init__(self, count: int, arcs: Sequence[tuple[int, int]], capacities: Sequence[int]) -> None:
        self.head: list[int] = []
        self.capacity: list[int] = []
        self.rows: list[list[int]] = [[] for _ in range(count)]
        for (tail, head), capacity in zip(arcs, capacities, strict=True):
            self.rows[tail].append(len(self.head))
            self.head.append(head)
            self.rows[head].append(len(self.head))
            self.head.append(tail)
            self.capacity.extend((capacity, 0))

    def cut(self, source: int, sink: int, enough: int) -> tuple[int, list[int], list[int]]:
        """A least cut between two nodes, or the word that it is at least as large as asked.

        Args:
            source: Node the flow leaves.
            sink: Node the flow reaches.
            enough: Flow at which to stop looking.

        Returns:
            Flow found (at most `enough`), and, when it is less, the nodes on the source's side of the cut nearest the
            source and those on the sink's side of the cut nearest the sink.
        """
        left = self.capacity.copy()
        flow = 0
        while flow < enough:
            level = self._levels(left, source, forward=True)
            if level[sink] < 0:
                near_sink = self._levels(left, sink, forward=False)
                return (
                    flow,
                    [i for i, d in enumerate(level) if d >= 0],
                    [i for i, d in enumerate(near_sink) if d >= 0],
                )
            flow += self._blocking(left, level, source, sink, enough - flow)
        return flow, [], []

    def _levels(self, left: list[int], start: int, forward: bool) -> list[int]:
        level = [-1] * len(self.rows)
        level[start] = 0
        todo = [start]
        for node in todo:
            for arc in self.rows[node]:
                other = self.head[arc]
                if level[other] < 0 and left[arc if forward else arc ^ 1] > 0:
                    level[other] = level[node] + 1
                    todo.append(other)
        return level

    def _blocking(self, left: list[int], level: list[int], source: int, sink: int, most: int) -> int:
        """Push flow along shortest ways until none is left, walking with an explicit stack."""
        tried = [0] * len(self.rows)
        total = 0
        way: list[int] = []
        node = source
        while total < most:
            if node == sink:
                amount = min(min(left[arc] for arc in way), most - total)
                for arc in way:
                    left[arc] -= amount
                    left[arc ^ 1] += amount
                total += amount
                way, node = [], source
                continue
            arc = self._onward(left, level, tried, node)
            if arc >= 0:
                way.append(arc)
                node = self.head[arc]
            elif way:
                node = self.head[way.pop() ^ 1]
                tried[node] += 1
            else:
                break
        return total

    def _onward(self, left: list[int], level: list[int], tried: list[int], node: int) -> int:
        row = self.rows[node]
        while tried[node] < len(row):
            arc = row[tried[node]]
            if left[arc] > 0 and level[self.head[arc]] == level[node] + 1:
                return arc
            tried[node] += 1
        return -1

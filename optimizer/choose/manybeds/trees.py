"""Trees of mainline: edges with no direction yet, and the same as parts from the supply outwards."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from optimizer.geometry import Point


@dataclass(frozen=True)
class WayPart:
    """Mainline between two branching places, in the direction of flow."""

    points: tuple[Point, ...]
    length_um: int
    rise_um: int
    above: int
    """number of the part that feeds it, -1 for the supply"""


@dataclass(frozen=True, eq=False)
class Tree:
    """A tree of mainline.

    Args:
        parts: its parts, each behind the one that feeds it.
        ends: for each header and run the number of the part that ends at it, and the header vertex there.
        proven: whether no tree is cheaper.
    """

    parts: tuple[WayPart, ...]
    ends: dict[tuple[int, int], tuple[int, int]]
    proven: bool


@dataclass(frozen=True)
class Edge:
    """An edge of the graph with what is laid along it, from its start to its end."""

    start: int
    end: int
    length_mm: int
    points: tuple[Point, ...]
    length_um: int
    rise_um: int = 0
    entrance: bool = False
    """whether it leads into a bed whose header is cut: mainline goes in at one place, so that it leads nowhere else"""


@dataclass(frozen=True, eq=False)
class Grown:
    """Edges of a tree that has no direction yet.

    Args:
        rows: for each node the edges there and where they lead.
        ends: node and header vertex of each thing they lead to.
        entries: nodes on the ground among theirs.
    """

    rows: dict[int, list[tuple[int, Edge]]]
    ends: tuple[tuple[int, int], ...]
    entries: tuple[int, ...]

    @property
    def stems(self) -> list[tuple[int, int]]:
        """Nodes at which a stem may come to them, with the price of what lies behind [mct]: it is laid anyway."""
        return [(node, 0) for node in self.entries]

    def tree(self, root: int, wanted: Sequence[tuple[int, int]], proven: bool) -> Tree:
        """Return them as parts of mainline, cut at every branching place and inlet.

        Args:
            root: the node it starts from.
            wanted: (header, run) of each end.
            proven: whether no tree is cheaper.
        """
        fed = [node for node, _ in self.ends]
        stops = {root, *fed, *(node for node, row in self.rows.items() if len(row) > 2)}
        parts, ending = _parts(self.rows, root, stops)
        ends = {key: (ending[node], vertex) for key, (node, vertex) in zip(wanted, self.ends, strict=True)}
        return Tree(tuple(parts), ends, proven)


@dataclass(frozen=True, eq=False)
class GrownAlone:
    """The ways to one thing: for each node where a stem may come the price of what lies behind [mct], and that."""

    ways: dict[int, tuple[int, Grown]]

    @property
    def stems(self) -> list[tuple[int, int]]:
        """Nodes at which a stem may come, with the price of what lies behind [mct]."""
        return [(node, cost) for node, (cost, _) in sorted(self.ways.items())]

    def tree(self, root: int, wanted: Sequence[tuple[int, int]], proven: bool) -> Tree:
        """Return the way from a node as parts of mainline.

        Args:
            root: the node.
            wanted: (header, run) of what it leads to.
            proven: whether no tree is cheaper.
        """
        return self.ways[root][1].tree(root, wanted, proven)


def _parts(
    rows: dict[int, list[tuple[int, Edge]]], source: int, stops: set[int]
) -> tuple[list[WayPart], dict[int, int]]:
    """Return the parts of a tree from its source outwards, and the part that ends at each stop."""
    parts: list[WayPart] = []
    ending: dict[int, int] = {}
    todo = [(source, -1, edge_of) for edge_of in reversed(rows.get(source, []))]
    while todo:
        start, above, (node, edge) = todo.pop()
        points, length, rise = list(_from(edge, start)), edge.length_um, edge.rise_um
        before = start
        while node not in stops and len(rows[node]) == 2:
            onward = next(item for item in rows[node] if item[0] != before)
            before, (node, edge) = node, onward
            points += _from(edge, before)[1:]
            length, rise = length + edge.length_um, rise + edge.rise_um
        ending[node] = len(parts)
        parts.append(WayPart(tuple(_without_repeats(points)), length, rise, above))
        todo += [(node, len(parts) - 1, item) for item in reversed(rows[node]) if item[1] is not edge]
    return parts, ending


def rows_of(edges: Iterable[Edge]) -> dict[int, list[tuple[int, Edge]]]:
    """Return for each node the edges there and where they lead."""
    rows: dict[int, list[tuple[int, Edge]]] = {}
    for edge in edges:
        rows.setdefault(edge.start, []).append((edge.end, edge))
        rows.setdefault(edge.end, []).append((edge.start, edge))
    return rows


def _from(edge: Edge, start: int) -> tuple[Point, ...]:
    return edge.points if edge.start == start else edge.points[::-1]


def _without_repeats(points: Iterable[Point]) -> Iterator[Point]:
    before = None
    for point in points:
        if point != before:
            yield point
        before = point

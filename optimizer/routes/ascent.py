"""Lower bound by dual ascent, quick trees, and what may be dropped because it cannot belong to a cheaper tree.

Dual ascent: Wong, A dual ascent approach for Steiner tree problems on a directed graph, Math. Program. 28, 1984. Quick
trees: Takahashi and Matsuyama, An approximate solution for the Steiner problem in graphs, Math. Japonica 24, 1980.
"""

from __future__ import annotations

import heapq
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from optimizer.routes.graph import IntArray
from optimizer.routes.network import FAR, Network, arc_distances, cheapest_link, reduced


@dataclass(frozen=True)
class Dual:
    """A dual solution of the directed cut relaxation.

    Args:
        bound: No tree costs less.
        prices: What is left of every arc's price, at least 0, shape (2 edges,).
    """

    bound: int
    prices: IntArray


@dataclass(frozen=True)
class Ascent(Dual):
    """The same with the cuts it was raised by.

    Args:
        cuts: Arcs of every cut that was raised; a tree uses at least one arc of each.
    """

    cuts: tuple[IntArray, ...]


def dual_ascent(net: Network, prices: IntArray | None = None) -> Ascent:
    """Raise cuts round the goals, smallest first, until every goal is reached through arcs paid in full.

    Args:
        net: The network.
        prices: Price of every arc if it is not that of its edge, at least 0, shape (2 edges,).

    Returns:
        Bound, remaining prices and cuts.
    """
    prices = np.concatenate((net.costs, net.costs)) if prices is None else prices.copy()
    tails, heads = net.tails, net.heads
    behind = {goal: np.zeros(net.count, dtype=bool) for goal in net.goals}
    for goal, mask in behind.items():
        mask[goal] = True
    heap = [(1, goal) for goal in net.goals]
    bound, cuts = 0, []
    while heap:
        size, goal = heapq.heappop(heap)
        mask = behind[goal]
        grown = _grow(mask, prices, tails, heads)
        if mask[net.root]:
            continue
        if grown and heap and heap[0][0] < int(mask.sum()):
            heapq.heappush(heap, (int(mask.sum()), goal))
            continue
        cut = np.flatnonzero(mask[heads] & ~mask[tails])
        raised = int(prices[cut].min())
        prices[cut] -= raised
        bound += raised
        cuts.append(cut)
        heapq.heappush(heap, (size, goal))
    return Ascent(bound, prices, tuple(cuts))


def _grow(mask: npt.NDArray[np.bool_], prices: IntArray, tails: IntArray, heads: IntArray) -> bool:
    """Add every node that reaches the set through arcs paid in full; whether there was any."""
    paid = np.flatnonzero(prices == 0)
    tails, heads = tails[paid], heads[paid]
    grown = False
    while True:
        new = tails[mask[heads] & ~mask[tails]]
        if not len(new):
            return grown
        mask[new] = True
        grown = True


def quick_tree(net: Network, costs: IntArray, start: int) -> tuple[int, ...]:
    """A tree grown from a node by always joining the goal (or root) that is nearest by the given prices.

    Args:
        net: The network.
        costs: Prices to judge nearness by, `FAR` for edges not to use, shape (edges,).
        start: Node to grow from.

    Returns:
        Edges of a tree, trimmed of dead ends, empty when the prices leave some goal out of reach.
    """
    nodes, missing = {start}, {net.root, *net.goals} - {start}
    price, entered = [FAR] * net.count, [-1] * net.count
    price[start] = 0
    cost, heap = costs.tolist(), [(0, start)]
    while missing:
        nearest = _nearest(net, cost, missing, price, entered, heap)
        if nearest is None:
            return ()
        node = nearest
        while node not in nodes:
            nodes.add(node)
            price[node] = 0
            heapq.heappush(heap, (0, node))
            node = _across(net, entered[node], node)
        missing -= nodes
    return spanning(net, nodes)


def _nearest(
    net: Network,
    cost: Sequence[int],
    missing: set[int],
    price: list[int],
    entered: list[int],
    heap: list[tuple[int, int]],
) -> int | None:
    """Walk on from the tree until a missing node is the nearest; its prices and ways stay right as the tree grows."""
    while heap:
        d, node = heap[0]
        if node in missing and d == price[node]:
            return node
        heapq.heappop(heap)
        if d > price[node]:
            continue
        for other, edge in net.neighbours[node]:
            if cost[edge] < FAR and d + cost[edge] < price[other]:
                price[other], entered[other] = d + cost[edge], edge
                heapq.heappush(heap, (price[other], other))
    return None


def spanning(net: Network, nodes: set[int]) -> tuple[int, ...]:
    """Cheapest tree spanning a connected set of nodes (Kruskal), trimmed of dead ends that are no goal."""
    inside = np.zeros(net.count, dtype=bool)
    inside[sorted(nodes)] = True
    usable = np.flatnonzero(inside[net.ends[:, 0]] & inside[net.ends[:, 1]])
    above = list(range(net.count))

    def top(node: int) -> int:
        while above[node] != node:
            above[node] = node = above[above[node]]
        return node

    chosen: dict[int, dict[int, int]] = {node: {} for node in nodes}
    for e in usable[np.argsort(net.costs[usable], kind="stable")].tolist():
        a, b = net.ends[e].tolist()
        if top(a) != top(b):
            above[top(a)] = top(b)
            chosen[a][b] = chosen[b][a] = e
    return _trimmed(chosen, {net.root, *net.goals})


def _trimmed(rows: dict[int, dict[int, int]], fixed: set[int]) -> tuple[int, ...]:
    todo = sorted(rows)
    while todo:
        node = todo.pop()
        if node in rows and node not in fixed and len(rows[node]) == 1:
            (other,) = rows.pop(node)
            del rows[other][node]
            todo.append(other)
    return tuple(sorted({e for row in rows.values() for e in row.values()}))


def _across(net: Network, edge: int, node: int) -> int:
    a, b = net.ends[edge].tolist()
    return int(b if a == node else a)


def improved(net: Network, edges: Sequence[int]) -> tuple[int, ...]:
    """The tree after every stretch between tees was tried against the cheapest new link of its two halves.

    Args:
        net: The network.
        edges: Edges of a tree holding the root and all goals.

    Returns:
        A tree that costs no more.
    """
    best = tuple(edges)
    tried: set[tuple[int, ...]] = set()
    while True:
        stretch = next((each for each in _stretches(net, best) if each not in tried), None)
        if stretch is None:
            return best
        tried.add(stretch)
        best = _relinked(net, best, stretch) or best


def _relinked(net: Network, edges: tuple[int, ...], stretch: tuple[int, ...]) -> tuple[int, ...] | None:
    """A cheaper tree made by taking out a stretch and linking the halves anew, if there is one."""
    out = set(stretch)
    rest = [e for e in edges if e not in out]
    half = _component(net, rest, net.root) if rest else {net.root}
    other = ({node for e in rest for node in net.ends[e].tolist()} | {net.root, *net.goals}) - half
    # The way is the same from either side, and shorter to look for round the smaller one.
    near, far = sorted((half, other), key=len)
    link = cheapest_link(net, near, far, sum(net.prices[e] for e in stretch))
    if not link:
        return None
    return spanning(net, {node for e in (*rest, *link) for node in net.ends[e].tolist()})


def _component(net: Network, edges: Sequence[int], start: int) -> set[int]:
    rows: dict[int, list[int]] = {}
    for e in edges:
        a, b = net.ends[e].tolist()
        rows.setdefault(a, []).append(b)
        rows.setdefault(b, []).append(a)
    found, todo = {start}, [start]
    while todo:
        for other in rows.get(todo.pop(), ()):
            if other not in found:
                found.add(other)
                todo.append(other)
    return found


def _stretches(net: Network, edges: Sequence[int]) -> list[tuple[int, ...]]:
    """Runs of tree edges between nodes that are root, goal or tee."""
    rows: dict[int, list[int]] = {}
    for e in edges:
        for node in net.ends[e].tolist():
            rows.setdefault(node, []).append(e)
    fixed = {net.root, *net.goals} | {node for node, row in rows.items() if len(row) != 2}
    found: list[tuple[int, ...]] = []
    used: set[int] = set()
    for start in sorted(fixed & set(rows)):
        for first in rows[start]:
            if first in used:
                continue
            run, node = [first], _across(net, first, start)
            while node not in fixed:
                run.append(next(e for e in rows[node] if e != run[-1]))
                node = _across(net, run[-1], node)
            used.update(run)
            found.append(tuple(run))
    return found


@dataclass(frozen=True)
class Shrunk:
    """A network after everything was dropped that no tree cheaper than the best known can use.

    Args:
        net: What is left; it holds a cheaper tree if there is any.
        bound: No tree of the network first given costs less.
        best: Best tree known, as edges of the first graph.
        price: Its price.
    """

    net: Network
    bound: int
    best: tuple[int, ...]
    price: int


def with_a_tree(net: Network) -> Shrunk:
    """A whole network with a tree found quickly, and no bound."""
    tree = improved(net, quick_tree(net, net.costs, net.root))
    return Shrunk(net, 0, tree, sum(net.prices[edge] for edge in tree))


def shrunk(net: Network, rounds: int | None = None) -> Shrunk:
    """Bound, improve and drop from changing roots until nothing more goes.

    Prices are the same both ways, so any goal may take the root's part.

    Args:
        net: The network.
        rounds: How often at most; None for no limit.

    Returns:
        What is left to search.
    """
    state = Shrunk(reduced(net, np.ones(net.size, dtype=bool)), 0, (), FAR)
    turn = stale = count = 0
    while stale < 3 and state.bound < state.price and (rounds is None or count < rounds):
        places = (state.net.root, *state.net.goals)
        before = state.net.size
        state = _shrunk_from(state, places[turn % len(places)])
        turn, count = turn + 1 + len(places) // 3, count + 1
        stale = stale + 1 if state.net.size > 0.97 * before else 0
    return state


def _shrunk_from(state: Shrunk, root: int) -> Shrunk:
    """One round with another root: bound, new trees, edges dropped."""
    net, best, price = state.net, state.best, state.price
    turned = replace(net, root=root, goals=tuple(sorted({net.root, *net.goals} - {root})))
    ascent = dual_ascent(turned)
    for tree in _trees(turned, ascent):
        cost = int(net.costs[list(tree)].sum())
        if cost < price:
            best, price = net.original(tree), cost
    # what was dropped in earlier rounds only held trees as dear as the best one known
    bound = min(max(state.bound, ascent.bound), price)
    keep = usable_edges(turned, ascent, price)
    if bound == price or not joined(net, keep):
        return Shrunk(net, price, best, price)
    return Shrunk(reduced(net, keep), bound, best, price)


def _trees(net: Network, ascent: Ascent) -> list[tuple[int, ...]]:
    left = np.minimum(ascent.prices[: net.size], ascent.prices[net.size :])
    paid = np.where(left == 0, net.costs, FAR)
    trees = [quick_tree(net, paid, net.root), quick_tree(net, net.costs, net.root)]
    return [improved(net, tree) for tree in trees if tree]


def usable_edges(net: Network, dual: Dual, price: int) -> npt.NDArray[np.bool_]:
    """Which edges a tree cheaper than a known one may use, one way or the other, shape (edges,)."""
    arcs = usable_arcs(net, dual, price)
    either: npt.NDArray[np.bool_] = arcs[: net.size] | arcs[net.size :]
    return either


def usable_arcs(net: Network, dual: Dual, price: int) -> npt.NDArray[np.bool_]:
    """Which arcs a tree cheaper than a known one may use: a way root - arc - goal must fit between the bounds."""
    from_root = arc_distances(net, dual.prices, [net.root], backward=False)
    to_goal = arc_distances(net, dual.prices, net.goals, backward=True)
    fits = dual.bound + from_root[net.tails] + dual.prices + to_goal[net.heads] < price
    usable: npt.NDArray[np.bool_] = fits & (net.heads != net.root)
    return usable


def joined(net: Network, keep: npt.NDArray[np.bool_]) -> bool:
    """Whether some edges join all goals to the root."""
    found = _component(net, np.flatnonzero(keep).tolist(), net.root)
    return found.issuperset(net.goals)

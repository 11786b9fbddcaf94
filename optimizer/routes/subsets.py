"""Exact cheapest tree by dynamic programming over sets of terminals.

Dreyfus and Wagner (The Steiner problem in graphs, Networks 1, 1971), in the order of Erickson, Monma and Veinott
(Send-and-split method for minimum-concave-cost network flows, Math. Oper. Res. 12, 1987): the price of joining a set of
terminals to a node is either a split of the set at that node or a price carried over from a neighbouring node.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import combinations, pairwise

import numpy as np

from optimizer.routes.graph import Family, GroundGraph, IntArray
from optimizer.routes.network import FAR

Spread = Callable[[IntArray], None]


def cheapest_by_subsets(graph: GroundGraph, costs: IntArray) -> tuple[int, tuple[int, ...]]:
    """Price and edges of a cheapest tree joining the source and all terminals.

    Memory is 8 bytes x nodes x 2^terminals, time grows with nodes x 3^terminals.

    Args:
        graph: The candidate graph.
        costs: Price of every edge, at least 1, shape (edges,) [mct].

    Returns:
        Price [mct] and edge numbers.
    """
    goals = sorted(set(graph.terminals) - {graph.source})
    if not goals:
        return 0, ()
    table = _table(len(graph.nodes), goals, _spreader(graph, costs))
    full = (1 << len(goals)) - 1
    return int(table[full, graph.source]), tuple(sorted(_edges(graph, costs, table, goals)))


def _table(count: int, goals: Sequence[int], spread: Spread) -> IntArray:
    """Price of joining each set of goals (a bit each) to each node, shape (2^goals, nodes)."""
    table = np.full((1 << len(goals), count), FAR, dtype=np.int64)
    for bit, goal in enumerate(goals):
        table[1 << bit, goal] = 0
    for size in range(1, len(goals) + 1):
        rows = [sum(1 << bit for bit in bits) for bits in combinations(range(len(goals)), size)]
        for row in rows:
            _split(table, row)
        prices = np.full((count + 1, len(rows)), FAR, dtype=np.int64)  # one node more, never reached
        prices[:count] = table[rows].T
        spread(prices)
        table[rows] = prices[:count].T
    return table


def _split(table: IntArray, row: int) -> None:
    """Least price of joining a set where two parts of it meet, for all nodes at once."""
    low = row & -row
    part = (row - 1) & row
    buffer = np.empty(table.shape[1], dtype=np.int64)
    while part:
        if part & low:
            np.add(table[part], table[row ^ part], out=buffer)
            np.minimum(table[row], buffer, out=table[row])
        part = (part - 1) & row


def _spreader(graph: GroundGraph, costs: IntArray) -> Spread:
    """A function that carries prices along edges until none gets cheaper, in place, shape (nodes + 1, sets)."""
    passes = [_chain_pass(graph, costs, family) for family in graph.families] or [_edge_pass(graph, costs)]

    def spread(prices: IntArray) -> None:
        while True:
            before = prices.copy()
            for carry in passes:
                carry(prices)
            if np.array_equal(before, prices):
                return

    return spread


def _chain_pass(graph: GroundGraph, costs: IntArray, family: Family) -> Spread:
    """Carry prices up and down all chains of a family side by side."""
    number = {(e.start, e.end): k for k, e in enumerate(graph.edges)}
    longest = max(len(chain) for chain in family)
    nodes = np.full((longest, len(family)), len(graph.nodes), dtype=np.int64)
    step = np.full((longest, len(family), 1), FAR, dtype=np.int64)
    for c, chain in enumerate(family):
        nodes[: len(chain), c] = chain
        for k, (a, b) in enumerate(pairwise(chain)):
            step[k + 1, c, 0] = costs[number[min(a, b), max(a, b)]]

    def carry(prices: IntArray) -> None:
        for order, offset in ((range(longest), 0), (range(longest - 1, -1, -1), 1)):
            held = np.full((len(family), prices.shape[1]), FAR, dtype=np.int64)
            for k in order:
                held += step[k + offset] if 0 < k + offset < longest else 0
                np.minimum(held, prices[nodes[k]], out=held)
                prices[nodes[k]] = held

    return carry


def _edge_pass(graph: GroundGraph, costs: IntArray) -> Spread:
    """Carry prices over every edge once, for graphs without chains."""
    tails = np.concatenate((graph.ends[:, 0], graph.ends[:, 1]))
    heads = np.concatenate((graph.ends[:, 1], graph.ends[:, 0]))
    order = np.argsort(heads, kind="stable")
    tails, weights = tails[order], np.concatenate((costs, costs))[order][:, None]
    entered, first = np.unique(heads[order], return_index=True)

    def carry(prices: IntArray) -> None:
        if len(entered):
            prices[entered] = np.minimum(prices[entered], np.minimum.reduceat(prices[tails] + weights, first, axis=0))

    return carry


def _edges(graph: GroundGraph, costs: IntArray, table: IntArray, goals: Sequence[int]) -> set[int]:
    """Walk the table back from the source, always taking the first move that explains the price."""
    chosen: set[int] = set()
    todo = [((1 << len(goals)) - 1, graph.source)]
    while todo:
        row, node = todo.pop()
        if row & (row - 1) == 0 and node == goals[row.bit_length() - 1]:
            continue
        move = next((m for m in graph.neighbours[node] if table[row, m[0]] + costs[m[1]] == table[row, node]), None)
        if move is not None:
            chosen.add(move[1])
            todo.append((row, move[0]))
            continue
        part = _meeting(table, row, node)
        todo.extend([(part, node), (row ^ part, node)])
    return chosen


def _meeting(table: IntArray, row: int, node: int) -> int:
    low, part = row & -row, (row - 1) & row
    while part:
        if part & low and table[part, node] + table[row ^ part, node] == table[row, node]:
            return part
        part = (part - 1) & row
    raise AssertionError("every price in the table comes from a move or a split")

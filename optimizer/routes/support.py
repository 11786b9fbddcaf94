"""Trees within the few edges that a relaxation uses: where these are many and alike, the best tree is mostly there."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from optimizer.routes.ascent import Shrunk, improved, joined, quick_tree, shrunk, usable_edges
from optimizer.routes.cuts import cheapest_by_cuts
from optimizer.routes.network import Network, reduced
from optimizer.routes.relaxed import Array, Mask, relaxed

SUPPORT = 0.1
"""edges used less than this are left out when a tree is looked for, unless goals are cut off without them"""

_PROGRAMS = 40  # linear programs solved for the best tree within a support


def eased(state: Shrunk, seconds: float | None = None) -> Shrunk:
    """Bound a network by its relaxation, look for trees in what that uses, and drop what no cheaper tree can use.

    Args:
        state: The network with what is known of it.
        seconds: How long the relaxation may take at most; None for as long as it takes.
    """
    net, best, price = state.net, state.best, state.price
    found = relaxed(net, price, seconds) if state.bound < price else None
    if found is None:
        return state
    for tree in _trees(net, found.use):
        cost = sum(net.prices[edge] for edge in tree)
        if cost < price:
            best, price = net.original(tree), cost
    bound = min(max(state.bound, found.dual.bound), price)
    keep = usable_edges(net, found.dual, price)
    if bound == price or not joined(net, keep):
        return Shrunk(net, price, best, price)
    return Shrunk(reduced(net, keep), bound, best, price)


def _trees(net: Network, use: Array) -> list[tuple[int, ...]]:
    """Trees that follow a relaxation, and the best there is in what it uses."""
    prices = np.rint(net.costs * (1.0 - 0.999 * np.sqrt(use))).astype(np.int64) + 1
    rounded = improved(net, quick_tree(net, prices, net.root))
    return [rounded, _best_within(net, use > SUPPORT, rounded)]


def within(net: Network, state: Shrunk, core: Sequence[int]) -> Shrunk:
    """Look for a cheaper tree among few edges and those of the best one known.

    Args:
        net: A network.
        state: What is left and known of it.
        core: Edges among which a cheap tree probably is.
    """
    keep = np.zeros(net.size, dtype=bool)
    keep[list(core)] = True
    tree = _best_within(net, keep, state.best)
    cost = sum(net.prices[edge] for edge in tree)
    return replace(state, best=tree, price=cost) if cost < state.price else state


def _best_within(net: Network, keep: Mask, known: tuple[int, ...]) -> tuple[int, ...]:
    """Return a cheap tree among some edges and those of a tree already known."""
    keep[list(known)] = True
    numbered = replace(net, parts=tuple((edge,) for edge in range(net.size)))
    state = shrunk(reduced(numbered, keep))
    if state.bound == state.price:
        return state.best
    found = cheapest_by_cuts(state.net, state.price, _PROGRAMS)
    return state.net.original(found.edges) if found.edges else state.best

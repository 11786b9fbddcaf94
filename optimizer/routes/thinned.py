"""A part of a network in which no way is much longer: what a linear program of the whole would hardly use is left out.

Greedy spanner: Althofer, Das, Dobkin, Joseph and Soares, On sparse spanners of weighted graphs, Discrete Comput. Geom.
9, 1993.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from optimizer.routes.network import Network

_NO_WAY = np.inf


def thinned(net: Network, stretch: float) -> npt.NDArray[np.bool_]:
    """Say which edges stay so that the ends of every other are joined by a way hardly dearer than it.

    Args:
        net: The network.
        stretch: How many times dearer a way may be, at least 1.

    Returns:
        Whether each edge stays, shape (edges,); all edges at goals do.
    """
    away = np.full((net.count, net.count), _NO_WAY)
    np.fill_diagonal(away, 0.0)
    stays = np.zeros(net.size, dtype=bool)
    stays[np.isin(net.ends, net.goals).any(axis=1)] = True
    for edge in np.argsort(net.costs, kind="stable").tolist():
        a, b = net.ends[edge].tolist()
        cost = float(net.costs[edge])
        if stays[edge] or away[a, b] <= stretch * cost:
            continue
        stays[edge] = True
        _join(away, a, b, cost)
    return stays


def _join(away: npt.NDArray[np.float64], a: int, b: int, cost: float) -> None:
    """Shorten all ways that become shorter by an edge from a to b: those that enter it at a, and leave it at b."""
    enter = np.flatnonzero(away[:, a] + cost < away[:, b])
    leave = np.flatnonzero(away[b] + cost < away[a])
    through = away[enter, a][:, None] + (cost + away[b, leave])
    shorter = np.minimum(away[np.ix_(enter, leave)], through)
    away[np.ix_(enter, leave)] = shorter
    away[np.ix_(leave, enter)] = shorter.T

"""Bound by the flow relaxation of the tree problem, solved roughly; rounding errors never reach the bound.

Flow formulation: Wong, A dual ascent approach for Steiner tree problems on a directed graph, Math. Program. 28, 1984;
it is as strong as directed cuts. It is solved by a first-order method: Applegate and others, Practical large-scale
linear programming using primal-dual hybrid gradient, NeurIPS 2021. Its duals only hint how the goals share the price of
every arc. Shares are then made to fit in whole numbers, and the cheapest ways by them give the bound.
"""

from __future__ import annotations

import threading
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
import numpy.typing as npt
from ortools.pdlp import solvers_pb2
from ortools.pdlp.python import pdlp
from scipy.sparse import csc_matrix  # type: ignore[import-untyped]

from optimizer.routes.ascent import Dual, dual_ascent, usable_arcs
from optimizer.routes.graph import IntArray
from optimizer.routes.network import FAR, Network, arc_distances
from optimizer.routes.thinned import thinned

Array = npt.NDArray[np.float64]
Mask = npt.NDArray[np.bool_]

STRETCH = 1.01
"""ways in the program are no more than so many times dearer than those of the network"""

LARGEST_PROGRAM = 400_000
"""flows in a program beyond which it takes too long"""

_FINEST = 1 << 10  # shares of prices are whole numbers of 1 / this
_STEPS = 20_000  # of the first-order method at most; a count, not a time, so that the same ground gives the same bound
_NEAR = 1e-3  # relative distance between both sides of the program at which it counts as solved
_SHARDS = 8  # parts the work is split into; sums come out alike however many cores there are


@dataclass(frozen=True)
class Relaxed:
    """A relaxation solved.

    Args:
        dual: Bound, and what is left of the price of every arc. It holds for trees cheaper than the one known.
        use: How much of every edge the relaxed tree uses, shape (edges,).
    """

    dual: Dual
    use: Array


def relaxed(net: Network, price: int, seconds: float | None = None) -> Relaxed | None:
    """Solve the flow relaxation of a network; None if the program is too large, or no tree is cheaper.

    Args:
        net: The network.
        price: Price of a tree already known.
        seconds: How long the solver may take at most, for a bound that is lower; None for as long as it takes.
    """
    arcs = _Arcs.of(net, price)
    if arcs is None:
        return None
    program = _Program(net, arcs)
    if program.flows > LARGEST_PROGRAM:
        return None
    solution = _solved(program.task(), seconds)
    return Relaxed(_shared(net, arcs, program.heights(solution)), program.use(solution))


@dataclass(frozen=True)
class _Arcs:
    """Arcs that a cheaper tree may use.

    Args:
        usable: Whether it may, shape (arcs,).
        prices: Price of every arc. A goal is entered by one arc: what all of its arcs cost at least is taken off them.
        paid: What was taken off in all.
        ends: Goals that no arc leaves.
    """

    usable: Mask
    prices: IntArray
    paid: int
    ends: IntArray

    @classmethod
    def of(cls, net: Network, price: int) -> _Arcs | None:
        """Find them by dual ascent; None if some goal cannot be entered."""
        usable = usable_arcs(net, dual_ascent(net), price)
        prices, paid = np.concatenate((net.costs, net.costs)), 0
        for goal in net.goals:
            into = np.flatnonzero(usable & (net.heads == goal))
            if not len(into):
                return None
            least = int(prices[into].min())
            prices[into] -= least
            paid += least
        goals = np.array(net.goals, dtype=np.int64)
        return cls(usable, prices, paid, goals[~np.isin(goals, net.tails[usable])])

    def open_to(self, net: Network, goal: int) -> Mask:
        """Say which arcs water on its way to a goal may take: none that leaves it or ends in another."""
        others = self.ends[self.ends != goal]
        found: Mask = self.usable & (net.tails != goal) & ~np.isin(net.heads, others)
        return found


class _Program:
    """Arcs are bought in full or in part; to every goal one unit flows, through each arc no more than was bought."""

    def __init__(self, net: Network, arcs: _Arcs) -> None:
        self.net = net
        stays = thinned(net, STRETCH)
        in_program = np.concatenate((stays, stays))
        self.bought = np.flatnonzero(arcs.usable & in_program)
        self.prices = arcs.prices[self.bought]
        self.taken = [np.flatnonzero((arcs.open_to(net, goal) & in_program)[self.bought]) for goal in net.goals]

    @property
    def flows(self) -> int:
        """Number of flows."""
        return sum(len(each) for each in self.taken)

    @cached_property
    def _flow_columns(self) -> IntArray:
        """Column of the first flow to each goal."""
        return len(self.bought) + np.cumsum([0, *(len(each) for each in self.taken)])

    def task(self) -> Any:
        """Return the program: first the balance at every node goal by goal, then what flows against what is bought."""
        net, count = self.net, len(self.net.goals)
        wanted = np.zeros((count, net.count))
        wanted[:, net.root] = -1.0
        wanted[np.arange(count), list(net.goals)] = 1.0
        columns = int(self._flow_columns[-1])
        task: Any = pdlp.QuadraticProgram()
        task.objective_vector = np.concatenate((self.prices / self._unit, np.zeros(self.flows)))
        task.constraint_matrix = self._matrix()
        task.constraint_lower_bounds = np.concatenate((wanted.ravel(), np.zeros(self.flows)))
        task.constraint_upper_bounds = np.concatenate((wanted.ravel(), np.full(self.flows, np.inf)))
        task.variable_lower_bounds = np.zeros(columns)
        task.variable_upper_bounds = np.ones(columns)
        return task

    @property
    def _unit(self) -> float:
        """Price of an arc in the middle, so that most are about 1."""
        return max(float(np.median(self.prices)), 1.0)

    def _matrix(self) -> Any:
        net, flows = self.net, self.flows
        taken = np.concatenate(self.taken)
        column = np.arange(flows) + len(self.bought)
        first = np.repeat(np.arange(len(net.goals)) * net.count, [len(each) for each in self.taken])
        arc = self.bought[taken]
        against = np.arange(flows) + len(net.goals) * net.count
        rows = np.concatenate((first + net.heads[arc], first + net.tails[arc], against, against))
        columns = np.concatenate((column, column, taken, column))
        ones = np.ones(flows)
        values = np.concatenate((ones, -ones, ones, -ones))
        shape = len(net.goals) * net.count + flows, len(self.bought) + flows
        return csc_matrix((values, (rows, columns)), shape=shape)

    def use(self, solution: pdlp.SolverResult) -> Array:
        """Return how much of every edge is bought, shape (edges,)."""
        arcs = np.zeros(2 * self.net.size)
        arcs[self.bought] = np.array(solution.primal_solution)[: len(self.bought)]
        return np.clip(arcs[: self.net.size] + arcs[self.net.size :], 0.0, 1.0)

    def heights(self, solution: pdlp.SolverResult) -> Array:
        """Return what a unit of flow to each goal costs up to every node by the duals, shape (goals, nodes)."""
        duals = np.array(solution.dual_solution)[: len(self.net.goals) * self.net.count]
        found: Array = duals.reshape(len(self.net.goals), self.net.count) * self._unit
        return found - found[:, [self.net.root]]


def _solved(task: pdlp.QuadraticProgram, seconds: float | None) -> pdlp.SolverResult:
    """Solve a program roughly, in a thread of its own: the solver knows of no interruption, but its caller does."""
    wanted = solvers_pb2.PrimalDualHybridGradientParams()
    wanted.num_threads, wanted.num_shards = 2, _SHARDS
    wanted.termination_criteria.iteration_limit = _STEPS
    wanted.termination_criteria.simple_optimality_criteria.eps_optimal_relative = _NEAR
    wanted.termination_criteria.simple_optimality_criteria.eps_optimal_absolute = _NEAR
    if seconds is not None:
        wanted.termination_criteria.time_sec_limit = seconds
    found: list[pdlp.SolverResult] = []
    worker = threading.Thread(target=lambda: found.append(pdlp.primal_dual_hybrid_gradient(task, wanted)), daemon=True)
    worker.start()
    while worker.is_alive():
        worker.join(0.1)
    return found[0]


def _shared(net: Network, arcs: _Arcs, heights: Array) -> Dual:
    """Return the dual solution in which goals share prices as heights ask for, where these ask too much in proportion.

    What no goal needs is offered to dual ascent.
    """
    asked = np.zeros((len(net.goals), 2 * net.size))
    for number, goal in enumerate(net.goals):
        open_to = arcs.open_to(net, goal)
        asked[number, open_to] = np.maximum(heights[number, net.heads] - heights[number, net.tails], 0.0)[open_to]
    fits = np.minimum(arcs.prices / np.maximum(asked.sum(axis=0), 1e-9), 1.0)
    shares = np.floor(asked * fits * _FINEST * (1.0 - 1e-12)).astype(np.int64)
    left, total = arcs.prices * _FINEST, arcs.paid * _FINEST
    for number, goal in enumerate(net.goals):
        ways = arc_distances(net, np.where(arcs.open_to(net, goal), shares[number], FAR), [net.root], backward=False)
        reached = np.minimum(ways, ways[goal])
        total += int(ways[goal])
        left -= np.maximum(reached[net.heads] - reached[net.tails], 0) * arcs.open_to(net, goal)
    rest = dual_ascent(net, np.where(arcs.usable, left, FAR))
    return Dual(-(-(total + rest.bound) // _FINEST), np.where(arcs.usable, rest.prices // _FINEST, FAR))

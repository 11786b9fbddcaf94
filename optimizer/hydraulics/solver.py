"""Newton's method for a drip network.

With the inlet head fixed, the heads minimise a convex function of the node heads (the co-content of the network: every
tube and emitter passes more flow as its head drop grows), so Newton steps with a line search reach the one solution
from anywhere, loops or not, dry emitters or not. The linear systems are sparse, symmetric and positive definite.
A source whose head falls with flow is met by a bracketed search on the inlet head.

Short wide tubes lose less head than the rounding of the heads at their ends. Heads lost are therefore held as a sum of
two numbers, so that their differences keep their digits.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from scipy.sparse import csc_matrix  # type: ignore[import-untyped]
from scipy.sparse.linalg import splu  # type: ignore[import-untyped]

from optimizer.errors import HydraulicError
from optimizer.hydraulics.arrays import FloatArray
from optimizer.hydraulics.fluid import Fluid
from optimizer.hydraulics.invert import tube_flow_and_slope
from optimizer.hydraulics.network import Network, NetworkSolution
from optimizer.hydraulics.roots import falling_root

BALANCE = 1e-6
"""Greatest flow imbalance accepted at any node, relative to the flow through it [-]."""

_GOAL = 1e-10
_STEPS = 200
_TRIES = 40
_OPERATING_ROUNDS = 100
_SMALL_SHARE = 1e-6
_NO_FLOW_M3_S = 1e-11
"""Flows are told apart down to this, a drop in more than an hour."""


class HeadCurve(Protocol):
    """A source whose head does not rise with flow."""

    def head(self, flow: float, /) -> float:
        """Pressure head the source gives at a flow; negative beyond what it can give.

        Args:
            flow: flow drawn [m3/s]

        Returns:
            Head [m].
        """
        ...


def _moved(lost: FloatArray, change: FloatArray) -> FloatArray:
    """Heads lost, shape (2, n), moved by a change; the rounding of the sum is kept (Knuth's two-sum)."""
    total = lost[0] + change
    part = total - lost[0]
    rounding = (lost[0] - (total - part)) + (change - part)
    return np.stack([total, lost[1] + rounding])


@dataclass(eq=False)
class _State:
    """Everything evaluated at one set of heads."""

    drop: FloatArray
    tube_flow: FloatArray
    tube_slope: FloatArray
    emitter_flow: FloatArray
    emitter_slope: FloatArray
    excess: FloatArray
    inlet_flow: float
    through: FloatArray


class _Solver:
    """One network with a fixed inlet head; `lost` is the inlet's total head less each node's."""

    def __init__(self, network: Network, fluid: Fluid) -> None:
        self.network, self.fluid = network, fluid
        self.free = np.flatnonzero(np.arange(network.node_count) != network.inlet_node)
        self.rise = network.z_m - network.z_m[network.inlet_node]
        self.linear_solves = 0

    def node_sum(self, tube_values: FloatArray, sign: float) -> FloatArray:
        """Tube values summed at their ends, those at the start times `sign`."""
        net, n = self.network, self.network.node_count
        ends = np.bincount(net.tube_to, tube_values, n)
        return ends + sign * np.bincount(net.tube_from, tube_values, n)

    def state(self, lost: FloatArray, inlet_head: float, guess: FloatArray) -> _State:
        net = self.network
        fine = lost[:, net.tube_to] - lost[:, net.tube_from]
        drop = fine[0] + fine[1]
        flow, slope = tube_flow_and_slope(
            drop, guess, net.tube_length_m, net.tube_bore_m, net.tube_roughness_m, net.tube_loss_k, self.fluid
        )
        emitted, emitter_slope = net.emitter_flow_and_slope(inlet_head - lost[0] - self.rise)
        at_node = np.bincount(net.emitter_node, emitted, net.node_count)
        excess = self.node_sum(flow, -1.0) - at_node
        through = 0.5 * (self.node_sum(np.abs(flow), 1.0) + at_node)
        inlet_flow = float(-excess[net.inlet_node])
        return _State(drop, flow, slope, emitted, emitter_slope, excess, inlet_flow, through)

    def balance(self, state: _State) -> float:
        """Worst imbalance of a node over the flow through it; hardly any flow counts as a millionth of the inlet's."""
        total = float(np.sum(state.emitter_flow))
        scale = np.maximum(state.through, _SMALL_SHARE * total + _NO_FLOW_M3_S)[self.free]
        return float(np.max(np.abs(state.excess[self.free]) / scale, initial=0.0))

    def step(self, state: _State) -> FloatArray:
        """Newton's change of `lost`."""
        net, n = self.network, self.network.node_count
        diagonal = self.node_sum(state.tube_slope, 1.0)
        diagonal += np.bincount(net.emitter_node, state.emitter_slope, n)
        nodes = np.arange(n)
        rows = np.concatenate([nodes, net.tube_from, net.tube_to])
        columns = np.concatenate([nodes, net.tube_to, net.tube_from])
        matrix = csc_matrix(
            (np.concatenate([diagonal, -state.tube_slope, -state.tube_slope]), (rows, columns)), shape=(n, n)
        )
        inner = matrix[self.free][:, self.free].tocsc()
        factors = splu(inner, permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0, options={"SymmetricMode": True})
        self.linear_solves += 1
        change = np.zeros(n)
        change[self.free] = factors.solve(-state.excess[self.free])
        return change

    def search(
        self, lost: FloatArray, change: FloatArray, inlet_head: float, state: _State
    ) -> tuple[FloatArray, _State] | None:
        """A step along `change` that lowers the co-content: its slope there has all but gone, or the step is whole.

        None when rounding hides any descent.
        """
        start = abs(float(state.excess @ change))
        low, high, length = 0.0, np.inf, 1.0
        low_slope, high_slope = -start, np.inf
        kept = None
        for _ in range(_TRIES):
            trial = _moved(lost, length * change)
            new = self.state(trial, inlet_head, state.tube_flow)
            slope = float(new.excess @ change)
            if slope <= 0.1 * start:
                kept = trial, new
                if length == 1.0 or slope >= -0.5 * start:
                    break
                low, low_slope = length, slope
            else:
                high, high_slope = length, slope
            secant = low + (high - low) * low_slope / (low_slope - high_slope)
            length = float(np.clip(secant, low + 0.1 * (high - low), high - 0.1 * (high - low)))
        return kept

    def solve(self, inlet_head: float, lost: FloatArray, guess: FloatArray) -> tuple[FloatArray, _State]:
        """Heads lost at balance, shape (2, n), from a first guess."""
        state = self.state(lost, inlet_head, guess)
        best, stuck = np.inf, 0
        for _ in range(_STEPS):
            balance = self.balance(state)
            stuck = stuck + 1 if balance > 0.5 * best else 0
            best = min(best, balance)
            if balance <= _GOAL or (balance <= 0.1 * BALANCE and stuck >= 2):
                return lost, state
            better = self.search(lost, self.step(state), inlet_head, state)
            if better is None:
                break
            lost, state = better
        if self.balance(state) <= BALANCE:
            return lost, state
        raise HydraulicError(
            f"the network did not balance in {_STEPS} steps: worst node off by {self.balance(state):.1e} of its flow"
        )


def _solution(network: Network, solver: _Solver, lost: FloatArray, state: _State, inlet_head: float) -> NetworkSolution:
    head = inlet_head - lost[0] - solver.rise
    return NetworkSolution(
        head_m=head,
        tube_flow_m3_s=state.tube_flow,
        emitter_flow_m3_s=state.emitter_flow,
        emitter_head_m=head[network.emitter_node],
        inlet_flow_m3_s=state.inlet_flow,
        inlet_head_m=inlet_head,
        iterations=solver.linear_solves,
        balance=solver.balance(state),
    )


class _OperatingPoint:
    """Surplus of a source over the network's inlet head; keeps the last heads as the start of the next solve."""

    def __init__(self, network: Network, source: HeadCurve, fluid: Fluid) -> None:
        self.solver, self.source = _Solver(network, fluid), source
        self.lost, self.guess = np.zeros((2, network.node_count)), np.zeros(network.tube_count)
        self.head, self.state = np.nan, self.solver.state(self.lost, 0.0, self.guess)

    def solve(self, inlet_head: float) -> None:
        if inlet_head != self.head:
            self.lost, self.state = self.solver.solve(inlet_head, self.lost, self.guess)
            self.head, self.guess = inlet_head, self.state.tube_flow

    def surplus(self, inlet_head: float) -> float:
        """Head the source gives at the flow the network takes, less the inlet head; falls as the inlet head grows."""
        self.solve(inlet_head)
        return _finite(self.source.head(self.state.inlet_flow)) - inlet_head


def _solve_curve(network: Network, source: HeadCurve, fluid: Fluid) -> NetworkSolution:
    """Operating point: the inlet head at which the source gives just the flow the network takes."""
    point = _OperatingPoint(network, source, fluid)
    shut = _finite(source.head(0.0))
    if point.surplus(shut) == 0.0:
        return _solution(network, point.solver, point.lost, point.state, shut)
    dry = float(np.min(point.solver.rise[network.emitter_node]))
    low = min(shut, max(dry, shut + point.surplus(shut)))
    scale = max(1.0, abs(shut))
    head = falling_root(point.surplus, low, shut, 1e-10 * scale, 1e-13 * scale)
    point.solve(head)
    return _solution(network, point.solver, point.lost, point.state, head)


def _finite(head: float) -> float:
    value = float(head)
    if not np.isfinite(value):
        raise HydraulicError("the supply's head is not a finite number at the flow asked for")
    return value


def solve_network(network: Network, source: float | HeadCurve, fluid: Fluid) -> NetworkSolution:
    """Heads and flows of a network fed at its inlet.

    Source: Darcy-Weisbach tubes, q = k h^x emitters, mass balance at every node; the formulation is that of
    Todini and Rossman 2013, J. Hydraul. Eng. 139(5) (nodal form). Example: `tests/hydraulics/test_zone_network.py`.

    Args:
        network: the nodes, tubes and emitters [-]
        source: pressure head at the inlet, or a source whose head does not rise with flow [m]
        fluid: the water [-]

    Returns:
        The solution; no node is out of balance by more than 1e-6 of the flow through it.

    Raises:
        HydraulicError: when the network has no emitters, the head is not finite, or the balance is not reached.
    """
    if network.emitter_count == 0:
        raise HydraulicError("the network has no emitters")
    if not isinstance(source, int | float | np.floating):
        return _solve_curve(network, source, fluid)
    solver = _Solver(network, fluid)
    inlet_head = _finite(source)
    lost, state = solver.solve(inlet_head, np.zeros((2, network.node_count)), np.zeros(network.tube_count))
    return _solution(network, solver, lost, state, inlet_head)

"""A drip network as plain arrays, and its solution."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.sparse import coo_matrix  # type: ignore[import-untyped]
from scipy.sparse.csgraph import connected_components  # type: ignore[import-untyped]

from optimizer.errors import HydraulicError
from optimizer.hydraulics.arrays import FloatArray, IntArray, frozen_floats, frozen_ints
from optimizer.hydraulics.emitter import emitter_flow_and_slope

_NODE_FIELDS = ("z_m",)
_TUBE_FIELDS = ("tube_length_m", "tube_bore_m", "tube_roughness_m", "tube_loss_k")
_EMITTER_FIELDS = ("emitter_k", "emitter_exponent", "emitter_opening_head_m", "emitter_upper_head_m")


@dataclass(frozen=True, eq=False)
class Network:
    """Nodes, tubes and emitters of one zone, and the node where water enters.

    Args:
        z_m: node elevations, shape (n,) [m]
        tube_from: node each tube starts at, shape (t,) [-]
        tube_to: node each tube ends at, shape (t,) [-]
        tube_length_m: tube lengths, with equivalent lengths of fittings, shape (t,) [m]
        tube_bore_m: inner diameters, shape (t,) [m]
        tube_roughness_m: wall roughnesses, shape (t,) [m]
        tube_loss_k: minor-loss coefficients on the velocity head, shape (t,) [-]
        emitter_node: node of each emitter, several may share one, shape (e,) [-]
        emitter_k: coefficients of q = k h^x, shape (e,) [m3/s per m^x]
        emitter_exponent: exponents x, shape (e,) [-]
        emitter_opening_head_m: heads at which compensation starts, 0 for plain emitters, shape (e,) [m]
        emitter_upper_head_m: heads at which compensation ends, infinite for plain emitters, shape (e,) [m]
        inlet_node: node where water enters [-]

    Raises:
        HydraulicError: when shapes or values make no network, or a node is not joined to the inlet.
    """

    z_m: FloatArray
    tube_from: IntArray
    tube_to: IntArray
    tube_length_m: FloatArray
    tube_bore_m: FloatArray
    tube_roughness_m: FloatArray
    tube_loss_k: FloatArray
    emitter_node: IntArray
    emitter_k: FloatArray
    emitter_exponent: FloatArray
    emitter_opening_head_m: FloatArray
    emitter_upper_head_m: FloatArray
    inlet_node: int

    def __post_init__(self) -> None:
        for name in (*_NODE_FIELDS, *_TUBE_FIELDS, *_EMITTER_FIELDS):
            object.__setattr__(self, name, frozen_floats(getattr(self, name)))
        for name in ("tube_from", "tube_to", "emitter_node"):
            object.__setattr__(self, name, frozen_ints(getattr(self, name)))
        _check_shapes(self)
        _check_indices(self)
        _check_tubes(self)
        _check_emitters(self)
        _check_joined(self)

    @property
    def node_count(self) -> int:
        """Number of nodes."""
        return int(self.z_m.size)

    @property
    def tube_count(self) -> int:
        """Number of tubes."""
        return int(self.tube_from.size)

    @property
    def emitter_count(self) -> int:
        """Number of emitters."""
        return int(self.emitter_node.size)

    def emitter_flow_and_slope(self, head: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Flow of every emitter and its derivative with head.

        Args:
            head: pressure head at every node, shape (n,) [m]

        Returns:
            Flows [m3/s] and derivatives [m2/s], both of shape (e,).
        """
        return emitter_flow_and_slope(
            head[self.emitter_node],
            self.emitter_k,
            self.emitter_exponent,
            self.emitter_opening_head_m,
            self.emitter_upper_head_m,
        )


def _refuse(names: str, bad: np.ndarray[tuple[int], np.dtype[np.bool_]], reason: str) -> None:
    if np.any(bad):
        raise HydraulicError(f"{names} {int(np.flatnonzero(bad)[0])}: {reason}")


def _check_shapes(network: Network) -> None:
    sizes = (
        (("tube_to", *_TUBE_FIELDS), network.tube_from.size),
        (_EMITTER_FIELDS, network.emitter_node.size),
        (("z_m",), network.z_m.size),
    )
    for names, size in sizes:
        for name in names:
            if getattr(network, name).shape != (size,):
                raise HydraulicError(f"{name} must have shape ({size},), got {getattr(network, name).shape}")
    _refuse("node", ~np.isfinite(network.z_m), "its elevation is not a finite number")


def _check_indices(network: Network) -> None:
    n = network.node_count
    for name in ("tube_from", "tube_to", "emitter_node"):
        index = getattr(network, name)
        _refuse(name, (index < 0) | (index >= n), f"no such node; there are {n} nodes")
    if not 0 <= network.inlet_node < n:
        raise HydraulicError(f"inlet node {network.inlet_node} does not exist; there are {n} nodes")
    _refuse("tube", network.tube_from == network.tube_to, "it starts and ends at the same node")


def _check_tubes(network: Network) -> None:
    _refuse("tube", ~(network.tube_length_m > 0.0) | np.isinf(network.tube_length_m), "its length must be positive")
    _refuse("tube", ~(network.tube_bore_m > 0.0) | np.isinf(network.tube_bore_m), "its bore must be positive")
    rough = network.tube_roughness_m
    _refuse(
        "tube",
        ~((rough >= 0.0) & (rough <= 0.05 * network.tube_bore_m)),
        "its roughness must lie between 0 and a twentieth of its bore",
    )
    _refuse("tube", ~(network.tube_loss_k >= 0.0) | np.isinf(network.tube_loss_k), "its loss_k must be 0 or more")


def _check_emitters(network: Network) -> None:
    x, low, high = network.emitter_exponent, network.emitter_opening_head_m, network.emitter_upper_head_m
    _refuse("emitter", ~(network.emitter_k > 0.0) | np.isinf(network.emitter_k), "its coefficient must be positive")
    _refuse("emitter", ~((x >= 0.0) & (x <= 1.0)), "its exponent must lie between 0 and 1")
    _refuse(
        "emitter", ~((low >= 0.0) & (low < high)), "its compensating range must start at 0 or more and not be empty"
    )


def _check_joined(network: Network) -> None:
    n = network.node_count
    links = coo_matrix((np.ones(network.tube_count), (network.tube_from, network.tube_to)), shape=(n, n))
    _, label = connected_components(links, directed=False)
    _refuse("node", label != label[network.inlet_node], "no tube joins it to the inlet")


@dataclass(frozen=True, eq=False)
class NetworkSolution:
    """Heads and flows of a solved network.

    Args:
        head_m: pressure head at every node, shape (n,) [m]
        tube_flow_m3_s: flow in every tube, positive from its start to its end, shape (t,) [m3/s]
        emitter_flow_m3_s: flow of every emitter, shape (e,) [m3/s]
        emitter_head_m: pressure head at every emitter, shape (e,) [m]
        inlet_flow_m3_s: flow entering at the inlet [m3/s]
        inlet_head_m: pressure head at the inlet [m]
        iterations: linear systems solved [-]
        balance: worst flow imbalance of a node, relative to the flow through it [-]
    """

    head_m: FloatArray
    tube_flow_m3_s: FloatArray
    emitter_flow_m3_s: FloatArray
    emitter_head_m: FloatArray
    inlet_flow_m3_s: float
    inlet_head_m: float
    iterations: int
    balance: float

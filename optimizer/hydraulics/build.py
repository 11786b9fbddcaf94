"""Putting a network together node by node."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from optimizer.errors import HydraulicError
from optimizer.hydraulics.arrays import floats
from optimizer.hydraulics.emitter import EmitterLaw
from optimizer.hydraulics.friction import POLYETHYLENE_ROUGHNESS_M
from optimizer.hydraulics.lateral import EmitterLine
from optimizer.hydraulics.network import Network


class NetworkBuilder:
    """Collects nodes, tubes and emitters; `network` hands out the frozen arrays."""

    def __init__(self) -> None:
        self._z: list[float] = []
        self._tubes: list[tuple[int, int, float, float, float, float]] = []
        self._emitters: list[tuple[int, EmitterLaw]] = []

    def node(self, z: float) -> int:
        """Add a node and return its number.

        Args:
            z: elevation [m]
        """
        self._z.append(float(z))
        return len(self._z) - 1

    def tube(
        self,
        start: int,
        end: int,
        length: float,
        bore: float,
        roughness: float = POLYETHYLENE_ROUGHNESS_M,
        loss_k: float = 0.0,
    ) -> int:
        """Add a tube and return its number.

        Args:
            start: node it starts at [-]
            end: node it ends at [-]
            length: length, with equivalent lengths of fittings [m]
            bore: inner diameter [m]
            roughness: wall roughness [m]
            loss_k: minor-loss coefficient on the velocity head [-]
        """
        self._tubes.append((start, end, length, bore, roughness, loss_k))
        return len(self._tubes) - 1

    def emitter(self, node: int, law: EmitterLaw) -> int:
        """Add an emitter at a node and return its number.

        Args:
            node: its node [-]
            law: how it answers to head [-]
        """
        self._emitters.append((node, law))
        return len(self._emitters) - 1

    def lateral(
        self,
        inlet: int,
        line: EmitterLine,
        elevations: npt.ArrayLike,
        first_spacing: float | None = None,
        loss_k: float = 0.0,
    ) -> list[int]:
        """Add a lateral that starts at a node; returns its emitters' nodes in order from there.

        Args:
            inlet: node it starts at [-]
            line: the emitter line [-]
            elevations: elevation of every emitter, shape (count,) [m]
            first_spacing: distance from the inlet to the first emitter; a full spacing if not given [m]
            loss_k: minor-loss coefficient of the connection, on the velocity head in the line [-]
        """
        z = floats(elevations)
        lengths = line.segment_lengths(z.size, line.spacing_m if first_spacing is None else first_spacing)
        nodes, before = [], inlet
        for number, (height, length) in enumerate(zip(z, lengths, strict=True)):
            here = self.node(float(height))
            k = loss_k if number == 0 else 0.0
            self.tube(before, here, float(length) + line.emitter_loss_length_m, line.bore_m, line.roughness_m, k)
            self.emitter(here, line.law)
            nodes.append(here)
            before = here
        return nodes

    def network(self, inlet: int) -> Network:
        """The network as frozen arrays.

        Args:
            inlet: node where water enters [-]

        Raises:
            HydraulicError: when what was collected makes no network.
        """
        if not self._tubes or not self._emitters:
            raise HydraulicError("a network needs a tube and an emitter")
        ends = np.array([tube[:2] for tube in self._tubes], dtype=np.int64)
        length, bore, roughness, loss_k = floats([tube[2:] for tube in self._tubes]).T
        laws = [law for _, law in self._emitters]
        return Network(
            z_m=floats(self._z),
            tube_from=ends[:, 0],
            tube_to=ends[:, 1],
            tube_length_m=length,
            tube_bore_m=bore,
            tube_roughness_m=roughness,
            tube_loss_k=loss_k,
            emitter_node=np.array([node for node, _ in self._emitters], dtype=np.int64),
            emitter_k=floats([law.k for law in laws]),
            emitter_exponent=floats([law.exponent for law in laws]),
            emitter_opening_head_m=floats([law.opening_head_m for law in laws]),
            emitter_upper_head_m=floats([law.upper_head_m for law in laws]),
            inlet_node=inlet,
        )

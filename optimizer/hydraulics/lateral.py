"""One lateral, emitter by emitter."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from optimizer.errors import HydraulicError
from optimizer.hydraulics.arrays import FloatArray, floats
from optimizer.hydraulics.emitter import EmitterLaw
from optimizer.hydraulics.fluid import Fluid
from optimizer.hydraulics.friction import POLYETHYLENE_ROUGHNESS_M
from optimizer.hydraulics.network import Network, NetworkSolution
from optimizer.hydraulics.solver import HeadCurve, solve_network


@dataclass(frozen=True)
class EmitterLine:
    """Tubing with built-in emitters, as far as water sees it.

    Args:
        bore_m: inner diameter [m]
        spacing_m: distance from emitter to emitter [m]
        law: how the emitters answer to head [-]
        roughness_m: wall roughness [m]
        emitter_loss_length_m: tube length that loses as much as one built-in emitter's body or barb [m]
    """

    bore_m: float
    spacing_m: float
    law: EmitterLaw
    roughness_m: float = POLYETHYLENE_ROUGHNESS_M
    emitter_loss_length_m: float = 0.0

    def __post_init__(self) -> None:
        if not (self.bore_m > 0.0 and self.spacing_m > 0.0):
            raise HydraulicError(
                f"an emitter line needs a positive bore and spacing, got {self.bore_m} m, {self.spacing_m} m"
            )
        if not (0.0 <= self.roughness_m <= 0.05 * self.bore_m and self.emitter_loss_length_m >= 0.0):
            raise HydraulicError(
                "an emitter line's roughness must be 0 to a twentieth of its bore, its losses 0 or more"
            )

    def segment_lengths(self, count: int, first_spacing: float) -> FloatArray:
        """Lengths of the tube pieces between the inlet and each emitter, shape (count,) [m], losses not in.

        Args:
            count: number of emitters, at least 1 [-]
            first_spacing: distance from the inlet to the first emitter [m]
        """
        if count < 1 or not first_spacing > 0.0:
            raise HydraulicError(f"a lateral needs an emitter and a way to it, got {count} emitters, {first_spacing} m")
        lengths = np.full(count, self.spacing_m)
        lengths[0] = first_spacing
        return lengths


def lateral_network(
    line: EmitterLine,
    count: int,
    first_spacing: float | None = None,
    slope: float = 0.0,
    elevations: npt.ArrayLike | None = None,
) -> Network:
    """A single lateral as a network: node 0 is the inlet, node i the i-th emitter.

    Args:
        line: the emitter line [-]
        count: number of emitters, at least 1 [-]
        first_spacing: distance from the inlet to the first emitter; a full spacing if not given [m]
        slope: rise along the lateral away from the inlet, used without `elevations` [m/m]
        elevations: elevation of the inlet and of every emitter, shape (count + 1,) [m]

    Raises:
        HydraulicError: when the count or a length is not positive, or `elevations` has another shape.
    """
    lengths = line.segment_lengths(count, line.spacing_m if first_spacing is None else first_spacing)
    along = np.concatenate([[0.0], np.cumsum(lengths)])
    z = slope * along if elevations is None else floats(elevations)
    if z.shape != (count + 1,):
        raise HydraulicError(f"elevations must have shape ({count + 1},), got {z.shape}")
    ones = np.ones(count)
    nodes = np.arange(count + 1)
    return Network(
        z_m=z,
        tube_from=nodes[:-1],
        tube_to=nodes[1:],
        tube_length_m=lengths + line.emitter_loss_length_m,
        tube_bore_m=line.bore_m * ones,
        tube_roughness_m=line.roughness_m * ones,
        tube_loss_k=0.0 * ones,
        emitter_node=nodes[1:],
        emitter_k=line.law.k * ones,
        emitter_exponent=line.law.exponent * ones,
        emitter_opening_head_m=line.law.opening_head_m * ones,
        emitter_upper_head_m=line.law.upper_head_m * ones,
        inlet_node=0,
    )


def solve_lateral(
    line: EmitterLine,
    count: int,
    source: float | HeadCurve,
    fluid: Fluid,
    first_spacing: float | None = None,
    slope: float = 0.0,
    elevations: npt.ArrayLike | None = None,
) -> NetworkSolution:
    """Heads and flows of one lateral, emitter by emitter; node 0 is the inlet, node i the i-th emitter.

    Example: bore 13.6144 mm, 100 emitters every 0.3048 m, 3.40687 L/h at the inlet head of 14.08675 m: last 13.532 m.

    Args:
        line: the emitter line [-]
        count: number of emitters, at least 1 [-]
        source: pressure head at the inlet, or a source whose head does not rise with flow [m]
        fluid: the water [-]
        first_spacing: distance from the inlet to the first emitter; a full spacing if not given [m]
        slope: rise along the lateral away from the inlet, used without `elevations` [m/m]
        elevations: elevation of the inlet and of every emitter, shape (count + 1,) [m]

    Raises:
        HydraulicError: when the lateral is not valid or its balance is not reached.
    """
    return solve_network(lateral_network(line, count, first_spacing, slope, elevations), source, fluid)

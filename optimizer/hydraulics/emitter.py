"""Flow of an emitter against its head.

A plain emitter gives q = k h^x. A pressure-compensating one gives q = k h^x (x usually 0) between its opening and its
upper head; below the opening head it is a fixed orifice, q = q(opening) (h / opening)^0.5, and above the upper head,
where makers promise nothing, it is taken as a fixed orifice again, q = q(upper) (h / upper)^0.5, so that too high a
head shows as too high a flow. No emitter gives or takes water at a head of zero or less. Below 1 mm of head the law is
replaced by a straight line to zero, which keeps its slope finite.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from optimizer.errors import HydraulicError
from optimizer.hydraulics.arrays import FloatArray, floats

STRAIGHT_BELOW_M = 1e-3
"""Head under which every emitter law is a straight line to zero flow [m]."""


def emitter_flow_and_slope(
    head: npt.ArrayLike,
    k: npt.ArrayLike,
    exponent: npt.ArrayLike,
    opening_head: npt.ArrayLike = 0.0,
    upper_head: npt.ArrayLike = np.inf,
) -> tuple[FloatArray, FloatArray]:
    """Flow of emitters and its derivative with head; the laws are those named at the top of this module.

    Source: Keller and Karmeli 1974, Trans. ASAE 17(4): q = k h^x. Example: k 1e-6, x 0.5, 4 m -> 2e-6.

    Args:
        head: pressure head at the emitter [m]
        k: coefficient [m3/s per m^x]
        exponent: exponent x, 0 to 1 [-]
        opening_head: head at which compensation starts; 0 for a plain emitter [m]
        upper_head: head at which compensation ends; infinite for a plain emitter [m]

    Returns:
        Flow [m3/s] and derivative [m2/s], of the common shape of the arguments.
    """
    h, x, low, high = floats(head), floats(exponent), floats(opening_head), floats(upper_head)
    safe = np.maximum(h, STRAIGHT_BELOW_M)
    inside = np.clip(safe, low, high)
    orifice = safe != inside
    flow = floats(k) * inside**x * np.sqrt(safe / inside)
    slope = flow * np.where(orifice, 0.5, x) / safe
    straight = h < STRAIGHT_BELOW_M
    flow = np.where(straight, flow * np.maximum(h, 0.0) / STRAIGHT_BELOW_M, flow)
    slope = np.where(straight, np.where(h > 0.0, floats(k) * inside**x * np.sqrt(safe / inside) / safe, 0.0), slope)
    return flow, slope


@dataclass(frozen=True)
class EmitterLaw:
    """How one product's emitters answer to head.

    Args:
        k: coefficient of q = k h^x [m3/s per m^x]
        exponent: exponent x, 0 to 1 [-]
        cv: manufacturer's coefficient of variation [-]
        opening_head_m: head at which compensation starts; 0 for a plain emitter [m]
        upper_head_m: head at which compensation ends; infinite for a plain emitter [m]
    """

    k: float
    exponent: float
    cv: float = 0.0
    opening_head_m: float = 0.0
    upper_head_m: float = np.inf

    def __post_init__(self) -> None:
        if not (np.isfinite(self.k) and self.k > 0.0):
            raise HydraulicError(f"an emitter coefficient must be positive, got {self.k}")
        if not 0.0 <= self.exponent <= 1.0:
            raise HydraulicError(f"an emitter exponent lies between 0 and 1, got {self.exponent}")
        if not 0.0 <= self.cv < 1.0:
            raise HydraulicError(f"a coefficient of variation lies between 0 and 1, got {self.cv}")
        if not 0.0 <= self.opening_head_m < self.upper_head_m:
            raise HydraulicError(
                f"compensation must start at 0 or more and end above its start, "
                f"got {self.opening_head_m} to {self.upper_head_m} m"
            )

    @classmethod
    def from_rating(
        cls,
        rated_flow: float,
        rated_head: float,
        exponent: float,
        cv: float = 0.0,
        opening_head: float = 0.0,
        upper_head: float = np.inf,
    ) -> EmitterLaw:
        """The law of an emitter that gives `rated_flow` at `rated_head`.

        Args:
            rated_flow: flow on the label [m3/s]
            rated_head: head at which the label's flow holds; inside the compensating range if there is one [m]
            exponent: exponent x, 0 to 1 [-]
            cv: manufacturer's coefficient of variation [-]
            opening_head: head at which compensation starts; 0 for a plain emitter [m]
            upper_head: head at which compensation ends; infinite for a plain emitter [m]

        Raises:
            HydraulicError: when a value is out of range or the rated head lies outside the compensating range.
        """
        if not (rated_flow > 0.0 and rated_head > 0.0):
            raise HydraulicError(f"a rating needs a positive flow and head, got {rated_flow} m3/s at {rated_head} m")
        if not opening_head <= rated_head <= upper_head:
            raise HydraulicError(
                f"rated head {rated_head} m lies outside the compensating range {opening_head} to {upper_head} m"
            )
        return cls(rated_flow / rated_head**exponent, exponent, cv, opening_head, upper_head)

    @property
    def compensating(self) -> bool:
        """Whether the emitter holds its flow over a range of heads."""
        return self.opening_head_m > 0.0

    def flow(self, head: npt.ArrayLike) -> FloatArray:
        """Flow at a head, any shape.

        Args:
            head: pressure head at the emitter [m]

        Returns:
            Flow [m3/s].
        """
        return self.flow_and_slope(head)[0]

    def flow_and_slope(self, head: npt.ArrayLike) -> tuple[FloatArray, FloatArray]:
        """Flow at a head and its derivative, any shape.

        Args:
            head: pressure head at the emitter [m]

        Returns:
            Flow [m3/s] and derivative [m2/s].
        """
        return emitter_flow_and_slope(head, self.k, self.exponent, self.opening_head_m, self.upper_head_m)

    def head_for(self, flow: float) -> float:
        """Least head at which the emitter gives a flow.

        Args:
            flow: wanted flow, above zero [m3/s]

        Returns:
            Head [m].

        Raises:
            HydraulicError: when no head up to the upper head gives the flow.
        """
        opening_flow, upper_flow = self.flow([self.opening_head_m, min(self.upper_head_m, 1e6)])
        if not 0.0 < flow <= upper_flow:
            raise HydraulicError(f"no head within the emitter's range gives {flow} m3/s")
        if flow <= opening_flow:
            return float(self.opening_head_m * (flow / opening_flow) ** 2)
        return float((flow / self.k) ** (1.0 / self.exponent))

"""Where the water comes from: tap, pump, tank; each gives a head that does not rise with flow."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from optimizer.errors import HydraulicError
from optimizer.hydraulics.arrays import FloatArray, floats, frozen_floats

BUCKET_EXPONENT = 0.5
"""Flow grows with the square root of the pressure drop: turbulent loss in the pipes before the tap."""

HYDRANT_EXPONENT = 0.54
"""Exponent of the two-point curve of NFPA 291 (1 / 1.85, the Hazen-Williams exponent)."""

LEAST_DROP_SHARE = 0.25
"""A residual reading should lie at least a quarter of the static pressure below it (NFPA 291)."""


@dataclass(frozen=True)
class TapCurve:
    """A tap on a main: head = static head - reference drop (Q / reference flow)^(1 / exponent).

    Args:
        static_head_m: head with nothing running [m]
        reference_flow_m3_s: flow of the reading [m3/s]
        reference_drop_m: static head less the head at that flow [m]
        exponent: exponent of flow with pressure drop, 0.4 to 1 [-]
        warnings: what to tell the user about the readings [-]
    """

    static_head_m: float
    reference_flow_m3_s: float
    reference_drop_m: float
    exponent: float = BUCKET_EXPONENT
    warnings: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if not (self.static_head_m > 0.0 and self.reference_flow_m3_s > 0.0 and self.reference_drop_m > 0.0):
            raise HydraulicError(
                f"a tap needs a positive static head, flow and pressure drop, got {self.static_head_m} m, "
                f"{self.reference_flow_m3_s} m3/s, {self.reference_drop_m} m"
            )
        if not 0.4 <= self.exponent <= 1.0:
            raise HydraulicError(f"a tap's exponent lies between 0.4 and 1, got {self.exponent}")

    @classmethod
    def from_bucket(cls, static_head: float, open_flow: float) -> TapCurve:
        """Curve from static pressure and a bucket test (all pressure spent): Q = Qopen sqrt((Ps - P) / Ps).

        Example: 60 psi static, 30 psi wanted: 0.707 of the bucket flow.

        Args:
            static_head: head with nothing running [m]
            open_flow: flow of the open tap into a bucket [m3/s]
        """
        return cls(static_head, open_flow, static_head)

    @classmethod
    def from_reading(cls, static_head: float, flow: float, residual_head: float) -> TapCurve:
        """Curve from static pressure and the pressure at one flow: Q2 = Q1 ((Ps - P2) / (Ps - P1))^0.54.

        Source: NFPA 291. Example: static 90 psi, 65 psi at 1000 gpm: 1744 gpm at 20 psi.

        Args:
            static_head: head with nothing running [m]
            flow: flow of the reading [m3/s]
            residual_head: head at that flow [m]
        """
        drop = static_head - residual_head
        return cls(static_head, flow, drop, HYDRANT_EXPONENT, _small_drop_warning(static_head, drop))

    @classmethod
    def from_readings(cls, static_head: float, flows: npt.ArrayLike, residual_heads: npt.ArrayLike) -> TapCurve:
        """Curve through several readings: a straight line through the logarithms of flow and drop, least squares.

        With one reading this is `from_reading`. The exponent is kept between 0.45 and 0.6, where pipes lie.

        Args:
            static_head: head with nothing running [m]
            flows: flows of the readings, shape (r,) [m3/s]
            residual_heads: heads at those flows, shape (r,) [m]

        Raises:
            HydraulicError: when a flow is not positive or a head not below the static head.
        """
        q, drop = floats(flows), static_head - floats(residual_heads)
        if q.ndim != 1 or q.shape != drop.shape or q.size == 0 or not (np.all(q > 0.0) and np.all(drop > 0.0)):
            raise HydraulicError("tap readings need positive flows, each with a head below the static head")
        if np.unique(q).size == 1:
            return cls.from_reading(static_head, float(q[0]), static_head - float(np.mean(drop)))
        x, y = np.log(drop), np.log(q)
        spread = float(np.sum((x - x.mean()) ** 2))
        tilt = float(np.sum((x - x.mean()) * (y - y.mean()))) / spread if spread > 0.0 else np.inf
        exponent = float(np.clip(tilt, 0.45, 0.6))
        warnings = _small_drop_warning(static_head, float(drop.max()))
        if exponent != tilt:
            warnings += ("the readings do not follow the usual law of a pipe; check them",)
        return cls(static_head, float(np.exp(y.mean())), float(np.exp(x.mean())), exponent, warnings)

    def heads(self, flow: npt.ArrayLike) -> FloatArray:
        """Head at each flow; below zero beyond the open flow.

        Args:
            flow: flows, any shape, not negative [m3/s]
        """
        return self.static_head_m - self.reference_drop_m * (floats(flow) / self.reference_flow_m3_s) ** (
            1.0 / self.exponent
        )

    def head(self, flow: float) -> float:
        """Head at one flow [m].

        Args:
            flow: flow, not negative [m3/s]
        """
        return float(self.heads(flow))

    def flow_at(self, head: float) -> float:
        """Flow at which the tap still has a head; 0 at the static head and above [m3/s].

        Args:
            head: wanted head [m]
        """
        share = max(0.0, self.static_head_m - head) / self.reference_drop_m
        return float(self.reference_flow_m3_s * share**self.exponent)


def _small_drop_warning(static_head: float, drop: float) -> tuple[str, ...]:
    if drop >= LEAST_DROP_SHARE * static_head:
        return ()
    return (
        f"the reading dropped only {drop / static_head:.0%} below static; open the tap further "
        "until it drops by a quarter or more, or the curve is a guess",
    )


@dataclass(frozen=True, eq=False)
class PumpCurve:
    """A pump given by points of its curve, joined by straight lines; the last line goes on beyond the last point.

    Args:
        flows_m3_s: flows, rising from 0 or more, shape (p,) [m3/s]
        heads_m: heads, not rising, shape (p,) [m]
        least_flow_m3_s: least comfortable flow; below it the pump cycles or heats up [m3/s]
        greatest_flow_m3_s: greatest comfortable flow [m3/s]
    """

    flows_m3_s: FloatArray
    heads_m: FloatArray
    least_flow_m3_s: float = 0.0
    greatest_flow_m3_s: float = np.inf

    def __post_init__(self) -> None:
        object.__setattr__(self, "flows_m3_s", frozen_floats(self.flows_m3_s))
        object.__setattr__(self, "heads_m", frozen_floats(self.heads_m))
        q, h = self.flows_m3_s, self.heads_m
        if q.ndim != 1 or q.shape != h.shape or q.size < 2:
            raise HydraulicError("a pump curve needs two points or more")
        if not (q[0] >= 0.0 and np.all(np.diff(q) > 0.0) and np.all(np.diff(h) <= 0.0) and h[-1] < h[0]):
            raise HydraulicError("along a pump curve flow must rise and head fall")
        _check_band("pump", self.least_flow_m3_s, self.greatest_flow_m3_s)

    def heads(self, flow: npt.ArrayLike) -> FloatArray:
        """Head at each flow; constant before the first point.

        Args:
            flow: flows, any shape, not negative [m3/s]
        """
        q, h = self.flows_m3_s, self.heads_m
        beyond = np.maximum(floats(flow) - q[-1], 0.0)
        # A flat last piece must still end somewhere: the mean fall of the whole curve is used then.
        last = (h[-1] - h[-2]) / (q[-1] - q[-2]) or (h[-1] - h[0]) / (q[-1] - q[0])
        return floats(np.interp(floats(flow), q, h) + last * beyond)

    def head(self, flow: float) -> float:
        """Head at one flow [m].

        Args:
            flow: flow, not negative [m3/s]
        """
        return float(self.heads(flow))


@dataclass(frozen=True)
class RatedPump:
    """A pump known by one point: head = 4/3 rated head - 1/3 rated head (Q / rated flow)^2.

    Source: single-point pump curve, EPANET 2 Users Manual (Rossman 2000), section 3.1.

    Args:
        rated_flow_m3_s: flow on the plate [m3/s]
        rated_head_m: head at that flow [m]
        least_flow_m3_s: least comfortable flow; below it the pump cycles or heats up [m3/s]
        greatest_flow_m3_s: greatest comfortable flow [m3/s]
    """

    rated_flow_m3_s: float
    rated_head_m: float
    least_flow_m3_s: float = 0.0
    greatest_flow_m3_s: float = np.inf

    def __post_init__(self) -> None:
        if not (self.rated_flow_m3_s > 0.0 and self.rated_head_m > 0.0):
            raise HydraulicError("a pump's rating needs a positive flow and head")
        _check_band("pump", self.least_flow_m3_s, self.greatest_flow_m3_s)

    def heads(self, flow: npt.ArrayLike) -> FloatArray:
        """Head at each flow.

        Args:
            flow: flows, any shape, not negative [m3/s]
        """
        return self.rated_head_m * (4.0 - (floats(flow) / self.rated_flow_m3_s) ** 2) / 3.0

    def head(self, flow: float) -> float:
        """Head at one flow [m].

        Args:
            flow: flow, not negative [m3/s]
        """
        return float(self.heads(flow))


def _check_band(name: str, least: float, greatest: float) -> None:
    if not 0.0 <= least < greatest:
        raise HydraulicError(
            f"{name}: its flow band must start at 0 or more and not be empty, got {least} to {greatest}"
        )


@dataclass(frozen=True)
class TankCurve:
    """A tank with straight walls; its head is the outlet's height and the water above the outlet.

    Args:
        outlet_height_m: height of the outlet above the point where heads are counted [m]
        full_depth_m: water above the outlet when full [m]
        volume_m3: water between full and empty [m3]
        empty_depth_m: water above the outlet when the tank counts as empty [m]
        depth_m: water above the outlet now; full if not given [m]
    """

    outlet_height_m: float
    full_depth_m: float
    volume_m3: float
    empty_depth_m: float = 0.0
    depth_m: float | None = None

    def __post_init__(self) -> None:
        if not (0.0 <= self.empty_depth_m < self.full_depth_m and self.volume_m3 > 0.0):
            raise HydraulicError("a tank needs a volume, and more water when full than when empty")
        if not self.empty_depth_m <= self.depth_now_m <= self.full_depth_m:
            raise HydraulicError(f"a tank's depth of {self.depth_m} m lies outside empty to full")

    @property
    def depth_now_m(self) -> float:
        """Water above the outlet now [m]."""
        return self.full_depth_m if self.depth_m is None else self.depth_m

    @property
    def area_m2(self) -> float:
        """Water surface [m2]."""
        return self.volume_m3 / (self.full_depth_m - self.empty_depth_m)

    def at(self, depth: float) -> TankCurve:
        """The same tank with another depth of water.

        Args:
            depth: water above the outlet [m]
        """
        return replace(self, depth_m=depth)

    def heads(self, flow: npt.ArrayLike) -> FloatArray:
        """Head at each flow, the same for all: losses after the outlet belong to the parts that follow.

        Args:
            flow: flows, any shape [m3/s]
        """
        return np.full(np.shape(flow), self.outlet_height_m + self.depth_now_m)

    def head(self, flow: float) -> float:
        """Head at one flow [m].

        Args:
            flow: flow [m3/s]
        """
        return float(self.heads(flow))

    def time_to_empty(self, flow_at: Callable[[TankCurve], float], refill_flow: float = 0.0, levels: int = 24) -> float:
        """Time from the present depth to empty, level by level; infinite when the refill keeps up.

        Args:
            flow_at: flow the zone takes from the tank at its depth; solves the zone [m3/s]
            refill_flow: steady refill meanwhile [m3/s]
            levels: levels at which the flow is asked for; Gauss-Legendre points [-]

        Returns:
            Time [s].
        """
        points, weights = np.polynomial.legendre.leggauss(levels)
        part = 0.5 * (points + 1.0)
        fall = self.depth_now_m - self.empty_depth_m
        # Depth goes with the square of the position: outflow like the root of depth then makes a smooth integrand.
        depths = self.empty_depth_m + fall * part**2
        net = np.array([flow_at(self.at(float(depth))) for depth in depths]) - refill_flow
        if np.any(net <= 0.0):
            return float(np.inf)
        return float(np.sum(0.5 * weights * 2.0 * part * fall * self.area_m2 / net))

"""Zone candidates in and their operating points out, as plain arrays."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace

import numpy as np
import numpy.typing as npt

from optimizer.errors import HydraulicError
from optimizer.hydraulics.arrays import BoolArray, FloatArray, IntArray, floats, frozen_floats, frozen_ints


@dataclass(frozen=True)
class FixedHead:
    """A source that holds one head at any flow.

    Args:
        head_m: the head [m]
    """

    head_m: float

    def heads(self, flow: npt.ArrayLike) -> FloatArray:
        """The head, for each flow.

        Args:
            flow: flows, any shape [m3/s]
        """
        return np.full(np.shape(flow), self.head_m)


@dataclass(frozen=True, eq=False)
class HeaderRuns:
    """Zone candidates on one list of take-offs; every array has shape (c,).

    Args:
        first: first take-off of the run [-]
        last: last take-off of the run, itself in [-]
        inlet_position_m: place along the header where the feed joins; may lie outside the run [m]
        inlet_z_m: elevation there [m]
        header_bore_m: inner diameter of the header [m]
        header_roughness_m: wall roughness of the header [m]
        feed_length_m: length of the feed tube; 0 for none [m]
        feed_bore_m: inner diameter of the feed tube [m]
        feed_roughness_m: wall roughness of the feed tube [m]
        source: which source feeds it [-]
        source_z_m: elevation at which the source's head is counted [m]
    """

    first: IntArray
    last: IntArray
    inlet_position_m: FloatArray
    inlet_z_m: FloatArray
    header_bore_m: FloatArray
    header_roughness_m: FloatArray
    feed_length_m: FloatArray
    feed_bore_m: FloatArray
    feed_roughness_m: FloatArray
    source: IntArray
    source_z_m: FloatArray

    def __post_init__(self) -> None:
        whole = ("first", "last", "source")
        for field in fields(self):
            convert = frozen_ints if field.name in whole else frozen_floats
            object.__setattr__(self, field.name, convert(getattr(self, field.name)))
            if getattr(self, field.name).shape != (self.first.size,):
                raise HydraulicError(f"{field.name} must have shape ({self.first.size},)")
            if not np.all(np.isfinite(getattr(self, field.name))):
                raise HydraulicError(f"{field.name} holds a number that is not finite")
        if np.any(self.header_bore_m <= 0.0) or np.any(self.feed_bore_m <= 0.0) or np.any(self.feed_length_m < 0.0):
            raise HydraulicError("bores must be positive and feed lengths 0 or more")

    @property
    def count(self) -> int:
        """Number of candidates."""
        return int(self.first.size)

    def take(self, index: IntArray) -> HeaderRuns:
        """Some of the candidates.

        Args:
            index: which, shape (k,) [-]
        """
        return HeaderRuns(*(getattr(self, field.name)[index] for field in fields(self)))


def joined_runs(
    groups: Sequence[HeaderRuns], sources: Sequence[int], starts: Sequence[int], shifts: Sequence[float]
) -> HeaderRuns:
    """Candidates of several headers as one list.

    Args:
        groups: candidates, all of a group behind one source [-]
        sources: the source of each group [-]
        starts: number of each group's first take-off in the joined list of take-offs [-]
        shifts: what is added to the places along each group's header there [m]
    """
    moved = [
        replace(
            group,
            first=group.first + start,
            last=group.last + start,
            inlet_position_m=group.inlet_position_m + shift,
            source=np.full(group.count, source, dtype=np.int64),
        )
        for group, source, start, shift in zip(groups, sources, starts, shifts, strict=True)
    ]
    if len(moved) == 1:
        return moved[0]
    columns = (np.concatenate([getattr(group, field.name) for group in moved]) for field in fields(HeaderRuns))
    return HeaderRuns(*columns)


@dataclass(frozen=True, eq=False)
class BatchSolution:
    """What each candidate does; every array has shape (c,). Numbers of candidates not `solved` are nan.

    Args:
        solved: balance reached, and every lateral within its table [-]
        converged: balance reached [-]
        flow_m3_s: flow of the zone [m3/s]
        source_head_m: head the source gives at that flow [m]
        inlet_head_m: head where the feed joins the header [m]
        least_head_m: least head at an emitter [m]
        greatest_head_m: greatest head at an emitter [m]
        least_flow_m3_s: least emitter flow [m3/s]
        greatest_flow_m3_s: greatest emitter flow [m3/s]
        mean_flow_m3_s: mean emitter flow [m3/s]
        header_velocity_m_s: greatest velocity in the header [m/s]
        feed_velocity_m_s: velocity in the feed tube [m/s]
        lateral_velocity_m_s: greatest velocity at a lateral's inlet [m/s]
        greatest_take_off_head_m: greatest head at a take-off [m]
    """

    solved: BoolArray
    converged: BoolArray
    flow_m3_s: FloatArray
    source_head_m: FloatArray
    inlet_head_m: FloatArray
    least_head_m: FloatArray
    greatest_head_m: FloatArray
    least_flow_m3_s: FloatArray
    greatest_flow_m3_s: FloatArray
    mean_flow_m3_s: FloatArray
    header_velocity_m_s: FloatArray
    feed_velocity_m_s: FloatArray
    lateral_velocity_m_s: FloatArray
    greatest_take_off_head_m: FloatArray

    @property
    def greatest_velocity_m_s(self) -> FloatArray:
        """Greatest velocity anywhere, shape (c,) [m/s]."""
        in_tubes = np.maximum(self.header_velocity_m_s, self.feed_velocity_m_s)
        return floats(np.maximum(in_tubes, self.lateral_velocity_m_s))

    @property
    def flow_variation(self) -> FloatArray:
        """Flow variation (qmax - qmin) / qmax, shape (c,) [-]."""
        return 1.0 - self.least_flow_m3_s / self.greatest_flow_m3_s

    def part(self, start: int, stop: int) -> BatchSolution:
        """The candidates from one number up to another.

        Args:
            start: first [-]
            stop: the one behind the last [-]
        """
        return BatchSolution(*(getattr(self, field.name)[start:stop] for field in fields(self)))

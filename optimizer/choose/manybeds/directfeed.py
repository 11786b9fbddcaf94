"""Stretches of header fed at one of their take-offs with nothing before it, ready for the batch solver."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from optimizer.hydraulics.batch import HeaderRuns
from optimizer.problem.case import Case, Run

FedAt = tuple[Run, int]
"""a stretch of one header and the vertex at which it is fed"""


def fed_directly(case: Case, header: int, stretches: Sequence[FedAt]) -> HeaderRuns:
    """Return stretches of a header as candidates of the batch solver, heads counted at the supply.

    Args:
        case: the design.
        header: which of its headers.
        stretches: at least one.
    """
    line, count = case.layout.headers[header], len(stretches)
    ends = [line.vertices(run) for run, _ in stretches]
    bore, roughness = np.full(count, case.tube.bore), np.full(count, case.tube.roughness)
    places = np.array([line.points[vertex] for _, vertex in stretches])
    return HeaderRuns(
        first=np.array([first for first, _ in ends]),
        last=np.array([last for _, last in ends]),
        inlet_position_m=np.array([line.distance_um[vertex] for _, vertex in stretches]) / 1e6,
        inlet_z_m=case.shapes.ground.heights(places) + case.layout.raised,
        header_bore_m=bore,
        header_roughness_m=roughness,
        feed_length_m=np.zeros(count),
        feed_bore_m=bore,
        feed_roughness_m=roughness,
        source=np.zeros(count, dtype=np.int64),
        source_z_m=np.full(count, case.shapes.source_z_m),
    )

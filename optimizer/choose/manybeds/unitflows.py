"""What stretches of header take at least, in whatever zone they run."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from optimizer.choose.judge import ZoneJudge
from optimizer.choose.manybeds.directfeed import fed_directly
from optimizer.choose.waterlimits import WaterLimits, working_head
from optimizer.hydraulics.batch import FixedHead, solve_batch
from optimizer.hydraulics.takeoffs import TakeOffs
from optimizer.problem.case import Case, Run
from optimizer.problem.water import TankAssembly

Fed = tuple[Run, Sequence[int]]
"""a stretch of header and the vertices at which it may be fed"""


def least_flows(case: Case, fed: Sequence[Fed], limits: WaterLimits, judge: ZoneJudge) -> tuple[float, ...]:
    """Return the flow of each stretch of header at least, 0 where nothing is known [m3/s].

    The pressure behind the head parts is at least the working pressure while a zone takes no more than it may, and
    mainline takes no more than its share of it. What is left at the inlet makes the stretch take so much; and no
    emitter gives less than the strongest, less the flow variation allowed.

    Args:
        case: the design of its block.
        fed: the stretches.
        limits: what its zones must hold.
        judge: knows the flows of its laterals.
    """
    if isinstance(case.assembly, TankAssembly) or judge.tables_mislead(case):
        return (0.0,) * len(fed)
    head_m = (1.0 - case.scenario.limits.mainline_loss) * working_head(case)
    spread = 1.0 if limits.variation is None else limits.variation
    strongest = _strongest_emitter(case, head_m, judge)
    found = []
    for run, vertices in fed:
        emitters = sum(case.feed.laterals[index].spacings for index in case.run_laterals(run))
        offs = judge.take_offs(case, run.header)
        found.append(max(_flow_at(case, run, vertices, offs, head_m), emitters * (1.0 - spread) * strongest))
    return tuple(found)


def _strongest_emitter(case: Case, head_m: float, judge: ZoneJudge) -> float:
    """Return what the strongest emitter of any zone with rows of a block gives at least [m3/s]."""
    least = []
    for header in range(len(case.layout.headers)):
        offs = judge.take_offs(case, header)
        at = np.maximum(head_m - (offs.z_m - case.shapes.source_z_m), 0.0)
        cell = np.clip(np.searchsorted(offs.heads_m, at, side="right") - 1, 0, len(offs.heads_m) - 1)
        flows = offs.greatest_flow_m3_s[np.arange(len(at)), cell]
        least.append(float(np.nan_to_num(flows, nan=0.0).min()))
    return min(least)


def _flow_at(case: Case, run: Run, vertices: Sequence[int], offs: TakeOffs, head_m: float) -> float:
    """Return the flow of a stretch of header behind a head at the supply, fed where it takes least [m3/s]."""
    if not vertices:
        return 0.0
    candidates = fed_directly(case, run.header, [(run, vertex) for vertex in vertices])
    solution = solve_batch(candidates, offs, [FixedHead(head_m)], case.fluid)
    return float(np.where(solution.solved, np.nan_to_num(solution.flow_m3_s), 0.0).min())

"""A header too long for one zone, cut into stretches of much the same size that hold wherever mainline feeds them."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from optimizer.choose.judge import ZoneJudge
from optimizer.choose.manybeds.directfeed import FedAt, fed_directly
from optimizer.choose.reasons import HIGH_PRESSURE, LOW_PRESSURE, NOT_SOLVED, TOO_FAST, TOO_MUCH_FLOW, UNEVEN
from optimizer.choose.waterlimits import WaterLimits, broken_limits, working_head
from optimizer.hydraulics.batch import FixedHead, solve_batch
from optimizer.problem.case import Case, Run
from optimizer.problem.water import TankAssembly

_BEHIND_THE_HEAD = (NOT_SOLVED, TOO_MUCH_FLOW, UNEVEN, TOO_FAST, HIGH_PRESSURE)
_BEHIND_MAINLINE = (NOT_SOLVED, LOW_PRESSURE, UNEVEN)


def alike_stretches(case: Case, header: int, limits: WaterLimits, judge: ZoneJudge) -> tuple[Run, ...] | None:
    """Return the fewest stretches of about as many rows each that hold fed at either end.

    They hold with the working pressure at the supply, and with what mainline may leave of it. None where no cut holds,
    behind a tank, or where the tables of laterals are not good enough.

    Args:
        case: the design.
        header: which of its headers.
        limits: what zones must hold.
        judge: knows the flows of laterals.
    """
    if isinstance(case.assembly, TankAssembly) or judge.tables_mislead(case):
        return None
    for count in range(2, case.row_count + 1):
        runs = _cut(header, case.row_count, count)
        if _hold(case, header, runs, limits, judge):
            return runs
    return None


def _cut(header: int, rows: int, count: int) -> tuple[Run, ...]:
    edges = [round(part * rows / count) for part in range(count + 1)]
    return tuple(Run(header, first, last - 1) for first, last in pairwise(edges))


def _hold(case: Case, header: int, runs: Sequence[Run], limits: WaterLimits, judge: ZoneJudge) -> bool:
    line, offs = case.layout.headers[header], judge.take_offs(case, header)
    stretches: list[FedAt] = [(run, vertex) for run in runs for vertex in line.vertices(run)]
    candidates = fed_directly(case, header, stretches)
    head_m = working_head(case)
    left_m = (1.0 - case.scenario.limits.mainline_loss) * head_m
    for source_m, names in ((head_m, _BEHIND_THE_HEAD), (left_m, _BEHIND_MAINLINE)):
        with np.errstate(invalid="ignore"):
            broken = broken_limits(solve_batch(candidates, offs, [FixedHead(source_m)], case.fluid), limits)
        if any(broken[name].any() for name in names):
            return False
    return True

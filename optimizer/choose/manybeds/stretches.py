"""A header too long for one zone, cut into few stretches, alike in size, that hold wherever mainline feeds them."""

from __future__ import annotations

from itertools import accumulate

import numpy as np

from optimizer.choose.judge import ZoneJudge
from optimizer.choose.manybeds.cuts import best_cuts
from optimizer.choose.manybeds.directfeed import fed_directly
from optimizer.choose.reasons import HIGH_PRESSURE, LOW_PRESSURE, NOT_SOLVED, TOO_FAST, TOO_MUCH_FLOW, UNEVEN
from optimizer.choose.waterlimits import WaterLimits, broken_limits, working_head
from optimizer.hydraulics.batch import FixedHead, solve_batch
from optimizer.problem.case import Case, Run
from optimizer.problem.water import TankAssembly

_BEHIND_THE_HEAD = (NOT_SOLVED, TOO_MUCH_FLOW, UNEVEN, TOO_FAST, HIGH_PRESSURE)
_BEHIND_MAINLINE = (NOT_SOLVED, LOW_PRESSURE, UNEVEN)


def alike_stretches(case: Case, header: int, limits: WaterLimits, judge: ZoneJudge) -> tuple[Run, ...] | None:
    """Return the fewest stretches that hold fed at either end, alike in size.

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
    rows = case.row_count
    reach, end = list[int](), 0
    for first in range(rows):
        end = max(end, first)
        while end < rows and _holds(case, Run(header, first, end), limits, judge):
            end += 1
        if end == first:
            return None
        reach.append(end)
    total = [0, *accumulate(_emitters(case, header))]
    found = best_cuts(reach, lambda first, last: (0, total[last] - total[first]), None)
    return tuple(Run(header, first, last - 1) for first, last in found[min(found)].cuts)


def _emitters(case: Case, header: int) -> list[int]:
    """Return the number of emitters of each row of a header."""
    found = [0] * case.row_count
    for lateral in case.feed.laterals:
        if lateral.header == header:
            found[lateral.row] += lateral.spacings
    return found


def _holds(case: Case, run: Run, limits: WaterLimits, judge: ZoneJudge) -> bool:
    line, offs = case.layout.headers[run.header], judge.take_offs(case, run.header)
    candidates = fed_directly(case, run.header, [(run, vertex) for vertex in line.vertices(run)])
    head_m = working_head(case)
    left_m = (1.0 - case.scenario.limits.mainline_loss) * head_m
    for source_m, names in ((head_m, _BEHIND_THE_HEAD), (left_m, _BEHIND_MAINLINE)):
        with np.errstate(invalid="ignore"):
            broken = broken_limits(solve_batch(candidates, offs, [FixedHead(source_m)], case.fluid), limits)
        if any(broken[name].any() for name in names):
            return False
    return True

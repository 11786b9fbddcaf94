"""Which runs of neighbouring rows may be zones of a design."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from optimizer.choose.judge import Asked, RunFigures, ZoneJudge, slopes
from optimizer.choose.waterlimits import WaterLimits
from optimizer.hydraulics.takeoffs import TakeOffs
from optimizer.problem.case import Case, Run
from optimizer.scenario.water import crops_apart as thirsts_apart

Split = tuple[Run, ...]


@dataclass(frozen=True, eq=False)
class RunTable:
    """For each header and row, how far a zone starting there may reach."""

    case: Case
    limits: WaterLimits
    judge: ZoneJudge
    offs: tuple[TakeOffs, ...]
    """take-offs of each header"""
    last: tuple[tuple[int, ...], ...]
    """per header and first row the last row that works; first - 1 if none does"""
    why: str
    """what stops the first run that cannot grow"""
    short_may_fail: bool
    """whether runs within reach may fail for what more rows ease: little flow, high pressure, a slope's unevenness"""
    failed: tuple[Run, ...] = ()
    """runs found to break a limit when they were solved emitter by emitter; with rows added they break it too"""

    def figures(self, header: int, runs: Sequence[Run]) -> RunFigures:
        """Return what runs of one header do."""
        return self.judge.judge(Asked(self.case, self.limits, self.offs[header], header, runs))

    def may(self, run: Run) -> bool:
        """Say whether a run within reach holds also the limits that more rows ease, and none it is part of failed."""
        return not (self.failed and self._failed(run)) and (not self.short_may_fail or self._all[run][0])

    def _failed(self, run: Run) -> bool:
        return any(
            run.header == item.header and run.first <= item.first and item.last <= run.last for item in self.failed
        )

    def holds(self, split: Split) -> bool:
        """Say whether all zones of a split hold the limits that more rows ease."""
        return all(self.may(run) for run in split)

    def unevenness(self, split: Split) -> int:
        """Return the flow variation of the worst zone, in hundredths of a per cent."""
        figures = [self.figures(run.header, [run]) for run in split]
        return max(int(item.unevenness[0]) for item in figures)

    @cached_property
    def variations(self) -> dict[Run, int]:
        """Flow variation of every run that may be a zone, in hundredths of a per cent."""
        return {run: uneven for run, (feasible, uneven) in self._all.items() if feasible}

    @cached_property
    def _all(self) -> dict[Run, tuple[bool, int]]:
        """Whether every run within reach holds all limits, and its flow variation; worked out in one go."""
        found: dict[Run, tuple[bool, int]] = {}
        for header, reaches in enumerate(self.last):
            runs = [Run(header, first, last) for first, reach in enumerate(reaches) for last in range(first, reach + 1)]
            if runs:
                figures = self.figures(header, runs)
                found |= zip(
                    runs, zip(figures.feasible.tolist(), figures.unevenness.tolist(), strict=True), strict=True
                )
        return found


def crops_apart(case: Case) -> frozenset[tuple[int, int]]:
    """Return the pairs of crops, both ways round, that may not share a zone: one wants its own, or minutes differ."""
    layout, scenario = case.layout, case.scenario
    beds = [scenario.beds.index(bed) for bed in layout.beds]
    number = {(beds[bed], index - layout.crop_beds.index(bed)): index for index, bed in enumerate(layout.crop_beds)}
    thirsts = thirsts_apart(scenario, case.line)
    pairs = {(number[one], number[two]) for one, two in thirsts if one in number and two in number}
    alone = [number for number, crop in enumerate(layout.crops) if crop.own_zone]
    pairs |= {(one, two) for one in alone for two in range(len(layout.crops)) if one != two}
    return frozenset(pairs | {(two, one) for one, two in pairs})


def group_ends(case: Case) -> tuple[int, ...]:
    """Return for each row how far a zone starting there may reach for its crops alone."""
    crops, apart = [row.crop for row in case.layout.plan.rows], crops_apart(case)
    ends = list(range(len(crops)))
    for index in range(len(crops) - 2, -1, -1):
        reach = ends[index + 1]
        barred = (row for row in range(index + 1, reach + 1) if (crops[index], crops[row]) in apart)
        ends[index] = next(barred, reach + 1) - 1
    return tuple(ends)


@dataclass
class _Halving:
    """Finds the reach of all rows of one header side by side."""

    low: np.ndarray[tuple[int], np.dtype[np.int64]]
    high: np.ndarray[tuple[int], np.dtype[np.int64]]
    why: str = ""

    def narrow(
        self,
        rows: np.ndarray[tuple[int], np.dtype[np.int64]],
        tried: np.ndarray[tuple[int], np.dtype[np.int64]],
        figures: RunFigures,
    ) -> None:
        works = ~figures.grows_worse
        if not self.why and not works.all():
            self.why = figures.reasons[int(np.flatnonzero(~works)[0])]
        self.low[rows] = np.where(works, tried, self.low[rows])
        self.high[rows] = np.where(works, self.high[rows], tried - 1)


def run_table(case: Case, limits: WaterLimits, judge: ZoneJudge, failed: Sequence[Run] = ()) -> RunTable:
    """Find for every row how far a zone starting there may reach.

    More rows on a zone never raise its pressure, so what fails for flow, pressure or, on level ground, evenness fails
    with more rows too, and the reach is found by halving. The whole group is tried first: most gardens are one zone.
    Little flow and high pressure are eased by more rows: where no single row fails for them, no run does.

    Args:
        case: the design.
        limits: what its zones must hold.
        judge: the judge of runs.
        failed: runs found to break a limit when they were solved emitter by emitter.
    """
    searches = []
    short_may_fail = slopes(case)
    offs = tuple(judge.take_offs(case, header) for header in range(len(case.layout.headers)))
    for header in range(len(case.layout.headers)):
        search = _Halving(np.arange(case.row_count) - 1, np.array(group_ends(case)))
        tried = search.high.copy()
        while (rows := np.flatnonzero(search.low < search.high)).size:
            runs = [Run(header, int(row), int(tried[row])) for row in rows]
            search.narrow(rows, tried[rows], judge.judge(Asked(case, limits, offs[header], header, runs)))
            tried = (search.low + search.high + 1) // 2
        singles = [Run(header, row, row) for row in range(case.row_count)]
        figures = judge.judge(Asked(case, limits, offs[header], header, singles))
        short_may_fail |= bool(figures.grows_better.any())
        search.why = search.why or next((reason for reason in figures.reasons if reason), "")
        searches.append(search)
    last = tuple(tuple(int(row) for row in search.low) for search in searches)
    why = next((search.why for search in searches if search.why), "")
    return RunTable(case, limits, judge, offs, last, why, short_may_fail, tuple(failed))

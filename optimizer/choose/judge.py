"""Judging runs of rows as zones: what flows and heads they would have, and which limit they break first."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from optimizer.choose.exact import solve_exactly, tables_mislead
from optimizer.choose.reasons import HIGH_PRESSURE, TOO_LITTLE_FLOW, UNEVEN
from optimizer.choose.waterlimits import WaterLimits, broken_limits, first_reasons, lowest_header_m
from optimizer.feeds import LateralShape
from optimizer.hydraulics import LateralTable, build_lateral_table
from optimizer.hydraulics.assembly import HeadAssembly
from optimizer.hydraulics.batch import BatchSolution, HeaderRuns, solve_batch, solve_side_by_side
from optimizer.hydraulics.takeoffs import LateralAt, TakeOffs, take_offs
from optimizer.problem.case import Case, HeaderLine, Run
from optimizer.problem.water import TankAssembly, water_line
from optimizer.scenario.schema import EmitterLine

_GRAVITY = 9.80665
_SLOPE_STEP = 1e-4
_HEAD_ROOM_M = 2.0
_EASED_BY_ROWS = (HIGH_PRESSURE, TOO_LITTLE_FLOW)


@dataclass(frozen=True, eq=False)
class Asked:
    """Runs of one header of a design that are to be judged as zones.

    Args:
        case: the design.
        limits: what its zones must hold.
        offs: the take-offs of the header.
        header: the header of all the runs.
        runs: the runs, at least one.
    """

    case: Case
    limits: WaterLimits
    offs: TakeOffs
    header: int
    runs: Sequence[Run]


@dataclass(frozen=True, eq=False)
class OpenRows:
    """Rows of a design with one header that are open together, the others shut off.

    Args:
        case: the design.
        limits: what its zones must hold.
        offs: the take-offs of its header.
        groups: rows that are open, group by group, at least one.
    """

    case: Case
    limits: WaterLimits
    offs: TakeOffs
    groups: Sequence[tuple[int, ...]]


@dataclass(frozen=True, eq=False)
class RunFigures:
    """What runs do as zones; arrays over the runs."""

    flow_m3_s: NDArray[np.float64]
    unevenness: NDArray[np.int64]
    """flow variation in hundredths of a per cent"""
    grows_worse: NDArray[np.bool_]
    """breaks a limit that more rows break all the more"""
    grows_better: NDArray[np.bool_]
    """breaks a limit that more rows may ease: too little flow, too much pressure, on a slope unevenness"""
    reasons: tuple[str, ...]
    """the limit each run breaks first, empty for none"""

    @property
    def feasible(self) -> NDArray[np.bool_]:
        """Whether each run may be a zone."""
        return ~(self.grows_worse | self.grows_better)


@dataclass(eq=False)
class ZoneJudge:
    """Judges runs of many designs; lateral tables are built once per product and slope set and kept."""

    _tables: dict[tuple[str, tuple[float, ...], int, int], LateralTable] = field(default_factory=dict)
    _misled: dict[Case, bool] = field(default_factory=dict)

    def take_offs(self, case: Case, header: int) -> TakeOffs:
        """Return the take-offs of a header with the curves of their laterals."""
        line = case.layout.headers[header]
        grouped: dict[tuple[int, int], list[tuple[int, float]]] = {key: [] for key in line.keys}
        for lateral in case.feed.laterals:
            if lateral.header == header:
                slope = lateral_slope(case, lateral)
                grouped[lateral.row, lateral.line].append((lateral.spacings, slope))
        slopes = tuple(sorted({slope for group in grouped.values() for _, slope in group}))
        most = max(count for group in grouped.values() for count, _ in group)
        table = self._table(case, slopes, most)
        area = math.pi * case.line.bore**2 / 4.0
        loss = case.scenario.limits.take_off_loss / (2.0 * _GRAVITY * area**2)
        laterals = [[LateralAt(table, count, slope, loss) for count, slope in grouped[key]] for key in line.keys]
        heights = case.shapes.ground.heights(np.array(line.points)) + case.layout.raised
        return take_offs(np.array(line.distance_um) / 1e6, heights, laterals)

    def _table(self, case: Case, slopes: tuple[float, ...], most: int) -> LateralTable:
        size = -(-most // 50) * 50  # tables grow in steps, so that few of them serve all header places
        head = math.ceil(_greatest_head(case))
        key = (case.line.name, slopes, size, head)
        if key not in self._tables:
            line: EmitterLine = case.line
            self._tables[key] = build_lateral_table(
                water_line(line), np.arange(1, size + 1), np.array(slopes), float(head), case.fluid, line.spacing / 2.0
            )
        return self._tables[key]

    def judge(self, asked: Asked) -> RunFigures:
        """Judge runs of one header of a design."""
        return self.judge_all([asked])[0]

    def judge_all(self, asked: Sequence[Asked]) -> list[RunFigures]:
        """Judge runs of several headers or designs, all solved side by side.

        Args:
            asked: what to judge; designs of one scenario.
        """
        solutions = self._solved(asked, [item.case.assembly for item in asked])
        tanks = [item for item in asked if isinstance(item.case.assembly, TankAssembly)]
        full = dict(zip(map(id, tanks), self._solved(tanks, [_full(item.case) for item in tanks]), strict=True))
        return [
            _figures(item.case, item.limits, solution, full.get(id(item)))
            for item, solution in zip(asked, solutions, strict=True)
        ]

    def judge_open(self, asked: OpenRows) -> RunFigures:
        """Judge groups of open rows as zones."""
        case, assembly = asked.case, asked.case.assembly
        solution = self._solved_open(asked, assembly)
        full = self._solved_open(asked, assembly.full()) if isinstance(assembly, TankAssembly) else None
        return _figures(case, asked.limits, solution, full)

    def _solved_open(self, asked: OpenRows, assembly: HeadAssembly) -> BatchSolution:
        case, line = asked.case, asked.case.layout.headers[0]
        whole = Run(0, 0, case.row_count - 1)
        if self.tables_mislead(case):
            return solve_exactly(case, [whole] * len(asked.groups), assembly, asked.groups)
        opened = np.stack([np.isin(np.array(line.rows), group) for group in asked.groups])
        runs = header_runs(case, line, [whole] * len(asked.groups))
        return solve_batch(runs, asked.offs, (assembly,), case.fluid, opened)

    def _solved(self, asked: Sequence[Asked], assemblies: Sequence[HeadAssembly]) -> list[BatchSolution]:
        """Return what runs do: read from tables, or emitter by emitter where tables mislead."""
        plain = [index for index, item in enumerate(asked) if not self.tables_mislead(item.case)]
        solved: dict[int, BatchSolution] = {}
        if plain:
            groups = [
                (header_runs(item.case, item.case.layout.headers[item.header], item.runs), item.offs, assemblies[index])
                for index, item in ((index, asked[index]) for index in plain)
            ]
            solved = dict(zip(plain, solve_side_by_side(groups, asked[0].case.fluid), strict=True))
        return [
            solved[index] if index in solved else solve_exactly(item.case, item.runs, assemblies[index])
            for index, item in enumerate(asked)
        ]

    def tables_mislead(self, case: Case) -> bool:
        """Say whether runs of a design must be solved emitter by emitter."""
        if case not in self._misled:
            self._misled[case] = tables_mislead(case)
        return self._misled[case]


def _full(case: Case) -> HeadAssembly:
    """Return the head assembly behind the full tank."""
    assert isinstance(case.assembly, TankAssembly)
    return case.assembly.full()


def _figures(case: Case, limits: WaterLimits, solution: BatchSolution, full: BatchSolution | None) -> RunFigures:
    """Return what solved runs come to; behind a tank the limits hold for the full one as well."""
    with np.errstate(invalid="ignore"):
        broken = broken_limits(solution, limits)
        if full is not None:
            broken_full = broken_limits(full, limits)
            broken = {name: mask | broken_full[name] for name, mask in broken.items()}
    # On a slope the friction of more rows may level out what the fall adds.
    eased = (*_EASED_BY_ROWS, UNEVEN) if slopes(case) else _EASED_BY_ROWS
    worse = np.any([mask for name, mask in broken.items() if name not in eased], axis=0)
    better = np.any([broken[name] for name in eased], axis=0)
    uneven = np.where(solution.solved, np.rint(10_000.0 * np.nan_to_num(solution.flow_variation)), 10_000)
    return RunFigures(solution.flow_m3_s, uneven.astype(np.int64), worse, better, first_reasons(broken))


def slopes(case: Case) -> bool:
    """Say whether the ground of a design slopes anywhere."""
    return not case.shapes.ground.flat


def _greatest_head(case: Case) -> float:
    """Return a head no take-off exceeds: that of standing water at the lowest place, with room to spare [m]."""
    fall = max(case.shapes.source_z_m - lowest_header_m(case), 0.0)
    assembly = case.assembly.full() if isinstance(case.assembly, TankAssembly) else case.assembly
    return float(assembly.outlet_head(0.0)) + fall + _HEAD_ROOM_M


def lateral_slope(case: Case, lateral: LateralShape) -> float:
    """Return the mean rise of a lateral away from its header, to a tenth of a per mille [m/m]."""
    if case.shapes.ground.flat:
        return 0.0
    header = case.layout.headers[lateral.header]
    start = header.points[header.keys.index((lateral.row, lateral.line))]
    frame = case.layout.frame
    u, v = frame.to_frame(start)
    length = lateral.spacings * case.line.spacing
    end = frame.to_plan((u + lateral.side * length, v))
    rise = case.shapes.ground.height(end) - case.shapes.ground.height(start)
    return round(rise / length / _SLOPE_STEP) * _SLOPE_STEP


def header_runs(case: Case, line: HeaderLine, runs: Sequence[Run]) -> HeaderRuns:
    """Return runs of a header as zone candidates for the batch solver."""
    ends = [line.vertices(run) for run in runs]
    inlets = [line.inlet(run) for run in runs]
    count = len(runs)
    along = [line.approach.length_um + line.span_um(line.approach.vertex, inlet) for inlet in inlets]
    places = np.array([line.points[inlet] for inlet in inlets])
    return HeaderRuns(
        first=np.array([first for first, _ in ends]),
        last=np.array([last for _, last in ends]),
        inlet_position_m=np.array([line.distance_um[inlet] for inlet in inlets]) / 1e6,
        inlet_z_m=case.shapes.ground.heights(places) + case.layout.raised,
        header_bore_m=np.full(count, case.tube.bore),
        header_roughness_m=np.full(count, case.tube.roughness),
        feed_length_m=np.array(along) / 1e6,
        feed_bore_m=np.full(count, case.tube.bore),
        feed_roughness_m=np.full(count, case.tube.roughness),
        source=np.zeros(count, dtype=np.int64),
        source_z_m=np.full(count, case.shapes.source_z_m),
    )

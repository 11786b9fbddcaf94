"""Judging runs of rows as zones: what flows and heads they would have, and which limit they break first."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from optimizer.choose.exact import solve_exactly, tables_mislead
from optimizer.feeds import LateralShape
from optimizer.hydraulics import LateralTable, build_lateral_table
from optimizer.hydraulics.assembly import GREATEST_SEARCH_FLOW_M3_S, HeadAssembly, usable_flow
from optimizer.hydraulics.batch import BatchSolution, HeaderRuns, solve_batch
from optimizer.hydraulics.takeoffs import LateralAt, TakeOffs, take_offs
from optimizer.problem.case import Case, HeaderLine, Run
from optimizer.problem.water import TankAssembly, water_line
from optimizer.scenario.schema import EmitterLine, PumpSupply

_GRAVITY = 9.80665
_SLOPE_STEP = 1e-4
_HEAD_ROOM_M = 2.0
DEFAULT_VARIATION = 0.10
_ROUNDING = 1e-9

TOO_MUCH_FLOW = "more flow than the supply gives at working pressure"
TOO_LITTLE_FLOW = "less flow than pump, regulator or head parts need"
LOW_PRESSURE = "an emitter below its least pressure"
HIGH_PRESSURE = "a line above its rated pressure"
UNEVEN = "flow variation or uniformity outside the limit"
TOO_FAST = "velocity above the limit"
NOT_SOLVED = "no working pressure reaches the end of a lateral"
_EASED_BY_ROWS = (HIGH_PRESSURE, TOO_LITTLE_FLOW)


@dataclass(frozen=True)
class WaterLimits:
    """What zones of a design must hold."""

    usable_m3_s: float
    least_flow_m3_s: float
    least_head_m: float
    greatest_head_m: float
    """at an emitter"""
    rated_head_m: float
    """in the line"""
    variation: float | None
    uniformity: float | None
    velocity_m_s: float
    cv: float


def working_head(case: Case) -> float:
    """Return the head wanted behind the head parts while a zone runs [m]."""
    return case.regulator.holds if case.regulator else case.line.at_pressure


def usable(case: Case) -> float:
    """Return the flow zones may use: the margin of what the supply gives at working pressure [m3/s]."""
    supply = case.scenario.supply
    agreed = supply.greatest_flow if supply.greatest_flow is not None else math.inf
    if isinstance(case.assembly, TankAssembly):
        return _tank_flow(case, case.assembly.full(), agreed)
    return min(agreed, usable_flow(case.assembly, working_head(case), supply.margin).flow_m3_s)


def _tank_flow(case: Case, full: HeadAssembly, agreed: float) -> float:
    """Return the flow a tank's parts may pass at most: within their bands, and below what would take all its head."""
    bands = [agreed, *(part.greatest_flow_m3_s for part in full.parts)]
    fall = max(case.shapes.source_z_m - _lowest_header_m(case), 0.0)
    if full.outlet_head(GREATEST_SEARCH_FLOW_M3_S) + fall < 0.0:
        bands.append(usable_flow(full, -fall, 1.0).flow_m3_s)
    return min(bands)


def _lowest_header_m(case: Case) -> float:
    points = np.array([point for header in case.layout.headers for point in header.points])
    return float(case.shapes.ground.heights(points).min()) + case.layout.bed.raised


def water_limits(case: Case) -> WaterLimits:
    """Return the limits zones of a design must hold."""
    limits, line, supply = case.scenario.limits, case.line, case.scenario.supply
    opens = line.compensating.opens if line.compensating else 0.0
    upper = line.compensating.up_to if line.compensating else math.inf
    least = [part.least_flow_m3_s for part in case.assembly.parts]
    least += [supply.least_flow] if isinstance(supply, PumpSupply) else []
    variation = limits.flow_variation
    if variation is None and limits.emission_uniformity is None:
        variation = DEFAULT_VARIATION
    return WaterLimits(
        usable(case),
        max(least, default=0.0),
        max(line.least_pressure, opens),
        min(line.greatest_pressure, upper),
        line.greatest_pressure,
        variation,
        limits.emission_uniformity,
        limits.velocity,
        line.cv,
    )


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


def broken_limits(solution: BatchSolution, limits: WaterLimits) -> dict[str, NDArray[np.bool_]]:
    """Return for each limit which runs break it; the order is that in which reasons are given."""
    variation = solution.flow_variation
    mean_share = (1.0 - 1.27 * limits.cv) * solution.least_flow_m3_s / solution.mean_flow_m3_s
    uneven = np.zeros(variation.shape, dtype=np.bool_)
    if limits.variation is not None:
        uneven |= variation > limits.variation + _ROUNDING
    if limits.uniformity is not None:
        uneven |= mean_share < limits.uniformity - _ROUNDING
    speed = np.maximum(solution.header_velocity_m_s, solution.feed_velocity_m_s)
    return {
        NOT_SOLVED: ~solution.solved,
        TOO_MUCH_FLOW: solution.flow_m3_s > limits.usable_m3_s * (1.0 + _ROUNDING),
        LOW_PRESSURE: solution.least_head_m < limits.least_head_m - 1e-6,
        UNEVEN: uneven,
        TOO_FAST: speed > limits.velocity_m_s + _ROUNDING,
        HIGH_PRESSURE: (solution.greatest_head_m > limits.greatest_head_m + 1e-6)
        | (solution.greatest_take_off_head_m > limits.rated_head_m + 1e-6),
        TOO_LITTLE_FLOW: solution.flow_m3_s < limits.least_flow_m3_s * (1.0 - _ROUNDING),
    }


def _first_reasons(broken: dict[str, NDArray[np.bool_]]) -> tuple[str, ...]:
    count = len(next(iter(broken.values())))
    return tuple(next((name for name, mask in broken.items() if mask[index]), "") for index in range(count))


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
        heights = case.shapes.ground.heights(np.array(line.points)) + case.layout.bed.raised
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

    def judge(self, case: Case, limits: WaterLimits, offs: TakeOffs, header: int, runs: Sequence[Run]) -> RunFigures:
        """Judge runs of one header of a design.

        Args:
            case: the design.
            limits: what its zones must hold.
            offs: the take-offs of the header.
            header: the header of all the runs.
            runs: the runs, at least one.
        """
        solution = self._solved(case, case.assembly, offs, header, runs)
        with np.errstate(invalid="ignore"):
            broken = broken_limits(solution, limits)
            if isinstance(case.assembly, TankAssembly):
                full = broken_limits(self._solved(case, case.assembly.full(), offs, header, runs), limits)
                broken = {name: mask | full[name] for name, mask in broken.items()}
        # On a slope the friction of more rows may level out what the fall adds.
        eased = (*_EASED_BY_ROWS, UNEVEN) if slopes(case) else _EASED_BY_ROWS
        worse = np.any([mask for name, mask in broken.items() if name not in eased], axis=0)
        better = np.any([broken[name] for name in eased], axis=0)
        uneven = np.where(solution.solved, np.rint(10_000.0 * np.nan_to_num(solution.flow_variation)), 10_000)
        return RunFigures(solution.flow_m3_s, uneven.astype(np.int64), worse, better, _first_reasons(broken))

    def _solved(
        self, case: Case, assembly: HeadAssembly, offs: TakeOffs, header: int, runs: Sequence[Run]
    ) -> BatchSolution:
        """Return what runs do: read from tables, or emitter by emitter where tables mislead."""
        if case not in self._misled:
            self._misled[case] = tables_mislead(case)
        if self._misled[case]:
            return solve_exactly(case, runs, assembly)
        return solve_batch(header_runs(case, case.layout.headers[header], runs), offs, (assembly,), case.fluid)


def slopes(case: Case) -> bool:
    """Say whether the ground of a design slopes anywhere."""
    ground = case.shapes.ground
    return bool(ground.spots) or ground.rise != (0.0, 0.0)


def _greatest_head(case: Case) -> float:
    """Return a head no take-off exceeds: that of standing water at the lowest place, with room to spare [m]."""
    fall = max(case.shapes.source_z_m - _lowest_header_m(case), 0.0)
    assembly = case.assembly.full() if isinstance(case.assembly, TankAssembly) else case.assembly
    return float(assembly.outlet_head(0.0)) + fall + _HEAD_ROOM_M


def lateral_slope(case: Case, lateral: LateralShape) -> float:
    """Return the mean rise of a lateral away from its header, to a tenth of a per mille [m/m]."""
    header = case.layout.headers[lateral.header]
    start = header.points[header.keys.index((lateral.row, lateral.line))]
    frame = case.layout.field.frame
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
        inlet_z_m=case.shapes.ground.heights(places) + case.layout.bed.raised,
        header_bore_m=np.full(count, case.tube.bore),
        header_roughness_m=np.full(count, case.tube.roughness),
        feed_length_m=np.array(along) / 1e6,
        feed_bore_m=np.full(count, case.tube.bore),
        feed_roughness_m=np.full(count, case.tube.roughness),
        source=np.zeros(count, dtype=np.int64),
        source_z_m=np.full(count, case.shapes.source_z_m),
    )

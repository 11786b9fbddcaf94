"""Thousands of zone candidates solved side by side.

A candidate is a header run: take-offs `first` to `last` of one common list, fed at an inlet somewhere on the run (both
ways from it), behind a feed tube and a source. Every header is a tree, so each Newton step is one elimination from the
far ends to the inlet and one substitution back, done for all candidates at once; the work grows in proportion to the
number of take-offs, and not at all with the emitters behind them, whose answer is in the lateral tables.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np

from optimizer.errors import HydraulicError
from optimizer.hydraulics.arrays import BoolArray, FloatArray, IntArray, floats
from optimizer.hydraulics.assembly import Source
from optimizer.hydraulics.candidates import BatchSolution, FixedHead, HeaderRuns, joined_runs
from optimizer.hydraulics.fluid import Fluid
from optimizer.hydraulics.friction import head_loss_and_slope, velocity
from optimizer.hydraulics.takeoffs import TakeOffs, joined_take_offs

__all__ = ["BatchSolution", "FixedHead", "HeaderRuns", "solve_batch", "solve_side_by_side"]

FLOW_TOLERANCE = 1e-7
"""Greatest flow imbalance at a take-off, relative to the flow of the zone [-]."""

HEAD_TOLERANCE_M = 1e-6
"""Greatest disagreement between a head loss and the heads at its ends [m]."""

_PLAIN_ROUNDS = 25
_DAMPED_ROUNDS = 120
_BLOCK = 512


@dataclass(frozen=True, eq=False)
class _Branches:
    """Header arms leading away from inlets; arrays are (steps, arms), padded with steps that are not `real`."""

    owner: IntArray
    take_off: IntArray
    real: BoolArray
    open: BoolArray
    """real, and its take-off not shut off"""
    length: FloatArray
    rise: FloatArray
    bore: FloatArray
    roughness: FloatArray


def _branches(runs: HeaderRuns, offs: TakeOffs, opened: BoolArray | None) -> _Branches:
    """The arms towards rising and towards falling positions, empty arms left out."""
    middle = np.clip(np.searchsorted(offs.position_m, runs.inlet_position_m), runs.first, runs.last + 1)
    start = np.concatenate([middle, middle - 1])
    sign = np.repeat([1, -1], runs.count)
    size = np.concatenate([runs.last + 1 - middle, middle - runs.first])
    owner = np.tile(np.arange(runs.count), 2)
    kept = np.flatnonzero(size > 0)
    start, sign, size, owner = start[kept], sign[kept], size[kept], owner[kept]
    step = np.arange(int(size.max()))[:, None]
    real = step < size
    take_off = np.where(real, start + sign * step, start)
    place = np.concatenate([runs.inlet_position_m[owner][None], offs.position_m[take_off]])
    z = np.concatenate([runs.inlet_z_m[owner][None], offs.z_m[take_off]])
    return _Branches(
        owner=owner,
        take_off=take_off,
        real=real,
        open=real if opened is None else real & opened[owner, take_off],
        length=np.where(real, np.abs(np.diff(place, axis=0)), 0.0),
        rise=np.where(real, np.diff(z, axis=0), 0.0),
        bore=np.broadcast_to(runs.header_bore_m[owner], real.shape),
        roughness=np.broadcast_to(runs.header_roughness_m[owner], real.shape),
    )


def _source_heads(runs: HeaderRuns, sources: Sequence[Source], flow: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Head of each candidate's source and its fall with flow, by a small difference."""
    head, slope = np.empty_like(flow), np.empty_like(flow)
    for number, source in enumerate(sources):
        mine = runs.source == number
        q = np.maximum(flow[mine], 0.0)
        nudge = 1e-5 * q + 1e-12
        head[mine] = source.heads(q)
        slope[mine] = np.minimum((source.heads(q + nudge) - head[mine]) / nudge, 0.0)
    return head, slope


@dataclass(eq=False)
class _Point:
    """Where the equations are made linear."""

    head: FloatArray
    arm_flow: FloatArray
    flow: FloatArray
    inlet_head: FloatArray


@dataclass(frozen=True, eq=False)
class _Slopes:
    """The equations at a point: values and slopes."""

    given: FloatArray
    given_slope: FloatArray
    loss: FloatArray
    loss_slope: FloatArray
    supply: FloatArray
    supply_slope: FloatArray


class _Batch:
    """Newton's method for a block of candidates."""

    def __init__(
        self,
        runs: HeaderRuns,
        offs: TakeOffs,
        sources: Sequence[Source],
        fluid: Fluid,
        opened: BoolArray | None,
    ) -> None:
        self.runs, self.offs, self.sources, self.fluid = runs, offs, sources, fluid
        self.arms, self.opened = _branches(runs, offs, opened), opened

    def at_inlets(self, arm_values: FloatArray) -> FloatArray:
        """Arm values summed at their inlets."""
        return floats(np.bincount(self.arms.owner, arm_values, self.runs.count))

    def start(self) -> _Point:
        """A first guess: the heads of standing water, cut by a fifth, and the flows they would draw."""
        arms, runs = self.arms, self.runs
        standing, _ = _source_heads(runs, self.sources, np.zeros(runs.count))
        inlet = 0.8 * np.maximum(standing + runs.source_z_m - runs.inlet_z_m, 1.0)
        head = np.maximum(inlet[arms.owner] - np.cumsum(arms.rise, axis=0), 0.2)
        given, _ = self.offs.flow_and_slope(arms.take_off, head)
        arm_flow = np.cumsum((given * arms.open)[::-1], axis=0)[::-1]
        return _Point(head, arm_flow, self.at_inlets(arm_flow[0]), inlet)

    def slopes(self, point: _Point) -> _Slopes:
        arms, runs = self.arms, self.runs
        given, given_slope = self.offs.flow_and_slope(arms.take_off, point.head)
        loss, loss_slope = head_loss_and_slope(point.arm_flow, arms.length, arms.bore, arms.roughness, self.fluid)
        supply, supply_slope = _source_heads(runs, self.sources, point.flow)
        feed, feed_slope = head_loss_and_slope(
            point.flow, runs.feed_length_m, runs.feed_bore_m, runs.feed_roughness_m, self.fluid
        )
        above = runs.source_z_m - runs.inlet_z_m
        return _Slopes(
            given * arms.open,
            given_slope * arms.open,
            loss,
            loss_slope,
            supply - feed + above,
            supply_slope - feed_slope,
        )

    def step(self, point: _Point, at: _Slopes) -> _Point:
        """The point that solves the equations made linear at `point`.

        The flow entering an arm at step k is intake + draw * head; eliminated from the far end, then put back.
        """
        intake, draw = at.given - at.given_slope * point.head, at.given_slope.copy()
        fixed = at.loss_slope * point.arm_flow - at.loss - self.arms.rise
        base, share = np.empty_like(intake), np.empty_like(intake)
        for k in range(intake.shape[0] - 1, -1, -1):
            share[k] = 1.0 / (1.0 + at.loss_slope[k] * draw[k])
            base[k] = share[k] * (fixed[k] - at.loss_slope[k] * intake[k])
            if k > 0:
                intake[k - 1] += intake[k] + draw[k] * base[k]
                draw[k - 1] += draw[k] * share[k]
        total = self.at_inlets(intake[0] + draw[0] * base[0])
        slope = self.at_inlets(draw[0] * share[0])
        inlet = (at.supply + at.supply_slope * (total - point.flow)) / (1.0 - at.supply_slope * slope)
        head, before = np.empty_like(intake), inlet[self.arms.owner]
        for k in range(intake.shape[0]):
            head[k] = before = base[k] + share[k] * before
        return _Point(head, intake + draw * head, total + slope * inlet, inlet)

    def balanced(self, point: _Point, at: _Slopes) -> BoolArray:
        """Whether flows and heads of a point agree with the true laws, for each candidate."""
        arms = self.arms
        onward = np.concatenate([point.arm_flow[1:], np.zeros((1, arms.owner.size))])
        before = np.concatenate([point.inlet_head[arms.owner][None], point.head[:-1]])
        flow_error = np.max(np.abs(point.arm_flow - onward - at.given) * arms.real, axis=0)
        head_error = np.max(np.abs(before - point.head - at.loss - arms.rise) * arms.real, axis=0)
        scale = FLOW_TOLERANCE * np.maximum(point.flow, 1e-12)
        good = (flow_error <= scale[arms.owner]) & (head_error <= HEAD_TOLERANCE_M)
        bad_arms = self.at_inlets((~good).astype(np.float64))
        joined = np.abs(self.at_inlets(point.arm_flow[0]) - point.flow) <= scale
        fed = np.abs(at.supply - point.inlet_head) <= HEAD_TOLERANCE_M
        return np.asarray((bad_arms == 0.0) & joined & fed)

    def solve(self) -> tuple[_Point, BoolArray]:
        """Newton from the first guess; candidates that swing are led on with half steps."""
        point = self.start()
        done = np.zeros(self.runs.count, dtype=np.bool_)
        for number in range(_PLAIN_ROUNDS + _DAMPED_ROUNDS):
            at = self.slopes(point)
            done = self.balanced(point, at) if number else done
            if np.all(done):
                break
            new = self.step(point, at)
            point = self.kept_apart(point, new, done, 1.0 if number < _PLAIN_ROUNDS else 0.5)
        return point, done

    def kept_apart(self, old: _Point, new: _Point, done: BoolArray, part: float) -> _Point:
        """The new point, damped; candidates already done keep their old one."""
        mine = done[self.arms.owner]
        # A head may fall to a third at most in one step: root-like curves would throw it below zero and back.
        head = np.where(old.head > 0.0, np.maximum(new.head, old.head / 3.0), new.head) if part < 1.0 else new.head
        return _Point(
            np.where(mine, old.head, old.head + part * (head - old.head)),
            np.where(mine, old.arm_flow, old.arm_flow + part * (new.arm_flow - old.arm_flow)),
            np.where(done, old.flow, old.flow + part * (new.flow - old.flow)),
            np.where(done, old.inlet_head, old.inlet_head + part * (new.inlet_head - old.inlet_head)),
        )

    def extreme(self, values: FloatArray, greatest: bool) -> FloatArray:
        """Greatest or least of values over the take-offs of each candidate; nan if any is nan."""
        blank = -np.inf if greatest else np.inf
        pick = np.max if greatest else np.min
        by_arm = pick(np.where(self.arms.open, values, blank), axis=0)
        result = np.full(self.runs.count, blank)
        # Where a curve knows nothing the answer is nan, on purpose and without a warning.
        with np.errstate(invalid="ignore"):
            (np.maximum if greatest else np.minimum).at(result, self.arms.owner, by_arm)
        return result

    def emitters(self) -> FloatArray:
        """Emitters of each candidate that run."""
        before = np.concatenate([[0], np.cumsum(self.offs.emitters)])
        if self.opened is None:
            return floats(before[self.runs.last + 1] - before[self.runs.first])
        return floats(self.opened @ self.offs.emitters)

    def solution(self) -> BatchSolution:
        point, converged = self.solve()
        arms, runs, offs = self.arms, self.runs, self.offs
        least, greatest, least_flow, greatest_flow, lateral = offs.extremes(arms.take_off, point.head)
        emitters = self.emitters()
        inside = self.extreme(offs.covered(point.head).astype(np.float64), greatest=False) > 0.0
        source, _ = _source_heads(runs, self.sources, point.flow)
        numbers = [
            point.flow,
            source,
            point.inlet_head,
            self.extreme(least, greatest=False),
            self.extreme(greatest, greatest=True),
            self.extreme(least_flow, greatest=False),
            self.extreme(greatest_flow, greatest=True),
            point.flow / emitters,
            self.extreme(np.abs(velocity(point.arm_flow, arms.bore)), greatest=True),
            np.where(runs.feed_length_m > 0.0, velocity(point.flow, runs.feed_bore_m), 0.0),
            self.extreme(lateral, greatest=True),
            self.extreme(point.head, greatest=True),
        ]
        solved = converged & inside & ~np.isnan(np.sum(numbers, axis=0))
        return BatchSolution(solved, converged, *(np.where(solved, column, np.nan) for column in numbers))


def solve_batch(
    runs: HeaderRuns,
    offs: TakeOffs,
    sources: Sequence[Source],
    fluid: Fluid,
    opened: BoolArray | None = None,
) -> BatchSolution:
    """Operating points of zone candidates.

    Candidates whose balance was not reached, or whose heads leave the lateral tables, are marked as not solved and
    carry nan; they must never count as feasible.

    Args:
        runs: the candidates [-]
        offs: the take-offs they share [-]
        sources: the sources they name [-]
        fluid: the water [-]
        opened: which take-offs are open, of those within its run at least one, shape (c, take-offs); all unless given
            [-]

    Raises:
        HydraulicError: when a run, a source or a take-off does not exist.
    """
    if runs.count == 0:
        raise HydraulicError("there are no candidates to solve")
    _check_runs(runs, offs)
    if np.any((runs.source < 0) | (runs.source >= len(sources))):
        raise HydraulicError(f"a candidate names a source that does not exist; there are {len(sources)}")
    # Runs of like size stand together, so that little of a block is padding.
    order = np.argsort(runs.last - runs.first, kind="stable")
    blocks = [order[at : at + _BLOCK] for at in range(0, runs.count, _BLOCK)]
    solved = [
        _Batch(runs.take(block), offs, sources, fluid, None if opened is None else opened[block]).solution()
        for block in blocks
    ]
    back = np.argsort(order, kind="stable")
    columns = (np.concatenate([getattr(part, f.name) for part in solved])[back] for f in fields(BatchSolution))
    return BatchSolution(*columns)


def _check_runs(runs: HeaderRuns, offs: TakeOffs) -> None:
    if np.any((runs.first < 0) | (runs.last < runs.first) | (runs.last >= offs.count)):
        raise HydraulicError(f"a run must start and end at one of the {offs.count} take-offs, first before last")


def solve_side_by_side(groups: Sequence[tuple[HeaderRuns, TakeOffs, Source]], fluid: Fluid) -> list[BatchSolution]:
    """Operating points of zone candidates of several headers, all in one go where their curves allow it.

    Args:
        groups: candidates of one header, their take-offs and the one source that feeds them [-]
        fluid: the water [-]

    Returns:
        One solution a group, in their order.

    Raises:
        HydraulicError: when a run or a take-off does not exist.
    """
    alike: dict[tuple[int, float], list[int]] = {}
    for index, (runs, offs, _) in enumerate(groups):
        _check_runs(runs, offs)
        alike.setdefault((offs.heads_m.size, offs.greatest_head), []).append(index)
    found: dict[int, BatchSolution] = {}
    for members in alike.values():
        sources = {id(groups[index][2]): groups[index][2] for index in members}
        number = {key: place for place, key in enumerate(sources)}
        offs, starts, shifts = joined_take_offs([groups[index][1] for index in members])
        fed_by = [number[id(groups[index][2])] for index in members]
        runs = joined_runs([groups[index][0] for index in members], fed_by, starts, shifts)
        solution = solve_batch(runs, offs, list(sources.values()), fluid)
        at = 0
        for index in members:
            count = groups[index][0].count
            found[index] = solution.part(at, at + count)
            at += count
    return [found[index] for index in range(len(groups))]

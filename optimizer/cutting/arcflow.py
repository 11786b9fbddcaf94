"""Arc-flow model of what the prices leave open: only arcs that a better solution could still use.

A pattern is a path from unit 0: each piece an arc as long as the piece, and at the end a sink arc into a bin (Valerio
de Carvalho 1999, "Exact solution of bin-packing problems using column generation and branch-and-bound"). An arc whose
least reduced cost over all patterns exceeds the gap between the dual bound and the value aimed at cannot occur in any
solution as good as that, so it is left out; what remains is often small.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from dataclasses import dataclass, replace

import highspy
import numpy as np

from optimizer.cutting.columns import Prices
from optimizer.cutting.core import Pattern
from optimizer.cutting.goal import Goal
from optimizer.cutting.lp import QuietHighs
from optimizer.cutting.pricing import NEVER, Ints, Knapsack
from optimizer.cutting.work import Work

_NODES_PER_WORK = 100.0


@dataclass(frozen=True)
class Arcs:
    """Arcs left: pieces `(piece, from unit)` and ends `(sink, from unit)`."""

    pieces: Ints
    ends: Ints

    def __len__(self) -> int:
        return len(self.pieces) + len(self.ends)


def arcs_within(goal: Goal, prices: Prices, knapsack: Knapsack, most_bins: int, target: int) -> Arcs:
    """Arcs that a solution of at most `target` steps may use.

    Args:
        goal: Goal the prices belong to.
        prices: Whole-number prices of a dual bound.
        knapsack: Pattern values under them.
        most_bins: No solution of interest uses more bins [-].
        target: Value aimed at, in steps of the goal.
    """
    least = knapsack.least_reduced_cost
    gap = target * prices.scale - prices.dual_value(goal) - (most_bins - 1) * least
    core, forward, backward = goal.core, knapsack.forward, knapsack.backward
    first_chunk: dict[int, int] = {}
    last_chunk: dict[int, int] = {}
    for c, (i, _) in enumerate(knapsack.chunks):
        first_chunk.setdefault(i, c)
        last_chunk[i] = c
    pieces = []
    for i in sorted(first_chunk):
        size = core.sizes[i]
        worth = (
            forward[last_chunk[i] + 1, : knapsack.longest + 1 - size]
            + knapsack.values[i]
            + backward[first_chunk[i], size:]
        )
        at = np.flatnonzero(-worth <= gap)
        pieces.append(np.column_stack([np.full(len(at), i), at]))
    return Arcs(np.concatenate(pieces).astype(np.int64), _end_arcs(knapsack, gap))


def _end_arcs(knapsack: Knapsack, gap: int) -> Ints:
    reached = knapsack.forward[-1]
    units = np.flatnonzero(reached > NEVER // 2)
    units = units[units > 0]
    rows = []
    sinks = knapsack.sinks
    for s, (most, exact) in enumerate(zip(sinks.units, sinks.exact, strict=True)):
        at = units[units == most] if exact else units[units <= most]
        at = at[knapsack.costs[s] - reached[at] <= gap]
        rows.append(np.column_stack([np.full(len(at), s), at]))
    return np.concatenate(rows).astype(np.int64)


@dataclass(frozen=True)
class Flowed:
    """What the integer program found.

    Args:
        packing: A solution of at most the target; None if none was found.
        bound: No solution is below this, in steps; None if no solution of at most the target exists.
        complete: Whether the search ended by itself.
    """

    packing: list[Pattern] | None
    bound: int | None
    complete: bool


def solve_arcs(goal: Goal, arcs: Arcs, floor: int, target: int, work: Work) -> Flowed:
    """Best solution over the given arcs with a value of at most `target`.

    Args:
        goal: What is minimised and held.
        arcs: Arcs that may be used.
        floor: Bound already proven, in steps.
        target: Value a solution must not exceed, in steps.
        work: Limits.
    """
    if not len(arcs.pieces) or not len(arcs.ends):
        return Flowed(None, None, True)
    model = QuietHighs()
    _set_options(model, work)
    model.passModel(_build(goal, arcs, target))
    model.run()
    status, info = model.getModelStatus(), model.getInfo()
    work.book_iterations(info.simplex_iteration_count)
    work.nodes += max(0, info.mip_node_count)
    if status == highspy.HighsModelStatus.kInfeasible:
        return Flowed(None, None, True)
    packing = None
    if info.primal_solution_status == highspy.SolutionStatus.kSolutionStatusFeasible:
        flow = np.rint(np.array(model.getSolution().col_value)).astype(np.int64)
        packing = _decoded(goal, arcs, flow)
    complete = status == highspy.HighsModelStatus.kOptimal
    if status == highspy.HighsModelStatus.kTimeLimit:
        work.clock_ended = True
    if complete and packing is not None:
        return Flowed(packing, goal.value(packing), True)
    return Flowed(packing, floor, False)


def _set_options(model: highspy.Highs, work: Work) -> None:
    model.setOptionValue("random_seed", work.limits.seed)
    model.setOptionValue("mip_rel_gap", 0.0)
    model.setOptionValue("mip_abs_gap", 0.0)
    model.setOptionValue("mip_max_nodes", min(10**9, 1 + int(_NODES_PER_WORK * work.left)))
    if work.seconds_left is not None:
        model.setOptionValue("time_limit", work.seconds_left)


def _build(goal: Goal, arcs: Arcs, target: int) -> highspy.HighsLp:
    core, sinks = goal.core, goal.sinks
    sizes = np.array(core.sizes, dtype=np.int64)
    piece, start = arcs.pieces[:, 0], arcs.pieces[:, 1]
    sink, stop = arcs.ends[:, 0], arcs.ends[:, 1]
    nodes = np.unique(np.concatenate([start, start + sizes[piece], stop]))
    nodes = nodes[nodes > 0]
    row_of = np.full(int(nodes.max()) + 1, -1, dtype=np.int64)
    row_of[nodes] = np.arange(len(nodes))
    first_piece, columns = len(nodes), len(arcs)
    across = np.arange(len(piece))
    ends = len(piece) + np.arange(len(sink))
    entries = [
        (row_of[start], across, -np.ones(len(piece))),
        (row_of[start + sizes[piece]], across, np.ones(len(piece))),
        (first_piece + piece, across, np.ones(len(piece))),
        (row_of[stop], ends, -np.ones(len(sink))),
    ]
    counts = np.array(core.counts, dtype=float)
    lower, upper = [np.zeros(len(nodes)), counts], [np.zeros(len(nodes)), counts]
    row = first_piece + len(sizes)
    waste = sinks.waste[sink] // goal.waste_step
    aim = replace(goal.goal_rows[goal.index], upper=target)
    for limit in (*goal.rows, aim):
        entries.append((np.full(len(sink), row), ends, limit.of(sinks.bins[sink], waste).astype(float)))
        lower.append(np.array([-np.inf if limit.lower is None else float(limit.lower)]))
        upper.append(np.array([np.inf if limit.upper is None else float(limit.upper)]))
        row += 1
    lp = highspy.HighsLp()
    lp.num_col_, lp.num_row_ = columns, row
    lp.col_cost_ = np.concatenate([np.zeros(len(piece)), goal.sink_costs[sink].astype(float)])
    most = np.array(core.counts, dtype=float)
    limits = np.array([_most_of(goal, int(s)) for s in sink], dtype=float)
    lp.col_lower_ = np.zeros(columns)
    lp.col_upper_ = np.concatenate([most[piece], limits])
    lp.row_lower_, lp.row_upper_ = np.concatenate(lower), np.concatenate(upper)
    lp.integrality_ = [highspy.HighsVarType.kInteger] * columns
    _fill_matrix(lp, entries, columns)
    return lp


def _most_of(goal: Goal, sink: int) -> int:
    rolls = goal.core.bins[int(goal.sinks.bins[sink])].rolls
    limits = [
        (c.available or 0) // n for n, c in zip(rolls, goal.core.stock, strict=True) if n and c.available is not None
    ]
    return min([*limits, sum(goal.core.counts)])


def _fill_matrix(lp: highspy.HighsLp, entries: list[tuple[Ints, Ints, np.ndarray]], columns: int) -> None:
    """Store triplets column by column; entries of row -1 (the origin) and zeros are dropped."""
    rows = np.concatenate([e[0] for e in entries])
    cols = np.concatenate([e[1] for e in entries])
    values = np.concatenate([e[2] for e in entries])
    keep = (rows >= 0) & (values != 0)
    rows, cols, values = rows[keep], cols[keep], values[keep]
    order = np.lexsort((rows, cols))
    lp.a_matrix_.format_ = highspy.MatrixFormat.kColwise
    lp.a_matrix_.start_ = np.searchsorted(cols[order], np.arange(columns + 1)).astype(np.int32)
    lp.a_matrix_.index_ = rows[order].astype(np.int32)
    lp.a_matrix_.value_ = values[order]


def _decoded(goal: Goal, arcs: Arcs, flow: Ints) -> list[Pattern]:
    """Follow the flow from unit 0 to its sinks, path by path."""
    leaving: dict[int, Counter[tuple[bool, int]]] = defaultdict(Counter)
    for (piece, start), amount in zip(arcs.pieces, flow, strict=False):
        if amount:
            leaving[int(start)][False, int(piece)] += int(amount)
    for (sink, start), amount in zip(arcs.ends, flow[len(arcs.pieces) :], strict=True):
        if amount:
            leaving[int(start)][True, int(sink)] += int(amount)
    packing = []
    while any(leaving[0].values()):
        counts, unit, ended = [0] * len(goal.core.sizes), 0, False
        while not ended:
            ended, index = min(key for key, amount in leaving[unit].items() if amount)
            leaving[unit][ended, index] -= 1
            if ended:
                packing.append((int(goal.sinks.bins[index]), tuple(counts)))
            else:
                counts[index] += 1
                unit += goal.core.sizes[index]
    return packing

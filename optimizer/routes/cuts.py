"""Exact cheapest tree for many terminals: directed cuts, branching on nodes, bounds recomputed in whole numbers.

Directed cut formulation with flow balance: Koch and Martin, Solving Steiner tree problems in graphs to optimality,
Networks 32, 1998. A bound read off the linear program's floating-point duals is never used as it stands: the duals are
rounded to fractions and weak duality is evaluated with them in whole numbers.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace

import highspy
import numpy as np
import numpy.typing as npt

from optimizer.routes.ascent import dual_ascent, quick_tree
from optimizer.routes.flow import CutFinder
from optimizer.routes.graph import IntArray
from optimizer.routes.network import Network

FINEST_SCALE = 1 << 20  # duals are used as whole numbers of 1 / scale
NESTED = 20  # disjoint cuts looked for round one goal in one round
WHOLE = 1_000_000  # capacity of an arc that is taken in full, when cuts are looked for
NO_LIMIT = float("inf")
Array = npt.NDArray[np.float64]


@dataclass(frozen=True)
class CutResult:
    """What branching and cutting ended with.

    Args:
        edges: Edges of the best tree found; empty when none beat the price given.
        price: Its price, or the price given.
        bound: No tree costs less than this, and none less than `price` when both are equal.
        programs: Linear programs solved.
    """

    edges: tuple[int, ...]
    price: int
    bound: int
    programs: int


@dataclass(frozen=True)
class Fixed:
    """A branch: the bound inherited, nodes taken in and left out, arcs left out and taken in."""

    bound: int = 0
    nodes_in: tuple[int, ...] = ()
    nodes_out: tuple[int, ...] = ()
    arcs_out: tuple[int, ...] = ()
    arcs_in: tuple[int, ...] = ()


class _Quiet(highspy.Highs):
    """HiGHS on one thread; its own constructor would print a banner before it can be told not to."""

    def __init__(self) -> None:
        super(highspy.Highs, self).__init__()
        self.setOptionValue("output_flag", False)
        self.setOptionValue("threads", 1)
        self.setOptionValue("presolve", "off")  # each program is the last one and a few rows: start from its basis


@dataclass
class CutProgram:
    """The linear program of one network: arcs as columns, cuts added as they are found."""

    net: Network
    highs: highspy.Highs
    scale: int  # sums of prices times this stay within 64 bits
    rows: list[tuple[IntArray, IntArray]] = field(default_factory=list)  # columns and coefficients of every row
    low: list[float] = field(default_factory=list)
    high: list[float] = field(default_factory=list)
    open: npt.NDArray[np.bool_] = field(default_factory=lambda: np.zeros(0, dtype=bool))  # columns not fixed at 0
    entering: dict[int, int] = field(default_factory=dict)  # node -> its in-degree row

    def add(self, columns: IntArray, coefficients: IntArray, low: float, high: float) -> int:
        """Add a row and return its number."""
        self.highs.addRow(low, high, len(columns), columns.astype(np.int32), coefficients.astype(float))
        self.rows.append((columns, coefficients))
        self.low.append(low)
        self.high.append(high)
        return len(self.rows) - 1

    def bound_columns(self, upper: npt.NDArray[np.bool_], lower: Sequence[int]) -> None:
        """Set which arcs may be used, and which must be."""
        self.open = upper
        floor = np.zeros(len(upper))
        floor[list(lower)] = 1.0
        every = np.arange(len(upper), dtype=np.int32)
        self.highs.changeColsBounds(len(upper), every, floor, upper.astype(float))


def cheapest_by_cuts(net: Network, price: int, most_programs: int = 5000) -> CutResult:
    """Cheapest tree of a network, if it is cheaper than a price already reached.

    Args:
        net: The network.
        price: Price of a tree already known.
        most_programs: Linear programs to solve at most; then the best tree and the open bound are returned.

    Returns:
        Best tree, price, proven bound.
    """
    program = cut_program(net)
    best: tuple[int, ...] = ()
    queue: list[tuple[int, int, Fixed]] = [(0, 0, Fixed())]
    solved = count = 0
    while queue:
        bound, _, fixed = heapq.heappop(queue)
        if bound >= price:
            continue
        if solved >= most_programs:
            return CutResult(best, price, min(bound, price), solved)
        node = _node(program, fixed, price, most_programs - solved)
        solved += node.programs
        if node.price < price:
            best, price = node.edges, node.price
        for child in node.children:
            if child.bound < price:
                count += 1
                heapq.heappush(queue, (child.bound, count, child))
    return CutResult(best, price, price, solved)


@dataclass(frozen=True)
class _NodeResult:
    edges: tuple[int, ...]
    price: int
    children: tuple[Fixed, ...]
    programs: int


def _node(program: CutProgram, fixed: Fixed, price: int, most: int) -> _NodeResult:
    """Cut until nothing is violated; hand back the better tree met on the way and the two branches, if needed."""
    net = program.net
    _apply(program, fixed)
    best: tuple[int, ...] = ()
    bound, solved = fixed.bound, 0
    while True:
        solution = _solved(program)
        solved += solution is not None
        if solution is None:
            return _NodeResult(best, price, (), solved)
        x, duals = solution
        here, rest = safe_bound(program, duals, fixed)
        bound = max(bound, here)
        tree = _rounded(net, x)
        if tree and int(net.costs[list(tree)].sum()) < price:
            best, price = tree, int(net.costs[list(tree)].sum())
        if bound >= price:
            return _NodeResult(best, price, (), solved)
        _close(program, fixed, here, rest, price)
        cuts = _violated(net, x, fixed)
        if not cuts:
            return _NodeResult(best, price, _branches(net, x, fixed, bound), solved)
        if solved >= most:
            return _NodeResult(best, price, (replace(fixed, bound=bound),), solved)
        for cut in cuts:
            program.add(cut, np.ones(len(cut), dtype=np.int64), 1.0, NO_LIMIT)


def _solved(program: CutProgram) -> tuple[Array, Array] | None:
    """Arc values and row duals of the best solution, or None when there is none."""
    if not _reaches(program.net, program.open):
        return None
    program.highs.run()
    status = program.highs.getModelStatus()
    if status == highspy.HighsModelStatus.kUnknown:
        # Started from the last basis the solver may lose its way among many equal prices; afresh it does not.
        program.highs.clearSolver()
        program.highs.run()
        status = program.highs.getModelStatus()
    if status == highspy.HighsModelStatus.kInfeasible:
        return None
    if status != highspy.HighsModelStatus.kOptimal:
        raise RuntimeError(f"the linear program of the route ended as {status}")
    solution = program.highs.getSolution()
    return np.array(solution.col_value), np.array(solution.row_dual)


def cut_program(net: Network) -> CutProgram:
    """Degree and flow-balance rows, and the cuts of a dual ascent."""
    highs = _Quiet()
    arcs = 2 * net.size
    highs.addVars(arcs, np.zeros(arcs), np.ones(arcs))
    highs.changeColsCost(arcs, np.arange(arcs, dtype=np.int32), np.concatenate((net.costs, net.costs)).astype(float))
    program = CutProgram(net, highs, max(1, min(FINEST_SCALE, (1 << 60) // (1 + int(net.costs.sum())))))
    goals = set(net.goals)
    into = [np.flatnonzero(net.heads == node) for node in range(net.count)]
    for node in range(net.count):
        if node == net.root:
            continue
        ones = np.ones(len(into[node]), dtype=np.int64)
        program.entering[node] = program.add(into[node], ones, 1.0 if node in goals else 0.0, 1.0)
        if node not in goals:
            out = (into[node] + net.size) % arcs
            program.add(np.concatenate((into[node], out)), np.concatenate((-ones, ones)), 0.0, NO_LIMIT)
    for cut in dual_ascent(net).cuts:
        if not (len(cut) and len(set(net.heads[cut].tolist())) == 1):
            program.add(cut, np.ones(len(cut), dtype=np.int64), 1.0, NO_LIMIT)
    return program


def _apply(program: CutProgram, fixed: Fixed) -> None:
    """Set the column and row bounds of a branch."""
    net = program.net
    out = np.zeros(net.count, dtype=bool)
    out[list(fixed.nodes_out)] = True
    upper = ~(out[net.tails] | out[net.heads] | (net.heads == net.root))
    upper[list(fixed.arcs_out)] = False
    program.bound_columns(upper, fixed.arcs_in)
    needed = {*net.goals, *fixed.nodes_in}
    for node, row in program.entering.items():
        low = 1.0 if node in needed else 0.0
        if program.low[row] != low:
            program.low[row] = low
            program.highs.changeRowBounds(row, low, program.high[row])


def safe_bound(program: CutProgram, duals: Array, fixed: Fixed) -> tuple[int, IntArray]:
    """Weak duality in whole numbers: a valid bound whatever the rounding errors of the duals.

    Args:
        program: The linear program.
        duals: Dual value of every row.
        fixed: The branch in force.

    Returns:
        Bound, and the reduced price of every arc in units of 1 / scale.
    """
    whole = np.rint(duals * program.scale).astype(np.int64)
    low, high = np.array(program.low), np.array(program.high)
    whole[(whole > 0) & np.isinf(low)] = 0
    whole[(whole < 0) & np.isinf(high)] = 0
    rest = np.concatenate((program.net.costs, program.net.costs)) * program.scale
    used = np.flatnonzero(whole)
    for row in used.tolist():
        columns, coefficients = program.rows[row]
        rest[columns] -= coefficients * whole[row]
    side = np.where(whole[used] > 0, low[used], high[used]).astype(np.int64)
    total = int((whole[used] * side).sum()) + int(np.minimum(rest, 0)[program.open].sum())
    taken = list(fixed.arcs_in)
    total += int(np.maximum(rest[taken], 0).sum())
    return -(-total // program.scale), rest


def _close(program: CutProgram, fixed: Fixed, bound: int, rest: IntArray, price: int) -> None:
    """Fix at 0 every arc whose use would cost as much as the tree already known."""
    slack = (price - bound) * program.scale
    shut = program.open & (rest >= slack)
    shut[list(fixed.arcs_in)] = False
    if shut.any():
        program.bound_columns(program.open & ~shut, fixed.arcs_in)


def _reaches(net: Network, usable: npt.NDArray[np.bool_]) -> bool:
    rows: list[list[int]] = [[] for _ in range(net.count)]
    for arc in np.flatnonzero(usable).tolist():
        rows[int(net.tails[arc])].append(int(net.heads[arc]))
    seen, todo = {net.root}, [net.root]
    while todo:
        for other in rows[todo.pop()]:
            if other not in seen:
                seen.add(other)
                todo.append(other)
    return seen.issuperset(net.goals)


def _rounded(net: Network, x: Array) -> tuple[int, ...]:
    """A tree that follows the linear program: what it uses is cheap."""
    use = np.minimum(1.0, x[: net.size] + x[net.size :])
    prices = np.rint(net.costs * (1.0 - 0.999 * use)).astype(np.int64) + 1
    return quick_tree(net, prices, net.root)


def _violated(net: Network, x: Array, fixed: Fixed) -> list[IntArray]:
    """Cuts round goals (and nodes taken in) that the solution does not fill."""
    support = np.flatnonzero(x > 1e-7)
    arcs = list(zip(net.tails[support].tolist(), net.heads[support].tolist(), strict=True))
    finder = CutFinder(net.count, arcs, np.rint(x[support] * WHOLE).astype(int).tolist())
    column = {arc: k for k, arc in enumerate(support.tolist())}
    found: dict[bytes, IntArray] = {}
    for goal in sorted({*net.goals, *fixed.nodes_in}):
        for _ in range(NESTED):
            flow, near_root, near_goal = finder.cut(net.root, goal, WHOLE - 100)
            if flow >= WHOLE - 100:
                break
            for inside in (_mask(net, near_goal), ~_mask(net, near_root)):
                cut = np.flatnonzero(inside[net.heads] & ~inside[net.tails])
                found.setdefault(cut.tobytes(), cut)
                # a cut once found counts as filled, so that the next one shares no arc with it
                for arc in cut.tolist():
                    if arc in column:
                        finder.capacity[2 * column[arc]] = WHOLE
    return list(found.values())


def _mask(net: Network, nodes: Iterable[int]) -> npt.NDArray[np.bool_]:
    mask = np.zeros(net.count, dtype=bool)
    mask[list(nodes)] = True
    return mask


def _branches(net: Network, x: Array, fixed: Fixed, bound: int) -> tuple[Fixed, ...]:
    """Take in or leave out the node entered most nearly by half; when all are whole, the arc used most nearly so."""
    entering = np.bincount(net.heads, weights=x, minlength=net.count)
    settled = {net.root, *net.goals, *fixed.nodes_in, *fixed.nodes_out}
    entering[sorted(settled)] = 0.0
    node = int(np.argmin(np.abs(entering - 0.5)))
    if abs(entering[node] - 0.5) < 0.5 - 1e-5:
        return (
            replace(fixed, bound=bound, nodes_in=(*fixed.nodes_in, node)),
            replace(fixed, bound=bound, nodes_out=(*fixed.nodes_out, node)),
        )
    away = np.abs(x - 0.5)
    away[list({*fixed.arcs_in, *fixed.arcs_out})] = 1.0
    arc = int(np.argmin(away))
    return (
        replace(fixed, bound=bound, arcs_in=(*fixed.arcs_in, arc)),
        replace(fixed, bound=bound, arcs_out=(*fixed.arcs_out, arc)),
    )

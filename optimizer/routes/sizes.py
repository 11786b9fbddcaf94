"""Which blank tube each stretch of a route tree gets: cheapest, never widening downstream, within its limits.

Cheapest by the metre; where rolls are given, first by the rolls that are long enough together.

The loss of head is the caller's: a function gives it per metre for every tube and flow. Losses are rounded up to a
micrometre of head, so a choice that is within its limits here is within them.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

from ortools.sat.python import cp_model

from optimizer.routes.ground import NoRouteError
from optimizer.routes.result import RouteTree

ROLL_WORK = 0.3
"""work on a choice by rolls, in the solver's own measure: about seconds, and the same on every machine"""

LossPerMetre = Callable[[str, float], float]


@dataclass(frozen=True)
class TubeSize:
    """A blank tube that can be bought.

    Args:
        name: Its name in the stock list.
        bore_m: Inside diameter [m].
        price_mct_per_mm: Price in thousandths of a cent [mct/mm].
    """

    name: str
    bore_m: float
    price_mct_per_mm: int

    def __post_init__(self) -> None:
        if not (self.bore_m > 0 and math.isfinite(self.bore_m)) or self.price_mct_per_mm < 0:
            raise ValueError(f"a tube needs a bore above 0 and a price of at least 0: {self}")


@dataclass(frozen=True)
class Inlet:
    """What a terminal of the tree asks for.

    Args:
        zone: Zone it runs with; zones run one at a time.
        flow_m3_s: Flow while its zone runs [m3/s].
        head_budget_m: Head the mainline may lose between source and this terminal [m].
    """

    zone: str
    flow_m3_s: float
    head_budget_m: float

    def __post_init__(self) -> None:
        if not (math.isfinite(self.flow_m3_s) and self.flow_m3_s >= 0 and math.isfinite(self.head_budget_m)):
            raise ValueError(f"flow and head budget must be finite, the flow at least 0: {self}")


@dataclass(frozen=True)
class Roll:
    """A roll or an owned piece of tube.

    Args:
        units: Its length [cutting units].
        price_ct: Its price; 0 for what is owned [ct].
        most: How many there are; None for any number.
    """

    units: int
    price_ct: int
    most: int | None


@dataclass(frozen=True)
class TubeStock:
    """What tubes are cut from.

    Args:
        rolls: Rolls of each tube by its name.
        others: What is cut from them besides the tree, by the name of the tube [cutting units].
        units: Length of every edge of the tree [cutting units].
    """

    rolls: Mapping[str, tuple[Roll, ...]]
    others: Mapping[str, int]
    units: tuple[int, ...]


@dataclass(frozen=True)
class SizeChoice:
    """A tube for every edge of a tree.

    Args:
        tubes: Name of the tube of each edge, in the tree's order.
        cost_mct: Price of the tubes and of the joints between different ones [mct].
        losses_m: Head lost up to each terminal while its zone runs, rounded up to 1 um an edge [m].
        speeds_m_s: Highest water speed in each edge [m/s].
        changes: Number of joints between different tubes.
        proven: Whether no choice is cheaper; by the metre it always is.
    """

    tubes: tuple[str, ...]
    cost_mct: int
    losses_m: tuple[float, ...]
    speeds_m_s: tuple[float, ...]
    changes: int
    proven: bool


@dataclass(frozen=True)
class SizeTask:
    """The choice in whole numbers: `loss_um[zone][edge][tube]`, `price_mct[edge][tube]`, tubes from narrow to wide."""

    tubes: tuple[TubeSize, ...]
    above: tuple[int, ...]  # edge feeding each edge, -1 at the source
    ways: tuple[tuple[int, ...], ...]  # edges from the source to each terminal
    zones: tuple[str, ...]  # zone of each terminal
    budgets_um: tuple[int, ...]
    loss_um: Mapping[str, tuple[tuple[int, ...], ...]]
    price_mct: tuple[tuple[int, ...], ...]
    allowed: tuple[tuple[bool, ...], ...]
    speeds_m_s: tuple[tuple[float, ...], ...]
    change_mct: int
    stock: TubeStock | None


def choose_sizes(
    tree: RouteTree,
    inlets: Sequence[Inlet],
    tubes: Sequence[TubeSize],
    loss_per_metre: LossPerMetre,
    speed_limit_m_s: float,
    change_mct: int = 0,
    stock: TubeStock | None = None,
) -> SizeChoice:
    """Cheapest tube for every edge of a route tree.

    Args:
        tree: The tree.
        inlets: What each terminal asks for, in the order of the tree's terminals.
        tubes: Tubes to choose from.
        loss_per_metre: Head lost in one metre of the named tube at a flow in m3/s [m/m].
        speed_limit_m_s: Highest water speed allowed [m/s].
        change_mct: Price of a joint between two different tubes [mct].
        stock: What the tubes are cut from; None to go by the metre alone.

    Returns:
        The cheapest choice; with many edges and rolls the cheapest found with some work.

    Raises:
        NoRouteError: No choice keeps the limits; says which stretch or terminal is short and by how much.
        ValueError: Inputs do not fit together.
    """
    task = size_task(tree, inlets, tubes, loss_per_metre, speed_limit_m_s, change_mct, stock)
    _refuse_hopeless(task)
    chosen, proven = _cheapest(task)
    changes = _changes(task, chosen)
    return SizeChoice(
        tuple(task.tubes[k].name for k in chosen),
        choice_price(task, chosen),
        tuple(terminal_loss_um(task, chosen, t) / 1e6 for t in range(len(task.ways))),
        tuple(task.speeds_m_s[e][k] for e, k in enumerate(chosen)),
        changes,
        proven,
    )


def size_task(
    tree: RouteTree,
    inlets: Sequence[Inlet],
    tubes: Sequence[TubeSize],
    loss_per_metre: LossPerMetre,
    speed_limit_m_s: float,
    change_mct: int = 0,
    stock: TubeStock | None = None,
) -> SizeTask:
    """The whole-number form of `choose_sizes`, with the same arguments."""
    if len(inlets) != len(tree.terminals):
        raise ValueError(f"{len(tree.terminals)} terminals need as many inlets, not {len(inlets)}")
    if not tubes or len({tube.name for tube in tubes}) != len(tubes):
        raise ValueError("tube sizes need at least one tube, each with a name of its own")
    if not speed_limit_m_s > 0 or change_mct < 0:
        raise ValueError("the speed limit must be above 0 and a joint must not cost less than 0")
    ordered = tuple(sorted(tubes, key=lambda tube: (tube.bore_m, tube.name)))
    feeding = {edge.end: number for number, edge in enumerate(tree.edges)}
    above = tuple(feeding.get(edge.start, -1) for edge in tree.edges)
    ways = tuple(_way(above, feeding.get(node, -1)) for node in tree.terminals)
    flows = _flows(len(tree.edges), inlets, ways)
    most = [max(row[e] for row in flows.values()) for e in range(len(tree.edges))]
    speeds = tuple(tuple(_speed(q, tube.bore_m) for tube in ordered) for q in most)
    return SizeTask(
        ordered,
        above,
        ways,
        tuple(inlet.zone for inlet in inlets),
        tuple(math.floor(inlet.head_budget_m * 1e6) for inlet in inlets),
        {zone: _losses(tree, row, ordered, loss_per_metre) for zone, row in sorted(flows.items())},
        tuple(tuple(tube.price_mct_per_mm * edge.length_mm for tube in ordered) for edge in tree.edges),
        tuple(tuple(speed <= speed_limit_m_s for speed in row) for row in speeds),
        speeds,
        change_mct,
        stock,
    )


def choice_price(task: SizeTask, chosen: Sequence[int]) -> int:
    """Price of a choice of one tube number an edge [mct]."""
    tubes = sum(task.price_mct[e][k] for e, k in enumerate(chosen))
    return tubes + task.change_mct * _changes(task, chosen)


def terminal_loss_um(task: SizeTask, chosen: Sequence[int], terminal: int) -> int:
    """Head lost up to a terminal while its zone runs [um]."""
    losses = task.loss_um[task.zones[terminal]]
    return sum(losses[e][chosen[e]] for e in task.ways[terminal])


def _way(above: Sequence[int], edge: int) -> tuple[int, ...]:
    way: list[int] = []
    while edge >= 0:
        way.append(edge)
        edge = above[edge]
    return tuple(reversed(way))


def _flows(edges: int, inlets: Sequence[Inlet], ways: Sequence[Sequence[int]]) -> dict[str, list[float]]:
    """Flow in every edge while each zone runs alone [m3/s]."""
    flows = {inlet.zone: [0.0] * edges for inlet in inlets}
    for inlet, way in zip(inlets, ways, strict=True):
        for e in way:
            flows[inlet.zone][e] += inlet.flow_m3_s
    return flows


def _speed(flow_m3_s: float, bore_m: float) -> float:
    """Mean speed of water in a full tube: flow over area [m/s]."""
    return flow_m3_s / (math.pi * bore_m**2 / 4.0)


def _losses(
    tree: RouteTree, flows: Sequence[float], tubes: Sequence[TubeSize], loss_per_metre: LossPerMetre
) -> tuple[tuple[int, ...], ...]:
    """Head lost in every edge for every tube, rounded up [um]."""
    rows: list[tuple[int, ...]] = []
    for edge, flow in zip(tree.edges, flows, strict=True):
        slopes = [loss_per_metre(tube.name, flow) if flow > 0 else 0.0 for tube in tubes]
        if not all(math.isfinite(slope) and slope >= 0 for slope in slopes):
            raise ValueError(f"the loss of head at {flow} m3/s must be finite and at least 0, not {slopes}")
        rows.append(tuple(math.ceil(slope * edge.length_mm * 1000.0) for slope in slopes))
    return tuple(rows)


def _refuse_hopeless(task: SizeTask) -> None:
    """Say what is short when an edge has no tube slow enough, or a terminal loses too much even at the best."""
    for e, row in enumerate(task.allowed):
        if not any(row):
            raise NoRouteError(
                f"edge {e + 1}: water would run at {min(task.speeds_m_s[e]):.2f} m/s even in the widest tube"
            )
    for t, way in enumerate(task.ways):
        losses = task.loss_um[task.zones[t]]
        least = sum(min(loss for loss, ok in zip(losses[e], task.allowed[e], strict=True) if ok) for e in way)
        if least > task.budgets_um[t]:
            raise NoRouteError(
                f"terminal {t + 1}: at least {least / 1e6:.3f} m of head is lost on the way, "
                f"{task.budgets_um[t] / 1e6:.3f} m may be"
            )


def _changes(task: SizeTask, chosen: Sequence[int]) -> int:
    return sum(up >= 0 and chosen[up] != chosen[e] for e, up in enumerate(task.above))


def _cheapest(task: SizeTask) -> tuple[list[int], bool]:
    """Solve the choice with CP-SAT, one worker; of equally cheap choices a fixed one, and whether it is proven."""
    if not task.above:
        return [], True
    by_the_metre = _solved(replace(task, stock=None), (), None)
    if by_the_metre is None:
        raise NoRouteError("no choice of tubes keeps every terminal's head budget without widening downstream")
    if task.stock is None:
        return by_the_metre
    by_rolls = _solved(task, by_the_metre[0], ROLL_WORK)
    if by_rolls is None:
        raise NoRouteError("there is not enough tube for a choice that keeps every terminal's head budget")
    return by_rolls


def _solved(task: SizeTask, first: Sequence[int], work: float | None) -> tuple[list[int], bool] | None:
    """The cheapest choice found with some work, and whether it is proven; None if there is none."""
    model = cp_model.CpModel()
    use = [[model.new_bool_var(f"edge{e}_tube{k}") for k in range(len(task.tubes))] for e in range(len(task.above))]
    _one_allowed_tube(model, task, use)
    _never_wider_downstream(model, task, use)
    _head_within_budget(model, task, use)
    for row, chosen in zip(use, first, strict=bool(first)):
        for k, tube in enumerate(row):
            model.add_hint(tube, k == chosen)
    price = [task.price_mct[e][k] * use[e][k] for e in range(len(use)) for k in range(len(task.tubes))]
    dearest = sum(max(row) for row in task.price_mct) + task.change_mct * len(use)
    rolls = [(dearest + 1) * price_ct * count for count, price_ct in _rolls(model, task, use)]
    model.minimize(sum(price) + sum(task.change_mct * joint for joint in _joints(model, task, use)) + sum(rolls))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = 0
    solver.parameters.presolve_inclusion_work_limit = 0
    if work is not None:
        solver.parameters.max_deterministic_time = work
    status = solver.solve(model)
    if status == cp_model.INFEASIBLE:
        return None
    if status == cp_model.UNKNOWN and first:
        return list(first), False
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        raise RuntimeError(f"choosing tube sizes ended as {solver.status_name(status)}")
    return [next(k for k, tube in enumerate(row) if solver.boolean_value(tube)) for row in use], (
        status == cp_model.OPTIMAL
    )


Use = list[list[cp_model.IntVar]]


def _rolls(model: cp_model.CpModel, task: SizeTask, use: Use) -> list[tuple[cp_model.IntVar, int]]:
    """How many of each roll are cut, and its price: together long enough for each tube; none where none are given."""
    if task.stock is None:
        return []
    found = []
    for k, tube in enumerate(task.tubes):
        rolls, others = task.stock.rolls[tube.name], task.stock.others.get(tube.name, 0)
        longest = others + sum(task.stock.units)
        counts = [model.new_int_var(0, _most(roll, longest), f"tube{k}_roll{n}") for n, roll in enumerate(rolls)]
        cut = cp_model.LinearExpr.weighted_sum(counts, [roll.units for roll in rolls])
        needed = cp_model.LinearExpr.weighted_sum([row[k] for row in use], task.stock.units)
        model.add(cut - needed >= others)
        found += [(count, roll.price_ct) for count, roll in zip(counts, rolls, strict=True)]
    return found


def _most(roll: Roll, units: int) -> int:
    """How many of a roll are enough for a length, or as many as there are."""
    enough = -(-units // roll.units)
    return enough if roll.most is None else min(enough, roll.most)


def _one_allowed_tube(model: cp_model.CpModel, task: SizeTask, use: Use) -> None:
    for row, allowed in zip(use, task.allowed, strict=True):
        model.add_exactly_one(row)
        for tube, ok in zip(row, allowed, strict=True):
            if not ok:
                model.add(tube == 0)


def _never_wider_downstream(model: cp_model.CpModel, task: SizeTask, use: Use) -> None:
    bores = [tube.bore_m for tube in task.tubes]
    for e, up in enumerate(task.above):
        if up < 0:
            continue
        for k, bore in enumerate(bores):
            # a tube may be used only where the edge feeding it has one at least as wide
            model.add_bool_or([use[up][j] for j in range(len(bores)) if bores[j] >= bore]).only_enforce_if(use[e][k])


def _head_within_budget(model: cp_model.CpModel, task: SizeTask, use: Use) -> None:
    for t, way in enumerate(task.ways):
        losses = task.loss_um[task.zones[t]]
        if not way:
            continue  # at the source itself; a budget below 0 was refused before
        terms = [losses[e][k] * use[e][k] for e in way for k in range(len(task.tubes))]
        model.add(sum(terms) <= task.budgets_um[t])


def _joints(model: cp_model.CpModel, task: SizeTask, use: Use) -> list[cp_model.IntVar]:
    """One literal for every edge that is not of the same tube as the edge feeding it; none when joints are free."""
    joints: list[cp_model.IntVar] = []
    for e, up in enumerate(task.above):
        if up >= 0 and task.change_mct:
            joint = model.new_bool_var(f"joint{e}")
            for k in range(len(task.tubes)):
                model.add_bool_or([use[up][k].negated(), use[e][k], joint])
            joints.append(joint)
    return joints

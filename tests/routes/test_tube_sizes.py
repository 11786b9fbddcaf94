"""Tube sizes against full enumeration on generated trees, and against sums done by hand."""

from __future__ import annotations

import random
from itertools import product

import pytest

from optimizer.routes.ground import NoRouteError
from optimizer.routes.result import RouteTree, Status, TreeEdge
from optimizer.routes.sizes import Inlet, Roll, TubeSize, TubeStock, choose_sizes

TUBES = (TubeSize("16", 0.0136, 30), TubeSize("20", 0.0176, 45), TubeSize("25", 0.0213, 80))


def hazen_williams(name: str, flow_m3_s: float) -> float:
    """J = 10.67 q^1.852 / (C^1.852 d^4.87), the SI form of the Hazen-Williams formula, C = 150 (polyethylene)."""
    bore = next(tube.bore_m for tube in TUBES if tube.name == name)
    return float(10.67 * flow_m3_s**1.852 / (150**1.852 * bore**4.87))


def tree_of(lengths_mm: list[int], starts: list[int], terminals: list[int]) -> RouteTree:
    """Edge k runs from point starts[k] to point k + 1."""
    edges = tuple(TreeEdge(s, k + 1, mm) for k, (s, mm) in enumerate(zip(starts, lengths_mm, strict=True)))
    points = tuple((float(i), 0.0) for i in range(len(edges) + 1))
    return RouteTree(points, edges, 0, tuple(terminals), (), 0, 0, Status.PROVEN, "by hand")


def generated(seed: int) -> tuple[RouteTree, list[Inlet], int, float]:
    rng = random.Random(seed)
    count = rng.randint(1, 6)
    tree = tree_of(
        [rng.randint(500, 30000) for _ in range(count)],
        [rng.randint(0, k) for k in range(count)],
        rng.sample(range(1, count + 1), rng.randint(1, count)),
    )
    inlets = [
        Inlet(rng.choice("AB"), rng.choice((0.00004, 0.0001, 0.0002)), rng.choice((0.2, 0.5, 1.0, 2.0, 4.0)))
        for _ in tree.terminals
    ]
    return tree, inlets, rng.choice((0, 0, 100_000)), rng.choice((1.0, 1.5, 3.0))


def enumerated(
    tree: RouteTree, inlets: list[Inlet], change: int, limit: float, stock: TubeStock | None = None
) -> tuple[int, int] | None:
    """Least price of rolls and by the metre over every way of giving each edge a tube, straight from the rules."""
    feeding = {edge.end: e for e, edge in enumerate(tree.edges)}

    def way(node: int) -> list[int]:
        return [] if node not in feeding else [*way(tree.edges[feeding[node]].start), feeding[node]]

    ways = [way(node) for node in tree.terminals]
    zones = sorted({inlet.zone for inlet in inlets})
    flow = {
        (z, e): sum(i.flow_m3_s for i, w in zip(inlets, ways, strict=True) if i.zone == z and e in w)
        for z in zones
        for e in range(len(tree.edges))
    }
    best: tuple[int, int] | None = None
    for tubes in product(TUBES, repeat=len(tree.edges)):
        pairs = [(tubes[feeding[e.start]], tubes[k]) for k, e in enumerate(tree.edges) if e.start in feeding]
        narrow_first = any(up.bore_m < down.bore_m for up, down in pairs)
        fast = any(
            flow[z, e] / (3.141592653589793 / 4 * tubes[e].bore_m ** 2) > limit
            for z in zones
            for e in range(len(tubes))
        )
        losing = any(
            sum(hazen_williams(tubes[e].name, flow[i.zone, e]) * tree.edges[e].length_mm / 1000 for e in w)
            > i.head_budget_m
            for i, w in zip(inlets, ways, strict=True)
        )
        if not (narrow_first or fast or losing):
            price = sum(t.price_mct_per_mm * e.length_mm for t, e in zip(tubes, tree.edges, strict=True))
            price += change * sum(up != down for up, down in pairs)
            rolls = 0 if stock is None else rolls_ct(stock, [tube.name for tube in tubes])
            if rolls is not None:
                best = (rolls, price) if best is None else min(best, (rolls, price))
    return best


def rolls_ct(stock: TubeStock, names: list[str]) -> int | None:
    """Price of the cheapest rolls for tubes of the edges, by trying every number; None if there is not enough."""
    total = 0
    for tube in TUBES:
        needed = stock.others.get(tube.name, 0)
        needed += sum(units for units, name in zip(stock.units, names, strict=True) if name == tube.name)
        counts = (range((9 if roll.most is None else roll.most) + 1) for roll in stock.rolls[tube.name])
        prices = [
            sum(count * roll.price_ct for count, roll in zip(each, stock.rolls[tube.name], strict=True))
            for each in product(*counts)
            if sum(count * roll.units for count, roll in zip(each, stock.rolls[tube.name], strict=True)) >= needed
        ]
        if not prices:
            return None
        total += min(prices)
    return total


def stocked(seed: int, tree: RouteTree) -> TubeStock:
    """Rolls, owned pieces and what else is cut, so that rolls often come out uneven."""
    rng = random.Random(seed)
    kinds = [(Roll(250, rng.choice((900, 1200)), None), Roll(rng.randint(20, 90), 0, 1)), (Roll(150, 800, 2),)]
    rolls = {tube.name: rng.choice(kinds) for tube in TUBES}
    units = tuple(-(-edge.length_mm // 100) for edge in tree.edges)
    return TubeStock(rolls, {rng.choice(TUBES).name: rng.randint(0, 200)}, units)


def test_sizes_agree_with_enumeration_on_generated_trees() -> None:
    solved = refused = mixed = 0
    for seed in range(150):
        tree, inlets, change, limit = generated(seed)
        best = enumerated(tree, inlets, change, limit)
        if best is None:
            refused += 1
            with pytest.raises(NoRouteError):
                choose_sizes(tree, inlets, TUBES, hazen_williams, limit, change)
            continue
        choice = choose_sizes(tree, inlets, TUBES, hazen_williams, limit, change)
        solved += 1
        mixed += len(set(choice.tubes)) > 1
        assert (0, choice.cost_mct) == best, seed
        assert all(loss <= i.head_budget_m for loss, i in zip(choice.losses_m, inlets, strict=True))
        assert max(choice.speeds_m_s) <= limit
    assert min(solved - mixed, mixed, refused) >= 10


def test_rolls_go_before_the_metre_on_generated_trees() -> None:
    solved = refused = dearer = 0
    for seed in range(200, 300):
        tree, inlets, change, limit = generated(seed)
        stock = stocked(seed, tree)
        best = enumerated(tree, inlets, change, limit, stock)
        if best is None:
            refused += 1
            with pytest.raises(NoRouteError):
                choose_sizes(tree, inlets, TUBES, hazen_williams, limit, change, stock)
            continue
        choice = choose_sizes(tree, inlets, TUBES, hazen_williams, limit, change, stock)
        solved += 1
        assert (rolls_ct(stock, list(choice.tubes)), choice.cost_mct) == best, seed
        plain = enumerated(tree, inlets, change, limit)
        dearer += plain is not None and plain[1] < best[1]
    assert min(solved, refused, dearer) >= 10


def test_wider_tube_is_laid_where_that_saves_a_roll_of_the_narrow() -> None:
    # By the metre narrow tube is cheaper for both; but 26 m of it need two rolls, and the wide roll is there anyway.
    tree = tree_of([12_000, 14_000], [0, 1], [2])
    rolls = {"16": (Roll(250, 1200, None),), "20": (Roll(250, 1900, None),), "25": ()}
    stock = TubeStock(rolls, {"20": 50}, (120, 140))
    choice = choose_sizes(tree, [Inlet("A", 1e-5, 5.0)], TUBES, hazen_williams, 3.0, stock=stock)
    assert choice.tubes == ("20", "16")


def test_zones_running_one_at_a_time_do_not_add_up() -> None:
    # one 10 m tube to a tee, 1 m to each of two inlets of 0.1 l/s; head lost is 0.1 m/m for the narrow tube at
    # 0.1 l/s and 0.4 m/m at 0.2 l/s, half of that in the wide one
    tree = tree_of([10_000, 1_000, 1_000], [0, 1, 1], [2, 3])
    tubes = (TubeSize("narrow", 0.014, 1), TubeSize("wide", 0.018, 2))

    def loss(name: str, flow: float) -> float:
        return (0.1 if flow < 0.00015 else 0.4) * (0.5 if name == "wide" else 1.0)

    apart = choose_sizes(tree, [Inlet(z, 0.0001, 1.5) for z in "AB"], tubes, loss, 3.0)
    assert apart.tubes == ("narrow", "narrow", "narrow")
    assert apart.losses_m == pytest.approx((1.1, 1.1))
    together = choose_sizes(tree, [Inlet("A", 0.0001, 2.15) for _ in range(2)], tubes, loss, 3.0)
    assert together.tubes == ("wide", "narrow", "narrow")
    assert together.losses_m == pytest.approx((2.1, 2.1))
    assert together.cost_mct == 2 * 10_000 + 1_000 + 1_000
    assert together.changes == 2


def test_a_terminal_short_of_head_is_named_with_what_it_lacks() -> None:
    tree = tree_of([100_000], [0], [1])
    with pytest.raises(NoRouteError, match=r"terminal 1: at least 50\.000 m .* 3\.000 m may be"):
        choose_sizes(tree, [Inlet("A", 1e-4, 3.0)], TUBES, lambda name, flow: 0.5, 3.0)


def test_an_edge_too_fast_for_every_tube_is_named() -> None:
    # 1 l/s through the widest tube, 21.3 mm: 0.001 / 3.563e-4 = 2.81 m/s
    tree = tree_of([100], [0], [1])
    with pytest.raises(NoRouteError, match=r"edge 1: water would run at 2\.81 m/s"):
        choose_sizes(tree, [Inlet("A", 1e-3, 30.0)], TUBES, hazen_williams, 2.0)


def test_a_budget_met_exactly_is_met() -> None:
    tree = tree_of([2_000], [0], [1])
    choice = choose_sizes(tree, [Inlet("A", 1e-4, 1.0)], TUBES, lambda name, flow: 0.5, 3.0)
    assert choice.losses_m == (1.0,)
    with pytest.raises(NoRouteError):
        choose_sizes(tree, [Inlet("A", 1e-4, 0.999)], TUBES, lambda name, flow: 0.5, 3.0)


def test_terminals_at_the_source_need_no_tube() -> None:
    choice = choose_sizes(tree_of([], [], [0]), [Inlet("A", 1e-4, 0.0)], TUBES, hazen_williams, 2.0)
    assert choice.tubes == ()
    assert choice.cost_mct == 0


@pytest.mark.parametrize(
    ("inlets", "tubes", "limit"),
    [
        ([], TUBES, 2.0),
        ([Inlet("A", 1e-4, 1.0)], (), 2.0),
        ([Inlet("A", 1e-4, 1.0)], (TUBES[0], TUBES[0]), 2.0),
        ([Inlet("A", 1e-4, 1.0)], TUBES, 0.0),
        ([Inlet("A", 1e-4, 1.0)], TUBES, float("nan")),
    ],
)
def test_inputs_that_do_not_fit_are_refused(inlets: list[Inlet], tubes: tuple[TubeSize, ...], limit: float) -> None:
    with pytest.raises(ValueError, match=r"need|must"):
        choose_sizes(tree_of([1000], [0], [1]), inlets, tubes, hazen_williams, limit)

"""Bounds of sets of combinations against the referee's values: one above a value would rule out the best unseen."""

from __future__ import annotations

import random
from collections import Counter
from functools import cache
from itertools import product

import pytest
from hand_plots import Plain, scenario
from plot_cuts import Stock, best_cut
from plot_enumeration import Enumeration, Found
from plot_water import stretch_flows
from tiny_plots import plot

from optimizer.choose.cutter import Cutter
from optimizer.choose.evaluate import RuledOutError
from optimizer.choose.manybeds.combination import Combination
from optimizer.choose.manybeds.linebound import LineBound
from optimizer.choose.manybeds.opened import Open
from optimizer.choose.manybeds.search import GardenSearch
from optimizer.choose.manybeds.shares import Share
from optimizer.choose.manybeds.value import Low
from optimizer.choose.manybeds.zonebound import least_bins
from optimizer.choose.search import SearchLimits
from optimizer.problem.tubing import emitter_line_task

GARDENS = (
    ("beds in a line", 1), ("raised", 1), ("path", 1), ("barrier", 1), ("a line for each bed", 0), ("two tubes", 1),
    ("narrow tube", 0), ("rolls", 0), ("scarce rolls", 0), ("owned pieces", 1), ("joints", 0), ("in the field", 1),
    ("valve per bed", 0), ("own zone", 1), ("crops apart", 0), ("two headers", 0), ("slope", 0), ("regulators", 0),
    ("weak tap, cheap valves", 0),
)  # fmt: skip
SETS_A_GARDEN = 6


@cache
def enumerated(kind: str, seed: int) -> tuple[GardenSearch, Enumeration]:
    search = GardenSearch(plot(kind, seed), SearchLimits())
    return search, Enumeration(search.garden)


def some_sets(search: GardenSearch, draw: random.Random):
    """Yield sets of few combinations: some layouts of every block."""
    garden = search.garden
    for _ in range(SETS_A_GARDEN):
        pattern, kit = draw.randrange(len(garden.patterns)), draw.randrange(len(garden.kits))
        sizes = [len(block.layouts) for block in garden.patterns[pattern].blocks]
        yield Open(pattern, kit, tuple(tuple(sorted(draw.sample(range(n), min(n, draw.randint(1, 2))))) for n in sizes))


def members(some: Open):
    return (Combination(some.pattern, some.kit, layouts) for layouts in product(*some.layouts))


def _lows(search: GardenSearch, some: Open) -> list[Low] | None:
    """Return the quick bound of a set and the closer one; None if it is said not to work."""
    try:
        quick = search.bounds.of(some, None, None)
        return [quick.low, search.bounds.of(some, quick, None).low]
    except RuledOutError:
        return None


def working(search: GardenSearch, some: Open) -> Open | None:
    """Return a set without layouts that cannot work by themselves, as the search has it when it asks for a bound."""
    for block, layouts in enumerate(some.layouts):
        kept = []
        for layout in layouts:
            try:
                search.bounds.share(some.pattern, some.kit, block, layout)
                kept.append(layout)
            except RuledOutError:
                continue
        if not kept:
            return None
        some = some.only(block, kept)
    return some


@pytest.mark.parametrize(("kind", "seed"), GARDENS)
def test_the_bound_of_a_set_is_never_above_a_value_in_it(kind, seed):
    search, referee = enumerated(kind, seed)
    for wanted in some_sets(search, random.Random(f"{kind} {seed}")):
        some = working(search, wanted)
        if some is None:
            assert not any(referee.value(item) for item in members(wanted))
            continue
        bounds = _lows(search, some)
        for item in members(some):
            found = referee.value(item)
            assert found is None or bounds is not None
            for low in bounds or ():
                _check(low, found)


def _check(low: Low, found: Found | None) -> None:
    if found is not None:
        # Every goal by itself, not only in order: a later goal's bound counts once the earlier ones tie.
        assert all(least <= value for least, value in zip(low.goals, found.goals, strict=True))
        if len(found.laid.zones) > 1:
            assert all(least <= value for least, value in zip(low.several, found.goals, strict=True))


@pytest.mark.parametrize(("kind", "seed"), GARDENS[::3])
def test_layouts_left_out_cannot_reach_what_is_to_beat(kind, seed):
    search, referee = enumerated(kind, seed)
    for wanted in some_sets(search, random.Random(f"worth {kind} {seed}")):
        some = working(search, wanted)
        values = {item: referee.value(item) for item in members(some)} if some is not None else {}
        known = sorted(found.goals for found in values.values() if found is not None)
        if not known:
            continue
        beat = type(search.bounds.of(some, None, None).low.goals)(*known[len(known) // 2])
        bounded = search.bounds.of(some, None, beat)
        for again in (bounded, search.bounds.of(bounded.some, bounded, beat) if bounded.some else bounded):
            for item, found in values.items():
                if found is not None and found.goals <= beat:
                    assert again.some is not None
                    assert again.some.holds(item)


@pytest.mark.parametrize(("kind", "seed"), GARDENS)
def test_a_stretch_takes_no_less_than_its_least_flow_in_a_zone_that_holds(kind, seed):
    search, referee = enumerated(kind, seed)
    draw, seen = random.Random(f"flows {kind} {seed}"), 0
    every = list(referee.combinations())
    for item in draw.sample(every, min(len(every), 8)):
        units = referee.laid_out(item)
        for laid, own in referee.zonings(units) if units is not None else ():
            for zone in range(len(laid.zones)):
                if referee.judged(laid, zone, units, own).holds:
                    for member, flow in stretch_flows(laid, zone).items():
                        assert _least(search, item, units.stretches, member) <= flow * (1 + 1e-6)
                        seen += 1
    assert seen


def _least(search: GardenSearch, item: Combination, stretches, member: int) -> float:
    block = stretches[member][0]
    own = [k for k, stretch in enumerate(stretches) if stretch[0] == block].index(member)
    return search.bounds.share(item.pattern, item.kit, block, item.layouts[block]).unit_flows_m3_s[own]


# -------------------------------------------------------------------- bins


def fewest_bins(sizes: list[int], room: int) -> int:
    """Return the fewest bins by trying every bin for every size."""
    best = len(sizes)

    def put(number: int, bins: list[int]) -> None:
        nonlocal best
        if len(bins) >= best:
            return
        if number == len(sizes):
            best = len(bins)
            return
        for bin_ in range(len(bins)):
            if bins[bin_] + sizes[number] <= room:
                put(number + 1, [*bins[:bin_], bins[bin_] + sizes[number], *bins[bin_ + 1 :]])
        put(number + 1, [*bins, sizes[number]])

    put(0, [])
    return best


@pytest.mark.parametrize("seed", range(150))
def test_least_bins_is_never_above_the_fewest(seed):
    draw = random.Random(seed)
    room = draw.choice((6, 10, 12, 100, 10_000))
    few = [draw.randint(0, room) for _ in range(draw.randint(1, 4))]  # alike sizes make bounds sharp
    choices = [
        [[draw.choice(few) for _ in range(draw.randint(1, 2))] for _ in range(draw.randint(1, 2))]
        for _ in range(draw.randint(1, 4))
    ]
    fewest = min(fewest_bins([size for units in each for size in units], room) for each in product(*choices))
    assert least_bins(choices, room) <= max(fewest, 1)


@pytest.mark.parametrize(
    ("sizes", "room", "bins"),
    [
        ([5, 5, 5], 10, 2),  # by sum
        ([6, 6, 6], 10, 3),  # no two together
        ([4, 4, 4, 4], 10, 2),  # two in each
        ([4, 4, 4, 4, 4], 10, 3),  # two in each and one over, 20 units would fill two
        ([7, 7, 3, 3], 10, 2),
        ([10], 10, 1),
    ],
)
def test_least_bins_by_hand(sizes, room, bins):
    assert least_bins([[[size]] for size in sizes], room) == bins


# -------------------------------------------------------------------- emitter line


def a_share(draw: random.Random, lengths: list[int]) -> Share:
    pieces = Counter(draw.choice(lengths) for _ in range(draw.randint(1, 3)))
    return Share(0, draw.choice((0, 100, 250)), 0, 0, pieces, 0, 1, (), ())


@pytest.mark.parametrize("seed", range(40))
def test_line_bound_is_never_above_what_a_combination_costs(seed):
    draw = random.Random(seed)
    scenario = plot(draw.choice(("rolls", "scarce rolls", "owned pieces", "joints")), draw.randrange(4))
    line, lengths = scenario.emitter_lines[0], [draw.randint(2, 12) for _ in range(draw.randint(1, 3))]
    shares = [[a_share(draw, lengths) for _ in range(draw.randint(1, 3))] for _ in range(draw.randint(1, 3))]
    stock = _stock(scenario, line)
    costs = {}
    for chosen in product(*(range(len(each)) for each in shares)):
        mine = [each[k] for each, k in zip(shares, chosen, strict=True)]
        cut = best_cut(stock, tuple(sorted(n for item in mine for n in item.line_units.elements())))
        if cut is not None:
            costs[chosen] = cut[0] + sum(item.money_ct for item in mine), cut[1]
    bound = LineBound(Cutter(), scenario, line, shares)
    try:
        least = bound.least
        extra = bound.extra_ct()
    except RuledOutError:
        assert not costs
        return
    for chosen, (money, waste) in costs.items():
        assert least.money_ct <= money
        assert money > min(costs.values())[0] or least.spent_um <= waste
        for block, layout in enumerate(chosen):
            assert least.money_ct + extra[block][layout] <= money


def _stock(scenario, line) -> Stock:
    """Return the shelf of an emitter line; its figures are those of the task, its cutting is the referee's own."""
    task = emitter_line_task(scenario, line, [])
    rolls = tuple((each.length_um, each.price_ct, each.available) for each in task.stocks if not each.owned)
    owned = tuple(each.length_um for each in task.stocks if each.owned)
    return Stock(
        task.unit_um, rolls, owned, task.usable_um, task.coupler_ct, task.joints_per_piece, task.least_part_units
    )


def test_one_bed_is_made_of_other_pieces_where_that_saves_a_roll():
    # A roll holds 125 emitter spacings: one piece of 65 and no second, but one of 65 and one of 32 or 33. With one bed
    # of three in halves two rolls are enough.
    line = scenario([Plain((0.0, 0.0))]).emitter_lines[0]
    whole, halves = frozenset({(65, 1)}), frozenset({(32, 1), (33, 1)})
    costs = [{whole: 0, halves: extra} for extra in (400, 200, 300)]
    bound = LineBound(Cutter(), scenario([Plain((0.0, 0.0))]), line, [])
    assert bound.best_pieces(costs) == (whole, halves, whole)
    dear = [{whole: 0, halves: 3001} for _ in range(3)]  # a roll costs 3000
    assert bound.best_pieces(dear) == (whole, whole, whole)

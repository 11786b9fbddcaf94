"""Cutting by first fit: worked by hand, recomputed by the cutting check, and held against a published bound."""

from collections import Counter

from hypothesis import given, settings
from hypothesis import strategies as st

from optimizer.choose.firstfit import first_fit
from optimizer.cutting import CuttingTask, Demand, Stock, check_cutting

METRE = 1_000_000


def task(stocks, order, usable_m=1, joints=0, least=1, coupler_ct=0):
    demands = tuple(Demand(f"{units}", units, count) for units, count in sorted(Counter(order).items()))
    return CuttingTask(METRE, tuple(stocks), demands, usable_m * METRE, coupler_ct, joints, least)


def contents(plan):
    return [(use.stock, use.copy, [cut.units for cut in use.cuts], use.leftover_um // METRE) for use in plan.uses]


def test_each_piece_goes_to_the_first_roll_that_holds_it():
    # By hand: 6 opens a roll, 5 the next, 4 fits behind the 6, 3 behind the 5, 2 behind the 3, and 1 opens the third.
    order = [6, 5, 4, 3, 2, 1]
    plan = first_fit(task([Stock("roll", 10 * METRE, 700, None)], order), order)
    assert contents(plan) == [("roll", 0, [6, 4], 0), ("roll", 1, [5, 3, 2], 0), ("roll", 2, [1], 9)]
    assert plan.goals == (2100, 0, 0)


def test_owned_pieces_come_first_and_unused_ones_are_not_cut():
    stocks = [Stock("roll", 10 * METRE, 700, None), Stock("owned", 4 * METRE, 0, 1, owned=True)]
    stocks.append(Stock("short", 1 * METRE, 0, 1, owned=True))
    order = [3, 5]
    plan = first_fit(task(stocks, order, usable_m=2), order)
    assert contents(plan) == [("owned", 0, [3], 1), ("roll", 0, [5], 5)]
    assert plan.goals == (700, 1 * METRE, 0)  # one metre of the owned piece is too short to keep


def test_the_cheapest_roll_that_holds_all_the_rest_is_bought_if_there_is_one():
    # 12 m to cut: the 50 m roll is cheaper by the metre, the 25 m roll holds all and costs less.
    stocks = [Stock("50", 50 * METRE, 2500, None), Stock("25", 25 * METRE, 2000, None)]
    assert contents(first_fit(task(stocks, [6, 6]), [6, 6])) == [("25", 0, [6, 6], 13)]


def test_otherwise_the_cheapest_by_the_metre_and_no_more_than_can_be_had():
    # 66 m to cut: no roll holds all; the 50 m roll is cheaper by the metre, but there is one only.
    stocks = [Stock("25", 25 * METRE, 2000, None), Stock("50", 50 * METRE, 2500, 1)]
    order = [11] * 6
    found = contents(first_fit(task(stocks, order), order))
    assert found == [("50", 0, [11] * 4, 6), ("25", 0, [11, 11], 3)]


def test_a_piece_longer_than_every_roll_is_joined_or_not_cut():
    stocks = [Stock("roll", 10 * METRE, 700, None)]
    # By hand: 10 m, 10 m, and 3 m rather than 1 m is left because no part may be shorter than 3 m.
    plan = first_fit(task(stocks, [21], joints=2, least=3, coupler_ct=90), [21])
    assert contents(plan) == [("roll", 0, [10], 0), ("roll", 1, [8], 2), ("roll", 2, [3], 7)]
    assert plan.goals == (3 * 700 + 2 * 90, 0, 2)
    assert first_fit(task(stocks, [21], joints=1), [21]) is None
    assert first_fit(task(stocks, [11]), [11]) is None


@settings(max_examples=150, derandomize=True, deadline=None)
@given(st.data())
def test_every_plan_passes_the_recomputation(data):
    stocks = [
        Stock(f"roll {index}", data.draw(st.integers(4, 30)) * METRE, data.draw(st.integers(1, 900)), available)
        for index, available in enumerate(data.draw(st.lists(st.sampled_from([None, 1, 3]), min_size=1, max_size=3)))
    ]
    lengths = data.draw(st.lists(st.integers(1, 12), max_size=3))
    stocks += [Stock(f"owned {index}", m * METRE, 0, 1, owned=True) for index, m in enumerate(lengths)]
    order = data.draw(st.lists(st.integers(1, 40), min_size=1, max_size=15))
    asked = task(stocks, order, 3, data.draw(st.integers(0, 3)), data.draw(st.integers(1, 3)), 50)
    plan = first_fit(asked, order)
    if plan is not None:
        assert check_cutting(asked, plan) == ()
    elif all(stock.available is None for stock in stocks if not stock.owned):
        # With rolls without end only a piece longer than the longest roll can be in the way.
        assert max(order) * METRE > max(stock.length_um for stock in stocks if not stock.owned)


@settings(max_examples=150, derandomize=True, deadline=None)
@given(st.data())
def test_first_fit_needs_at_most_seventeen_tenths_of_the_fewest_rolls(data):
    """FF <= floor(1.7 OPT): Dosa and Sgall, First Fit bin packing: a tight analysis, STACS 2013.

    The fewest rolls are known because the pieces are k whole rolls cut up.
    """
    capacity, rolls = 60, data.draw(st.integers(1, 8))
    order = []
    for _ in range(rolls):
        cuts = sorted(data.draw(st.sets(st.integers(1, capacity - 1), max_size=6)))
        order += [b - a for a, b in zip([0, *cuts], [*cuts, capacity], strict=True)]
    order = data.draw(st.permutations(order))
    plan = first_fit(task([Stock("roll", capacity * METRE, 1, None)], order), order)
    assert rolls <= len(plan.uses) <= 17 * rolls // 10

"""Tasks whose best plan is known from a published source or worked out by hand beside the check."""

from __future__ import annotations

from dataclasses import replace

import pytest

from optimizer.cutting import (
    CuttingStatus,
    CuttingTask,
    Demand,
    Limits,
    Stock,
    check_cutting,
    money_bound,
    solve_cutting,
)


def solved(task: CuttingTask) -> tuple[int, int, int]:
    outcome = solve_cutting(task)
    assert outcome.status is CuttingStatus.PROVEN_BEST
    assert outcome.plan is not None
    assert check_cutting(task, outcome.plan) == ()
    return outcome.plan.goals


def bins(capacity: int, *sizes: int) -> CuttingTask:
    demands = tuple(Demand(f"{number}", size, 1) for number, size in enumerate(sizes))
    return CuttingTask(1, (Stock("bin", capacity, 1, None),), demands, usable_um=0)


def test_first_fit_decreasing_is_one_bin_too_many() -> None:
    # Published example (Wikipedia, "First-fit-decreasing bin packing", monotonicity): three bins of 60 hold these
    # sizes; first-fit decreasing uses four bins of 61.
    sizes = (44, 24, 24, 22, 21, 17, 8, 8, 6, 6)
    assert solved(bins(60, *sizes))[0] == 3
    assert solved(bins(61, *sizes))[0] == 3


def test_two_rolls_long_enough_but_three_needed() -> None:
    # Lengths 44 (x2), 33 (x3), 12 (x6) add up to 259 of the 264 of two rolls of 132, and the linear program over all
    # patterns has the value 2/3 + 3/4 + 6/11 = 1.962, yet two rolls do not do (Marcotte 1986, from memory).
    # By hand: two rolls leave 5 together, so each is filled to 127 at least. Fillings up to 132 with at most two 44s,
    # three 33s and six 12s: 44 + 33 + 4 x 12 = 125 and 2 x 44 + 33 = 121 fall short, 2 x 44 + 3 x 12 = 124 too, also
    # 44 + 2 x 33 + 12 = 122, 3 x 33 + 2 x 12 = 123, 2 x 33 + 5 x 12 = 126, 33 + 6 x 12 = 105, 44 + 6 x 12 = 116.
    task = CuttingTask(1, (Stock("r", 132, 1, None),), (Demand("a", 44, 2), Demand("b", 33, 3), Demand("c", 12, 6)), 0)
    assert solved(task)[0] == 3


def test_one_roll_holds_everything() -> None:
    # 3 x 30 m = 90 m out of 100 m: 10 m left, usable, nothing wasted.
    task = CuttingTask(10_000, (Stock("r", 100_000_000, 4500, None),), (Demand("row", 3000, 3),), 1_000_000)
    assert solved(task) == (4500, 0, 0)


def test_owned_piece_saves_a_roll() -> None:
    # 11 pieces of 5 units: two rolls of 50 without the owned 7; with it one roll (10 pieces) and 2 units left of the 7.
    roll, own = Stock("r", 50, 900, None), Stock("old", 7, 0, 1, owned=True)
    task = CuttingTask(1, (roll,), (Demand("row", 5, 11),), usable_um=3)
    assert solved(task) == (1800, 0, 0)
    assert solved(replace(task, stocks=(roll, own))) == (900, 2, 0)


def test_leftover_just_usable_is_no_waste() -> None:
    task = CuttingTask(1, (Stock("r", 10, 1, None),), (Demand("row", 7, 1),), usable_um=3)
    assert solved(task) == (1, 0, 0)
    assert solved(replace(task, usable_um=4)) == (1, 3, 0)


def test_leftover_counts_what_is_shorter_than_a_unit() -> None:
    # A roll of 1007 um in units of 100 um holds 10 units; 7 um remain and are waste.
    task = CuttingTask(100, (Stock("r", 1007, 1, None),), (Demand("row", 5, 2),), usable_um=50)
    assert solved(task) == (1, 7, 0)


@pytest.mark.parametrize(("coupler_ct", "money", "couplers"), [(50, 250, 1), (150, 300, 0)])
def test_a_joint_is_made_where_it_pays(coupler_ct: int, money: int, couplers: int) -> None:
    # Three pieces of 6 in rolls of 10: three rolls at 100, or two rolls and one coupler.
    task = CuttingTask(1, (Stock("r", 10, 100, None),), (Demand("row", 6, 3),), 1, coupler_ct, joints_per_piece=1)
    goals = solved(task)
    assert (goals[0], goals[2]) == (money, couplers)


def test_parts_too_short_forbid_the_joint() -> None:
    # As above: the middle piece of 6 can be made of 3 + 3, not of two parts of 4.
    task = CuttingTask(1, (Stock("r", 10, 100, None),), (Demand("row", 6, 3),), 1, 50, 1, least_part_units=3)
    assert solved(task)[0] == 250
    assert solved(replace(task, least_part_units=4))[0] == 300


def test_a_piece_longer_than_any_roll_needs_joints() -> None:
    task = CuttingTask(1, (Stock("r", 10, 100, None),), (Demand("main", 25, 1),), 1, 5)
    for joints in (0, 1):
        assert solve_cutting(replace(task, joints_per_piece=joints)).status is CuttingStatus.IMPOSSIBLE
        assert money_bound(replace(task, joints_per_piece=joints)) is None
    assert solved(replace(task, joints_per_piece=2)) == (310, 0, 2)


@pytest.mark.parametrize("joints", [0, 1])
def test_stock_too_short_is_proven_impossible(joints: int) -> None:
    # 3 x 6 = 18 units, 2 rolls of 8 hold 16.
    task = CuttingTask(1, (Stock("r", 8, 100, 2),), (Demand("row", 6, 3),), 0, 1, joints)
    outcome = solve_cutting(task)
    assert outcome.status is CuttingStatus.IMPOSSIBLE
    assert outcome.plan is None


def test_long_enough_but_indivisible_is_proven_impossible() -> None:
    # 3 x 6 = 18 units fit the length of 2 x 10, but each roll holds one piece.
    task = CuttingTask(1, (Stock("r", 10, 100, 2),), (Demand("row", 6, 3),), 0)
    assert solve_cutting(task).status is CuttingStatus.IMPOSSIBLE


def test_equal_laterals_with_joints() -> None:
    # 100 pieces of 77 in rolls of 333: 7700 / 333 = 23.1, so 24 rolls at least. A group of k rolls holds
    # floor(333 k / 77) pieces: 4, 8, 12, 17, ... for 1, 2, 3, 4 rolls, so only groups of four or more gain a piece.
    # 24 single rolls hold 96; each of four more pieces needs a group with three couplers: 24 rolls and 12 couplers,
    # or 25 rolls and none.
    roll = Stock("r", 333, 2500, None)
    task = CuttingTask(1, (roll,), (Demand("row", 77, 100),), 10, coupler_ct=80, joints_per_piece=1)
    assert solved(task)[0] == 24 * 2500 + 12 * 80
    assert solved(replace(task, coupler_ct=500))[0] == 25 * 2500


def test_nothing_wanted_costs_nothing() -> None:
    task = CuttingTask(1, (Stock("r", 10, 100, None),), (Demand("row", 6, 0),), 0)
    assert solved(task) == (0, 0, 0)
    assert money_bound(task) == 0


def test_nothing_dearer_than_the_limit_is_searched() -> None:
    task = CuttingTask(1, (Stock("r", 10, 100, None),), (Demand("row", 6, 3),), 0)
    outcome = solve_cutting(task, upper_money_ct=250)
    assert outcome.money_bound_ct is not None
    assert outcome.money_bound_ct > 250
    assert outcome.status is not CuttingStatus.IMPOSSIBLE
    assert solve_cutting(task, upper_money_ct=300).status is CuttingStatus.PROVEN_BEST


def test_without_work_nothing_unproven_is_claimed() -> None:
    sizes = (99, 94, 79, 64, 50, 46, 43, 37, 32, 19, 18, 7, 6, 3)
    outcome = solve_cutting(bins(100, *sizes, *sizes), Limits(work=0.0))
    assert outcome.plan is not None
    assert outcome.money_bound_ct is not None
    assert outcome.money_bound_ct <= outcome.plan.money_ct
    proven = outcome.status is CuttingStatus.PROVEN_BEST
    assert proven == (outcome.money_bound_ct == outcome.plan.money_ct)


@pytest.mark.parametrize(
    ("build", "message"),
    [
        (lambda: Stock("r", 0, 1, None), "length"),
        (lambda: Stock("r", 1, -1, None), "price"),
        (lambda: Stock("r", 1, 5, 1, owned=True), "no price"),
        (lambda: Demand("d", 0, 1), "length"),
        (lambda: CuttingTask(0, (), (), 0), "unit"),
        (lambda: CuttingTask(1, (Stock("r", 1, 1, 1),) * 2, (), 0), "twice"),
        (lambda: Limits(seconds=0), "seconds"),
    ],
)
def test_nonsense_is_refused(build, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        build()


def test_two_usable_offcuts_are_better_than_one_short_one() -> None:
    # Two pieces of 4 in one owned 10 leave 2, wasted; one piece in each of two leave 6 and 6, both usable.
    task = CuttingTask(1, (Stock("old", 10, 0, 2, owned=True),), (Demand("row", 4, 2),), usable_um=3)
    assert solved(task) == (0, 0, 0)

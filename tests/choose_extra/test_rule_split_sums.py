"""What the sums over runs say of a split, against its pieces and fittings counted one by one."""

import random

import pytest
from benchmark_files import benchmark

from optimizer.choose.designs import choice_set
from optimizer.choose.evaluate import Evaluator, RuledOutError
from optimizer.choose.runs import run_table
from optimizer.choose.splits import NOTHING, Parts, Splits, undominated
from optimizer.choose.waterlimits import water_limits
from optimizer.problem.tubing import tube_task


def any_split(splits, draw):
    start, found = 0, []
    while start < splits.places:
        end = draw.randint(start, splits.reach(start))
        found.append(splits.run(start, end))
        start = end + 1
    return tuple(found)


@pytest.mark.parametrize("number", [4, 12, 14, 22, 24, 32])
def test_sums_over_runs_are_those_of_the_whole_split(number):
    """The tap's place differs, so mainlines arrive at ends and in the middle of headers."""
    scenario = benchmark("gardens").garden(number).scenario()
    choices = choice_set(scenario, scenario.beds[0])
    evaluator, draw, checked, bounded = Evaluator(choices), random.Random(number), 0, 0
    designs = list(choices.designs())
    for design in designs[:: max(len(designs) // 12, 1)]:
        try:
            case = evaluator.worked_out(design)
        except RuledOutError:
            continue
        table = run_table(case, water_limits(case), evaluator.judge)
        splits = Splits(
            table,
            lambda units, case=case: evaluator.cutter.cut(tube_task(case, units), 0),
            lambda units, case=case: evaluator.tube_bound(case, units),
        )
        if any(reach < first for first, reach in enumerate(table.last[0])):
            continue
        for _ in range(4):
            split = any_split(splits, draw)
            total = NOTHING
            for run in split:
                total = total.plus(splits.parts(run))
            assert splits.goals_of(total, len(split)) == splits.at_best(split)
            if all(table.may(run) for run in split):
                assert splits.bound(NOTHING, 0, len(split), 0) <= splits.at_best(split)
                bounded += 1
            checked += 1
    assert checked > 8
    assert bounded > 0


def test_only_sums_that_no_other_beats_are_kept_and_merged_ones_bound_them():
    sums = [Parts(5, 1, 9, 3), Parts(5, 1, 9, 4), Parts(4, 1, 10, 3), Parts(6, 1, 9, 3), Parts(6, 0, 12, 3)]
    assert undominated(sums) == (Parts(4, 1, 10, 3), Parts(5, 1, 9, 3), Parts(6, 0, 12, 3))
    many = [Parts(index, 0, 100 - index, 0) for index in range(100)]
    merged = undominated(many)
    assert len(merged) < 100
    for item in many:
        assert any(all(low <= value for low, value in zip(bound, item, strict=True)) for bound in merged)

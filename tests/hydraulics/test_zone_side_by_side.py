"""Candidates of several headers solved in one go against each header by itself; no published source."""

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from test_zone_batch import FLUID, HELD, SOURCES, TAPE, Case

from optimizer.errors import HydraulicError
from optimizer.hydraulics import build_lateral_table
from optimizer.hydraulics.batch import BatchSolution, solve_batch, solve_side_by_side
from optimizer.hydraulics.takeoffs import LateralAt, take_offs

# A grid of heads unlike that of the other tables: what hangs on it cannot be solved in one go with them.
OTHER_GRID = build_lateral_table(TAPE, np.arange(5, 61), [-0.02, 0.0, 0.02], 22.0, FLUID)


def drawn(seed):
    """Return one header with its candidates, all fed by one source."""
    case = Case(seed, (TAPE, HELD)[seed % 2], (0.0, 4e7)[seed % 3 == 0], candidates=1 + seed % 5)
    runs = replace(case.runs, source=np.zeros(case.runs.count, dtype=np.int64))
    if seed % 4 == 0:  # lifted above what any source reaches, so that it cannot be solved
        runs = replace(runs, inlet_z_m=runs.inlet_z_m + np.where(np.arange(runs.count) == 0, 40.0, 0.0))
    offs = case.take_offs()
    if seed % 5 == 0:
        offs = take_offs(case.place, case.z, [[LateralAt(OTHER_GRID, n, s) for n, s in side] for side in case.sides])
    return runs, offs, SOURCES[seed % len(SOURCES)]


def assert_same(one, two):
    for field in fields(BatchSolution):
        left, right = getattr(one, field.name), getattr(two, field.name)
        assert left.shape == right.shape
        if left.dtype == np.bool_:
            assert left.tolist() == right.tolist()
        else:
            np.testing.assert_allclose(left, right, rtol=1e-7, atol=1e-9, equal_nan=True)


@settings(max_examples=25, deadline=None, derandomize=True)
@given(st.lists(st.integers(0, 10**6), min_size=1, max_size=7))
def test_side_by_side_is_one_by_one(seeds):
    groups = [drawn(seed) for seed in seeds]
    together = solve_side_by_side(groups, FLUID)
    assert len(together) == len(groups)
    for (runs, offs, source), found in zip(groups, together, strict=True):
        assert_same(found, solve_batch(runs, offs, (source,), FLUID))


def test_all_that_can_differ_is_among_those_drawn():
    """Two grids, two lines, unsolved candidates and more candidates than one, or the comparison would be hollow."""
    groups = [drawn(seed) for seed in range(60)]
    solved = np.concatenate([solve_batch(runs, offs, (source,), FLUID).solved for runs, offs, source in groups])
    assert 0 < np.count_nonzero(~solved) < solved.size / 3
    assert len({offs.greatest_head for _, offs, _ in groups}) == 2
    assert len({runs.count for runs, _, _ in groups}) == 5


def test_headers_far_apart_or_at_negative_places_keep_theirs():
    """Places are moved so that those of all headers rise; the inlets must move with them."""
    runs, offs, source = drawn(7)
    moved = replace(runs, inlet_position_m=runs.inlet_position_m - 500.0)
    moved_offs = replace(offs, position_m=offs.position_m - 500.0)
    first, _, third = solve_side_by_side([(moved, moved_offs, source), drawn(2), (runs, offs, source)], FLUID)
    assert_same(first, third)
    assert np.all(first.solved)


def test_a_run_beyond_its_header_is_refused_not_read_from_the_next():
    runs, offs, source = drawn(7)
    beyond = replace(runs, last=np.full(runs.count, offs.count))
    with pytest.raises(HydraulicError):
        solve_side_by_side([(beyond, offs, source), (runs, offs, source)], FLUID)

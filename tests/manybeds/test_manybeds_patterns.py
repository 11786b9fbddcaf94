"""Which beds may share headers; expected blocks follow from the stated reaches, 3 m along a line and 1 m beside it."""

from __future__ import annotations

import pytest
from hand_plots import Plain, scenario

from optimizer.choose.manybeds.blocks import kits, patterns

LOW = Plain((0.0, 0.0))


def blocks(*beds: Plain, **kwargs) -> list[list[tuple[int, ...]]]:
    return [[block.beds for block in pattern.blocks] for pattern in patterns(scenario(beds, **kwargs))]


ALONE, TOGETHER = [(0,), (1,)], [(0, 1)]


def test_beds_in_a_line_across_the_rows_share_or_do_not():
    assert blocks(LOW, Plain((0.0, 3.0))) == [ALONE, TOGETHER]


def test_beds_side_by_side_along_the_rows_have_no_header_in_common():
    assert blocks(LOW, Plain((5.0, 0.0))) == [ALONE]


@pytest.mark.parametrize(("gap", "shared"), [(0.0, True), (3.0, True), (3.1, False)])
def test_a_gap_in_the_line_may_be_three_metres(gap, shared):
    assert blocks(LOW, Plain((0.0, 2.0 + gap))) == ([ALONE, TOGETHER] if shared else [ALONE])


@pytest.mark.parametrize(
    ("at", "width", "shared"),
    [
        (1.0, 4.0, True),
        (-1.0, 4.0, True),
        (1.2, 4.0, False),
        (1.2, 2.8, True),  # begins elsewhere and ends at the same place
        (0.0, 2.5, True),  # begins at the same place
        (1.2, 1.5, False),
    ],
)
def test_rows_begin_or_end_within_a_metre(at, width, shared):
    found = blocks(LOW, Plain((at, 3.0), width=width))
    assert found == ([ALONE, TOGETHER] if shared else [ALONE])


def test_raised_beds_have_headers_of_their_own():
    raised = 'raised = "30 cm"'
    assert blocks(LOW, Plain((0.0, 3.0), more=raised)) == [ALONE]
    assert blocks(Plain((0.0, 0.0), more=raised), Plain((0.0, 3.0), more=raised)) == [ALONE]


def test_only_where_headers_may_be_shared():
    assert blocks(LOW, Plain((0.0, 3.0)), limits="share_headers = false") == [ALONE]


def test_beds_of_different_lines_do_not_share():
    lines = (("line", ""), ("other", ""))
    assert blocks(LOW, Plain((0.0, 3.0), more='lines = ["other"]'), lines=lines) == [ALONE]
    both = [Plain((0.0, y), more='lines = ["other"]') for y in (0.0, 3.0)]
    assert blocks(*both, lines=lines) == [ALONE, TOGETHER]


def test_directions_are_compared_as_they_lie_on_the_plan():
    # Across a bed that is 2 m wide and 4 m deep is along x, as along the other.
    turned = Plain((0.0, 3.0), width=2.0, depth=4.0, directions='"across"')
    assert blocks(LOW, turned) == [ALONE, TOGETHER]
    assert blocks(LOW, Plain((0.0, 3.0), width=2.0, depth=4.0)) == [ALONE]


def test_each_common_direction_has_its_own_lines():
    both = '"along", "across"'
    square = [Plain(at, directions=both) for at in ((0.0, 0.0), (0.0, 3.0), (5.0, 0.0))]
    assert blocks(*square) == [[(0,), (1,), (2,)], [(0, 1), (2,)], [(0, 2), (1,)]]


def test_three_in_a_line_share_all_or_nothing_and_who_stands_beside_keeps_out():
    beds = [Plain((0.0, 0.0)), Plain((6.0, 0.0)), Plain((0.0, 6.0)), Plain((0.0, 3.0))]
    assert blocks(*beds) == [[(0,), (1,), (2,), (3,)], [(0, 2, 3), (1,)]]


@pytest.mark.parametrize("between", ['raised = "30 cm"', 'lines = ["other"]'])
def test_no_header_is_shared_past_a_bed_between_that_cannot_share_it(between):
    beds = [LOW, Plain((0.0, 2.2), depth=0.6, more=between), Plain((0.0, 3.0))]
    lines = (("line", ""), ("other", ""))
    assert blocks(*beds, lines=lines) == [[(0,), (1,), (2,)]]


def test_layouts_are_three_places_and_their_pairs():
    one, two = (patterns(scenario([LOW, Plain((5.0, 0.0))], limits=f"headers_at_most = {most}"))[0] for most in (1, 2))
    assert [len(block.layouts) for block in one.blocks] == [3, 3]
    assert [len(block.layouts) for block in two.blocks] == [6, 6]


def test_kits_have_a_line_for_beds_that_allow_the_same_and_no_mainline_thinner_than_headers():
    beds = [LOW, Plain((5.0, 0.0), more='lines = ["b"]'), Plain((10.0, 0.0))]
    tubes, lines = (("thin", 8.0), ("wide", 16.0)), (("a", ""), ("b", ""))
    found = list(kits(scenario(beds, lines=lines, tubes=tubes)))
    assert {kit.lines for kit in found} == {(0, 1, 0), (1, 1, 1)}
    assert [(kit.tube, kit.mains) for kit in found[:4]] == [(0, (0,)), (0, (1,)), (0, (0, 1)), (1, (1,))]
    assert len(found) == 8

"""Sets of combinations: how many there are, which fall out and why, which beds are alike, and what kinds leave."""

from __future__ import annotations

import math
from itertools import product

import pytest
from hand_plots import Plain, scenario

from optimizer.choose.manybeds.alike import alike_choices
from optimizer.choose.manybeds.blocks import Layout
from optimizer.choose.manybeds.kinds import Kind, kinds
from optimizer.choose.manybeds.opened import Open
from optimizer.choose.manybeds.search import GardenSearch
from optimizer.choose.manybeds.whole import Whole
from optimizer.choose.reasons import NOT_ALIKE, RUN_TOO_LONG
from optimizer.choose.search import SearchLimits
from optimizer.feeds import HeaderPlace

APART = [Plain((0.0, 0.0)), Plain((6.0, 0.0))]
IN_LINE = [Plain((0.0, 0.0)), Plain((0.0, 3.0))]
ENDS, MIDDLE = {0, 1}, {2}


def search(*args, **kwargs) -> GardenSearch:
    return GardenSearch(scenario(*args, **kwargs), SearchLimits())


def gone_through(held: GardenSearch, kind: Kind | None = None) -> tuple[Whole, list[Open]]:
    whole = Whole(held.garden, held.bounds, kind)
    return whole, list(whole)


# -------------------------------------------------------------------- all of them


def test_every_pattern_and_kit_has_all_layouts():
    # Three places in each bed: 9, and 3 more where the two share a header; for each of two lines.
    whole, found = gone_through(search(IN_LINE, lines=(("a", ""), ("b", ""))))
    assert whole.combinations == 24
    assert [some.size for some in found] == [9, 9, 3, 3]
    assert [(some.pattern, some.kit) for some in found] == [(0, 0), (0, 1), (1, 0), (1, 1)]


def test_layouts_that_cannot_work_fall_out_with_their_combinations():
    # Rows of 3.8 m hold 3.6 m of line from an end, 1.6 m from the middle; the label allows 2.4 m.
    held = search(IN_LINE, lines=(("line", 'longest_run = "2.4 m"'),))
    whole, found = gone_through(held)
    assert [some.layouts for some in found] == [((2,), (2,)), ((2,),)]
    assert whole.combinations == 12
    assert whole.ruled_out == {RUN_TOO_LONG: (9 - 1) + (3 - 1)}


def test_nothing_is_left_where_one_bed_cannot_work():
    held = search(IN_LINE, lines=(("line", 'longest_run = "1.2 m"'),))
    whole, found = gone_through(held)
    assert found == []
    assert sum(whole.ruled_out.values()) <= whole.combinations == 12


# -------------------------------------------------------------------- beds alike


def alike(beds, **kwargs) -> set[tuple[int, ...]]:
    """Return the layouts of the beds that go together, in sets none of which overlap."""
    held = search(beds, limits="beds_alike = true\nshare_headers = false", **kwargs).garden
    every = Open(0, 0, tuple(tuple(range(len(block.layouts))) for block in held.patterns[0].blocks))
    found = [layouts for some in alike_choices(held, every) for layouts in product(*some.layouts)]
    assert len(found) == len(set(found))
    return set(found)


TIED = {*product(ENDS, ENDS), *product(MIDDLE, MIDDLE)}
FREE = set(product(ENDS | MIDDLE, repeat=2))


def test_beds_of_one_shape_are_fed_at_the_ends_or_in_the_middle():
    assert alike(APART) == TIED


@pytest.mark.parametrize("turned", [30.0, 90.0, 180.0])
def test_a_turned_bed_has_the_same_shape(turned):
    assert alike([APART[0], Plain((9.0, 0.0), more=f'turned = "{turned} deg"')]) == TIED


@pytest.mark.parametrize(
    "other", [Plain((6.0, 0.0), width=4.5), Plain((6.0, 0.0), more='raised = "30 cm"'), Plain((6.0, 0.0), depth=1.9)]
)
def test_a_bed_of_another_shape_is_free(other):
    assert alike([APART[0], other]) == FREE


def test_only_those_of_one_shape_are_tied():
    beds = [*APART, Plain((12.0, 0.0), width=3.0)]
    assert alike(beds) == {(*two, one) for two in TIED for one in ENDS | MIDDLE}


def test_combinations_not_alike_are_counted():
    held = search(APART, limits="beds_alike = true")
    whole, found = gone_through(held)
    assert whole.combinations == 9
    assert sum(some.size for some in found) == 2 * 2 + 1
    assert whole.ruled_out == {NOT_ALIKE: 4}


# -------------------------------------------------------------------- kinds


def test_names_of_kinds():
    held = search(
        [Plain((0.0, 0.0), directions='"along", "across"'), Plain((0.0, 3.0))],
        limits="headers_at_most = 2",
        lines=(("a", ""), ("b", "")),
        tubes=(("thin", 8.0), ("wide", 16.0)),
    )
    assert [kind.name for kind in kinds(held.garden)] == [
        "rows along", "rows across",
        "headers at the row ends", "headers in the middle of the rows", "2 headers in a bed",
        "every bed has headers of its own", "beds in a line share headers, rows along",
        "a", "b",
        "headers of thin", "headers of wide",
        "mainline of thin", "mainline of wide", "mainline of thin and wide",
    ]  # fmt: skip


def sizes(beds, **kwargs) -> dict[str, int]:
    held = search(beds, **kwargs)
    return {kind.name: sum(some.size for some in gone_through(held, kind)[1]) for kind in kinds(held.garden)}


def test_kinds_leave_so_many():
    # Along and across in the first bed, along in the second, which keeps it. Own headers 6 x 3; sharing along 3.
    found = sizes([Plain((0.0, 0.0), directions='"along", "across"'), Plain((0.0, 3.0))])
    assert found["rows along"] == 3 * 3 + 3
    assert found["headers at the row ends"] == 4 * 2 + 2
    assert found["headers in the middle of the rows"] == 2 * 1 + 1
    assert found["every bed has headers of its own"] == 18
    assert found["beds in a line share headers, rows along"] == 3


def test_a_kind_holds_what_it_leaves():
    held = search(IN_LINE)
    middle = next(kind for kind in kinds(held.garden) if "middle" in kind.name)
    for some in gone_through(held)[1]:
        left = middle.of(held.garden, some)
        for block, layouts in enumerate(some.layouts):
            for layout in layouts:
                item = some.only(block, (layout,)).first
                own = all(_between(held, item.pattern, b, each) for b, each in enumerate(item.layouts))
                assert middle.holds(held.garden, item) == own
                assert left is not None
                assert left.holds(item) == own


def _between(held: GardenSearch, pattern: int, block: int, layout: int) -> bool:
    chosen: Layout = held.garden.patterns[pattern].blocks[block].layouts[layout]
    return len(chosen.places) == 1 and not math.isinf(HeaderPlace(chosen.places[0].u).u)

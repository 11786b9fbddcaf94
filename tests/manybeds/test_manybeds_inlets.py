"""Ways of mainline into a bed, by hand: a bed 4 m x 2 m with its first take-off 0.1 m and its last 1.9 m up."""

from __future__ import annotations

import pytest
from hand_plots import Plain, garden

from optimizer.choose.manybeds.inlets import inlets

LEFT, RIGHT, MIDDLE = 0, 1, 2
BED = Plain((0.0, 0.0))


def ways(layout: int, bed: Plain = BED, **kwargs) -> dict[tuple[float, float], tuple[int, int, int]]:
    """Return (vertex, length [mm], rise [mm]) of every way by its place on the edge."""
    held = garden([bed, Plain((20.0, 20.0))], **kwargs)
    case = held.case(0, 0, 0, layout)
    found = {}
    for inlet in inlets(case, 0):
        length, rise = round(inlet.length_um / 1000), round(inlet.rise_um / 1000)
        y = round(case.layout.headers[0].points[inlet.vertex][1], 6)
        found[round(inlet.portal[0], 6), round(inlet.portal[1], 6)] = (y, length, rise)
    return found


def test_at_the_row_ends_past_both_ends_and_from_beside():
    assert ways(LEFT) == {
        (0.1, 0.0): (0.1, 100, 0),
        (0.1, 2.0): (1.9, 100, 0),
        (0.0, 0.1): (0.1, 100, 0),
        (0.0, 1.9): (1.9, 100, 0),
    }


def test_between_rows_only_past_the_ends():
    assert ways(MIDDLE) == {(2.0, 0.0): (0.1, 100, 0), (2.0, 2.0): (1.9, 100, 0)}


def test_a_raised_bed_takes_its_height_more():
    found = ways(LEFT, Plain((0.0, 0.0), more='raised = "30 cm"'))
    assert set(found.values()) == {(0.1, 400, 300), (1.9, 400, 300)}
    assert len(found) == 4


def test_a_long_header_is_also_fed_in_its_middle_and_nearest_the_supply():
    # Seven rows 0.1 to 3.7 m up: the middle one 1.9 m up is 1.8 m from both ends, the one at 1.3 m too near to it.
    deep = Plain((0.0, 0.0), depth=3.8)
    beside = {place: way for place, way in ways(LEFT, deep, tap=(-1.0, 1.3)).items() if place[0] == 0.0}
    assert sorted(y for y, _, _ in beside.values()) == [0.1, 1.9, 3.7]
    # Eleven rows up to 6.1 m: the middle one 3.1 m up; the one at 1.3 m is 1.2 m from the first.
    deeper = Plain((0.0, 0.0), width=7.0, depth=6.2)
    beside = {place: way for place, way in ways(LEFT, deeper, tap=(-1.0, 1.3)).items() if place[0] == 0.0}
    assert sorted(y for y, _, _ in beside.values()) == [0.1, 1.3, 3.1, 6.1]


def test_no_way_through_what_keeps_tube_out():
    pear = '[[obstacles]]\nname = "pear"\ncircle = "0.1 m, 0 m, 0.04 m"\nkeeps_out = "tube"'
    assert set(ways(LEFT, more=pear)) == {(0.1, 2.0), (0.0, 0.1), (0.0, 1.9)}


@pytest.mark.parametrize("layout", [LEFT, RIGHT])
def test_both_ends_of_the_rows_are_alike(layout):
    across = {round(abs(x - (0.0 if layout == LEFT else 4.0)), 6) for x, _ in ways(layout)}
    assert across == {0.0, 0.1}

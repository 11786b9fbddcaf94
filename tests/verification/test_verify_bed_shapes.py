"""What the check calls beds of one shape, and how far it lets mainline climb."""

from __future__ import annotations

import pytest
from bed_gardens import bed, garden, planned
from small_plan import changed

from optimizer.verification import verify
from optimizer.verification.beds import _one_shape
from optimizer.verification.facts import Facts
from optimizer.verification.tubes import climb

FIRST = bed("first", "0 m, 0 m", size="3.6 m x 1.205 m")
# Sides of 3, 2, 3.6056 and 4 m with right angles at the first and the last corner, and the same seen in a mirror.
SLANTED, MIRRORED = (
    f'\n[[beds]]\nname = "{name}"\noutline = {outline}\n'
    '[[beds.crops]]\nname = "bean"\nrow_spacing = "50 cm"\nrows = 1\n'
    for name, outline in (
        ("slanted", '["20 m, 0 m", "23 m, 0 m", "23 m, 2 m", "20 m, 4 m"]'),
        ("mirrored", '["30 m, 0 m", "33 m, 0 m", "33 m, 4 m", "30 m, 2 m"]'),
    )
)
# The slanted bed turned by a right angle, its corners told clockwise from another one.
TURNED = SLANTED.replace("slanted", "turned").replace(
    '["20 m, 0 m", "23 m, 0 m", "23 m, 2 m", "20 m, 4 m"]', '["38 m, 3 m", "40 m, 3 m", "40 m, 0 m", "36 m, 0 m"]'
)

PAIRS: list[tuple[str, str, bool]] = [
    (FIRST, bed("second", "0.3 m, 2.9 m", size="3.6 m x 1.205 m"), True),
    (FIRST, bed("second", "9 m, 3 m", size="1.205 m x 3.6 m"), True),
    (FIRST, bed("second", "9 m, 3 m", size="3.6 m x 1.205 m", more='turned = "30 deg"'), True),
    (FIRST, bed("second", "0 m, 3 m", size="3.6 m x 1.21 m"), False),
    (FIRST, bed("second", "0 m, 3 m", size="3.6 m x 1.205 m", more='raised = "10 cm"'), False),
    (FIRST, bed("second", "0 m, 3 m", size="3.6 m x 1.205 m", more='row_end_margin = "20 cm"'), False),
    (FIRST, bed("second", "0 m, 3 m", size="3.6 m x 1.205 m", more='edge_margin = "20 cm"'), False),
    (FIRST, SLANTED, False),
    (SLANTED, TURNED, True),
    (SLANTED, MIRRORED, False),
]


@pytest.mark.parametrize(("one", "two", "same"), PAIRS)
def test_beds_have_one_shape_where_sides_turns_height_and_margins_agree(one: str, two: str, same: bool):
    first, second = garden(one, two).beds
    assert _one_shape(first, second) is same
    assert _one_shape(second, first) is same


def test_mainline_climbs_out_of_a_raised_bed_and_into_the_next():
    beds = (bed(name, at, more='raised = "30 cm"') for name, at in (("south", "0 m, 0 m"), ("north", "0 m, 3 m")))
    scenario = garden(*beds)
    plan = planned(scenario)
    facts, (south, north) = Facts(plan, scenario), plan.headers
    ends = {part.points[-1]: part for part in plan.mainline}
    assert climb(facts, ends[south.inlet_at]) == 0.3
    # From one bed down to the ground and up again; from the ground to the ground not at all.
    over = changed(ends[north.inlet_at], "", points=(south.inlet_at, north.inlet_at))
    assert climb(facts, over) == pytest.approx(0.6)
    assert climb(facts, plan.mainline[0]) == 0.0
    assert not verify(plan, scenario).of_rule("mainline lengths")

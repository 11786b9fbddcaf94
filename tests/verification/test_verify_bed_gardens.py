"""Plans of small gardens of several beds, each with another feature, hold; and they do have the feature."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from bed_gardens import (
    ALONE,
    COARSE,
    COARSE_LINE,
    EAST,
    LINE,
    NORTH,
    PATH,
    SITE,
    SOUTH,
    TUBE,
    WIDE,
    WIDE_TUBE,
    bed,
    garden,
    planned,
)

from optimizer.plan import Plan
from optimizer.scenario import Scenario
from optimizer.verification import verify

RAISED = tuple(bed(name, at, more='raised = "30 cm"') for name, at in (("south", "0 m, 0 m"), ("north", "0 m, 3 m")))

BY_LINE = tuple(
    bed(name, at, more=f'lines = ["{line}"]')
    for name, at, line in (
        ("south", "0 m, 0 m", LINE),
        ("north", "0 m, 3 m", COARSE),
        ("south east", "6 m, 0 m", LINE),
        ("north east", "6 m, 3 m", COARSE),
    )
)

# Behind a wall the beds lie on both sides, so that the tubes of both zones branch at the end of the wall.
WALL = '\n[[barriers]]\nname = "wall"\nline = "-2 m, -6 m to -2 m, 1 m"\n'
BEHIND = tuple(
    bed(name, at, more=f'lines = ["{line}"]')
    for name, at, line in (
        ("far south", "0 m, -9 m", LINE),
        ("south", "0 m, -6 m", COARSE),
        ("north", "0 m, 6 m", COARSE),
        ("far north", "0 m, 9 m", LINE),
    )
)

# Its eastern edge gains 3.5 m along the rows for each metre across them, more than lines lie beside their row.
ASLANT = """
[[beds]]
name = "aslant"
outline = ["0 m, 5 m", "12 m, 5 m", "5 m, 7 m", "0 m, 7 m"]
directions = ["0 deg"]
edge_margin = "0.3 m"
[[beds.crops]]
name = "bean"
row_spacing = "60 cm"
rows = 3
lines_per_row = 2
line_spacing = "40 cm"
"""

Feature = Callable[[Plan], bool]


def _valve_places(plan: Plan) -> set[tuple[float, float]]:
    return {valve.at for valve in plan.valves}


GARDENS: dict[str, tuple[Scenario, Feature]] = {
    "raised beds": (
        garden(SITE, *RAISED),
        lambda plan: all(bed.raised_m == 0.3 for bed in plan.beds),
    ),
    "mainline crosses a path": (
        garden(PATH, SITE, SOUTH, NORTH, limits="share_headers = false"),
        lambda plan: any(part.crossings for part in plan.mainline),
    ),
    "a header crosses a path": (
        garden(PATH, SITE, SOUTH, NORTH),
        lambda plan: any(header.crossings for header in plan.headers),
    ),
    "shared headers": (
        garden(SOUTH, NORTH),
        lambda plan: [header.beds for header in plan.headers] == [("south", "north")],
    ),
    "two tube sizes": (
        garden(WIDE_TUBE, SOUTH, NORTH, EAST, emitter="16 L/h", limits='velocity = "0.9 m/s"\nshare_headers = false'),
        lambda plan: {part.tube for part in plan.mainline} == {TUBE, WIDE},
    ),
    "a valve for each bed": (
        garden(SOUTH, NORTH, limits="valve_per_bed = true\nshare_headers = false"),
        lambda plan: len(plan.zones) == 1 and len(plan.valves) == 2,
    ),
    "beds alike": (
        garden(SOUTH, NORTH, limits="beds_alike = true"),
        lambda plan: len({lateral.length_um for lateral in plan.laterals}) == 1,
    ),
    "valves at the tap": (
        garden(ALONE, NORTH, limits='valves = "at the tap"'),
        lambda plan: len(plan.zones) == 2 and _valve_places(plan) == {(-1.0, -1.0)},
    ),
    "valves in the field": (
        garden(ALONE, NORTH, limits='valves = "in the field"'),
        lambda plan: len(plan.zones) == 2 and (-1.0, -1.0) not in _valve_places(plan),
    ),
    "zones of two beds each on a tube of its own": (
        garden(COARSE_LINE, *BY_LINE, limits='valves = "at the tap"\nshare_headers = false'),
        lambda plan: [zone.product for zone in plan.zones] == [LINE, COARSE] and len(plan.mainline) == 6,
    ),
    "two tubes that branch at one place": (
        garden(COARSE_LINE, WALL, *BEHIND, at="-3 m, -1 m", limits='valves = "at the tap"\nshare_headers = false'),
        lambda plan: [part.points[0] for part in plan.mainline].count((-2.0, 1.0)) == 4,
    ),
    "lines that end at a slanted edge": (
        garden(SOUTH, ASLANT),
        lambda plan: any(row.lines == 2 for row in plan.rows),
    ),
    "a barrier": (
        garden(SOUTH, NORTH, '\n[[barriers]]\nname = "wall"\nline = "-3 m, 2.5 m to 2 m, 2.5 m"\n'),
        lambda plan: all(at[0] > 2.0 for header in plan.headers for at in header.points),
    ),
    "supply in a bed": (
        garden(SOUTH, NORTH, at="2 m, 1 m"),
        lambda plan: plan.mainline[0].points[0] == (2.0, 1.0),
    ),
}


@pytest.mark.parametrize("name", GARDENS)
def test_a_garden_of_several_beds_holds(name: str):
    scenario, feature = GARDENS[name]
    plan = planned(scenario)
    assert feature(plan)
    assert verify(plan, scenario).findings == ()

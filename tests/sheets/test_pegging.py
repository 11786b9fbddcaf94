"""Places on the ground by two tapes, held against right triangles and against the plan's own coordinates."""

from __future__ import annotations

import dataclasses
import math
import re

import pytest
from drawing_plans import PLANS
from lists_plans import allotment, backyard

from optimizer.plan import BedMap, TakeOff
from optimizer.sheets.install import install_steps
from optimizer.sheets.markout import marks
from optimizer.sheets.pegging import corner_table, peg_table, tube_note, two_corners
from optimizer.sheets.shopping import shopping_tables, total_text

SQUARE = BedMap("Frame", ((0.0, 0.0), (4.0, 0.0), (4.0, 3.0), (0.0, 3.0)), 0.0, 0.0, "along", ())


def test_corners_are_told_from_the_tap_by_a_right_triangle() -> None:
    # The tap stands 3 m left of and 4 m below corner 1: 5 m straight.
    plan = allotment()
    plan = dataclasses.replace(plan, site=dataclasses.replace(plan.site, source_at=(-3.0, -4.0)))
    row = corner_table(plan, SQUARE).rows[0]
    assert row == ("1", "3.00 m right, 4.00 m up", "5.00 m", "16 ft 5 in")


def test_tapes_do_not_meet_flat() -> None:
    # From the middle of side 1 to 2 its own two corners lie in one line and mark nothing.
    assert two_corners(SQUARE, (2.0, 0.0)) not in ((0, 1),)
    for place in ((0.0, 1.5), (2.0, 1.5), (0.1, 2.9), (4.0, 3.0), (5.0, 1.0)):
        a, b = (SQUARE.outline[index] for index in two_corners(SQUARE, place))
        angle = math.atan2(a[1] - place[1], a[0] - place[0]) - math.atan2(b[1] - place[1], b[0] - place[0])
        assert abs(math.sin(angle)) >= 0.35


@pytest.mark.parametrize("make", PLANS.values(), ids=PLANS)
def test_tapes_and_directions_lead_to_the_place_on_the_plan(make) -> None:
    plan = make()
    if plan.unit_system != "metric":
        plan = dataclasses.replace(plan, unit_system="metric")
    for header in plan.headers:
        bed = next(bed for bed in plan.beds if bed.name in header.beds)
        rows = {row[0]: row for row in peg_table(plan, header).rows}
        for name, place in (("zero of the header", header.points[0]), ("end of the header", header.points[-1])):
            for metres, corner in re.findall(r"([\d.]+) m from corner (\d+)", rows[name][1]):
                there = bed.outline[int(corner) - 1]
                assert float(metres) == pytest.approx(math.hypot(there[0] - place[0], there[1] - place[1]), abs=0.006)
            across, along = re.findall(r"([\d.]+) m", rows[name][2])
            source = plan.site.source_at
            assert float(across) == pytest.approx(abs(place[0] - source[0]), abs=0.006)
            assert float(along) == pytest.approx(abs(place[1] - source[1]), abs=0.006)


def test_tube_that_is_longer_than_its_pegs_overhangs() -> None:
    # Legs of 3 m and 4 m: 5 m straight, 7 m along, so that 7.10 m of tube leave 0.10 m over.
    plan = backyard()
    header = dataclasses.replace(plan.headers[0], points=((0.0, 0.0), (3.0, 0.0), (3.0, 4.0)), length_um=7_100_000)
    note = tube_note(dataclasses.replace(plan, unit_system="metric"), header)
    assert "zero and end of the header are 5.00 m apart, straight. Along its corners they are 7.00 m apart." in note
    assert note.endswith("The tube is 0.10 m longer than that: let it overhang at the far end.")
    exact = tube_note(plan, dataclasses.replace(header, length_um=7_000_000))
    assert "longer" not in exact


def inlet_told(distances_um, inlet_um: int) -> str:
    plan = backyard()
    row = plan.headers[0].take_offs[0]
    take_offs = tuple(TakeOff(distance, row.at, row.row_id, ()) for distance in distances_um)
    header = dataclasses.replace(plan.headers[0], take_offs=take_offs, inlet_um=inlet_um, length_um=5_000_000)
    return next(mark.what for mark in marks(plan, header) if mark.kind == "inlet")


def test_an_inlet_never_shares_its_place_with_a_take_off() -> None:
    places = (100_000, 2_000_000, 4_900_000)
    assert inlet_told(places, 100_000) == (
        "inlet: the inlet is the tube's zero end; push the mainline's elbow on that end; no hole"
    )
    assert inlet_told(places, 4_900_000) == (
        "inlet: the inlet is the tube's far end; push the mainline's elbow on that end; no hole"
    )
    assert inlet_told(places, 2_000_000).endswith("tee for the mainline, close beside the take-off")
    assert inlet_told(places, 3_000_000) == "inlet: cut here, tee for the mainline"


def test_mainline_steps_say_from_where_to_where() -> None:
    steps = " ".join(install_steps(allotment()))
    assert "Lay mainline M1 from the head parts to the inlet of header" in steps


def test_take_offs_name_both_tubes_and_what_has_no_price_is_named() -> None:
    plan = allotment()
    take_off = dataclasses.replace(plan.bill[0], item="take-off", fits="dripline 16 mm", unit_price_ct=0, cost_ct=0)
    plan = dataclasses.replace(plan, bill=(take_off,))
    assert shopping_tables(plan)[0].rows[0][0] == f"take-off (dripline 16 mm, on {plan.headers[0].tube})"
    assert total_text(plan).endswith("No price was given for: take-off; add it if you must buy it.")

"""The mark-out list is compared with the plan's geometry, measured by shapely."""

from __future__ import annotations

import csv
import dataclasses
import io
import re

import pytest
from lists_plans import PLANS, allotment, backyard
from shapely.geometry import LineString, Point

from optimizer.plan import BedMap, Crossing, Cut, Header, Plan, RollCuts, Stretch
from optimizer.sheets.markout import (
    header_table,
    mark_out_csv,
    mark_out_tables,
    mark_out_text,
    marks,
)
from optimizer.sheets.rowmeasures import bed_table, bypass_side, row_gaps, rows_table, starts_um, stops_um


def read(plan: Plan) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(mark_out_csv(plan), newline="")))


@pytest.fixture(params=sorted(PLANS))
def plan(request: pytest.FixtureRequest) -> Plan:
    return PLANS[request.param]()


def half_inches(text: str) -> int:
    """Read feet and inches back as half inches (1 ft = 12 in)."""
    match = re.fullmatch(r"(?:(\d+) ft)? ?(?:(\d+) )??(?:(1/2) in|(\d+) in)?", text)
    assert match is not None, text
    feet, before_half, half, inches = match.groups()
    return int(feet or 0) * 24 + int(before_half or inches or 0) * 2 + (half is not None)


def test_distances_match_the_geometry_to_a_millimetre(plan: Plan) -> None:
    headers = {header.id: LineString(header.points) for header in plan.headers}
    take_offs = [row for row in read(plan) if row["kind"] == "take-off"]
    for row in take_offs:
        along = headers[row["header"]].project(Point(float(row["x_m"]), float(row["y_m"])))
        assert int(row["distance_um"]) / 1e6 == pytest.approx(along, abs=1e-3)
    assert sorted(row["lateral"] for row in take_offs) == sorted(lateral.id for lateral in plan.laterals)


def test_distances_run_on_from_one_zero(plan: Plan) -> None:
    rows = read(plan)
    for header in plan.headers:
        run = [int(row["distance_um"]) for row in rows if row["header"] == header.id]
        assert run == sorted(run)
        assert (run[0], run[-1]) == (0, header.length_um)


def test_readable_columns_are_within_half_a_step(plan: Plan) -> None:
    for row in read(plan):
        exact = int(row["distance_um"])
        assert abs(float(row["distance_metric"].removesuffix(" m")) * 1e6 - exact) <= 5_000 + 1
        # 1 in = 25.4 mm exactly (international yard and pound agreement, 1959).
        assert abs(half_inches(row["distance_us"]) * 12_700 - exact) <= 6_350 + 1


def test_rows_start_and_stop_where_the_lateral_does(plan: Plan) -> None:
    laterals = {lateral.id: lateral for lateral in plan.laterals}
    for row in read(plan):
        if row["kind"] != "take-off":
            continue
        lateral = laterals[row["lateral"]]
        first, last = Point(lateral.stretches[0].points[0]), Point(lateral.stretches[-1].points[-1])
        at = Point(lateral.take_off_at)
        assert int(row["row_starts_um"]) == pytest.approx(at.distance(first) * 1e6, abs=1_000)
        assert int(row["row_stops_um"]) == pytest.approx(at.distance(last) * 1e6, abs=1_000)


def test_no_decimals_of_a_foot_anywhere(plan: Plan) -> None:
    text = mark_out_text(plan) + mark_out_csv(plan)
    assert re.search(r"\d\.\d+ ?(ft|in)\b", text) is None
    assert max(map(len, mark_out_text(plan).splitlines())) <= 80


def test_both_unit_systems_stand_side_by_side(plan: Plan) -> None:
    own, other = ("metric", "us") if plan.unit_system == "metric" else ("us", "metric")
    for header in plan.headers:
        listed = [row for row in read(plan) if row["header"] == header.id]
        shown = [row[:2] for row in header_table(plan, header).rows]
        assert shown == [(row[f"distance_{own}"], row[f"distance_{other}"]) for row in listed]


def test_detour_around_the_tree_is_told_by_hand_measures() -> None:
    # The header runs at x = 0.4; tube is blank from x = 2.8 (8 spacings of 0.3 m) to x = 4.4.
    table = next(table for table in mark_out_tables(allotment()) if "Rows on" in table.caption)
    assert [row[-1] for row in table.rows if row[0] in ("R4", "R5")] == [
        "-",
        "2.40 m to 4.00 m, round on the left, 0.50 m out",
    ]


def test_side_of_a_bypass_by_hand() -> None:
    # Looking east north is left, looking west it is right.
    east = Stretch("P", "bypass", ((1.0, 0.0), (1.0, 0.4), (2.0, 0.4), (2.0, 0.0)), 1_800_000, 0)
    assert bypass_side(east) == ("left", pytest.approx(0.4))
    assert bypass_side(dataclasses.replace(east, points=east.points[::-1])) == ("right", pytest.approx(0.4))
    assert bypass_side(dataclasses.replace(east, points=((1.0, 0.0), (2.0, 0.0)))) == ("", 0.0)


def test_distance_to_the_row_before_by_hand() -> None:
    # Rows 4 ft apart; the last one is moved by 1 ft.
    plan = backyard()
    assert row_gaps(plan, plan.headers[0]) == (
        "Distance to the row before, the same all along the row: R2 to R3 4 ft.",
    )
    third = plan.rows[2]
    moved = dataclasses.replace(
        third, start=(third.start[0], third.start[1] + 0.3048), end=(third.end[0], third.end[1] + 0.3048)
    )
    plan = dataclasses.replace(plan, rows=(*plan.rows[:2], moved))
    assert row_gaps(plan, plan.headers[0])[0].endswith("R2 4 ft; R3 5 ft.")


def test_lines_that_measure_alike_share_a_row() -> None:
    plan = backyard()
    table = rows_table(plan, plan.headers[0])
    assert [row[0] for row in table.rows] == ["R1 line 1, 2", "R2 line 1, 2", "R3 line 1, 2"]
    assert table.rows[0][1:] == ("right", "0 in", "0.00 m", "20 ft", "6.10 m")
    shorter = dataclasses.replace(plan.laterals[0].stretches[0], points=(plan.laterals[0].take_off_at, (3.0, 0.762)))
    first = dataclasses.replace(plan.laterals[0], stretches=(shorter,))
    table = rows_table(dataclasses.replace(plan, laterals=(first, *plan.laterals[1:])), plan.headers[0])
    assert [row[0] for row in table.rows][:2] == ["R1 line 1", "R1 line 2"]


def test_diagonals_of_a_bed_by_the_theorem_of_pythagoras() -> None:
    # Sides 3 m and 4 m: the diagonal is 5 m.
    bed = BedMap("Frame", ((0.0, 0.0), (4.0, 0.0), (4.0, 3.0), (0.0, 3.0)), 0.2, 0.0, "across", ())
    rows = {row[0]: row[1] for row in bed_table(allotment(), bed).rows}
    assert rows["diagonal 1 to 3"] == rows["diagonal 2 to 4"] == "5.00 m"
    assert rows["side 4 to 1"] == "3.00 m"


def bent_header() -> tuple[Plan, Header]:
    """An L of 3 m and 4 m fed 2 m from its zero, of two tube lengths of 5 m and 2 m."""
    plan = backyard()
    header = dataclasses.replace(
        plan.headers[0],
        points=((0.0, 0.0), (3.0, 0.0), (3.0, 4.0)),
        length_um=7_000_000,
        piece_ids=("Q1",),
        inlet_um=2_000_000,
        inlet_at=(2.0, 0.0),
        take_offs=(),
        crossings=(Crossing("path", (3.0, 1.5)),),
    )
    cuts = (Cut("Q1", 1, 2, 5_000_000, 5_000_000), Cut("Q1", 2, 2, 2_000_000, 7_000_000))
    roll = RollCuts("B1", header.tube, "roll", False, 7_000_000, 1, cuts, 0, False)
    return dataclasses.replace(plan, rolls=(roll,)), header


def test_corner_joint_and_inlet_have_their_marks() -> None:
    plan, header = bent_header()
    found = [(mark.kind, mark.distance_um) for mark in marks(plan, header)]
    assert found == [
        ("zero", 0),
        ("inlet", 2_000_000),
        ("corner", 3_000_000),
        ("crossing", 4_500_000),
        ("joint", 5_000_000),
        ("end", 7_000_000),
    ]
    assert next(mark.what for mark in marks(plan, header) if mark.kind == "corner") == "corner: 90 degrees left"


def test_pieces_that_meet_at_the_inlet_need_no_coupler() -> None:
    # Pieces are cut a little long: the first one ends 8 mm beyond the tee.
    plan, header = bent_header()
    header = dataclasses.replace(header, piece_ids=("Q1", "Q2"))
    cuts = (Cut("Q1", 1, 1, 2_008_000, 2_008_000), Cut("Q2", 1, 1, 4_992_000, 7_000_000))
    roll = dataclasses.replace(plan.rolls[0], cuts=cuts)
    kinds = [mark.kind for mark in marks(dataclasses.replace(plan, rolls=(roll,)), header)]
    assert kinds == ["zero", "inlet", "corner", "crossing", "end"]


def test_a_lateral_that_begins_away_from_the_header() -> None:
    lateral = backyard().laterals[0]
    x, y = lateral.take_off_at
    stretch = dataclasses.replace(lateral.stretches[0], points=((x + 0.5, y), (x + 6.5, y)))
    moved = dataclasses.replace(lateral, stretches=(stretch,))
    assert (starts_um(moved), stops_um(moved)) == (500_000, 6_500_000)

"""Drawings, lists and summary of gardens of many beds: readable, short, and nothing left out."""

from __future__ import annotations

import io
import re
from dataclasses import replace
from pathlib import Path

import lists_plans
import pytest
from drawing_checks import outside, overlaps, rectangles, svg_points, texts_of, words
from drawing_plans import allotment, backyard, framed_beds, many_beds
from matplotlib.figure import Figure
from rich.console import Console
from shapely.geometry import Polygon

from optimizer.commands.summary import print_summary
from optimizer.plan import Alternative, Plan
from optimizer.sheets.blocks import Block, Table
from optimizer.sheets.drawing_bed_keys import mainline_texts, rows_by_bed
from optimizer.sheets.drawing_places import row_shut_offs
from optimizer.sheets.drawing_plan import draw_plan
from optimizer.sheets.drawing_rows import group_rows
from optimizer.sheets.install import install_blocks, install_steps
from optimizer.sheets.lists import shut_offs_text
from optimizer.sheets.markout import mark_out_tables, mark_out_text
from optimizer.sheets.paper import A3, A4, Paper, save_drawing
from optimizer.sheets.pegging import peg_table
from optimizer.sheets.rowmeasures import rows_table
from optimizer.sheets.shopping import shopping_list_text
from optimizer.sheets.spans import headers_text, name_span, rows_text
from optimizer.sheets.testsheet import zone_blocks
from optimizer.sheets.watertree import laterals_outwards
from optimizer.sheets.why import assumed_items
from optimizer.units import Display, System

METRIC = Display(System.METRIC)

# ---------------------------------------------------------------- words


def test_names_that_differ_in_a_number_are_written_shortly() -> None:
    assert name_span(["bed 1", "bed 4", "bed 9", "bed 10", "bed 11"]) == "bed 1, 4, 9 to 11"
    assert name_span(["bed 1", "bed 2", "Herbs", "bed 3"]) == "bed 1, 2, Herbs, bed 3"
    assert name_span(["Plot 2.5", "Plot 2.6", "bed 07"]) == "Plot 2.5, Plot 2.6, bed 07"


def test_rows_are_told_by_bed_only_where_all_of_the_bed_is_meant() -> None:
    plan = many_beds(3, 2)
    ids = [row.id for row in plan.rows]
    assert rows_text(plan, ids) == "bed 1 to 6"
    assert rows_text(plan, ids[:-1]) == "bed 1 to 5, B6R1-B6R3"
    assert rows_text(allotment(), ["R1", "R2", "R4"]) == "R1-R2, R4"


def test_headers_are_told_by_bed() -> None:
    plan = many_beds(3, 2)
    headers = plan.headers
    assert headers_text(plan, headers) == ["H1-H6 in bed 1 to 6"]
    assert headers_text(plan, [*headers[:2], *headers[3:]]) == ["H1-H2 in bed 1, 2", "H4-H6 in bed 4 to 6"]
    assert headers_text(plan, [replace(headers[0], beds=("bed 1", "bed 2", "bed 3"))]) == ["H1 in bed 1 to 3"]


def test_mainline_is_told_from_branch_to_branch() -> None:
    plan = many_beds(3, 2)
    trunk, line, stub = plan.mainline[0], plan.mainline[2], plan.mainline[3]
    assert stub.points[-1] == plan.headers[0].inlet_at
    told = mainline_texts(plan, [stub.id])
    assert len(told) == 1
    assert told[0].startswith(f"{line.id} > ")
    assert f"{stub.id} (H1)" in told[0]
    assert mainline_texts(plan, [trunk.id]) == [f"{plan.site.source_kind} > {trunk.id}"]


# ---------------------------------------------------------------- drawing


def ids_in(text: str, stem: str) -> set[str]:
    """Ids of one kind in a text, with spans such as H3-H7 filled."""
    found = set(re.findall(rf"\b{stem}\d+\b", text))
    for low, high in re.findall(rf"\b{stem}(\d+)-{stem}(\d+)\b", text):
        found |= {f"{stem}{k}" for k in range(int(low), int(high) + 1)}
    return found


def renamed(plan: Plan, stem: str) -> Plan:
    """The same garden with names that are no numbers, and rows that all differ."""
    ends = [a + b for a in "abcdefgh" for b in "vwxyz"]
    names = {bed.name: f"{stem} {end}" for bed, end in zip(plan.beds, ends, strict=False)}
    return replace(
        plan,
        beds=tuple(replace(bed, name=names[bed.name]) for bed in plan.beds),
        rows=tuple(replace(row, bed=names[row.bed], crop=f"crop {k % 37}") for k, row in enumerate(plan.rows)),
        headers=tuple(replace(header, beds=tuple(names[bed] for bed in header.beds)) for header in plan.headers),
    )


def test_beds_without_numbers_are_told_by_key_and_named_once() -> None:
    plan = renamed(many_beds(), "Herbs")
    figure = draw_plan(plan, A4)
    assert overlaps(figure) == []
    assert outside(figure) == []
    text = words(figure).replace("\n", " ")
    assert "B1-B15" in text
    for number, bed in enumerate(plan.beds, start=1):
        assert f"B{number} {bed.name}" in text or f"B{number} is {bed.name}" in text


def test_names_too_long_for_the_page_are_referred_to() -> None:
    plan = renamed(many_beds(), "Along the wall behind the old compost heap")
    figure = draw_plan(plan, A4)
    assert overlaps(figure) == []
    assert "see the table of rows in the field book" in words(figure).replace("\n", " ")
    assert all(re.search(rf"\bB{number}, [AB]\b", words(figure)) for number in range(1, 31))


@pytest.mark.parametrize("paper", [A4, A3], ids=lambda paper: paper.name)
def test_thirty_beds_are_readable_and_all_is_named(paper: Paper, tmp_path: Path) -> None:
    plan = many_beds()
    figure = draw_plan(plan, paper)
    assert overlaps(figure) == []
    assert outside(figure) == []
    assert min(text.get_fontsize() for text in texts_of(figure)) >= 10.0
    text = words(figure)
    assert ids_in(text, "H") >= {header.id for header in plan.headers}
    assert ids_in(text, "M") >= {part.id for part in plan.mainline}
    save_drawing(figure, tmp_path / "plan.svg")
    check_names_lie_by_their_beds(plan, figure, tmp_path / "plan.svg")


def check_names_lie_by_their_beds(plan: Plan, figure: Figure, path: Path) -> None:
    """Every bed has a name, with the letter of its zone, that is nearer to it than to any other bed."""
    height = float(figure.get_size_inches()[1]) * 25.4
    beds = {bed.name: Polygon([(x, y + height) for x, y in svg_points(path, f"bed-{bed.name.replace(' ', '-')}")])
            for bed in plan.beds}  # fmt: skip
    places = rectangles(figure)
    for number, bed in enumerate(plan.beds, start=1):
        zone = next(zone.id for zone in plan.zones if any(row.bed == bed.name and row.id in zone.row_ids
                                                          for row in plan.rows))  # fmt: skip
        pattern = rf"({re.escape(bed.name)}|B{number}), (zone )?{zone}"
        found = [place for text, place in places if re.fullmatch(pattern, text)]
        assert found, bed.name
        away = {name: area.distance(found[0]) for name, area in beds.items()}
        assert min(away, key=away.__getitem__) == bed.name
        assert away[bed.name] < 3.0


def test_beds_with_room_beside_them_all_carry_their_names_there(tmp_path: Path) -> None:
    plan = many_beds(3, 2)
    figure = draw_plan(plan, A3)
    save_drawing(figure, tmp_path / "plan.svg")
    check_names_lie_by_their_beds(plan, figure, tmp_path / "plan.svg")


def test_alike_beds_share_a_line_of_the_key() -> None:
    plan = many_beds(6, 2)
    entries = rows_by_bed(plan, group_rows(plan, METRIC, by_length=True))
    texts = [entry.text.replace("\u00a0", " ") for entry in entries]
    # Beds 1 to 6 are zone B and 7 to 12 zone A; a bed is like the third one after it.
    assert texts[0] == "bed 1, 4: R1-R3 tomato, each 3.63 m, B"
    assert texts[3] == "bed 7, 10: R1-R3 tomato, each 3.63 m, A"
    assert len(texts) == 6


def test_the_valve_of_an_only_zone_is_drawn_and_explained() -> None:
    text = words(draw_plan(backyard(), A4))
    assert "valve A" in text
    assert "zone valve" in text
    assert "zone valve" not in words(draw_plan(replace(backyard(), valves=()), A4))


# ---------------------------------------------------------------- row shut-offs


def with_shut_offs(plan: Plan) -> Plan:
    headers = tuple(
        replace(header, take_offs=tuple(replace(take, shut_offs=True) for take in header.take_offs))
        for header in plan.headers
    )
    return replace(plan, headers=headers)


def test_row_shut_offs_are_drawn_and_told() -> None:
    plan = with_shut_offs(allotment())
    assert {place.name for place in row_shut_offs(plan)} == {lateral.id for lateral in plan.laterals}
    assert "row shut-off" in words(draw_plan(plan, A4))
    assert "zone A: R1-R7; zone B: R8-R11" in shut_offs_text(plan)
    assert row_shut_offs(allotment()) == []
    assert shut_offs_text(allotment()) == ""


def test_row_shut_offs_stand_on_the_sheets() -> None:
    plan = with_shut_offs(lists_plans.backyard())
    assert "take-off with shut-off" in " ".join(mark_out_text(plan).split())
    assert "opened and closed by hand" in " ".join(install_steps(plan))
    assert "opened and closed by hand" in " ".join(shopping_list_text(plan).split())
    assert any("Open the shut-offs of" in str(block) for block in zone_blocks(plan, plan.zones[0]))
    plain = lists_plans.backyard()
    assert not any("shut-off" in str(block) for block in zone_blocks(plain, plain.zones[0]))


# ---------------------------------------------------------------- summary


def summary(plan: Plan) -> str:
    out = io.StringIO()
    print_summary(Console(file=out, highlight=False), plan, Path("garden"))
    return out.getvalue()


def test_summary_of_thirty_beds_is_short_and_true() -> None:
    plan = many_beds()
    text = summary(plan)
    assert len(text.splitlines()) < 40
    assert max(map(len, text.splitlines())) <= 80
    assert re.search(r"^B +bed 1 to 15 ", text, re.MULTILINE)
    assert re.search(r"^bed 1, 4, 7, .*: 3 rows", text.replace("\n  ", " "), re.MULTILINE)


def test_summary_names_layouts_of_several_beds_by_what_differs() -> None:
    places = ("at the far row ends", "at the near row ends")
    item = Alternative(
        "best found headers at the row ends", "along", places, "tape", "tube", 2, 1, 1, 1.0, 1.0, 100, 0, 0, 1,
        0.1, "", True, "costs 1.00 EUR more",
    )  # fmt: skip
    several = summary(replace(many_beds(3, 2), alternatives=(item,)))
    assert "headers at the" in several
    assert "far row ends" not in several
    assert "near row ends" in " ".join(summary(replace(allotment(), alternatives=(item,))).split())


def test_shared_header_is_told_once_in_the_summary() -> None:
    plan = many_beds(3, 1)
    shared = replace(plan.headers[0], beds=("bed 1", "bed 2", "bed 3"))
    place = "at the near row ends, shared with bed 2 and bed 3"
    plan = replace(plan, headers=(shared,), beds=tuple(replace(bed, header_places=(place,)) for bed in plan.beds))
    text = summary(plan)
    assert "header at the near row ends: bed 1 to 3" in text
    assert "header H1 shared by bed 1 to 3" in text
    assert "shared with" not in text


# ---------------------------------------------------------------- lists


def test_alike_beds_share_a_table_of_sides() -> None:
    captions = [table.caption for table in mark_out_tables(many_beds())]
    assert sum("sides and diagonals" in caption for caption in captions) == 1
    assert any(caption.startswith("bed 1 to 30: sides and diagonals") for caption in captions)
    corners = next(table for table in mark_out_tables(many_beds()) if table.caption.startswith("Where the corners"))
    assert len(corners.rows) == 30 * 4
    assert corners.rows[4][0] == "bed 2"


def test_alike_rows_of_several_beds_share_a_line() -> None:
    plan = many_beds(3, 1)
    assert [row[0] for row in rows_table(plan, plan.headers[0]).rows] == ["B1R1-B1R3"]
    one = allotment()
    assert len(rows_table(one, one.headers[1]).rows) == 4


def test_pegs_of_a_shared_header_are_taped_from_the_bed_they_lie_in() -> None:
    plan = many_beds(2, 1)
    first, second = plan.headers
    points = (first.points[0], second.points[-1])
    shared = replace(first, beds=("bed 1", "bed 2"), points=points)
    laterals = tuple(replace(lateral, header_id=shared.id) for lateral in plan.laterals)
    table = peg_table(replace(plan, headers=(shared,), laterals=laterals), shared)
    tapes = {row[0]: row[1] for row in table.rows}
    assert tapes["zero of the header"].endswith("of bed 1")
    assert tapes["end of the header"].endswith("of bed 2")
    assert any(name.startswith("B1R3") for name in tapes)
    assert any(name.startswith("B2R4") for name in tapes)


def table_rows(blocks: tuple[Block, ...], caption: str) -> list[str]:
    tables = [block for block in blocks if isinstance(block, Table) and block.caption.startswith(caption)]
    return [row[0] for table in tables for row in table.rows]


def test_many_tubes_stand_in_tables_and_few_in_steps(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("optimizer.sheets.install.flush_table", lambda plan, zone: None)
    plan = many_beds()
    blocks = install_blocks(plan)
    assert table_rows(blocks, "Mainline, in the order") == [part.id for part in plan.mainline]
    assert table_rows(blocks, "Headers") == [header.id for header in plan.headers]
    assert len(install_steps(plan)) < 16
    few = framed_beds()
    steps = " ".join(install_steps(few))
    assert all(f"Lay header {header.id} " in steps for header in few.headers)


def test_laterals_outwards_count_the_mainline_too() -> None:
    plan = lists_plans.backyard()
    zone = plan.zones[0]
    assert sorted(laterals_outwards(zone)) == sorted(zone.lateral_ids)
    network = zone.network
    # Lengthen whatever tube leads to the first lateral's first emitter: it must come last then.
    first = laterals_outwards(zone)[0]
    node = network.emitter_node[network.emitter_lateral.index(first)]
    tube = network.tube_to.index(node)
    longer = tuple(length + 1000.0 * (k == tube) for k, length in enumerate(network.tube_length_m))
    far = replace(zone, network=replace(network, tube_length_m=longer))
    assert laterals_outwards(far)[-1] == first


def test_the_same_assumption_of_several_beds_is_told_once() -> None:
    texts = (*(f"bed {k}: row ends 0.15 m off" for k in (1, 2, 3)), "supply: half", "bed 2: heavy soil")
    plan = replace(many_beds(3, 1), assumptions=texts)
    assert assumed_items(plan) == ("bed 1 to 3: row ends 0.15 m off", "supply: half", "bed 2: heavy soil")

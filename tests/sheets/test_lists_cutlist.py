"""The cut list is read back and compared with the plan's own integers."""

from __future__ import annotations

import csv
import dataclasses
import io
import re

import pytest
from lists_plans import PLANS, allotment, backyard

from optimizer.errors import VerificationError
from optimizer.plan import Cut, Plan, RollCuts
from optimizer.sheets.cutlist import CSV_HEADER, cut_lines, cut_list_csv, cut_list_tables, cut_list_text, labels

# RFC 4180 section 2, rules 1-7: CRLF records, quoted where comma, quote or line break, quotes doubled.
_FIELD = r'(?:"(?:[^"]|"")*"|[^",\r\n]*)'
_RECORD = re.compile(rf"{_FIELD}(?:,{_FIELD})*\r\n")


def read(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text, newline="")))


@pytest.fixture(params=sorted(PLANS))
def plan(request: pytest.FixtureRequest) -> Plan:
    return PLANS[request.param]()


def test_every_roll_is_used_up_to_the_micrometre(plan: Plan) -> None:
    rows = read(cut_list_csv(plan))
    for roll in plan.rolls:
        mine = [row for row in rows if row["roll"] == roll.id]
        assert sum(int(row["length_um"]) for row in mine) == roll.length_um
        run = 0
        for row in mine:
            run += int(row["length_um"])
            assert int(row["mark_um"]) == run
            if row["kind"] == "cut":
                assert int(row["left_on_roll_um"]) == roll.length_um - run


def test_every_piece_is_cut_once_in_its_length_and_product(plan: Plan) -> None:
    rows = [row for row in read(cut_list_csv(plan)) if row["kind"] == "cut"]
    for piece in plan.pieces:
        mine = [row for row in rows if row["piece"] == piece.id]
        assert sum(int(row["length_um"]) for row in mine) == piece.length_um
        assert {row["product"] for row in mine} == {piece.product}
        assert [int(row["part"]) for row in mine] == list(range(1, len(mine) + 1))
    assert len(rows) == len(plan.pieces)


def test_pieces_of_laterals_name_their_lateral(plan: Plan) -> None:
    lateral_of = {row["piece"]: row["lateral"] for row in read(cut_list_csv(plan))}
    for lateral in plan.laterals:
        for stretch in lateral.stretches:
            assert lateral_of[stretch.piece_id] == lateral.id


def test_offcuts_are_named_and_kept_or_called_waste(plan: Plan) -> None:
    offcuts = {row["roll"]: row for row in read(cut_list_csv(plan)) if row["kind"] != "cut"}
    for roll in plan.rolls:
        assert (roll.id in offcuts) == (roll.leftover_um > 0)
        if roll.leftover_um:
            row = offcuts[roll.id]
            assert int(row["length_um"]) == roll.leftover_um
            assert (row["kind"], row["piece"]) == ("keep" if roll.leftover_usable else "waste", f"OFF-{roll.id}")


def test_csv_follows_rfc_4180(plan: Plan) -> None:
    text = cut_list_csv(plan)
    assert "".join(_RECORD.findall(text)) == text
    assert {len(row) for row in csv.reader(io.StringIO(text, newline=""))} == {len(CSV_HEADER)}


def test_text_fits_the_page_and_has_a_box_for_every_cut(plan: Plan) -> None:
    text = cut_list_text(plan)
    assert max(map(len, text.splitlines())) <= 80
    assert text.count("[ ]") == sum(len(roll.cuts) for roll in plan.rolls)
    assert text.isascii()


def test_text_and_csv_show_the_same_lengths(plan: Plan) -> None:
    system = plan.unit_system
    shown = [row[1:4] for table in cut_list_tables(plan) for row in table.rows]
    listed = [
        tuple(row[f"{name}_{system}"] for name in ("length", "mark", "left"))
        for row in read(cut_list_csv(plan))
        if row["kind"] == "cut"
    ]
    assert shown == listed


def test_hand_read_line_of_the_us_garden() -> None:
    # 20 rows of 20 ft out of 100 ft: the third cut ends at 60 ft and leaves 40 ft.
    row = read(cut_list_csv(backyard()))[2]
    assert (row["length_us"], row["mark_us"], row["left_us"]) == ("20 ft", "60 ft", "40 ft")
    assert (row["length_um"], row["mark_um"]) == ("6096000", "18288000")


def joined_plan() -> Plan:
    """One lateral of two lengths out of two rolls."""
    plan = allotment()
    piece = plan.pieces[0]
    first, second = 3_000_000, piece.length_um - 3_000_000
    rolls = (
        RollCuts("X1", piece.product, "roll", False, first, 1, (Cut(piece.id, 1, 2, first, first),), 0, False),
        RollCuts("X2", piece.product, "roll", False, second + 5, 1, (Cut(piece.id, 2, 2, second, second),), 5, False),
    )
    return dataclasses.replace(plan, pieces=(piece,), rolls=rolls)


def test_joined_pieces_say_so_on_both_rolls_and_tags() -> None:
    text = cut_list_text(joined_plan())
    assert text.count("join them in order with 1 coupler") == 2
    assert "P1 (1 of 2)" in text
    assert "P1 (2 of 2)" in text
    assert [tag.big for tag in labels(joined_plan())] == ["P1 (1 of 2) 3.00 m", "P1 (2 of 2) 5.70 m"]


def test_tags_carry_piece_length_and_row(plan: Plan) -> None:
    listed = [row for table in cut_list_tables(plan) for row in table.rows]
    tags = [tag for tag in labels(plan) if not tag.big.startswith("OFF-")]
    assert [(tag.big, tag.small) for tag in tags] == [(f"{row[0]} {row[1]}", row[-1]) for row in listed]
    assert labels(backyard())[0].big == "P1 20 ft"
    plan = allotment()
    kept = sum(roll.leftover_usable for roll in plan.rolls)
    assert len(labels(plan)) == len(plan.pieces) + kept
    assert labels(plan)[0].big == "P1 8.70 m"
    assert labels(plan)[0].small == "row R1, right of HA"


def test_emitters_stand_beside_every_cut_of_emitter_line() -> None:
    # 8.70 m of line with an emitter every 0.30 m carry 29; the two lengths of a joined piece share them 10 to 19.
    assert cut_list_tables(allotment())[0].rows[0][4] == "29"
    assert [table.rows[0][4] for table in cut_list_tables(joined_plan())] == ["10", "19"]
    blank = next(table for table in cut_list_tables(allotment()) if "blank tube" in table.caption)
    assert "Emitters" not in [column.title for column in blank.columns]
    assert "counted from the trimmed end" in " ".join(cut_list_text(allotment()).split())


@pytest.mark.parametrize(("field", "value"), [("leftover_um", 1), ("length_um", 1)], ids=["leftover", "length"])
def test_a_roll_that_does_not_add_up_is_refused(field: str, value: int) -> None:
    plan = allotment()
    bad = dataclasses.replace(plan.rolls[0], **{field: value})
    with pytest.raises(VerificationError, match="roll T1"):
        cut_lines(dataclasses.replace(plan, rolls=(bad,)), bad)


def test_a_wrong_mark_and_an_unknown_piece_are_refused() -> None:
    plan = allotment()
    roll = plan.rolls[0]
    wrong = dataclasses.replace(roll, cuts=(dataclasses.replace(roll.cuts[0], mark_um=1),))
    with pytest.raises(VerificationError, match="mark of P1"):
        cut_lines(plan, wrong)
    stranger = dataclasses.replace(roll, cuts=(dataclasses.replace(roll.cuts[0], piece_id="P99"),))
    with pytest.raises(VerificationError, match="no piece 'P99'"):
        cut_lines(plan, stranger)

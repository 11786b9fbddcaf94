"""The shopping list is read back and compared with the plan's bill."""

from __future__ import annotations

import csv
import dataclasses
import io

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from lists_plans import PLANS, allotment, backyard

from optimizer.plan import Plan
from optimizer.sheets.blocks import Column, Table
from optimizer.sheets.shopping import CSV_HEADER, shopping_list_csv, shopping_list_text, shopping_tables, total_text
from optimizer.sheets.textual import csv_text, table_text


@pytest.fixture(params=sorted(PLANS))
def plan(request: pytest.FixtureRequest) -> Plan:
    return PLANS[request.param]()


def read(plan: Plan) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(shopping_list_csv(plan), newline="")))


def test_every_line_of_the_bill_is_there_once(plan: Plan) -> None:
    listed = sorted((row["shelf"], row["item"], int(row["needed"]), int(row["spare"])) for row in read(plan))
    assert listed == sorted((line.shelf, line.item, line.quantity, line.spare) for line in plan.bill)


def test_costs_add_up_to_the_plan(plan: Plan) -> None:
    rows = read(plan)
    assert sum(int(row["cost_ct"]) for row in rows) == plan.goal("money")
    for row in rows:
        assert int(row["to_buy"]) == int(row["needed"]) - int(row["already_have"])
        assert int(row["to_buy"]) * int(row["unit_price_ct"]) == int(row["cost_ct"])


def test_total_by_hand() -> None:
    # Five double rows of 20 ft: 2 rolls of 38.90, one of 21.00; 10 take-offs of 0.85; 6 sleeves of 0.30 beside 4
    # at hand; 2 valves of 24.50; 40 stakes of 0.12: 77.80 + 21.00 + 8.50 + 1.80 + 49.00 + 4.80 = 162.90.
    assert total_text(backyard()) == "Total to buy, without spares: 162.90 $."


def test_whole_rolls_are_bought(plan: Plan) -> None:
    bought = {row["item"]: int(row["needed"]) for row in read(plan) if row["shelf"] == "tube"}
    for product in sorted({roll.product for roll in plan.rolls}):
        assert bought[product] == sum(roll.product == product for roll in plan.rolls)


def test_shelves_stand_together_in_shop_order(plan: Plan) -> None:
    shelves = [row["shelf"] for row in read(plan)]
    assert list(dict.fromkeys(shelves)) == ["tube", "take-offs", "ends", "valves", "head parts", "stakes and plugs"]
    assert shelves == sorted(shelves, key=list(dict.fromkeys(shelves)).index)


def test_spares_stand_apart_and_sizes_are_said() -> None:
    rows = {row[0]: row for table in shopping_tables(backyard()) for row in table.rows}
    cells = next(cells for name, cells in rows.items() if name.startswith("take-off with lock"))
    assert cells[:2] == ("take-off with lock (1/2 in blank tube)", "hole 4 mm")
    assert cells[2:] == ("12 (10 + 2 spare)", "", "0.85", "8.50")


def test_what_the_bill_cannot_know_is_said() -> None:
    text = " ".join(shopping_list_text(backyard()).split())
    assert "the adapter from the thread of the last head part (regulator 15 psi) to 1/2 in blank tube." in text
    assert "Check every thread between the head parts" in text
    assert "A timer at the tap only starts the water" in text
    assert "A timer at the tap" not in shopping_list_text(allotment())


def test_fittings_between_two_tubes_name_both_sizes() -> None:
    plan = backyard()
    take_off = next(line for line in plan.bill if line.shelf == "take-offs")
    tube = next(line for line in plan.bill if line.item == plan.headers[0].tube)
    bill = (
        dataclasses.replace(take_off, item="take-off", size="outside 16.0 mm - measure yours"),
        dataclasses.replace(tube, size="outside 20.0 mm - measure yours"),
    )
    rows = [row for table in shopping_tables(dataclasses.replace(plan, bill=bill)) for row in table.rows]
    assert rows[1][1] == "outside 16.0 mm; other side outside 20.0 mm - measure yours"


def test_text_fits_the_page(plan: Plan) -> None:
    text = shopping_list_text(plan)
    assert max(map(len, text.splitlines())) <= 80
    assert "hole punch" in text


_CELLS = st.lists(st.text(min_size=0, max_size=40), min_size=3, max_size=3)


@settings(derandomize=True, deadline=None, max_examples=60)
@given(st.lists(_CELLS, max_size=4))
def test_any_text_comes_back_out_of_csv(rows: list[list[str]]) -> None:
    # The csv reader of the standard library is the referee; bare CR and LF inside quotes must survive too.
    text = csv_text(("a", "b", "c"), rows)
    assert list(csv.reader(io.StringIO(text, newline=""))) == [["a", "b", "c"], *rows]


@settings(derandomize=True, deadline=None, max_examples=60)
@given(st.lists(_CELLS, max_size=4), st.booleans())
def test_any_table_keeps_to_80_columns_and_loses_no_letter(rows: list[list[str]], ticks: bool) -> None:
    columns = (Column("first"), Column("second", right=True), Column("third"))
    lines = table_text(Table("caption", columns, tuple(map(tuple, rows)), ticks)).split("\n")
    assert max(map(len, lines)) <= 80
    rule = next(number for number, line in enumerate(lines) if line and set(line) <= {"-", " "})
    printed = "".join("".join(line.split()) for line in lines[rule + 1 :])
    cells = "".join("".join(cell.split()) for row in rows for cell in row) + "[]" * len(rows) * ticks
    assert sorted(printed) == sorted(cells)


def test_a_row_that_does_not_fill_the_columns_is_refused() -> None:
    with pytest.raises(ValueError, match="a row of 1 for 2 columns"):
        Table("t", (Column("a"), Column("b")), (("x",),))
    with pytest.raises(ValueError, match=f"a row of 1 cells for {len(CSV_HEADER)} columns"):
        csv_text(CSV_HEADER, [("x",)])

"""The field book as PDF: laid-out marks are measured, and the file is read back with pypdf."""

from __future__ import annotations

import io
import itertools

import pytest
from lists_plans import PLANS, allotment, backyard
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties
from matplotlib.textpath import TextPath
from pypdf import PdfReader

from optimizer.plan import Plan
from optimizer.sheets.blocks import Column, Picture, Sketch, Table
from optimizer.sheets.cutlist import cut_list_tables, labels
from optimizer.sheets.fieldbook import book_pdf, field_book
from optimizer.sheets.fieldbook.marks import Frame, Inset, Rule, Strip, Word
from optimizer.sheets.fieldbook.measure import FAMILY, text_width, wrap
from optimizer.sheets.fieldbook.press import SIDE_MM, Sheet, lay_out, paginate
from optimizer.sheets.fieldbook.strips import strips
from optimizer.sheets.markout import mark_out_tables
from optimizer.sheets.paper import A4, LETTER, Paper
from optimizer.sheets.shopping import shopping_tables

MM = 25.4 / 72.0


@pytest.fixture(scope="module", params=sorted(PLANS))
def plan(request: pytest.FixtureRequest) -> Plan:
    return PLANS[request.param]()


def words(sheet: Sheet) -> list[Word]:
    return [ink for ink in sheet.inks if isinstance(ink, Word)]


def box(word: Word) -> tuple[float, float, float, float]:
    """Left, top, right, bottom; letters rise 0.76 and hang 0.24 of the type size in this family [mm]."""
    size = word.size_pt * MM
    width = text_width(word.text, word.size_pt, bold=word.bold)
    return word.x, word.y - 0.76 * size, word.x + width, word.y + 0.24 * size


@pytest.mark.parametrize("paper", [A4, LETTER], ids=["A4", "Letter"])
def test_nothing_is_cut_off_or_printed_over(plan: Plan, paper: Paper) -> None:
    for sheet in lay_out(field_book(plan), paper):
        boxes = sorted((box(word), word.text) for word in words(sheet))
        for (left, top, right, bottom), text in boxes:
            assert left >= SIDE_MM - 0.01, text
            assert right <= paper.width_mm - SIDE_MM + 0.5, text
            assert top >= 10.0, text
            assert bottom <= paper.height_mm - 6.0, text
        for (a, text), (b, other) in itertools.combinations(boxes, 2):
            if b[0] >= a[2] - 0.2:
                continue
            assert b[1] >= a[3] - 0.05 or a[1] >= b[3] - 0.05, (text, other)


def test_text_is_ten_points_or_larger(plan: Plan) -> None:
    assert min(word.size_pt for sheet in lay_out(field_book(plan)) for word in words(sheet)) >= 10.0


def test_boxes_to_tick_are_large_and_apart_from_the_text(plan: Plan) -> None:
    frames = 0
    for sheet in lay_out(field_book(plan)):
        for frame in (ink for ink in sheet.inks if isinstance(ink, Frame) and not ink.dashed):
            frames += 1
            assert min(frame.width, frame.height) >= 4.5
            inside = [
                word.text
                for word in words(sheet)
                if frame.x - 0.5 < word.x < frame.x + frame.width and frame.y < word.y < frame.y + frame.height
            ]
            assert inside == []
    assert frames >= len(plan.pieces) + len(plan.laterals)


def test_every_cell_of_the_lists_is_printed(plan: Plan) -> None:
    printed = " ".join(word.text for sheet in lay_out(field_book(plan)) for word in words(sheet))
    for table in (*cut_list_tables(plan), *mark_out_tables(plan), *shopping_tables(plan)):
        for row in table.rows:
            for cell in row:
                for part in cell.split():
                    assert part in printed
    for tag in labels(plan):
        assert tag.big in printed


@pytest.mark.parametrize(("paper", "width", "height"), [(A4, 595.3, 841.9), (LETTER, 612.0, 792.0)])
def test_file_has_pages_of_the_paper_and_text_that_can_be_searched(paper: Paper, width: float, height: float) -> None:
    # ISO 216 A4 is 210 x 297 mm, US Letter 8.5 x 11 in; a point is 1/72 in.
    plan = allotment()
    reader = PdfReader(io.BytesIO(book_pdf(field_book(plan), paper)))
    for page in reader.pages:
        assert float(page.mediabox.width) == pytest.approx(width, abs=0.1)
        assert float(page.mediabox.height) == pytest.approx(height, abs=0.1)
    text = " ".join(" ".join(page.extract_text() for page in reader.pages).split())
    for roll in plan.rolls:
        for cut in roll.cuts:
            assert cut.piece_id in text
    assert "the <slanted> one & its $5 tree" in text
    assert reader.metadata is not None
    assert reader.metadata.title == f"{plan.title}: field book"


def test_contents_name_the_page_each_sheet_begins_on() -> None:
    sheets = lay_out(field_book(backyard()), LETTER)
    cover = words(sheets[0])
    for chapter in field_book(backyard()).chapters:
        line = next(word for word in cover if word.text == chapter.title)
        number = next(int(word.text) for word in cover if word.y == line.y and word.text.isdigit())
        assert words(sheets[number - 1])[0].text == chapter.title
        assert words(sheets[number - 2])[0].text != chapter.title


def test_same_plan_gives_the_same_bytes() -> None:
    assert book_pdf(field_book(backyard()), LETTER) == book_pdf(field_book(backyard()), LETTER)


def test_drawings_take_pages_of_their_own_size() -> None:
    figure = Figure(figsize=(11.0, 8.5))
    last = Figure(figsize=(8.5, 11.0))
    pictures = {"plan": (Picture("Plan", "An empty sheet on its side.", figure),), "why": (Picture("W", "W", last),)}
    book = field_book(backyard(), pictures)
    sheets = lay_out(book, LETTER)
    assert [sheet.figure for sheet in sheets].count(figure) == 1
    assert sheets[-1].figure is last
    assert sheets[-2].chapter == "Why this plan"
    sizes = [tuple(map(float, page.mediabox[2:])) for page in PdfReader(io.BytesIO(book_pdf(book, LETTER))).pages]
    assert sizes.count((792.0, 612.0)) == 1
    assert sizes[1] == (792.0, 612.0)


@pytest.mark.parametrize("text", ["R12, line 2, left of HA", "14.40 m", "WAVE To AVATAR", "12 ft 7 1/2 in"])
@pytest.mark.parametrize("bold", [False, True])
def test_measured_width_is_that_of_the_drawn_letters(text: str, bold: bool) -> None:
    # Referee: the outline of the same text in the same font, drawn by another part of matplotlib (with kerning).
    font = FontProperties(family=FAMILY, weight="bold" if bold else "normal")
    drawn = TextPath((0, 0), text, size=100, prop=font).get_extents().width / 100 * 10.0 * MM
    measured = text_width(text, 10.0, bold=bold)
    assert drawn - 0.3 <= measured <= drawn * 1.12 + 0.6


def test_lines_break_between_words_and_only_long_words_inside() -> None:
    assert wrap("one two three", 20.0, 10.5) == ("one two", "three")
    room = text_width("mmmmm", 10.5) + 0.01
    assert wrap("mmmmmmmmmmmm", room, 10.5) == ("mmmmm", "mmmmm", "mm")
    assert wrap("", room, 10.5) == ("",)


def test_long_table_repeats_its_head_on_every_page() -> None:
    table = Table("Many", (Column("Name"),), tuple((f"row {number}",) for number in range(90)))
    pages = paginate(strips(table, 180.0), 250.0)
    assert len(pages) == 3
    for page in pages:
        texts = [ink.text for _, strip in page for ink in strip.inks if isinstance(ink, Word)]
        assert texts[:2] == ["Many", "Name"]
    rows = [ink.text for page in pages for _, strip in page for ink in strip.inks if isinstance(ink, Word)]
    assert [text for text in rows if text.startswith("row")] == [f"row {number}" for number in range(90)]


def test_short_table_stays_together_and_headings_stay_with_their_text() -> None:
    table = Table("Few", (Column("Name"),), tuple((f"row {number}",) for number in range(10)))
    pages = paginate([Strip(200.0, (Word(0, 5, "filler"),)), *strips(table, 180.0)], 250.0)
    assert [len(page) for page in pages] == [1, 13]
    pages = paginate([Strip(60.0), Strip(30.0), Strip(6.0, with_next=True), Strip(10.0)], 100.0)
    assert [len(page) for page in pages] == [2, 2]


def test_what_is_too_long_to_stay_together_is_broken_but_not_left_alone() -> None:
    chain = [Strip(30.0, with_next=True) for _ in range(9)]
    assert [len(page) for page in paginate([Strip(20.0), *chain, Strip(1.0)], 100.0)] == [1, 3, 3, 4]


def test_sketch_is_printed_at_its_true_size() -> None:
    sheet = next(sheet for sheet in lay_out(field_book(allotment())) if any(isinstance(i, Inset) for i in sheet.inks))
    inset = next(ink for ink in sheet.inks if isinstance(ink, Inset))
    assert isinstance(inset.sketch, Sketch)
    assert inset.x + inset.sketch.width_mm <= A4.width_mm - SIDE_MM
    below = min(word.y for word in words(sheet) if word.y > inset.y)
    assert below >= inset.y + inset.sketch.height_mm


def test_rules_stay_on_the_page(plan: Plan) -> None:
    for sheet in lay_out(field_book(plan)):
        for rule in (ink for ink in sheet.inks if isinstance(ink, Rule)):
            assert min(rule.x0, rule.x1) >= SIDE_MM - 0.01
            assert max(rule.x0, rule.x1) <= A4.width_mm - SIDE_MM + 0.01
            assert max(rule.y0, rule.y1) <= A4.height_mm - 10.0

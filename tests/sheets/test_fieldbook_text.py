"""The field book as plain text holds every word of the other forms within 80 columns."""

from __future__ import annotations

import pytest
from lists_plans import PLANS, allotment

from optimizer.sheets.blocks import Bullets, Fill, Heading, Labels, Paragraph, Steps, Table
from optimizer.sheets.cutlist import cut_list_tables
from optimizer.sheets.fieldbook import book_text, field_book
from optimizer.sheets.textual import chapter_text, table_text


@pytest.mark.parametrize("name", sorted(PLANS))
def test_text_fits_and_holds_every_word(name: str) -> None:
    book = field_book(PLANS[name]())
    text = book_text(book)
    assert max(map(len, text.splitlines())) <= 80
    solid = "".join(text.split())
    for chapter in book.chapters:
        for block in chapter.blocks:
            for word in _words(block):
                assert "".join(word.split())[:8] in solid


def _words(block: object) -> list[str]:
    match block:
        case Paragraph(text=text) | Heading(text=text):
            return text.split()
        case Bullets(items=items) | Steps(items=items) | Fill(prompts=items):
            return [word for item in items for word in item.split()]
        case Labels(items=tags):
            return [word for tag in tags for word in tag.big.split()]
        case Table():
            return [word for row in block.rows for cell in row for word in cell.split()]
    return []


def test_captions_of_pictures_are_left_out() -> None:
    text = " ".join(book_text(field_book(allotment())).split())
    assert "From the zero upwards" not in text
    assert "Head assembly" in text


def test_tables_stand_in_the_book_as_in_the_list() -> None:
    plan = allotment()
    chapter = next(chapter for chapter in field_book(plan).chapters if chapter.id == "cutting")
    text = chapter_text(chapter)
    for table in cut_list_tables(plan):
        assert table_text(table) in text

"""The written sheets as files."""

from __future__ import annotations

from lists_plans import allotment

from optimizer.sheets.bundle import book_files, list_files
from optimizer.sheets.cutlist import cut_list_csv
from optimizer.sheets.paper import LETTER


def test_lists_come_as_csv_and_text() -> None:
    files = list_files(allotment())
    assert sorted(files) == sorted(
        f"{name}.{kind}" for name in ("cut-list", "mark-out", "shopping") for kind in ("csv", "txt")
    )
    assert files["cut-list.csv"].decode() == cut_list_csv(allotment())
    assert files["cut-list.csv"].count(b"\r\n") == files["cut-list.csv"].count(b"\n")
    assert b"\r" not in files["cut-list.txt"]


def test_book_comes_in_three_forms_of_the_same_words() -> None:
    files = book_files(allotment(), LETTER)
    assert files["field-book.pdf"].startswith(b"%PDF-")
    assert files["field-book.html"].startswith(b"<!DOCTYPE html>")
    for name in ("field-book.html", "field-book.txt"):
        assert b"Cut all 15 pieces" in files[name]

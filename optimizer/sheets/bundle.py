"""All written sheets of a plan as files, by name."""

from __future__ import annotations

from optimizer.plan import Plan
from optimizer.sheets.cutlist import cut_list_csv, cut_list_text
from optimizer.sheets.fieldbook import book_html, book_pdf, book_text, field_book, plan_pictures
from optimizer.sheets.markout import mark_out_csv, mark_out_text
from optimizer.sheets.paper import A4, Paper
from optimizer.sheets.schedule import ScheduleCard
from optimizer.sheets.shopping import shopping_list_csv, shopping_list_text

_LISTS = {
    "cut-list.csv": cut_list_csv,
    "cut-list.txt": cut_list_text,
    "mark-out.csv": mark_out_csv,
    "mark-out.txt": mark_out_text,
    "shopping.csv": shopping_list_csv,
    "shopping.txt": shopping_list_text,
}


def list_files(plan: Plan) -> dict[str, bytes]:
    """Return cut list, mark-out list and shopping list, each as CSV and as text.

    Returns:
        Contents (UTF-8) under file names.

    Raises:
        VerificationError: lengths or ids of the plan contradict each other.
    """
    return {name: write(plan).encode() for name, write in _LISTS.items()}


def book_files(plan: Plan, paper: Paper = A4, schedule: ScheduleCard | None = None) -> dict[str, bytes]:
    """Return the field book with the plan's drawing as web page, PDF and text.

    Args:
        plan: the plan.
        paper: what the PDF is printed on.
        schedule: watering times, if they were worked out.

    Returns:
        Contents under file names.

    Raises:
        VerificationError: lengths, ids or the network of the plan contradict each other.
        DripLayoutError: the paper is too small for the drawing.
    """
    book = field_book(plan, plan_pictures(plan, paper), schedule)
    return {
        "field-book.html": book_html(book).encode(),
        "field-book.pdf": book_pdf(book, paper),
        "field-book.txt": book_text(book).encode(),
    }

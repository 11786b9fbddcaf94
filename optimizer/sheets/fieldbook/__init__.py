"""The field book: every sheet of a plan in one file, as a web page that opens offline and as PDF."""

from optimizer.sheets.fieldbook.chapters import field_book
from optimizer.sheets.fieldbook.page import book_html
from optimizer.sheets.fieldbook.pictures import plan_pictures
from optimizer.sheets.fieldbook.press import book_pdf
from optimizer.sheets.textual import book_text

__all__ = ["book_html", "book_pdf", "book_text", "field_book", "plan_pictures"]

"""The field book as one web page: no script, nothing loaded from anywhere, readable on a phone and in print."""

from __future__ import annotations

from functools import cache
from importlib.resources import files

from jinja2 import Environment, StrictUndefined
from markupsafe import Markup

from optimizer.sheets.blocks import Book, Picture, Sketch
from optimizer.sheets.fieldbook.vector import block_svg


def _resource(name: str) -> str:
    return files("optimizer.sheets.fieldbook").joinpath(name).read_text(encoding="utf-8")


def _kind(block: object) -> str:
    return type(block).__name__.lower()


@cache
def _environment() -> Environment:
    environment = Environment(autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True)
    environment.filters["kind"] = _kind
    return environment


def _drawings(book: Book) -> dict[int, Markup]:
    """Return the svg elements under the identity of their blocks."""
    found = [block for chapter in book.chapters for block in chapter.blocks if isinstance(block, Picture | Sketch)]
    return {id(block): Markup(block_svg(block, f"d{number}")) for number, block in enumerate(found, start=1)}


def book_html(book: Book, language: str = "en") -> str:
    """Write a field book as one self-contained web page.

    Args:
        book: from `field_book`.
        language: of the book's words, for screen readers.

    Returns:
        The page's text.
    """
    template = _environment().from_string(_resource("book.html.j2"))
    drawings = _drawings(book)
    return template.render(
        book=book,
        language=language,
        style=Markup(_resource("book.css")),
        drawing=lambda block: drawings[id(block)],
    )

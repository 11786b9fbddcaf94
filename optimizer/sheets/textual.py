"""Blocks as plain text of at most 80 columns, and rows as CSV (RFC 4180)."""

from __future__ import annotations

import csv
import io
import textwrap
from collections.abc import Iterable, Sequence

from optimizer.sheets.blocks import (
    Block,
    Book,
    Bullets,
    Chapter,
    Fill,
    Heading,
    Labels,
    Paragraph,
    Picture,
    Sketch,
    Steps,
    Table,
)

WIDTH = 80
_GAP = "  "
_BOX = "[ ]"


def csv_text(header: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    """Write rows as CSV: comma, CRLF, quotes only where needed.

    Args:
        header: names of the columns.
        rows: cells in the same order.

    Returns:
        The file's text.

    Raises:
        ValueError: a row does not have one cell for each column.
    """
    buffer = io.StringIO()
    writer = csv.writer(buffer, lineterminator="\r\n")
    writer.writerow(header)
    for row in rows:
        if len(row) != len(header):
            raise ValueError(f"a row of {len(row)} cells for {len(header)} columns")
        writer.writerow(row)
    return buffer.getvalue()


def share_width(natural: Sequence[float], least: Sequence[float], total: float, step: float = 1.0) -> list[float]:
    """Narrow the widest columns until a table fits.

    Args:
        natural: width of every column if nothing is wrapped [any].
        least: width below which words break [same].
        total: width there is for all columns [same].
        step: how finely to narrow [same].

    Returns:
        The widths; the sum stays above `total` only if even the least widths do.
    """
    widths = list(natural)
    while sum(widths) > total + 1e-9:
        shrinkable = [index for index, width in enumerate(widths) if width - least[index] > 1e-9]
        if not shrinkable:
            break
        widest = max(shrinkable, key=lambda index: (widths[index], -index))
        widths[widest] = max(widths[widest] - step, least[widest])
    return widths


def _wrap(text: str, width: int) -> list[str]:
    return textwrap.wrap(" ".join(text.split()), width, break_on_hyphens=False) or [""]


def _columns(table: Table) -> list[list[str]]:
    boxes = [["", *([_BOX] * len(table.rows))]] if table.ticks else []
    texts = [[column.title, *(row[index] for row in table.rows)] for index, column in enumerate(table.columns)]
    return [*boxes, *texts]


def _widths(columns: list[list[str]], ticks: bool) -> list[int]:
    natural = [max(1, *map(len, cells)) for cells in columns]
    least = [max((len(word) for cell in cells for word in cell.split()), default=1) for cells in columns]
    least[:1] = natural[:1] if ticks else least[:1]
    room = WIDTH - len(_GAP) * (len(columns) - 1)
    widths = share_width(natural, least, room)
    # Only a single word longer than its share of the page is broken.
    return [int(width) for width in share_width(widths, [3.0] * len(columns), room)]


def _lines(cells: Sequence[str], widths: Sequence[int], right: Sequence[bool]) -> list[str]:
    wrapped = [_wrap(cell, width) if cell != _BOX else [cell] for cell, width in zip(cells, widths, strict=True)]
    lines = []
    for number in range(max(map(len, wrapped))):
        parts = [part[number] if number < len(part) else "" for part in wrapped]
        set_parts = [
            part.rjust(width) if at_right else part.ljust(width)
            for part, width, at_right in zip(parts, widths, right, strict=True)
        ]
        lines.append(_GAP.join(set_parts).rstrip())
    return lines


def table_text(table: Table) -> str:
    """Write a table as text of at most 80 columns.

    Returns:
        Caption, column titles, a rule, the rows and the notes.
    """
    columns = _columns(table)
    widths = _widths(columns, table.ticks)
    right = [False] * table.ticks + [column.right for column in table.columns]
    head = _lines([cells[0] for cells in columns], widths, right)
    body = [
        line
        for number in range(1, len(table.rows) + 1)
        for line in _lines([cells[number] for cells in columns], widths, right)
    ]
    rule = _GAP.join("-" * width for width in widths)
    return "\n".join([*_wrap(table.caption, WIDTH), *head, rule, *body, *paragraphs(table.notes)]) + "\n"


def paragraphs(texts: Iterable[str]) -> list[str]:
    """Wrap every text to 80 columns."""
    return [line for text in texts for line in _wrap(text, WIDTH)]


def bullets(items: Iterable[str], mark: str = "-") -> list[str]:
    """Wrap points to 80 columns, each behind its mark."""
    indent = " " * (len(mark) + 1)
    return [
        line
        for item in items
        for line in textwrap.wrap(
            item, WIDTH, initial_indent=f"{mark} ", subsequent_indent=indent, break_on_hyphens=False
        )
    ]


def title_text(title: str) -> str:
    """Write a title with a rule under it."""
    lines = _wrap(title, WIDTH)
    return "\n".join([*lines, "=" * max(map(len, lines))]) + "\n"


def _block_lines(block: Block) -> list[str]:
    match block:
        case Paragraph():
            return paragraphs([block.text])
        case Heading():
            return [*_wrap(block.text, WIDTH), "-" * min(len(block.text), WIDTH)]
        case Bullets():
            return bullets(block.items)
        case Steps():
            return [
                line for number, item in enumerate(block.items, 1) for line in bullets([item], f"{_BOX} {number:2}.")
            ]
        case Table():
            return table_text(block).splitlines()
        case Labels():
            return bullets((f"{tag.big} ({tag.small})" for tag in block.items), _BOX)
        case Fill():
            return bullets(f"{prompt}: ____________" for prompt in block.prompts)
        case Sketch() | Picture():
            return []


def chapter_text(chapter: Chapter) -> str:
    """Write one chapter as text of at most 80 columns; drawings are left out, their figures stand in the tables."""
    written = (_block_lines(block) for block in chapter.blocks)
    parts = [title_text(chapter.title), *("\n".join(lines) + "\n" for lines in written if lines)]
    return "\n".join(parts)


def book_text(book: Book) -> str:
    """Write a whole field book as text of at most 80 columns, for a screen reader or a plain printer."""
    head = title_text(book.title) + "\n" + "\n".join(paragraphs(book.lead)) + "\n"
    return "\n\n".join([head, *(chapter_text(chapter) for chapter in book.chapters)])

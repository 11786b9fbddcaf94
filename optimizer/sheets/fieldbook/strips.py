"""Blocks cut into strips: full-width pieces of a page that are never broken, with what is printed on them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from optimizer.sheets.blocks import (
    Block,
    Bullets,
    Column,
    Fill,
    Heading,
    Label,
    Labels,
    Paragraph,
    Picture,
    Sketch,
    Steps,
    Table,
)
from optimizer.sheets.fieldbook.measure import MM_PER_POINT, text_width, widest, wrap
from optimizer.sheets.textual import share_width

BODY_PT = 10.5
LEAST_PT = 10.0
"""nothing is printed smaller"""
_LEADING = 1.36
_BOX_MM = 4.6
_PAD_MM = 1.6
_TAGS_ACROSS = 3
_TAG_MM = 21.0
_TAG_PT = 15.0


@dataclass(frozen=True)
class Word:
    """A line of text; `y` is its baseline, both from the strip's top left corner downwards [mm]."""

    x: float
    y: float
    text: str
    size_pt: float = BODY_PT
    bold: bool = False


@dataclass(frozen=True)
class Rule:
    """A straight line [mm]."""

    x0: float
    y0: float
    x1: float
    y1: float
    width_pt: float = 0.6


@dataclass(frozen=True)
class Frame:
    """An empty rectangle [mm]."""

    x: float
    y: float
    width: float
    height: float
    dashed: bool = False
    width_pt: float = 1.0


@dataclass(frozen=True)
class Inset:
    """A sketch with its top left corner here [mm]."""

    x: float
    y: float
    sketch: Sketch


Ink = Word | Rule | Frame | Inset


@dataclass(frozen=True)
class Strip:
    """Full width of the page, never broken."""

    height: float
    inks: tuple[Ink, ...] = ()
    with_next: bool = False
    """stays on the page of the strip that follows"""
    head: Strip | None = None
    """repeated where a page begins with this strip"""


def line_mm(size_pt: float) -> float:
    """Return the height of a line of text [pt]."""
    return size_pt * _LEADING * MM_PER_POINT


def moved(ink: Ink, dx: float, dy: float) -> Ink:
    """Return a mark shifted to the right and down [mm]."""
    if isinstance(ink, Rule):
        return replace(ink, x0=ink.x0 + dx, x1=ink.x1 + dx, y0=ink.y0 + dy, y1=ink.y1 + dy)
    return replace(ink, x=ink.x + dx, y=ink.y + dy)


def _lines(lines: Iterable[str], x: float, top: float, size_pt: float = BODY_PT, bold: bool = False) -> list[Word]:
    step = line_mm(size_pt)
    return [Word(x, top + step * (index + 0.75), line, size_pt, bold) for index, line in enumerate(lines)]


def text_strips(
    text: str,
    width: float,
    *,
    indent: float = 0.0,
    mark: str = "",
    box: bool = False,
    bold: bool = False,
    size_pt: float = BODY_PT,
    after: float = 1.6,
) -> list[Strip]:
    """Set a paragraph, a point of a list or a step as one strip.

    Args:
        text: the words.
        width: of the page [mm].
        indent: where the text begins [mm].
        mark: what stands before its first line.
        box: a box to tick stands at the left edge.
        bold: heavy type.
        size_pt: type size [pt].
        after: space below [mm].
    """
    lines = wrap(text, width - indent, size_pt, bold=bold)
    words = _lines(lines, indent, 0.0, size_pt, bold)
    inks: list[Ink] = [*words]
    if mark:
        inks.append(Word(indent - text_width(mark, size_pt, bold=True) - 1.5, words[0].y, mark, size_pt, True))
    if box:
        inks.append(Frame(0.0, 0.2, _BOX_MM, _BOX_MM))
    height = max(len(lines) * line_mm(size_pt), _BOX_MM + 1.0 if box else 0.0)
    return [Strip(height + after, tuple(inks))]


def heading_strip(text: str, width: float, size_pt: float = 13.0) -> Strip:
    """Set a heading that stays with what follows."""
    lines = wrap(text, width, size_pt, bold=True)
    above = 2.5
    return Strip(above + len(lines) * line_mm(size_pt) + 1.0, tuple(_lines(lines, 0.0, above, size_pt, True)), True)


def _steps(block: Steps, width: float) -> list[Strip]:
    return [
        strip
        for number, item in enumerate(block.items, start=1)
        for strip in text_strips(item, width, indent=16.0, mark=f"{number}.", box=True, after=2.4)
    ]


def _bullets(block: Bullets, width: float) -> list[Strip]:
    return [strip for item in block.items for strip in text_strips(item, width, indent=5.0, mark="-")]


def _fill(block: Fill, width: float) -> list[Strip]:
    def strip(prompt: str) -> Strip:
        lines = wrap(prompt, width * 0.6, BODY_PT)
        height = max(9.0, len(lines) * line_mm(BODY_PT) + 3.5)
        top = height - len(lines) * line_mm(BODY_PT) - 0.6
        return Strip(height, (*_lines(lines, 0.0, top), Rule(width * 0.62, height - 1.0, width, height - 1.0)))

    return [strip(prompt) for prompt in block.prompts]


def _tag(tag: Label, x: float, width: float) -> list[Ink]:
    size = _TAG_PT
    while text_width(tag.big, size, bold=True) > width - 6.0 and size > LEAST_PT:
        size -= 0.5
    big = wrap(tag.big, width - 6.0, size, bold=True)
    small = wrap(tag.small, width - 6.0, LEAST_PT)
    below = 2.0 + len(big) * line_mm(size)
    return [
        Frame(x, 0.0, width, _TAG_MM, True, 0.5),
        *_lines(big, x + 3.0, 1.6, size, True),
        *_lines(small[:2], x + 3.0, below, LEAST_PT),
    ]


def _tags(block: Labels, width: float) -> list[Strip]:
    across = width / _TAGS_ACROSS
    rows = [block.items[start : start + _TAGS_ACROSS] for start in range(0, len(block.items), _TAGS_ACROSS)]
    return [
        Strip(_TAG_MM, tuple(ink for place, tag in enumerate(row) for ink in _tag(tag, place * across, across)))
        for row in rows
    ]


@dataclass(frozen=True)
class _Grid:
    """Where the columns of a table stand."""

    table: Table
    lefts: tuple[float, ...]
    widths: tuple[float, ...]
    width: float

    def cells(self, cells: tuple[str, ...], bold: bool) -> tuple[list[Word], float]:
        """Set the cells of a row; return them and the height they take."""
        words: list[Word] = []
        most = 1
        for index, (cell, column, left, width) in enumerate(
            zip(cells, self.table.columns, self.lefts, self.widths, strict=True)
        ):
            heavy = bold or index == self.table.key
            lines = wrap(cell, width, BODY_PT, bold=heavy)
            most = max(most, len(lines))
            words += [_aligned(word, column, width) for word in _lines(lines, left, _PAD_MM * 0.5, BODY_PT, heavy)]
        return [word for word in words if word.text], most * line_mm(BODY_PT) + _PAD_MM


def _aligned(word: Word, column: Column, width: float) -> Word:
    if not column.right:
        return word
    return replace(word, x=word.x + width - text_width(word.text, word.size_pt, bold=word.bold))


def _column_cells(table: Table, index: int) -> list[str]:
    return [row[index] for row in table.rows]


def _room_to_write(table: Table, widths: list[float], room: float) -> list[float]:
    """Give what is left of the page to the columns that are filled in by hand."""
    blank = [index for index in range(len(widths)) if not any(_column_cells(table, index))]
    share = max(room - sum(widths), 0.0) / max(len(blank), 1)
    return [width + share if index in blank else width for index, width in enumerate(widths)]


def _grid(table: Table, width: float) -> _Grid:
    first = _BOX_MM + 2.5 if table.ticks else 0.0
    count = len(table.columns)
    room = width - first - 2.0 * _PAD_MM * (count - 1)
    natural, least = [], []
    for index, column in enumerate(table.columns):
        cells, heavy = _column_cells(table, index), index == table.key
        words = [word for cell in cells for word in cell.split()]
        titles = column.title.split()
        blank = 16.0 if not any(cells) else 0.0
        natural.append(max(blank, widest(cells, BODY_PT, bold=heavy), widest([column.title], BODY_PT, bold=True)) + 0.2)
        least.append(max(blank, widest(words, BODY_PT, bold=heavy), widest(titles, BODY_PT, bold=True)) + 0.2)
    widths = share_width(share_width(natural, least, room, 0.5), [6.0] * count, room, 0.5)
    widths = _room_to_write(table, widths, room)
    lefts = [first + sum(widths[:index]) + 2.0 * _PAD_MM * index for index in range(count)]
    return _Grid(table, tuple(lefts), tuple(widths), width)


def _table_row(grid: _Grid, cells: tuple[str, ...], head: Strip) -> Strip:
    words, height = grid.cells(cells, bold=False)
    inks: list[Ink] = [*words]
    if grid.table.ticks:
        height = max(height, _BOX_MM + 2.0)
        inks.append(Frame(0.0, 1.0, _BOX_MM, _BOX_MM))
    inks.append(Rule(0.0, height, grid.width, height, 0.4))
    return Strip(height, tuple(inks), head=head)


def _table(table: Table, width: float) -> list[Strip]:
    grid = _grid(table, width)
    caption = wrap(table.caption, width, BODY_PT, bold=True)
    above, text = 2.5, len(caption) * line_mm(BODY_PT)
    titles, height = grid.cells(tuple(column.title for column in table.columns), bold=True)
    inks: list[Ink] = [*_lines(caption, 0.0, above, BODY_PT, True)]
    inks += [moved(word, 0.0, above + text + 0.6) for word in titles]
    bottom = above + text + 0.6 + height
    inks.append(Rule(0.0, bottom, width, bottom, 1.2))
    head = Strip(bottom, tuple(inks), with_next=True)
    rows = [_table_row(grid, row, head) for row in table.rows]
    if table.short:
        rows = [*(replace(row, with_next=True) for row in rows[:-1]), *rows[-1:]]
    if table.notes and rows:
        rows[-1] = replace(rows[-1], with_next=True)
    notes = [strip for note in table.notes for strip in text_strips(note, width, after=0.6)]
    return [head, *rows, Strip(1.2), *notes, Strip(2.0)]


def _sketch(sketch: Sketch, width: float) -> list[Strip]:
    title = [replace(strip, with_next=True) for strip in text_strips(sketch.title, width, bold=True)]
    return [*title, Strip(sketch.height_mm + 4.0, (Inset(0.0, 1.0, sketch),))]


def strips(block: Block, width: float) -> list[Strip]:
    """Cut a block into strips.

    Args:
        block: anything but a picture, which takes a page of its own.
        width: of the page within its margins [mm].

    Raises:
        TypeError: a picture.
    """
    match block:
        case Paragraph():
            return text_strips(block.text, width, bold=block.strong)
        case Heading():
            return [heading_strip(block.text, width)]
        case Bullets():
            return _bullets(block, width)
        case Steps():
            return _steps(block, width)
        case Fill():
            return _fill(block, width)
        case Labels():
            return _tags(block, width)
        case Table():
            return _table(block, width)
        case Sketch():
            return _sketch(block, width)
        case Picture():
            raise TypeError("a picture takes a page of its own")

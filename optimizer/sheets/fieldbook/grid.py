"""Tables as strips: a head that is repeated on every page, and one strip for each row."""

from __future__ import annotations

from dataclasses import dataclass, replace

from optimizer.sheets.blocks import Column, Table
from optimizer.sheets.fieldbook.marks import BODY_PT, BOX_MM, Frame, Ink, Rule, Strip, Word, line_mm, moved, set_lines
from optimizer.sheets.fieldbook.measure import text_width, widest, wrap
from optimizer.sheets.textual import share_width

_PAD_MM = 1.6


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
            words += [_aligned(word, column, width) for word in set_lines(lines, left, _PAD_MM * 0.5, BODY_PT, heavy)]
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
    first = BOX_MM + 2.5 if table.ticks else 0.0
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
        height = max(height, BOX_MM + 2.0)
        inks.append(Frame(0.0, 1.0, BOX_MM, BOX_MM))
    inks.append(Rule(0.0, height, grid.width, height, 0.4))
    return Strip(height, tuple(inks), head=head)


def table_strips(table: Table, width: float) -> list[Strip]:
    """Set a table without its notes.

    Args:
        table: the table.
        width: of the page within its margins [mm].
    """
    grid = _grid(table, width)
    caption = wrap(table.caption, width, BODY_PT, bold=True)
    above, text = 2.5, len(caption) * line_mm(BODY_PT)
    titles, height = grid.cells(tuple(column.title for column in table.columns), bold=True)
    inks: list[Ink] = [*set_lines(caption, 0.0, above, BODY_PT, True)]
    inks += [moved(word, 0.0, above + text + 0.6) for word in titles]
    bottom = above + text + 0.6 + height
    inks.append(Rule(0.0, bottom, width, bottom, 1.2))
    head = Strip(bottom, tuple(inks), with_next=True)
    rows = [_table_row(grid, row, head) for row in table.rows]
    if table.short:
        rows = [*(replace(row, with_next=True) for row in rows[:-1]), *rows[-1:]]
    if table.notes and rows:
        rows[-1] = replace(rows[-1], with_next=True)
    return [head, *rows]

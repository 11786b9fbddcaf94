"""The written part of a drawing: blocks of lines with small pictures in front, set in columns."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from matplotlib.axes import Axes

from optimizer.sheets.drawing_board import Box
from optimizer.sheets.labels import LINE_MM, TEXT_PT, text_size, wrap, write
from optimizer.sheets.palette import SOFT_INK
from optimizer.sheets.paper import Rect, points

COLUMN_MM = 80.0
"""least width of a column"""
GUTTER_MM = 10.0
"""kept free for the small picture in front of a line"""
_BLOCK_GAP_MM = 2.4
_COLUMN_GAP_MM = 4.0

Sign = Callable[[Axes, float, float], None]
"""draws a small picture centred at x, y on the page"""


@dataclass(frozen=True)
class Entry:
    """A paragraph, with or without a sign in front."""

    text: str
    sign: Sign | None = None
    bold: bool = False
    size_pt: float = TEXT_PT
    height_mm: float = 0.0
    """at least this high"""
    indent: bool = False
    """set in as far as text behind a sign"""
    beside: Entry | None = None
    """a second one on the same line, in the right half"""


def paired(entries: Sequence[Entry], half_mm: float = COLUMN_MM / 2) -> tuple[Entry, ...]:
    """Set short entries two on a line, in their order; long ones stay alone [mm]."""
    out: list[Entry] = []
    for entry in entries:
        last = out[-1] if out else None
        if last and not last.beside and _is_short(last, half_mm) and _is_short(entry, half_mm):
            out[-1] = replace(last, beside=entry)
        else:
            out.append(entry)
    return tuple(out)


def _is_short(entry: Entry, half_mm: float) -> bool:
    return (GUTTER_MM if entry.sign else 0.0) + text_size(entry.text)[0] < half_mm - 1.0


@dataclass(frozen=True)
class Block:
    """Entries that belong together under a heading."""

    heading: str
    entries: tuple[Entry, ...]


@dataclass(frozen=True)
class _Line:
    text: str
    sign: Sign | None
    bold: bool
    size_pt: float
    height_mm: float
    x_mm: float
    rule: bool = False
    """heading with a line under it; stays with the next line"""
    beside: Entry | None = None


def _lines_of(entry: Entry, width_mm: float) -> list[_Line]:
    x = GUTTER_MM if entry.sign or entry.indent else 0.0
    texts = wrap(entry.text, width_mm - x, entry.size_pt, bold=entry.bold) or [""]
    height = LINE_MM * entry.size_pt / TEXT_PT
    lines = [
        _Line(text, entry.sign if k == 0 else None, entry.bold, entry.size_pt, height, x, False, entry.beside)
        for k, text in enumerate(texts)
    ]
    missing = max(0.0, entry.height_mm - height * len(lines))
    return [replace(lines[0], height_mm=height + missing), *lines[1:]]


def _set_lines(blocks: Sequence[Block], width_mm: float) -> list[list[_Line]]:
    out = []
    for block in blocks:
        head = [
            _Line(text, None, True, TEXT_PT, LINE_MM + 0.8, 0.0, True)
            for text in wrap(block.heading, width_mm, bold=True)
        ]
        out.append(head + [line for entry in block.entries for line in _lines_of(entry, width_mm)])
    return out


@dataclass(frozen=True)
class _Put:
    line: _Line
    column: int
    top_mm: float
    """below the top of the panel"""


def _flow(blocks: Sequence[Sequence[_Line]], columns: int, height_mm: float) -> list[_Put] | None:
    """Fill columns from the left; a block breaks only where it is longer than what is left of a column."""
    out: list[_Put] = []
    column, top = 0, 0.0
    for lines in blocks:
        total = sum(line.height_mm for line in lines)
        gap = _BLOCK_GAP_MM if top > 0 else 0.0
        if top + gap + total > height_mm and (total <= height_mm or top + gap + 4 * LINE_MM > height_mm):
            column, top, gap = column + 1, 0.0, 0.0
        top += gap
        for index, line in enumerate(lines):
            need = line.height_mm + (lines[index + 1].height_mm if line.rule and index + 1 < len(lines) else 0.0)
            if top + need > height_mm + 1e-9:
                column, top = column + 1, 0.0
            if column >= columns or need > height_mm:
                return None
            out.append(_Put(line, column, top))
            top += line.height_mm
    return out


def column_width(width_mm: float, columns: int) -> float:
    """Return the width of one of several columns [mm]."""
    return (width_mm - _COLUMN_GAP_MM * (columns - 1)) / columns


def panel_height(blocks: Sequence[Block], width_mm: float, columns: int, most_mm: float) -> float | None:
    """Return the least height in which the blocks fit, or None if that is above the most allowed [mm]."""
    lines = _set_lines(blocks, column_width(width_mm, columns))
    height = sum(line.height_mm for part in lines for line in part) / columns
    while height <= most_mm:
        if _flow(lines, columns, height) is not None:
            return height
        height += 1.0
    return height if height <= most_mm and _flow(lines, columns, height) is not None else None


def draw_panel(axes: Axes, area: Rect, blocks: Sequence[Block], columns: int) -> None:
    """Write the blocks into an area in which they fit [mm].

    Raises:
        ValueError: they do not fit.
    """
    width = column_width(area.width, columns)
    placed = _flow(_set_lines(blocks, width), columns, area.height)
    if placed is None:
        raise ValueError("the panel is too small for its text")
    for put in placed:
        _draw_line(axes, put, area.x0 + put.column * (width + _COLUMN_GAP_MM), area.y1, width)


def _draw_line(axes: Axes, put: _Put, left: float, top: float, width: float) -> None:
    line = put.line
    middle = top - put.top_mm - line.height_mm / 2 + (0.6 if line.rule else 0.0)
    if line.text:
        text_width, text_height = text_size(line.text, line.size_pt, bold=line.bold)
        box = Box(left + line.x_mm + text_width / 2, middle, text_width, text_height)
        write(axes, box, line.text, size_pt=line.size_pt, bold=line.bold, flush=True)
    if line.sign:
        line.sign(axes, left + GUTTER_MM / 2 - 0.8, middle)
    if line.rule:
        y = top - put.top_mm - line.height_mm + 0.4
        axes.plot([left, left + width], [y, y], color=SOFT_INK, linewidth=points(0.2), zorder=3)
    if line.beside:
        other = _lines_of(line.beside, width)[0]
        _draw_line(axes, _Put(other, put.column, put.top_mm), left + width / 2, top, width / 2)

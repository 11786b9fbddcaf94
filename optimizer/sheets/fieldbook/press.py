"""The field book as PDF, set with matplotlib: drawings go in as vectors at their true size, with no further library."""

from __future__ import annotations

import io
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cache
from itertools import chain, takewhile

import numpy as np
from matplotlib import rc_context
from matplotlib.artist import Artist
from matplotlib.backend_bases import GraphicsContextBase, RendererBase
from matplotlib.backends.backend_pdf import PdfPages
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties
from matplotlib.path import Path
from matplotlib.transforms import IdentityTransform

from optimizer.sheets.blocks import Book, Chapter, Fill, Paragraph, Picture, Table
from optimizer.sheets.fieldbook.marks import Frame, Ink, Inset, Rule, Strip, Word, moved
from optimizer.sheets.fieldbook.measure import FAMILY, text_width
from optimizer.sheets.fieldbook.strips import heading_strip, strips, text_strips
from optimizer.sheets.paper import A4, MM_PER_INCH, PT_PER_MM, Paper

SIDE_MM = 15.0
_TOP_MM = 14.0
_FOOT_MM = 16.0


@dataclass(frozen=True)
class Sheet:
    """One page: marks in millimetres from its top left corner, or a drawing that is a page itself."""

    chapter: str
    inks: tuple[Ink, ...] = ()
    figure: Figure | None = None


def _needs(run: list[Strip], index: int, height: float) -> float:
    """Return the room a strip wants with those that should stay on its page, if they are less than a page [mm]."""
    last = index
    while run[last].with_next and last + 1 < len(run):
        last += 1
    wanted = sum(strip.height for strip in run[index : last + 1])
    head = run[last].head
    if wanted + (head.height if head else 0.0) <= height:
        return wanted
    return sum(strip.height for strip in run[index : min(last, index + 2) + 1])


def paginate(run: list[Strip], height: float) -> list[list[tuple[float, Strip]]]:
    """Set strips on pages.

    Args:
        run: strips in order.
        height: of a page within its margins [mm].

    Returns:
        For every page its strips, each with the distance of its top from the top of the page [mm].
    """
    pages: list[list[tuple[float, Strip]]] = [[]]
    top = 0.0
    for index, strip in enumerate(run):
        # Inside a run that stays together room was seen to at its beginning, if a page can hold it at all.
        inside = index > 0 and run[index - 1].with_next
        room = strip.height if inside else _needs(run, index, height)
        if pages[-1] and top + room > height:
            pages.append([])
            top = 0.0
            if strip.head is not None:
                pages[-1].append((top, strip.head))
                top += strip.head.height
        pages[-1].append((top, strip))
        top += strip.height
    return [page for page in pages if page]


def _chapter_sheets(chapter: Chapter, paper: Paper) -> list[Sheet]:
    width, height = paper.width_mm - 2.0 * SIDE_MM, paper.height_mm - _TOP_MM - _FOOT_MM
    run = [heading_strip(chapter.title, width, 17.0), *_chapter_strips(chapter, width)]
    text = [_sheet(chapter.title, page) for page in paginate(run, height)]
    leading = sum(1 for _ in takewhile(lambda block: isinstance(block, Picture), chapter.blocks))
    pictures = [Sheet(chapter.title, figure=block.figure) for block in chapter.blocks if isinstance(block, Picture)]
    return [*pictures[:leading], *text, *pictures[leading:]]


def _chapter_strips(chapter: Chapter, width: float) -> Iterator[Strip]:
    """Cut the text of a chapter into strips; words that lead to a table or to lines to fill in stay with them."""
    blocks = [block for block in chapter.blocks if not isinstance(block, Picture)]
    for block, following in zip(blocks, [*blocks[1:], None], strict=True):
        leads = isinstance(block, Paragraph) and isinstance(following, Table | Fill)
        for strip in strips(block, width):
            yield replace(strip, with_next=True) if leads else strip


def _sheet(title: str, page: list[tuple[float, Strip]]) -> Sheet:
    return Sheet(title, tuple(moved(ink, SIDE_MM, _TOP_MM + top) for top, strip in page for ink in strip.inks))


def _cover(book: Book, starts: list[int], paper: Paper) -> list[Sheet]:
    width = paper.width_mm - 2.0 * SIDE_MM
    contents = [
        Strip(
            7.0, (Word(0.0, 5.0, chapter.title), Word(width - 12.0, 5.0, str(start)), Rule(0.0, 6.8, width, 6.8, 0.3))
        )
        for chapter, start in zip(book.chapters, starts, strict=True)
    ]
    lead = [strip for line in book.lead for strip in text_strips(line, width)]
    run = [
        heading_strip(book.title, width, 22.0),
        *text_strips("Field book", width, size_pt=13.0, after=4.0),
        *lead,
        heading_strip("Sheets", width),
        *contents,
    ]
    height = paper.height_mm - _TOP_MM - _FOOT_MM
    return [_sheet("", page) for page in paginate(run, height)]


def _numbered(sheets: list[Sheet], book: Book, paper: Paper) -> Iterator[Sheet]:
    """Put title and page number at the foot of every text page."""
    for number, sheet in enumerate(sheets, start=1):
        if sheet.figure is not None:
            yield sheet
            continue
        right = f"{number} of {len(sheets)}"
        room = paper.width_mm - 2.0 * SIDE_MM
        left = _shortened(" - ".join(part for part in (book.title, sheet.chapter) if part), room - 30.0)
        y = paper.height_mm - 8.5
        x = paper.width_mm - SIDE_MM - text_width(right, 10.0)
        foot = (Word(SIDE_MM, y, left, 10.0), Word(x, y, right, 10.0))
        yield Sheet(sheet.chapter, (*sheet.inks, *foot))


def _shortened(text: str, room: float) -> str:
    if text_width(text, 10.0) <= room:
        return text
    while text and text_width(text + "...", 10.0) > room:
        text = text[:-1]
    return text + "..."


def lay_out(book: Book, paper: Paper = A4) -> tuple[Sheet, ...]:
    """Set a book on pages: a cover with the list of sheets, then every chapter on pages of its own.

    Args:
        book: from `field_book`.
        paper: the paper of the text pages, upright.
    """
    chapters = [_chapter_sheets(chapter, paper) for chapter in book.chapters]
    cover_pages = len(_cover(book, [0] * len(chapters), paper))
    starts = [1 + cover_pages + sum(map(len, chapters[:index])) for index in range(len(chapters))]
    return tuple(_numbered([*_cover(book, starts, paper), *chain.from_iterable(chapters)], book, paper))


@cache
def _font(size_pt: float, bold: bool) -> FontProperties:
    return FontProperties(family=FAMILY, weight="bold" if bold else "normal", size=size_pt)


def _corners(ink: Rule | Frame) -> tuple[tuple[float, float], ...]:
    if isinstance(ink, Rule):
        return ((ink.x0, ink.y0), (ink.x1, ink.y1))
    x1, y1 = ink.x + ink.width, ink.y + ink.height
    return ((ink.x, ink.y), (x1, ink.y), (x1, y1), (ink.x, y1), (ink.x, ink.y))


class _Printed(Artist):
    """All marks of a page, handed to the renderer without the layout pass of single text artists."""

    def __init__(self, inks: tuple[Ink, ...], height_mm: float) -> None:
        super().__init__()
        self._inks = inks
        self._height_mm = height_mm

    def draw(self, renderer: RendererBase) -> None:
        """Draw every mark; insets bring their own axes."""
        point = float(np.asarray(renderer.points_to_pixels(1.0)))
        for ink in self._inks:
            gc = renderer.new_gc()
            gc.set_foreground("black")
            if isinstance(ink, Word):
                self._word(renderer, gc, ink, point * PT_PER_MM)
            elif isinstance(ink, Rule | Frame):
                self._line(renderer, gc, ink, point)
            gc.restore()

    def _word(self, renderer: RendererBase, gc: GraphicsContextBase, ink: Word, mm: float) -> None:
        y = (self._height_mm - ink.y) * mm
        renderer.draw_text(gc, ink.x * mm, y, ink.text, _font(ink.size_pt, ink.bold), 0.0)

    def _line(self, renderer: RendererBase, gc: GraphicsContextBase, ink: Rule | Frame, point: float) -> None:
        gc.set_linewidth(ink.width_pt * point)
        if isinstance(ink, Frame) and ink.dashed:
            gc.set_dashes(0.0, (3.0, 2.0))
        mm = point * PT_PER_MM
        path = Path([(x * mm, (self._height_mm - y) * mm) for x, y in _corners(ink)])
        renderer.draw_path(gc, path, IdentityTransform())


def _place(figure: Figure, ink: Inset, paper: Paper) -> None:
    """Paint a sketch into axes of its true size."""
    width, height = ink.sketch.width_mm / paper.width_mm, ink.sketch.height_mm / paper.height_mm
    left, bottom = ink.x / paper.width_mm, 1.0 - ink.y / paper.height_mm - height
    ink.sketch.paint(figure.add_axes((left, bottom, width, height)))


def sheet_figure(sheet: Sheet, paper: Paper) -> Figure:
    """Return a page as a figure of the paper's size."""
    if sheet.figure is not None:
        return sheet.figure
    figure = Figure(figsize=(paper.width_mm / MM_PER_INCH, paper.height_mm / MM_PER_INCH), facecolor="white")
    figure.add_artist(_Printed(sheet.inks, paper.height_mm), clip=False)
    for ink in sheet.inks:
        if isinstance(ink, Inset):
            _place(figure, ink, paper)
    return figure


def book_pdf(book: Book, paper: Paper = A4) -> bytes:
    """Write a field book as PDF; the same book gives the same bytes.

    Args:
        book: from `field_book`.
        paper: the paper of the text pages; drawings keep the size they were made for.

    Returns:
        The file's bytes.
    """
    buffer = io.BytesIO()
    metadata = {"Title": f"{book.title}: field book", "CreationDate": None}
    with rc_context({"pdf.fonttype": 42, "pdf.compression": 6}), PdfPages(buffer, metadata=metadata) as pages:
        for sheet in lay_out(book, paper):
            pages.savefig(sheet_figure(sheet, paper))
    return buffer.getvalue()

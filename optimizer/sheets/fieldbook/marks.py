"""What is printed on a page, in millimetres, and strips of it that are never broken."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from optimizer.sheets.blocks import Sketch
from optimizer.sheets.fieldbook.measure import MM_PER_POINT

BODY_PT = 10.5
LEAST_PT = 10.0
"""nothing is printed smaller"""
_LEADING = 1.36
BOX_MM = 4.6
"""side of a box to tick"""


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


def set_lines(lines: Iterable[str], x: float, top: float, size_pt: float = BODY_PT, bold: bool = False) -> list[Word]:
    """Set lines of text one under the other, the first with its top at `top` [mm]."""
    step = line_mm(size_pt)
    return [Word(x, top + step * (index + 0.75), line, size_pt, bold) for index, line in enumerate(lines)]

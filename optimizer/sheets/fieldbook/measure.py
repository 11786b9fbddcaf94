"""How wide text is and where its lines break, for pages laid out in millimetres."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache

from matplotlib import font_manager
from matplotlib.ft2font import FT2Font

MM_PER_POINT = 25.4 / 72.0
FAMILY = "DejaVu Sans"
"""comes with matplotlib, so every machine sets the same lines"""
_SIZE = 100


@cache
def _font(bold: bool) -> FT2Font:
    properties = font_manager.FontProperties(family=FAMILY, weight="bold" if bold else "normal")
    return font_manager.get_font(font_manager.findfont(properties, fallback_to_default=False))


@cache
def _advance(letter: str, bold: bool) -> float:
    """Return the advance of a letter as a share of the type size."""
    font = _font(bold)
    font.set_size(_SIZE, 72)
    glyph = font.load_char(ord(letter))
    return float(glyph.linearHoriAdvance) / 65536.0 / _SIZE


def text_width(text: str, size_pt: float, *, bold: bool = False) -> float:
    """Return the width of a line of text in millimetres, kerning not counted.

    Args:
        text: one line.
        size_pt: type size [pt].
        bold: heavy type.
    """
    return sum(_advance(letter, bold) for letter in text) * size_pt * MM_PER_POINT


def _broken(word: str, room: float, size_pt: float, bold: bool) -> list[str]:
    """Break a word that is wider than the line."""
    parts, part = [], ""
    for letter in word:
        if part and text_width(part + letter, size_pt, bold=bold) > room:
            parts.append(part)
            part = ""
        part += letter
    return [*parts, part]


def wrap(text: str, room: float, size_pt: float, *, bold: bool = False) -> tuple[str, ...]:
    """Break text into lines that fit.

    Args:
        text: words.
        room: width of the line [mm].
        size_pt: type size [pt].
        bold: heavy type.

    Returns:
        At least one line; only words wider than the line are broken.
    """
    words = [part for word in text.split() for part in _broken(word, room, size_pt, bold)]
    lines: list[str] = []
    for word in words:
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and text_width(longer, size_pt, bold=bold) <= room:
            lines[-1] = longer
        else:
            lines.append(word)
    return tuple(lines) or ("",)


def widest(cells: Sequence[str], size_pt: float, *, bold: bool = False) -> float:
    """Return the width of the widest of several lines [mm]."""
    return max((text_width(cell, size_pt, bold=bold) for cell in cells), default=0.0)

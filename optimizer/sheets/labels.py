"""Words on the page: measured, broken into lines, written, and names put where they cover nothing.

A name is tried at many places around what it names; nearness, what it would cover and what its leader would cross
are weighed against each other. Sizes are millimetres on the page.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

from matplotlib.axes import Axes
from matplotlib.backends import backend_agg
from matplotlib.font_manager import FontProperties
from matplotlib.text import Text

from optimizer.plan import Point
from optimizer.sheets.drawing_board import Board, Box, segment_box
from optimizer.sheets.palette import INK
from optimizer.sheets.paper import PT_PER_MM, points

TEXT_PT = 10.0
"""nothing is printed smaller"""
LINE_MM = 4.7
"""from one line of text to the next"""
FONT = "DejaVu Sans"
_MEASURE_DPI = (200, 288)
"""letters are rounded to dots, so text is wider at some resolutions than at others"""


def font(size_pt: float = TEXT_PT, *, bold: bool = False) -> FontProperties:
    """Return the font of all drawings; it comes with matplotlib, so every machine measures alike."""
    return FontProperties(family=FONT, size=size_pt, weight="bold" if bold else "normal")


@cache
def _renderer(dpi: int) -> Any:
    # matplotlib gives this class no types
    agg: Any = backend_agg
    return agg.RendererAgg(16, 16, dpi)


@cache
def text_size(text: str, size_pt: float = TEXT_PT, *, bold: bool = False) -> Point:
    """Return width and height of one line of text as it is printed [mm].

    The height is that of a line with ascenders and descenders whatever the letters are.
    """
    prop = font(size_pt, bold=bold)
    widths, heights = [], []
    for dpi in _MEASURE_DPI:
        to_mm = 72.0 / dpi / PT_PER_MM
        widths.append(_renderer(dpi).get_text_width_height_descent(text, prop, ismath=False)[0] * to_mm)
        heights.append(_renderer(dpi).get_text_width_height_descent("lp", prop, ismath=False)[1] * to_mm)
    return float(max(widths)), float(max(heights))


def wrap(text: str, width_mm: float, size_pt: float = TEXT_PT, *, bold: bool = False) -> list[str]:
    """Break text at blanks so that every line fits a width; a word too long for it is broken too [mm]."""
    lines: list[str] = []
    for word in filter(None, text.split(" ")):
        trial = f"{lines[-1]} {word}" if lines else word
        if lines and text_size(trial, size_pt, bold=bold)[0] <= width_mm:
            lines[-1] = trial
            continue
        while text_size(word, size_pt, bold=bold)[0] > width_mm and len(word) > 1:
            cut = next(
                k
                for k in range(len(word) - 1, 0, -1)
                if k == 1 or text_size(word[:k], size_pt, bold=bold)[0] <= width_mm
            )
            lines.append(word[:cut])
            word = word[cut:]
        lines.append(word)
    return lines


def glued(text: str) -> str:
    """Return text that `wrap` does not break at its blanks, such as a number and its unit."""
    return text.replace(" ", "\u00a0")


@dataclass(frozen=True)
class Spot:
    """A place for a name, the point it names, and how far apart they are [mm]."""

    box: Box
    anchor: Point
    away_mm: float


def _close_by(anchor: Point, size: Point, gap: float) -> Iterator[Spot]:
    """Yield the eight upright boxes that stand at an anchor, those beside it first [mm]."""
    (x, y), (width, height) = anchor, size
    for sx, sy in ((1, 0), (-1, 0), (0, 1), (0, -1), (1, 1), (-1, 1), (1, -1), (-1, -1)):
        yield Spot(Box(x + sx * (width / 2 + gap), y + sy * (height / 2 + gap), width, height), anchor, 0.0)


def _ring(anchor: Point, size: Point, gap: float, away: float) -> Iterator[Spot]:
    """Yield sixteen upright boxes around an anchor, all equally far from it [mm]."""
    (x, y), (width, height) = anchor, size
    for dx, dy in _COMPASS:
        box = Box(x + dx * (gap + away + width / 2), y + dy * (gap + away + height / 2), width, height)
        yield Spot(box, anchor, away)


def _rings(anchors: Sequence[Point], size: Point, reach_mm: float, skirt_mm: float) -> Iterator[list[Spot]]:
    """Yield places for a name ring by ring, from close by to the reach [mm]."""
    gap = skirt_mm + 0.8
    yield [spot for anchor in anchors for spot in _close_by(anchor, size, gap)]
    away = 4.0
    while away <= reach_mm:
        yield [spot for anchor in anchors for spot in _ring(anchor, size, gap, away)]
        away += 3.0


def near_edge(box: Box, anchor: Point) -> Point:
    """Return the point of an upright box nearest to an anchor: where a leader line ends."""
    b = box.bounds()
    return min(max(anchor[0], b.x0), b.x1), min(max(anchor[1], b.y0), b.y1)


def _leader(spot: Spot, skirt_mm: float) -> Box | None:
    """Return the place a leader takes, or None for a name that stands at its anchor."""
    end = near_edge(spot.box, spot.anchor)
    size = math.dist(end, spot.anchor)
    if size < skirt_mm + 2.5:
        return None
    t = (skirt_mm + 0.5) / size
    start = (spot.anchor[0] + (end[0] - spot.anchor[0]) * t, spot.anchor[1] + (end[1] - spot.anchor[1]) * t)
    stop = (end[0] - (end[0] - start[0]) * 0.02, end[1] - (end[1] - start[1]) * 0.02)
    return segment_box(start, stop, 0.2)


_COMPASS = tuple((math.cos(math.pi * k / 8), math.sin(math.pi * k / 8)) for k in range(16))
_COVER_COST = 4.0
_CROSS_COST = 1.0
_AWAY_COST = 0.35
"""per millimetre; a name goes about this much further to cover less"""


def _cheapest(
    board: Board, anchors: Sequence[Point], size: Point, reach_mm: float, skirt_mm: float, bearable: float
) -> Spot | None:
    best: tuple[float, Spot] | None = None
    for ring in _rings(anchors, size, reach_mm, skirt_mm):
        distance_cost = ring[0].away_mm * _AWAY_COST
        if best is not None and distance_cost >= best[0]:
            break
        for spot in itertools.compress(ring, board.free_among([spot.box for spot in ring])):
            cost = _cost(board, spot, skirt_mm, bearable)
            if cost is not None and (best is None or cost + distance_cost < best[0]):
                best = (cost + distance_cost, spot)
    return best[1] if best else None


def _cost(board: Board, spot: Spot, skirt_mm: float, bearable: float) -> float | None:
    """Return what a free spot covers and its leader crosses; None if that is not allowed [1]."""
    cover, line = board.covered(spot.box), _leader(spot, skirt_mm)
    if cover > bearable or (line is not None and not board.is_free(line)):
        return None
    return _COVER_COST * cover + (_CROSS_COST * board.covered(line) if line is not None else 0.0)


def write(
    axes: Axes,
    box: Box,
    text: str,
    *,
    size_pt: float = TEXT_PT,
    bold: bool = False,
    colour: str = INK,
    clear: float = 0.0,
    flush: bool = False,
) -> Text:
    """Write one line of text into a box, centred.

    Args:
        axes: page in millimetres.
        box: place [mm].
        text: one line.
        size_pt: letter height [pt].
        bold: heavy letters.
        colour: of the letters.
        clear: opacity of white laid under the text, 0 for none [1].
        flush: True begins at the left edge of an upright box instead of its middle.
    """
    if clear > 0:
        axes.fill(*zip(*box.corners(), strict=True), color="white", alpha=clear, linewidth=0, zorder=19)
    return axes.text(
        box.x - box.width / 2 if flush else box.x,
        box.y,
        text,
        fontproperties=font(size_pt, bold=bold),
        color=colour,
        ha="left" if flush else "center",
        va="center",
        rotation=box.angle_deg,
        rotation_mode="default",
        zorder=20,
        parse_math=False,
    )


def place_name(
    axes: Axes,
    board: Board,
    anchors: Sequence[Point],
    text: str,
    *,
    bold: bool = False,
    colour: str = INK,
    reach_mm: float = 60.0,
    skirt_mm: float = 0.6,
    bearable: float = math.inf,
) -> bool:
    """Put a name near what it names, with a leader if it ends up away from it.

    Args:
        axes: page in millimetres.
        board: what is taken; the name and its leader are blocked on it.
        anchors: points the name may belong to, best first [mm].
        text: the name.
        bold: heavy letters.
        colour: of letters and leader.
        reach_mm: how far away the name may go [mm].
        skirt_mm: radius of the mark at the anchor [mm].
        bearable: weight of tubes and edges it may cover at most [1].

    Returns:
        False if nothing was free.
    """
    spot = _cheapest(board, anchors, text_size(text, bold=bold), reach_mm, skirt_mm, bearable)
    if spot is None:
        return False
    write(axes, spot.box, text, bold=bold, colour=colour, clear=0.8)
    line = _leader(spot, skirt_mm)
    if line is not None:
        board.block(line)
        _draw_leader(axes, spot, colour)
    board.block(spot.box)
    return True


def _draw_leader(axes: Axes, spot: Spot, colour: str) -> None:
    end, anchor = near_edge(spot.box, spot.anchor), spot.anchor
    axes.plot([anchor[0], end[0]], [anchor[1], end[1]], color=colour, linewidth=points(0.18), zorder=17)
    axes.plot([anchor[0]], [anchor[1]], "o", color=colour, markersize=points(0.8), markeredgewidth=0, zorder=17)

"""Where words go: text is measured, tried at several places, and never put over other text.

A label is a box that may be turned. A board knows what is already taken; among free places it prefers those that
cover no tube. Sizes are millimetres on the page.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from functools import cache

import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import RendererAgg
from matplotlib.font_manager import FontProperties
from matplotlib.text import Text

from optimizer.plan import Point
from optimizer.sheets.palette import INK
from optimizer.sheets.paper import PT_PER_MM, Rect, points

TEXT_PT = 10.0
"""nothing is printed smaller"""
LINE_MM = 4.7
"""from one line of text to the next"""
FONT = "DejaVu Sans"
_MEASURE_DPI = 288
_GAP_MM = 0.35
"""kept free around every label"""


def font(size_pt: float = TEXT_PT, *, bold: bool = False) -> FontProperties:
    """Return the font of all drawings; it comes with matplotlib, so every machine measures alike."""
    return FontProperties(family=FONT, size=size_pt, weight="bold" if bold else "normal")


@cache
def _renderer() -> RendererAgg:
    return RendererAgg(16, 16, _MEASURE_DPI)


@cache
def text_size(text: str, size_pt: float = TEXT_PT, *, bold: bool = False) -> Point:
    """Return width and height of one line of text as it is printed [mm].

    The height is that of a line with ascenders and descenders whatever the letters are.
    """
    prop = font(size_pt, bold=bold)
    width, _, _ = _renderer().get_text_width_height_descent(text, prop, ismath=False)
    _, height, _ = _renderer().get_text_width_height_descent("lp", prop, ismath=False)
    to_mm = 72.0 / _MEASURE_DPI / PT_PER_MM
    return float(width) * to_mm, float(height) * to_mm


def wrap(text: str, width_mm: float, size_pt: float = TEXT_PT, *, bold: bool = False) -> list[str]:
    """Break text at blanks so that every line fits a width; a word too long for it is broken too [mm]."""
    lines: list[str] = []
    for word in text.split():
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


@dataclass(frozen=True)
class Box:
    """A rectangle around a centre, turned anticlockwise [mm, deg]."""

    x: float
    y: float
    width: float
    height: float
    angle_deg: float = 0.0

    def corners(self) -> tuple[Point, ...]:
        """Return the four corners in order [mm]."""
        c, s = math.cos(math.radians(self.angle_deg)), math.sin(math.radians(self.angle_deg))
        half = (
            (-self.width, -self.height),
            (self.width, -self.height),
            (self.width, self.height),
            (-self.width, self.height),
        )
        return tuple((self.x + (a * c - b * s) / 2, self.y + (a * s + b * c) / 2) for a, b in half)

    def bounds(self) -> Rect:
        """Return the upright rectangle around it."""
        xs, ys = zip(*self.corners(), strict=True)
        return Rect(min(xs), min(ys), max(xs), max(ys))

    def overlaps(self, other: Box) -> bool:
        """Say whether the two share area (separating axes of both)."""
        mine, theirs = self.corners(), other.corners()
        return not any(_apart(mine, theirs, angle) for angle in (self.angle_deg, other.angle_deg))


def _apart(a: Sequence[Point], b: Sequence[Point], angle_deg: float) -> bool:
    for turn in (0.0, 90.0):
        c, s = math.cos(math.radians(angle_deg + turn)), math.sin(math.radians(angle_deg + turn))
        ours, others = [x * c + y * s for x, y in a], [x * c + y * s for x, y in b]
        if max(ours) <= min(others) + 1e-9 or max(others) <= min(ours) + 1e-9:
            return True
    return False


def segment_box(a: Point, b: Point, thickness_mm: float) -> Box:
    """Return the box that covers a straight stroke [mm]."""
    angle = math.degrees(math.atan2(b[1] - a[1], b[0] - a[0]))
    return Box((a[0] + b[0]) / 2, (a[1] + b[1]) / 2, math.dist(a, b), thickness_mm, angle)


@dataclass
class _Taken:
    """Boxes with their bounds beside them, for a quick first look."""

    boxes: list[Box] = field(default_factory=list)
    bounds: list[tuple[float, float, float, float]] = field(default_factory=list)

    def add(self, box: Box) -> None:
        b = box.bounds()
        self.boxes.append(box)
        self.bounds.append((b.x0, b.y0, b.x1, b.y1))

    def count(self, box: Box, *, stop_at: int) -> int:
        """Count boxes that overlap, up to a number."""
        if not self.boxes:
            return 0
        b, array = box.bounds(), np.asarray(self.bounds)
        near = (array[:, 0] < b.x1) & (array[:, 2] > b.x0) & (array[:, 1] < b.y1) & (array[:, 3] > b.y0)
        found = 0
        for index in np.flatnonzero(near):
            found += self.boxes[index].overlaps(box)
            if found >= stop_at:
                break
        return found


class Board:
    """What of a page is taken: hard (text, marks) or soft (tubes, better not covered)."""

    def __init__(self, area: Rect) -> None:
        self.area = area
        self._hard = _Taken()
        self._soft = _Taken()

    def block(self, box: Box) -> None:
        """Forbid a place to all labels still to come."""
        self._hard.add(box)

    def discourage(self, box: Box) -> None:
        """Let labels cover a place only if nothing else is free."""
        self._soft.add(box)

    def discourage_line(self, line: Iterable[Point], thickness_mm: float = 0.8) -> None:
        """Discourage every stroke of a polyline [mm]."""
        corners = [(float(x), float(y)) for x, y in line]
        for a, b in zip(corners, corners[1:], strict=False):
            if math.dist(a, b) > 0.05:
                self.discourage(segment_box(a, b, thickness_mm))

    def inside(self, box: Box) -> bool:
        """Say whether a box lies on the area of the board."""
        b = box.bounds()
        return b.x0 >= self.area.x0 and b.y0 >= self.area.y0 and b.x1 <= self.area.x1 and b.y1 <= self.area.y1

    def is_free(self, box: Box) -> bool:
        """Say whether a box lies on the board and over nothing that is blocked."""
        grown = Box(box.x, box.y, box.width + 2 * _GAP_MM, box.height + 2 * _GAP_MM, box.angle_deg)
        return self.inside(box) and self._hard.count(grown, stop_at=1) == 0

    def covered(self, box: Box) -> int:
        """Count the discouraged strokes a box would cover."""
        return self._soft.count(box, stop_at=1000)

    def first_free(self, spots: Iterable[Box], *, tubes_matter: bool = True) -> Box | None:
        """Return the first free spot that covers no tube, else the free one that covers fewest.

        Args:
            spots: places in order of liking.
            tubes_matter: False takes the first free one whatever tubes it covers.
        """
        best: tuple[int, Box] | None = None
        for box in spots:
            if not self.is_free(box):
                continue
            cost = self.covered(box) if tubes_matter else 0
            if cost == 0:
                return box
            if best is None or cost < best[0]:
                best = (cost, box)
        return best[1] if best else None


def around(anchor: Point, width: float, height: float, reach_mm: float) -> Iterator[Box]:
    """Yield upright boxes around an anchor, near ones first [mm]."""
    x, y = anchor
    gap = 1.6
    for sx, sy in ((1, 0), (0, 1), (0, -1), (-1, 0), (1, 1), (-1, 1), (1, -1), (-1, -1)):
        yield Box(x + sx * (width / 2 + gap), y + sy * (height / 2 + gap), width, height)
    radius = 5.0
    while radius <= reach_mm:
        for k in range(16):
            angle = 2 * math.pi * k / 16
            dx, dy = math.cos(angle), math.sin(angle)
            yield Box(x + dx * (radius + width / 2), y + dy * (radius + height / 2), width, height)
        radius += 3.5


def near_edge(box: Box, anchor: Point) -> Point:
    """Return the point of an upright box's rim nearest to an anchor: where a leader line ends."""
    b = box.bounds()
    return min(max(anchor[0], b.x0), b.x1), min(max(anchor[1], b.y0), b.y1)


def leader_is_free(board: Board, box: Box, anchor: Point) -> bool:
    """Say whether a leader from an anchor to a box would cross no label or mark."""
    end = near_edge(box, anchor)
    size = math.dist(end, anchor)
    if size < 3.0:
        return True
    t = 2.0 / size
    start = (anchor[0] + (end[0] - anchor[0]) * t, anchor[1] + (end[1] - anchor[1]) * t)
    stop = (end[0] - (end[0] - anchor[0]) * 0.05, end[1] - (end[1] - anchor[1]) * 0.05)
    return board.is_free(segment_box(start, stop, 0.2))


def write(
    axes: Axes,
    box: Box,
    text: str,
    *,
    size_pt: float = TEXT_PT,
    bold: bool = False,
    colour: str = INK,
    clear: float = 0.0,
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
    """
    if clear > 0:
        axes.fill(*zip(*box.corners(), strict=True), color="white", alpha=clear, linewidth=0, zorder=19)
    return axes.text(
        box.x, box.y, text, fontproperties=font(size_pt, bold=bold), color=colour, ha="center", va="center",
        rotation=box.angle_deg, rotation_mode="default", zorder=20, parse_math=False,
    )  # fmt: skip


def draw_leader(axes: Axes, box: Box, anchor: Point, colour: str = INK) -> None:
    """Draw a thin line with a dot from an anchor to a label [mm]."""
    end = near_edge(box, anchor)
    if math.dist(end, anchor) > 1.0:
        axes.plot([anchor[0], end[0]], [anchor[1], end[1]], color=colour, linewidth=points(0.18), zorder=17)
        axes.plot([anchor[0]], [anchor[1]], "o", color=colour, markersize=points(0.8), markeredgewidth=0, zorder=17)


def place_name(
    axes: Axes, board: Board, anchor: Point, text: str, *, bold: bool = False, colour: str = INK,
    first: Sequence[Box] = (), reach_mm: float = 90.0,
) -> bool:  # fmt: skip
    """Put a name near its anchor, with a leader if it ends up away from it.

    Args:
        axes: page in millimetres.
        board: what is taken; the name is blocked on it.
        anchor: what is named [mm].
        text: the name.
        bold: heavy letters.
        colour: of letters and leader.
        first: places tried before those around the anchor [mm].
        reach_mm: how far away the name may go [mm].

    Returns:
        False if nothing was free.
    """
    width, height = text_size(text, bold=bold)
    spots = (*first, *(b for b in around(anchor, width, height, reach_mm) if leader_is_free(board, b, anchor)))
    box = board.first_free(spots)
    if box is None:
        return False
    board.block(box)
    write(axes, box, text, bold=bold, colour=colour, clear=0.8)
    if box not in first:
        draw_leader(axes, box, anchor, colour)
        end = near_edge(box, anchor)
        if math.dist(end, anchor) > 1.0:
            board.block(segment_box(anchor, end, 0.3))
    return True

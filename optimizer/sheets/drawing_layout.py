"""Which way the paper lies, where the written panel goes, and the largest true scale that results."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from matplotlib.axes import Axes

from optimizer.errors import DripLayoutError
from optimizer.plan import Point
from optimizer.sheets.drawing_board import Box
from optimizer.sheets.drawing_panel import COLUMN_MM, Block, draw_panel, panel_height
from optimizer.sheets.labels import text_size, write
from optimizer.sheets.palette import INK
from optimizer.sheets.paper import (
    MARGIN_MM,
    MM_PER_INCH,
    Paper,
    Rect,
    View,
    drawing_scales,
    fit_view,
    nice_length,
    page_size,
    points,
)
from optimizer.units import Display, System

_STRIP_MM = 13.0
_PAD_MM = 3.0
_LEAST_MM = 50.0
"""no drawing area narrower than this"""

FOOT_M = 0.3048


@dataclass(frozen=True)
class Layout:
    """How a page is divided [mm]."""

    paper: Paper
    lying: bool
    frame: Rect
    panel: Rect
    columns: int
    ground: Rect
    strip: Rect
    view: View


def _panels(frame: Rect, blocks: Sequence[Block]) -> Iterator[tuple[Rect, int, Rect]]:
    """Yield panel, columns and the area left for the ground: panel at the right, or below."""
    body = Rect(frame.x0, frame.y0 + _STRIP_MM, frame.x1, frame.y1)
    for columns in (1, 2, 3):
        width = columns * (COLUMN_MM + 4.0) - 4.0
        high = panel_height(blocks, width, columns, body.height - 2 * _PAD_MM)
        if high is not None and body.width - width - 2 * _PAD_MM >= _LEAST_MM:
            split = body.x1 - width - 2 * _PAD_MM
            yield Rect(split, body.y0, body.x1, body.y1), columns, Rect(body.x0, body.y0, split, body.y1)
            break
    width = body.width - 2 * _PAD_MM
    columns = max(1, int((width + 4.0) // (COLUMN_MM + 4.0)))
    high = panel_height(blocks, width, columns, body.height - _LEAST_MM)
    if high is not None:
        split = body.y0 + high + 2 * _PAD_MM
        yield Rect(body.x0, body.y0, body.x1, split), columns, Rect(body.x0, split, body.x1, body.y1)


def choose_layout(
    paper: Paper, low: Point, high: Point, blocks: Sequence[Block], system: System, clear_mm: float
) -> Layout:
    """Divide the page so that the ground comes out largest.

    Args:
        paper: what is printed on.
        low: least x and y of the ground drawn [m].
        high: greatest x and y [m].
        blocks: text of the panel.
        system: unit system; it has its own scales.
        clear_mm: kept free around the ground for measures and names [mm].

    Returns:
        The layout of the finest scale; of equal ones the one with most room left around the ground.

    Raises:
        DripLayoutError: the text alone fills the page, or the ground is too large for any scale.
    """
    best: tuple[tuple[float, float], Layout] | None = None
    for lying in (True, False):
        width, height = page_size(paper, lying=lying)
        frame = Rect(0.0, 0.0, width, height).shrunk(MARGIN_MM)
        strip = Rect(frame.x0, frame.y0, frame.x1, frame.y0 + _STRIP_MM)
        for panel, columns, ground in _panels(frame, blocks):
            view = fit_view(low, high, ground.shrunk(clear_mm), drawing_scales(system))
            if view is None:
                continue
            rank = (view.denominator, -ground.width * ground.height)
            if best is None or rank < best[0]:
                best = rank, Layout(paper, lying, frame, panel, columns, ground, strip, view)
    if best is None:
        raise DripLayoutError(f"the plan does not fit {paper.name} paper; choose a larger one")
    return best[1]


def draw_frame(axes: Axes, layout: Layout, blocks: Sequence[Block], display: Display) -> None:
    """Draw border, panel and the strip with scale bar and check line."""
    _rectangle(axes, layout.frame, 0.5)
    _rectangle(axes, layout.panel, 0.25)
    _rectangle(axes, layout.strip, 0.25)
    draw_panel(axes, layout.panel.shrunk(_PAD_MM), blocks, layout.columns)
    text = _check_text(display.system)
    room = text_size(text)[0] + 6.0
    check_mm = 100.0 if display.system is System.METRIC else 4.0 * MM_PER_INCH
    _check_line(axes, layout.strip, check_mm, room, text)
    _scale_bar(
        axes, Rect(layout.strip.x0, layout.strip.y0, layout.strip.x1 - room, layout.strip.y1), layout.view, display
    )


def _rectangle(axes: Axes, rect: Rect, width: float) -> None:
    xs, ys = (rect.x0, rect.x1, rect.x1, rect.x0, rect.x0), (rect.y0, rect.y0, rect.y1, rect.y1, rect.y0)
    axes.plot(xs, ys, color=INK, linewidth=points(width), zorder=2, solid_joinstyle="miter")


def _bar(axes: Axes, x0: float, x1: float, y: float, *, dark: bool, gid: str | None = None) -> None:
    axes.fill(
        (x0, x1, x1, x0), (y - 0.9, y - 0.9, y + 0.9, y + 0.9), facecolor=INK if dark else "white", edgecolor=INK,
        linewidth=points(0.2), zorder=3, gid=gid,
    )  # fmt: skip


def _check_text(system: System) -> str:
    size = "100 mm" if system is System.METRIC else "4 in"
    return f"This bar must measure {size}; if not, the printer scaled the page."


def _check_line(axes: Axes, strip: Rect, length_mm: float, room_mm: float, text: str) -> None:
    """Draw a bar of known length at the right of the strip, with what it is for."""
    width, height = text_size(text)
    middle = strip.x1 - room_mm / 2
    write(axes, Box(middle, strip.y1 - 3.8, width, height), text)
    x0, y = middle - length_mm / 2, strip.y0 + 3.8
    axes.plot(
        (x0, x0 + length_mm),
        (y, y),
        color=INK,
        linewidth=points(0.5),
        solid_capstyle="butt",
        zorder=3,
        gid="check-line",
    )
    for x in (x0, x0 + length_mm):
        axes.plot((x, x), (y - 1.6, y + 1.6), color=INK, linewidth=points(0.35), zorder=3)


def _scale_bar(axes: Axes, area: Rect, view: View, display: Display) -> None:
    """Draw a bar of whole metres or feet in dark and light parts."""
    unit = 1.0 if display.system is System.METRIC else FOOT_M
    name = "m" if display.system is System.METRIC else "ft"
    length = nice_length((area.width - 16.0) / (view.mm_per_m * unit))
    parts = 5 if f"{length:e}"[0] == "5" else 4 if f"{length:e}"[0] == "2" else 2
    x0, y = area.x0 + 5.0, area.y0 + 3.6
    step = length / parts
    for k in range(parts):
        ends = [x0 + step * j * unit * view.mm_per_m for j in (k, k + 1)]
        _bar(axes, ends[0], ends[1], y, dark=k % 2 == 0, gid="scale-bar" if k == 0 else None)
    for value in (0.0, length / 2 if parts % 2 == 0 else step, length):
        text = f"{value:g} {name}" if value == length else f"{value:g}"
        size = text_size(text)
        shift = text_size(f" {name}")[0] / 2 if value == length else 0.0
        write(axes, Box(x0 + value * unit * view.mm_per_m + shift, y + 4.6, *size), text)


def sized(make: Callable[[str], Sequence[Block]], system: System) -> Sequence[Block]:
    """Return blocks that hold the longest text of a scale there is, to measure the panel by."""
    return make("1 in = 1000 ft (1:12000)" if system is System.US else "1:100000")

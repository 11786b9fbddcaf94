"""Paper, true drawing scales, and pages whose coordinates are millimetres on the paper.

Every picture is drawn on one axes that covers the page, so that one unit is one millimetre of the print.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from matplotlib import rc_context
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from numpy.typing import NDArray

from optimizer.errors import FileError
from optimizer.plan import Point
from optimizer.units import System

MM_PER_INCH = 25.4
PT_PER_MM = 72.0 / MM_PER_INCH
MARGIN_MM = 9.0
"""most printers cannot print nearer to the edge"""
PNG_DPI = 200

_SAVE_STYLE: Any = {
    "svg.hashsalt": "drip layout",
    "svg.fonttype": "path",
    "pdf.fonttype": 42,
    "pdf.compression": 6,
    "savefig.bbox": None,
    "savefig.facecolor": "white",
    "savefig.transparent": False,
}
# A fixed date (or none at all) in the file, so that the same plan gives the same bytes.
_METADATA: dict[str, dict[str, None]] = {".svg": {"Date": None}, ".pdf": {"CreationDate": None}, ".png": {}}

_METRIC_SCALES = (5, 10, 20, 25, 40, 50, 75, 100, 125, 150, 200, 250, 300, 400, 500, 600, 750)
_FEET_PER_INCH = (0.5, 1, 2, 3, 4, 5, 6, 8, 10, 12, 15, 20, 25, 30, 40, 50, 60, 80, 100, 150)


@dataclass(frozen=True)
class Paper:
    """A sheet of paper, as it stands upright; drawings turn it when they fit better lying."""

    name: str
    width_mm: float
    height_mm: float


A4 = Paper("A4", 210.0, 297.0)
A3 = Paper("A3", 297.0, 420.0)
LETTER = Paper("Letter", 215.9, 279.4)
TABLOID = Paper("Tabloid", 279.4, 431.8)
PAPERS = (A4, LETTER, A3, TABLOID)


@dataclass(frozen=True)
class Rect:
    """An upright rectangle on the page [mm]."""

    x0: float
    y0: float
    x1: float
    y1: float

    @property
    def width(self) -> float:
        """Extent along x [mm]."""
        return self.x1 - self.x0

    @property
    def height(self) -> float:
        """Extent along y [mm]."""
        return self.y1 - self.y0

    @property
    def centre(self) -> Point:
        """Middle of the rectangle [mm]."""
        return (self.x0 + self.x1) / 2, (self.y0 + self.y1) / 2

    def shrunk(self, by_mm: float) -> Rect:
        """Return the rectangle with every side moved inwards [mm]."""
        return Rect(self.x0 + by_mm, self.y0 + by_mm, self.x1 - by_mm, self.y1 - by_mm)


@dataclass(frozen=True)
class View:
    """Places plan metres on the page: one metre is 1000 / denominator millimetres."""

    denominator: float
    origin_mm: Point
    """where the plan's (0, 0) falls on the page"""

    @property
    def mm_per_m(self) -> float:
        """Millimetres of paper per metre of ground."""
        return 1000.0 / self.denominator

    def to_page(self, points: Sequence[Point]) -> NDArray[np.float64]:
        """Map plan points, shape (n, 2) [m], to the page, shape (n, 2) [mm]."""
        return np.asarray(points, dtype=float).reshape(-1, 2) * self.mm_per_m + self.origin_mm

    def at(self, point: Point) -> Point:
        """Map one plan point [m] to the page [mm]."""
        return (
            point[0] * self.mm_per_m + self.origin_mm[0],
            point[1] * self.mm_per_m + self.origin_mm[1],
        )


def page_size(paper: Paper, *, lying: bool) -> Point:
    """Return width and height of the page as it is turned [mm]."""
    return (paper.height_mm, paper.width_mm) if lying else (paper.width_mm, paper.height_mm)


def new_page(paper: Paper, *, lying: bool) -> tuple[Figure, Axes]:
    """Open an empty page with one axes in millimetres over all of it."""
    width, height = page_size(paper, lying=lying)
    figure = Figure(figsize=(width / MM_PER_INCH, height / MM_PER_INCH), dpi=100, facecolor="white")
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    axes.set_xlim(0.0, width)
    axes.set_ylim(0.0, height)
    axes.set_autoscale_on(False)
    axes.set_axis_off()
    return figure, axes


def mark_id(*words: str) -> str:
    """Return an id for a drawn thing that SVG allows: letters, digits, hyphens and dots."""
    return re.sub(r"[^\w.]+", "-", "-".join(words)).strip("-")


def points(width_mm: float) -> float:
    """Return a line width in points, as matplotlib wants it [mm]."""
    return width_mm * PT_PER_MM


def drawing_scales(system: System) -> tuple[float, ...]:
    """Return the denominators a ruler of the unit system can read, finest first.

    Metric scales are 1:n; US scales are whole (or half) feet to the inch, 1 in = 10 ft being 1:120.
    """
    base = _METRIC_SCALES if system is System.METRIC else tuple(12.0 * feet for feet in _FEET_PER_INCH)
    wide = tuple(1000.0 * n if system is System.METRIC else 2400.0 * n for n in (1, 1.25, 1.5, 2, 2.5, 3, 4, 5, 6, 8))
    return tuple(float(n) for n in base) + tuple(n * 10.0**k for k in range(3) for n in wide)


def scale_text(denominator: float, system: System) -> str:
    """Write a drawing scale the way it is read off a ruler."""
    if system is System.METRIC:
        return f"1:{denominator:g}"
    return f"1 in = {denominator / 12.0:g} ft (1:{denominator:g})"


def fit_view(low: Point, high: Point, area: Rect, denominators: Sequence[float]) -> View | None:
    """Return the largest true scale at which a box of ground fits an area, centred in it.

    Args:
        low: least x and y of what is drawn [m].
        high: greatest x and y [m].
        area: free area of the page [mm].
        denominators: scales allowed, finest first [1].

    Returns:
        The view, or None if even the coarsest scale is too large.
    """
    for denominator in denominators:
        factor = 1000.0 / denominator
        if (high[0] - low[0]) * factor <= area.width and (high[1] - low[1]) * factor <= area.height:
            middle = area.centre
            x = middle[0] - (low[0] + high[0]) / 2 * factor
            y = middle[1] - (low[1] + high[1]) / 2 * factor
            return View(denominator, (x, y))
    return None


def nice_length(target: float) -> float:
    """Return the greatest of 1, 2, 5 times a power of ten that is not above the target."""
    power = 10.0 ** math.floor(math.log10(target))
    return max(step * power for step in (1.0, 2.0, 5.0) if step * power <= target * (1 + 1e-9))


def save_drawing(figure: Figure, path: Path) -> None:
    """Write a drawing as SVG, PNG or PDF at its true size; the same figure gives the same bytes.

    Args:
        figure: what is written.
        path: the ending says which format.

    Raises:
        FileError: another ending, or the file cannot be written.
    """
    ending = path.suffix.lower()
    if ending not in _METADATA:
        raise FileError(f"{path}: a drawing is written as .svg, .png or .pdf")
    try:
        with rc_context(_SAVE_STYLE):
            figure.savefig(path, format=ending[1:], dpi=PNG_DPI, metadata=_METADATA[ending])
    except OSError as error:
        raise FileError(f"{path}: {error.strerror or error}") from error

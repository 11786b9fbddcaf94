"""Measures of a finished figure that do not use the code that placed its words."""

from __future__ import annotations

import math
import re
import xml.etree.ElementTree as ET
from pathlib import Path

from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.text import Text
from shapely import STRtree
from shapely.geometry import Polygon, box

MM = 25.4


def texts_of(figure: Figure) -> list[Text]:
    return [text for text in figure.findobj(Text) if text.get_text() and text.get_visible()]


def words(figure: Figure) -> str:
    """All that is written, with ordinary blanks."""
    return "\n".join(text.get_text().replace("\u00a0", " ") for text in texts_of(figure))


def rectangles(figure: Figure) -> list[tuple[str, Polygon]]:
    """Place of every text on the page [mm], measured by the backend and turned as the text is."""
    figure.set_dpi(254.0)  # ten pixels a millimetre
    renderer = FigureCanvasAgg(figure).get_renderer()
    out = []
    for text in texts_of(figure):
        turn = text.get_rotation()
        around = text.get_window_extent(renderer)
        x, y = (around.x0 + around.x1) / 2, (around.y0 + around.y1) / 2
        text.set_rotation(0.0)
        flat = text.get_window_extent(renderer)
        text.set_rotation(turn)
        c, s = math.cos(math.radians(turn)), math.sin(math.radians(turn))
        w, h = flat.width / 2, flat.height / 2
        corners = [(x + a * c - b * s, y + a * s + b * c) for a, b in ((-w, -h), (w, -h), (w, h), (-w, h))]
        out.append((text.get_text(), Polygon([(a / 10.0, b / 10.0) for a, b in corners])))
    return out


def overlaps(figure: Figure) -> list[tuple[str, str, float]]:
    """Pairs of texts that share more than a hundredth of a square millimetre."""
    places = rectangles(figure)
    shapes = [shape for _, shape in places]
    tree = STRtree(shapes)
    found = []
    for i, j in sorted(map(tuple, tree.query(shapes, predicate="intersects").T.tolist())):
        area = shapes[i].intersection(shapes[j]).area
        if i < j and area > 0.01:
            found.append((places[i][0], places[j][0], area))
    return found


def outside(figure: Figure, margin_mm: float = 5.0) -> list[str]:
    """Texts that reach into the margin a printer needs."""
    width, height = (float(size) * MM for size in figure.get_size_inches())
    page = box(margin_mm, margin_mm, width - margin_mm, height - margin_mm)
    return [text for text, shape in rectangles(figure) if not page.covers(shape)]


def svg_points(path: Path, gid: str) -> list[tuple[float, float]]:
    """Corners of the first path in an SVG group [mm], y upwards from the top of the page."""
    root = ET.parse(path).getroot()
    group = next(node for node in root.iter() if node.get("id") == gid)
    data = next(node.get("d") for node in group.iter() if node.tag.endswith("path"))
    numbers = re.findall(r"[ML] (-?[\d.]+) (-?[\d.]+)", data or "")
    assert root.get("width", "").endswith("pt")
    return [(float(x) * MM / 72.0, -float(y) * MM / 72.0) for x, y in numbers]

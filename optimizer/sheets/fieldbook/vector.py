"""Drawings as SVG that can stand in a page beside others."""

from __future__ import annotations

import io
import re
from html import escape

from matplotlib import rc_context
from matplotlib.figure import Figure

from optimizer.sheets.blocks import Picture, Sketch

MM_PER_INCH = 25.4

_PROLOG = re.compile(r"^.*?(?=<svg\b)", re.DOTALL)
_METADATA = re.compile(r"<metadata>.*?</metadata>\s*", re.DOTALL)
_ID = re.compile(r'\bid="([^"]+)"')
_HREF = re.compile(r'((?:xlink:)?href)="#([^"]+)"')
_URL = re.compile(r"url\(#([^)]+)\)")
_OPEN = re.compile(r"<svg\b[^>]*>", re.DOTALL)
_VIEW = re.compile(r'viewBox="[^"]+"')


def sketch_figure(sketch: Sketch) -> Figure:
    """Draw a sketch at its true size."""
    figure = Figure(figsize=(sketch.width_mm / MM_PER_INCH, sketch.height_mm / MM_PER_INCH), facecolor="white")
    sketch.paint(figure.add_axes((0.0, 0.0, 1.0, 1.0)))
    return figure


def figure_svg(figure: Figure) -> str:
    """Write a figure as SVG; the same figure gives the same text."""
    buffer = io.StringIO()
    with rc_context({"svg.hashsalt": "drip layout", "svg.fonttype": "path"}):
        figure.savefig(buffer, format="svg", metadata={"Date": None})
    return buffer.getvalue()


def _view_box(svg: str) -> str:
    opening = _OPEN.search(svg)
    view = _VIEW.search(opening[0]) if opening else None
    if view is None:
        raise ValueError("the drawing is no SVG with a viewBox")
    return view[0]


def inline_svg(svg: str, prefix: str, title: str, description: str) -> str:
    """Make SVG fit to stand in a web page: named for screen readers, its ids its own, no outside reference.

    Args:
        svg: a whole SVG document.
        prefix: put before every id, so that several drawings do not share ids.
        title: what the drawing is called.
        description: what it shows.

    Returns:
        The svg element.

    Raises:
        ValueError: not an SVG document with a viewBox.
    """
    view = _view_box(svg)
    body = _METADATA.sub("", _PROLOG.sub("", svg, count=1))
    body = _ID.sub(rf'id="{prefix}-\1"', body)
    body = _HREF.sub(rf'\1="#{prefix}-\2"', body)
    body = _URL.sub(rf"url(#{prefix}-\1)", body)
    names = f'aria-labelledby="{prefix}-title {prefix}-desc"'
    opening = (
        f'<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" {view} role="img" {names}>'
        f'<title id="{prefix}-title">{escape(title)}</title><desc id="{prefix}-desc">{escape(description)}</desc>'
    )
    return _OPEN.sub(lambda _: opening, body, count=1).strip()


def block_svg(block: Picture | Sketch, prefix: str) -> str:
    """Return the svg element of a picture or sketch."""
    figure = block.figure if isinstance(block, Picture) else sketch_figure(block)
    return inline_svg(figure_svg(figure), prefix, block.title, block.description)

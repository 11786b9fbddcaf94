"""The head assembly: what stands between the source and the mainline, in the order of flow."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from optimizer.errors import DripLayoutError
from optimizer.plan import HeadUnit, Plan, Point
from optimizer.sheets import drawing_marks as marks
from optimizer.sheets.drawing_board import Box
from optimizer.sheets.drawing_legend import looks, swatch
from optimizer.sheets.labels import LINE_MM, text_size, wrap, write
from optimizer.sheets.palette import INK, PALE, WATER
from optimizer.sheets.paper import MARGIN_MM, Paper, Rect, new_page, page_size, points
from optimizer.units import Display, System

_PIPE_X = 24.0
_TEXT_X = 42.0
_UNIT_MM = 19.0
_CAUTION = (
    "Backflow: garden water must never run back into drinking water. Which device is right, and whether it must stand "
    "first or above the highest emitter, is set by your water supplier and local code: ask before you assemble. Mains "
    "electricity near water is work for a qualified person. A full tank is heavy and needs a firm stand."
)


def draw_head(plan: Plan, paper: Paper) -> Figure:
    """Draw the parts of the head one below the other, numbered in the order of flow.

    Args:
        plan: whose head.
        paper: the page, upright.

    Returns:
        The figure, for `save_drawing`.

    Raises:
        DripLayoutError: more parts than the page is high.
    """
    display = Display(System(plan.unit_system))
    width, height = page_size(paper, lying=False)
    frame = Rect(0.0, 0.0, width, height).shrunk(MARGIN_MM)
    figure, axes = new_page(paper, lying=False)
    xs, ys = (frame.x0, frame.x1, frame.x1, frame.x0, frame.x0), (frame.y0, frame.y0, frame.y1, frame.y1, frame.y0)
    axes.plot(xs, ys, color=INK, linewidth=points(0.5), zorder=2)
    _line(
        axes, frame.x0 + 3.0, frame.y1 - 5.5, wrap(plan.title, frame.width - 6.0, 14.0, bold=True)[0], 14.0, bold=True
    )
    _line(axes, frame.x0 + 3.0, frame.y1 - 11.5, "Head parts in the order of flow", 11.0, bold=True)
    top = frame.y1 - 26.0
    bottom = _draw_chain(axes, plan, frame, top, display)
    low = _write_caution(axes, frame)
    if bottom < low:
        raise DripLayoutError(f"{len(plan.head_units)} head parts do not fit {paper.name} paper; choose a larger one")
    return figure


def _line(axes: Axes, left: float, y: float, text: str, size_pt: float = 10.0, *, bold: bool = False) -> None:
    width, height = text_size(text, size_pt, bold=bold)
    write(axes, Box(left + width / 2, y, width, height), text, size_pt=size_pt, bold=bold, flush=True)


def _draw_chain(axes: Axes, plan: Plan, frame: Rect, top: float, display: Display) -> float:
    """Draw source, parts and zones downwards; return how far down that went [mm]."""
    x, left = frame.x0 + _PIPE_X, frame.x0 + _TEXT_X
    room = frame.x1 - left - 3.0
    units = list(enumerate(plan.head_units, start=1))
    name = plan.site.source_kind
    marks.source(axes, (x, top))
    if units and units[0][1].name == name:
        # the plan counts the source itself as first part
        _number(axes, (x, top), units.pop(0)[0])
    _line(axes, left, top, name, bold=True)
    y = top
    for number, unit in units:
        notes = wrap(unit.note, room) if unit.note else []
        below = y - _UNIT_MM - max(0, len(notes) - 1) * LINE_MM
        _pipe(axes, x, y - 3.0, below + 4.6)
        _draw_unit(axes, (x, below), unit, number)
        _line(axes, left, below + (2.4 if notes else 0.0), unit.name, bold=True)
        for k, note in enumerate(notes):
            _line(axes, left, below + 2.4 - (k + 1) * LINE_MM, note)
        y = below - max(0, len(notes) - 1) * LINE_MM * 0.5
    _pipe(axes, x, y - 4.6, y - _UNIT_MM + 4.0)
    return _write_zones(axes, plan, left, y - _UNIT_MM, display)


def _write_zones(axes: Axes, plan: Plan, left: float, y: float, display: Display) -> float:
    _line(axes, left, y, "Mainline to the zones" if len(plan.zones) > 1 else "Mainline to the zone", bold=True)
    for zone_id, look in looks(plan).items():
        y -= LINE_MM
        water = next(zone.water for zone in plan.zones if zone.id == zone_id)
        swatch(look, zone_id)(axes, left + 4.2, y)
        before, behind = display.pressure(water.source_head_m), display.pressure(water.inlet_head_m)
        text = f"{display.flow(water.flow_m3_s)}; {before} at the {plan.site.source_kind}, {behind} behind the head"
        _line(axes, left + 10.0, y, text)
    return y - LINE_MM


def _pipe(axes: Axes, x: float, top: float, bottom: float) -> None:
    """Draw the tube between two parts, with an arrow along the flow."""
    marks.tube_line(axes, np.array([[x, top], [x, bottom]]), "header")
    middle = (top + bottom) / 2
    axes.fill((x - 1.6, x + 1.6, x), (middle + 1.4, middle + 1.4, middle - 1.8), color=WATER, linewidth=0, zorder=10)


def _draw_unit(axes: Axes, at: Point, unit: HeadUnit, number: int) -> None:
    """Draw a part as a box with its mark, its number beside it."""
    x, y = at
    half = 4.6
    axes.fill(
        (x - half, x + half, x + half, x - half), (y - half, y - half, y + half, y + half), facecolor=PALE,
        edgecolor=INK, linewidth=points(0.4), zorder=10,
    )  # fmt: skip
    _mark_of(unit)(axes, at)
    _number(axes, at, number)


def _number(axes: Axes, at: Point, number: int) -> None:
    size = text_size(str(number), 12.0, bold=True)
    write(axes, Box(at[0] - 12.0, at[1], *size), str(number), size_pt=12.0, bold=True)


Mark = Callable[[Axes, Point], None]


def _mark_of(unit: HeadUnit) -> Mark:
    """Return the mark of a kind of part; parts of other kinds get a plain box."""
    words = f"{unit.kind} {unit.name}".lower()
    for word, mark in _MARKS:
        if word in words:
            return mark
    return _plain


def _stroke(axes: Axes, xs: tuple[float, ...], ys: tuple[float, ...], width: float = 0.4) -> None:
    axes.plot(xs, ys, color=INK, linewidth=points(width), zorder=11, solid_capstyle="round")


def _plain(axes: Axes, at: Point) -> None:
    """No mark."""


def _check(axes: Axes, at: Point) -> None:
    """A flap on its seat: water passes downwards only."""
    x, y = at
    axes.fill(
        (x - 2.4, x + 2.4, x),
        (y + 2.0, y + 2.0, y - 1.8),
        facecolor="white",
        edgecolor=INK,
        linewidth=points(0.4),
        zorder=11,
    )
    _stroke(axes, (x - 2.4, x + 2.4), (y - 2.0, y - 2.0), 0.7)


def _filter(axes: Axes, at: Point) -> None:
    """A screen across the flow."""
    x, y = at
    _stroke(axes, (x - 3.0, x, x + 3.0, x, x - 3.0), (y, y + 3.0, y, y - 3.0, y))
    axes.plot((x - 3.0, x + 3.0), (y, y), color=INK, linewidth=points(0.5), linestyle=(0, (2, 1.2)), zorder=11)


def _regulator(axes: Axes, at: Point) -> None:
    """A gauge: dial and hand."""
    x, y = at
    turn = np.linspace(math.radians(-40.0), math.radians(220.0), 40)
    _stroke(axes, tuple(x + 3.0 * np.cos(turn)), tuple(y - 0.4 + 3.0 * np.sin(turn)))
    _stroke(axes, (x, x + 1.6), (y - 0.4, y + 1.4), 0.6)


def _clock(axes: Axes, at: Point) -> None:
    """A clock face."""
    x, y = at
    turn = np.linspace(0.0, 2 * math.pi, 48)
    _stroke(axes, tuple(x + 3.0 * np.cos(turn)), tuple(y + 3.0 * np.sin(turn)))
    _stroke(axes, (x, x, x + 1.5), (y + 2.0, y, y - 0.8), 0.5)


def _meter(axes: Axes, at: Point) -> None:
    """A row of counting windows."""
    x, y = at
    for k in (-1.0, 0.0, 1.0):
        xs, ys = (x + 2.0 * k - 0.9, x + 2.0 * k + 0.9), (y - 1.3, y + 1.3)
        _stroke(axes, (xs[0], xs[1], xs[1], xs[0], xs[0]), (ys[0], ys[0], ys[1], ys[1], ys[0]), 0.3)


def _hose(axes: Axes, at: Point) -> None:
    """A coil."""
    turn = np.linspace(0.0, 5 * math.pi, 90)
    radius = 0.8 + 2.2 * turn / turn[-1]
    _stroke(axes, tuple(at[0] + radius * np.cos(turn)), tuple(at[1] + radius * np.sin(turn)))


def _valve(axes: Axes, at: Point) -> None:
    marks.zone_valve(axes, at, 90.0)


_MARKS: tuple[tuple[str, Mark], ...] = (
    ("backflow", _check),
    ("breaker", _check),
    ("check", _check),
    ("filter", _filter),
    ("regulator", _regulator),
    ("timer", _clock),
    ("meter", _meter),
    ("hose", _hose),
    ("valve", _valve),
)


def _write_caution(axes: Axes, frame: Rect) -> float:
    """Write cautions at the foot of the page; return how high they reach [mm]."""
    lines = wrap(_CAUTION, frame.width - 6.0)
    top = frame.y0 + 4.0 + len(lines) * LINE_MM
    for k, text in enumerate(lines):
        _line(axes, frame.x0 + 3.0, top - (k + 0.5) * LINE_MM, text)
    axes.plot((frame.x0, frame.x1), (top + 1.5, top + 1.5), color=INK, linewidth=points(0.25), zorder=2)
    return top + 3.0

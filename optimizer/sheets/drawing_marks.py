"""Marks for fittings, drawn in millimetres of paper, the same on the plan and in its key."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection
from numpy.typing import NDArray

from optimizer.plan import Point
from optimizer.sheets.drawing_board import Box
from optimizer.sheets.labels import text_size, write
from optimizer.sheets.palette import INK, WATER, ZoneLook
from optimizer.sheets.paper import points

_ZORDER = 12.0


def turned(shape: Sequence[Point], at: Point, angle_deg: float) -> NDArray[np.float64]:
    """Turn a shape anticlockwise and move it to a place, shape (n, 2) [mm, deg]."""
    c, s = math.cos(math.radians(angle_deg)), math.sin(math.radians(angle_deg))
    return np.array([(at[0] + x * c - y * s, at[1] + x * s + y * c) for x, y in shape])


def _fill(
    axes: Axes, shape: Sequence[Point], at: Point, angle: float, face: str, edge: str = INK, width: float = 0.25
) -> None:
    xy = turned(shape, at, angle)
    axes.fill(
        xy[:, 0], xy[:, 1], facecolor=face, edgecolor=edge, linewidth=points(width), zorder=_ZORDER, joinstyle="miter"
    )


def take_off(axes: Axes, at: Point, size_mm: float = 0.9) -> None:
    """A dot on the header."""
    axes.plot([at[0]], [at[1]], "o", color=WATER, markersize=points(size_mm), markeredgewidth=0, zorder=_ZORDER)


def end_closures(
    axes: Axes, places: Sequence[tuple[Point, float]], colours: Sequence[str], half_mm: float = 0.9
) -> None:
    """Short bars across the ends of tubes."""
    bars = [turned(((0.0, -half_mm), (0.0, half_mm)), at, angle) for at, angle in places]
    axes.add_collection(
        LineCollection(bars, colors=list(colours), linewidths=points(0.5), zorder=_ZORDER), autolim=False
    )


def coupler(axes: Axes, at: Point, angle_deg: float) -> None:
    """A small white sleeve on the tube."""
    _fill(axes, ((-1.1, -0.65), (1.1, -0.65), (1.1, 0.65), (-1.1, 0.65)), at, angle_deg, "white")


def zone_valve(axes: Axes, at: Point, angle_deg: float, face: str = "white") -> None:
    """Two triangles point to point across the tube."""
    for side in (-1.0, 1.0):
        _fill(axes, ((0.0, 0.0), (side * 2.1, 1.4), (side * 2.1, -1.4)), at, angle_deg, face)


def row_shut_off(axes: Axes, at: Point, angle_deg: float, size_mm: float = 1.7) -> None:
    """A small valve on the emitter line, right behind its take-off."""
    half, wide = size_mm / 2, 0.35 * size_mm
    for side in (-1.0, 1.0):
        shape = ((1.2 * size_mm, 0.0), (1.2 * size_mm + side * half, wide), (1.2 * size_mm + side * half, -wide))
        _fill(axes, shape, at, angle_deg, "white", width=0.2)


def low_drain(axes: Axes, at: Point) -> None:
    """A drop below the tube."""
    curve = [(1.05 * math.sin(t) * math.sin(t / 2), 1.5 * math.cos(t)) for t in np.linspace(0.0, 2 * math.pi, 25)]
    _fill(axes, [(x, y - 1.9) for x, y in curve], at, 0.0, "white", WATER, 0.3)


def covered_crossing(axes: Axes, at: Point, angle_deg: float) -> None:
    """A sleeve drawn around the tube."""
    for side in (-1.0, 1.0):
        xy = turned(((-2.2, side * 1.2), (-1.8, side * 0.9), (1.8, side * 0.9), (2.2, side * 1.2)), at, angle_deg)
        axes.plot(xy[:, 0], xy[:, 1], color=INK, linewidth=points(0.35), zorder=_ZORDER)


def source(axes: Axes, at: Point) -> None:
    """A ring with a filled middle: where the water comes from."""
    for size, face in ((4.4, "white"), (2.0, WATER)):
        axes.plot(
            [at[0]], [at[1]], "o", markersize=points(size), markerfacecolor=face, markeredgecolor=INK,
            markeredgewidth=points(0.4), zorder=_ZORDER + 1,
        )  # fmt: skip


def header_zero(axes: Axes, at: Point, angle_deg: float) -> None:
    """A wide bar across the header at the end its distances are measured from."""
    bar = turned(((0.0, -1.7), (0.0, 1.7)), at, angle_deg)
    axes.plot(bar[:, 0], bar[:, 1], color=INK, linewidth=points(0.7), zorder=_ZORDER)


def tube_line(axes: Axes, line: NDArray[np.float64], kind: str, gid: str | None = None) -> None:
    """Blank tube: the mainline as a hollow line, a header as a solid one.

    The hollow one is the wider, so that both can be seen where they lie in one trench.

    Args:
        axes: page in millimetres.
        line: corners, shape (n, 2) [mm].
        kind: "mainline" or "header".
        gid: name of the line in the file.
    """
    if kind == "mainline":
        _stroke(axes, line, INK, 1.7, 9.0, gid)
        _stroke(axes, line, "white", 1.2, 9.1, None)
    else:
        _stroke(axes, line, WATER, 0.8, 9.5, gid)


def _stroke(axes: Axes, line: NDArray[np.float64], colour: str, width: float, zorder: float, gid: str | None) -> None:
    axes.plot(
        line[:, 0], line[:, 1], color=colour, linewidth=points(width), zorder=zorder, solid_capstyle="butt",
        solid_joinstyle="round", gid=gid,
    )  # fmt: skip


def zone_badge(axes: Axes, at: Point, letter: str, look: ZoneLook, size_pt: float = 10.0) -> Box:
    """The zone's letter in a ring of its colour; returns the place it takes."""
    width, height = text_size(letter, size_pt, bold=True)
    box = Box(at[0], at[1], max(width, height) + 1.0, height + 1.0)
    axes.fill(
        *zip(*box.corners(), strict=True), facecolor="white", edgecolor=look.ink, linewidth=points(0.45), zorder=18
    )
    write(axes, Box(at[0], at[1], width, height), letter, size_pt=size_pt, bold=True, colour=look.ink)
    return box

"""Mark-out strip: a header seen from its zero, every running distance with what leaves left and right. Not to scale."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from itertools import groupby
from typing import TYPE_CHECKING

from optimizer.plan import Header, Plan
from optimizer.sheets.blocks import Sketch
from optimizer.sheets.lists import display, lines_of_row, metres, zone_words
from optimizer.sheets.markout import Mark, marks

if TYPE_CHECKING:
    from matplotlib.axes import Axes

WIDTH_MM = 96.0
PLACES = 26
"""marks on one strip; a longer header goes on with the next one"""
_STEP_MM = 7.5
_HALF_MM = 17.0
"""half the width of the box with the distance"""
_INK = "#111111"
_NOTES = {
    "zero": "zero",
    "inlet": "inlet",
    "corner": "corner",
    "crossing": "crossing",
    "joint": "coupler",
    "end": "end",
}


@dataclass(frozen=True)
class Place:
    """All that is made at one distance."""

    distance: str
    left: str
    right: str
    notes: str


def _row_words(mark: Mark, lines: dict[str, int]) -> str:
    if mark.lateral is None:
        return ""
    name = mark.lateral.id
    return f"{name} line {mark.lateral.line}" if lines[mark.row_id] > 1 else name


def _side(found: list[Mark], side: str, lines: dict[str, int]) -> str:
    return ", ".join(_row_words(mark, lines) for mark in found if mark.side == side)


def places(plan: Plan, header: Header) -> tuple[Place, ...]:
    """Return the places of a header from its zero onwards."""
    shown, lines = display(plan), lines_of_row(plan)
    answer = []
    for distance_um, group in groupby(marks(plan, header), key=lambda mark: mark.distance_um):
        found = list(group)
        notes = ", ".join(_NOTES[mark.kind] for mark in found if mark.kind in _NOTES)
        answer.append(
            Place(shown.length(metres(distance_um)), _side(found, "left", lines), _side(found, "right", lines), notes)
        )
    return tuple(answer)


def _paint_place(axes: Axes, place: Place, y: float) -> None:
    from matplotlib.patches import Rectangle

    middle = WIDTH_MM / 2.0
    axes.add_patch(
        Rectangle(
            (middle - _HALF_MM, y - 2.7), 2 * _HALF_MM, 5.4, facecolor="white", edgecolor=_INK, linewidth=1.0, zorder=2
        )
    )
    axes.text(middle, y, place.distance, size=10, weight="bold", ha="center", va="center", color=_INK, zorder=3)
    right = "; ".join(part for part in (place.right, place.notes and f"({place.notes})") if part)
    for text, sign, align in ((place.left, -1.0, "right"), (right, 1.0, "left")):
        if text:
            edge = middle + sign * _HALF_MM
            axes.plot([edge, edge + sign * 3.0], [y, y], color=_INK, linewidth=1.0 if text.startswith("(") else 2.2)
            axes.text(edge + sign * 4.0, y, text, size=10, ha=align, va="center", color=_INK, parse_math=False)


def _paint(shown: tuple[Place, ...], axes: Axes) -> None:
    height = _height(len(shown))
    axes.set_xlim(0.0, WIDTH_MM)
    axes.set_ylim(0.0, height)
    axes.set_axis_off()
    axes.plot([WIDTH_MM / 2.0] * 2, [1.0, height - 1.0], color=_INK, linewidth=4.0, solid_capstyle="butt", zorder=1)
    for index, place in enumerate(shown):
        _paint_place(axes, place, 4.0 + index * _STEP_MM)


def _height(count: int) -> float:
    return 8.0 + (count - 1) * _STEP_MM


def _described(shown: tuple[Place, ...]) -> str:
    parts = [
        f"{place.distance}: "
        + ", ".join(
            part
            for part in (place.left and f"left {place.left}", place.right and f"right {place.right}", place.notes)
            if part
        )
        for place in shown
    ]
    return "From the zero upwards: " + "; ".join(parts) + "."


def strip_sketches(plan: Plan, header: Header) -> tuple[Sketch, ...]:
    """Return the mark-out strip of a header, zero at the bottom so that left and right are as one walks.

    Args:
        plan: the plan.
        header: one of its headers.

    Returns:
        One sketch for every 26 places.
    """
    found = places(plan, header)
    runs = [found[start : start + PLACES] for start in range(0, len(found), PLACES)]
    return tuple(
        Sketch(
            title=f"Strip of header {header.id}, {zone_words(header)}, zero at the bottom, not to scale"
            + (f" ({number} of {len(runs)})" if len(runs) > 1 else ""),
            description=_described(run),
            width_mm=WIDTH_MM,
            height_mm=_height(len(run)),
            paint=partial(_paint, run),
        )
        for number, run in enumerate(runs, start=1)
    )

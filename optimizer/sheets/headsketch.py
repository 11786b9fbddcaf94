"""Sketch of the head assembly: the parts from the tap down to the mainline, numbered as in the steps."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from optimizer.plan import Plan
from optimizer.sheets.blocks import Sketch
from optimizer.sheets.install import head_parts, head_steps

if TYPE_CHECKING:
    from matplotlib.axes import Axes

WIDTH_MM = 90.0
_STEP_MM = 15.0
_BOX_MM = 9.5
_INK = "#111111"


def _part(axes: Axes, number: int, name: str, top: float, *, end: bool) -> None:
    from matplotlib.patches import Rectangle

    face = "#e6e6e6" if end else "white"
    axes.add_patch(
        Rectangle((1.0, top - _BOX_MM), WIDTH_MM - 2.0, _BOX_MM, facecolor=face, edgecolor=_INK, linewidth=1.2)
    )
    middle = top - _BOX_MM / 2.0
    axes.text(6.0, middle, str(number), size=12, weight="bold", ha="center", va="center", color=_INK)
    axes.text(12.0, middle, name, size=10, va="center", color=_INK, parse_math=False)


def _arrow(axes: Axes, top: float) -> None:
    """Draw the flow from one box down to the next."""
    middle, low = WIDTH_MM / 2.0, top - (_STEP_MM - _BOX_MM)
    axes.annotate("", (middle, low), (middle, top), arrowprops={"arrowstyle": "-|>", "color": _INK, "lw": 1.8})


def _fitting(name: str, room: int = 36) -> str:
    return name if len(name) <= room else name[: room - 3].rstrip() + "..."


def _paint(names: tuple[str, ...], axes: Axes) -> None:
    height = _height(len(names))
    axes.set_xlim(0.0, WIDTH_MM)
    axes.set_ylim(0.0, height)
    axes.set_axis_off()
    for index, name in enumerate(names):
        top = height - 1.0 - index * _STEP_MM
        last = index == len(names) - 1
        _part(axes, index + 1, _fitting(name), top, end=index == 0 or last)
        if not last:
            _arrow(axes, top - _BOX_MM)


def _height(count: int) -> float:
    return (count - 1) * _STEP_MM + _BOX_MM + 2.0


def head_sketch(plan: Plan) -> Sketch:
    """Return the sketch of the plan's head assembly; long names are shortened in it, never in the steps."""
    names = (plan.site.source_kind, *(unit.name for unit in head_parts(plan)), "mainline")
    return Sketch(
        title="Head assembly",
        description="Parts one under the other in the order of flow: " + "; ".join(head_steps(plan)) + ".",
        width_mm=WIDTH_MM,
        height_mm=_height(len(names)),
        paint=partial(_paint, names),
    )

"""The drawings of a plan as pages of the field book."""

from __future__ import annotations

from optimizer.plan import Plan
from optimizer.sheets.blocks import Picture
from optimizer.sheets.drawing_plan import draw_plan
from optimizer.sheets.drawing_pressure import draw_pressure_map
from optimizer.sheets.drawing_rolls import draw_rolls
from optimizer.sheets.install import MANY
from optimizer.sheets.lists import counted, display, place_text, zone_words
from optimizer.sheets.paper import A4, Paper
from optimizer.sheets.spans import headers_text


def _headers(plan: Plan) -> str:
    """Say where the headers lie; of many only in which beds, to be heard to the end."""
    if len(plan.headers) > MANY:
        told = ", ".join(headers_text(plan, plan.headers))
        return f"headers {told}; the mark-out list says where in the beds"
    return "; ".join(
        f"header {header.id} of {zone_words(header)} from {place_text(plan, header.points[0])} to "
        f"{place_text(plan, header.points[-1])}"
        for header in plan.headers
    )


def _described(plan: Plan) -> str:
    shown = display(plan)
    headers = _headers(plan)
    longest = shown.length(max((row.planted_m for row in plan.rows), default=0.0))
    shapes = ", ".join(f"{shape.kind} {shape.name}" for shape in plan.site.shapes)
    return (
        f"Plan to scale: {plan.site.source_kind} at {place_text(plan, plan.site.source_at)}; "
        f"{counted(len(plan.rows), 'row')}, the longest {longest}; {headers}"
        f"{'; also ' + shapes if shapes else ''}. Rows, lengths and places stand in the tables."
    )


def _cuts(plan: Plan, paper: Paper) -> tuple[Picture, ...]:
    words = "Every roll as a bar with its pieces in cutting order; lengths and marks stand in the tables before it."
    return tuple(Picture("What is cut from which roll", words, figure) for figure in draw_rolls(plan, paper))


def _pressures(plan: Plan) -> str:
    shown = display(plan)
    zones = "; ".join(
        f"zone {zone.id} from {shown.pressure(zone.water.least_head_m)} to {shown.pressure(zone.water.greatest_head_m)}"
        for zone in plan.zones
    )
    return f"Pressure at every emitter while its zone runs: {zones}."


def plan_pictures(plan: Plan, paper: Paper = A4) -> dict[str, tuple[Picture, ...]]:
    """Draw the pictures that go into the field book.

    Args:
        plan: what is drawn.
        paper: the page they are printed on.

    Returns:
        Under the id of their chapter: the one-page plan, the cut rolls and the pressure map.

    Raises:
        DripLayoutError: the paper is too small for the plan's text.
    """
    pressure = Picture("Pressure at the emitters", _pressures(plan), draw_pressure_map(plan, paper))
    return {
        "plan": (Picture("One-page plan", _described(plan), draw_plan(plan, paper)),),
        "cutting": _cuts(plan, paper),
        "why": (pressure,),
    }

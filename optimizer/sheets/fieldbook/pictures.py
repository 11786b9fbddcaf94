"""The drawings of a plan as pages of the field book."""

from __future__ import annotations

from optimizer.plan import Plan
from optimizer.sheets.blocks import Picture
from optimizer.sheets.drawing_plan import draw_plan
from optimizer.sheets.lists import counted, display, place_text
from optimizer.sheets.paper import A4, Paper


def _described(plan: Plan) -> str:
    shown = display(plan)
    headers = "; ".join(
        f"header {header.id} of zone {header.zone_id} from {place_text(plan, header.points[0])} to "
        f"{place_text(plan, header.points[-1])}"
        for header in plan.headers
    )
    longest = shown.length(max((row.planted_m for row in plan.rows), default=0.0))
    shapes = ", ".join(f"{shape.kind} {shape.name}" for shape in plan.site.shapes)
    return (
        f"Plan to scale: {plan.site.source_kind} at {place_text(plan, plan.site.source_at)}; "
        f"{counted(len(plan.rows), 'row')}, the longest {longest}; {headers}"
        f"{'; also ' + shapes if shapes else ''}. Rows, lengths and places stand in the tables."
    )


def plan_pictures(plan: Plan, paper: Paper = A4) -> tuple[Picture, ...]:
    """Draw the pictures that go into the field book.

    Args:
        plan: what is drawn.
        paper: the page they are printed on.

    Returns:
        The one-page plan.

    Raises:
        DripLayoutError: the paper is too small for the plan's text.
    """
    return (Picture("One-page plan", _described(plan), draw_plan(plan, paper)),)

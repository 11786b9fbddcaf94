"""What a finished run prints: the layout, what it costs, its zones, what it was compared with, and the proof."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from rich.console import Console
from rich.table import Table

from optimizer.plan import Alternative, Outcome, Plan
from optimizer.units import Display, System, money, whole

_WIDTH = 80


def _layout_lines(plan: Plan, display: Display) -> list[str]:
    lines = []
    for bed in plan.beds:
        rows = [row for row in plan.rows if row.bed == bed.name]
        crops = ", ".join(dict.fromkeys(f"{row.crop} {sum(r.crop == row.crop for r in rows)}" for row in rows))
        lines.append(f"{bed.name}: {len(rows)} rows {bed.row_angle_name} ({crops})")
        lines.append(f"  header {' and '.join(bed.header_places)}")
    product, tube = plan.zones[0].product, plan.headers[0].tube
    used = sum(lateral.length_um for lateral in plan.laterals) / 1e6
    lines.append(f"line   {product}, {display.length(used)} in {len(plan.laterals)} laterals")
    lines.append(f"tube   {tube}")
    return lines


def _zone_table(plan: Plan, display: Display) -> Table:
    table = Table(box=None, pad_edge=False, title="Zones", title_justify="left")
    for name in ("zone", "rows", "flow", "of usable", "pressure", "variation", "nearest limit"):
        table.add_column(name, justify="left" if name in ("zone", "rows", "nearest limit") else "right")
    for zone in plan.zones:
        water = zone.water
        usable = f"{100 * water.flow_m3_s / water.usable_flow_m3_s:.0f} %" if water.usable_flow_m3_s else "-"
        rows = zone.row_ids[0] if len(zone.row_ids) == 1 else f"{zone.row_ids[0]}-{zone.row_ids[-1]}"
        table.add_row(
            zone.id,
            rows,
            display.flow(water.flow_m3_s),
            usable,
            display.pressure(water.least_head_m),
            display.percent(water.flow_variation),
            water.binds,
        )
    return table


def _layout_name(item: Alternative) -> str:
    return f"rows {item.row_angle}, header {' and '.join(item.header_places)}"


def _comparison_table(plan: Plan, display: Display) -> Table:
    table = Table(box=None, pad_edge=False, title="Compared with", title_justify="left")
    for name in ("layout", "money", "spent", "left over", "fittings", "zones", "why not"):
        table.add_column(name, justify="left" if name in ("layout", "why not") else "right")
    for item in plan.alternatives:
        table.add_row(
            _layout_name(item) + ("" if item.why == "the plan" else f" ({item.product})"),
            money(item.money_ct, ""),
            display.length(item.waste_um / 1e6),
            display.length(item.leftover_um / 1e6),
            str(item.fittings),
            str(item.zones),
            item.why,
        )
    return table


def goal_text(name: str, value: int, currency: str, display: Display) -> str:
    """Return a goal's value in the user's units."""
    if name == "money":
        return money(value, currency)
    if name == "waste":
        return display.length(value / 1e6)
    if name == "flow variation":
        return f"{value / 100:.2f} %"
    if name == "requests missing":
        return "none" if not value else f"{value / 10_000:.1f} %"
    return str(value)


def _goal_lines(plan: Plan, display: Display) -> list[str]:
    lines = []
    for goal in plan.certificate.goals:
        value = goal_text(goal.name, goal.value, plan.currency, display)
        bound = "proven" if goal.proven else f"no less than {goal_text(goal.name, goal.bound, plan.currency, display)}"
        lines.append(f"  {goal.name:<17} {value:>14}   {bound}")
    return lines


def print_summary(console: Console, plan: Plan, directory: Path) -> None:
    """Print the summary of a plan."""
    display = Display(System(plan.unit_system))
    console.width = min(console.width, _WIDTH) if console.is_terminal else _WIDTH
    say = console.print
    say(f"{plan.title}: {plan.certificate.status}", style="bold")
    for line in _layout_lines(plan, display):
        say(line)
    say()
    say(_zone_table(plan, display))
    say()
    say(_comparison_table(plan, display))
    say()
    certificate = plan.certificate
    say(f"Proof: {whole(certificate.designs)} designs, {certificate.solved} worked out to the last cut")
    for line in [
        *_goal_lines(plan, display),
        *(f"  {whole(count)} {reason}" for reason, count in certificate.ruled_out),
    ]:
        say(line)
    for line in (*plan.warnings, *plan.not_watered):
        say(f"Note: {line}", style="yellow")
    say(f"\nWritten to {directory}: plan.pdf, plan.svg, plan.png, cut-list, shopping, mark-out, plan.json")
    say("Keep garden water out of drinking water: fit a backflow device your local code accepts.")


def print_outcome(console: Console, outcome: Outcome) -> None:
    """Print why there is no plan."""
    console.print(f"No plan: {outcome.status}", style="bold")
    for reason in outcome.reasons:
        console.print(f"  {reason}")
    for number, lever in enumerate(outcome.levers, start=1):
        console.print(f"  {number}. {lever.change}: {lever.amount} ({lever.field_path} = {lever.new_value})")


def outcome_json(outcome: Outcome, directory: Path) -> dict[str, Any]:
    """Return the summary of a run as plain values."""
    found: dict[str, Any] = {"status": str(outcome.status), "reasons": list(outcome.reasons)}
    found["levers"] = [lever.__dict__ for lever in outcome.levers]
    if outcome.plan is not None:
        goals = outcome.plan.certificate.goals
        found["goals"] = {goal.name: {"value": goal.value, "bound": goal.bound, "unit": goal.unit} for goal in goals}
        found["zones"] = len(outcome.plan.zones)
        found["directory"] = str(directory)
    return found

"""What a finished run prints: the layout, what it costs, its zones, what it was compared with, and the proof."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from textwrap import wrap
from typing import Any

from rich.console import Console
from rich.table import Table

from optimizer.plan import Alternative, BedMap, Outcome, Plan
from optimizer.sheets.lists import shut_offs_text
from optimizer.sheets.spans import name_span, rows_text
from optimizer.units import Display, System, money, whole

_WIDTH = 80


def _bed_words(plan: Plan, bed: BedMap) -> str:
    """Say how many rows of which crops a bed has, and how they lie."""
    rows = [row for row in plan.rows if row.bed == bed.name]
    crops = ", ".join(dict.fromkeys(f"{row.crop} {sum(r.crop == row.crop for r in rows)}" for row in rows))
    return f"{len(rows)} rows {bed.row_angle_name} ({crops})"


def _alike(words: Iterable[tuple[str, str]]) -> dict[str, list[str]]:
    """Return the names under the words they share, in the order of the first of each."""
    found: dict[str, list[str]] = {}
    for name, text in words:
        found.setdefault(text, []).append(name)
    return found


def _bed_lines(plan: Plan) -> list[str]:
    """Return rows and headers of the beds; alike beds are told together."""
    if len(plan.beds) == 1:
        bed = plan.beds[0]
        return [f"{bed.name}: {_bed_words(plan, bed)}", f"  header {' and '.join(bed.header_places)}"]
    beds = _alike((bed.name, _bed_words(plan, bed)) for bed in plan.beds)
    # Which beds share a header is told once for the header, not again for each of its beds.
    places = _alike((bed.name, place.split(", shared with")[0]) for bed in plan.beds for place in bed.header_places)
    shared = [header for header in plan.headers if len(header.beds) > 1]
    return [
        *(f"{name_span(names)}: {words}" for words, names in beds.items()),
        *(f"header {place}: {name_span(names)}" for place, names in places.items()),
        *(f"header {header.id} shared by {name_span(header.beds)}" for header in shared),
    ]


def _tube_words(plan: Plan) -> str:
    headers = " and ".join(dict.fromkeys(header.tube for header in plan.headers))
    mainline = " and ".join(dict.fromkeys(part.tube for part in plan.mainline))
    return headers if mainline in ("", headers) else f"headers {headers}; mainline {mainline}"


def _layout_lines(plan: Plan, display: Display) -> list[str]:
    used = sum(lateral.length_um for lateral in plan.laterals) / 1e6
    products = " and ".join(dict.fromkeys(zone.product for zone in plan.zones))
    lines = [
        *_bed_lines(plan),
        f"line   {products}, {display.length(used)} in {len(plan.laterals)} laterals",
        f"tube   {_tube_words(plan)}",
    ]
    return [part for line in lines for part in wrap(line, _WIDTH, subsequent_indent="  ") or [line]]


def _zone_table(plan: Plan, display: Display) -> Table:
    table = Table(box=None, pad_edge=False, title="Zones", title_justify="left")
    for name in ("zone", "rows", "flow", "of usable", "pressure", "variation", "nearest limit"):
        table.add_column(name, justify="left" if name in ("zone", "rows", "nearest limit") else "right")
    for zone in plan.zones:
        water = zone.water
        usable = f"{100 * water.flow_m3_s / water.usable_flow_m3_s:.0f} %" if water.usable_flow_m3_s else "-"
        rows = rows_text(plan, zone.row_ids)
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


def _layout_name(plan: Plan, item: Alternative) -> str:
    """Name a layout by its rows and headers; where every bed may have its own, by what makes it different."""
    if len(plan.beds) > 1:
        return item.name.removeprefix("best found ")
    product = "" if item.why == "the plan" else f" ({item.product})"
    return f"rows {item.row_angle}, header {' and '.join(item.header_places)}{product}"


def _comparison_table(plan: Plan, display: Display) -> Table:
    table = Table(box=None, pad_edge=False, title="Compared with", title_justify="left")
    for name in ("layout", "money", "spent", "left over", "fittings", "zones", "why not"):
        table.add_column(name, justify="left" if name in ("layout", "why not") else "right")
    for item in plan.alternatives:
        table.add_row(
            _layout_name(plan, item),
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
    if shut_offs_text(plan):
        say(f"Note: {shut_offs_text(plan)}", style="yellow")
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

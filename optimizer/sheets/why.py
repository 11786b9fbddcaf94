"""Why this plan: what was proven, what binds, what lost and by how much, and what was taken as given."""

from __future__ import annotations

from optimizer.plan import Alternative, Certificate, GoalValue, Plan, Status, Zone
from optimizer.sheets.blocks import Block, Bullets, Column, Heading, Paragraph, Table
from optimizer.sheets.lists import counted, display, metres
from optimizer.sheets.shopping import total_ct
from optimizer.sheets.spans import name_span
from optimizer.units import money

_STATUS = {
    Status.PROVEN_BEST: "Among the stated choices no plan is better in the order of the goals; this was proven.",
    Status.BEST_FOUND: "This is the best plan found. It was not proven that none is better; how far a better one could "
    "be from it at most is stated for each goal.",
    Status.IMPOSSIBLE: "It was proven that none of the stated choices works.",
    Status.NOTHING_FOUND: "Nothing was found within the limit; that does not prove that there is nothing.",
}

_PERCENT = {"ppm": 10_000, "0.01 %": 100}
"""so many of these make one per cent"""


WASTE = "Waste counts offcuts too short to use again and all blank tube that is laid; offcuts kept are not waste."

_GOAL_WORDS = {"requests missing": "asked for and not given", "flow variation": "unevenness of the emitters"}


def goal_name(goal: GoalValue) -> str:
    """Return the name of a goal in plain words."""
    return _GOAL_WORDS.get(goal.name, goal.name)


def goal_amount(plan: Plan, goal: GoalValue, amount: int) -> str:
    """Write the amount of a goal in its own unit, as the user reads it.

    Args:
        plan: says unit system and currency.
        goal: the goal whose unit is meant.
        amount: value or bound in that unit [goal.unit].
    """
    if goal.unit == "ct":
        return money(amount, plan.currency)
    if goal.unit == "um":
        return display(plan).length(metres(amount))
    if goal.unit in _PERCENT:
        return f"{amount / _PERCENT[goal.unit]:.2f} %"
    return str(amount) if goal.unit == "count" else f"{amount} {goal.unit}".rstrip()


def goal_table(plan: Plan) -> Table:
    """Return the goals in their order: reached, what nothing can beat, whether proven."""
    return Table(
        caption="Goals, the most important first",
        columns=(
            Column("Goal"),
            Column("This plan", right=True),
            Column("Nothing beats", right=True),
            Column("Proven best"),
        ),
        rows=tuple(
            (
                goal_name(goal),
                goal_amount(plan, goal, goal.value),
                goal_amount(plan, goal, goal.bound),
                "yes" if goal.proven else "no",
            )
            for goal in plan.certificate.goals
        ),
        notes=(WASTE,) if any(goal.name == "waste" for goal in plan.certificate.goals) else (),
    )


def status_text(plan: Plan) -> str:
    """Say in plain words what was proven, never more."""
    certificate = plan.certificate
    open_goals = [goal_name(goal) for goal in certificate.goals if not goal.proven]
    left = f" Not proven best: {', '.join(open_goals)}." if open_goals else ""
    if certificate.status is Status.PROVEN_BEST and open_goals:
        proven = [goal_name(goal) for goal in certificate.goals if goal.proven]
        return (
            f"Proven best among the stated choices for: {', '.join(proven) or 'no goal'}.{left} How far a better plan "
            "could be from it at most is stated for each goal on the why-page."
        )
    return _STATUS[certificate.status] + left


def zone_table(plan: Plan) -> Table:
    """Return what each zone does and which limit it is nearest to."""
    shown = display(plan)

    def row(zone: Zone) -> tuple[str, ...]:
        water = zone.water
        return (
            zone.id,
            shown.flow(water.flow_m3_s),
            shown.flow(water.usable_flow_m3_s),
            f"{shown.emitter_flow(water.least_flow_m3_s)} to {shown.emitter_flow(water.greatest_flow_m3_s)}",
            f"{shown.pressure(water.least_head_m)} to {shown.pressure(water.greatest_head_m)}",
            shown.percent(water.flow_variation),
            water.binds,
        )

    titles = ("Zone", "Takes", "Supply gives", "Emitters", "Pressure", "Variation", "Nearest limit")
    return Table(
        caption="The zones and the limit each of them is nearest to",
        columns=tuple(Column(title, right=index in (1, 2, 5)) for index, title in enumerate(titles)),
        rows=tuple(row(zone) for zone in plan.zones),
    )


def cost_difference(plan: Plan, other: Alternative) -> str:
    """Say how much more or less a different layout costs; a bound is called a bound."""
    if other.name == "the plan":
        return money(other.money_ct, plan.currency)
    difference = other.money_ct - total_ct(plan)
    amount = money(abs(difference), plan.currency)
    if not other.exact:
        return (
            f"at least {amount} more" if difference > 0 else f"at least {money(other.money_ct, plan.currency)} in all"
        )
    if difference == 0:
        return "the same"
    return f"{amount} {'more' if difference > 0 else 'less'}"


def alternatives_table(plan: Plan) -> Table:
    """Return this plan beside the layouts that lost, and by how much they lost."""
    shown = display(plan)
    rows = tuple(
        (
            other.name,
            f"rows {other.row_angle}; header {', '.join(other.header_places)}; {other.product}; {other.tube}; "
            f"{counted(other.zones, 'zone')}",
            cost_difference(plan, other),
            shown.length(metres(other.waste_um)),
            "; ".join(part for part in (other.why, other.shortfall) if part),
        )
        for other in plan.alternatives
    )
    return Table(
        caption="This plan beside other layouts",
        columns=(
            Column("Layout"),
            Column("What is different"),
            Column("Cost"),
            Column("Waste", right=True),
            Column("Why not"),
        ),
        rows=rows,
        notes=("'At least' stands where a bound already ruled the layout out, so it was not worked out to the end.",)
        if not all(other.exact for other in plan.alternatives)
        else (),
    )


def _search_items(certificate: Certificate) -> tuple[str, ...]:
    choices = tuple(f"{name}: {values}" for name, values in certificate.choice_set)
    ruled_out = tuple(f"{counted(number, 'design')} ruled out: {reason}" for reason, number in certificate.ruled_out)
    return (*choices, f"{counted(certificate.designs, 'design')} in all, {certificate.solved} worked out", *ruled_out)


def assumed_items(plan: Plan) -> tuple[str, ...]:
    """Return what was taken as given; the same thing said of several beds is said once."""
    beds: dict[str, list[str]] = {}
    for text in plan.assumptions:
        name, _, rest = text.partition(": ")
        beds.setdefault(rest if rest and any(bed.name == name for bed in plan.beds) else text, []).append(name)
    told = set(plan.assumptions)
    return tuple(text if text in told else f"{name_span(dict.fromkeys(names))}: {text}" for text, names in beds.items())


def _record_items(certificate: Certificate) -> tuple[str, ...]:
    again = (
        "the same scenario gives the same plan again"
        if certificate.reproducible
        else "a repeat may come to a different plan: a clock ended the search"
    )
    limits = tuple(f"limit, {name}: {value}" for name, value in certificate.limits)
    versions = ", ".join(f"{name} {value}" for name, value in certificate.versions)
    return (f"seed {certificate.seed}; {again}", *limits, f"made with {versions}")


def why_blocks(plan: Plan) -> tuple[Block, ...]:
    """Return the why-page."""
    assumed: tuple[Block, ...] = (
        (Heading("Taken as given because the scenario left it open"), Bullets(assumed_items(plan)))
        if plan.assumptions
        else ()
    )
    return (
        Paragraph(status_text(plan), strong=True),
        goal_table(plan),
        Heading("What limits it"),
        zone_table(plan),
        *((Heading("What else was tried"), alternatives_table(plan)) if plan.alternatives else ()),
        Heading("What was chosen among"),
        Bullets(_search_items(plan.certificate)),
        *assumed,
        Heading("For the record"),
        Bullets(_record_items(plan.certificate)),
        Paragraph(
            "Proofs hold for the model: the measurements given, tube as its label says, water and ground as "
            "described. The test sheet tells whether the garden agrees."
        ),
    )

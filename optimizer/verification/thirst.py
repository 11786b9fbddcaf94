"""Thirst: crops that need clearly different minutes do not run together, unless the scenario lets them."""

from __future__ import annotations

from optimizer.scenario.water import crops_apart
from optimizer.verification.facts import Facts
from optimizer.verification.findings import Verdicts, judged


def minutes_alike(facts: Facts) -> Verdicts:
    """No zone holds two crops whose run times differ by more than the tolerance of the scenario."""
    beds = facts.scenario.beds
    for zone in facts.plan.zones:
        apart = crops_apart(facts.scenario, facts.lines[zone.product])
        held = {(row.bed, row.crop) for row in (facts.rows[name] for name in zone.row_ids)}
        names = [[(beds[bed].name, beds[bed].crops[crop].name) for bed, crop in pair] for pair in apart]
        barred = [f"{one[1]} and {two[1]}" for one, two in names if one in held and two in held]
        yield judged(f"zone {zone.id}", not barred, f"{', '.join(barred)} need clearly different minutes")

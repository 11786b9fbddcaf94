"""One bed chosen: the search over its designs, and what it proved, as the plan needs it."""

from __future__ import annotations

from optimizer.choose.alternatives import alternatives
from optimizer.choose.chosen import Chosen, Proof, chosen_design
from optimizer.choose.designs import ChoiceSet
from optimizer.choose.search import Search, SearchResult
from optimizer.plan import Alternative
from optimizer.units import Display


def _choice_set(choices: ChoiceSet) -> tuple[tuple[str, str], ...]:
    scenario = choices.scenario
    limits, display = scenario.limits, Display(scenario.units)
    rows = [
        f"{direction.name}: {len(direction.plans)}"
        + (f" of {direction.plans_found}" if direction.plans_found > len(direction.plans) else "")
        for direction in choices.directions
    ]
    return (
        ("row directions", ", ".join(direction.name for direction in choices.directions)),
        ("crop orders that differ", ", ".join(rows)),
        (
            "row places",
            f"every {display.length(limits.row_step)}, the longest rows that meet the requests, tap side first",
        ),
        ("header places", f"both row ends and every {display.length(limits.header_step)} between"),
        ("headers side by side", f"up to {limits.headers_at_most}"),
        ("emitter lines", ", ".join(line.name for line in scenario.emitter_lines)),
        ("blank tubes", ", ".join(tube.name for tube in scenario.blank_tubes)),
        ("regulators", ", ".join(item.name if item else "none" for item in choices.regulators)),
        ("zones", "all splits into neighbouring rows that hold the limits"),
        ("mainline", "shortest way from the supply to the nearest take-off, then alongside the header"),
        ("cuts", "all ways to cut the pieces from rolls and owned pieces"),
    )


def bed_proof(search: Search, result: SearchResult, choices: ChoiceSet) -> Proof:
    """Return what a search over one bed compared and proved."""
    assert result.best is not None
    return Proof(
        result.status,
        result.bound if result.bound is not None else result.best.bound,
        _choice_set(choices),
        result.designs,
        len(result.evaluated),
        result.ruled_out,
        search.limits.seed,
        search.limits.seconds,
        result.repeatable,
    )


def chosen_bed(
    search: Search, result: SearchResult, choices: ChoiceSet
) -> tuple[Chosen, Proof, tuple[Alternative, ...]]:
    """Return the best layout of one bed, what was proven about it, and what it was compared with."""
    assert result.best is not None
    others = alternatives(search, result.best, choices)
    return chosen_design(result.best), bed_proof(search, result, choices), others

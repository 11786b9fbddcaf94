"""A garden of several beds chosen: the best of its combinations, and what the search proved, as the plan needs it."""

from __future__ import annotations

from optimizer.choose.chosen import Chosen, Proof
from optimizer.choose.manybeds.combination import Valued
from optimizer.choose.manybeds.garden import Garden
from optimizer.choose.manybeds.others import best_of_kinds, other_layouts
from optimizer.choose.manybeds.search import GardenResult, GardenSearch
from optimizer.choose.manybeds.units import MOST_FREE
from optimizer.plan import Alternative

_VALVES = {
    "at the tap": "at the supply, each with a tube of its own",
    "in the field": "in the field, on one common tube",
    "either": "at the supply with a tube each, or in the field on one common tube",
}


def chosen_garden(search: GardenSearch) -> tuple[Chosen, Proof, tuple[Alternative, ...]]:
    """Return the best layout of several beds, what was proven about it, and what it was compared with.

    Args:
        search: a search that found something.
    """
    of_kinds = best_of_kinds(search)
    result = search.result()
    assert result.best is not None
    return _chosen(result.best), _proof(search, result), other_layouts(search.garden, result.best, of_kinds)


def _chosen(best: Valued) -> Chosen:
    return Chosen(best.laying, best.goals, best.cuts)


def _proof(search: GardenSearch, result: GardenResult) -> Proof:
    assert result.best is not None
    return Proof(
        result.status,
        result.bound if result.bound is not None else result.best.bound,
        _choice_set(search.garden),
        result.combinations,
        result.valued,
        result.ruled_out,
        search.limits.seed,
        search.limits.seconds,
        result.repeatable,
    )


def _choice_set(garden: Garden) -> tuple[tuple[str, str], ...]:
    scenario = garden.scenario
    limits = scenario.limits
    beds = garden.patterns[0].blocks
    directions = dict.fromkeys(direction.name for block in beds for direction in block.choices.directions)
    mains = dict.fromkeys(" and ".join(tube.name for tube in garden.mains(kit)) for kit in range(len(garden.kits)))
    valves = "one at the inlet of every header" if limits.valve_per_bed else _VALVES[limits.valves]
    return (
        ("row directions", f"{', '.join(directions)}, each bed by itself"),
        ("crop orders that differ", f"{sum(len(d.plans) for block in beds for d in block.choices.directions)}"),
        ("header places", "both row ends and the middle of each bed"),
        ("headers side by side", f"up to {limits.headers_at_most}"),
        ("shared headers", "; ".join(pattern.name for pattern in garden.patterns)),
        ("emitter lines", ", ".join(line.name for line in scenario.emitter_lines)),
        ("blank tubes of headers", ", ".join(tube.name for tube in scenario.blank_tubes)),
        ("blank tubes of mainline", "; ".join(mains)),
        ("regulators", ", ".join(item.name for item in scenario.supply.regulators) or "none"),
        (
            "mainline",
            "trees over the ground between the beds, cheap by the metre with covers of path crossings, and with many "
            "headers with elbows; tubes of each part by rolls, then by the metre",
        ),
        ("zone valves", valves),
        (
            "zones",
            "one if all may run together; else every grouping of headers where there are at most "
            f"{MOST_FREE}, with more the fewest zones, or a few more, of neighbours along the mainline or between gaps "
            "in the garden; each also with tube of its own, from the supply or from a stem that forks",
        ),
        ("cuts", "all ways to cut the pieces of all beds together from rolls and owned pieces"),
    )

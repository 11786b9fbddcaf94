"""Other layouts of several beds a grower would ask about, each with the reason why it is not the plan."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from optimizer.choose.alternatives import why_not
from optimizer.choose.goals import Goals
from optimizer.choose.manybeds.combination import Valued
from optimizer.choose.manybeds.garden import Garden
from optimizer.choose.manybeds.kinds import kinds
from optimizer.choose.manybeds.search import GardenSearch
from optimizer.plan import Alternative
from optimizer.problem.case import place_names
from optimizer.units import Display

SETS_OF_A_KIND, OF_MANY_BEDS = 12, 2
"""sets of combinations looked at to find the best of a kind; what is not proven by then is told as found"""

_FEW_BEDS = 8


@dataclass(frozen=True, eq=False)
class OfKind:
    """The best layout known of one kind or several, and whether it is proven best of them."""

    names: tuple[str, ...]
    item: Valued
    proven: bool


def best_of_kinds(search: GardenSearch) -> tuple[OfKind, ...]:
    """Return a good layout of every kind, best first; what is found is known to the search from then on.

    Args:
        search: the search, whose combinations are looked at kind by kind.
    """
    most = SETS_OF_A_KIND if len(search.scenario.beds) <= _FEW_BEDS else OF_MANY_BEDS
    found: dict[object, OfKind] = {}
    for kind in kinds(search.garden):
        among = search.among(kind)
        result = among.run(most)
        search.stopped |= among.stopped
        search.done.update(among.done)
        if result.best is not None:
            looks = _looks(search.garden, result.best)
            names = found[looks].names if looks in found else ()
            proven = result.bound is not None and result.bound >= result.best.goals
            found[looks] = OfKind((*names, kind.name), result.best, proven)
    return tuple(sorted(found.values(), key=lambda each: each.item.rank))


def other_layouts(garden: Garden, best: Valued, of_kinds: Sequence[OfKind]) -> tuple[Alternative, ...]:
    """Return the plan itself, then the layouts it is compared with.

    Args:
        garden: the garden.
        best: the plan.
        of_kinds: good layouts of every kind, best first.
    """
    own = replace(_told(garden, "the plan", best, best.goals), why="the plan")
    others = (
        _told(garden, f"{'best' if each.proven else 'best found'} {' / '.join(each.names)}", each.item, best.goals)
        for each in of_kinds
        if _looks(garden, each.item) != _looks(garden, best)
    )
    return (own, *others)


def _looks(garden: Garden, item: Valued) -> tuple[object, ...]:
    """Return what a grower sees of a layout: where its headers lie, of what it is made, and what it costs."""
    headers = tuple(header.points for case in item.laying.cases for header in case.layout.headers)
    return headers, garden.kits[item.combination.kit], item.goals.money_ct


def _told(garden: Garden, name: str, item: Valued, best: Goals) -> Alternative:
    cases, scenario = item.laying.cases, garden.scenario
    display = Display(scenario.units)
    plans = [cut.outcome.plan for cut in item.cuts if cut.outcome.plan is not None]
    return Alternative(
        name=name,
        row_angle=" / ".join(dict.fromkeys(field.angle_name for case in cases for field in case.layout.fields)),
        header_places=tuple(dict.fromkeys(place for case in cases for place in place_names(case.layout, display))),
        product=" / ".join(dict.fromkeys(case.line.name for case in cases)),
        tube=" / ".join(dict.fromkeys([cases[0].tube.name, *(part.tube.name for part in item.laying.mainline)])),
        zones=len(item.laying.zones),
        rows=sum(case.row_count for case in cases),
        laterals=sum(len(case.feed.laterals) for case in cases),
        planted_m=sum(case.layout.plan.planted_m for case in cases),
        line_used_m=sum(sum(lateral.spacings for lateral in case.feed.laterals) * case.line.spacing for case in cases),
        money_ct=item.goals.money_ct,
        leftover_um=sum(use.leftover_um for plan in plans for use in plan.uses),
        waste_um=item.goals.waste_um,
        fittings=item.goals.fittings,
        flow_variation=item.goals.unevenness / 10_000,
        shortfall="" if not item.goals.missing_ppm else f"{item.goals.missing_ppm / 10_000:.1f} % of the requests",
        exact=True,
        why=why_not(item.goals, best, display, scenario.currency),
    )

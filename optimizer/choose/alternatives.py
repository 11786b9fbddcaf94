"""Other layouts a grower would ask about, valued exactly, each with the reason why it is not the plan."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from optimizer.choose.designs import ChoiceSet, Design
from optimizer.choose.evaluate import Evaluated
from optimizer.choose.goals import Goals
from optimizer.choose.search import Search
from optimizer.feeds import HeaderPlace
from optimizer.plan import Alternative
from optimizer.problem.case import place_names
from optimizer.units import Display, money

Kind = Callable[[Design], bool]


AT_ENDS, BETWEEN = "header at the row ends", "header between the row ends"


class _Ends:
    """Tells headers at the row ends from others, each place looked at once."""

    def __init__(self, choices: ChoiceSet) -> None:
        self.choices = choices
        self.known: dict[tuple[int, int, HeaderPlace], bool] = {}

    def at_ends(self, design: Design) -> bool:
        """Say whether the header of a design stands at an end of every row."""
        place = design.places[0]
        key = design.direction, design.row_plan, place
        if key not in self.known:
            rows = self.choices.directions[design.direction].plans[design.row_plan].rows
            shortest = self.choices.scenario.limits.shortest_row
            crossed = ((line.stretches, place.cross(line.stretches, shortest)) for row in rows for line in row.lines)
            self.known[key] = all(u in (stretches[0][0], stretches[-1][1]) for stretches, u in crossed)
        return self.known[key]

    def name(self, design: Design) -> str:
        """Return the kind of header place of a design."""
        if len(design.places) > 1:
            return f"{len(design.places)} headers"
        return AT_ENDS if self.at_ends(design) else BETWEEN


def kinds(choices: ChoiceSet) -> Iterator[tuple[str, Kind]]:
    """Yield the kinds of layout worth comparing: each row direction, header place, product, tube and regulator."""
    ends = _Ends(choices)
    for index, direction in enumerate(choices.directions):
        yield f"rows {direction.name}", lambda design, index=index: design.direction == index  # type: ignore[misc]
    for name in (AT_ENDS, BETWEEN):
        yield name, lambda design, name=name: ends.name(design) == name  # type: ignore[misc]
    for count in range(2, choices.scenario.limits.headers_at_most + 1):
        yield f"{count} headers", lambda design, count=count: len(design.places) == count  # type: ignore[misc]
    for index, line in enumerate(choices.scenario.emitter_lines):
        yield line.name, lambda design, index=index: design.line == index  # type: ignore[misc]
    for index, tube in enumerate(choices.scenario.blank_tubes):
        yield tube.name, lambda design, index=index: design.tube == index  # type: ignore[misc]
    for index, regulator in enumerate(choices.regulators):
        if regulator is not None:
            yield regulator.name, lambda design, index=index: design.regulator == index  # type: ignore[misc]


def why_not(goals: Goals, best: Goals, display: Display, currency: str) -> str:
    """Return in one sentence what decided against a layout: the first goal in which it is worse."""
    if goals.missing_ppm > best.missing_ppm:
        return "meets less of what was asked for"
    if goals.money_ct > best.money_ct:
        return f"costs {money(goals.money_ct - best.money_ct, currency)} more"
    if goals.waste_um > best.waste_um:
        return f"costs the same and spends {display.length((goals.waste_um - best.waste_um) / 1e6)} more tubing"
    if goals.fittings > best.fittings:
        return f"costs and wastes the same and needs {goals.fittings - best.fittings} more fittings"
    if goals.unevenness > best.unevenness:
        values = f"{goals.unevenness / 100:.2f} % against {best.unevenness / 100:.2f} %"
        return f"the same but less even: flow variation {values}"
    return "equal in every goal; the plan comes first in the stated order"


def _leftover(item: Evaluated) -> int:
    plans = (item.line.plan, item.tube.plan)
    return sum(use.leftover_um for plan in plans if plan is not None for use in plan.uses)


def describe(name: str, item: Evaluated, best: Goals, choices: ChoiceSet) -> Alternative:
    """Return an evaluated design as an alternative to the plan."""
    case = item.case
    display = Display(choices.scenario.units)
    return Alternative(
        name=name,
        row_angle=case.layout.fields[0].angle_name,
        header_places=place_names(case.layout, display),
        product=case.line.name,
        tube=case.tube.name,
        zones=item.zones,
        rows=case.row_count,
        laterals=len(case.feed.laterals),
        planted_m=case.layout.plan.planted_m,
        line_used_m=sum(lateral.spacings for lateral in case.feed.laterals) * case.line.spacing,
        money_ct=item.goals.money_ct,
        leftover_um=_leftover(item),
        waste_um=item.goals.waste_um,
        fittings=item.goals.fittings,
        flow_variation=item.goals.unevenness / 10_000,
        shortfall="" if not item.goals.missing_ppm else f"{item.goals.missing_ppm / 10_000:.1f} % of the requests",
        exact=item.bound == item.goals,
        why=why_not(item.goals, best, display, choices.scenario.currency),
    )


def alternatives(search: Search, best: Evaluated, choices: ChoiceSet) -> tuple[Alternative, ...]:
    """Return the plan's own kind first, then the best of every other kind, best first.

    Args:
        search: the search, which values further designs where their bound does not already tell.
        best: the plan.
        choices: what it was chosen among.
    """
    found: dict[int, tuple[Evaluated, list[str]]] = {}
    for name, kind in kinds(choices):
        item = search.best_of(kind)
        if isinstance(item, Evaluated):
            found.setdefault(item.design.number, (item, []))[1].append(name)
    ranked = sorted(found.values(), key=lambda entry: (entry[0].goals, entry[0].design.number))
    # Designs that lie alike on the ground, such as the set pressure before the same lines, are told once.
    seen, listed = {_looks(best)}, []
    for item, names in ranked:
        if _looks(item) not in seen:
            seen.add(_looks(item))
            listed.append(describe("best " + " / ".join(names), item, best.goals, choices))
    return (_plan_itself(best, choices), *listed)


def _looks(item: Evaluated) -> tuple[object, ...]:
    """Return what a grower sees of a design: where its headers lie, and of what it is made."""
    headers = tuple(header.points for header in item.case.layout.headers)
    return headers, item.case.line.name, item.case.tube.name, item.goals.money_ct


def _plan_itself(best: Evaluated, choices: ChoiceSet) -> Alternative:
    own = describe("the plan", best, best.goals, choices)
    return Alternative(**{**own.__dict__, "why": "the plan"})

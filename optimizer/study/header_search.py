"""The best layout with each kind of header place, out of one search over all of them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import replace

from optimizer.build import build_plan
from optimizer.choose.designs import Design, choice_set
from optimizer.choose.evaluate import EFFORTS, Evaluated, RuledOutError, UnsettledError
from optimizer.choose.explain import explain
from optimizer.choose.goals import Goals
from optimizer.choose.onebed import chosen_bed
from optimizer.choose.search import OUTDONE, Progress, Search, SearchLimits, SearchResult
from optimizer.errors import Problem, ScenarioError
from optimizer.feeds.places import reach
from optimizer.plan import Alternative, Outcome, Plan, Status
from optimizer.rows import CropOrderError
from optimizer.scenario.schema import Scenario
from optimizer.study.kinds import header_kind

_RULED_OUT = "cannot be laid, for one of the reasons stated for the whole search"


class HeaderSearch:
    """A finished search over a scenario that is asked for the best layout of one kind of header place after another."""

    def __init__(self, scenario: Scenario, limits: SearchLimits, report: Callable[[Progress], None] | None) -> None:
        """Search the scenario with all its header places.

        Args:
            scenario: what is open.
            limits: how long to search.
            report: told about progress, if given.

        Raises:
            ScenarioError: the scenario asks for what this program cannot lay out.
        """
        if len(scenario.beds) > 1:
            message = "header places of several beds are not compared; write one scenario for each bed"
            raise ScenarioError("scenario", [Problem("beds", message)])
        self.scenario = scenario
        try:
            self.choices = choice_set(scenario, scenario.beds[0])
        except CropOrderError as error:
            raise ScenarioError("scenario", [Problem("beds.0.crops", str(error))]) from None
        self.search = Search(self.choices, limits, report)
        self.result = self.search.run()

    def outcome(self, header: str) -> Outcome:
        """Return the best layout with one kind of header place.

        Args:
            header: as `header_kind` names it.
        """

        def kind(design: Design) -> bool:
            return self._kind(design) == header

        count = sum(kind(design) for design in self.choices.designs())
        if not count:
            return Outcome(Status.IMPOSSIBLE, None, (f"there is no place for a {header}",))
        best = self.search.best_of(kind)
        if best is None:
            return self._none(kind)
        result = self._result(best, kind, count)
        plan = build_plan(*chosen_bed(self.search, replace(result, best=best), self.choices))
        return Outcome(result.status, _told(plan, header), ruled_out=result.ruled_out)

    def _kind(self, design: Design) -> str:
        ends = reach(self.choices.directions[design.direction].plans[design.row_plan])
        return header_kind(design.places, ends, self.scenario.limits.shortest_row)

    def _none(self, kind: Callable[[Design], bool]) -> Outcome:
        """Return the outcome where no layout of a kind was found, with the reasons of this kind alone."""
        if any(kind(entry[3]) for entry in self.search.queue):
            return Outcome(Status.NOTHING_FOUND, None)
        reasons: Counter[str] = Counter()
        for design in filter(kind, self.choices.designs()):
            try:
                case, _ = self.search.evaluator.bound(design)
                self.search.evaluator.evaluate(design, case, len(EFFORTS) - 1)
            except RuledOutError as error:
                reasons[str(error)] += 1
            except UnsettledError:
                return Outcome(Status.NOTHING_FOUND, None)
        alone = replace(self.result, status=Status.IMPOSSIBLE, ruled_out=tuple(sorted(reasons.items())))
        return explain(self.scenario, self.choices, alone)

    def _result(self, best: Evaluated, kind: Callable[[Design], bool], count: int) -> SearchResult:
        """Return what the search knows of one kind alone."""
        waiting = sorted((entry for entry in self.search.queue if kind(entry[3])), key=lambda entry: entry[:3])
        valued = sorted(
            (item for item in self.search.done.values() if kind(item.design)),
            key=lambda item: (item.goals, item.design.number),
        )
        bound = _bound(best, [entry[0] for entry in waiting] + [item.bound for item in valued], self.search.left_open)
        fresh = sum(entry[2] == 0 for entry in waiting)
        told = ((OUTDONE, fresh), (_RULED_OUT, count - len({entry[1] for entry in waiting} | _numbers(valued))))
        return replace(
            self.result,
            status=Status.PROVEN_BEST if bound >= best.goals else Status.BEST_FOUND,
            best=best,
            bound=bound,
            evaluated=tuple(valued),
            waiting=tuple((goals, design, case) for goals, _, _, design, case in waiting),
            designs=count,
            ruled_out=tuple((words, number) for words, number in told if number),
        )


def _numbers(valued: list[Evaluated]) -> set[int]:
    return {item.design.number for item in valued}


def _bound(best: Evaluated, bounds: list[Goals], left_open: list[Goals]) -> Goals:
    """Return what no layout of the kind can beat; designs left open count whatever their kind."""
    return min([best.bound, *bounds, *left_open])


def _told(plan: Plan, header: str) -> Plan:
    """Return a plan that says it was chosen among one kind of header place."""
    words = tuple(
        (what, f"{header} only" if what == "header places" else how) for what, how in plan.certificate.choice_set
    )
    others = tuple(_excused(item, plan.alternatives[0], header) for item in plan.alternatives[1:])
    certificate = replace(plan.certificate, choice_set=words)
    return replace(plan, certificate=certificate, alternatives=(*plan.alternatives[:1], *others))


def _excused(item: Alternative, own: Alternative, header: str) -> Alternative:
    """Return an alternative that is better than the plan with the true reason why it is not taken here."""
    better = not item.shortfall and _figures(item) < _figures(own)
    return replace(item, why=f"better, but not a {header}") if better or _meets_more(item, own) else item


def _meets_more(item: Alternative, own: Alternative) -> bool:
    return bool(own.shortfall) and not item.shortfall


def _figures(item: Alternative) -> tuple[float, ...]:
    return item.money_ct, item.waste_um, item.fittings, item.flow_variation

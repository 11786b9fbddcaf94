"""Layouts side by side: the best of each kind as a full verified plan, and in a sentence why one wins."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

from optimizer import design
from optimizer.choose.goals import GOAL_WORDS, Goals
from optimizer.choose.search import Progress, SearchLimits
from optimizer.errors import VerificationError
from optimizer.plan import Outcome, Plan, Status
from optimizer.scenario.schema import Scenario
from optimizer.sheets.install import pushes
from optimizer.study.header_search import HeaderSearch
from optimizer.study.kinds import Kind
from optimizer.units import Display, System, money
from optimizer.verification import verify

Report = Callable[[Progress], None]
FAILED = "the plan found did not pass its check:"


@dataclass(frozen=True)
class Figures:
    """What is compared."""

    goals: Goals
    kept_um: int
    """leftovers long enough to keep"""
    pushes: int
    """tube ends and fittings pushed on by hand"""
    zones: int


@dataclass(frozen=True)
class Compared:
    """A kind of layout, the best of it, and why it wins or loses."""

    name: str
    outcome: Outcome
    figures: Figures | None
    """None if there is no plan"""
    verdict: str = ""


def plan_goals(plan: Plan) -> Goals:
    """Return the goals a plan reaches, in their order."""
    return Goals(*(plan.goal(name) for name, _ in GOAL_WORDS))


def figures(plan: Plan) -> Figures:
    """Return what is compared of a plan."""
    kept = sum(roll.leftover_um for roll in plan.rolls if roll.leftover_usable)
    return Figures(plan_goals(plan), kept, pushes(plan), len(plan.zones))


# ------------------------------------------------------------ the best of a kind


def best_of_each(
    asked: Sequence[Kind],
    scenario: Scenario,
    limits: SearchLimits | None = None,
    start: Callable[[str], None] | None = None,
    report: Report | None = None,
) -> Iterator[tuple[str, Outcome]]:
    """Yield name and outcome of the best layout of each kind, its plan checked against the scenario.

    A plan that does not pass its check is not handed out: its outcome says so.

    Args:
        asked: the kinds.
        scenario: the scenario with all its choices.
        limits: how long each search may take; to the proof unless given.
        start: told what is searched next, if given.
        report: told about progress, if given.

    Raises:
        ScenarioError: the scenario asks for what this program cannot lay out.
    """
    limits = limits or SearchLimits()
    searches: list[HeaderSearch] = []
    for number, kind in enumerate(asked, start=1):
        if start is not None:
            start(f"{kind.name} ({number} of {len(asked)})")
        try:
            outcome = _best(kind, limits, report, searches)
            if outcome.plan is not None:
                _check(outcome.plan, scenario)
        except VerificationError as error:
            outcome = Outcome(Status.NOTHING_FOUND, None, (FAILED, *str(error).splitlines()))
        yield kind.name, outcome


def _best(kind: Kind, limits: SearchLimits, report: Report | None, searches: list[HeaderSearch]) -> Outcome:
    if not kind.header:
        return design(kind.scenario, limits, report)
    known = next((item for item in searches if item.scenario == kind.scenario), None)
    if known is None:
        known = HeaderSearch(kind.scenario, limits, report)
        searches.append(known)
    return known.outcome(kind.header)


def _check(plan: Plan, scenario: Scenario) -> None:
    check = verify(plan, scenario)
    if not check.holds:
        raise VerificationError("\n".join(str(item) for item in check.findings))


def failed(outcome: Outcome) -> bool:
    """Return whether a plan was found that did not pass its check."""
    return outcome.reasons[:1] == (FAILED,)


def ranked(found: list[tuple[str, Outcome]], display: Display) -> tuple[Compared, ...]:
    """Return layouts best first, those without a plan last, each with its verdict.

    Args:
        found: name and outcome of each, in the order asked for.
        display: writes lengths.
    """
    items = [Compared(name, outcome, figures(outcome.plan) if outcome.plan else None) for name, outcome in found]
    # Sorting keeps the order asked for among equals.
    planned = sorted((item for item in items if item.figures), key=_goals)
    without = [item for item in items if not item.figures]
    told = [replace(item, verdict=_verdict(item, planned, display)) for item in planned]
    return (*told, *(replace(item, verdict=_why_none(item)) for item in without))


def _goals(item: Compared) -> Goals:
    assert item.figures is not None
    return item.figures.goals


# ------------------------------------------------------------ verdicts


class Difference(NamedTuple):
    """What one layout does better or worse than another, as words that follow "it"."""

    worse: bool
    words: str


def _difference(amount: int, worse: str, better: str) -> list[Difference]:
    return [Difference(amount > 0, worse if amount > 0 else better)] if amount else []


def differences(one: Figures, other: Figures, display: Display, currency: str) -> tuple[Difference, ...]:
    """Return in what one layout differs from another, in the order of the goals.

    Args:
        one: the layout that is told about.
        other: what it is held against.
        display: writes lengths.
        currency: of the money.
    """
    a, b = one.goals, other.goals
    share = f"{abs(a.missing_ppm - b.missing_ppm) / 10_000:.1f} % of what was asked for"
    cost = money(abs(a.money_ct - b.money_ct), currency)
    tubing = f"{display.length(abs(a.waste_um - b.waste_um) / 1e6)}"
    fittings = abs(a.fittings - b.fittings)
    spread = f"{a.unevenness / 100:.2f} % flow variation against {b.unevenness / 100:.2f} %"
    zones = abs(one.zones - other.zones)
    s = "s" * (zones != 1)
    return (
        *_difference(a.missing_ppm - b.missing_ppm, f"misses {share} more", f"meets {share} more"),
        *_difference(a.money_ct - b.money_ct, f"costs {cost} more", f"costs {cost} less"),
        *_difference(a.waste_um - b.waste_um, f"spends {tubing} more tubing", f"spends {tubing} less tubing"),
        *_difference(a.fittings - b.fittings, f"needs {_some(fittings, 'more')}", f"needs {_some(fittings, 'fewer')}"),
        *_difference(a.unevenness - b.unevenness, f"is less even ({spread})", f"is more even ({spread})"),
        *_difference(one.zones - other.zones, f"runs in {zones} more zone{s}", f"runs in {zones} fewer zone{s}"),
    )


def _some(count: int, word: str) -> str:
    return f"{count} {word} fitting{'s' * (count != 1)}"


def _sentence(found: tuple[Difference, ...]) -> str:
    """Return differences as one sentence: what decides first, then the like, then what speaks for the other side."""
    decides = found[0]
    alike = [item.words for item in found[1:] if item.worse == decides.worse]
    against = [item.words for item in found[1:] if item.worse != decides.worse]
    text = _listed([decides.words, *alike])
    return f"it {text}, though it {_listed(against)}" if against else f"it {text}"


def _listed(words: list[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def _same_layout(one: Plan, other: Plan) -> bool:
    def laid(plan: Plan) -> tuple[object, ...]:
        return plan.rows, plan.laterals, plan.headers, plan.mainline, plan.rolls, plan.bill

    return laid(one) == laid(other)


def _verdict(item: Compared, planned: list[Compared], display: Display) -> str:
    best = planned[0]
    if item is best:
        return _why_it_wins(planned, display)
    assert item.figures is not None
    assert best.figures is not None
    assert item.outcome.plan is not None
    assert best.outcome.plan is not None
    if _same_layout(item.outcome.plan, best.outcome.plan):
        return "is the same as layout 1"
    found = differences(item.figures, best.figures, display, item.outcome.plan.currency)
    if not found:
        return "equals layout 1 in every goal, which was named first"
    open_ = "; its own proof is open, so a better one of its kind may exist" if _may_beat(item, best) else ""
    return f"loses to layout 1: {_sentence(found)}{open_}"


def _may_beat(item: Compared, best: Compared) -> bool:
    """Return whether the bound of a layout's kind leaves room for one better than the best."""
    assert item.outcome.plan is not None
    bound = Goals(*(goal.bound for goal in item.outcome.plan.certificate.goals))
    return item.outcome.status is not Status.PROVEN_BEST and bound < _goals(best)


def _why_it_wins(planned: list[Compared], display: Display) -> str:
    best = planned[0]
    assert best.figures is not None
    assert best.outcome.plan is not None
    for number, other in enumerate(planned[1:], start=2):
        assert other.figures is not None
        found = differences(best.figures, other.figures, display, best.outcome.plan.currency)
        if found:
            return f"wins: against layout {number}, the next best, {_sentence(found)}"
    return "wins: nothing else can be laid" if len(planned) == 1 else "wins only by being named first"


def _why_none(item: Compared) -> str:
    if item.outcome.status is Status.IMPOSSIBLE:
        return "cannot be laid: " + " ".join(item.outcome.reasons)
    if failed(item.outcome):
        return f"is left out, so it is not known whether it would win: {' '.join(item.outcome.reasons)}"
    return "is not known: nothing was found within the limit"


def display_of(scenario: Scenario) -> Display:
    """Return the writer for the scenario's units."""
    return Display(System(scenario.units))

"""What each limit costs: the same garden planned again with one thing changed."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from optimizer.choose.designs import choice_set
from optimizer.choose.goals import Goals
from optimizer.choose.manybeds.search import GardenSearch
from optimizer.choose.relax import replaced, with_zones
from optimizer.choose.search import Search, SearchLimits
from optimizer.plan import Status
from optimizer.scenario.schema import PumpSupply, Scenario, TapSupply
from optimizer.units import Display, money

_LONGER = 1.2
_MORE_FLOW = 1.25


@dataclass(frozen=True)
class Question:
    """One thing changed."""

    text: str
    field_path: str
    scenario: Scenario


@dataclass(frozen=True)
class Answer:
    """What a change would do.

    Args:
        question: what was changed.
        goals: what the best layout then reaches; None if nothing was found.
        proven: whether that is proven best.
        saves_ct: money saved, negative if dearer [ct].
        saves_um: tubing saved that waters nothing [um].
        saves_fittings: fittings saved.
    """

    question: Question
    goals: Goals | None
    proven: bool
    saves_ct: int
    saves_um: int
    saves_fittings: int


def _longer_rolls(scenario: Scenario, display: Display) -> Iterator[Question]:
    for index, line in enumerate(scenario.emitter_lines):
        for number, roll in enumerate(line.rolls):
            longer = replaced(roll, length=roll.length * _LONGER, price=round(roll.price * _LONGER))
            rolls = (*line.rolls[:number], longer, *line.rolls[number + 1 :])
            lines = list(scenario.emitter_lines)
            lines[index] = replaced(line, rolls=rolls)
            text = f"a roll of {display.length(longer.length)} instead of {display.length(roll.length)} of {line.name}"
            path = f"emitter_lines.{index}.rolls.{number}.length"
            yield Question(text, path, replaced(scenario, emitter_lines=tuple(lines)))


def _without_owned(scenario: Scenario) -> Iterator[Question]:
    for index, line in enumerate(scenario.emitter_lines):
        if line.owned and line.rolls:
            lines = list(scenario.emitter_lines)
            lines[index] = replaced(line, owned=())
            yield Question(
                f"without the owned pieces of {line.name}",
                f"emitter_lines.{index}.owned",
                replaced(scenario, emitter_lines=tuple(lines)),
            )


def _limits(scenario: Scenario) -> Iterator[Question]:
    limits = scenario.limits

    def with_limits(text: str, path: str, **values: object) -> Question:
        return Question(text, f"limits.{path}", replaced(scenario, limits=replaced(limits, **values)))

    if limits.joints_per_lateral < 5:
        more = limits.joints_per_lateral + 1
        yield with_limits(
            f"{more} joint{'s' * (more > 1)} allowed in a lateral", "joints_per_lateral", joints_per_lateral=more
        )
    if limits.headers_at_most < 4:
        more = limits.headers_at_most + 1
        yield with_limits(
            f"up to {more} headers in {'the' if len(scenario.beds) == 1 else 'a'} bed",
            "headers_at_most",
            headers_at_most=more,
        )
    if scenario.most_zones is not None:
        more = scenario.most_zones + 1
        yield Question(f"{more} zones allowed", "limits.zones_at_most", with_zones(scenario, more))
    if len(scenario.beds) == 1:
        yield with_limits("header places twice as fine", "header_step", header_step=limits.header_step / 2.0)
    if limits.flow_variation is not None:
        share = limits.flow_variation + 0.05
        yield with_limits(f"flow variation up to {100 * share:.0f} %", "flow_variation", flow_variation=share)


def _more_flow(scenario: Scenario) -> Iterator[Question]:
    supply = scenario.supply
    if isinstance(supply, TapSupply) and supply.open_flow is not None:
        more = replaced(supply, open_flow=supply.open_flow * _MORE_FLOW)
        yield Question("a quarter more flow from the tap", "supply.open_flow", replaced(scenario, supply=more))
    if isinstance(supply, PumpSupply):
        curve = tuple(replaced(point, flow=point.flow * _MORE_FLOW) for point in supply.curve)
        more_pump = replaced(supply, curve=curve)
        yield Question("a pump with a quarter more flow", "supply.curve", replaced(scenario, supply=more_pump))


def questions(scenario: Scenario) -> tuple[Question, ...]:
    """Return the changes worth asking about for a scenario."""
    display = Display(scenario.units)
    return (
        *_longer_rolls(scenario, display),
        *_without_owned(scenario),
        *_limits(scenario),
        *_more_flow(scenario),
    )


def _best(scenario: Scenario, seconds: float | None) -> tuple[Goals | None, bool]:
    limits = SearchLimits(seconds)
    one_bed = len(scenario.beds) == 1
    search = Search(choice_set(scenario, scenario.beds[0]), limits) if one_bed else GardenSearch(scenario, limits)
    result = search.run()
    goals = result.best.goals if result.best is not None else None
    return goals, result.status is Status.PROVEN_BEST


def what_if(
    scenario: Scenario, seconds: float | None = None, report: Callable[[str], None] | None = None
) -> Iterator[Answer]:
    """Yield what each change would do to the best layout.

    Args:
        scenario: a scenario with a layout.
        seconds: longest search for each change; None to its proof [s].
        report: told which change is being planned, if given.
    """
    base, _ = _best(scenario, seconds)
    if base is None:
        return
    for question in questions(scenario):
        if report is not None:
            report(question.text)
        goals, proven = _best(question.scenario, seconds)
        if goals is None:
            yield Answer(question, None, proven, 0, 0, 0)
        else:
            yield Answer(
                question,
                goals,
                proven,
                base.money_ct - goals.money_ct,
                base.waste_um - goals.waste_um,
                base.fittings - goals.fittings,
            )


def sentence(answer: Answer, display: Display, currency: str) -> str:
    """Return an answer as a sentence."""
    text = answer.question.text
    if answer.goals is None:
        return f"{text}: nothing fits"
    if answer.saves_ct:
        verb = "saves" if answer.saves_ct > 0 else "costs"
        return f"{text}: {verb} {money(abs(answer.saves_ct), currency)}"
    if answer.saves_um:
        verb = "saves" if answer.saves_um > 0 else "spends"
        return f"{text}: costs the same, {verb} {display.length(abs(answer.saves_um) / 1e6)} of tubing"
    if answer.saves_fittings:
        verb = "saves" if answer.saves_fittings > 0 else "takes"
        return f"{text}: costs the same, {verb} {abs(answer.saves_fittings)} fittings"
    return f"{text}: changes nothing"

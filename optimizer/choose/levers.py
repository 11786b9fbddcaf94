"""The smallest changes that would make an impossible scenario possible, each tried before it is offered."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from optimizer.choose.designs import choice_set
from optimizer.choose.evaluate import Evaluator, RuledOutError, UnsettledError
from optimizer.choose.manybeds.search import GardenSearch
from optimizer.choose.relax import CHANGES, Change, replaced
from optimizer.choose.search import SearchLimits
from optimizer.plan import Lever
from optimizer.routes import GroundError
from optimizer.rows import CropOrderError
from optimizer.scenario.outlines import corners
from optimizer.scenario.schema import Scenario
from optimizer.units import Display, System

_HALVINGS = 6
_EFFORT = 1
_SETS = 20


def _coarse(scenario: Scenario) -> Scenario:
    """Return the scenario with few header places, at the row ends and about the middle: enough to see what works."""
    points = corners(scenario.beds[0])
    reach = max(max(axis) - min(axis) for axis in zip(*points, strict=True))
    step = max(scenario.limits.header_step, 0.45 * reach)
    return replaced(scenario, limits=replaced(scenario.limits, header_step=step))


def possible(scenario: Scenario) -> bool:
    """Say whether some design was found to work; False may also mean that only a finer choice would."""
    return _one_bed_works(scenario) if len(scenario.beds) == 1 else _several_beds_work(scenario)


def _several_beds_work(scenario: Scenario) -> bool:
    try:
        return GardenSearch(scenario, SearchLimits(gap=1.0)).run(_SETS).best is not None
    except (CropOrderError, GroundError):
        return False


def _one_bed_works(scenario: Scenario) -> bool:
    coarse = _coarse(scenario)
    try:
        choices = choice_set(coarse, coarse.beds[0])
    except CropOrderError:
        return False
    evaluator = Evaluator(choices)
    for design in choices.designs():
        if design.row_plan:
            continue
        try:
            case, _ = evaluator.bound(design)
            evaluator.evaluate(design, case, _EFFORT)
        except (RuledOutError, UnsettledError):
            continue
        return True
    return False


def least_amount(scenario: Scenario, change: Change) -> Scenario | None:
    """Return the scenario with about the least amount of a change that makes it possible; None if the most does not."""
    best = change.apply(scenario, 1.0)
    if best == scenario or not possible(best):
        return None
    low, high = 0.0, 1.0
    for _ in range(_HALVINGS):
        middle = (low + high) / 2.0
        tried = change.apply(scenario, middle)
        if tried == best:
            high = middle
        elif tried != scenario and possible(tried):
            high, best = middle, tried
        else:
            low = middle
    return best


def working_levers(scenario: Scenario, reasons: Iterable[str], most: int = 3) -> Iterator[tuple[Lever, Scenario]]:
    """Yield changes that make an impossible scenario possible, with the changed scenario each was tried on.

    Args:
        scenario: a scenario no design works for.
        reasons: why designs fell out; changes that ease one of them are tried first.
        most: how many to give at most.
    """
    known = set(reasons)
    ordered = sorted(CHANGES, key=lambda change: not known.intersection(change.eases))
    show = Display(System(scenario.units))
    given = 0
    for change in ordered:
        changed = least_amount(scenario, change)
        if changed is not None:
            yield Lever(change.what, change.words(show, scenario, changed), change.path, change.value(changed)), changed
            given += 1
        if given == most:
            return

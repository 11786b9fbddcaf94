"""The smallest changes that would make an impossible scenario possible, each tried before it is offered."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import suppress

from optimizer.choose.designs import ChoiceSet, Design, choice_set
from optimizer.choose.evaluate import Evaluator, RuledOutError, UnsettledError
from optimizer.choose.manybeds.search import GardenSearch
from optimizer.choose.relax import CHANGES, NO_ROOM, Change, replaced, simpler
from optimizer.choose.relax_edits import edits
from optimizer.choose.search import SearchLimits
from optimizer.plan import Lever
from optimizer.routes import GroundError
from optimizer.rows import CropOrderError
from optimizer.scenario.outlines import corners
from optimizer.scenario.schema import Scenario

_HALVINGS = 7
_EFFORT = 1
_SETS = 20


def _coarse(scenario: Scenario) -> Scenario:
    """Return the scenario with few header places, enough to see what works: at row ends, about the middle, and between.

    Rows may run along the short side of the bed; for several headers side by side only few places can be combined.
    """
    points = corners(scenario.beds[0])
    short, reach = sorted(max(axis) - min(axis) for axis in zip(*points, strict=True))
    few = max(0.45 * short, 0.1 * reach) if scenario.limits.headers_at_most == 1 else 0.45 * reach
    return replaced(scenario, limits=replaced(scenario.limits, header_step=max(scenario.limits.header_step, few)))


def missing(scenario: Scenario) -> int | None:
    """Return how much of what is asked for is missing in the best design found to work [ppm]; None if none was.

    None may also mean that only a finer choice would work.
    """
    return _missing_in_one_bed(scenario) if len(scenario.beds) == 1 else _missing_in_several_beds(scenario)


def _missing_in_several_beds(scenario: Scenario) -> int | None:
    try:
        best = GardenSearch(scenario, SearchLimits(gap=1.0)).run(_SETS).best
    except (CropOrderError, GroundError):
        return None
    return best.goals.missing_ppm if best is not None else None


def _missing_in_one_bed(scenario: Scenario) -> int | None:
    coarse = _coarse(scenario)
    try:
        choices = choice_set(coarse, coarse.beds[0])
    except CropOrderError:
        return None
    evaluator = Evaluator(choices)
    designs = [design for design in choices.designs() if not design.row_plan]
    worked_out = []
    for design in sorted(designs, key=lambda design: _asked_in_vain(choices, design)):
        with suppress(RuledOutError):
            worked_out.append((design, evaluator.bound(design)[0]))
    # What the water of a design rules out is seen side by side, before anything is cut or parted for it.
    for (design, case), closer in zip(worked_out, evaluator.closer_bounds(worked_out), strict=True):
        if not isinstance(closer, RuledOutError):
            with suppress(RuledOutError, UnsettledError):
                evaluator.evaluate(design, case, _EFFORT)
                return _asked_in_vain(choices, design)
    return None


def _asked_in_vain(choices: ChoiceSet, design: Design) -> int:
    """Return the missing share of what is asked for [ppm]."""
    return choices.directions[design.direction].plans[design.row_plan].missing_ppm


def least_amount(scenario: Scenario, change: Change) -> Scenario | None:
    """Return the scenario with about the least of a change that does as well as the most; None if that does not work.

    Where several products, beds or regulators were changed and one of them is enough, only that one is.
    """
    for most in change.most:
        best = change.apply(scenario, most)
        goal = missing(best) if best != scenario else None
        if goal is not None:
            return _least(scenario, change, most, goal)
    return None


def _least(scenario: Scenario, change: Change, most: float, goal: int) -> Scenario:
    """Return about the least of a change, up to a share that works, with no more missing [ppm] than the goal."""

    def works(tried: Scenario) -> bool:
        found = missing(tried)
        return found is not None and found <= goal

    low, high, best = 0.0, most, change.apply(scenario, most)
    for _ in range(_HALVINGS):
        middle = (low + high) / 2.0
        tried = change.apply(scenario, middle)
        if tried == best or (tried != scenario and works(tried)):
            high, best = middle, tried
        else:
            low = middle
    return next((one for one in simpler(scenario, best) if works(one)), best)


def working_levers(scenario: Scenario, reasons: Iterable[str], most: int = 3) -> Iterator[tuple[Lever, Scenario]]:
    """Yield changes that make an impossible scenario possible, with the changed scenario each was tried on.

    Args:
        scenario: a scenario no design works for.
        reasons: why designs fell out; only changes that ease one of them are tried. None means that no row fits.
        most: how many to give at most.
    """
    known = set(reasons) or {NO_ROOM}
    hopeful = (change for change in CHANGES if known.intersection(change.eases))
    given = 0
    for change in hopeful:
        changed = least_amount(scenario, change)
        if changed is not None:
            yield _lever(change, scenario, changed), changed
            given += 1
        if given == most:
            return


def _lever(change: Change, old: Scenario, new: Scenario) -> Lever:
    found = edits(old, new)
    return Lever(
        change.what,
        "; ".join(edit.words for edit in found),
        ", ".join(edit.path for edit in found),
        ", ".join(edit.value for edit in found),
    )

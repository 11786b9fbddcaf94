"""Ways to get other tubing, or more of it."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import TypeVar

from optimizer.choose.relax_values import grown, lowered, raised, replaced, rounded, shrunk, written
from optimizer.scenario.schema import BlankTube, EmitterLine, Roll, Scenario, Tubing

SomeTubing = TypeVar("SomeTubing", bound=Tubing)

_MOST_ROLLS_MORE = 20
_SHORTEST_PIECE_M = 1.0
_LONGEST_PIECE_M = 60.0
_MOST_RATING_M = 100.0
"""about 10 bar: stronger tubing is no garden tubing"""


def _in_lines(scenario: Scenario, change: Callable[[EmitterLine], EmitterLine]) -> Scenario:
    return replaced(scenario, emitter_lines=tuple(change(line) for line in scenario.emitter_lines))


def _in_tubes(scenario: Scenario, change: Callable[[BlankTube], BlankTube]) -> Scenario:
    return replaced(scenario, blank_tubes=tuple(change(tube) for tube in scenario.blank_tubes))


# ---------------------------------------------------------------- stock


def longer_rolls(scenario: Scenario, share: float) -> Scenario:
    """Buy emitter line in longer rolls: the longest of each product grows."""

    def longer(line: EmitterLine) -> EmitterLine:
        most = max((roll.length for roll in line.rolls), default=0.0)

        def stretched(roll: Roll) -> Roll:
            return replaced(roll, length=grown(scenario.units, "length", roll.length, share, 40.0))

        return replaced(line, rolls=tuple(stretched(i) if i.length == most else i for i in line.rolls))

    return _in_lines(scenario, longer)


def _more(rolls: Sequence[Roll], share: float) -> tuple[Roll, ...]:
    extra = math.ceil(_MOST_ROLLS_MORE * share)
    return tuple(roll if roll.available is None else replaced(roll, available=roll.available + extra) for roll in rolls)


def more_line_rolls(scenario: Scenario, share: float) -> Scenario:
    """Get more of those rolls of emitter line of which few can be had."""
    return _in_lines(scenario, lambda line: replaced(line, rolls=_more(line.rolls, share)))


def more_tube_rolls(scenario: Scenario, share: float) -> Scenario:
    """Get more of those rolls of blank tube of which few can be had."""
    return _in_tubes(scenario, lambda tube: replaced(tube, rolls=_more(tube.rolls, share)))


def _with_piece(scenario: Scenario, tubing: SomeTubing, share: float) -> SomeTubing:
    """Return tubing with one more piece at hand, if what can be had of it is limited."""
    if share <= 0.0 or any(roll.available is None for roll in tubing.rolls):
        return tubing
    wanted = _SHORTEST_PIECE_M * (_LONGEST_PIECE_M / _SHORTEST_PIECE_M) ** share
    return replaced(tubing, owned=(*tubing.owned, rounded(scenario.units, "length", wanted, True)))


def another_line_piece(scenario: Scenario, share: float) -> Scenario:
    """Get one more piece of emitter line."""
    return _in_lines(scenario, lambda line: _with_piece(scenario, line, share))


def another_tube_piece(scenario: Scenario, share: float) -> Scenario:
    """Get one more piece of blank tube."""
    return _in_tubes(scenario, lambda tube: _with_piece(scenario, tube, share))


# ---------------------------------------------------------------- other products


def wider_tube(scenario: Scenario, share: float) -> Scenario:
    """Use blank tube of a wider bore."""
    return _in_tubes(scenario, lambda tube: replaced(tube, bore=grown(scenario.units, "bore", tube.bore, share, 5.0)))


def wider_line(scenario: Scenario, share: float) -> Scenario:
    """Use emitter line of a wider bore."""
    return _in_lines(scenario, lambda line: replaced(line, bore=grown(scenario.units, "bore", line.bore, share, 3.0)))


def less_flow(scenario: Scenario, share: float) -> Scenario:
    """Use emitter line that gives less."""

    def less(line: EmitterLine) -> EmitterLine:
        flow = shrunk(scenario.units, "emitter_flow", line.emitter_flow, share, 8.0)
        # Below what can be written nothing is left of it.
        return replaced(line, flow=written(scenario.units, "emitter_flow", flow)) if flow > 0.0 else line

    return _in_lines(scenario, less) if share > 0.0 else scenario


def more_flow(scenario: Scenario, share: float) -> Scenario:
    """Use emitter line that gives more."""

    def more(line: EmitterLine) -> EmitterLine:
        flow = grown(scenario.units, "emitter_flow", line.emitter_flow, share, 5.0)
        return replaced(line, flow=written(scenario.units, "emitter_flow", flow))

    return _in_lines(scenario, more) if share > 0.0 else scenario


def closer_emitters(scenario: Scenario, share: float) -> Scenario:
    """Use emitter line with emitters closer together."""
    return _in_lines(
        scenario, lambda line: replaced(line, spacing=shrunk(scenario.units, "length", line.spacing, share, 3.0))
    )


def lower_opening(scenario: Scenario, share: float) -> Scenario:
    """Use emitter line that works at less pressure."""

    def lower(line: EmitterLine) -> EmitterLine:
        least = lowered(scenario.units, "pressure", line.least_pressure, share)
        held = line.compensating
        if held is not None:
            held = replaced(held, opens=shrunk(scenario.units, "pressure", held.opens, share, 20.0))
        return replaced(line, least_pressure=least, compensating=held)

    return _in_lines(scenario, lower)


def more_alike(scenario: Scenario, share: float) -> Scenario:
    """Use emitter line whose emitters were made more alike."""
    return _in_lines(scenario, lambda line: replaced(line, cv=round(line.cv * (1.0 - share), 4)))


def longer_label(scenario: Scenario, share: float) -> Scenario:
    """Use emitter line with a longer run on its label."""

    def longer(line: EmitterLine) -> EmitterLine:
        run = line.longest_run
        return line if run is None else replaced(line, longest_run=grown(scenario.units, "length", run, share, 20.0))

    return _in_lines(scenario, longer)


def stronger_tubing(scenario: Scenario, share: float) -> Scenario:
    """Use tubing of a higher rating: what is rated below a common pressure is raised to it."""
    tubings = (*scenario.emitter_lines, *scenario.blank_tubes)
    weakest = min(item.greatest_pressure for item in tubings)
    wanted = raised(scenario.units, "pressure", weakest, share, max(_MOST_RATING_M, weakest))

    def stronger(item: SomeTubing) -> SomeTubing:
        return replaced(item, greatest_pressure=max(item.greatest_pressure, wanted))

    return _in_tubes(_in_lines(scenario, stronger), stronger)

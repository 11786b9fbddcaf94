"""Ways to relax a scenario by an amount between 0, no change, and 1, the most that is worth offering."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from optimizer.choose import relax_plan as plan
from optimizer.choose import relax_products as products
from optimizer.choose import relax_supply as supply
from optimizer.choose.reasons import (
    BURSTS,
    HIGH_PRESSURE,
    LINE_SHORT,
    LOW_PRESSURE,
    NO_WAY,
    NOT_SOLVED,
    RUN_TOO_LONG,
    TIMER_FULL,
    TOO_FAST,
    TOO_LITTLE_FLOW,
    TOO_MANY_GROUPS,
    TOO_MUCH_FLOW,
    TUBE_SHORT,
    UNEVEN,
)
from optimizer.choose.relax_plan import with_zones
from optimizer.choose.relax_values import SomePart, replaced
from optimizer.scenario.schema import Scenario

__all__ = ["CHANGES", "NO_ROOM", "Change", "replaced", "simpler", "with_zones"]

NO_ROOM = "no row fits"
"""a reason where no design fell out, because there was none"""

_MOST_TRIED_ALONE = 6


@dataclass(frozen=True)
class Change:
    """A way to relax a scenario.

    Args:
        what: what to do, in words.
        eases: reasons it may remove.
        apply: the scenario relaxed by a share.
        most: shares to begin with, one after the other until one works; several where too much may spoil it again.
    """

    what: str
    eases: tuple[str, ...]
    apply: Callable[[Scenario, float], Scenario]
    most: tuple[float, ...] = (1.0,)


_MAY_SPOIL = (1.0, 0.6, 0.3)

_PRESSURE = (NOT_SOLVED, LOW_PRESSURE)
_FLOW = (TOO_MUCH_FLOW, *_PRESSURE)
_ZONES = (TIMER_FULL, TOO_MANY_GROUPS)
_LENGTH = (LINE_SHORT, RUN_TOO_LONG, UNEVEN, *_FLOW)

CHANGES: tuple[Change, ...] = (
    Change("allow more zones", _ZONES, plan.more_zones),
    Change("let crops share a zone", _ZONES, plan.shared_zones),
    Change("buy longer rolls of emitter line", (LINE_SHORT,), products.longer_rolls),
    Change("get more rolls of emitter line", (LINE_SHORT,), products.more_line_rolls),
    Change("get another piece of emitter line", (LINE_SHORT,), products.another_line_piece),
    Change("get more rolls of blank tube", (TUBE_SHORT,), products.more_tube_rolls),
    Change("get another piece of blank tube", (TUBE_SHORT,), products.another_tube_piece),
    Change("let rows stand nearer to the edge", (NO_ROOM,), plan.smaller_edges),
    Change("let rows end nearer to the edge", (NO_ROOM,), plan.smaller_row_ends),
    Change("water shorter stretches of row", (NO_ROOM,), plan.shorter_stretches),
    Change("allow joints within a lateral", (LINE_SHORT,), plan.more_joints),
    Change("put more headers into the bed", (LINE_SHORT, RUN_TOO_LONG, UNEVEN, *_PRESSURE), plan.more_headers),
    Change("let rows run along or across", (NO_ROOM, *_LENGTH), plan.other_directions),
    Change("compare header places closer together", (RUN_TOO_LONG, LINE_SHORT, UNEVEN), plan.finer_header_places),
    Change("lay any emitter line in the bed", (), plan.any_line),
    Change("open rows by hand", (TIMER_FULL,), plan.row_shut_offs),
    Change("let tube pass the barriers", (NO_WAY,), plan.through_barriers),
    Change("use wider blank tube", (TOO_FAST, UNEVEN, *_PRESSURE), products.wider_tube),
    Change("let water run faster in blank tube", (TOO_FAST,), plan.faster_water),
    Change("fit a regulator", (BURSTS, HIGH_PRESSURE), supply.added_regulator, _MAY_SPOIL),
    Change("do without a regulator", _FLOW, supply.no_regulator),
    Change("fit regulators that need less pressure in front", _FLOW, supply.undemanding_regulators),
    Change(
        "fit regulators that hold less", (BURSTS, HIGH_PRESSURE, TOO_MUCH_FLOW), supply.lower_regulators, _MAY_SPOIL
    ),
    Change("fit regulators that hold more", (TOO_LITTLE_FLOW, *_PRESSURE), supply.higher_regulators, _MAY_SPOIL),
    Change("fit parts that work at less flow", (TOO_LITTLE_FLOW,), supply.less_least_flow),
    Change("plan on more of the flow measured", (TOO_MUCH_FLOW,), supply.smaller_reserve),
    Change("lay fewer lines in each row", (NO_ROOM, LINE_SHORT, *_FLOW, *_ZONES), plan.fewer_lines),
    Change("let rows stand closer together", (NO_ROOM, TUBE_SHORT), plan.closer_rows),
    Change("leave out rows", (*_ZONES, LINE_SHORT, TUBE_SHORT), plan.fewer_rows),
    Change("leave the ends of rows unplanted", (*_LENGTH, *_ZONES), plan.shorter_rows, _MAY_SPOIL),
    Change("accept less evenness", (UNEVEN, *_ZONES), plan.looser_evenness),
    Change("use a line with a longer run on its label", (RUN_TOO_LONG,), products.longer_label),
    Change("use emitter line that gives less", (TOO_FAST, UNEVEN, *_FLOW, *_ZONES), products.less_flow, _MAY_SPOIL),
    Change("use emitter line of a wider bore", (UNEVEN, *_PRESSURE), products.wider_line),
    Change("use emitter line with more equal emitters", (UNEVEN,), products.more_alike),
    Change("use emitter line that works at less pressure", (LOW_PRESSURE,), products.lower_opening),
    Change("use emitter line that gives more", (TOO_LITTLE_FLOW,), products.more_flow, _MAY_SPOIL),
    Change("use emitter line with closer emitters", (TOO_LITTLE_FLOW,), products.closer_emitters, _MAY_SPOIL),
    Change("use tubing of a higher rating", (BURSTS, HIGH_PRESSURE), products.stronger_tubing),
    Change("get more flow from the supply", (*_FLOW, *_ZONES), supply.more_flow),
    Change("get a greater flow agreed", (TOO_MUCH_FLOW,), supply.greater_agreed_flow),
    Change("fit head parts for a greater flow", _FLOW, supply.wider_parts),
    Change("use a shorter hose to the head parts", _FLOW, supply.shorter_lead_in),
    Change("use a wider hose to the head parts", _FLOW, supply.wider_lead_in),
    Change("raise the tank", (*_FLOW, UNEVEN), supply.higher_tank, _MAY_SPOIL),
    Change("raise the pressure of the supply", (*_FLOW, *_ZONES), supply.more_pressure, _MAY_SPOIL),
)
"""those that cost a grower least first"""


def simpler(old: Scenario, new: Scenario) -> Iterator[Scenario]:
    """Yield a relaxed scenario with only one of its products, beds or regulators relaxed, where several were."""
    parts = old.supply.regulators, new.supply.regulators
    yield from (replaced(new, supply=replaced(new.supply, regulators=chosen)) for chosen in _one_changed(*parts))
    yield from (replaced(new, emitter_lines=chosen) for chosen in _one_changed(old.emitter_lines, new.emitter_lines))
    yield from (replaced(new, blank_tubes=chosen) for chosen in _one_changed(old.blank_tubes, new.blank_tubes))
    yield from (replaced(new, beds=chosen) for chosen in _one_changed(old.beds, new.beds))


def _one_changed(old: tuple[SomePart, ...], new: tuple[SomePart, ...]) -> Iterator[tuple[SomePart, ...]]:
    """Yield the old parts with one of the changed ones; nothing unless several, but not too many, were changed."""
    changed = [index for index, part in enumerate(old) if len(new) == len(old) and new[index] != part]
    if 1 < len(changed) <= _MOST_TRIED_ALONE:
        for index in changed:
            yield (*old[:index], new[index], *old[index + 1 :])

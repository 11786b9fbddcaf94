"""Ways to relax a scenario by an amount between 0, no change, and 1, the most that is worth offering."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeVar

from optimizer.choose.reasons import (
    BURSTS,
    HIGH_PRESSURE,
    LINE_SHORT,
    LOW_PRESSURE,
    NOT_SOLVED,
    RUN_TOO_LONG,
    TIMER_FULL,
    TOO_FAST,
    TOO_LITTLE_FLOW,
    TOO_MUCH_FLOW,
    UNEVEN,
)
from optimizer.choose.waterlimits import DEFAULT_VARIATION
from optimizer.scenario.part import Part
from optimizer.scenario.schema import Crop, PumpSupply, Scenario, TapSupply
from optimizer.units import Display

SomePart = TypeVar("SomePart", bound=Part)


@dataclass(frozen=True)
class Change:
    """A way to relax a scenario.

    Args:
        what: what to do, in words.
        path: where in the scenario file.
        eases: reasons it may remove.
        apply: the scenario relaxed by a share.
        words: how much, from the old and the new scenario.
        value: what to write in the file, from the new scenario.
    """

    what: str
    path: str
    eases: tuple[str, ...]
    apply: Callable[[Scenario, float], Scenario]
    words: Callable[[Display, Scenario, Scenario], str]
    value: Callable[[Scenario], str]


def replaced(part: SomePart, **values: object) -> SomePart:
    """Return a part of a scenario with some fields changed."""
    return part.model_copy(update=values)


def _grown(value: float, share: float, most: float) -> float:
    return float(value * most**share)


def _more_supply(scenario: Scenario, share: float) -> Scenario:
    supply = scenario.supply
    if isinstance(supply, TapSupply) and supply.open_flow is not None:
        return replaced(scenario, supply=replaced(supply, open_flow=_grown(supply.open_flow, share, 20.0)))
    if isinstance(supply, TapSupply):
        readings = tuple(replaced(item, flow=_grown(item.flow, share, 20.0)) for item in supply.readings)
        return replaced(scenario, supply=replaced(supply, readings=readings))
    if isinstance(supply, PumpSupply):
        curve = tuple(replaced(item, flow=_grown(item.flow, share, 20.0)) for item in supply.curve)
        return replaced(scenario, supply=replaced(supply, curve=curve))
    return scenario


def _flow_of(scenario: Scenario) -> float:
    supply = scenario.supply
    if isinstance(supply, TapSupply):
        return supply.open_flow if supply.open_flow is not None else supply.readings[0].flow
    return supply.curve[0].flow if isinstance(supply, PumpSupply) else 0.0


def _more_pressure(scenario: Scenario, share: float) -> Scenario:
    supply = scenario.supply
    if isinstance(supply, TapSupply):
        return replaced(scenario, supply=replaced(supply, static_pressure=_grown(supply.static_pressure, share, 6.0)))
    if isinstance(supply, PumpSupply):
        curve = tuple(replaced(item, pressure=_grown(item.pressure, share, 6.0)) for item in supply.curve)
        return replaced(scenario, supply=replaced(supply, curve=curve))
    return replaced(
        scenario, supply=replaced(supply, outlet_height=_grown(max(supply.outlet_height, 0.5), share, 12.0))
    )


def _pressure_of(scenario: Scenario) -> float:
    supply = scenario.supply
    if isinstance(supply, TapSupply):
        return supply.static_pressure
    return supply.curve[0].pressure if isinstance(supply, PumpSupply) else supply.outlet_height


def with_zones(scenario: Scenario, most: int) -> Scenario:
    """Return the scenario with at most so many zones and a timer with as many outlets."""
    timer = scenario.timer
    if timer is not None and timer.outlets is not None:
        timer = replaced(timer, outlets=most)
    return replaced(scenario, timer=timer, limits=replaced(scenario.limits, zones_at_most=most))


def _more_zones(scenario: Scenario, share: float) -> Scenario:
    most = scenario.most_zones
    return scenario if most is None else with_zones(scenario, most + math.ceil(share * 40))


def _fewer_rows(scenario: Scenario, share: float) -> Scenario:
    """Leave out rows: every request shrinks; a crop that fills keeps its share of the bed by wider spacing."""

    def less(crop: Crop) -> Crop:
        keep = 1.0 - 0.95 * share
        if crop.fill:
            return replaced(crop, row_spacing=crop.row_spacing / keep)
        if crop.rows is not None:
            return replaced(crop, rows=max(math.floor(crop.rows * keep + 1e-9), 1))
        if crop.plants is not None:
            return replaced(crop, plants=max(math.floor(crop.plants * keep + 1e-9), 1))
        return replaced(crop, row_length=crop.row_length * keep) if crop.row_length is not None else crop

    beds = (replaced(bed, crops=tuple(less(crop) for crop in bed.crops)) for bed in scenario.beds)
    return replaced(scenario, beds=tuple(beds))


def _rows_kept(old: Scenario, new: Scenario) -> float:
    for before, after in zip(old.beds[0].crops, new.beds[0].crops, strict=True):
        if before.fill:
            return before.row_spacing / after.row_spacing
        for key in ("rows", "plants", "row_length"):
            if getattr(before, key) is not None:
                return float(getattr(after, key) / getattr(before, key))
    return 1.0


def _longer_rolls(scenario: Scenario, share: float) -> Scenario:
    lines = tuple(
        replaced(
            line,
            rolls=tuple(replaced(roll, length=_grown(roll.length, share, 40.0)) for roll in line.rolls),
        )
        for line in scenario.emitter_lines
    )
    return replaced(scenario, emitter_lines=lines)


def _roll_of(scenario: Scenario) -> float:
    return max((roll.length for line in scenario.emitter_lines for roll in line.rolls), default=0.0)


def _joints(scenario: Scenario, share: float) -> Scenario:
    joints = min(scenario.limits.joints_per_lateral + math.ceil(5 * share), 5)
    return replaced(scenario, limits=replaced(scenario.limits, joints_per_lateral=joints))


def _looser_evenness(scenario: Scenario, share: float) -> Scenario:
    limits = scenario.limits
    if limits.emission_uniformity is not None and limits.flow_variation is None:
        return replaced(
            scenario, limits=replaced(limits, emission_uniformity=limits.emission_uniformity * (1 - 0.9 * share))
        )
    before = limits.flow_variation if limits.flow_variation is not None else DEFAULT_VARIATION
    return replaced(scenario, limits=replaced(limits, flow_variation=before + (0.6 - min(before, 0.5)) * share))


def _longer_label(scenario: Scenario, share: float) -> Scenario:
    lines = tuple(
        line if line.longest_run is None else replaced(line, longest_run=_grown(line.longest_run, share, 20.0))
        for line in scenario.emitter_lines
    )
    return replaced(scenario, emitter_lines=lines)


def _more_headers(scenario: Scenario, share: float) -> Scenario:
    most = min(scenario.limits.headers_at_most + math.ceil(3 * share), 4)
    return replaced(scenario, limits=replaced(scenario.limits, headers_at_most=most))


def _wider_tube(scenario: Scenario, share: float) -> Scenario:
    tubes = tuple(replaced(tube, bore=_grown(tube.bore, share, 5.0)) for tube in scenario.blank_tubes)
    return replaced(scenario, blank_tubes=tubes)


def _stronger_tube(scenario: Scenario, share: float) -> Scenario:
    lines = tuple(
        replaced(i, greatest_pressure=_grown(i.greatest_pressure, share, 20.0)) for i in scenario.emitter_lines
    )
    tubes = tuple(replaced(i, greatest_pressure=_grown(i.greatest_pressure, share, 20.0)) for i in scenario.blank_tubes)
    return replaced(scenario, emitter_lines=lines, blank_tubes=tubes)


def _less_least_flow(scenario: Scenario, share: float) -> Scenario:
    keep = 1.0 - share
    supply = scenario.supply
    regulators = tuple(replaced(item, least_flow=item.least_flow * keep) for item in supply.regulators)
    parts = tuple(replaced(item, least_flow=item.least_flow * keep) for item in supply.head_parts)
    changed = replaced(supply, regulators=regulators, head_parts=parts)
    if isinstance(supply, PumpSupply):
        changed = replaced(changed, least_flow=supply.least_flow * keep)
    return replaced(scenario, supply=changed)


def _m(value: float) -> str:
    return f'"{value:.2f} m"'


def _evenness_words(show: Display, old: Scenario, new: Scenario) -> str:
    limits = new.limits
    if limits.flow_variation is None and limits.emission_uniformity is not None:
        return f"emission uniformity from {100 * limits.emission_uniformity:.0f} % on"
    return f"flow variation up to {100 * (limits.flow_variation or DEFAULT_VARIATION):.1f} %"


def _evenness_value(new: Scenario) -> str:
    limits = new.limits
    share = limits.emission_uniformity if limits.flow_variation is None else limits.flow_variation
    return f'"{100 * (share or DEFAULT_VARIATION):.1f} %"'


_PRESSURE = (NOT_SOLVED, LOW_PRESSURE)
_FLOW = (TOO_MUCH_FLOW, *_PRESSURE)

CHANGES: tuple[Change, ...] = (
    Change(
        "allow more zones",
        "limits.zones_at_most",
        (TIMER_FULL,),
        _more_zones,
        lambda show, old, new: f"{old.most_zones} to {new.most_zones}, and a timer with as many outlets",
        lambda new: f"{new.most_zones}",
    ),
    Change(
        "buy longer rolls of emitter line",
        "emitter_lines.0.rolls.0.length",
        (LINE_SHORT,),
        _longer_rolls,
        lambda show, old, new: f"{show.length(_roll_of(old))} to {show.length(_roll_of(new))}",
        lambda new: _m(_roll_of(new)),
    ),
    Change(
        "allow joints within a lateral",
        "limits.joints_per_lateral",
        (LINE_SHORT,),
        _joints,
        lambda show, old, new: f"up to {new.limits.joints_per_lateral}",
        lambda new: f"{new.limits.joints_per_lateral}",
    ),
    Change(
        "put more headers into the bed",
        "limits.headers_at_most",
        (LINE_SHORT, RUN_TOO_LONG, UNEVEN, *_PRESSURE),
        _more_headers,
        lambda show, old, new: f"up to {new.limits.headers_at_most}",
        lambda new: f"{new.limits.headers_at_most}",
    ),
    Change(
        "use wider blank tube",
        "blank_tubes.0.bore",
        (TOO_FAST, UNEVEN, *_PRESSURE),
        _wider_tube,
        lambda show, old, new: f"bore {show.bore(old.blank_tubes[0].bore)} to {show.bore(new.blank_tubes[0].bore)}",
        lambda new: f'"{1000 * new.blank_tubes[0].bore:.1f} mm"',
    ),
    Change(
        "leave out rows",
        "beds.0.crops",
        (TIMER_FULL, LINE_SHORT),
        _fewer_rows,
        lambda show, old, new: f"keep {100 * _rows_kept(old, new):.0f} % of what was asked",
        lambda new: "smaller requests; for a crop that fills, a wider row_spacing",
    ),
    Change(
        "accept less evenness",
        "limits.flow_variation",
        (UNEVEN, TIMER_FULL),
        _looser_evenness,
        _evenness_words,
        _evenness_value,
    ),
    Change(
        "get more flow from the supply",
        "supply.open_flow",
        (*_FLOW, TIMER_FULL),
        _more_supply,
        lambda show, old, new: f"{show.flow(_flow_of(old))} to {show.flow(_flow_of(new))}",
        lambda new: f'"{60_000 * _flow_of(new):.2f} L/min"',
    ),
    Change(
        "raise the pressure of the supply",
        "supply.static_pressure",
        (*_FLOW, TIMER_FULL),
        _more_pressure,
        lambda show, old, new: f"{show.pressure(_pressure_of(old))} to {show.pressure(_pressure_of(new))}",
        lambda new: f'"{_pressure_of(new):.2f} m head"',
    ),
    Change(
        "use tubing of a higher rating",
        "emitter_lines.0.greatest_pressure",
        (BURSTS, HIGH_PRESSURE),
        _stronger_tube,
        lambda show, old, new: "from {} to {}".format(
            *(show.pressure(item.emitter_lines[0].greatest_pressure) for item in (old, new))
        ),
        lambda new: f'"{new.emitter_lines[0].greatest_pressure:.2f} m head"',
    ),
    Change(
        "fit parts that work at less flow",
        "supply.regulators.0.least_flow",
        (TOO_LITTLE_FLOW,),
        _less_least_flow,
        lambda show, old, new: "a smaller least flow of pump, regulator and head parts",
        lambda new: '"0 L/min"',
    ),
    Change(
        "use a line with a longer run on its label",
        "emitter_lines.0.longest_run",
        (RUN_TOO_LONG,),
        _longer_label,
        lambda show, old, new: f"up to {show.length(new.emitter_lines[0].longest_run or 0.0)}",
        lambda new: _m(new.emitter_lines[0].longest_run or 0.0),
    ),
)
"""those that cost a grower least first"""

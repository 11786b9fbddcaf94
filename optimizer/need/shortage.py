"""When the windows (or the litres) do not suffice: how much is covered, and what would make it fit."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from optimizer.need.demand import Demand, ZoneTimes
from optimizer.need.levers import Lever, emitter_lever, flow_lever, need_lever, starts_lever, time_lever, volume_lever
from optimizer.need.schedule import arrange, surely_too_much
from optimizer.need.timer import Allowance

LEVERS = 3
"""Levers handed out, best first."""


@dataclass(frozen=True)
class Shortage:
    """What a period lacks.

    Args:
        short_pct: whole percent of the need that is not covered by `covered` [%]
        proven: the sums alone show that one percent more cannot be covered; else none was found
        covered: the schedule that covers the rest, every zone cut by the same share
        levers: up to three changes that make all fit, those within reach first
    """

    short_pct: int
    proven: bool
    covered: tuple[ZoneTimes, ...]
    levers: tuple[Lever, ...]


def covered_percent(demands: Sequence[Demand], allowance: Allowance) -> tuple[int, tuple[ZoneTimes, ...]]:
    """Largest whole percent of the need that can be scheduled, every zone alike, and that schedule.

    Args:
        demands: of shape (n,)
        allowance: windows, timer, volume
    """
    for percent in range(100, 0, -1):
        times = arrange([demand.scaled(percent / 100.0) for demand in demands], allowance)
        if times is not None:
            return percent, times
    return 0, ()


def find_shortage(demands: Sequence[Demand], allowance: Allowance, mulch_saves: float) -> Shortage | None:
    """What is short in a period and what would help, or None if nothing is.

    Args:
        demands: of shape (n,)
        allowance: windows, timer, volume
        mulch_saves: share of the need that mulch would save here [1]
    """
    percent, covered = covered_percent(demands, allowance)
    if percent == 100:
        return None
    candidates = [
        volume_lever(demands, allowance),
        starts_lever(demands, allowance),
        need_lever(100 - percent, mulch_saves),
        flow_lever(demands, allowance) or emitter_lever(demands, allowance, 100 - percent),
        time_lever(demands, allowance),
    ]
    known = sorted((lever for lever in candidates if lever is not None), key=lambda lever: not lever.within_reach)
    proven = surely_too_much([demand.scaled((percent + 1) / 100.0) for demand in demands], allowance)
    full = {demand.zone: demand.week_minutes for demand in demands}
    given = tuple(replace(times, wanted_week_min=full[times.zone]) for times in covered)
    return Shortage(100 - percent, proven, given, tuple(known[:LEVERS]))

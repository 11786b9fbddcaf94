"""When the windows (or the litres) do not suffice: how much is covered, and what would make it fit.

Every lever is proven by planning again with it: its amount is the least (in the steps stated) for which a schedule
that covers the whole need was found.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

from optimizer.need.demand import Demand, ZoneTimes
from optimizer.need.minutes import may_share
from optimizer.need.schedule import arrange, surely_too_much
from optimizer.need.timer import DAY_MINUTES, Allowance, Window, day_names

LITRES_PER_MINUTE = 60_000.0
"""1 m3/s in L/min."""
HOUR_STEP_MIN = 5
"""Step in which longer windows are tried [min]."""
LEVERS = 3
"""Levers handed out, best first."""


@dataclass(frozen=True)
class Lever:
    """One change that makes the schedule fit.

    Args:
        kind: "need" (mulch), "flow" (zones together), "hours", "days" or "volume"
        amount: how much, in `unit`
        unit: "%", "m3/s", "min" a window, "day" a week or "m3" a day
        within_reach: whether what is known of the site allows it
        text: the same in words, metric
    """

    kind: str
    amount: float
    unit: str
    within_reach: bool
    text: str


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


def need_lever(short_pct: int, mulch_saves: float) -> Lever:
    """Take less: the need cut by what is short, as mulch does.

    Args:
        short_pct: whole percent that is not covered [%]
        mulch_saves: share of the need that mulch would save here [1]
    """
    can = 100.0 * mulch_saves
    text = f"reduce the need by {short_pct} %; a full organic mulch saves about {can:.0f} % here"
    return Lever("need", float(short_pct), "%", can >= short_pct, text)


def together(one: Demand, two: Demand) -> Demand:
    """Two zones run at the same time as one.

    Args:
        one: first zone
        two: second zone
    """
    return Demand(
        zone=f"{one.zone} + {two.zone}",
        minutes_per_day=max(one.minutes_per_day, two.minutes_per_day),
        most_minutes=min(one.most_minutes, two.most_minutes),
        most_gap_days=min(one.most_gap_days, two.most_gap_days),
        flow_m3_s=one.flow_m3_s + two.flow_m3_s,
    )


def pairs_by_flow(demands: Sequence[Demand]) -> list[tuple[int, int]]:
    """Pairs of zones, the least added flow first.

    Args:
        demands: of shape (n,)
    """
    pairs = combinations(range(len(demands)), 2)
    return sorted(pairs, key=lambda p: (demands[p[0]].flow_m3_s + demands[p[1]].flow_m3_s, p))


def flow_lever(demands: Sequence[Demand], allowance: Allowance) -> Lever | None:
    """Run zones together: the pair with the least flow that makes all fit, else pairs are joined one after another.

    Args:
        demands: of shape (n,)
        allowance: windows, timer, usable flow
    """
    zones = list(demands)
    while len(zones) > 1:
        for a, b in pairs_by_flow(zones):
            joined = [together(zones[a], zones[b]), *(z for i, z in enumerate(zones) if i not in (a, b))]
            if arrange(joined, allowance) is not None:
                return describe_flow(joined, demands, allowance)
        a, b = pairs_by_flow(zones)[0]
        zones = [together(zones[a], zones[b]), *(z for i, z in enumerate(zones) if i not in (a, b))]
    return None


def describe_flow(joined: Sequence[Demand], demands: Sequence[Demand], allowance: Allowance) -> Lever:
    """The lever for zones run together; within reach if the supply can feed them and their minutes may share.

    Args:
        joined: zones after joining
        demands: zones before
        allowance: usable flow and tolerance
    """
    before = {demand.zone: demand for demand in demands}
    groups = [zone for zone in joined if zone.zone not in before]
    flow = max(zone.flow_m3_s for zone in groups)
    fed = allowance.usable_flow_m3_s is not None and flow <= allowance.usable_flow_m3_s * (1.0 + 1e-9)
    minutes = [[before[name].minutes_per_day for name in zone.zone.split(" + ")] for zone in groups]
    alike = all(may_share(min(each), max(each), allowance.tolerance) for each in minutes)
    names = "; ".join(zone.zone for zone in groups)
    text = f"run together {names}: needs {flow * LITRES_PER_MINUTE:.1f} L/min at working pressure"
    text += "" if alike else ", and the one that needs less gets too much"
    return Lever("flow", flow, "m3/s", fed and alike, text)


def lengthened(allowance: Allowance, minutes: int) -> Allowance:
    """Windows that end later, but not past midnight or into the next window.

    Args:
        allowance: windows
        minutes: how much later [min]
    """
    windows = []
    for window in allowance.windows:
        later = [other.start_min for other in allowance.on(window.weekday) if other.start_min >= window.end_min]
        windows.append(replace(window, end_min=min([window.end_min + minutes, DAY_MINUTES, *later])))
    return replace(allowance, windows=tuple(windows))


def hours_lever(demands: Sequence[Demand], allowance: Allowance) -> Lever | None:
    """Longer windows, in steps of `HOUR_STEP_MIN`.

    Args:
        demands: of shape (n,)
        allowance: windows, timer
    """
    for minutes in range(HOUR_STEP_MIN, DAY_MINUTES, HOUR_STEP_MIN):
        longer = lengthened(allowance, minutes)
        if arrange(demands, longer) is not None:
            more = longer.week_minutes - allowance.week_minutes
            text = f"let each window end {minutes} min later ({more / 60.0:.1f} h more a week)"
            return Lever("hours", float(minutes), "min", True, text)
    return None


def with_days(allowance: Allowance, days: Iterable[int]) -> Allowance:
    """The same hours (those of the first day that has any) on more days.

    Args:
        allowance: windows
        days: weekdays to add
    """
    pattern = allowance.on(allowance.weekdays[0])
    more = [Window(day, each.start_min, each.end_min) for day in days for each in pattern]
    return replace(allowance, windows=(*allowance.windows, *more))


def days_lever(demands: Sequence[Demand], allowance: Allowance) -> Lever | None:
    """More days with the same hours: the fewest, the earliest in the week among those.

    Args:
        demands: of shape (n,)
        allowance: windows, timer
    """
    free = [day for day in range(7) if day not in allowance.weekdays]
    for count in range(1, len(free) + 1):
        for days in combinations(free, count):
            if arrange(demands, with_days(allowance, days)) is not None:
                return Lever("days", float(count), "day", True, f"water also on {day_names(days)}, at the same hours")
    return None


def volume_lever(demands: Sequence[Demand], allowance: Allowance) -> Lever | None:
    """More water a day, in whole percent of what is allowed; None if water is not what is short.

    Args:
        demands: of shape (n,)
        allowance: windows, timer, volume
    """
    volume = allowance.volume_per_day_m3
    if volume is None or arrange(demands, replace(allowance, volume_per_day_m3=None)) is None:
        return None
    percent = 101
    while arrange(demands, replace(allowance, volume_per_day_m3=volume * percent / 100.0)) is None:
        percent += 1
    more = volume * percent / 100.0
    return Lever("volume", more, "m3", False, f"allow {1000.0 * more:.0f} L a day instead of {1000.0 * volume:.0f} L")


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
        need_lever(100 - percent, mulch_saves),
        volume_lever(demands, allowance),
        flow_lever(demands, allowance),
        hours_lever(demands, allowance),
        days_lever(demands, allowance),
    ]
    known = sorted((lever for lever in candidates if lever is not None), key=lambda lever: not lever.within_reach)
    proven = surely_too_much([demand.scaled((percent + 1) / 100.0) for demand in demands], allowance)
    return Shortage(100 - percent, proven, covered, tuple(known[:LEVERS]))

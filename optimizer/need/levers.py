"""Changes that make a schedule fit when the windows or the litres do not suffice.

Every lever is proven by planning again with it: its amount is the least (in the steps stated) for which a schedule
that covers the whole need was found.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

from optimizer.need.demand import Demand
from optimizer.need.minutes import may_share
from optimizer.need.schedule import arrange
from optimizer.need.timer import DAY_MINUTES, Allowance, Window, day_names

LITRES_PER_MINUTE = 60_000.0
"""1 m3/s in L/min."""
MOST_FLOW = 4
"""Up to so many times the flow is tried."""
MOST_STARTS = 16
"""Up to so many starts a day are tried."""
HOUR_STEP_MIN = 5
"""Step in which longer windows are tried [min]."""


@dataclass(frozen=True)
class Lever:
    """One change that makes the schedule fit.

    Args:
        kind: "need" (mulch), "flow" (zones together, more emitters), "hours", "days", "volume" or "starts"
        amount: how much, in `unit`
        unit: "%", "m3/s", "min" a window, "day" a week, "m3" a day or "start" a day
        within_reach: whether what is known of the site allows it
        text: the same in words, metric
    """

    kind: str
    amount: float
    unit: str
    within_reach: bool
    text: str


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


def pairs_by_flow(demands: Sequence[Demand], tolerance: float) -> list[tuple[int, int]]:
    """Pairs of zones, those of like minutes first, then the least added flow.

    Args:
        demands: of shape (n,)
        tolerance: share of the longer time within which minutes are alike
    """

    def rank(pair: tuple[int, int]) -> tuple[bool, float, tuple[int, int]]:
        one, two = demands[pair[0]], demands[pair[1]]
        alike = may_share(one.minutes_per_day, two.minutes_per_day, tolerance)
        return not alike, one.flow_m3_s + two.flow_m3_s, pair

    return sorted(combinations(range(len(demands)), 2), key=rank)


def flow_lever(demands: Sequence[Demand], allowance: Allowance) -> Lever | None:
    """Run zones together: the first pair that makes all fit, else pairs are joined one after another.

    Args:
        demands: of shape (n,)
        allowance: windows, timer, usable flow
    """
    zones = list(demands)
    while len(zones) > 1:
        for a, b in pairs_by_flow(zones, allowance.tolerance):
            joined = [together(zones[a], zones[b]), *(z for i, z in enumerate(zones) if i not in (a, b))]
            if arrange(joined, allowance) is not None:
                return describe_flow(joined, demands, allowance)
        a, b = pairs_by_flow(zones, allowance.tolerance)[0]
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


def emitter_lever(demands: Sequence[Demand], allowance: Allowance, short_pct: int) -> Lever | None:
    """More water an hour in every zone (a second line, or emitters of more flow), in whole percent of the flow now.

    Args:
        demands: of shape (n,)
        allowance: windows, timer, usable flow
        short_pct: whole percent of the need that is not covered [%]
    """
    most = max(demand.flow_m3_s for demand in demands)
    for percent in range(101, 100 * MOST_FLOW + 1):
        times = 100.0 / percent
        if times > 1.0 - (short_pct - 1) / 100.0:
            continue
        faster = [
            replace(d.scaled(times), most_minutes=d.most_minutes * times, flow_m3_s=d.flow_m3_s / times)
            for d in demands
        ]
        if arrange(faster, allowance) is not None:
            flow = most * percent / 100.0
            fed = allowance.usable_flow_m3_s is not None and flow <= allowance.usable_flow_m3_s * (1.0 + 1e-9)
            litres = flow * LITRES_PER_MINUTE
            text = f"give {percent} % of the flow (a second line, or emitters of more flow): needs {litres:.1f} L/min"
            return Lever("flow", flow, "m3/s", fed, text)
    return None


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


def time_lever(demands: Sequence[Demand], allowance: Allowance) -> Lever | None:
    """Longer windows or more days: the hours if they can do it, the days named beside them.

    Args:
        demands: of shape (n,)
        allowance: windows, timer
    """
    hours, days = hours_lever(demands, allowance), days_lever(demands, allowance)
    if hours is None or days is None:
        return hours or days
    return replace(hours, text=f"{hours.text}; or {days.text}")


def starts_lever(demands: Sequence[Demand], allowance: Allowance) -> Lever | None:
    """A timer with more starts a day; None if starts are not what is short.

    Args:
        demands: of shape (n,)
        allowance: windows, timer, volume
    """
    now = allowance.timer.starts_per_day
    for starts in range(now + 1, MOST_STARTS + 1):
        timer = replace(allowance.timer, starts_per_day=starts)
        if arrange(demands, replace(allowance, timer=timer)) is not None:
            text = f"use a timer with {starts} starts a day instead of {now}"
            return Lever("starts", float(starts), "start", False, text)
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

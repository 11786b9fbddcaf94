"""What a zone asks for, and the ways to water it on given days of the week."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

from optimizer.need.timer import Allowance

SECONDS = 60.0


@dataclass(frozen=True)
class Demand:
    """What a zone asks for in a period.

    Args:
        zone: its name
        minutes_per_day: run time a day that covers the need, averaged over the week [min]
        most_minutes: longest run the soil takes without losing water downwards [min]
        most_gap_days: longest distance between watering days the stored water bridges, at least 1 [day]
        flow_m3_s: flow while it runs [m3/s]
    """

    zone: str
    minutes_per_day: float
    most_minutes: float
    most_gap_days: int
    flow_m3_s: float

    @property
    def week_minutes(self) -> float:
        """Run time a week that covers the need [min]."""
        return 7.0 * self.minutes_per_day

    def scaled(self, share: float) -> Demand:
        """The demand with that share of the need.

        Args:
            share: 0 to 1 [1]
        """
        return replace(self, minutes_per_day=share * self.minutes_per_day)


@dataclass(frozen=True)
class Choice:
    """One way to water a zone: days, runs a day, minutes a run; `rank` orders choices, least first."""

    days: tuple[int, ...]
    runs: int
    minutes: int
    rank: tuple[int, int, int, float, int, tuple[int, ...]]


@dataclass(frozen=True)
class ZoneTimes:
    """Times of a zone in a period.

    Args:
        zone: its name
        weekdays: 0 (Monday) to 6 (Sunday), in order
        starts_min: starts on each of these days, minutes of the day [min]
        minutes: length of each run [min]
        wanted_week_min: run time a week that covers the need [min]
        flow_m3_s: flow while it runs [m3/s]
        bridged: the soil's stored water reaches from one watering day to the next
    """

    zone: str
    weekdays: tuple[int, ...]
    starts_min: tuple[int, ...]
    minutes: int
    wanted_week_min: float
    flow_m3_s: float
    bridged: bool

    @property
    def week_minutes(self) -> int:
        """Run time a week [min]."""
        return self.minutes * len(self.starts_min) * len(self.weekdays)

    @property
    def week_m3(self) -> float:
        """Water a week [m3]."""
        return self.week_minutes * SECONDS * self.flow_m3_s


def longest_gap(days: Sequence[int]) -> int:
    """Longest distance from one watering day to the next, round the week [day].

    Args:
        days: 0 (Monday) to 6 (Sunday), in order, at least one
    """
    return max((later - day) % 7 or 7 for day, later in zip(days, [*days[1:], days[0]], strict=True))


def step_up(minutes: float, step: int) -> int:
    """Minutes rounded up to the timer's steps, at least one step [min].

    Args:
        minutes: wanted [min]
        step: of the timer [min]
    """
    return max(1, math.ceil(minutes / step - 1e-9)) * step


def zone_choice(demand: Demand, allowance: Allowance, days: tuple[int, ...]) -> Choice | None:
    """How a zone is watered on these days, with the fewest runs a day; None if the timer's starts do not suffice.

    Args:
        demand: what the zone asks for
        allowance: timer
        days: weekdays, in order
    """
    timer = allowance.timer
    longest = min(timer.longest_run_min // timer.step_min * timer.step_min, max(timer.step_min, demand.most_minutes))
    for runs in range(1, timer.starts_per_day + 1):
        minutes = step_up(demand.week_minutes / (len(days) * runs), timer.step_min)
        if minutes <= longest + 1e-9:
            gap = longest_gap(days)
            excess = minutes * runs * len(days) - demand.week_minutes
            late = max(0, gap - demand.most_gap_days)
            return Choice(days, runs, minutes, (late, runs * len(days), len(days), round(excess, 6), gap, days))
    return None


def day_sets(weekdays: Sequence[int]) -> Iterator[tuple[int, ...]]:
    """Every set of the allowed days, small ones first.

    Args:
        weekdays: allowed days, in order
    """
    for size in range(1, len(weekdays) + 1):
        yield from combinations(weekdays, size)

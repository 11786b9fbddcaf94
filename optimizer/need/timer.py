"""What the timer, the clock and the supply allow: windows of the week, steps, starts, litres."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from optimizer.errors import Problem, ScenarioError
from optimizer.need.calendar_days import WEEKDAY_NAMES

DAY_MINUTES = 24 * 60


def clock(minute: int) -> str:
    """Minute of the day as a time, 390 as 06:30.

    Args:
        minute: 0 to 1440 [min]
    """
    return f"{minute // 60:02d}:{minute % 60:02d}"


def day_names(weekdays: Sequence[int]) -> str:
    """Weekdays as words, (0, 2) as "Mon Wed".

    Args:
        weekdays: 0 (Monday) to 6 (Sunday)
    """
    return " ".join(WEEKDAY_NAMES[day] for day in sorted(weekdays))


@dataclass(frozen=True, order=True)
class Window:
    """Hours of one weekday in which water may run; a night across midnight is two windows.

    Args:
        weekday: 0 (Monday) to 6 (Sunday)
        start_min: first minute of the day [min]
        end_min: minute of the day at which all is off, up to 1440 [min]
    """

    weekday: int
    start_min: int
    end_min: int

    def __post_init__(self) -> None:
        """Refuse windows outside the day."""
        if not (0 <= self.weekday <= 6 and 0 <= self.start_min < self.end_min <= DAY_MINUTES):
            raise ScenarioError(
                "window", [Problem("", "weekday 0 to 6, times within one day, the end after the start")]
            )

    @property
    def minutes(self) -> int:
        """Length [min]."""
        return self.end_min - self.start_min


@dataclass(frozen=True)
class Timer:
    """What the timer can do.

    Args:
        outlets: zones it can switch
        step_min: minutes come in multiples of this [min]
        longest_run_min: longest single run [min]
        starts_per_day: runs a day for each outlet
    """

    outlets: int = 1
    step_min: int = 1
    longest_run_min: int = 240
    starts_per_day: int = 4

    def __post_init__(self) -> None:
        """Refuse timers that cannot run."""
        if min(self.outlets, self.step_min, self.starts_per_day) < 1 or self.longest_run_min < self.step_min:
            problem = Problem("", "outlets, step and starts must be 1 or more, the longest run at least one step")
            raise ScenarioError("timer", [problem])


@dataclass(frozen=True)
class Allowance:
    """When and how much water may be used.

    Args:
        windows: hours of the week; those of one day must not overlap
        timer: what the timer can do
        soak_min: least pause between two runs of the same zone on one day (common practice: 30 to 60) [min]
        volume_per_day_m3: most water a day, None if unlimited [m3]
        tank_volume_m3: water in a full tank, None without a tank [m3]
        usable_flow_m3_s: flow the supply can give at working pressure, None if not known [m3/s]
        tolerance: difference of minutes within which zones may run together [1]
    """

    windows: tuple[Window, ...]
    timer: Timer
    soak_min: int = 30
    volume_per_day_m3: float | None = None
    tank_volume_m3: float | None = None
    usable_flow_m3_s: float | None = None
    tolerance: float = 0.2

    def __post_init__(self) -> None:
        """Refuse overlapping windows and amounts of nothing."""
        faults = [] if self.windows else [Problem("windows", "no window: water may never run")]
        ordered = sorted(self.windows)
        for one, two in pairwise(ordered):
            if one.weekday == two.weekday and two.start_min < one.end_min:
                faults.append(Problem("windows", f"two windows overlap on {WEEKDAY_NAMES[one.weekday]}"))
        for name in ("volume_per_day_m3", "tank_volume_m3", "usable_flow_m3_s"):
            value = getattr(self, name)
            if value is not None and not value > 0.0:
                faults.append(Problem(name, "must be above 0, or left out"))
        if self.soak_min < 0 or not 0.0 <= self.tolerance <= 1.0:
            faults.append(Problem("", "the pause must not be negative, the tolerance 0 to 1"))
        if faults:
            raise ScenarioError("allowance", faults)

    @property
    def weekdays(self) -> tuple[int, ...]:
        """Days that have a window, in order."""
        return tuple(sorted({window.weekday for window in self.windows}))

    def on(self, weekday: int) -> tuple[Window, ...]:
        """Windows of one day, in order.

        Args:
            weekday: 0 (Monday) to 6 (Sunday)
        """
        return tuple(sorted(window for window in self.windows if window.weekday == weekday))

    def day_minutes(self, weekday: int) -> int:
        """Minutes of one day in which water may run [min].

        Args:
            weekday: 0 (Monday) to 6 (Sunday)
        """
        return sum(window.minutes for window in self.on(weekday))

    @property
    def week_minutes(self) -> int:
        """Minutes of a week in which water may run [min]."""
        return sum(window.minutes for window in self.windows)

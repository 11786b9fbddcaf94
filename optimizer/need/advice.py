"""Warnings about spacing, sharing, short runs and thirsty spells."""

from __future__ import annotations

from collections.abc import Sequence

from optimizer.need.demand import ZoneTimes
from optimizer.need.growing import Row
from optimizer.need.minutes import may_share
from optimizer.need.timer import Allowance
from optimizer.need.zone_period import RowPeriod, Zone

SEED_SHARE = 0.5
"""Emitters of sown rows no further apart than this share of the wetted width, so that wet spots overlap by half and
the surface between them is wet (common practice, no source)."""
FILL_SHARE = 0.1
"""Filling the tubes may take up to this share of a run (common practice, no source)."""


def spacing_warnings(row: Row) -> tuple[str, ...]:
    """Emitters too far apart for the soil, or for seeds to come up between them.

    Args:
        row: spacing, soil, whether sown
    """
    found = []
    spacing, soil = row.emitter_spacing_m, row.soil
    if spacing > soil.emitter_spacing_m * (1.0 + 1e-9):
        found.append(
            f"{row.name}: emitters {100 * spacing:.0f} cm apart leave dry gaps in {soil.name}; "
            f"up to {100 * soil.emitter_spacing_m:.0f} cm is usual"
        )
    if row.direct_seeded and spacing > SEED_SHARE * soil.wetted_width_m * (1.0 + 1e-9):
        found.append(
            f"{row.name}: sown in place, and seeds between emitters {100 * spacing:.0f} cm apart may stay dry; "
            f"wet the bed from above until they are up, or use up to {100 * SEED_SHARE * soil.wetted_width_m:.0f} cm"
        )
    return tuple(found)


def sharing_warnings(
    zone: Zone, periods: Sequence[tuple[str, Sequence[RowPeriod]]], tolerance: float
) -> tuple[str, ...]:
    """Rows of a zone that need clearly different times, told for the period in which they differ most.

    Args:
        zone: its name
        periods: name of each period and the zone's rows in it
        tolerance: share of the longer time
    """
    apart = []
    for name, rows in periods:
        most = max(rows, key=lambda row: row.minutes_per_day)
        least = min(rows, key=lambda row: row.minutes_per_day)
        if not may_share(most.minutes_per_day, least.minutes_per_day, tolerance):
            apart.append((most.minutes_per_day - least.minutes_per_day, name, most, least))
    if not apart:
        return ()
    _, name, most, least = max(apart, key=lambda each: each[0])
    return (
        f"{zone.name}, {name}: {least.name} needs {7 * least.minutes_per_day:.0f} min a week, "
        f"{most.name} {7 * most.minutes_per_day:.0f}; run for the longer, the other gets too much",
    )


def run_warnings(zone: Zone, periods: Sequence[tuple[str, ZoneTimes]]) -> tuple[str, ...]:
    """Runs too short beside the time the tubes need to fill, and pauses longer than the soil bridges.

    Args:
        zone: fill time
        periods: name of each period and the zone's schedule in it
    """
    found = []
    short = [(times.minutes, name) for name, times in periods if zone.fill_minutes > FILL_SHARE * times.minutes]
    if short:
        minutes, name = min(short)
        found.append(
            f"{zone.name}, {name}: the tubes take {zone.fill_minutes:.1f} min to fill and runs last {minutes} min; "
            "the far end gets less"
        )
    dry = [name for name, times in periods if not times.bridged]
    if dry:
        found.append(
            f"{zone.name}, {', '.join(dry)}: the wetted soil holds too little to reach "
            "from one watering day to the next without stress"
        )
    return tuple(found)


def supply_warnings(zones: Sequence[Zone], times: Sequence[ZoneTimes], allowance: Allowance) -> tuple[str, ...]:
    """More zones than outlets, or a day that takes more than a full tank.

    Args:
        zones: all of them
        times: schedule of one period
        allowance: outlets and tank
    """
    found = []
    if len(zones) > allowance.timer.outlets:
        found.append(
            f"{len(zones)} zones on a timer with {allowance.timer.outlets} outlet(s): "
            "another timer, or switch zones by hand"
        )
    tank = allowance.tank_volume_m3
    heaviest = max((day_volume_m3(times, day) for day in range(7)), default=0.0)
    if tank is not None and heaviest > tank * (1.0 + 1e-9):
        found.append(
            f"one day takes {1000 * heaviest:.0f} L, the tank holds {1000 * tank:.0f} L: refill during the day"
        )
    return tuple(found)


def day_volume_m3(times: Sequence[ZoneTimes], weekday: int) -> float:
    """Water of all zones on one weekday [m3].

    Args:
        times: schedule of one period
        weekday: 0 (Monday) to 6 (Sunday)
    """
    today = [zone for zone in times if weekday in zone.weekdays]
    return sum(zone.minutes * len(zone.starts_min) * 60.0 * zone.flow_m3_s for zone in today)

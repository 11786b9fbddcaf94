"""Which rows may share a zone, asked before there are zones."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from optimizer.need.climate import Climate
from optimizer.need.growing import Row, mean, row_season
from optimizer.need.minutes import gross_depth_mm, may_share, run_minutes
from optimizer.need.zone_period import months_of

Month = tuple[int, int]
"""Year and month (1 to 12)."""


def row_minutes(row: Row, climate: Climate, evenness: float = 0.9, efficiency: float = 0.95) -> dict[Month, float]:
    """Run time a day that covers the mean need of a row in each month it grows [min], rain left out.

    Args:
        row: crop, dates, emitters, soil
        climate: daily need; must cover the row's season
        evenness: emission uniformity EU to reckon with [1]
        efficiency: share of the water not lost otherwise [1]

    Raises:
        ScenarioError: the climate does not cover the season
    """
    found = {}
    for days in months_of(row_season(row, climate)):
        depth = gross_depth_mm(mean([day.need_mm for day in days]), evenness, efficiency)
        found[days[0].date.year, days[0].date.month] = run_minutes(depth, row.rate_mm_h)
    return found


def peak_minutes(minutes: Mapping[Month, float]) -> float:
    """Run time a day in the month that asks for most [min].

    Args:
        minutes: from `row_minutes`
    """
    return max(minutes.values())


def may_share_season(one: Mapping[Month, float], two: Mapping[Month, float], tolerance: float) -> bool:
    """Whether two rows may share a zone: in no month in which both grow do they differ by more than the tolerance.

    Args:
        one: minutes of the one, from `row_minutes`
        two: minutes of the other
        tolerance: share of the longer time, 0 to 1 [1]
    """
    both = sorted(one.keys() & two.keys())
    return all(may_share(one[month], two[month], tolerance) for month in both)


def rows_apart(minutes: Sequence[Mapping[Month, float]], tolerance: float) -> tuple[tuple[int, int], ...]:
    """Pairs of rows (indices, the smaller first) that may not share a zone.

    Args:
        minutes: of each row, from `row_minutes`, of shape (n,)
        tolerance: share of the longer time, 0 to 1 [1]
    """
    pairs = [(a, b) for a in range(len(minutes)) for b in range(a + 1, len(minutes))]
    return tuple(pair for pair in pairs if not may_share_season(minutes[pair[0]], minutes[pair[1]], tolerance))

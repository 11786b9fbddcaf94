"""How long gardens of many beds take to a proof, and how near to it a minute comes.

Run: python benchmarks/many_beds.py [SECONDS]. The yardstick of the gardens of six beds is one combination after
another: the time it takes to work out one, times how many there are.
"""

from __future__ import annotations

import os
import platform
import sys
import time

import ortools
from bed_gardens import SIX, THIRTY, BedGarden

from optimizer.choose.manybeds.search import GardenResult, GardenSearch
from optimizer.choose.manybeds.value import Look, Low, Valuer
from optimizer.choose.search import SearchLimits
from optimizer.scenario import parse_scenario


def searched(garden: BedGarden, seconds: float | None) -> tuple[GardenSearch, GardenResult, float]:
    """Return a search over a garden, what it found, and how long it took [s]."""
    start = time.perf_counter()
    search = GardenSearch(parse_scenario(garden.text, garden.name), SearchLimits(seconds))
    result = search.run()
    return search, result, time.perf_counter() - start


def one_by_one(search: GardenSearch, result: GardenResult) -> float:
    """Return about how long it would take to work out every combination [s]."""
    assert result.best is not None
    assert result.bound is not None
    start = time.perf_counter()
    Valuer(search.garden).value(result.best.combination, Look(0), Low(result.bound, result.bound))
    return (time.perf_counter() - start) * result.combinations


def gap(result: GardenResult) -> float:
    """Return by which share of its money the best may still be undercut."""
    assert result.best is not None
    assert result.bound is not None
    return 1.0 - result.bound.money_ct / result.best.goals.money_ct


def main() -> None:
    """Print a line for each garden."""
    seconds = float(sys.argv[1]) if len(sys.argv) > 1 else 60.0
    print(f"Python {platform.python_version()}, ortools {ortools.__version__}, {os.cpu_count()} cores")
    for garden in SIX:
        search, result, took = searched(garden, None)
        ratio = one_by_one(search, result) / took
        print(f"{garden.name}: {result.combinations} combinations, {result.status}, {took:.2f} s;", end=" ")
        print(f"one by one would take {ratio:.0f} times as long", flush=True)
    for garden in THIRTY:
        _, result, took = searched(garden, seconds)
        zones = len(result.best.laying.zones) if result.best is not None else 0
        print(f"{garden.name}: {result.combinations:.1e} combinations, {zones} zones, {took:.1f} s,", end=" ")
        print(f"gap {100.0 * gap(result):.2f} %, {result.valued} worked out", flush=True)


if __name__ == "__main__":
    main()

"""Times from a scenario to the proven best layout, drawing excluded, for three sizes of garden.

Run with `python benchmarks/search_times.py [--profile] [SIZE ...]`, sizes 12, 40, 200.
"""

from __future__ import annotations

import argparse
import cProfile
import math
import os
import platform
import pstats
import time
from dataclasses import dataclass

import numpy as np
import ortools
from single_model import SingleModel, options

from optimizer.choose.designs import choice_set
from optimizer.choose.search import Search, SearchLimits, SearchResult
from optimizer.scenario.load import parse_scenario
from optimizer.scenario.schema import Scenario

SEED = 1

_WATER = """
[[supply.head_parts]]
name = "screen filter"
kind = "filter"
loss = "0.15 bar"
at_flow = "{flow}"
price = 18.00

[[supply.regulators]]
name = "regulator"
holds = "1.0 bar"
price = 13.50
"""

_LINES = """
[[emitter_lines]]
name = "dripline 30 cm, 2 L/h"
bore = "13.8 mm"
spacing = "30 cm"
flow = "2.0 L/h"
at_pressure = "1.0 bar"
exponent = 0.48
greatest_pressure = "3.0 bar"
rolls = [{ length = "50 m", price = 33.00 }, { length = "100 m", price = 61.00 }, { length = "400 m", price = 228.00 }]

[[emitter_lines]]
name = "dripline 33 cm, 1.6 L/h"
bore = "13.8 mm"
spacing = "33 cm"
flow = "1.6 L/h"
at_pressure = "1.0 bar"
exponent = 0.48
greatest_pressure = "3.0 bar"
rolls = [{ length = "100 m", price = 57.00 }, { length = "300 m", price = 165.00 }]
owned = ["27 m", "14 m"]

[[emitter_lines]]
name = "dripline 50 cm, 2.2 L/h"
bore = "15.2 mm"
spacing = "50 cm"
flow = "2.2 L/h"
at_pressure = "1.0 bar"
exponent = 0.46
greatest_pressure = "3.0 bar"
rolls = [{ length = "75 m", price = 44.00 }, { length = "250 m", price = 139.00 }]

[[emitter_lines]]
name = "compensating dripline 40 cm, 1.6 L/h"
bore = "14.2 mm"
spacing = "40 cm"
flow = "1.6 L/h"
at_pressure = "1.0 bar"
compensating = { opens = "0.5 bar", up_to = "3.5 bar" }
greatest_pressure = "4.0 bar"
rolls = [{ length = "100 m", price = 76.00 }, { length = "400 m", price = 279.00 }]
"""

_TUBE_25 = """
[[blank_tubes]]
name = "blank tube 25 mm"
bore = "21.0 mm"
greatest_pressure = "4.0 bar"
rolls = [{ length = "25 m", price = 21.00 }, { length = "100 m", price = 74.00 }]
"""


@dataclass(frozen=True)
class Size:
    """One size of garden and what is wanted of it.

    Args:
        rows: rows in the garden, also its name on the command line.
        title: what it is.
        text: its scenario.
        wanted_s: time to the proof that is aimed at [s].
        wanted_gap: money gap that counts as reached too [1].
    """

    rows: int
    title: str
    text: str
    wanted_s: float
    wanted_gap: float = 0.0

    def scenario(self) -> Scenario:
        """Return the checked scenario."""
        return parse_scenario(self.text, self.title)


def _tap(static: str, bucket: str, at: str, flow: str) -> str:
    lines = ['[supply]\nkind = "tap"', f'at = "{at}"', f'static_pressure = "{static}"', f'open_flow = "{bucket}"']
    return "\n".join(lines) + _WATER.format(flow=flow)


def _bed(size: str, crops: list[tuple[str, str, str]]) -> str:
    lines = ['[[beds]]\nname = "bed"', f'rectangle = "{size}"', 'edge_margin = "0.2 m"', 'row_end_margin = "0.2 m"']
    for name, spacing, wish in crops:
        lines += ["[[beds.crops]]", f'name = "{name}"', f'row_spacing = "{spacing}"', wish]
    return "\n".join(lines)


def garden_12() -> Size:
    """A backyard of 12 rows and two crops."""
    bed = _bed("9.4 m x 7.4 m", [("tomato", "80 cm", "rows = 5"), ("bean", "50 cm", "rows = 7")])
    parts = [
        'title = "12 rows"\nunits = "metric"',
        _tap("3 bar", "10 L in 20 s", "-1 m, -1 m", "15 L/min"),
        bed,
        _LINES,
        _TUBE_25,
    ]
    limits = '[limits]\nheader_step = "1 m"\njoints_per_lateral = 0'
    return Size(12, "backyard, 12 rows", "\n".join([*parts, limits]), 1.0)


def garden_40(step: str = "0.5 m") -> Size:
    """40 rows: 2 angles, 4 products, and 60 header places or as many as a coarser grid gives."""
    bed = _bed("29.9 m x 29.9 m", [("leek", "75 cm", "rows = 40")])
    parts = [
        'title = "40 rows"\nunits = "metric"',
        _tap("4 bar", "10 L in 6 s", "-2 m, 3 m", "60 L/min"),
        bed,
        _LINES,
        _TUBE_25.replace("25 mm", "32 mm").replace("21.0", "28.0"),
    ]
    # Free couplers anywhere in the tube, so that the single model is exact too.
    coupler = '[[fittings]]\nkind = "tube coupler"\nprice = 0'
    text = "\n".join([*parts, coupler, _limits(step), 'shortest_joined_part = "10 cm"'])
    places = "60 header places" if step == "0.5 m" else f"header places every {step}"
    return Size(40, f"40 rows, 2 angles, {places}, 4 products", text, 5.0)


def _limits(step: str) -> str:
    return f'[limits]\nheader_step = "{step}"\nusable_offcut = "3 m"'


def garden_200() -> Size:
    """A market garden of 200 rows of four crops behind a pump."""
    crops = [("leek", "75 cm", "rows = 60"), ("carrot", "50 cm", "rows = 60"), ("lettuce", "40 cm", "rows = 40")]
    bed = _bed("40 m x 134.5 m", [*crops, ("squash", "1 m", "rows = 40")])
    pump = """[supply]
kind = "pump"
at = "-3 m, 60 m"
curve = [
    { flow = "4 m3/h", pressure = "3.4 bar" },
    { flow = "10 m3/h", pressure = "2.8 bar" },
    { flow = "16 m3/h", pressure = "1.4 bar" },
]
least_flow = "2 m3/h"
margin = "85 %\""""
    tubes = """
[[blank_tubes]]
name = "blank tube 50 mm"
bore = "44.0 mm"
greatest_pressure = "4.0 bar"
rolls = [{ length = "50 m", price = 88.00 }, { length = "100 m", price = 165.00 }]

[[blank_tubes]]
name = "blank tube 63 mm"
bore = "55.4 mm"
greatest_pressure = "4.0 bar"
rolls = [{ length = "50 m", price = 139.00 }, { length = "100 m", price = 262.00 }]
"""
    parts = ['title = "200 rows"\nunits = "metric"', pump + _WATER.format(flow="200 L/min"), bed, _LINES, tubes]
    limits = _limits("4 m").replace("usable", 'row_step = "10 cm"\nusable')
    text = "\n".join([*parts, limits]).replace('"50 cm"\nrows', '"50 cm"\nrows')
    text = text.replace('margin = "0.2 m"\nrow_end', 'margin = "0.2 m"\ndirections = ["across"]\nrow_end')
    return Size(200, "market garden, 200 rows, 4 crops", text, 60.0, 0.01)


SIZES = (garden_12, garden_40, garden_200)


def search(size: Size, seconds: float | None) -> tuple[SearchResult, tuple[float, float, float]]:
    """Search a garden to the proof or the limit; returns times of choice set, bounds and search too [s]."""
    scenario = size.scenario()
    start = time.perf_counter()
    choices = choice_set(scenario, scenario.beds[0])
    chosen = time.perf_counter()
    search = Search(choices, SearchLimits(seconds, SEED), None)
    bounded = time.perf_counter()
    result = search.run()
    return result, (chosen - start, bounded - chosen, time.perf_counter() - bounded)


def gap(result: SearchResult) -> float:
    """Return the share of the money that is still open [1]."""
    if result.best is None or result.bound is None or result.bound[0] != result.best.goals[0]:
        return 1.0
    return max(result.best.goals.money_ct - result.bound.money_ct, 0) / result.best.goals.money_ct


def report(size: Size, result: SearchResult, times: tuple[float, float, float]) -> None:
    total = sum(times)
    open_share = gap(result)
    reached = total <= size.wanted_s and (result.status.value.startswith("proven") or open_share <= size.wanted_gap)
    print(f"{size.title}: {result.designs} designs, {len(result.evaluated)} valued, {result.status.value}")
    print(f"  {total:.2f} s = rows {times[0]:.2f} + bounds {times[1]:.2f} + search {times[2]:.2f};", end=" ")
    print(
        f"wanted < {size.wanted_s:g} s: {'reached' if reached else 'NOT reached'}; money gap {100 * open_share:.3f} %"
    )
    if result.best is not None:
        print(f"  best  {tuple(result.best.goals)}\n  bound {tuple(result.bound or ())}")


def profiled(size: Size) -> None:
    """Print where the time goes."""
    profile = cProfile.Profile()
    profile.enable()
    search(size, 3 * size.wanted_s)
    profile.disable()
    stats = pstats.Stats(profile)
    stats.sort_stats("tottime").print_stats(25)
    stats.sort_stats("cumulative").print_stats(r"optimizer/(choose|rows|feeds|problem|cutting|hydraulics)", 45)


def compare_single(size: Size, result: SearchResult, seconds: float) -> None:
    """Print what the single model of the same choices reaches in ten times the time of the search.

    The search proves money and the goals behind it; the single model is asked for money alone. Raises AssertionError
    if the two contradict each other.
    """
    scenario = size.scenario()
    found = options(choice_set(scenario, scenario.beds[0]))
    model = SingleModel(found)
    single = model.solve(10.0 * seconds, SEED)
    assert result.best is not None
    money = result.best.goals.money_ct
    assert single.bound_ct <= money + 0.5, f"the single model proves {single.bound_ct}, the search found {money}"
    assert single.money_ct >= money - 0.5, f"the single model found {single.money_ct}, the search proved {money}"
    print(f"  single model, one worker: {len(found)} designs, {single.literals} literals, {single.status},", end=" ")
    if single.status == "OPTIMAL":
        print(f"{single.seconds:.1f} s: {single.seconds / seconds:.1f} times the search")
    else:
        open_ct = single.money_ct - single.bound_ct
        share = open_ct / single.money_ct if math.isfinite(single.money_ct) else 1.0
        print(f"after {single.seconds:.1f} s (10 times the search) money {single.money_ct:.0f}, ", end="")
        print(f"bound {single.bound_ct:.0f}, gap {100 * share:.1f} %")


def main() -> None:
    options = argparse.ArgumentParser(description="times to the proven best layout")
    options.add_argument("sizes", nargs="*", type=int, default=[12, 40, 200])
    options.add_argument("--profile", action="store_true")
    chosen = options.parse_args()
    print(f"Python {platform.python_version()}, ortools {ortools.__version__}, numpy {np.__version__}, ", end="")
    print(f"{os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}, seed {SEED}")
    for make in SIZES:
        size = make()
        if size.rows not in chosen.sizes:
            continue
        if chosen.profile:
            profiled(size)
        else:
            result, times = search(size, 3 * size.wanted_s)
            report(size, result, times)
            if size.rows == 40:
                compare_single(size, result, sum(times))
                few = garden_40("15 m")
                result, times = search(few, None)
                report(few, result, times)
                compare_single(few, result, sum(times))


if __name__ == "__main__":
    main()

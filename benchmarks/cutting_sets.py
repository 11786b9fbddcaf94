"""Time the cutting core on one-dimensional bin packing: python benchmarks/cutting_sets.py [FOLDER] [options].

FOLDER holds one text file per instance (number of items, capacity, item sizes) and `optima.csv` with the columns name,
capacity, items, optimum, as in the sets of BPPLIB (Delorme, Iori, Martello). Without a folder, instances of the same
kinds are generated: sizes drawn evenly from 20 to 100 in capacity 150, and triplets that fill capacity 1000 exactly,
whose optimum is known by construction (Falkenauer 1996, "A hybrid grouping genetic algorithm for bin packing").
"""

from __future__ import annotations

import argparse
import csv
import os
import platform
import random
import statistics
import time
from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from optimizer.cutting import CuttingStatus, CuttingTask, Demand, Limits, Stock, check_cutting, solve_cutting


@dataclass(frozen=True)
class Instance:
    """One bin-packing instance; `optimum` is None where it is not known beforehand."""

    name: str
    capacity: int
    sizes: tuple[int, ...]
    optimum: int | None

    @property
    def family(self) -> str:
        """Name without its number."""
        return self.name.rsplit("_", 1)[0]

    def task(self) -> CuttingTask:
        """One stock of price 1, without limit."""
        demands = tuple(Demand(str(size), size, count) for size, count in sorted(Counter(self.sizes).items()))
        return CuttingTask(1, (Stock("bin", self.capacity, 1, None),), demands, usable_um=0)


def read_folder(folder: Path) -> Iterator[Instance]:
    with (folder / "optima.csv").open(newline="") as file:
        rows = sorted(csv.DictReader(file), key=lambda row: row["name"])
    for row in rows:
        numbers = [int(word) for word in (folder / f"{row['name']}.txt").read_text().split()]
        if len(numbers) != numbers[0] + 2 or numbers[1] != int(row["capacity"]):
            raise ValueError(f"{row['name']}: the file does not hold what optima.csv says")
        yield Instance(row["name"], numbers[1], tuple(numbers[2:]), int(row["optimum"]))


def generated() -> Iterator[Instance]:
    for items in (120, 250, 500, 1000):
        for number in range(5):
            rng = random.Random(1000 * items + number)
            yield Instance(f"even{items}_{number:02}", 150, tuple(rng.randint(20, 100) for _ in range(items)), None)
    for items in (60, 120, 249, 501):
        for number in range(5):
            rng = random.Random(1000 * items + number)
            sizes = tuple(size for _ in range(items // 3) for size in triplet(rng))
            yield Instance(f"triplets{items}_{number:02}", 1000, sizes, items // 3)


def triplet(rng: random.Random) -> tuple[int, int, int]:
    first = rng.randint(380, 490)
    second = rng.randint(250, (1000 - first) // 2)
    return first, second, 1000 - first - second


def run(instance: Instance, limits: Limits) -> tuple[float, float, bool, str]:
    task = instance.task()
    start, start_cpu = time.perf_counter(), time.process_time()
    outcome = solve_cutting(task, limits)
    seconds, cpu = time.perf_counter() - start, time.process_time() - start_cpu
    faults = check_cutting(task, outcome.plan) if outcome.plan else ("no plan",)
    proven = outcome.status is CuttingStatus.PROVEN_BEST and not faults
    bins = outcome.plan.money_ct if outcome.plan else -1
    if proven and instance.optimum not in (None, bins):
        faults = (f"claims {bins}, published optimum {instance.optimum}",)
        proven = False
    note = f"{bins} bins, bound {outcome.money_bound_ct}, {outcome.method}, {outcome.nodes} nodes {' '.join(faults)}"
    return seconds, cpu, proven, note


def report(times: dict[str, list[tuple[float, float]]], proven: dict[str, int]) -> None:
    print(f"{'':<18}{'':>10}{'elapsed':>24}{'processor':>24}")
    print(f"{'family':<18}{'proven':>10}" + f"{'median s':>10}{'mean s':>7}{'max s':>7}" * 2)
    everything = {**times, "all": [pair for family in times.values() for pair in family]}
    for family, pairs in everything.items():
        count = sum(proven.values()) if family == "all" else proven[family]
        print(f"{family:<18}{f'{count}/{len(pairs)}':>10}" + "".join(map(spread, zip(*pairs, strict=True))))


def spread(seconds: Sequence[float]) -> str:
    return f"{statistics.median(seconds):>10.3f}{statistics.mean(seconds):>7.2f}{max(seconds):>7.2f}"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", nargs="?", type=Path)
    parser.add_argument("--only", default="", help="names that contain this")
    parser.add_argument("--without", default="Hard28", help="names that do not contain this; '' for all")
    parser.add_argument("--seconds", type=float, default=120.0, help="limit per instance")
    parser.add_argument("--verbose", action="store_true")
    args = parser.parse_args()
    times: dict[str, list[tuple[float, float]]] = defaultdict(list)
    proven: dict[str, int] = defaultdict(int)
    print(f"Python {platform.python_version()}, {os.cpu_count()} cores, load {os.getloadavg()[0]:.2f}")
    for instance in read_folder(args.folder) if args.folder else generated():
        if args.only not in instance.name or (args.without and args.without in instance.name):
            continue
        seconds, cpu, ok, note = run(instance, Limits(seconds=args.seconds, work=1e6))
        times[instance.family].append((seconds, cpu))
        proven[instance.family] += ok
        if args.verbose or not ok:
            print(f"{instance.name:<22}{'proven' if ok else 'OPEN':>8} {seconds:8.3f} s  {note}", flush=True)
    report(times, proven)
    print(f"load {os.getloadavg()[0]:.2f}")


if __name__ == "__main__":
    main()

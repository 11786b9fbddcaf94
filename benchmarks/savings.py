"""What choosing saves: the layout found by rule of thumb against the best one, over invented gardens.

Run with `python benchmarks/savings.py FOLDER [SECONDS] [COUNT]`: the plot goes into the folder, each garden is searched
for so many seconds at most (5 unless given). The rule lays the first listed product that works; since a careful
person also compares shop prices, savings are shown against the cheapest of all products laid by the same rule too.
"""

from __future__ import annotations

import os
import platform
import sys
import time
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import ortools
from gardens import COUNT, SEED, Garden, gardens
from matplotlib.figure import Figure
from numpy.typing import NDArray

from optimizer.choose.designs import ChoiceSet, choice_set
from optimizer.choose.evaluate import Evaluated, Evaluator, RuledOutError
from optimizer.choose.goals import Goals
from optimizer.choose.rulebased import rule_based
from optimizer.choose.search import Search, SearchLimits, SearchResult

SECONDS = 5.0


@dataclass(frozen=True)
class Compared:
    """One garden laid out in three ways."""

    name: str
    rule: Goals
    """by rule, first listed product that works"""
    rule_cheapest: Goals
    """by rule, the best of all products"""
    best: Goals
    status: str
    gap: float
    """money still open between the best found and its bound [1]"""
    rule_seconds: float
    search_seconds: float


def by_rule(choices: ChoiceSet) -> tuple[Evaluated, Goals]:
    """Return the layout by rule, and the goals of the best when each product the bed allows is tried."""
    evaluator = Evaluator(choices)
    found = []
    for line in choices.lines:
        try:
            found.append(rule_based(choices, evaluator, line).goals)
        except RuledOutError:
            continue
    first = rule_based(choices, evaluator)
    return first, min([first.goals, *found])


def _gap(result: SearchResult, best: Goals) -> float:
    bound = result.bound.money_ct if result.bound is not None and result.bound[0] == best[0] else 0
    return max(best.money_ct - bound, 0) / best.money_ct


def compare(garden: Garden, seconds: float) -> Compared:
    """Lay one garden out by rule and by search.

    Raises:
        AssertionError: the search is worse than the rule, or its bound is above a layout that exists.
    """
    scenario = garden.scenario()
    choices = choice_set(scenario, scenario.beds[0])
    start = time.perf_counter()
    rule_based(choices, Evaluator(choices))
    rule_seconds = time.perf_counter() - start
    rule, cheapest = by_rule(choices)
    start = time.perf_counter()
    result = Search(choices, SearchLimits(seconds), None).run()
    search_seconds = time.perf_counter() - start
    best = result.best
    assert best is not None, f"{garden.name}: the search found nothing where the rule did"
    assert best.goals <= cheapest, f"{garden.name}: search {best.goals} is worse than rule {cheapest}"
    assert result.bound is not None
    assert result.bound <= cheapest, f"{garden.name}: bound {result.bound} above a layout with {cheapest}"
    gap = _gap(result, best.goals)
    word = result.status.value.split(" among")[0]
    return Compared(garden.name, rule.goals, cheapest, best.goals, word, gap, rule_seconds, search_seconds)


def shares(items: list[Compared], goal: str, cheapest: bool) -> NDArray[np.float64]:
    """Return what the best layout saves of one goal, as a share of the rule's [1].

    Only gardens in which both plant equally much are compared: planting more costs more.
    """
    pairs = [(item.rule_cheapest if cheapest else item.rule, item.best) for item in items]
    return np.array(
        [
            (getattr(rule, goal) - getattr(best, goal)) / max(getattr(rule, goal), 1)
            for rule, best in pairs
            if rule.missing_ppm == best.missing_ppm
        ]
    )


def spread(values: NDArray[np.float64]) -> str:
    """Return a distribution in words: worst, quartiles and best, in per cent."""
    low, first, middle, third, high = np.percentile(100 * values, [0, 25, 50, 75, 100])
    return f"worst {low:6.1f}  quarter {first:6.1f}  median {middle:6.1f}  quarter {third:6.1f}  best {high:6.1f}"


def plot(items: list[Compared], folder: Path) -> Path:
    """Write the sorted savings of money, tubing wasted and fittings of all gardens to one file."""
    figure = Figure(figsize=(9, 4.5), layout="constrained")
    axes = figure.subplots(1, 2, sharey=True)
    for axis, cheapest, title in zip(axes, (False, True), ("first product", "cheapest product"), strict=True):
        for goal, word in (("money_ct", "money"), ("waste_um", "waste"), ("fittings", "fittings")):
            values = np.sort(100 * shares(items, goal, cheapest))
            axis.step(np.arange(1, len(values) + 1), values, where="mid", label=word)
        axis.axhline(0.0, color="black", linewidth=0.6)
        axis.set_xlabel("gardens, sorted for each curve")
        axis.set_title(f"saved against the rule with the {title}")
    axes[0].set_ylabel("saved [%]")
    axes[0].legend()
    path = folder / "savings.png"
    figure.savefig(path, dpi=150)
    return path


def report(items: list[Compared]) -> None:
    """Print each garden and the distributions."""
    for item in items:
        rule, best = item.rule, item.best
        money = "".join(f"{goals.money_ct / 100:9.2f}" for goals in (rule, item.rule_cheapest, best))
        more = "" if rule.missing_ppm == best.missing_ppm else f"  plants more: {(rule[0] - best[0]) / 1e4:.0f} %"
        print(
            f"{item.name:46}{money}"
            f"{rule.waste_um / 1e6:8.1f}{best.waste_um / 1e6:8.1f}{rule.fittings:5}{best.fittings:5}"
            f"  {item.status} {100 * item.gap:5.2f} % {item.search_seconds:6.1f} s{more}"
        )
    proven = sum(item.status == "proven best" for item in items)
    gaps = [item.gap for item in items if item.status != "proven best"]
    most = 100 * max(gaps, default=0)
    print(f"\n{len(items)} gardens, {proven} proven best; money gap of the others at most {most:.2f} %")
    print(f"rule of thumb: at most {max(item.rule_seconds for item in items):.3f} s a garden")
    for cheapest, word in ((False, "first product that works"), (True, "cheapest product")):
        print(f"saved against the rule with the {word} [%], gardens planting the same")
        for goal in ("money_ct", "waste_um", "fittings"):
            print(f"  {goal:10}{spread(shares(items, goal, cheapest))}")
    print("never worse than the rule: asserted for every garden")


def main() -> None:
    if len(sys.argv) < 2:
        raise SystemExit("usage: python benchmarks/savings.py FOLDER [SECONDS] [COUNT]")
    folder = Path(sys.argv[1])
    folder.mkdir(parents=True, exist_ok=True)
    seconds = float(sys.argv[2]) if len(sys.argv) > 2 else SECONDS
    count = int(sys.argv[3]) if len(sys.argv) > 3 else COUNT
    print(f"Python {platform.python_version()}, ortools {ortools.__version__}, {os.cpu_count()} cores, ", end="")
    print(f"load {os.getloadavg()[0]:.1f}, garden seed {SEED}, search seed 1, {seconds:g} s a garden\n")
    print(f"{'garden':46}{'rule':>9}{'cheapest':>9}{'best':>9}{'waste m':>8}{'best':>8}{'fit.':>5}{'best':>5}")
    items = [compare(garden, seconds) for garden in gardens(count)]
    report(items)
    print(f"plot: {plot(items, folder)}")


if __name__ == "__main__":
    main()

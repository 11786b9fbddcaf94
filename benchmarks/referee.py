"""The search against full enumeration on hundreds of tiny gardens, and how long both take.

Run: python benchmarks/referee.py [--seeds 10] [--first 0] [--kind "small supply"] [--second]
Prints one line for every disagreement and a summary; ends with 1 if there is one.
"""

from __future__ import annotations

import argparse
import sys
import time
from dataclasses import dataclass, field
from pathlib import Path

sys.path[:0] = [str(Path(__file__).parents[1]), str(Path(__file__).parents[1] / "tests" / "choose")]

from enumeration import Enumeration, Found  # noqa: E402
from second_solver import OnEdgeError, best_goals  # noqa: E402
from tiny_gardens import KINDS, garden  # noqa: E402

from optimizer.choose.designs import choice_set  # noqa: E402
from optimizer.choose.search import Search, SearchLimits  # noqa: E402
from optimizer.plan import Status  # noqa: E402

SECOND_DESIGNS = 8
"""the second solver is asked where no more designs than this are left"""


@dataclass
class Tally:
    """Counts and times of a run."""

    cases: int = 0
    agree: int = 0
    unclear: int = 0
    impossible: int = 0
    several_zones: int = 0
    second: int = 0
    designs: int = 0
    referee_s: float = 0.0
    search_s: float = 0.0
    faults: list[str] = field(default_factory=list)


def _agrees(goals, found: Found | None) -> bool:
    if goals is None or found is None:
        return goals is found
    return goals[:4] == found.goals and abs(goals[4] - found.unevenness) <= 2


def compare(kind: str, seed: int, tally: Tally, second: bool) -> None:
    """Compare one garden."""
    scenario = garden(kind, seed)
    start = time.process_time()
    enumeration = Enumeration(scenario)
    optimum = enumeration.optimum()
    middle = time.process_time()
    result = Search(choice_set(scenario, scenario.beds[0]), SearchLimits(), None).run()
    tally.search_s += time.process_time() - middle
    tally.referee_s += middle - start
    goals = result.best.goals if result.best else None
    wanted = Status.IMPOSSIBLE if goals is None else Status.PROVEN_BEST
    tally.cases += 1
    tally.designs += enumeration.designs
    tally.unclear += not optimum.clear
    tally.impossible += goals is None
    tally.several_zones += result.best is not None and result.best.zones > 1
    fine = _agrees(goals, optimum.strict) or _agrees(goals, optimum.loose)
    if fine and result.status is wanted:
        tally.agree += 1
    else:
        tally.faults.append(f"{kind} {seed}: search {result.status.name} {goals}, referee {optimum.strict}")
        print(tally.faults[-1], flush=True)
    if second and "path" not in kind and 0 < enumeration.designs <= SECOND_DESIGNS:
        _second(f"{kind} {seed}", scenario, optimum.strict, tally)


def _second(name: str, scenario, found: Found | None, tally: Tally) -> None:
    try:
        best = best_goals(scenario)
    except OnEdgeError:
        return
    tally.second += 1
    if (best and best[:4]) != (found and found.goals):
        tally.faults.append(f"{name}: second solver {best}, referee {found}")
        print(tally.faults[-1], flush=True)


def main() -> int:
    """Run the comparison and print the summary."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seeds", type=int, default=10)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--kind", choices=KINDS)
    parser.add_argument("--second", action="store_true", help="ask the second solver too")
    chosen = parser.parse_args()
    tally = Tally()
    for seed in range(chosen.first, chosen.first + chosen.seeds):
        for kind in [chosen.kind] if chosen.kind else KINDS:
            compare(kind, seed, tally, chosen.second)
    print(
        f"{tally.cases} gardens, {tally.designs} designs: {tally.agree} agree, {tally.unclear} hang on a figure on the "
        f"edge of a limit, {tally.impossible} impossible, {tally.several_zones} with several zones; "
        f"second solver {tally.second}\nprocessor time: referee {tally.referee_s:.1f} s, search {tally.search_s:.1f} s"
    )
    return 1 if tally.faults else 0


if __name__ == "__main__":
    raise SystemExit(main())

"""`compare`: row-across beside row-along, and other kinds of layout, each as a full plan."""

from __future__ import annotations

import argparse
import json
import re
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from rich.console import Console

from optimizer.choose.search import SearchLimits
from optimizer.commands.drawn import drawn_files, paper_named
from optimizer.commands.files import prepare_directory, write_files
from optimizer.commands.terminal import Interrupts, ProgressLine
from optimizer.errors import VerificationError
from optimizer.plan import Status
from optimizer.planfile import plan_to_json
from optimizer.scenario import Scenario, load_scenario
from optimizer.study.compare import Compared, best_of_each, display_of, failed, ranked
from optimizer.study.compare_sheet import comparison_csv, comparison_sheets, comparison_text
from optimizer.study.kinds import Kind, kinds

CANNOT_BE_MET = 4
NOTHING_FOUND = 7


def _plan_name(rank: int, name: str) -> str:
    word = re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-")[:60].strip("-")
    return f"plan-{rank}-{word}.json"


def _files(compared: Sequence[Compared], scenario: Scenario, paper: str | None) -> dict[str, bytes]:
    display = display_of(scenario)
    text = comparison_text(compared, scenario.title, scenario.currency, display)
    found = {"compare.txt": text.encode(), "compare.csv": comparison_csv(compared).encode()}
    for rank, item in enumerate(compared, start=1):
        if item.outcome.plan is not None:
            found[_plan_name(rank, item.name)] = plan_to_json(item.outcome.plan).encode()
    if any(item.outcome.plan is not None for item in compared):
        page = paper_named(paper, scenario.units)
        found |= drawn_files("compare", comparison_sheets(compared, page, scenario.title, scenario.currency, display))
    return found


def _compare(scenario: Scenario, asked: Sequence[Kind], limits: SearchLimits) -> tuple[Compared, ...]:
    interrupts = Interrupts()
    line = ProgressLine(Console(highlight=False, stderr=True), scenario.currency)
    found = []
    with interrupts.watched(), line.shown():
        for name, outcome in best_of_each(asked, scenario, limits, line.start, line):
            # A search that was broken off ends with the best it had: that is not the best of its kind.
            interrupts.check()
            found.append((name, outcome))
    return ranked(found, display_of(scenario))


def _plain(rank: int, item: Compared) -> dict[str, Any]:
    found: dict[str, Any] = {"rank": rank, "layout": item.name, "status": str(item.outcome.status)}
    found["verdict"] = item.verdict
    if item.figures is not None:
        found |= {**item.figures.goals._asdict(), "left_over_um": item.figures.kept_um}
        found |= {"pushes": item.figures.pushes, "zones": item.figures.zones}
        found["plan"] = _plan_name(rank, item.name)
    return found


def _exit_code(compared: Sequence[Compared]) -> int:
    if any(failed(item.outcome) for item in compared):
        return VerificationError.exit_code
    if any(item.figures is not None for item in compared):
        return 0
    impossible = all(item.outcome.status is Status.IMPOSSIBLE for item in compared)
    return CANNOT_BE_MET if impossible else NOTHING_FOUND


def run(options: argparse.Namespace) -> int:
    """Plan each kind of layout, write the comparison and print it."""
    scenario = load_scenario(options.scenario)
    by = options.by if options.by or options.zones else ["direction"]
    asked = kinds(scenario, by, options.zones)
    directory = Path(options.out)
    prepare_directory(directory)
    compared = _compare(scenario, asked, SearchLimits(options.seconds))
    files = _files(compared, scenario, options.paper)
    write_files(directory, files)
    if options.json:
        layouts = [_plain(rank, item) for rank, item in enumerate(compared, start=1)]
        json.dump(
            {"currency": scenario.currency, "layouts": layouts, "directory": str(directory)}, sys.stdout, indent=1
        )
        print()
    elif not options.quiet:
        print(files["compare.txt"].decode())
        print(f"Written to {directory}: {', '.join(sorted(files))}")
    return _exit_code(compared)

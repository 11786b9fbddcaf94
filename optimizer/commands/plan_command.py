"""`plan`: from a scenario to everything needed to lay the garden."""

from __future__ import annotations

import argparse
import json
import signal
import sys
from pathlib import Path
from tempfile import TemporaryDirectory
from types import FrameType

from rich.console import Console

from optimizer.choose.search import Progress, SearchLimits
from optimizer.commands.files import prepare_directory, write_files
from optimizer.commands.new_command import starter_text
from optimizer.commands.summary import outcome_json, print_outcome, print_summary
from optimizer.pipeline import design
from optimizer.plan import Outcome, Plan, Status
from optimizer.planfile import plan_to_json
from optimizer.scenario import Scenario, load_scenario, parse_scenario
from optimizer.units import System, money, whole

CANNOT_BE_MET = 4
NOTHING_FOUND = 7
_PROGRESS_AFTER = 20  # designs valued before progress is worth a line


def _scenario(options: argparse.Namespace) -> Scenario:
    if options.scenario is None:
        return parse_scenario(starter_text(), "the built-in example")
    return load_scenario(options.scenario)


class _Reporter:
    """Shows how the search goes on, on one line, only to a person at a terminal."""

    def __init__(self, console: Console, currency: str) -> None:
        self.console, self.currency = console, currency
        self.calls = 0

    def __call__(self, progress: Progress) -> None:
        self.calls += 1
        if self.console.is_terminal and self.calls % _PROGRESS_AFTER == 0:
            best = "none yet" if progress.best is None else money(progress.best.money_ct, self.currency)
            self.console.print(
                f"best {best}, {whole(progress.left)} of {whole(progress.designs)} designs left", end="\r"
            )


def drawings(plan: Plan, paper_name: str | None) -> dict[str, bytes]:
    """Return the plan drawing as SVG, PNG and PDF under file names."""
    from optimizer.sheets.drawing_plan import draw_plan
    from optimizer.sheets.paper import PAPERS, save_drawing

    default = "Letter" if plan.unit_system == System.US else "A4"
    paper = next(item for item in PAPERS if item.name == (paper_name or default))
    figure = draw_plan(plan, paper)
    found = {}
    with TemporaryDirectory() as directory:
        for ending in ("svg", "png", "pdf"):
            path = Path(directory) / f"plan.{ending}"
            save_drawing(figure, path)
            found[path.name] = path.read_bytes()
    return found


def plan_files(plan: Plan, paper_name: str | None) -> dict[str, bytes]:
    """Return every file of a plan under its name."""
    from optimizer.sheets.bundle import list_files

    return {"plan.json": plan_to_json(plan).encode(), **drawings(plan, paper_name), **list_files(plan)}


def _stop_once(number: int, frame: FrameType | None) -> None:
    """End the search on the first Ctrl-C and let what was found be checked and written undisturbed."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    raise KeyboardInterrupt


def _exit_code(outcome: Outcome) -> int:
    if outcome.plan is None:
        return CANNOT_BE_MET if outcome.status is Status.IMPOSSIBLE else NOTHING_FOUND
    return CANNOT_BE_MET if outcome.plan.goal("requests missing") else 0


def run(options: argparse.Namespace) -> int:
    """Plan the scenario, write the files and print the summary."""
    scenario = _scenario(options)
    directory = Path(options.out)
    prepare_directory(directory)
    console = Console(highlight=False)
    signal.signal(signal.SIGINT, _stop_once)
    outcome = design(scenario, SearchLimits(options.seconds), _Reporter(console, scenario.currency))
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    if outcome.plan is not None:
        write_files(directory, plan_files(outcome.plan, options.paper))
    if options.json:
        json.dump(outcome_json(outcome, directory), sys.stdout, indent=1)
        print()
    elif outcome.plan is None:
        print_outcome(Console(highlight=False, stderr=True), outcome)
    elif not options.quiet:
        print_summary(console, outcome.plan, directory)
    return _exit_code(outcome)

"""`season`: how many minutes, on which days, for each zone, through the season."""

from __future__ import annotations

import argparse
import datetime as dt
import json
import sys
from pathlib import Path

from rich.console import Console

from optimizer.choose.search import SearchLimits
from optimizer.commands.files import prepare_directory, write_files
from optimizer.commands.summary import print_outcome
from optimizer.errors import Problem, ScenarioError
from optimizer.need import PeriodKind
from optimizer.pipeline import design
from optimizer.plan import Outcome, Plan, Status
from optimizer.planfile import read_plan
from optimizer.scenario import Scenario, load_scenario
from optimizer.study.season import Watering, noted, plan_season
from optimizer.study.season_files import schedule_files, season_values
from optimizer.study.season_text import print_season, season_text
from optimizer.verification import verify

CANNOT_BE_MET = 4
NOTHING_FOUND = 7


def read_stamp(text: str | None) -> dt.datetime:
    """Time stamp of the calendar file; now unless given.

    Args:
        text: like "2026-03-01T08:00:00Z"

    Raises:
        ScenarioError: not a time with a time zone.
    """
    if text is None:
        return dt.datetime.now(dt.UTC)
    try:
        stamp = dt.datetime.fromisoformat(text)
    except ValueError:
        stamp = None
    if stamp is None or stamp.tzinfo is None:
        message = f"'{text}' is not a time with its time zone, like 2026-03-01T08:00:00Z"
        raise ScenarioError("command line", [Problem("--stamp", message)])
    return stamp


def _no_plan(outcome: Outcome) -> int:
    print_outcome(Console(highlight=False, stderr=True), outcome)
    return CANNOT_BE_MET if outcome.status is Status.IMPOSSIBLE else NOTHING_FOUND


def _need_climate(scenario: Scenario, source: str) -> None:
    """Say what is missing before a plan is searched for."""
    if scenario.climate is None:
        text = "is missing; season needs [climate], the soil of each bed and the planting day of each crop"
        raise ScenarioError(source, [Problem("climate", text)])


def _plan_doubts(plan: Plan, scenario: Scenario) -> tuple[str, ...]:
    """What speaks against a plan read from a file; times are still worked out for it, as it lies in the garden."""
    check = verify(plan, scenario)
    if check.holds:
        return ()
    count = len(check.findings)
    return (f"the plan does not hold for this scenario ({count} findings, see drip-layout verify): plan again",)


def _say(console: Console, watering: Watering) -> None:
    """Print with colours to a person, plain to a pipe."""
    if console.is_terminal:
        print_season(console, watering)
    else:
        sys.stdout.write(season_text(watering))


def run(options: argparse.Namespace) -> int:
    """Plan if need be, work out the season, print it and write the files asked for."""
    scenario, stamp = load_scenario(options.scenario), read_stamp(options.stamp)
    _need_climate(scenario, options.scenario)
    directory = None if options.out is None else Path(options.out)
    if directory is not None:
        prepare_directory(directory)
    plan: Plan | None
    if options.plan is None:
        outcome = design(scenario, SearchLimits(options.seconds))
        plan = outcome.plan
        if plan is None:
            return _no_plan(outcome)
    else:
        plan = read_plan(Path(options.plan))
    watering = plan_season(scenario, plan, PeriodKind(options.by))
    if options.plan is not None:
        watering = noted(watering, _plan_doubts(plan, scenario))
    if directory is not None:
        write_files(directory, schedule_files(watering, stamp))
    if options.json:
        json.dump(season_values(watering), sys.stdout, indent=1, ensure_ascii=False)
        print()
    elif not options.quiet:
        _say(Console(highlight=False, markup=False), watering)
        if directory is not None:
            print(f"Written to {directory}: schedule.csv, schedule.txt, schedule.ics")
    return 0 if watering.covers else CANNOT_BE_MET

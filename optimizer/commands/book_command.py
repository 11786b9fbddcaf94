"""`book`: a plan as a field book, with pressure map, roll cuts, head drawing and DXF."""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path
from tempfile import TemporaryDirectory

from optimizer.commands.drawn import drawn_files, paper_named
from optimizer.commands.files import prepare_directory, write_files
from optimizer.plan import Plan
from optimizer.planfile import read_plan
from optimizer.scenario import load_scenario
from optimizer.sheets.bundle import book_files
from optimizer.sheets.drawing import Paper, draw_head, draw_plan, draw_pressure_map, draw_rolls, save_dxf
from optimizer.sheets.schedule import ScheduleCard


def _dxf(plan: Plan) -> bytes:
    with TemporaryDirectory() as directory:
        path = Path(directory) / "plan.dxf"
        save_dxf(plan, path)
        return path.read_bytes()


def all_files(plan: Plan, paper: Paper, card: ScheduleCard | None) -> dict[str, bytes]:
    """Return field book and drawings of a plan under their file names.

    Args:
        plan: what is printed.
        paper: of every sheet.
        card: watering times, if they were worked out.
    """
    return {
        **book_files(plan, paper, card),
        **drawn_files("plan", [draw_plan(plan, paper)]),
        **drawn_files("pressure-map", [draw_pressure_map(plan, paper)]),
        **drawn_files("rolls", draw_rolls(plan, paper)),
        **drawn_files("head", [draw_head(plan, paper)]),
        "plan.dxf": _dxf(plan),
    }


def _card(plan: Plan, scenario_path: str | None, by: str) -> ScheduleCard | None:
    if scenario_path is None:
        return None
    from optimizer.need import PeriodKind
    from optimizer.study.season import plan_season, schedule_card

    return schedule_card(plan_season(load_scenario(scenario_path), plan, PeriodKind(by)).season, plan)


def run(options: argparse.Namespace) -> int:
    """Print the plan as a book."""
    plan = read_plan(Path(options.plan))
    card = _card(plan, options.scenario, options.by)
    directory = Path(options.out)
    prepare_directory(directory)
    files = all_files(plan, paper_named(options.paper, plan.unit_system), card)
    write_files(directory, files)
    if options.json:
        json.dump(
            {"directory": str(directory), "files": sorted(files), "schedule": card is not None}, sys.stdout, indent=1
        )
        print()
    elif not options.quiet:
        print(f"{plan.title}: {len(files)} files in {directory}; open field-book.html or print field-book.pdf")
        if card is None:
            print("Watering times are left to fill in by hand: name the scenario too, if it has [climate].")
    return 0

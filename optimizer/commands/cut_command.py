"""`cut`: the least waste for a list of lengths and a shelf of rolls."""

from __future__ import annotations

import argparse
import csv
import io
import json
import sys
from collections.abc import Iterator
from pathlib import Path

from rich.console import Console

from optimizer.commands.files import prepare_directory, write_files
from optimizer.cutting import (
    CuttingOutcome,
    CuttingPlan,
    CuttingStatus,
    CuttingTask,
    Demand,
    Limits,
    Stock,
    solve_cutting,
)
from optimizer.scenario.cut_list import load_cut_list
from optimizer.scenario.cut_schema import CutList
from optimizer.units import Display, micrometres, money

CANNOT_BE_MET = 4
NOTHING_FOUND = 7


def cutting_task(wanted: CutList) -> CuttingTask:
    """Return the cutting task of a cut list."""
    step_um = micrometres(wanted.step)
    stocks = [
        Stock(f"roll {index + 1}", micrometres(roll.length), roll.price, roll.available)
        for index, roll in enumerate(wanted.rolls)
    ]
    stocks += [Stock(f"owned {i + 1}", micrometres(length), 0, 1, owned=True) for i, length in enumerate(wanted.owned)]
    demands = [
        Demand(f"piece {index + 1}", max(-(-micrometres(length) // step_um), 1), count)
        for index, (count, length) in enumerate(wanted.pieces)
    ]
    return CuttingTask(
        step_um,
        tuple(stocks),
        tuple(demands),
        micrometres(wanted.usable_offcut),
        wanted.coupler_price,
        wanted.joints,
        max(-(-micrometres(wanted.shortest_joined_part) // step_um), 1),
    )


def _name(stock: str, wanted: CutList, display: Display) -> str:
    kind, number = stock.split(" ")
    index = int(number) - 1
    length = wanted.owned[index] if kind == "owned" else wanted.rolls[index].length
    return f"{'owned piece' if kind == 'owned' else 'roll'} of {display.length(length)}"


def roll_lines(plan: CuttingPlan, task: CuttingTask, wanted: CutList, display: Display) -> Iterator[str]:
    """Yield a line of text for every roll that is cut."""
    for number, use in enumerate(plan.uses, start=1):
        cuts = " + ".join(
            display.length(cut.units * task.unit_um / 1e6) + ("*" if cut.part else "") for cut in use.cuts
        )
        left = display.length_down(use.leftover_um / 1e6)
        kept = "kept" if use.leftover_um >= task.usable_um else "waste"
        yield f"{number}. {_name(use.stock, wanted, display)}: {cuts}; left {left} ({kept})"


def cuts_csv(plan: CuttingPlan, task: CuttingTask, wanted: CutList, display: Display) -> str:
    """Return every cut as CSV with running marks."""
    text = io.StringIO()
    writer = csv.writer(text)
    writer.writerow(["roll", "stock", "piece", "copy", "part", "length_um", "mark_um"])
    for number, use in enumerate(plan.uses, start=1):
        mark = 0
        for cut in use.cuts:
            mark += cut.units * task.unit_um
            name = _name(use.stock, wanted, display)
            writer.writerow([number, name, cut.demand, cut.copy + 1, cut.part + 1, cut.units * task.unit_um, mark])
    return text.getvalue()


def _proof(outcome: CuttingOutcome, wanted: CutList) -> str:
    if outcome.status is CuttingStatus.PROVEN_BEST:
        return "proven best in money, waste and couplers"
    return f"best found; no cutting costs less than {money(outcome.money_bound_ct or 0, wanted.currency)}"


def _print(outcome: CuttingOutcome, task: CuttingTask, wanted: CutList, console: Console) -> None:
    display = Display(wanted.units)
    if outcome.plan is None:
        console.print(f"{wanted.title}: {outcome.status.value}")
        return
    console.print(f"{wanted.title}: {_proof(outcome, wanted)}", style="bold")
    for line in roll_lines(outcome.plan, task, wanted, display):
        console.print(line)
    if outcome.plan.couplers:
        console.print("* joined to the part before it by a coupler")
    spent = money(outcome.plan.money_ct, wanted.currency)
    waste = display.length(outcome.plan.waste_um / 1e6)
    console.print(f"money {spent}, waste {waste}, couplers {outcome.plan.couplers}")


def run(options: argparse.Namespace) -> int:
    """Cut the list and print it."""
    wanted = load_cut_list(Path(options.list))
    task = cutting_task(wanted)
    if options.out:
        prepare_directory(Path(options.out))
    outcome = solve_cutting(task, Limits(seconds=options.seconds))
    if options.out and outcome.plan is not None:
        text = cuts_csv(outcome.plan, task, wanted, Display(wanted.units))
        write_files(Path(options.out), {"cuts.csv": text.encode()})
    if options.json:
        plan = outcome.plan
        goals = None if plan is None else dict(zip(("money_ct", "waste_um", "couplers"), plan.goals, strict=True))
        json.dump(
            {"status": outcome.status.value, "goals": goals, "money_bound_ct": outcome.money_bound_ct}, sys.stdout
        )
        print()
    elif not options.quiet:
        _print(outcome, task, wanted, Console(highlight=False, width=80 if not sys.stdout.isatty() else None))
    if outcome.plan is None:
        return CANNOT_BE_MET if outcome.status is CuttingStatus.IMPOSSIBLE else NOTHING_FOUND
    return 0

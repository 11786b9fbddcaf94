"""`sweep`: what if - a scenario planned for other values of one or two of its entries."""

from __future__ import annotations

import argparse
import dataclasses
import json
import sys
from collections.abc import Mapping, Sequence
from pathlib import Path

from rich.console import Console

from optimizer.choose.search import SearchLimits
from optimizer.commands.drawn import drawn_files, paper_named
from optimizer.commands.files import prepare_directory, write_files
from optimizer.commands.terminal import Interrupts, ProgressLine
from optimizer.errors import FileError
from optimizer.scenario.load import read_text, read_toml
from optimizer.study import sweep
from optimizer.study.compare import display_of
from optimizer.study.sweep import Parameter, Result, Variant
from optimizer.study.sweep_plot import sweep_figures
from optimizer.study.sweep_sheet import sweep_csv, sweep_text

CANNOT_BE_MET = 4
STOPPED = 7
RESULTS = "sweep.json"
TABLE = "sweep.csv"


def _known(directory: Path) -> dict[str, Result]:
    """Return the results of an earlier run in the same directory."""
    path = directory / RESULTS
    if not path.exists():
        return {}
    try:
        text = path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise FileError(f"cannot read {path}: {error}") from None
    return sweep.results_from_json(text, str(path))


def _values(parameters: Sequence[Parameter], variant: Variant) -> str:
    return ", ".join(f"{parameter.path} = {text}" for parameter, text in zip(parameters, variant.values, strict=True))


class _Sweep:
    """A sweep at work: plans one combination after the other and keeps every result at once."""

    def __init__(self, parameters: Sequence[Parameter], asked: Sequence[Variant], directory: Path) -> None:
        self.parameters, self.asked, self.directory = parameters, asked, directory
        self.interrupts = Interrupts()
        self.line = ProgressLine(Console(highlight=False, stderr=True), asked[0].scenario.currency)

    def run(self, known: Mapping[str, Result], limits: SearchLimits) -> dict[str, Result]:
        def plan_one(number: int, variant: Variant) -> Result:
            self.line.start(f"{_values(self.parameters, variant)} ({number} of {len(self.asked)})")
            result = sweep.plan_variant(variant, limits, self.line)
            # A search that was broken off ends with the best it had: that is no result of this combination.
            self.interrupts.check()
            return result

        with self.interrupts.watched(), self.line.shown():
            return sweep.complete(self.asked, known, plan_one, self.keep)

    def keep(self, results: Mapping[str, Result]) -> None:
        """Replace the files by whole new ones, so that no row is ever half written."""
        table = sweep_csv(self.parameters, self.asked, results)
        files = {RESULTS: sweep.results_to_json(results).encode(), TABLE: table.encode()}
        write_files(self.directory, files)


def _say_stopped(asked: Sequence[Variant], directory: Path) -> int:
    known = _known(directory)
    done = sum(variant.key in known for variant in asked)
    kept = f"{done} of {len(asked)} combinations are finished and kept in {directory}"
    print(f"stopped; {kept}: the same command goes on from there", file=sys.stderr)
    return STOPPED


def _exit_code(asked: Sequence[Variant], results: Mapping[str, Result]) -> int:
    failed = [results[variant.key].failed for variant in asked if results[variant.key].failed]
    if failed:
        return failed[0]
    return 0 if any(results[variant.key].money_ct is not None for variant in asked) else CANNOT_BE_MET


def _plain(parameters: Sequence[Parameter], asked: Sequence[Variant], results: Mapping[str, Result]) -> str:
    paths = [parameter.path for parameter in parameters]
    rows = [
        {"values": dict(zip(paths, variant.values, strict=True)), **dataclasses.asdict(results[variant.key])}
        for variant in asked
    ]
    return json.dumps({"currency": asked[0].scenario.currency, "combinations": rows}, indent=1, ensure_ascii=False)


def run(options: argparse.Namespace) -> int:
    """Plan every combination that is not known yet, write table and plot, and print the table."""
    path, limits = Path(options.scenario), SearchLimits(options.seconds)
    parameters = [sweep.read_parameter(text) for text in options.vary]
    asked = sweep.variants(read_toml(read_text(path), str(path)), parameters, str(path), path.parent, limits)
    directory = Path(options.out)
    prepare_directory(directory)
    work = _Sweep(parameters, asked, directory)
    try:
        results = work.run(_known(directory), limits)
    except KeyboardInterrupt:
        return _say_stopped(asked, directory)
    display = display_of(asked[0].scenario)
    text = sweep_text(parameters, asked, results, display)
    paper = paper_named(options.paper, asked[0].scenario.units)
    drawn = drawn_files("sweep", sweep_figures(parameters, asked, results, paper, display))
    work.keep(results)
    write_files(directory, {"sweep.txt": text.encode(), **drawn})
    if options.json:
        print(_plain(parameters, asked, results))
    elif not options.quiet:
        print(text)
        print(f"Written to {directory}: {TABLE}, {RESULTS}, sweep.txt, {', '.join(sorted(drawn))}")
    return _exit_code(asked, results)

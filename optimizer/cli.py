"""The command `drip-layout`: reads the words of the command line and hands them to one command each."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from importlib import import_module

from optimizer.errors import DripLayoutError

_DESCRIPTION = """\
Plans a drip irrigation layout that wastes the least tubing and fittings.

You write down your bed, your tap, your crops and the rolls you can buy;
drip-layout chooses row direction, header place, product, zones and cuts,
checks every emitter, and writes the plan, the cut list, the shopping list
and the mark-out list."""

_EPILOG = """\
first steps:
  drip-layout plan                    plan the built-in example garden
  drip-layout new my-garden.toml      write a scenario to fill in
  drip-layout plan my-garden.toml     plan your own garden

exit codes: 0 done, 2 mistake in a file, 3 file cannot be read or written,
4 it cannot be done as asked, 5 water has no solution, 6 a check failed,
7 stopped before anything was found"""


def _add_plan(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    parser = commands.add_parser("plan", help="plan a garden and write everything needed to lay it")
    parser.add_argument("scenario", nargs="?", help="scenario file; the built-in example if left out")
    parser.add_argument("--out", default="drip-plan", metavar="DIR", help="directory for the results (%(default)s)")
    parser.add_argument("--seconds", type=float, metavar="N", help="stop searching after N seconds with the best found")
    parser.add_argument("--paper", choices=("A4", "Letter", "A3", "Tabloid"), help="paper of the drawings")
    _add_voice(parser)


def _add_new(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    parser = commands.add_parser("new", help="write a commented scenario to fill in")
    parser.add_argument("file", help="file to write; it must not exist yet")


def _add_verify(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    parser = commands.add_parser("verify", help="check a plan against its scenario, emitter by emitter")
    parser.add_argument("plan", help="plan.json as written by 'plan'")
    parser.add_argument("scenario", help="the scenario it was made from")
    _add_voice(parser)


def _add_limits(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    parser = commands.add_parser("limits", help="what the water allows: longest runs, rows at once, header sizes")
    parser.add_argument("scenario", help="scenario file")
    parser.add_argument("plan", nargs="?", help="plan.json made from it, to see what its zones leave to spare")
    _add_voice(parser)


def _add_season(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    parser = commands.add_parser("season", help="how many minutes, on which days, for each zone")
    parser.add_argument("scenario", help="scenario file with [climate], soils and planting days")
    parser.add_argument("plan", nargs="?", help="plan.json as written by 'plan'; planned first if left out")
    parser.add_argument("--by", choices=("month", "season"), default="month", help="one setting a %(choices)s")
    parser.add_argument("--out", metavar="DIR", help="write schedule.csv, schedule.txt and schedule.ics there")
    parser.add_argument("--stamp", metavar="TIME", help="time stamp of the calendar file, for files that repeat")
    parser.add_argument("--seconds", type=float, metavar="N", help="stop planning after N seconds with the best found")
    _add_voice(parser)


def _add_compare(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    parser = commands.add_parser("compare", help="put rows across beside rows along, or other layouts, as full plans")
    parser.add_argument("scenario", help="scenario file")
    parser.add_argument(
        "--by",
        action="append",
        choices=("direction", "header", "product", "tube"),
        default=[],
        help="what the layouts are told apart by; given twice, every combination (direction)",
    )
    parser.add_argument(
        "--zones", type=_counts, default=(), metavar="N,N", help="also compare at most so many zones, like 1,2,3"
    )
    parser.add_argument("--out", default="drip-compare", metavar="DIR", help="directory for the results (%(default)s)")
    parser.add_argument("--seconds", type=float, metavar="N", help="stop each search after N seconds with the best")
    parser.add_argument("--paper", choices=("A4", "Letter", "A3", "Tabloid"), help="paper of the sheet")
    _add_voice(parser)


def _counts(text: str) -> tuple[int, ...]:
    try:
        return tuple(int(part) for part in text.split(","))
    except ValueError:
        raise argparse.ArgumentTypeError(f"'{text}' is not a list of whole numbers like 1,2,3") from None


def _add_sweep(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    parser = commands.add_parser("sweep", help="plan a scenario over and over with other values of one or two entries")
    parser.add_argument("scenario", help="scenario file")
    parser.add_argument(
        "--vary",
        action="append",
        required=True,
        metavar="PATH=V,V",
        help="entry of the scenario and its values, like 'limits.header_step=0.5 m,1 m' or "
        "'emitter_lines.0.rolls.0.length=50 m,100 m'; values with commas in them are parted by ';'",
    )
    parser.add_argument("--out", default="drip-sweep", metavar="DIR", help="directory for the results (%(default)s)")
    parser.add_argument("--seconds", type=float, metavar="N", help="stop each search after N seconds with the best")
    parser.add_argument("--paper", choices=("A4", "Letter", "A3", "Tabloid"), help="paper of the plot")
    _add_voice(parser)


def _add_book(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    parser = commands.add_parser("book", help="print a plan as a field book with maps, cuts and head drawing")
    parser.add_argument("plan", help="plan.json as written by 'plan' or 'compare'")
    parser.add_argument("scenario", nargs="?", help="its scenario with [climate], to fill in the watering times")
    parser.add_argument(
        "--by", choices=("month", "season"), default="month", help="one setting of the timer a %(choices)s"
    )
    parser.add_argument("--out", default="drip-book", metavar="DIR", help="directory for the results (%(default)s)")
    parser.add_argument("--paper", choices=("A4", "Letter"), help="paper of all sheets")
    _add_voice(parser)


def _add_cut(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    parser = commands.add_parser("cut", help="cut a list of lengths from a shelf of rolls with the least waste")
    parser.add_argument("list", help="file with pieces, rolls and owned pieces")
    parser.add_argument("--out", metavar="DIR", help="write cuts.csv there")
    parser.add_argument("--seconds", type=float, metavar="N", help="stop after about N seconds with the best found")
    _add_voice(parser)


def _add_whatif(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    parser = commands.add_parser("whatif", help="what longer rolls, joints, headers or more flow would save")
    parser.add_argument("scenario", help="scenario file")
    parser.add_argument("--seconds", type=float, metavar="N", help="longest search for each change")
    _add_voice(parser)


def _add_voice(parser: argparse.ArgumentParser) -> None:
    voice = parser.add_mutually_exclusive_group()
    voice.add_argument("--quiet", action="store_true", help="print nothing but errors")
    voice.add_argument("--json", action="store_true", help="print the summary as JSON")


_ADDERS = {
    "plan": _add_plan,
    "new": _add_new,
    "verify": _add_verify,
    "limits": _add_limits,
    "cut": _add_cut,
    "whatif": _add_whatif,
    "season": _add_season,
    "compare": _add_compare,
    "sweep": _add_sweep,
    "book": _add_book,
}


def build_parser() -> argparse.ArgumentParser:
    """Return the parser of the command line."""
    parser = argparse.ArgumentParser(
        prog="drip-layout",
        description=_DESCRIPTION,
        epilog=_EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    commands = parser.add_subparsers(dest="command", metavar="COMMAND", required=True)
    for add in _ADDERS.values():
        add(commands)
    return parser


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code."""
    options = build_parser().parse_args(arguments)
    try:
        # Commands are loaded only when they run, so that help appears at once.
        command = import_module(f"optimizer.commands.{options.command}_command")
        return int(command.run(options))
    except DripLayoutError as error:
        print(error, file=sys.stderr)
        return error.exit_code
    except KeyboardInterrupt:
        print("stopped before anything was found; nothing was written", file=sys.stderr)
        return 7


if __name__ == "__main__":
    sys.exit(main())

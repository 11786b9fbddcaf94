"""The tables of `limits`, each no wider than 80 columns, in the units of the scenario."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import groupby, pairwise

from rich.console import Console
from rich.padding import Padding
from rich.table import Table

from optimizer.scenario.schema import Scenario
from optimizer.study.limits import LimitsReport
from optimizer.study.limits_beds import TypicalRow
from optimizer.study.limits_headers import HeaderSizes
from optimizer.study.limits_heads import RegulatorVerdict
from optimizer.study.limits_runs import EVENNESS, VARIATIONS, PlaceSpread, RunLimit
from optimizer.study.limits_supply import NOTHING, RowsFed, Rung
from optimizer.study.limits_tank import TankAnswer
from optimizer.study.limits_zones import NearLimit, ZoneAnswers
from optimizer.units import Display, money

_WIDTH = 80
_MOST_LIMITS = 5
"""limits shown for each zone, the nearest first"""


def _table(title: str, left: Sequence[str], right: Sequence[str]) -> Table:
    table = Table(box=None, pad_edge=False, title=title, title_justify="left")
    for name in left:
        table.add_column(name)
    for name in right:
        table.add_column(name, justify="right")
    return table


def _slope(slope: float) -> str:
    return "level" if not slope else f"{100.0 * abs(slope):.1f} % {'up' if slope > 0.0 else 'down'}"


def _run_text(length_m: float, ends_by: str, show: Display) -> str:
    if math.isinf(length_m):
        return "any"
    return show.length_down(length_m) + ("" if ends_by == EVENNESS else f" ({ends_by})")


def _runs(runs: Sequence[RunLimit], show: Display) -> Iterator[Table]:
    """Yield a table for each line and pressure: variations down, slopes across."""
    for (line, head, source), group in groupby(runs, key=lambda item: (item.line, item.head_m, item.source)):
        items = list(group)
        title = f"Longest run: {line}\nat {show.pressure(head)} ({source})"
        table = _table(title, ("variation",), [_slope(item.slope) for item in items])
        for index, variation in enumerate(VARIATIONS):
            lengths = [_run_text(item.lengths_m[index], item.ends_by[index], show) for item in items]
            table.add_row(f"{100 * variation:.0f} %", *lengths)
        yield table


def _regulators(verdicts: Sequence[RegulatorVerdict], show: Display) -> Iterator[Table]:
    for line, group in groupby(verdicts, key=lambda item: item.line):
        table = _table(f"Regulator for {line}", ("regulator", "rows at once", "standing", "verdict"), [])
        for item in group:
            most = "" if item.most_rows is None else f" to {item.most_rows}"
            least = str(item.least_rows) if most else f"{item.least_rows} or more"
            verdict = f"best: {item.why}" if item.best else item.why
            table.add_row(item.regulator, least + most, show.pressure(item.standing_m), verdict)
        yield table


def _distinct(rungs: Sequence[Rung]) -> list[Rung]:
    """Return the rungs behind the first at which more rows run, and the last."""
    found = [rung for before, rung in pairwise(rungs) if rung.rows != before.rows]
    return found if not rungs or rungs[-1] in found or len(rungs) == 1 else [*found, rungs[-1]]


def fed_sentence(item: RowsFed) -> str:
    """Return how many rows run at once, what limits them and where the next limits lie, each with those before gone."""
    first = item.now
    if first.limited_by == NOTHING:
        return "Any number of rows now: nothing but the emitters themselves takes pressure."
    after = ", ".join(f"the {rung.limited_by} at {rung.rows}" for rung in _distinct(item.rungs))
    enough = first.rows is None or first.rows >= item.rows_wanted
    wanted = "all of the bed's" if enough else "the bed has"
    return (
        f"{first.rows} rows now ({wanted} {item.rows_wanted}): the {first.limited_by} limits"
        + (f"; then {after}" if after else "")
        + "."
    )


def _fed(item: RowsFed, show: Display) -> list[str]:
    return [
        f"{item.bed}, {item.direction}: {item.line}",
        f"  at {show.pressure(item.head_m)}, {show.flow(item.row_flow_m3_s)} for a row",
        f"  {fed_sentence(item)}",
    ]


def _place(item: PlaceSpread, show: Display) -> list[str]:
    low, middle, high, best = (show.percent(value) for value in (item.low_end, item.middle, item.high_end, item.best))
    return [
        f"{item.bed}, {item.direction}: {item.line}",
        f"  low end {low}, middle {middle}, high end {high};",
        f"  most even {show.length(item.best_place_m)} from the low end: {best}",
    ]


def _header(item: HeaderSizes, scenario: Scenario, show: Display) -> Table:
    rows = f"{item.rows} rows" if item.rows > 1 else "1 row"
    title = (
        f"Header sizes: {item.bed}, {item.direction}, {rows} on {show.length(item.length_m)} of header,\n"
        f"{item.line} at {show.pressure(item.head_m)}"
    )
    table = _table(title, ("tube",), ("bore", "velocity", "lost", "last row gets", "holds", "price"))
    for size in item.sizes:
        table.add_row(
            size.tube,
            show.bore(size.bore_m),
            show.velocity(size.velocity_m_s) + ("!" if size.too_fast else ""),
            show.pressure(size.lost_m),
            f"{100.0 * size.last_row:.1f} %",
            show.volume(size.fill_m3),
            "-" if size.price_ct is None else money(size.price_ct, scenario.currency),
        )
    return table


def _duration(seconds: float) -> str:
    if math.isinf(seconds):
        return "never"
    minutes = round(seconds / 60.0)
    return f"{minutes} min" if minutes < 60 else f"{minutes // 60} h {minutes % 60:02d} min"


def _tank(item: TankAnswer, show: Display) -> list[str]:
    enough = "enough" if item.enough else f"too little: raise it by {show.length(item.raise_by_m)}"
    if item.empty_head_m <= 0.0:
        enough = "no pressure is left when it is nearly empty"
    needed = f"the emitters need {show.pressure(item.needed_m)}: {enough}"
    if not item.needed_m and item.empty_head_m > 0.0:
        needed = "the line states no least pressure: any height waters, a low one slowly"
    rating = f"For the rated flow it would have to stand {show.length(item.raise_for_rating_m)} higher."
    return [
        f"{item.bed}, {item.direction}: {item.rows} rows of {item.line}",
        f"  full   {show.pressure(item.full_head_m)} at the rows, {show.flow(item.full_flow_m3_s)}",
        f"  empty  {show.pressure(item.empty_head_m)} at the rows, {show.flow(item.empty_flow_m3_s)}",
        f"  {needed}",
        f"  {rating if item.raise_for_rating_m > 0.0 else 'It gives the rated flow even when nearly empty.'}",
        f"  {show.volume(item.volume_m3)} last {_duration(item.empties_s)} with all rows open",
        f"  ground level to {show.length(item.level_m)} keeps emitters within 10 % when nearly empty",
        "  A full tank is heavy: ask what its stand must bear; keep children and mosquitoes out.",
    ]


def _amount(limit: NearLimit, value: float, show: Display) -> str:
    write = {"flow": show.flow, "pressure": show.pressure, "velocity": show.velocity, "share": show.percent}
    return write[limit.kind](value)


def _zone(item: ZoneAnswers, show: Display) -> Table:
    table = _table(f"Zone {item.zone}: limits, the nearest first", ("limit",), ("has", "bound", "used"))
    for limit in item.limits[:_MOST_LIMITS]:
        has, bound = (_amount(limit, value, show) for value in (limit.value, limit.bound))
        table.add_row(limit.name, has, bound, f"{100.0 * limit.used:.0f} %")
    return table


def _zone_lines(item: ZoneAnswers, show: Display) -> list[str]:
    lines = [
        f"  flushing: {item.ends_at_once} of {item.ends} ends at once at {show.velocity(0.3048)}, taking "
        f"{show.flow(item.flushing_flow_m3_s)}",
        f"  holds {show.volume(item.fill_volume_m3)}; up to {show.volume(item.drain_volume_m3)} "
        "drain to the lowest emitter",
    ]
    if item.tank is not None:
        lines += [
            f"  tank: {show.flow(item.tank.full_flow_m3_s)} full, {show.flow(item.tank.empty_flow_m3_s)} nearly empty; "
            f"empty after {_duration(item.tank.empties_s)}",
            f"  nearly empty: at least {show.pressure(item.tank.empty_least_head_m)} at an emitter, "
            f"{show.percent(item.tank.empty_variation)} flow variation",
        ]
    return lines


def _typical(row: TypicalRow, show: Display) -> str:
    lines = "" if row.lines == 1 else f", {row.lines} lines each"
    return (
        f"{row.bed}, {row.direction}: {row.rows} rows, a typical one {show.length(row.length_m)}{lines}, "
        f"rising {100 * abs(row.rise):.1f} %"
    )


def _paragraphs(console: Console, title: str, items: Sequence[Sequence[str]]) -> None:
    console.print()
    console.print(title, style="italic")
    for lines in items:
        for line in lines:
            indent = len(line) - len(line.lstrip())
            console.print(Padding(line.lstrip(), (0, 0, 0, indent)))


def print_report(console: Console, scenario: Scenario, report: LimitsReport) -> None:
    """Print all answers about the water of a scenario."""
    show = Display(scenario.units)
    console.width = min(console.width, _WIDTH) if console.is_terminal else _WIDTH
    say = console.print
    say(f"{scenario.title}: limits of the water", style="bold")
    for row in report.rows:
        say(_typical(row, show))
    for table in (*_runs(report.runs, show), *_regulators(report.regulators, show)):
        say()
        say(table)
    _paragraphs(console, "Rows the supply feeds at once", [_fed(item, show) for item in report.fed])
    _paragraphs(console, "Flow variation along one row, by header place", [_place(i, show) for i in report.places])
    for item in report.headers:
        say()
        say(_header(item, scenario, show))
    if any(size.too_fast for item in report.headers for size in item.sizes):
        say(f"! above the velocity limit of {show.velocity(scenario.limits.velocity)}")
    if report.tanks:
        _paragraphs(console, "Tank with all rows of a bed open", [_tank(tank, show) for tank in report.tanks])
    for zone in report.zones:
        say()
        say(_zone(zone, show))
        for line in _zone_lines(zone, show):
            say(line)

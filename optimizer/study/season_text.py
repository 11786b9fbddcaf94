"""A season as text of at most 80 columns: a card for each period, water, soil, warnings and what it rests on."""

from __future__ import annotations

from collections.abc import Iterator
from io import StringIO

from rich.console import Console, Group, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from optimizer.need.demand import ZoneTimes
from optimizer.need.season_plan import PeriodPlan, ZonePeriod
from optimizer.need.timer import clock
from optimizer.study.season import Watering, ZoneFacts, days_text
from optimizer.study.season_words import depth_text
from optimizer.units import Display

WIDTH = 80


def _table(title: str, columns: tuple[str, ...], right: tuple[str, ...]) -> Table:
    table = Table(box=None, pad_edge=False, title=title, title_justify="left")
    for name in columns:
        table.add_column(name, justify="right" if name in right else "left")
    return table


def _note(text: str, style: str = "") -> RenderableType:
    return Padding(Text(text, style=style), (0, 0, 0, 2))


def _rates(facts: ZoneFacts, watering: Watering) -> str:
    return ", ".join(f"{name} {depth_text(rate, watering.system)}/h" for name, rate in facts.rates)


def _zone_table(watering: Watering, shown: Display) -> Table:
    table = _table("Zones", ("zone", "flow", "EU", "tubes fill in", "gives"), ("flow", "EU", "tubes fill in"))
    for facts in watering.zones:
        fill = f"{facts.fill_minutes:.1f} min"
        evenness = f"{100.0 * facts.evenness:.0f} %"
        table.add_row(facts.zone, shown.flow(facts.flow_m3_s), evenness, fill, _rates(facts, watering))
    return table


def starts_text(times: ZoneTimes) -> str:
    """Starts of a day as clock times.

    Args:
        times: of a zone
    """
    return " ".join(clock(start) for start in times.starts_min)


def _time_row(part: ZonePeriod, shown: Display) -> tuple[str, ...]:
    times = part.times
    if times is None:
        return part.zone, "none", "", "off", "", "", ""
    week, wanted = f"{times.week_minutes} min", f"{times.wanted_week_min:.0f} min"
    volume = shown.volume(times.week_m3)
    return part.zone, days_text(times.weekdays), starts_text(times), f"{times.minutes} min", week, wanted, volume


def _needs(period: PeriodPlan, watering: Watering) -> str:
    needs = {row.name: row.need_mm_day for part in period.zones for row in part.rows}
    said = ", ".join(f"{name} {depth_text(7.0 * need, watering.system)}" for name, need in needs.items())
    return f"Need a week: {said}."


def _rain(period: PeriodPlan) -> Iterator[str]:
    by_text: dict[str, list[str]] = {}
    for part in period.zones:
        if part.rain is not None:
            by_text.setdefault(part.rain.text, []).append(part.zone)
    for text, zones in by_text.items():
        yield f"{', '.join(zones)}: {text}"


def _shortage(period: PeriodPlan) -> Iterator[str]:
    shortage = period.shortage
    if shortage is None:
        return
    proven = "" if shortage.proven else " (no schedule that covers more was found)"
    yield f"Short: {shortage.short_pct} % of the need does not fit{proven}. The card gives the rest. What would help:"
    for number, lever in enumerate(shortage.levers, start=1):
        reach = "" if lever.within_reach else " (not within reach as things are)"
        yield f"  {number}. {lever.text}{reach}"


def _period(period: PeriodPlan, watering: Watering, shown: Display) -> RenderableType:
    columns = ("zone", "days", "starts", "run", "a week", "wanted", "water a week")
    table = _table(period.period.name, columns, ("run", "a week", "wanted", "water a week"))
    for part in period.zones:
        table.add_row(*_time_row(part, shown))
    notes = [_needs(period, watering)]
    if period.tank_refills is not None:
        notes.append(f"Tank: {period.tank_refills:.1f} fills a week, {shown.volume(period.week_m3)}.")
    lines = [_note(text) for text in (*notes, *_rain(period))]
    return Group(table, *lines, *(_note(text, "yellow") for text in _shortage(period)), "")


def _shortest_run(watering: Watering, zone: str) -> int | None:
    parts = [part.times for period in watering.season.periods for part in period.zones if part.zone == zone]
    return min((times.minutes for times in parts if times is not None), default=None)


def _season_table(watering: Watering, shown: Display) -> Table:
    columns = ("zone", "water a season", "shortest run", "tubes fill in", "of it")
    table = _table("Season", columns, columns[1:])
    for facts in watering.zones:
        parts = [part for period in watering.season.periods for part in period.zones if part.zone == facts.zone]
        volume, run = sum(part.total_m3 for part in parts), _shortest_run(watering, facts.zone)
        runs = ("-", "-") if run is None else (f"{run} min", f"{100.0 * facts.fill_minutes / run:.0f} %")
        table.add_row(facts.zone, shown.volume(volume), runs[0], f"{facts.fill_minutes:.1f} min", runs[1])
    table.add_row("all", shown.volume(watering.season.season_m3), "", "", "")
    return table


def rain_effect(watering: Watering, shown: Display) -> str:
    """What mean rain does to the water of the season.

    Args:
        watering: the season
        shown: units of the user
    """
    dry = shown.volume(watering.dry_m3)
    if watering.rainy_m3 is None:
        return f"Rain: none given; without rain the season takes {dry}."
    saved = 100.0 * (1.0 - watering.rainy_m3 / watering.dry_m3) if watering.dry_m3 > 0.0 else 0.0
    taken = "taken off the schedule" if watering.count_rain else "not taken off the schedule"
    rainy = shown.volume(watering.rainy_m3)
    return f"Rain: {dry} a season without it, {rainy} if mean rain is counted ({saved:.0f} % less); {taken}."


def _soil_table(watering: Watering) -> Table:
    columns = ("zone", "row", "need", "of it met", "thirsty days", "lost below roots")
    table = _table("Soil water" + ("" if watering.count_rain else ", with no rain"), columns, columns[2:])
    for row in watering.season.accounts:
        met = f"{100.0 * row.got_mm / row.need_mm:.0f} %" if row.need_mm > 0.0 else "-"
        need, lost = depth_text(row.need_mm, watering.system), depth_text(row.drained_mm, watering.system)
        table.add_row(row.zone, row.row, need, met, str(row.stress_days), lost)
    return table


def _parts(watering: Watering) -> Iterator[RenderableType]:
    shown = Display(watering.system)
    yield Text(f"{watering.title}: how long to run it", style="bold")
    yield ""
    yield _zone_table(watering, shown)
    yield ""
    for period in watering.season.periods:
        yield _period(period, watering, shown)
    yield _season_table(watering, shown)
    yield _note(rain_effect(watering, shown))
    yield ""
    yield _soil_table(watering)
    yield ""
    for text in watering.season.warnings:
        yield Text(f"Note: {text}", style="yellow")
    yield Text("Rests on:")
    for text in watering.season.assumptions:
        yield _note(text)
    yield Text("Look at the plants and feel the soil: more water in heat and wind, less in cool weather.")


def print_season(console: Console, watering: Watering) -> None:
    """Print a season.

    Args:
        console: where to
        watering: the season
    """
    console.width = min(console.width, WIDTH) if console.is_terminal else WIDTH
    for part in _parts(watering):
        console.print(part)


def season_text(watering: Watering) -> str:
    """A season as plain text of at most 80 columns.

    Args:
        watering: the season
    """
    lines = StringIO()
    print_season(Console(file=lines, width=WIDTH, color_system=None, highlight=False, markup=False), watering)
    return "".join(f"{line.rstrip()}\n" for line in lines.getvalue().splitlines())

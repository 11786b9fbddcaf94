"""Daily weather files: comma-separated text, read strictly, every fault told with its line.

The first line names the columns. `date` (2026-07-06) is always there; then either `eto_mm`, or `tmax_c` and `tmin_c`
with any of `tdew_c`, `rhmax_pct`, `rhmin_pct`, `rhmean_pct`, `wind_m_s`, `sunshine_h`, `solar_mj_m2`; and `rain_mm`.
An empty cell is "not measured". Numbers have a decimal point and no unit. Lines that begin with # are comments.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from optimizer.errors import FileError, Problem, ScenarioError
from optimizer.need.weather import LIMITS, Weather, weather_faults

WEATHER_COLUMNS = (
    "tmax_c",
    "tmin_c",
    "tdew_c",
    "rhmax_pct",
    "rhmin_pct",
    "rhmean_pct",
    "wind_m_s",
    "sunshine_h",
    "solar_mj_m2",
)
COLUMNS = ("date", *WEATHER_COLUMNS, "rain_mm", "eto_mm")
NUMBER = re.compile(r"[-+]?(\d+\.?\d*|\.\d+)")
DATE = re.compile(r"\d{4}-\d{2}-\d{2}")


@dataclass(frozen=True)
class WeatherDay:
    """One line of a weather file; either `weather` or `eto_mm` is there.

    Args:
        date: the day
        weather: what was measured, or None
        rain_mm: rain, None if not measured [mm]
        eto_mm: reference evapotranspiration if the file states it [mm]
    """

    date: dt.date
    weather: Weather | None
    rain_mm: float | None
    eto_mm: float | None

    def __post_init__(self) -> None:
        """Refuse a day that says nothing about the need."""
        if self.weather is None and self.eto_mm is None:
            raise ValueError(f"{self.date}: neither weather nor eto_mm")


def numbered_lines(text: str) -> list[tuple[int, list[str]]]:
    """Line number and stripped cells of every line that is neither empty nor a comment.

    Args:
        text: the whole file
    """
    lines = [(number, line.strip()) for number, line in enumerate(text.lstrip("\ufeff").splitlines(), start=1)]
    return [(number, [cell.strip() for cell in line.split(",")]) for number, line in lines if line and line[:1] != "#"]


def header_problems(names: Sequence[str], number: int) -> list[Problem]:
    """What is wrong with the column names.

    Args:
        names: cells of the first line
        number: its line number
    """
    path = f"line {number}"
    found = [
        Problem(path, f"unknown column {name!r}; known: {', '.join(COLUMNS)}") for name in names if name not in COLUMNS
    ]
    twice = sorted({name for name in names if names.count(name) > 1})
    found += [Problem(path, f"column {name!r} is there twice") for name in twice]
    if "date" not in names:
        found.append(Problem(path, "column 'date' is missing"))
    if "eto_mm" not in names and not {"tmax_c", "tmin_c"} <= set(names):
        found.append(Problem(path, "needs the columns tmax_c and tmin_c, or the column eto_mm"))
    return found


def read_number(name: str, cell: str) -> float | None:
    """Number in a cell, None if it is empty.

    Args:
        name: column, for the limits
        cell: text

    Raises:
        ValueError: not a plain number, or out of the limits of its column
    """
    if not cell:
        return None
    if not NUMBER.fullmatch(cell):
        raise ValueError(f"{name}: {cell!r} is not a number like 21.5")
    value, (low, high) = float(cell), LIMITS[name]
    if not low <= value <= high:
        raise ValueError(f"{name} is {cell}, must be {low:g} to {high:g}")
    return value


def read_date(cell: str) -> dt.date:
    """Date in a cell.

    Args:
        cell: text like 2026-07-06

    Raises:
        ValueError: not a date
    """
    if not DATE.fullmatch(cell):
        raise ValueError(f"date: {cell!r} is not a date like 2026-07-06")
    try:
        return dt.date.fromisoformat(cell)
    except ValueError:
        raise ValueError(f"date: {cell!r} is not in the calendar") from None


def read_cells(cells: dict[str, str], faults: list[str]) -> dict[str, float | None]:
    """Numbers of a line by column; faults are appended to the list given.

    Args:
        cells: text by column
        faults: messages so far
    """
    values: dict[str, float | None] = {}
    for name in COLUMNS[1:]:
        try:
            values[name] = read_number(name, cells.get(name, ""))
        except ValueError as error:
            values[name] = None
            faults.append(str(error))
    return values


def read_day(cells: dict[str, str], wind_height_m: float) -> tuple[WeatherDay | None, list[str]]:
    """The day of a line, or None with every fault of it.

    Args:
        cells: text by column
        wind_height_m: height of the wind gauge [m]
    """
    faults: list[str] = []
    date = dt.date.min
    try:
        date = read_date(cells["date"])
    except ValueError as error:
        faults.append(str(error))
    values = read_cells(cells, faults)
    tmax, tmin, eto = values["tmax_c"], values["tmin_c"], values["eto_mm"]
    weather = None
    if tmax is not None and tmin is not None:
        others = {name: values[name] for name in WEATHER_COLUMNS[2:]}
        weather = Weather(tmax, tmin, wind_height_m=wind_height_m, **others)
        faults += weather_faults(weather)
    elif eto is None and not faults:
        faults.append("neither tmax_c and tmin_c nor eto_mm on this day")
    return (None if faults else WeatherDay(date, weather, values["rain_mm"], eto)), faults


def parse_weather(text: str, source: str, wind_height_m: float = 2.0) -> tuple[WeatherDay, ...]:
    """Days of a weather file in the order of their dates.

    Args:
        text: the whole file
        source: its name, for messages
        wind_height_m: height of the wind gauge above the ground [m]

    Raises:
        ScenarioError: with every fault, each with its line
    """
    lines = numbered_lines(text)
    if len(lines) < 2:
        raise ScenarioError(source, [Problem("line 1", "no weather in it: one line of column names, then one a day")])
    (header_line, names), problems = lines[0], []
    problems += header_problems(names, header_line)
    if problems:
        raise ScenarioError(source, problems)
    days: dict[dt.date, WeatherDay] = {}
    for number, cells in lines[1:]:
        path = f"line {number:4d}"
        if len(cells) != len(names):
            problems.append(Problem(path, f"{len(cells)} cells, the first line names {len(names)} columns"))
            continue
        day, faults = read_day(dict(zip(names, cells, strict=True)), wind_height_m)
        problems += [Problem(path, fault) for fault in faults]
        if day is not None and day.date in days:
            problems.append(Problem(path, f"{day.date} is there twice"))
        elif day is not None:
            days[day.date] = day
    if problems:
        raise ScenarioError(source, problems)
    return tuple(days[date] for date in sorted(days))


def load_weather(path: Path, wind_height_m: float = 2.0) -> tuple[WeatherDay, ...]:
    """Days of a weather file on disk.

    Args:
        path: the file, UTF-8
        wind_height_m: height of the wind gauge above the ground [m]

    Raises:
        FileError: it cannot be read
        ScenarioError: with every fault in it, each with its line
    """
    try:
        text = path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise FileError(f"{path}: cannot read the weather file: {error}") from error
    return parse_weather(text, str(path), wind_height_m)

"""Field types of climate, crops and timer: dates, clock times, weekdays, and twelve monthly values with one unit."""

from __future__ import annotations

import datetime as dt
import re
from pathlib import Path
from typing import Annotated, Any

from pydantic import BeforeValidator, ValidationInfo

from optimizer import units
from optimizer.errors import DripLayoutError, QuantityError
from optimizer.need import WeatherDay, load_weather
from optimizer.need.calendar_days import WEEKDAY_NAMES
from optimizer.units import Dimension

MONTHS = 12
MINUTE_S = 60.0
DAY_MIN = 24 * 60
_NUMBER = re.compile(r"-?\d+(\.\d+)?")
_DATE = re.compile(r"\d{4}-\d{2}-\d{2}")
_CLOCK = re.compile(r"(\d{1,2}):(\d{2})")


def _text(value: Any, example: str) -> str:
    if not isinstance(value, str):
        raise ValueError(f'write a text in quotes, like "{example}"')
    return value.strip()


def _values(text: str, dimension: Dimension) -> tuple[float, ...]:
    """Numbers of a text, all with the unit that stands behind the last."""
    words = text.split()
    count = next((index for index, word in enumerate(words) if not _NUMBER.fullmatch(word)), len(words))
    if count <= 1:
        return (units.parse(text, dimension),)
    unit = " ".join(words[count:])
    return tuple(units.parse(f"{word} {unit}", dimension) for word in words[:count])


def monthly(dimension: Dimension, example: str, single: bool = False) -> BeforeValidator:
    """Twelve values, January to December, with the unit behind the last.

    Args:
        dimension: what they measure
        example: shown where the text cannot be read
        single: one value for the whole year will do
    """

    def read(value: Any) -> tuple[float, ...]:
        try:
            values = _values(_text(value, example), dimension)
        except QuantityError as error:
            raise ValueError(str(error)) from None
        if len(values) != MONTHS and not (single and len(values) == 1):
            wanted = "one value or twelve" if single else "twelve values"
            raise ValueError(f"has {len(values)}; write {wanted} (January to December) and one unit, like '{example}'")
        return values

    return BeforeValidator(read)


def _read_date(value: Any) -> dt.date:
    if isinstance(value, dt.datetime):
        raise ValueError("write a day without a time, like 2026-05-10")
    if isinstance(value, dt.date):
        return value
    text = _text(value, "2026-05-10")
    if not _DATE.fullmatch(text):
        raise ValueError(f"'{text}' is not a day; write year, month and day, like 2026-05-10")
    try:
        return dt.date.fromisoformat(text)
    except ValueError:
        raise ValueError(f"'{text}' is not in the calendar") from None


def _read_minutes(value: Any) -> int:
    try:
        seconds = units.parse(_text(value, "5 min"), Dimension.TIME)
    except QuantityError as error:
        raise ValueError(str(error)) from None
    minutes = round(seconds / MINUTE_S)
    if seconds < 0.0 or abs(minutes * MINUTE_S - seconds) > 1e-6:
        raise ValueError(f"'{value}' must be a whole number of minutes")
    return minutes


def _read_some_minutes(value: Any) -> int:
    minutes = _read_minutes(value)
    if not minutes:
        raise ValueError(f"'{value}' must be above zero")
    return minutes


def _clock(text: str) -> int:
    """Minute of the day of a text such as "06:30"; "24:00" is the end of the day."""
    match = _CLOCK.fullmatch(text.strip())
    minute = int(match[1]) * 60 + int(match[2]) if match and int(match[2]) < 60 else DAY_MIN + 1
    if minute > DAY_MIN:
        raise ValueError(f"'{text.strip()}' is not a time of day; write hours and minutes, like 06:30")
    return minute


def _read_span(value: Any) -> tuple[int, int]:
    text = _text(value, "06:00-08:00")
    parts = text.split("-")
    if len(parts) != 2:
        raise ValueError(f"'{text}': write two times of day with '-' between, like '06:00-08:00'")
    start, end = _clock(parts[0]), _clock(parts[1])
    if start % DAY_MIN == end % DAY_MIN and (start, end) != (0, DAY_MIN):
        raise ValueError(f"'{text}': begin and end are the same; the whole day is '00:00-24:00'")
    return start % DAY_MIN, end


def _read_days(value: Any) -> tuple[int, ...]:
    text = _text(value, "Mon Wed Fri")
    if text == "every day":
        return tuple(range(7))
    words = text.split()
    for word in words:
        if word not in WEEKDAY_NAMES:
            raise ValueError(f"'{word}' is not a day; write 'every day' or some of: {' '.join(WEEKDAY_NAMES)}")
    if not words or len(set(words)) < len(words):
        raise ValueError(f"'{text}': write each day once, like 'Mon Wed Fri'")
    return tuple(sorted(WEEKDAY_NAMES.index(word) for word in words))


def _read_weather(value: Any, info: ValidationInfo) -> tuple[WeatherDay, ...]:
    """The days of a weather file, its path counted from the folder of the scenario."""
    name = _text(value, "weather.csv")
    folder = (info.context or {}).get("folder", Path())
    try:
        return load_weather(Path(folder) / name, info.data.get("wind_height", 2.0))
    except DripLayoutError as error:
        raise ValueError("; ".join(line.strip() for line in str(error).splitlines())) from None


Date = Annotated[dt.date, BeforeValidator(_read_date)]
Minutes = Annotated[int, BeforeValidator(_read_some_minutes)]
MinutesOrZero = Annotated[int, BeforeValidator(_read_minutes)]
ClockSpan = Annotated[tuple[int, int], BeforeValidator(_read_span)]
Weekdays = Annotated[tuple[int, ...], BeforeValidator(_read_days)]
WeatherFile = Annotated[tuple[WeatherDay, ...], BeforeValidator(_read_weather)]
Monthly = tuple[float, ...]
MonthlyTemperature = Annotated[Monthly, monthly(Dimension.TEMPERATURE, "3 4 8 13 18 21 23 23 18 13 7 4 degC")]
MonthlyShare = Annotated[Monthly, monthly(Dimension.FRACTION, "85 80 74 67 66 67 66 68 75 81 86 87 %")]
MonthlyWind = Annotated[Monthly, monthly(Dimension.VELOCITY, "3 3 3 2.5 2 2 2 2 2 2.5 3 3 m/s")]
MonthlySunshine = Annotated[Monthly, monthly(Dimension.TIME, "1.7 2.8 4 5.8 6.8 7 7.2 6.8 5 3.5 2 1.4 h")]
MonthlyNeed = Annotated[
    Monthly, monthly(Dimension.DEPTH_RATE, "0.4 0.7 1.3 2.3 3.2 3.7 3.9 3.4 2.2 1.2 0.6 0.4 mm/day")
]
NeedOrMonthly = Annotated[Monthly, monthly(Dimension.DEPTH_RATE, "1.25 in/week", single=True)]
MonthlyRain = Annotated[Monthly, monthly(Dimension.LENGTH, "60 45 50 42 56 65 75 70 58 52 57 60 mm")]

"""Field types of the scenario: text with a unit becomes an SI number while the file is read."""

from __future__ import annotations

from decimal import Decimal, InvalidOperation
from typing import Annotated, Any

from pydantic import BeforeValidator

from optimizer import units
from optimizer.errors import QuantityError
from optimizer.units import Dimension


def _text(value: Any, example: str) -> str:
    if not isinstance(value, str):
        raise ValueError(f'write a text with a unit in quotes, like "{example}"')
    return value


def _quantity(dimension: Dimension, example: str, least: float | None, above: bool) -> BeforeValidator:
    def read(value: Any) -> float:
        try:
            number = units.parse(_text(value, example), dimension)
        except QuantityError as error:
            raise ValueError(str(error)) from None
        if least is not None and (number < least or (above and number == least)):
            raise ValueError(f"'{value}' must be {'above' if above else 'at least'} zero")
        return number

    return BeforeValidator(read)


def _numbers(count: int, example: str) -> BeforeValidator:
    def read(value: Any) -> tuple[float, ...]:
        try:
            return units.parse_point(_text(value, example), count)
        except QuantityError as error:
            raise ValueError(str(error)) from None

    return BeforeValidator(read)


def _read_flow(value: Any) -> float:
    """A flow, or a bucket test."""
    text = _text(value, "10 L in 24 s")
    try:
        flow = units.parse_bucket(text) if " in " in text else units.parse(text, Dimension.FLOW)
    except QuantityError as error:
        raise ValueError(str(error)) from None
    if flow <= 0.0:
        raise ValueError(f"'{text}' must be above zero")
    return flow


def _read_price(value: Any) -> int:
    """Hundredths of the currency from a number such as 12.5."""
    if isinstance(value, bool) or not isinstance(value, int | float | str):
        raise ValueError("write a price as a number, like 12.50")
    try:
        cents = Decimal(str(value)) * 100
    except InvalidOperation:
        raise ValueError(f"'{value}' is not a price; write a number with a point as decimal mark, like 12.50") from None
    if not cents.is_finite() or cents < 0 or cents != cents.to_integral_value():
        raise ValueError(f"'{value}' is not a price; write a number of at least 0 with at most two decimals")
    return int(cents)


def _read_size(value: Any) -> tuple[float, float]:
    """Width and depth from a text such as "4 ft x 8 ft"."""
    parts = _text(value, "4 m x 1.2 m").split(" x ")
    if len(parts) != 2:
        raise ValueError(f"'{value}': write two lengths with ' x ' between, like '4 m x 1.2 m'")
    try:
        sizes = tuple(units.parse(part, Dimension.LENGTH) for part in parts)
    except QuantityError as error:
        raise ValueError(str(error)) from None
    if min(sizes) <= 0.0:
        raise ValueError(f"'{value}': both lengths must be above zero")
    return sizes[0], sizes[1]


def _read_line(value: Any) -> tuple[tuple[float, float], ...]:
    """Places from a text such as "0 m, 2 m to 8 m, 2 m"."""
    parts = _text(value, "0 m, 2 m to 8 m, 2 m").split(" to ")
    if len(parts) < 2:
        raise ValueError(f"'{value}': write places with ' to ' between, like '0 m, 2 m to 8 m, 2 m'")
    try:
        places = tuple(units.parse_point(part) for part in parts)
    except QuantityError as error:
        raise ValueError(str(error)) from None
    return tuple((place[0], place[1]) for place in places)


Length = Annotated[float, _quantity(Dimension.LENGTH, "1.5 m", 0.0, above=True)]
LengthOrZero = Annotated[float, _quantity(Dimension.LENGTH, "0 m", 0.0, above=False)]
Height = Annotated[float, _quantity(Dimension.LENGTH, "0.5 m", None, above=False)]
Pressure = Annotated[float, _quantity(Dimension.PRESSURE, "1.0 bar", 0.0, above=True)]
PressureOrZero = Annotated[float, _quantity(Dimension.PRESSURE, "0.2 bar", 0.0, above=False)]
Flow = Annotated[float, _quantity(Dimension.FLOW, "12 L/min", 0.0, above=True)]
FlowOrZero = Annotated[float, _quantity(Dimension.FLOW, "0 L/min", 0.0, above=False)]
FlowOrBucket = Annotated[float, BeforeValidator(_read_flow)]
Volume = Annotated[float, _quantity(Dimension.VOLUME, "200 L", 0.0, above=True)]
Velocity = Annotated[float, _quantity(Dimension.VELOCITY, "1.5 m/s", 0.0, above=True)]
Angle = Annotated[float, _quantity(Dimension.ANGLE, "30 deg", None, above=False)]
Share = Annotated[float, _quantity(Dimension.FRACTION, "10 %", 0.0, above=False)]
Temperature = Annotated[float, _quantity(Dimension.TEMPERATURE, "15 degC", None, above=False)]
Place = Annotated[tuple[float, float], _numbers(2, "1.5 m, 2 m")]
Spot = Annotated[tuple[float, float, float], _numbers(3, "1.5 m, 2 m, 0.3 m")]
Circle = Annotated[tuple[float, float, float], _numbers(3, "1.5 m, 2 m, 0.6 m")]
Size = Annotated[tuple[float, float], BeforeValidator(_read_size)]
Line = Annotated[tuple[tuple[float, float], ...], BeforeValidator(_read_line)]
Price = Annotated[int, BeforeValidator(_read_price)]

"""Quantities at the edges of the program: text with a unit in, text with a unit out, SI between.

The number is read here by a strict grammar (a general unit parser reads "1,5 m" as 15 m and "1 500 mm" as 500 mm
without a word); the unit must stand on a short list for its dimension; only then pint supplies the factor.
Pressures become metres of water of density 1000 kg/m3 under standard gravity, so 1 psi is 0.7031 m.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from functools import cache
from typing import Any

from optimizer.errors import QuantityError


class Dimension(StrEnum):
    """What a quantity measures; the value is the word used in messages."""

    LENGTH = "length"
    FLOW = "flow"
    VOLUME = "volume"
    PRESSURE = "pressure"
    TIME = "time"
    ANGLE = "angle"
    VELOCITY = "velocity"
    FRACTION = "fraction"
    TEMPERATURE = "temperature"
    DEPTH_RATE = "water need"


class System(StrEnum):
    """Unit system of what the user reads."""

    METRIC = "metric"
    US = "us"


_SI_UNIT = {
    Dimension.LENGTH: "m",
    Dimension.FLOW: "m**3/s",
    Dimension.VOLUME: "m**3",
    Dimension.PRESSURE: "m_water",
    Dimension.TIME: "s",
    Dimension.ANGLE: "radian",
    Dimension.VELOCITY: "m/s",
    Dimension.FRACTION: "dimensionless",
    Dimension.TEMPERATURE: "degC",
    Dimension.DEPTH_RATE: "m/s",
}

# What users may write, and the name pint knows it by. "gal" is the US gallon throughout.
_ALLOWED: dict[Dimension, dict[str, str]] = {
    Dimension.LENGTH: {"mm": "mm", "cm": "cm", "m": "m", "in": "inch", "ft": "foot", "yd": "yard", "mil": "mil_length"},
    Dimension.FLOW: {
        "L/h": "liter/hour",
        "L/min": "liter/minute",
        "L/s": "liter/second",
        "m3/h": "m**3/hour",
        "m3/s": "m**3/s",
        "gal/h": "gallon/hour",
        "gal/min": "gallon/minute",
        "gph": "gallon/hour",
        "gpm": "gallon/minute",
        "imp gal/min": "imperial_gallon/minute",
    },
    Dimension.VOLUME: {
        "mL": "milliliter",
        "L": "liter",
        "m3": "m**3",
        "gal": "gallon",
        "imp gal": "imperial_gallon",
    },
    Dimension.PRESSURE: {
        "bar": "bar",
        "mbar": "millibar",
        "kPa": "kilopascal",
        "psi": "psi",
        "m head": "m_water",
        "ft head": "foot_water",
    },
    Dimension.TIME: {"s": "second", "min": "minute", "h": "hour", "d": "day"},
    Dimension.ANGLE: {"deg": "degree"},
    Dimension.VELOCITY: {"m/s": "m/s", "ft/s": "foot/second"},
    Dimension.FRACTION: {"%": "percent"},
    Dimension.TEMPERATURE: {"degC": "degC", "degF": "degF"},
    Dimension.DEPTH_RATE: {
        "mm/day": "mm/day",
        "mm/week": "mm/week",
        "in/day": "inch/day",
        "in/week": "inch/week",
    },
}

_NUMBER = r"(?:\d+ \d+/\d+|\d+/\d+|\d+\.\d+|\d+)"
_ONE = re.compile(rf"(?P<sign>-?)(?P<number>{_NUMBER})\s*(?P<unit>[A-Za-z%][A-Za-z0-9/% ]*)")
_FEET_INCHES = re.compile(rf"(?P<sign>-?)(?P<feet>\d+)\s*ft\s+(?P<inches>{_NUMBER})\s*in")


@cache
def _registry() -> Any:
    # Built on first use: a registry costs more time than the rest of a short command.
    import pint

    registry: Any = pint.UnitRegistry(cache_folder=None)
    registry.define("m_water = 9806.65 * pascal")
    registry.define("foot_water = 0.3048 * m_water")
    registry.define("mil_length = 0.001 * inch")
    return registry


@cache
def _to_si(dimension: Dimension, unit: str) -> tuple[float, float]:
    """Return (factor, offset) so that si = factor * number + offset."""
    registry = _registry()
    name, target = _ALLOWED[dimension][unit], _SI_UNIT[dimension]
    zero = registry.Quantity(0.0, name).to(target).magnitude
    one = registry.Quantity(1.0, name).to(target).magnitude
    return float(one - zero), float(zero)


def _number(text: str) -> float:
    whole, _, rest = text.partition(" ")
    parts = (whole, rest) if rest else (whole,)
    try:
        return float(sum(Fraction(part) for part in parts))
    except ZeroDivisionError:
        raise QuantityError(f"'{text}' divides by zero") from None


def _expected(dimension: Dimension) -> str:
    return ", ".join(_ALLOWED[dimension])


def _complaint(text: str, dimension: Dimension) -> QuantityError:
    if re.search(r"\d,\d", text):
        return QuantityError(f"'{text}': use a point as decimal mark and no mark between thousands, like '1.5 m'")
    if re.search(r"\bnan\b|\binf", text, re.IGNORECASE):
        return QuantityError(f"'{text}' is not a number that can be measured")
    if re.fullmatch(rf"-?{_NUMBER}", text):
        return QuantityError(f"'{text}' has no unit; write a {dimension} with one of: {_expected(dimension)}")
    return QuantityError(f"'{text}' is not a {dimension}; write a number and one of: {_expected(dimension)}")


def parse(text: str, dimension: Dimension) -> float:
    """Read one quantity.

    Args:
        text: a number and a unit, such as "2.1 bar", "5/8 in", "12 ft 6 in".
        dimension: what the text must measure.

    Returns:
        The value in SI (pressures in metres of water, angles in radians, temperatures in deg C).

    Raises:
        QuantityError: the number or the unit is not one of those allowed.
    """
    stripped = text.strip()
    if dimension is Dimension.LENGTH and (feet := _FEET_INCHES.fullmatch(stripped)):
        inches = _number(feet["inches"])
        if inches >= 12.0:
            raise QuantityError(f"'{text}': inches beside feet must be below 12")
        value = int(feet["feet"]) * 12.0 + inches
        return (-1.0 if feet["sign"] else 1.0) * value * _to_si(dimension, "in")[0]
    match = _ONE.fullmatch(stripped)
    if match is None or match["unit"] not in _ALLOWED[dimension]:
        raise _complaint(stripped, dimension)
    factor, offset = _to_si(dimension, match["unit"])
    number = _number(match["number"]) * (-1.0 if match["sign"] else 1.0)
    value = factor * number + offset
    if not math.isfinite(value):
        raise QuantityError(f"'{text}' is too large to be a {dimension}")
    return value


def parse_point(text: str, count: int = 2) -> tuple[float, ...]:
    """Read lengths separated by commas, such as a place "3.2 m, 0.5 m".

    Args:
        text: the lengths.
        count: how many there must be.

    Returns:
        The lengths [m].

    Raises:
        QuantityError: another count, or one of them is no length.
    """
    parts = text.split(",")
    if len(parts) != count:
        raise QuantityError(
            f"'{text}': write {count} lengths separated by commas, decimals with a point ('1.5 m, 2 m')"
        )
    return tuple(parse(part, Dimension.LENGTH) for part in parts)


def parse_bucket(text: str) -> float:
    """Read a bucket test such as "5 gal in 38 s".

    Returns:
        The flow [m3/s].

    Raises:
        QuantityError: not of the form "volume in time", or the time is zero.
    """
    parts = re.split(r"\s+in\s+", text.strip())
    if len(parts) != 2:
        raise QuantityError(f"'{text}': write a bucket test as volume in time, like '10 L in 24 s'")
    seconds = parse(parts[1], Dimension.TIME)
    if seconds <= 0.0:
        raise QuantityError(f"'{text}': the time must be above zero")
    return parse(parts[0], Dimension.VOLUME) / seconds


def parse_flow_per_length(text: str) -> float:
    """Read a flow per length of line such as "0.22 gal/min per 100 ft".

    Returns:
        The flow per metre [m2/s].

    Raises:
        QuantityError: not of the form "flow per length", or the length is zero.
    """
    parts = re.split(r"\s+per\s+", text.strip())
    if len(parts) != 2:
        raise QuantityError(f"'{text}': write a flow per length of line, like '0.22 gal/min per 100 ft'")
    length = parse(parts[1], Dimension.LENGTH)
    if length <= 0.0:
        raise QuantityError(f"'{text}': the length must be above zero")
    return parse(parts[0], Dimension.FLOW) / length


def micrometres(length_m: float) -> int:
    """Return a length as whole micrometres: inches and their decimals are exact there."""
    return round(length_m * 1_000_000)


_DISPLAY: dict[System, dict[str, tuple[Dimension, str, int]]] = {
    System.METRIC: {
        "flow": (Dimension.FLOW, "L/min", 1),
        "emitter_flow": (Dimension.FLOW, "L/h", 2),
        "pressure": (Dimension.PRESSURE, "bar", 2),
        "volume": (Dimension.VOLUME, "L", 0),
        "velocity": (Dimension.VELOCITY, "m/s", 2),
        "bore": (Dimension.LENGTH, "mm", 1),
    },
    System.US: {
        "flow": (Dimension.FLOW, "gal/min", 2),
        "emitter_flow": (Dimension.FLOW, "gal/h", 3),
        "pressure": (Dimension.PRESSURE, "psi", 1),
        "volume": (Dimension.VOLUME, "gal", 1),
        "velocity": (Dimension.VELOCITY, "ft/s", 2),
        "bore": (Dimension.LENGTH, "in", 3),
    },
}


def _feet_inches(length_m: float, *, down: bool) -> str:
    """Feet and inches to half an inch, so that a tape measure can be held to it."""
    halves = length_m / 0.0127
    count = math.floor(halves + 1e-6) if down else round(halves)
    sign, count = ("-" if count < 0 else ""), abs(count)
    feet, rest = divmod(count, 24)
    inches, half = divmod(rest, 2)
    inch_text = f"{inches} 1/2 in" if half and inches else "1/2 in" if half else f"{inches} in"
    if not feet:
        return f"{sign}{inch_text}"
    return f"{sign}{feet} ft {inch_text}" if inches or half else f"{sign}{feet} ft"


@dataclass(frozen=True)
class Display:
    """Writes SI values in the user's unit system."""

    system: System

    def _plain(self, kind: str, value: float) -> str:
        dimension, unit, digits = _DISPLAY[self.system][kind]
        factor, offset = _to_si(dimension, unit)
        return f"{(value - offset) / factor:.{digits}f} {unit}"

    def length(self, length_m: float) -> str:
        """Write a length, metric to 1 cm, US in feet and inches to half an inch [m]."""
        return f"{length_m:.2f} m" if self.system is System.METRIC else _feet_inches(length_m, down=False)

    def length_down(self, length_m: float) -> str:
        """Write a length rounded down, for what must not be promised too long [m]."""
        if self.system is System.METRIC:
            return f"{math.floor(length_m * 100 + 1e-6) / 100:.2f} m"
        return _feet_inches(length_m, down=True)

    def flow(self, flow_m3_s: float) -> str:
        """Write the flow of a tap or zone [m3/s]."""
        return self._plain("flow", flow_m3_s)

    def emitter_flow(self, flow_m3_s: float) -> str:
        """Write the flow of one emitter [m3/s]."""
        return self._plain("emitter_flow", flow_m3_s)

    def pressure(self, head_m: float) -> str:
        """Write a pressure given as head of water [m]."""
        return self._plain("pressure", head_m)

    def volume(self, volume_m3: float) -> str:
        """Write a volume [m3]."""
        return self._plain("volume", volume_m3)

    def velocity(self, velocity_m_s: float) -> str:
        """Write a velocity [m/s]."""
        return self._plain("velocity", velocity_m_s)

    def bore(self, bore_m: float) -> str:
        """Write a tube bore or outside size [m]."""
        return self._plain("bore", bore_m)

    def percent(self, fraction: float) -> str:
        """Write a fraction as per cent [1]."""
        return f"{100.0 * fraction:.1f} %"


def whole(number: int) -> str:
    """Return a whole number with its digits in groups of three where there are more than four."""
    return f"{number:,}".replace(",", " ") if abs(number) > 9999 else str(number)


def money(cost_ct: int, currency: str) -> str:
    """Write an amount of money.

    Args:
        cost_ct: amount in hundredths of the currency [ct].
        currency: name or sign set behind the amount.
    """
    return f"{cost_ct / 100:.2f} {currency}"

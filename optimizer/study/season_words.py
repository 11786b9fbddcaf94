"""Words of a season in the user's units: what is written in mm, cm, m and litres becomes inches, feet and gallons."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

from optimizer import need
from optimizer.need.season_plan import ZonePeriod
from optimizer.need.shortage import Shortage
from optimizer.units import System

MM_PER_INCH = 25.4
M_PER_FOOT = 0.3048
L_PER_GALLON = 3.785411784
_US = {
    "mm/day": (1.0 / MM_PER_INCH, "in/day", 2),
    "mm/h": (1.0 / MM_PER_INCH, "in/h", 2),
    "mm": (1.0 / MM_PER_INCH, "in", 2),
    "m": (1.0 / M_PER_FOOT, "ft", 1),
    "L/min": (1.0 / L_PER_GALLON, "gal/min", 2),
    "L": (1.0 / L_PER_GALLON, "gal", 0),
}
_MEASURE = re.compile(r"(?<![\w.])(\d+(?:\.\d+)?) (mm/day|mm/h|mm|cm|m|L/min|L)(?![\w/])")


def _us_measure(match: re.Match[str]) -> str:
    if match[2] == "cm":
        # Whole centimetres are no finer than half an inch: 30 cm is the 12 in of the label.
        return f"{round(2.0 * 10.0 * float(match[1]) / MM_PER_INCH) / 2.0:g} in"
    factor, unit, digits = _US[match[2]]
    return f"{float(match[1]) * factor:.{digits}f} {unit}"


def user_text(text: str, system: System) -> str:
    """A text with its measures in the user's units.

    Args:
        text: metric
        system: of the user
    """
    return text if system is System.METRIC else _MEASURE.sub(_us_measure, text)


def depth_text(depth_mm: float, system: System) -> str:
    """A depth of water, metric to 0.1 mm, US to 0.01 in.

    Args:
        depth_mm: [mm]
        system: of the user
    """
    return f"{depth_mm:.1f} mm" if system is System.METRIC else f"{depth_mm / MM_PER_INCH:.2f} in"


def _zone_words(part: ZonePeriod, system: System) -> ZonePeriod:
    rain = None if part.rain is None else replace(part.rain, text=user_text(part.rain.text, system))
    return replace(part, rain=rain)


def _shortage_words(shortage: Shortage | None, system: System) -> Shortage | None:
    if shortage is None:
        return None
    levers = tuple(replace(lever, text=user_text(lever.text, system)) for lever in shortage.levers)
    return replace(shortage, levers=levers)


def in_user_units(season: need.SeasonPlan, system: System, more: Sequence[str] = ()) -> need.SeasonPlan:
    """A season with every text in the user's units; its numbers stay as they are.

    Args:
        season: texts metric
        system: of the user
        more: further assumptions, put first
    """
    return replace(
        season,
        periods=tuple(
            replace(
                period,
                zones=tuple(_zone_words(part, system) for part in period.zones),
                shortage=_shortage_words(period.shortage, system),
            )
            for period in season.periods
        ),
        warnings=tuple(user_text(text, system) for text in season.warnings),
        assumptions=tuple(user_text(text, system) for text in (*more, *season.assumptions)),
    )

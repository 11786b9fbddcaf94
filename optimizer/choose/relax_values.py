"""Values of a relaxed scenario: on a grid of the user's units, so that what is written is what was tried."""

from __future__ import annotations

import math
from typing import TypeVar

from optimizer import units
from optimizer.scenario.part import Part
from optimizer.units import Dimension, Display, System

SomePart = TypeVar("SomePart", bound=Part)

_L_PER_MIN = 1.0 / 60_000.0

_DIMENSIONS = {
    "length": Dimension.LENGTH,
    "bore": Dimension.LENGTH,
    "flow": Dimension.FLOW,
    "emitter_flow": Dimension.FLOW,
    "pressure": Dimension.PRESSURE,
    "velocity": Dimension.VELOCITY,
    "percent": Dimension.FRACTION,
}
_STEPS = {
    System.METRIC: {
        "length": "1 cm",
        "bore": "0.1 mm",
        "flow": "0.1 L/min",
        "emitter_flow": "0.01 L/h",
        "pressure": "0.01 bar",
        "velocity": "0.01 m/s",
        "percent": "0.1 %",
    },
    System.US: {
        "length": "1/2 in",
        "bore": "0.001 in",
        "flow": "0.01 gal/min",
        "emitter_flow": "0.001 gal/h",
        "pressure": "0.1 psi",
        "velocity": "0.01 ft/s",
        "percent": "0.1 %",
    },
}
"""last digit that `Display` writes of each kind of quantity"""


def replaced(part: SomePart, **values: object) -> SomePart:
    """Return a part of a scenario with some fields changed."""
    return part.model_copy(update=values)


def _of_its_size(kind: str, value: float) -> str:
    """Return how a flow is written: below 1 L/min as that of an emitter, so that its digits do not get lost."""
    return "emitter_flow" if kind == "flow" and value < _L_PER_MIN * (1.0 - 1e-9) else kind


def written(system: System, kind: str, value: float, beside: float = 0.0) -> str:
    """Return a quantity in the user's units.

    Args:
        system: the user's unit system.
        kind: length, bore, flow, emitter_flow, pressure, velocity or percent.
        value: in SI, pressures as head of water.
        beside: a value it stands beside and whose unit it takes if that is greater, in SI.
    """
    text: str = getattr(Display(system), _of_its_size(kind, max(value, beside)))(value)
    return text


def rounded(system: System, kind: str, value: float, up: bool) -> float:
    """Return the next value that can be written exactly in the user's units.

    Args:
        system: the user's unit system.
        kind: as for `written`.
        value: in SI.
        up: whether to go up to it; down otherwise.
    """
    named = _of_its_size(kind, value)
    step = units.parse(_STEPS[system][named], _DIMENSIONS[named])
    count = math.ceil(value / step - 1e-6) if up else math.floor(value / step + 1e-6)
    return units.parse(written(system, named, count * step), _DIMENSIONS[named])


def grown(system: System, kind: str, value: float, share: float, times: float) -> float:
    """Return a value multiplied, by `times` at share 1."""
    return max(rounded(system, kind, value * times**share, True), value) if share > 0.0 else value


def shrunk(system: System, kind: str, value: float, share: float, times: float) -> float:
    """Return a value divided, by `times` at share 1."""
    return min(rounded(system, kind, value / times**share, False), value) if share > 0.0 else value


def raised(system: System, kind: str, value: float, share: float, most: float) -> float:
    """Return a value with something added to it, up to `most` at share 1."""
    return max(rounded(system, kind, value + (most - value) * share, True), value) if share > 0.0 else value


def lowered(system: System, kind: str, value: float, share: float, least: float = 0.0) -> float:
    """Return a value with something taken off, down to `least` at share 1."""
    return min(rounded(system, kind, value + (least - value) * share, False), value) if share > 0.0 else value

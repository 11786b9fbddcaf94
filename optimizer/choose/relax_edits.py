"""What differs between a scenario and a relaxed one: field by field, in words and as written in the file."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from optimizer.choose.relax_values import written
from optimizer.choose.waterlimits import DEFAULT_VARIATION
from optimizer.scenario.part import Part
from optimizer.scenario.schema import Scenario
from optimizer.units import System

_KINDS = {
    "length": "length",
    "longest_run": "length",
    "edge_margin": "length",
    "row_end_margin": "length",
    "row_spacing": "length",
    "row_length": "length",
    "shortest_row": "length",
    "outlet_height": "length",
    "spacing": "length",
    "header_step": "length",
    "bore": "bore",
    "open_flow": "flow",
    "flow": "flow",
    "at_flow": "flow",
    "least_flow": "flow",
    "greatest_flow": "flow",
    "static_pressure": "pressure",
    "pressure": "pressure",
    "holds": "pressure",
    "greatest_pressure": "pressure",
    "least_pressure": "pressure",
    "needs_above": "pressure",
    "opens": "pressure",
    "velocity": "velocity",
    "flow_variation": "percent",
    "emission_uniformity": "percent",
    "margin": "percent",
    "owned": "length",
}
"""what the fields that can be relaxed measure; others are written as they are"""

_UNSTATED: dict[str, object] = {"flow_variation": DEFAULT_VARIATION}


@dataclass(frozen=True)
class Edit:
    """One field that was changed."""

    path: str
    words: str
    """what is changed into what"""
    value: str
    """as written in the scenario file"""


def edits(old: Scenario, new: Scenario) -> tuple[Edit, ...]:
    """Return the fields in which two scenarios of the same parts differ, in the order of the file."""
    return tuple(_between(old.units, old, new, "", ""))


def _between(system: System, old: Part, new: Part, path: str, of: str) -> Iterator[Edit]:
    for key in type(old).model_fields:
        before, after = getattr(old, key), getattr(new, key)
        if before != after:
            yield from _in_field(system, key, before, after, (f"{path}{key}", of))


def _in_field(system: System, key: str, before: object, after: object, place: tuple[str, str]) -> Iterator[Edit]:
    path, of = place
    if isinstance(before, Part) and isinstance(after, Part):
        yield from _between(system, before, after, f"{path}.", getattr(before, "name", of))
    elif _pairs_of_parts(before, after):
        assert isinstance(before, tuple)
        assert isinstance(after, tuple)
        for number, (one, two) in enumerate(zip(before, after, strict=True)):
            yield from _in_field(system, key, one, two, (f"{path}.{number}", of)) if one != two else ()
    else:
        yield _edit(system, key, before, after, place)


def _pairs_of_parts(before: object, after: object) -> bool:
    same = isinstance(before, tuple) and isinstance(after, tuple) and len(before) == len(after)
    return same and all(isinstance(item, Part) for item in before)  # type: ignore[attr-defined]


def _edit(system: System, key: str, before: object, after: object, place: tuple[str, str]) -> Edit:
    path, of = place
    words = _change(system, key, before if before is not None else _UNSTATED.get(key), after)
    return Edit(path, f"{of}: {words}" if of else words, _value(system, key, after))


def _change(system: System, key: str, before: object, after: object) -> str:
    """Return in words what a value becomes."""
    if isinstance(before, tuple) and isinstance(after, tuple):
        return _list_change(system, key, before, after)
    if isinstance(before, float) and isinstance(after, float) and key in _KINDS:
        return f"{written(system, _KINDS[key], before, after)} to {written(system, _KINDS[key], after, before)}"
    words = f"{_said(system, key, before)} to {_said(system, key, after)}"
    return f"{key.replace('_', ' ')} {words}" if isinstance(after, bool) else words


def _list_change(system: System, key: str, before: tuple[object, ...], after: tuple[object, ...]) -> str:
    gone = [getattr(item, "name", item) for item in before if item not in after]
    if gone:
        return f"without {', '.join(str(item) for item in gone)}"
    more = ", ".join(_said(system, key, item) for item in after[len(before) :])
    return f"{more} as well" if before else more


def _said(system: System, key: str, value: object) -> str:
    """Return a value in words."""
    if value is None:
        return "not stated"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, Part):
        fields = (f"{name.replace('_', ' ')} {_said(system, name, item)}" for name, item in _stated(value))
        return ", ".join(field.removeprefix("name ") for field in fields)
    return written(system, _KINDS[key], value) if isinstance(value, float) and key in _KINDS else str(value)


def _stated(part: Part) -> list[tuple[str, object]]:
    return [(name, getattr(part, name)) for name in type(part).model_fields if name in part.model_fields_set]


def _value(system: System, key: str, value: object) -> str:
    """Return a value as TOML."""
    if isinstance(value, bool | int) or (isinstance(value, float) and key not in _KINDS):
        return str(value).lower()
    if isinstance(value, Part):
        return "{ " + ", ".join(f"{name} = {_value(system, name, item)}" for name, item in _stated(value)) + " }"
    if isinstance(value, Sequence) and not isinstance(value, str):
        return "[" + ", ".join(_value(system, key, item) for item in value) + "]"
    return f'"{_said(system, key, value)}"'

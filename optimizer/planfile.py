"""Plans as JSON, in and out; the same plan always gives the same bytes."""

from __future__ import annotations

import dataclasses
import json
import types
import typing
from enum import Enum
from pathlib import Path
from typing import Any

from optimizer.errors import FileError, Problem, ScenarioError
from optimizer.plan import PLAN_VERSION, Plan

_DIGITS = 12


def _plain(value: Any) -> Any:
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {item.name: _plain(getattr(value, item.name)) for item in dataclasses.fields(value)}
    if isinstance(value, tuple):
        return [_plain(item) for item in value]
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, float):
        # Twelve digits keep micrometres over kilometres and drop the noise of the last bits.
        return float(f"{value:.{_DIGITS}g}")
    return value


def plan_to_json(plan: Plan) -> str:
    """Write a plan as JSON text."""
    return json.dumps(_plain(plan), indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def _read_tuple(args: tuple[Any, ...], value: Any, path: str) -> Any:
    if not isinstance(value, list):
        raise TypeError(f"{path}: expected a list")
    if len(args) == 2 and args[1] is Ellipsis:
        return tuple(_read(args[0], item, f"{path}.{index}") for index, item in enumerate(value))
    if len(value) != len(args):
        raise TypeError(f"{path}: expected {len(args)} values")
    return tuple(_read(kind, item, path) for kind, item in zip(args, value, strict=True))


def _read_dataclass(kind: type, value: Any, path: str) -> Any:
    names = [item.name for item in dataclasses.fields(kind)]
    if not isinstance(value, dict) or sorted(value) != sorted(names):
        raise TypeError(f"{path or 'plan'}: expected exactly the fields {', '.join(names)}")
    hints = typing.get_type_hints(kind)
    return kind(**{name: _read(hints[name], value[name], f"{path}.{name}".strip(".")) for name in names})


def _read_scalar(kind: Any, value: Any, path: str) -> Any:
    if isinstance(kind, type) and issubclass(kind, Enum):
        return kind(value)
    if kind is float and isinstance(value, int) and not isinstance(value, bool):
        return float(value)
    if type(value) is not kind:
        raise TypeError(f"{path}: expected {kind.__name__}")
    return value


def _read(kind: Any, value: Any, path: str) -> Any:
    origin = typing.get_origin(kind)
    if origin is tuple:
        return _read_tuple(typing.get_args(kind), value, path)
    if origin is types.UnionType:
        inner = next(item for item in typing.get_args(kind) if item is not type(None))
        return None if value is None else _read(inner, value, path)
    if dataclasses.is_dataclass(kind):
        return _read_dataclass(typing.cast(type, kind), value, path)
    return _read_scalar(kind, value, path)


def plan_from_json(text: str, source: str = "plan") -> Plan:
    """Read a plan from JSON text.

    Args:
        text: the content of a plan file.
        source: its name, for messages.

    Raises:
        ScenarioError: not JSON, another version, or fields missing, unknown or of a wrong kind.
    """
    try:
        raw = json.loads(text)
    except json.JSONDecodeError as error:
        raise ScenarioError(source, [Problem(f"line {error.lineno}", f"not JSON: {error.msg}")]) from None
    version = raw.get("version") if isinstance(raw, dict) else None
    if version != PLAN_VERSION:
        raise ScenarioError(
            source, [Problem("version", f"is {version!r}; this program reads plans of version {PLAN_VERSION}")]
        )
    try:
        return typing.cast(Plan, _read(Plan, raw, ""))
    except (TypeError, ValueError) as error:
        raise ScenarioError(source, [Problem("", str(error))]) from None


def read_plan(path: Path) -> Plan:
    """Read a plan file.

    Raises:
        FileError: the file cannot be read.
        ScenarioError: it is not a plan of this version.
    """
    try:
        text = path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise FileError(f"cannot read {path}: {error}") from None
    return plan_from_json(text, str(path))

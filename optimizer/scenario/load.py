"""Reading a scenario file: every problem in it is reported at once."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from optimizer.errors import FileError, Problem, ScenarioError
from optimizer.scenario.checks import cross_check
from optimizer.scenario.schema import Scenario

_PLAIN_WORDS = {
    "extra_forbidden": "there is no such key",
    "missing": "is missing",
    "union_tag_not_found": "needs a kind: tap, pump or tank",
}


def _problem(error: dict[str, object]) -> Problem:
    location = error["loc"]
    parts = location if isinstance(location, tuple) else ()
    # The kind of a supply stands in the location as if it were a key.
    kept = [
        str(part) for index, part in enumerate(parts) if not (index == 1 and parts[0] == "supply" and part in _KINDS)
    ]
    message = _PLAIN_WORDS.get(str(error["type"]), str(error["msg"]).removeprefix("Value error, "))
    return Problem(".".join(kept), message)


def problems_of(error_: ValidationError) -> list[Problem]:
    """Return what to tell: a list that is too short only because its entries are wrong is not told as well."""
    errors: list[dict[str, object]] = [dict(item) for item in error_.errors()]
    told = [error for error in errors if error["type"] != "too_short"]
    inside = {error["loc"][0] for error in told if isinstance(error["loc"], tuple) and error["loc"]}
    short = [error for error in errors if error["type"] == "too_short"]
    told += [error for error in short if isinstance(error["loc"], tuple) and error["loc"][0] not in inside]
    return [_problem(error) for error in told]


_KINDS = ("tap", "pump", "tank")


def read_toml(text: str, source: str) -> dict[str, Any]:
    """Return the values of TOML text as they stand, not yet checked.

    Args:
        text: content of the file.
        source: its name, for messages.

    Raises:
        ScenarioError: it is not TOML.
    """
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise ScenarioError(source, [Problem("", f"is not valid TOML: {error}")]) from None


def check_scenario(values: Mapping[str, Any], source: str, folder: Path | None = None) -> Scenario:
    """Return the scenario that plain values, such as those of a TOML file, describe.

    Args:
        values: tables, lists and plain values as in a scenario file.
        source: where they come from, for messages.
        folder: where files named in it are looked for; the working directory unless given.

    Raises:
        ScenarioError: with every problem found and where it stands.
    """
    try:
        scenario = Scenario.model_validate(values, context={"folder": folder or Path()})
    except ValidationError as error:
        raise ScenarioError(source, problems_of(error)) from None
    problems = cross_check(scenario)
    if problems:
        raise ScenarioError(source, problems)
    return scenario


def parse_scenario(text: str, source: str, folder: Path | None = None) -> Scenario:
    """Read a scenario from TOML text.

    Args:
        text: content of the file.
        source: its name, for messages.
        folder: where files named in it are looked for; the working directory unless given.

    Raises:
        ScenarioError: with every problem found and where it stands.
    """
    return check_scenario(read_toml(text, source), source, folder)


def read_text(path: str | Path) -> str:
    """Return the text of a scenario file.

    Raises:
        FileError: it cannot be read.
    """
    try:
        return Path(path).read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        reason = error.strerror if isinstance(error, OSError) else "it is not UTF-8 text"
        raise FileError(f"cannot read {path}: {reason}") from None


def load_scenario(path: str | Path) -> Scenario:
    """Read a scenario file.

    Raises:
        FileError: it cannot be read.
        ScenarioError: with every problem found and where it stands.
    """
    return parse_scenario(read_text(path), str(path), Path(path).parent)

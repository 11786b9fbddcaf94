"""Reading a scenario file: every problem in it is reported at once."""

from __future__ import annotations

import tomllib
from pathlib import Path

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


def _problems(errors: list[dict[str, object]]) -> list[Problem]:
    """Return what to tell: a list that is too short only because its entries are wrong is not told as well."""
    told = [error for error in errors if error["type"] != "too_short"]
    inside = {error["loc"][0] for error in told if isinstance(error["loc"], tuple) and error["loc"]}
    short = [error for error in errors if error["type"] == "too_short"]
    told += [error for error in short if isinstance(error["loc"], tuple) and error["loc"][0] not in inside]
    return [_problem(error) for error in told]


_KINDS = ("tap", "pump", "tank")


def parse_scenario(text: str, source: str, folder: Path | None = None) -> Scenario:
    """Read a scenario from TOML text.

    Args:
        text: content of the file.
        source: its name, for messages.
        folder: where files named in it are looked for; the working directory unless given.

    Raises:
        ScenarioError: with every problem found and where it stands.
    """
    try:
        raw = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise ScenarioError(source, [Problem("", f"is not valid TOML: {error}")]) from None
    try:
        scenario = Scenario.model_validate(raw, context={"folder": folder or Path()})
    except ValidationError as error:
        raise ScenarioError(source, _problems([dict(item) for item in error.errors()])) from None
    problems = cross_check(scenario)
    if problems:
        raise ScenarioError(source, problems)
    return scenario


def load_scenario(path: str | Path) -> Scenario:
    """Read a scenario file.

    Raises:
        FileError: it cannot be read.
        ScenarioError: with every problem found and where it stands.
    """
    try:
        text = Path(path).read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        reason = error.strerror if isinstance(error, OSError) else "it is not UTF-8 text"
        raise FileError(f"cannot read {path}: {reason}") from None
    return parse_scenario(text, str(path), Path(path).parent)

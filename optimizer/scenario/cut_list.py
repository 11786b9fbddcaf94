"""Reading a cut list file: every problem in it is reported at once."""

from __future__ import annotations

from pathlib import Path

from pydantic import ValidationError

from optimizer.errors import ScenarioError
from optimizer.scenario.cut_schema import CutList
from optimizer.scenario.load import problems_of, read_text, read_toml


def load_cut_list(path: Path) -> CutList:
    """Read a cut list file.

    Raises:
        FileError: it cannot be read.
        ScenarioError: with every problem found.
    """
    try:
        return CutList.model_validate(read_toml(read_text(path), str(path)))
    except ValidationError as error:
        raise ScenarioError(str(path), problems_of(error)) from None

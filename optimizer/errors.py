"""Error types of the program and the exit code each of them ends a command with."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True, order=True)
class Problem:
    """One thing wrong with the input: where, what, and what would be right."""

    path: str
    message: str

    def __str__(self) -> str:
        return f"{self.path}: {self.message}" if self.path else self.message


class DripLayoutError(Exception):
    """Anything this program reports to its user; `exit_code` ends the command."""

    exit_code = 1


class QuantityError(DripLayoutError):
    """A number with a unit could not be read."""

    exit_code = 2


class ScenarioError(DripLayoutError):
    """A scenario (or plan) file is wrong; carries every problem found, sorted by path."""

    exit_code = 2

    def __init__(self, source: str, problems: Iterable[Problem]) -> None:
        self.source = source
        self.problems = tuple(sorted(problems))
        lines = [f"{source}: {len(self.problems)} problem{'s' * (len(self.problems) != 1)}"]
        super().__init__("\n".join([*lines, *(f"  {problem}" for problem in self.problems)]))


class FileError(DripLayoutError):
    """A file or directory cannot be read or written."""

    exit_code = 3


class HydraulicError(DripLayoutError):
    """A network has no solution, or the solver did not reach the stated balance."""

    exit_code = 5


class VerificationError(DripLayoutError):
    """A plan does not hold what it must; raised instead of handing out a wrong plan."""

    exit_code = 6

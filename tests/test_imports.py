"""Who may know whom: data flows one way, and the check of a plan shares no code with what made it."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

import optimizer

PACKAGE = Path(optimizer.__file__).parent

# Part -> parts it may import besides itself, errors and plan data types.
MAY_KNOW = {
    "errors": set(),
    "units": set(),
    "geometry": set(),
    "ground": set(),
    "plan": set(),
    "planfile": set(),
    "hydraulics": set(),
    "cutting": set(),
    "need": set(),
    "routes": set(),
    "scenario": {"units", "geometry", "ground", "need"},
    "site": {"scenario", "geometry", "ground"},
    "rows": {"scenario", "geometry", "site"},
    "feeds": {"scenario", "geometry", "site", "rows", "routes", "units"},
    "problem": {"scenario", "geometry", "site", "rows", "feeds", "routes", "hydraulics", "cutting", "units"},
    "verification": {"scenario", "geometry", "ground", "hydraulics", "units"},
    "sheets": {"units", "verification"},
}
ALWAYS = {"errors", "plan"}
ONLY_USER = {"pint": {"units"}, "pydantic": {"scenario"}}


def modules() -> list[Path]:
    return sorted(PACKAGE.rglob("*.py"))


def part_of(path: Path) -> str:
    return path.relative_to(PACKAGE).parts[0].removesuffix(".py")


def imported(path: Path) -> Iterator[str]:
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and node.module and node.level == 0:
            if node.module == "optimizer":
                yield from (f"optimizer.{alias.name}" for alias in node.names)
            else:
                yield node.module
        elif isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)


@pytest.mark.parametrize("path", modules(), ids=lambda path: str(path.relative_to(PACKAGE)))
def test_every_module_keeps_to_the_parts_it_may_know(path):
    part = part_of(path)
    if part not in MAY_KNOW:
        return
    allowed = MAY_KNOW[part] | ALWAYS | {part}
    known = {name.split(".")[1] for name in imported(path) if name.startswith("optimizer.")}
    assert known <= allowed


@pytest.mark.parametrize("path", modules(), ids=lambda path: str(path.relative_to(PACKAGE)))
def test_libraries_stay_where_they_belong(path):
    roots = {name.split(".")[0] for name in imported(path)}
    for library, users in ONLY_USER.items():
        assert library not in roots or part_of(path) in users


def test_only_sheets_studies_and_commands_draw():
    drawing = {part_of(path) for path in modules() if "matplotlib" in {n.split(".")[0] for n in imported(path)}}
    assert drawing <= {"sheets", "study", "commands"}
    text = "".join(path.read_text(encoding="utf-8") for path in modules())
    assert "pyplot" not in "".join(line for line in text.splitlines() if line.strip().startswith(("import", "from")))

"""The check is a second opinion: it may not import what made the plan, and every rule of it can fail."""

from __future__ import annotations

import ast
from pathlib import Path

import test_verify_bed_changes
import test_verify_changed_plans
import test_verify_other_wishes

import optimizer.verification
from optimizer.verification.check import FIRST, LIMIT_RULES, RULES, SOLVED, VARIATION, WATER_RULES

MAY_KNOW = ("errors", "geometry", "ground", "hydraulics", "plan", "scenario", "units", "verification")
HOME = Path(optimizer.verification.__file__).parent


def _imported(path: Path) -> set[str]:
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom):
            found.add(str(node.module))
        if isinstance(node, ast.Import):
            found |= {name.name for name in node.names}
    return found


def test_it_imports_nothing_of_what_makes_plans():
    names = sorted({name for path in sorted(HOME.glob("*.py")) for name in _imported(path)})
    ours = [name for name in names if name.split(".")[0] == "optimizer"]
    assert len(ours) > 10
    assert [name for name in ours if name.split(".")[1] not in MAY_KNOW] == []


def test_every_rule_is_broken_by_some_test():
    broken = {rule for rule, *_ in (*test_verify_changed_plans.CHANGES, *test_verify_other_wishes.BROKEN)}
    broken |= {rule for rule, *_ in (*test_verify_bed_changes.CHANGES, *test_verify_bed_changes.WISHES)}
    # These need two zones, headers or tubes, or a climate, and have tests of their own.
    broken |= {"rows of a header together", "header zones", "minutes alike"}
    broken |= {"valves open their zone", "never wider downstream"}
    rules = {name for name, _ in (*FIRST, *RULES, *WATER_RULES, *LIMIT_RULES)} | {SOLVED, VARIATION}
    assert rules - broken == set()

"""`verify`: an independent check of a plan against its scenario."""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path

from optimizer.errors import VerificationError
from optimizer.planfile import read_plan
from optimizer.scenario import load_scenario
from optimizer.verification import verify


def run(options: argparse.Namespace) -> int:
    """Check the plan and print what was found."""
    plan = read_plan(Path(options.plan))
    check = verify(plan, load_scenario(options.scenario))
    if options.json:
        findings = [{"rule": item.rule, "path": item.path, "message": item.message} for item in check.findings]
        json.dump({"holds": check.holds, "findings": findings, "checked": dict(check.checked)}, sys.stdout, indent=1)
        print()
    elif not options.quiet:
        for item in check.findings:
            print(item)
        if check.holds:
            things = sum(count for _, count in check.checked)
            print(f"The plan holds: {things} checks under {len(check.checked)} rules, nothing found.")
    return 0 if check.holds else VerificationError.exit_code

"""`limits`: what the water allows, before a plan is made, and what the zones of a plan leave to spare."""

from __future__ import annotations

import argparse
import json
import math
import sys
from dataclasses import asdict
from pathlib import Path
from typing import Any

from rich.console import Console

from optimizer.commands.limits_tables import print_report
from optimizer.planfile import read_plan
from optimizer.scenario import load_scenario
from optimizer.study.limits import limits


def _finite(value: Any) -> Any:
    """Return plain values with None where nothing limits."""
    if isinstance(value, dict):
        return {key: _finite(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_finite(item) for item in value]
    return None if isinstance(value, float) and not math.isfinite(value) else value


def run(options: argparse.Namespace) -> int:
    """Work out the limits of a scenario and print them."""
    scenario = load_scenario(options.scenario)
    plan = read_plan(Path(options.plan)) if options.plan is not None else None
    report = limits(scenario, plan)
    if options.json:
        json.dump(_finite(asdict(report)), sys.stdout, indent=1, ensure_ascii=False)
        print()
    elif not options.quiet:
        print_report(Console(highlight=False), scenario, report)
    return 0

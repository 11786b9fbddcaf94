"""`whatif`: what longer rolls, a joint, one more header or more flow would save."""

from __future__ import annotations

import argparse
import json
import sys

from rich.console import Console

from optimizer.scenario import load_scenario
from optimizer.study.whatif import sentence, what_if
from optimizer.units import Display

NOTHING_TO_COMPARE = 4


def run(options: argparse.Namespace) -> int:
    """Plan the scenario again with one thing changed at a time."""
    scenario = load_scenario(options.scenario)
    console = Console(highlight=False, stderr=True)

    def report(text: str) -> None:
        if console.is_terminal and not options.quiet:
            console.print(f"planning: {text}")

    display = Display(scenario.units)
    answers = sorted(what_if(scenario, options.seconds, report), key=lambda answer: -answer.saves_ct)
    if options.json:
        found = [
            {
                "change": answer.question.text,
                "field": answer.question.field_path,
                "possible": answer.goals is not None,
                "proven": answer.proven,
                "saves_ct": answer.saves_ct,
                "saves_um": answer.saves_um,
                "saves_fittings": answer.saves_fittings,
            }
            for answer in answers
        ]
        json.dump(found, sys.stdout, indent=1)
        print()
    elif not options.quiet:
        for answer in answers:
            note = "" if answer.proven else " (best found)"
            print(sentence(answer, display, scenario.currency) + note)
    return 0 if answers else NOTHING_TO_COMPARE

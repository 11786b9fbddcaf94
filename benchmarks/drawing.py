"""Times of drawing: plan, pressure map, roll cutting and head of hand-made plans of several sizes.

Run with `python benchmarks/drawing.py`; prints seconds of processor time, best of three.
"""

from __future__ import annotations

import platform
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import matplotlib

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests" / "sheets"))

from drawing_plans import allotment, backyard, field_two_headers, framed_beds, triangle

from optimizer.plan import Plan
from optimizer.sheets.drawing import A3, A4, Paper, draw_head, draw_plan, draw_pressure_map, draw_rolls, save_drawing

CASES: tuple[tuple[str, Callable[[], Plan], Paper], ...] = (
    ("backyard, 7 rows", backyard, A4),
    ("allotment, 11 rows", allotment, A4),
    ("6 framed beds, 24 rows", framed_beds, A4),
    ("40 unequal rows", lambda: triangle(40), A4),
    ("40 rows, 2 headers", lambda: field_two_headers(40, "ABCDE"), A4),
    ("60 rows, 2 headers", lambda: field_two_headers(60, "ABCDE"), A4),
    ("200 rows, 2 headers", lambda: field_two_headers(200, "ABCDEFGH"), A3),
)


_COLUMNS = ("plan", "map", "rolls", "head", "save svg", "save png", "save pdf")


def seconds(task: Callable[[], object]) -> float:
    """Return the least processor time of three runs [s]."""
    times = []
    for _ in range(3):
        start = time.process_time()
        task()
        times.append(time.process_time() - start)
    return min(times)


def main() -> None:
    print(f"Python {platform.python_version()}, matplotlib {matplotlib.__version__}, seconds of processor time")
    heads = "".join(f"{word:>{8 if k < 4 else 10}}" for k, word in enumerate(_COLUMNS))
    print(f"{'case':26}{'paper':8}{heads}")
    with tempfile.TemporaryDirectory() as folder:
        for name, make, paper in CASES:
            plan = make()
            figure = draw_plan(plan, paper)
            tasks: list[Callable[[], object]] = [
                lambda plan=plan, paper=paper: draw_plan(plan, paper),
                lambda plan=plan, paper=paper: draw_pressure_map(plan, paper),
                lambda plan=plan, paper=paper: draw_rolls(plan, paper),
                lambda plan=plan, paper=paper: draw_head(plan, paper),
            ]
            for ending in ("svg", "png", "pdf"):
                tasks.append(lambda e=ending, f=figure: save_drawing(f, Path(folder) / f"plan.{e}"))
            got = [seconds(task) for task in tasks]
            row = "".join(f"{value:{8 if k < 4 else 10}.2f}" for k, value in enumerate(got))
            print(f"{name:26}{paper.name:8}{row}", flush=True)


if __name__ == "__main__":
    main()

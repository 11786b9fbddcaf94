"""The same scenario gives the same plan, byte for byte, in one process and across processes."""

from __future__ import annotations

import hashlib
import os
import subprocess
import sys
from pathlib import Path

import pytest
from tiny_gardens import garden

from optimizer.pipeline import design
from optimizer.planfile import plan_to_json

HERE = Path(__file__).parent
CASES = (("small supply", 1), ("owned pieces", 0), ("two products", 0))
SCRIPT = """
import hashlib
from tiny_gardens import garden
from optimizer.pipeline import design
from optimizer.planfile import plan_to_json
for kind, seed in {cases!r}:
    print(hashlib.sha256(plan_to_json(design(garden(kind, seed)).plan).encode()).hexdigest())
"""


@pytest.fixture(scope="module")
def texts():
    """Return the plan of each case as text, worked out here."""
    return [plan_to_json(design(garden(kind, seed)).plan) for kind, seed in CASES]


def test_plans_repeat_in_one_process(texts):
    kind, seed = CASES[0]
    assert plan_to_json(design(garden(kind, seed)).plan) == texts[0]


@pytest.mark.parametrize("hash_seed", ["0", "4711"])
def test_plans_repeat_in_other_processes(texts, hash_seed):
    paths = os.pathsep.join([str(HERE), str(HERE.parents[1])])
    env = {**os.environ, "PYTHONHASHSEED": hash_seed, "PYTHONPATH": paths}
    script = SCRIPT.format(cases=CASES)
    run = subprocess.run(
        [sys.executable, "-c", script], env=env, capture_output=True, text=True, check=True, timeout=120
    )
    assert run.stdout.split() == [hashlib.sha256(text.encode()).hexdigest() for text in texts]

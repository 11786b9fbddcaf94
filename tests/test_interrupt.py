"""Ctrl-C at any moment ends in a verified plan or in a clear word that there is none, never in half a file."""

from __future__ import annotations

import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from optimizer import load_scenario, verify
from optimizer.planfile import read_plan

SCENARIO = Path(__file__).parents[1] / "scenarios" / "backyard.toml"
COMMAND = [sys.executable, "-m", "optimizer.cli", "plan", str(SCENARIO)]


def moments() -> list[float]:
    """Twenty moments, most of them while the search runs."""
    chance = random.Random(20)
    return sorted(round(chance.uniform(0.4, 4.0), 2) for _ in range(20))


@pytest.mark.parametrize("moment", moments())
def test_interrupted_at_a_random_moment(moment, tmp_path):
    process = subprocess.Popen(
        [*COMMAND, "--out", str(tmp_path)], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    )
    time.sleep(moment)
    process.send_signal(signal.SIGINT)
    _, errors = process.communicate(timeout=120)
    files = sorted(path.name for path in tmp_path.iterdir())
    if "plan.json" in files:
        assert process.returncode == 0, errors
        assert verify(read_plan(tmp_path / "plan.json"), load_scenario(SCENARIO)).holds
        assert len(files) >= 10
    else:
        assert files == []
        # Before the program has its own hand on the signal, the interpreter ends by itself.
        assert process.returncode in (7, -signal.SIGINT, 1, 130)
    assert not any(name.startswith(".") for name in files)

"""`new`: a commented scenario to fill in."""

from __future__ import annotations

import argparse
from importlib.resources import files
from pathlib import Path

from optimizer.commands.files import write_new


def starter_text() -> str:
    """Return the starter scenario, which is also the built-in example."""
    return files("optimizer.scenario").joinpath("starter.toml").read_text(encoding="utf-8")


def run(options: argparse.Namespace) -> int:
    """Write the starter scenario."""
    path = Path(options.file)
    write_new(path, starter_text().encode())
    print(f"Wrote {path}. Change it to your garden, then run: drip-layout plan {path}")
    return 0

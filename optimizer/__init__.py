"""Drip layout optimizer: rows, headers, zones and roll cuts that waste least, checked emitter by emitter."""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from optimizer.pipeline import design
    from optimizer.plan import Outcome, Plan
    from optimizer.scenario import load_scenario
    from optimizer.verification import verify

__all__ = ["Outcome", "Plan", "design", "load_scenario", "verify"]

_HOME = {
    "Outcome": "optimizer.plan",
    "Plan": "optimizer.plan",
    "design": "optimizer.pipeline",
    "load_scenario": "optimizer.scenario",
    "verify": "optimizer.verification",
}


def __getattr__(name: str) -> Any:
    # Loaded on first use, so that a command that only prints its help does not wait for the solvers.
    if name in _HOME:
        return getattr(import_module(_HOME[name]), name)
    raise AttributeError(f"module 'optimizer' has no attribute '{name}'")

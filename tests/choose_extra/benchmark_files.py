"""Modules of the benchmarks folder under names of their own, so that they shadow no module of the tests."""

import importlib.util
import sys
from pathlib import Path
from types import ModuleType

_FOLDER = Path(__file__).resolve().parents[2] / "benchmarks"


def benchmark(name: str) -> ModuleType:
    """Return a module of the benchmarks folder."""
    known = f"benchmark_{name}"
    if known not in sys.modules:
        spec = importlib.util.spec_from_file_location(known, _FOLDER / f"{name}.py")
        assert spec is not None
        assert spec.loader is not None
        module = importlib.util.module_from_spec(spec)
        sys.modules[known] = module
        spec.loader.exec_module(module)
    return sys.modules[known]

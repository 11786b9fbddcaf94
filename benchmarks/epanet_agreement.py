"""Our network solver against EPANET 2.2 on random networks of 10 to 3000 emitters, emitter by emitter.

Run: python benchmarks/epanet_agreement.py [how many networks, default 200]
"""

from __future__ import annotations

import os
import platform
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

ROOT = Path(__file__).resolve().parent.parent
sys.path[:0] = [str(ROOT), str(ROOT / "tests" / "reference")]

import epanet_engine  # noqa: E402
from random_networks import random_network  # noqa: E402

from optimizer.hydraulics import Fluid, solve_network  # noqa: E402

FLUID = Fluid()


def compare(seed: int, emitters: int, folder: Path) -> tuple[float, float, float, float, bool, int]:
    network, inlet_head, looped = random_network(seed, emitters)
    start = time.perf_counter()
    ours = solve_network(network, inlet_head, FLUID)
    middle = time.perf_counter()
    head, outflow = epanet_engine.solve(network, inlet_head, FLUID, folder)
    end = time.perf_counter()
    emitted = np.bincount(network.emitter_node, ours.emitter_flow_m3_s, network.node_count)
    wet = np.unique(network.emitter_node)
    flow_error = float(np.max(np.abs(emitted[wet] / outflow[wet] - 1)))
    head_error = float(np.max(np.abs(ours.head_m - head)))
    return flow_error, head_error, middle - start, end - middle, looped, network.emitter_count


def main(count: int) -> int:
    sizes = np.random.default_rng(2024).permutation(np.geomspace(10, 3000, count).round().astype(int))
    with tempfile.TemporaryDirectory() as folder:
        rows = [compare(seed, int(size), Path(folder)) for seed, size in enumerate(sizes)]
    flow, head, ours, theirs = (np.array([row[i] for row in rows]) for i in range(4))
    print(
        f"{epanet_engine.VERSION}, numpy {np.__version__}, python {platform.python_version()}, {os.cpu_count()} cores"
    )
    loops, emitters = sum(row[4] for row in rows), sum(row[5] for row in rows)
    print(f"{count} networks, {loops} with loops, {sizes.min()} to {sizes.max()} emitters, {emitters} emitters in all")
    print(
        f"greatest flow difference of an emitter {100 * flow.max():.5f} % "
        f"(median of networks {100 * np.median(flow):.6f} %)"
    )
    print(f"greatest head difference of a node {head.max():.6f} m (median of networks {np.median(head):.7f} m)")
    print(f"time: ours {ours.sum():.2f} s (greatest {ours.max():.3f} s), EPANET with files {theirs.sum():.2f} s")
    return 0 if flow.max() <= 1e-3 and head.max() <= 0.01 else 1


if __name__ == "__main__":
    raise SystemExit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 200))

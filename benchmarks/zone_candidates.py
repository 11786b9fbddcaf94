"""Zone candidates per second: the batch solver, and the EPANET engine on a sample of the same candidates.

Every candidate is a run of about 30 take-offs along one header, each with a lateral of about 50 emitters on sloping
ground, an inlet somewhere on the run, one of two header sizes, a feed tube and a fixed head. EPANET solves the same
zones emitter by emitter with the same fixed head; its time is given with reading the input file and without.

Run: python benchmarks/zone_candidates.py [how many candidates, default 2000]
"""

from __future__ import annotations

import os
import platform
import sys
import tempfile
import time
import warnings
from pathlib import Path

import numpy as np

ROOT = Path(__file__).resolve().parent.parent
sys.path[:0] = [str(ROOT), str(ROOT / "tests" / "reference")]

import epanet_engine  # noqa: E402

from optimizer.hydraulics import EmitterLaw, EmitterLine, Fluid, build_lateral_table, solve_network  # noqa: E402
from optimizer.hydraulics.batch import BatchSolution, FixedHead, HeaderRuns, solve_batch  # noqa: E402
from optimizer.hydraulics.build import NetworkBuilder  # noqa: E402
from optimizer.hydraulics.network import Network  # noqa: E402
from optimizer.hydraulics.takeoffs import LateralAt, take_offs  # noqa: E402

FLUID = Fluid()
INLET_HEAD_M = 12.0
LINE = EmitterLine(0.0136, 0.3, EmitterLaw.from_rating(1.0 / 3.6e6, 10.0, 0.5))
FIRST_M = 0.15
SLOPES = np.array([-0.01, 0.0, 0.01])
GRADE = 0.01
SAMPLE = 40


class Garden:
    """A header with take-offs and the candidates on it; everything from one seed."""

    def __init__(self, candidates: int, emitters: int, seed: int = 1) -> None:
        rng = np.random.default_rng(seed)
        count = 60
        self.place = 0.4 + 0.9 * np.arange(count)
        self.z = GRADE * self.place
        self.emitters = rng.integers(int(0.8 * emitters), int(1.2 * emitters) + 1, count)
        self.slope = rng.choice(SLOPES, count)
        first = rng.integers(0, count - 35, candidates)
        last = first + rng.integers(25, 35, candidates)
        inlet = self.place[first] + rng.uniform(0.0, 1.0, candidates) * (self.place[last] - self.place[first])
        ones = np.ones(candidates)
        self.runs = HeaderRuns(
            first=first,
            last=last,
            inlet_position_m=inlet,
            inlet_z_m=GRADE * inlet,
            header_bore_m=rng.choice([0.0208, 0.0266], candidates),
            header_roughness_m=1.5e-6 * ones,
            feed_length_m=rng.uniform(1.0, 30.0, candidates),
            feed_bore_m=0.0266 * ones,
            feed_roughness_m=1.5e-6 * ones,
            source=np.zeros(candidates, dtype=np.int64),
            source_z_m=0.0 * ones,
        )

    def solve(self) -> tuple[BatchSolution, float, float]:
        """The batch's answer, the seconds its tables took, and the seconds the candidates took."""
        start = time.perf_counter()
        counts = np.unique(self.emitters)
        table = build_lateral_table(LINE, counts, SLOPES, 20.0, FLUID, FIRST_M)
        pairs = zip(self.emitters, self.slope, strict=True)
        offs = take_offs(self.place, self.z, [[LateralAt(table, int(n), float(s))] for n, s in pairs])
        middle = time.perf_counter()
        solution = solve_batch(self.runs, offs, [FixedHead(INLET_HEAD_M)], FLUID)
        return solution, middle - start, time.perf_counter() - middle

    def network(self, candidate: int) -> Network:
        """One candidate, every emitter of it."""
        runs, build = self.runs, NetworkBuilder()
        source, inlet = build.node(0.0), build.node(runs.inlet_z_m[candidate])
        build.tube(source, inlet, runs.feed_length_m[candidate], runs.feed_bore_m[candidate])
        run = range(runs.first[candidate], runs.last[candidate] + 1)
        at = runs.inlet_position_m[candidate]
        for arm in ([k for k in run if self.place[k] >= at], [k for k in run if self.place[k] < at][::-1]):
            before, where = inlet, at
            for k in arm:
                here = build.node(self.z[k])
                build.tube(before, here, max(abs(self.place[k] - where), 1e-6), runs.header_bore_m[candidate])
                along = FIRST_M + LINE.spacing_m * np.arange(self.emitters[k])
                build.lateral(here, LINE, self.z[k] + self.slope[k] * along, FIRST_M)
                before, where = here, self.place[k]
        return build.network(source)


def engine_seconds(network: Network, folder: Path) -> tuple[np.ndarray, float, float]:
    """Outflow at every node, seconds of the engine alone, seconds with reading its file."""
    path = folder / "zone.inp"
    path.write_text(epanet_engine.inp_text(network, INLET_HEAD_M, FLUID))
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        engine = epanet_engine.toolkit.ENepanet(version=2.2)
        start = time.perf_counter()
        engine.ENopen(str(path), str(folder / "zone.rpt"), str(folder / "zone.bin"))
        middle = time.perf_counter()
        engine.ENopenH()
        engine.ENinitH(0)
        engine.ENrunH()
        end = time.perf_counter()
        index = [engine.ENgetnodeindex(f"N{i}") for i in range(network.node_count)]
        flow = 1e-3 * np.array([engine.ENgetnodevalue(i, epanet_engine.EN_DEMAND) for i in index])
        engine.ENcloseH()
        engine.ENclose()
    return np.delete(flow, network.inlet_node), end - middle, end - start


def compare(garden: Garden, batch: BatchSolution, sample: np.ndarray) -> tuple[float, float, float, float]:
    """Seconds per candidate of the engine alone, with its file, of our network solver; greatest flow difference."""
    rows = []
    with tempfile.TemporaryDirectory() as folder:
        for candidate in sample:
            network = garden.network(int(candidate))
            flow, alone, with_file = engine_seconds(network, Path(folder))
            start = time.perf_counter()
            solve_network(network, INLET_HEAD_M, FLUID)
            ours = time.perf_counter() - start
            wet = flow[flow > 0.0]
            errors = (
                batch.flow_m3_s[candidate] / flow.sum() - 1.0,
                batch.least_flow_m3_s[candidate] / wet.min() - 1.0,
                batch.greatest_flow_m3_s[candidate] / wet.max() - 1.0,
            )
            rows.append((alone, with_file, ours, np.max(np.abs(errors))))
    alone, with_file, ours, error = np.array(rows).T
    return float(alone.mean()), float(with_file.mean()), float(ours.mean()), float(error.max())


def growth(candidates: int) -> None:
    """Time over the emitters of a zone: tables and whole networks grow in proportion, candidates not at all."""
    print("emitters a zone   tables s   ms per longest lateral's 100 emitters   candidates s   one network ms")
    for emitters in (25, 50, 100, 200, 400):
        garden = Garden(candidates, emitters)
        runs = [garden.solve() for _ in range(3)]
        tables, seconds = (min(run[i] for run in runs) for i in (1, 2))
        network = garden.network(0)
        start = time.perf_counter()
        solve_network(network, INLET_HEAD_M, FLUID)
        whole = time.perf_counter() - start
        share = 1e5 * tables / garden.emitters.max()
        print(f"{network.emitter_count:15d} {tables:10.3f} {share:39.1f} {seconds:14.3f} {1e3 * whole:16.1f}")


def main(candidates: int) -> int:
    print(
        f"{epanet_engine.VERSION}, numpy {np.__version__}, python {platform.python_version()}, {os.cpu_count()} cores"
    )
    garden = Garden(candidates, 50)
    batch, tables, seconds = min((garden.solve() for _ in range(3)), key=lambda run: run[2])
    sizes = garden.runs.last - garden.runs.first + 1
    print(f"{candidates} candidates of {sizes.mean():.1f} laterals of {garden.emitters.mean():.1f} emitters")
    print(f"batch: {seconds:.3f} s, tables {tables:.3f} s, {int(batch.solved.sum())} solved")
    sample = np.linspace(0, candidates - 1, min(SAMPLE, candidates)).astype(int)
    alone, with_file, ours, error = compare(garden, batch, sample)
    rate = candidates / (seconds + tables)
    print(f"batch with its tables       {rate:10.0f} candidates/s")
    print(f"EPANET, file read           {1 / with_file:10.1f} candidates/s   ratio {rate * with_file:8.0f}")
    print(f"EPANET, engine alone        {1 / alone:10.1f} candidates/s   ratio {rate * alone:8.0f}")
    print(f"our network solver          {1 / ours:10.1f} candidates/s")
    print(f"greatest difference in zone, least or greatest emitter flow, {len(sample)} candidates: {100 * error:.4f} %")
    growth(candidates)
    return 0 if rate * with_file >= 100.0 and error <= 1e-3 and bool(batch.solved.all()) else 1


if __name__ == "__main__":
    raise SystemExit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 2000))

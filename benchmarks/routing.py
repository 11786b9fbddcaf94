"""Mainline routing measured: random points from a folder of Steiner instances, checked by a second formulation.

Usage: python benchmarks/routing.py FOLDER

FOLDER holds `estein10.txt`, `estein10opt.txt` and so on in the layout of the OR-Library (Beasley, OR-Library:
distributing test problems by electronic mail, J. Oper. Res. Soc. 41, 1990). The optimal lengths given there are
Euclidean: a rectilinear tree is at least as long, and the best one at most sqrt(2) times as long. Two formulations that
share nothing but the graph must agree: dynamic programming over sets of terminals, and directed cuts; for ten points a
multicommodity flow program solved by HiGHS confirms both. The rectilinear optima of the 40-point sets are published in
SteinLib (Koch, Martin and Voss, SteinLib: an updated library on Steiner tree problems in graphs, 2000), set ES40FST, on
a grid of 10^7 by 10^7: the scale used here, one millimetre to the unit.
"""

from __future__ import annotations

import argparse
import math
import random
import time
from pathlib import Path

import highspy
import numpy as np
from shapely.geometry import LineString, Point, box

from optimizer.routes.graph import GroundGraph, RoutePrice
from optimizer.routes.ground import GardenPath, Ground
from optimizer.routes.rectilinear import rectilinear_graph
from optimizer.routes.result import RouteTree
from optimizer.routes.steiner import tree_by_cuts, tree_by_subsets

Instance = list[tuple[float, float]]
SIDE_M = 10_000.0  # the points have seven decimals: one millimetre to the last of them, nothing is rounded
PUBLISHED_40 = (44841522, 46811310, 49974157, 45289864, 51940413)  # SteinLib ES40FST, optima of es40fst01 to 05


def instances(path: Path) -> list[Instance]:
    words = iter(path.read_text().split())
    return [
        [(float(next(words)), float(next(words))) for _ in range(int(next(words)))] for _ in range(int(next(words)))
    ]


def euclidean_optima(path: Path) -> list[float]:
    words = iter(path.read_text().split())
    found = []
    for _ in range(int(next(words))):
        found.append(float(next(words)))
        next(words)  # length of the spanning tree
        for _ in range(2 * int(next(words))):
            next(words)
    return found


def by_flows(graph: GroundGraph, costs: np.ndarray) -> float:
    """Cheapest tree as a mixed-integer program: a unit of flow to every terminal, arcs paid once."""
    goals = sorted(set(graph.terminals) - {graph.source})
    size = len(graph.edges)
    tails, heads = (
        np.concatenate((graph.ends[:, 0], graph.ends[:, 1])),
        np.concatenate((graph.ends[:, 1], graph.ends[:, 0])),
    )
    highs = highspy.Highs.__new__(highspy.Highs)
    super(highspy.Highs, highs).__init__()  # the wrapper's own constructor prints a banner
    for name, value in (("output_flag", False), ("threads", 1), ("mip_rel_gap", 0.0)):
        highs.setOptionValue(name, value)
    columns = 2 * size * (1 + len(goals))
    highs.addVars(columns, np.zeros(columns), np.ones(columns))
    arcs = np.arange(2 * size, dtype=np.int32)
    highs.changeColsCost(2 * size, arcs, np.concatenate((costs, costs)).astype(float))
    highs.changeColsIntegrality(2 * size, arcs, np.ones(2 * size, dtype=np.uint8))
    for k, goal in enumerate(goals):
        first = 2 * size * (1 + k)
        for node in range(len(graph.nodes)):
            into, out = np.flatnonzero(heads == node), np.flatnonzero(tails == node)
            need = float(node == goal) - float(node == graph.source)
            index = np.concatenate((into, out)).astype(np.int32) + first
            highs.addRow(need, need, len(index), index, np.concatenate((np.ones(len(into)), -np.ones(len(out)))))
        for arc in range(2 * size):
            highs.addRow(0.0, highspy.kHighsInf, 2, np.array([arc, first + arc], dtype=np.int32), np.array([1.0, -1.0]))
    highs.run()
    if highs.getModelStatus() != highspy.HighsModelStatus.kOptimal:
        raise RuntimeError(f"the flow program ended as {highs.getModelStatus()}")
    return float(highs.getInfoValue("objective_function_value")[1])


def timed(method, *arguments) -> tuple[RouteTree, float]:
    start = time.perf_counter()
    tree = method(*arguments)
    return tree, time.perf_counter() - start


def ten_points(folder: Path) -> None:
    print("ten points: rectilinear optimum by dynamic programming (DP), directed cuts and multicommodity flow")
    print(f"{'instance':>9} {'length m':>10} {'cuts':>10} {'flow':>10} {'ratio':>7} {'DP s':>7} {'cuts s':>7}")
    agreed = 0
    optima = euclidean_optima(folder / "estein10opt.txt")
    cases = instances(folder / "estein10.txt")
    for number, (points, euclidean) in enumerate(zip(cases, optima, strict=True), start=1):
        graph = graph_of(points)
        price = RoutePrice(1)
        tree, by_table = timed(tree_by_subsets, graph, price)
        cuts, by_cuts = timed(tree_by_cuts, graph, price)
        flow = round(by_flows(graph, graph.costs(price)))
        ratio = tree.length_mm / (euclidean * SIDE_M * 1000)
        good = tree.length_mm == cuts.length_mm == cuts.bound_mct == flow and 1.0 <= ratio <= math.sqrt(2)
        agreed += good
        print(
            f"{number:>9} {tree.length_mm / 1e3:>10.3f} {cuts.length_mm / 1e3:>10.3f} {flow / 1e3:>10.3f}"
            f" {ratio:>7.4f} {by_table:>7.3f} {by_cuts:>7.3f}{'' if good else '  DISAGREES'}"
        )
    print(f"agreed and within [1, sqrt 2] of the Euclidean optimum: {agreed} of {len(cases)}\n")


def graph_of(points: Instance) -> GroundGraph:
    scaled = [(x * SIDE_M, y * SIDE_M) for x, y in points]
    return rectilinear_graph(Ground(), scaled[0], scaled[1:])


def more_points(folder: Path, count: int, cases: int, programs: int) -> None:
    print(f"{count} points by directed cuts, at most {programs} linear programs each")
    print(f"{'instance':>9} {'length m':>10} {'bound m':>10} {'gap %':>7} {'ratio':>7} {'s':>7}  status")
    optima = euclidean_optima(folder / f"estein{count}opt.txt")
    for number, points in enumerate(instances(folder / f"estein{count}.txt")[:cases], start=1):
        tree, seconds = timed(tree_by_cuts, graph_of(points), RoutePrice(1), programs)
        published = PUBLISHED_40[number - 1] if count == 40 else tree.length_mm
        if not tree.bound_mct <= published <= tree.length_mm:
            raise RuntimeError(f"published optimum {published} is not between {tree.bound_mct} and {tree.length_mm}")
        ratio = tree.length_mm / (optima[number - 1] * SIDE_M * 1000)
        print(
            f"{number:>9} {tree.length_mm / 1e3:>10.3f} {tree.bound_mct / 1e3:>10.3f} {100 * tree.gap:>7.2f}"
            f" {ratio:>7.4f} {seconds:>7.1f}  {tree.status.value}"
        )
    print()


def garden(seed: int) -> tuple[Ground, Instance]:
    """Ten inlets and a tap on 50 m x 30 m with a dozen obstacles, a path and a fence with an opening."""
    rng = random.Random(seed)
    places = [(round(rng.uniform(0, 50), 3), round(rng.uniform(0, 30), 3)) for _ in range(11)]
    blocks = []
    while len(blocks) < 12:
        x, y = rng.uniform(0, 45), rng.uniform(0, 25)
        block = box(x, y, x + rng.uniform(1, 5), y + rng.uniform(1, 4))
        if not any(block.buffer(0.1).contains(Point(p)) for p in places):
            blocks.append(block)
    fence = (LineString([(30, 0), (30, 14)]), LineString([(30, 15), (30, 30)]))
    return Ground(tuple(blocks), fence, (GardenPath("path", box(20, -1, 21, 31)),)), places


def gardens(count: int) -> None:
    print("gardens: ten inlets, twelve obstacles, a path, a fence with an opening")
    print(
        f"{'seed':>9} {'nodes':>7} {'edges':>7} {'graph s':>8} {'DP s':>7} {'length m':>10} {'turns':>6} {'crossed':>9}"
    )
    for seed in range(1, count + 1):
        ground, places = garden(seed)
        start = time.perf_counter()
        graph = rectilinear_graph(ground, places[0], places[1:])
        built = time.perf_counter() - start
        tree, seconds = timed(tree_by_subsets, graph, RoutePrice(50, 30_000))
        print(
            f"{seed:>9} {len(graph.nodes):>7} {len(graph.edges):>7} {built:>8.3f} {seconds:>7.3f}"
            f" {tree.length_mm / 1e3:>10.3f} {tree.turns:>6} {len(tree.crossings):>9}"
        )
    print()


def framed_beds() -> None:
    beds = [box(i * 1.8, j * 3.8, i * 1.8 + 1.2, j * 3.8 + 3.0) for i in range(10) for j in range(4)]
    inlets = [(i * 1.8 + 0.6, j * 3.8) for i in range(10) for j in range(4)]
    path = GardenPath("main path", box(-0.5, 7.0, 18, 7.4))
    graph = rectilinear_graph(Ground(tuple(beds), paths=(path,)), (-1.0, 5.0), inlets)
    tree, seconds = timed(tree_by_cuts, graph, RoutePrice(50, 200_000))
    crossed = len(tree.crossings)
    print(
        f"forty framed beds: {tree.length_mm / 1e3:.3f} m, {crossed} crossings, {seconds:.2f} s, {tree.status.value}\n"
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder", type=Path, help="folder with the estein files")
    parser.add_argument("--cases", type=int, default=5, help="instances of 20 points and more to solve")
    parser.add_argument("--programs", type=int, default=25, help="linear programs to solve at most for 40 points")
    arguments = parser.parse_args()
    gardens(5)
    framed_beds()
    ten_points(arguments.folder)
    more_points(arguments.folder, 20, arguments.cases, 300)
    more_points(arguments.folder, 40, min(2, arguments.cases), arguments.programs)


if __name__ == "__main__":
    main()

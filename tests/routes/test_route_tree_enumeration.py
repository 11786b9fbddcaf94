"""The router against enumeration on generated small gardens.

The referee shares nothing with the program: no shapely, no side-splitting of barriers. It draws the garden on an
integer lattice in which every lattice line is three lines a hair apart, so that a barrier simply occupies the middle
one, finds all distances with Floyd's algorithm, and tries every tree shape over all places (a Steiner tree of k points
has at most k - 2 branching points: Gilbert and Pollak, Steiner minimal trees, SIAM J. Appl. Math. 16, 1968).
"""

from __future__ import annotations

import random
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np
import pytest
from shapely.geometry import LineString, box

from optimizer.routes.graph import RoutePrice
from optimizer.routes.ground import GardenPath, Ground, NoRouteError
from optimizer.routes.rectilinear import rectilinear_graph
from optimizer.routes.result import RouteTree, Status
from optimizer.routes.steiner import cheapest_tree

Cell = tuple[int, int, int, int]  # lattice rectangle x0, y0, x1, y1
FAR = 10**15
SEEDS = 300


@dataclass(frozen=True)
class Garden:
    xs: tuple[int, ...]  # lattice lines [mm]
    ys: tuple[int, ...]
    keep_outs: tuple[Cell, ...]
    walls: tuple[Cell, ...]  # axis-parallel segments
    paths: tuple[Cell, ...]
    limits_mm: tuple[int, ...]
    spots: tuple[tuple[int, int], ...]  # source first
    price: RoutePrice


def rectangle(rng: random.Random, width: int, height: int) -> Cell:
    x0, x1 = sorted(rng.sample(range(width + 1), 2))
    y0, y1 = sorted(rng.sample(range(height + 1), 2))
    return x0, y0, x1, y1


def wall(rng: random.Random, width: int, height: int) -> Cell:
    x0, y0, x1, y1 = rectangle(rng, width, height)
    return (x0, y0, x1, y0) if rng.random() < 0.5 else (x0, y0, x0, y1)


def inside(cell: Cell, x: float, y: float) -> bool:
    return cell[0] < x < cell[2] and cell[1] < y < cell[3]


def on(cell: Cell, x: float, y: float) -> bool:
    return cell[0] <= x <= cell[2] and cell[1] <= y <= cell[3]


def under(path: Cell, x: float, y: float) -> bool:
    """A hair inside the edge of a path still counts as on its edge: tube passing a wall end there crosses nothing."""
    return inside((path[0] + 0.25, path[1] + 0.25, path[2] - 0.25, path[3] - 0.25), x, y)


def apart(a: Cell, b: Cell) -> bool:
    return a[2] < b[0] or b[2] < a[0] or a[3] < b[1] or b[3] < a[1]


def generated(seed: int) -> Garden:
    rng = random.Random(seed)
    width, height = rng.randint(3, 5), rng.randint(3, 4)
    xs = tuple(np.cumsum([0, *(rng.randint(300, 3000) for _ in range(width))]).tolist())
    ys = tuple(np.cumsum([0, *(rng.randint(300, 3000) for _ in range(height))]).tolist())
    keep_outs = tuple(rectangle(rng, width, height) for _ in range(rng.randint(0, 3)))
    walls = tuple(wall(rng, width, height) for _ in range(rng.randint(0, 5)))
    paths = [rectangle(rng, width, height) for _ in range(rng.randint(1, 2))]
    if len(paths) == 2 and not apart(*paths):
        paths.pop()
    places = [
        (x, y)
        for x in range(width + 1)
        for y in range(height + 1)
        if not any(on(w, x, y) for w in walls) and open_place(with_the_world(keep_outs, width, height), x, y)
    ]
    if walls:  # tube starting under a path cannot step aside by the hair the referee keeps from walls
        places = [(x, y) for x, y in places if not any(under(p, x, y) for p in paths)]
    if len(places) < 5:
        return generated(seed + 1000)
    spots = tuple(rng.sample(places, rng.randint(3, 5)))
    price = RoutePrice(rng.randint(1, 5), rng.choice((0, 300, 1500, 10000)), rng.choice((0, 0, 3)))
    limits = tuple(rng.choice((10**6, 10**6, 3000)) for _ in paths)
    return Garden(xs, ys, keep_outs, walls, tuple(paths), limits, spots, price)


def open_place(keep_outs: tuple[Cell, ...], x: float, y: float) -> bool:
    """A place is closed when all four corners round it are inside the union of the keep-outs and the world beyond."""
    return not all(any(inside(k, x + dx, y + dy) for k in keep_outs) for dx in (-0.1, 0.1) for dy in (-0.1, 0.1))


def with_the_world(keep_outs: tuple[Cell, ...], width: int, height: int) -> tuple[Cell, ...]:
    beyond = ((-9, -9, 0, 9), (width, -9, 9 + width, 9), (-9, -9, 9 + width, 0), (-9, height, 9 + width, 9 + height))
    return (*keep_outs, *beyond)


class Lattice:
    """Lattice line c of the garden becomes lines c - e, c and c + e with no length between them."""

    def __init__(self, garden: Garden) -> None:
        self.garden = garden
        self.px = [c + d for c in range(len(garden.xs)) for d in (-0.2, 0.0, 0.2)][1:-1]
        self.py = [c + d for c in range(len(garden.ys)) for d in (-0.2, 0.0, 0.2)][1:-1]
        self.closed = with_the_world(garden.keep_outs, len(garden.xs) - 1, len(garden.ys) - 1)
        self.walls = sorted(set(garden.walls))
        fixed = set(garden.spots)
        self.free = {(i, j) for i in range(len(self.px)) for j in range(len(self.py)) if self.is_free(i, j)}
        self.bendable = sorted(
            (i, j)
            for i, j in self.free
            if (self.px[i], self.py[j]) in fixed or not any(under(p, self.px[i], self.py[j]) for p in garden.paths)
        )

    def is_free(self, i: int, j: int) -> bool:
        x, y = self.px[i], self.py[j]
        return not any(on(w, x, y) for w in self.walls if not self.free_end(w, x, y)) and open_place(self.closed, x, y)

    def free_end(self, wall: Cell, x: float, y: float) -> bool:
        """Tube may touch the very end of a wall, unless the wall meets something there."""
        meets = any(on(w, x, y) for w in self.walls if w != wall) or any(on(k, x, y) for k in self.closed)
        return (x, y) in (wall[:2], wall[2:]) and not meets

    def run_price(self, a: tuple[int, int], di: int, dj: int) -> tuple[tuple[int, int], int] | None:
        """Next place to bend going straight on, and the price of tube to it."""
        garden, price = self.garden, self.garden.price
        bendable = set(self.bendable)
        i, j = a
        total, below, covered = 0, [0] * len(garden.paths), [False] * len(garden.paths)
        while True:
            ni, nj = i + di, j + dj
            mx, my = (
                (self.px[i] + self.px[min(ni, len(self.px) - 1)]) / 2,
                (self.py[j] + self.py[min(nj, len(self.py) - 1)]) / 2,
            )
            if (ni, nj) not in self.free or not open_place(self.closed, mx, my):
                return None
            step = self.mm(garden.xs, self.px[ni]) - self.mm(garden.xs, self.px[i])
            step += self.mm(garden.ys, self.py[nj]) - self.mm(garden.ys, self.py[j])
            total += price.tube_mct_per_mm * step
            for k, path in enumerate(garden.paths):
                if under(path, mx, my):
                    total += price.cover_mct_per_mm * step + (0 if covered[k] else price.crossing_mct)
                    covered[k], below[k] = True, below[k] + step
            i, j = ni, nj
            if (i, j) in bendable:
                too_long = any(u > limit for u, limit in zip(below, garden.limits_mm, strict=True))
                return None if too_long else ((i, j), total)

    @staticmethod
    def mm(lines: tuple[int, ...], position: float) -> int:
        return lines[round(position)]

    def distances(self) -> np.ndarray:
        number = {place: k for k, place in enumerate(self.bendable)}
        d = np.full((len(number), len(number)), FAR, dtype=np.int64)
        np.fill_diagonal(d, 0)
        for place, k in number.items():
            for direction in ((1, 0), (0, 1)):
                run = self.run_price(place, *direction)
                if run is not None:
                    d[k, number[run[0]]] = d[number[run[0]], k] = min(d[k, number[run[0]]], run[1])
        for k in range(len(number)):
            np.minimum(d, d[:, [k]] + d[[k], :], out=d)
        return d


def cheapest_by_all_shapes(d: np.ndarray, spots: list[int]) -> int:
    """Least price over every tree shape and every choice of branching places, for 3 to 5 points."""
    if len(spots) == 3:
        return int(min(d[spots].sum(axis=0)))
    best = 4 * FAR
    for pair in combinations(spots, 2):
        rest = [s for s in spots if s not in pair]
        first = (d[pair[0]] + d[pair[1]])[:, None] + d  # [branching place of the pair, next branching place]
        if len(spots) == 4:
            best = min(best, int((first + d[rest[0]] + d[rest[1]]).min()))
            continue
        to_middle = first.min(axis=0)
        for single in rest:
            c, e = (s for s in rest if s != single)
            best = min(best, int(((d[c] + d[e])[:, None] + d + d[single] + to_middle).min()))
    return best


def routed(garden: Garden) -> RouteTree:
    def metres(cell: Cell) -> tuple[float, float, float, float]:
        return (garden.xs[cell[0]] / 1e3, garden.ys[cell[1]] / 1e3, garden.xs[cell[2]] / 1e3, garden.ys[cell[3]] / 1e3)

    walls = tuple(LineString([metres(w)[:2], metres(w)[2:]]) for w in garden.walls)
    paths = tuple(
        GardenPath(f"path {k}", box(*metres(cell)), limit / 1e3)
        for k, (cell, limit) in enumerate(zip(garden.paths, garden.limits_mm, strict=True))
    )
    plot = box(0, 0, garden.xs[-1] / 1e3, garden.ys[-1] / 1e3)
    # guides put every lattice line into the graph, so that both sides choose among the same places
    guides = tuple(
        LineString([(x / 1e3, y / 1e3), (garden.xs[-1] / 1e3, garden.ys[-1] / 1e3)]) for x, y in diagonal(garden)
    )
    ground = Ground(tuple(box(*metres(k)) for k in garden.keep_outs), walls, paths, guides, plot)
    spots = [(garden.xs[i] / 1e3, garden.ys[j] / 1e3) for i, j in garden.spots]
    return cheapest_tree(rectilinear_graph(ground, spots[0], spots[1:]), garden.price)


def diagonal(garden: Garden) -> list[tuple[int, int]]:
    if sum(garden.xs) % 2:  # half of the gardens leave the choice of lines to the program
        return []
    longest = max(len(garden.xs), len(garden.ys))
    pairs = [(garden.xs[min(k, len(garden.xs) - 1)], garden.ys[min(k, len(garden.ys) - 1)]) for k in range(longest)]
    return [p for p in pairs if p != (garden.xs[-1], garden.ys[-1])]


def enumerated(garden: Garden) -> int:
    lattice = Lattice(garden)
    number = {(lattice.px[i], lattice.py[j]): k for k, (i, j) in enumerate(lattice.bendable)}
    return cheapest_by_all_shapes(lattice.distances(), [number[spot] for spot in garden.spots])


@pytest.mark.parametrize("block", range(SEEDS // 10))
def test_cheapest_tree_agrees_with_enumeration(block: int) -> None:
    for seed in range(10 * block, 10 * block + 10):
        garden = generated(seed)
        best = enumerated(garden)
        if best >= FAR:
            with pytest.raises(NoRouteError):
                routed(garden)
            continue
        tree = routed(garden)
        assert tree.cost_mct == best, seed
        assert tree.status is Status.PROVEN
        assert tree.bound_mct == best


def test_the_generated_gardens_exercise_every_rule() -> None:
    gardens = [generated(seed) for seed in range(SEEDS)]
    prices = [enumerated(g) for g in gardens]
    solvable = [g for g, best in zip(gardens, prices, strict=True) if best < FAR]
    without_walls = [enumerated(replace(g, walls=())) for g in gardens]
    without_areas = [enumerated(replace(g, keep_outs=())) for g in gardens]
    assert len(solvable) >= 100
    assert sum(bare < best for bare, best in zip(without_walls, prices, strict=True)) >= 30
    assert sum(bare < best for bare, best in zip(without_areas, prices, strict=True)) >= 30
    assert sum(bool(routed(g).crossings) for g in solvable) >= 30

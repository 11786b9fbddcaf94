"""The rectilinear candidate graph: lines along two axes through terminals, corners and barrier ends.

On unobstructed ground a shortest rectilinear tree lies on the lines through its terminals (Hanan, On Steiner's problem
with rectilinear distance, SIAM J. Appl. Math. 14, 1966); with rectilinear obstacles the lines through obstacle corners
are enough (Ganley and Cohoon, Routing a multi-terminal critical net, ISCAS 1994). Slanted outlines are followed on the
same lines only, so there the result is exact among tubes on these lines.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely

from optimizer.routes.barriers import Contact, Sides, contacts, edge_copies, sides_at
from optimizer.routes.graph import (
    Chain,
    GraphEdge,
    GroundGraph,
    assembled,
    crossings_of,
    distinct_places,
    meets_inside,
    segments,
)
from optimizer.routes.ground import Frame, FramedGround, Ground, GroundError, PointM, PointMm, check_place, framed

Copy = tuple[PointMm, int]  # a place and the sector of it


@dataclass(frozen=True)
class _Places:
    """Grid places tube may touch, and those among them it may only pass straight through."""

    xs: tuple[int, ...]
    ys: tuple[int, ...]
    open: npt.NDArray[np.bool_]  # shape (len(xs), len(ys))
    under_path: npt.NDArray[np.bool_]


def rectilinear_graph(
    ground: Ground, source: PointM, terminals: Sequence[PointM], axis_rad: float = 0.0
) -> GroundGraph:
    """Graph of the places tube may take when it keeps to two directions at right angles.

    Args:
        ground: What tube must respect [m].
        source: Where the mainline starts [m].
        terminals: Header inlets to reach [m].
        axis_rad: First of the two directions, counter-clockwise from the x axis [rad].

    Returns:
        The part of the graph that the source can reach.

    Raises:
        GroundError: An outline is not valid, or a terminal stands where tube may not lie or on a barrier.
        NoRouteError: Some terminal cannot be reached.
    """
    frame = Frame(axis_rad)
    area = framed(ground, frame)
    spots = distinct_places(frame.points([source])[0], frame.points(terminals))
    for k, spot in enumerate(spots):
        check_place(area, spot, f"terminal {k}" if k else "the source")
    places = _places(area, spots)
    sides = _sides(area, places, spots)
    steps = [_steps(area, places, sides, horizontal) for horizontal in (True, False)]
    passing = {(p, s) for p in _listed(places, places.under_path) for s in range(sides.get(p, Sides()).count)}
    passing -= {(spot, 0) for spot in spots}
    return _graph(area, spots, [_contracted(step, passing) for step in steps])


def _places(area: FramedGround, spots: Sequence[PointMm]) -> _Places:
    xs = tuple(sorted({p[0] for p in (*spots, *area.corners)}))
    ys = tuple(sorted({p[1] for p in (*spots, *area.corners)}))
    gx, gy = np.meshgrid(np.array(xs, dtype=float), np.array(ys, dtype=float), indexing="ij")
    for shape in (area.closed, area.path_area):
        shapely.prepare(shape)
    allowed = ~shapely.contains_xy(area.closed, gx, gy)
    return _Places(xs, ys, allowed, allowed & shapely.contains_xy(area.path_area, gx, gy))


def _listed(places: _Places, mask: npt.NDArray[np.bool_]) -> Iterable[PointMm]:
    return ((places.xs[i], places.ys[j]) for i, j in np.argwhere(mask).tolist())


def _sides(area: FramedGround, places: _Places, spots: Sequence[PointMm]) -> dict[PointMm, Sides]:
    """Sectors of the open places that lie on a barrier."""
    if not area.barriers:
        return {}
    listed = list(_listed(places, places.open))
    lines = shapely.multilinestrings(segments(area.barriers))
    shapely.prepare(lines)
    on = shapely.intersects(lines, shapely.points(np.array(listed, dtype=float)))
    sides = {listed[i]: sides_at(listed[i], area.barriers, area.rims) for i in np.flatnonzero(on)}
    for k, spot in enumerate(spots):
        if sides.get(spot, Sides()).count > 1:
            x_m, y_m = area.frame.to_m(spot)
            name = f"terminal {k}" if k else "the source"
            raise GroundError(f"{name} at ({x_m:.3f} m, {y_m:.3f} m) is on a barrier: move it to the side it is on")
    return sides


def _steps(
    area: FramedGround, places: _Places, sides: dict[PointMm, Sides], horizontal: bool
) -> dict[Copy, list[Copy]]:
    """For each copy of a place the copies one grid step further along the axis."""
    here, there = (np.s_[:-1, :], np.s_[1:, :]) if horizontal else (np.s_[:, :-1], np.s_[:, 1:])
    starts = np.argwhere(places.open[here] & places.open[there]).tolist()
    di, dj = (1, 0) if horizontal else (0, 1)
    pairs = [((places.xs[i], places.ys[j]), (places.xs[i + di], places.ys[j + dj])) for i, j in starts]
    lines = segments(pairs)
    free = ~meets_inside(area.closed, lines)
    steps: dict[Copy, list[Copy]] = defaultdict(list)
    plain = Sides()
    for (p, q), is_free, contact in zip(pairs, free.tolist(), contacts(lines, area.barriers), strict=True):
        if is_free and contact is Contact.CLEAR and p not in sides and q not in sides:
            steps[p, 0].append((q, 0))
        elif is_free:
            for s, t in edge_copies(p, q, sides.get(p, plain), sides.get(q, plain), contact):
                steps[p, s].append((q, t))
    return steps


def _contracted(steps: dict[Copy, list[Copy]], passing: set[Copy]) -> list[tuple[Copy, Copy]]:
    """Straight pieces between places where tube may bend, stepping over the places it only passes."""
    pieces: list[tuple[Copy, Copy]] = []
    for start in sorted(steps):
        if start in passing:
            continue
        todo = list(steps[start])
        while todo:
            end = todo.pop()
            if end in passing:
                todo.extend(steps.get(end, ()))
            else:
                pieces.append((start, end))
    return sorted(set(pieces))


def _graph(area: FramedGround, spots: Sequence[PointMm], pieces: list[list[tuple[Copy, Copy]]]) -> GroundGraph:
    """Number the copies, price-relevant facts to the pieces, chains along the lines."""
    copies = sorted({copy for group in pieces for piece in group for copy in piece} | {(spot, 0) for spot in spots})
    number = {copy: i for i, copy in enumerate(copies)}
    edges: list[GraphEdge] = []
    families: list[list[Chain]] = []
    for group in pieces:
        lines = segments([(a[0], b[0]) for a, b in group])
        kept: list[tuple[int, int]] = []
        for (a, b), crossings in zip(group, crossings_of(area, lines), strict=True):
            if crossings is not None:
                length_mm = abs(b[0][0] - a[0][0]) + abs(b[0][1] - a[0][1])
                kept.append((number[a], number[b]))
                edges.append(GraphEdge(number[a], number[b], length_mm, crossings))
        families.extend(_families(kept))
    nodes = [copy[0] for copy in copies]
    ids = [number[spot, 0] for spot in spots]
    return assembled(area.frame, nodes, edges, ids[0], ids[1:], families)


def _families(pieces: list[tuple[int, int]]) -> list[list[Chain]]:
    """Chains of pieces end to end, sorted into families in which no node comes twice."""
    onward: dict[int, list[int]] = defaultdict(list)
    for a, b in pieces:
        onward[a].append(b)
    ends = {b for _, b in pieces}
    families: list[tuple[list[Chain], set[int]]] = []
    for start in [a for a in sorted(onward) if a not in ends] + sorted(onward):
        while onward[start]:
            chain = [start]
            while onward[chain[-1]]:
                chain.append(onward[chain[-1]].pop(0))
            home = next((family for family in families if family[1].isdisjoint(chain)), None)
            if home is None:
                home = ([], set())
                families.append(home)
            home[0].append(tuple(chain))
            home[1].update(chain)
    return [family[0] for family in families]

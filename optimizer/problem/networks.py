"""The pipe network of a zone, built from a design: mainline, header and every emitter of its laterals."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np

from optimizer.feeds import Bypass, LateralShape
from optimizer.geometry import Point
from optimizer.hydraulics import Network
from optimizer.problem.case import Case, HeaderLine, Run
from optimizer.problem.water import emitter_law
from optimizer.units import micrometres

_SHORTEST_TUBE_M = 1e-4  # vertices may coincide; a tube of no length has no flow law


@dataclass(frozen=True, eq=False)
class PlacedNetwork:
    """A network with the places of its nodes and the lateral of each emitter."""

    network: Network
    places: tuple[Point, ...]
    emitter_lateral: tuple[int, ...]
    """index into the laterals of the feed"""
    laid_m: tuple[float, ...]
    """length of each tube as it lies, without equivalent lengths of losses"""


@dataclass
class _Draft:
    """Nodes, tubes and emitters while they are gathered."""

    places: list[Point] = field(default_factory=list)
    heights: list[float] = field(default_factory=list)
    tubes: list[tuple[int, int, float, float, float, float]] = field(default_factory=list)
    emitters: list[tuple[int, int]] = field(default_factory=list)
    laid: list[float] = field(default_factory=list)

    def node(self, place: Point, height_m: float) -> int:
        self.places.append(place)
        self.heights.append(height_m)
        return len(self.places) - 1

    def tube(
        self,
        start: int,
        end: int,
        length_m: float,
        bore_m: float,
        roughness_m: float,
        loss_k: float = 0.0,
        extra_m: float = 0.0,
    ) -> None:
        self.tubes.append((start, end, max(length_m + extra_m, _SHORTEST_TUBE_M), bore_m, roughness_m, loss_k))
        self.laid.append(length_m)


class _Builder:
    """Builds the network of some runs of a design."""

    def __init__(self, case: Case) -> None:
        self.case = case
        self.draft = _Draft()
        self.frame = case.layout.field.frame
        self.raised = case.layout.bed.raised

    def bed_node(self, place: Point) -> int:
        """Add a node on the bed, at the height of its soil."""
        return self.draft.node(place, self.case.shapes.ground.height(place) + self.raised)

    def blank(self, start: int, end: int, length_m: float) -> None:
        """Add a tube of the design's blank tube."""
        self.draft.tube(start, end, length_m, self.case.tube.bore, self.case.tube.roughness)

    def mainline(self, points: Sequence[Point]) -> int:
        """Add the way from the source to a header inlet and return the inlet's node."""
        node = self.draft.node(points[0], self.case.shapes.source_z_m)
        for before, place in pairwise(points):
            nearest = self.bed_node(place) if place == points[-1] else self._ground_node(place)
            self.blank(node, nearest, math.dist(before, place))
            node = nearest
        return node

    def _ground_node(self, place: Point) -> int:
        return self.draft.node(place, self.case.shapes.ground.height(place))

    def header(self, run: Run, inlet_node: int) -> dict[int, int]:
        """Add a run's header and return the node of each of its vertices."""
        line = self.case.layout.headers[run.header]
        first, last = line.vertices(run)
        inlet = line.inlet(run)
        nodes = {inlet: inlet_node}
        for step, end in ((1, last), (-1, first)):
            for vertex in range(inlet + step, end + step, step):
                nodes[vertex] = self.bed_node(line.points[vertex])
                self.blank(nodes[vertex - step], nodes[vertex], line.span_um(vertex - step, vertex) / 1e6)
        return nodes

    def lateral(self, index: int, shape: LateralShape, start: int) -> None:
        """Add a lateral from its take-off node on."""
        line = self.case.line
        spacing, v = line.spacing, self.case.layout.plan.rows[shape.row].lines[shape.line].v
        # The take-off loses what its first tube of emitter line would show: the whole flow passes both.
        before, lead, loss_k = start, 0.0, self.case.scenario.limits.take_off_loss
        for part in shape.parts:
            if part.bypass is not None:
                before = self.bypass(part.bypass, before)
            for number in range(part.spacings):
                u = part.u + shape.side * (number + 0.5) * spacing
                node = self.bed_node(self.frame.to_plan((u, v)))
                length = (spacing / 2.0 if number == 0 else spacing) + lead
                self.draft.tube(before, node, length, line.bore, line.roughness, loss_k, line.emitter_loss)
                self.draft.emitters.append((node, index))
                before, lead, loss_k = node, 0.0, 0.0
            lead = spacing / 2.0

    def bypass(self, way: Bypass, before: int) -> int:
        """Add a bypass as long as it is cut and return the node at its end."""
        cut_m = self.case.tube_units(micrometres(way.length_m)) * self.case.tube_step_um / 1e6
        for place, length in way.legs:
            node = self.bed_node(place)
            self.blank(before, node, length * cut_m / way.length_m)
            before = node
        return before

    def finish(self) -> PlacedNetwork:
        """Return the network."""
        draft, law = self.draft, emitter_law(self.case.line)
        tubes = np.array(draft.tubes)
        count = len(draft.emitters)
        network = Network(
            z_m=np.array(draft.heights),
            tube_from=tubes[:, 0].astype(np.int64),
            tube_to=tubes[:, 1].astype(np.int64),
            tube_length_m=tubes[:, 2],
            tube_bore_m=tubes[:, 3],
            tube_roughness_m=tubes[:, 4],
            tube_loss_k=tubes[:, 5],
            emitter_node=np.array([node for node, _ in draft.emitters]),
            emitter_k=np.full(count, law.k),
            emitter_exponent=np.full(count, law.exponent),
            emitter_opening_head_m=np.full(count, law.opening_head_m),
            emitter_upper_head_m=np.full(count, law.upper_head_m),
            inlet_node=0,
        )
        return PlacedNetwork(
            network, tuple(draft.places), tuple(lateral for _, lateral in draft.emitters), tuple(draft.laid)
        )


def zone_network(case: Case, run: Run) -> PlacedNetwork:
    """Return the network of a zone that is one run of rows.

    Args:
        case: the design.
        run: its rows.

    Returns:
        The network; node 0 is the outlet of the head parts.
    """
    builder = _Builder(case)
    line = case.layout.headers[run.header]
    way = mainline_points(line, line.inlet(run))
    nodes = builder.header(run, builder.mainline(way))
    vertex_of = {(rows, index): vertex for vertex, (rows, index) in enumerate(line.keys)}
    for index in case.run_laterals(run):
        shape = case.feed.laterals[index]
        builder.lateral(index, shape, nodes[vertex_of[shape.row, shape.line]])
    return builder.finish()


def mainline_points(line: HeaderLine, inlet: int) -> tuple[Point, ...]:
    """Return the way of the mainline from the source to a header vertex: to the header, then alongside it."""
    start = line.approach.vertex
    step = 1 if inlet >= start else -1
    return (*line.approach.points, *(line.points[vertex] for vertex in range(start + step, inlet + step, step)))

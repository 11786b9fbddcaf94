"""The pipe network of a zone, built from what is laid: mainline, header and every emitter of its laterals."""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from optimizer.feeds import Bypass, LateralShape
from optimizer.geometry import Point
from optimizer.hydraulics import EmitterLaw, Network
from optimizer.problem.case import Case, HeaderLine, Run
from optimizer.problem.laying import SUPPLY, Laying
from optimizer.problem.water import emitter_law
from optimizer.scenario.schema import BlankTube
from optimizer.site import SiteShapes
from optimizer.units import micrometres

_SHORTEST_TUBE_M = 1e-4  # vertices may coincide; a tube of no length has no flow law


@dataclass(frozen=True, eq=False)
class PlacedNetwork:
    """A network with the places of its nodes and the lateral of each emitter."""

    network: Network
    places: tuple[Point, ...]
    emitter_lateral: tuple[int, ...]
    """index into the laterals of the feed, or of all feeds one after another"""
    laid_m: tuple[float, ...]
    """length of each tube as it lies, without equivalent lengths of losses"""
    blank: NDArray[np.bool_]
    """whether each tube is blank"""
    take_offs: tuple[int, ...]
    """nodes at which laterals leave a header"""
    inlets: tuple[int, ...]
    """nodes at which headers are fed"""


@dataclass
class _Draft:
    """Nodes, tubes and emitters while they are gathered."""

    places: list[Point] = field(default_factory=list)
    raised: list[float] = field(default_factory=list)
    """height of each node above the ground [m]"""
    tubes: list[tuple[int, int, float, float, float, float]] = field(default_factory=list)
    emitters: list[tuple[int, int, EmitterLaw]] = field(default_factory=list)
    laid: list[float] = field(default_factory=list)
    blank: list[bool] = field(default_factory=list)
    take_offs: list[int] = field(default_factory=list)
    inlets: list[int] = field(default_factory=list)

    def node(self, place: Point, raised_m: float) -> int:
        self.places.append(place)
        self.raised.append(raised_m)
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
        blank: bool = False,
    ) -> None:
        self.tubes.append((start, end, max(length_m + extra_m, _SHORTEST_TUBE_M), bore_m, roughness_m, loss_k))
        self.laid.append(length_m)
        self.blank.append(blank)


class _Builder:
    """Builds the network of some rows of a garden."""

    def __init__(self, shapes: SiteShapes) -> None:
        self.shapes = shapes
        self.draft = _Draft()
        self.source = self.draft.node(shapes.source_at, 0.0)

    def ground_node(self, place: Point, raised_m: float = 0.0) -> int:
        """Add a node on the ground, or on a bed at the height of its soil."""
        return self.draft.node(place, raised_m)

    def blank(self, start: int, end: int, length_m: float, tube: BlankTube) -> None:
        """Add a length of blank tube."""
        self.draft.tube(start, end, length_m, tube.bore, tube.roughness, blank=True)

    def mainline(self, start: int, points: Sequence[Point], rise_m: float, tube: BlankTube, raised_m: float) -> int:
        """Add mainline along a line of places and return the node at its end.

        Args:
            start: node at its first place.
            points: places, the first of which is there already [m].
            rise_m: tube more than the plan shows, in the last stretch [m].
            tube: what it is made of.
            raised_m: height of its end above the ground [m].
        """
        node = start
        for number, (before, place) in enumerate(pairwise(points), start=2):
            last = number == len(points)
            there = self.ground_node(place, raised_m if last else 0.0)
            self.blank(node, there, math.dist(before, place) + (rise_m if last else 0.0), tube)
            node = there
        return node

    def header(self, case: Case, run: Run, inlet: int, inlet_node: int) -> dict[int, int]:
        """Add a run's header, fed at a vertex, and return the node of each of its vertices."""
        line = case.layout.headers[run.header]
        first, last = line.vertices(run)
        nodes = {inlet: inlet_node}
        self.draft.inlets.append(inlet_node)
        for step, end in ((1, last), (-1, first)):
            for vertex in range(inlet + step, end + step, step):
                nodes[vertex] = self.ground_node(line.points[vertex], case.layout.raised)
                self.blank(nodes[vertex - step], nodes[vertex], line.span_um(vertex - step, vertex) / 1e6, case.tube)
        return nodes

    def lateral(self, case: Case, number: int, shape: LateralShape, start: int, law: EmitterLaw) -> None:
        """Add a lateral from its take-off node on."""
        line, frame, raised = case.line, case.layout.frame, case.layout.raised
        spacing, v = line.spacing, case.layout.plan.rows[shape.row].lines[shape.line].v
        # The take-off loses what its first tube of emitter line would show: the whole flow passes both.
        before, lead, loss_k = start, 0.0, case.scenario.limits.take_off_loss
        for part in shape.parts:
            if part.bypass is not None:
                before = self.bypass(case, part.bypass, before)
            for emitter in range(part.spacings):
                u = part.u + shape.side * (emitter + 0.5) * spacing
                node = self.ground_node(frame.to_plan((u, v)), raised)
                length = (spacing / 2.0 if emitter == 0 else spacing) + lead
                self.draft.tube(before, node, length, line.bore, line.roughness, loss_k, line.emitter_loss)
                self.draft.emitters.append((node, number, law))
                before, lead, loss_k = node, 0.0, 0.0
            lead = spacing / 2.0

    def bypass(self, case: Case, way: Bypass, before: int) -> int:
        """Add a bypass as long as it is cut and return the node at its end."""
        cut_m = case.tube_units(micrometres(way.length_m)) * case.tube_step_um / 1e6
        for place, length in way.legs:
            node = self.ground_node(place, case.layout.raised)
            self.blank(before, node, length * cut_m / way.length_m, case.tube)
            before = node
        return before

    def laterals(self, case: Case, first: int, indices: Sequence[int], header: int, nodes: dict[int, int]) -> None:
        """Add laterals of one header; `first` is the number of the feed's first lateral."""
        keys = case.layout.headers[header].keys
        vertex_of = {key: vertex for vertex, key in enumerate(keys)}
        law = emitter_law(case.line)
        for index in indices:
            shape = case.feed.laterals[index]
            node = nodes[vertex_of[shape.row, shape.line]]
            self.draft.take_offs.append(node)
            self.lateral(case, first + index, shape, node, law)

    def finish(self) -> PlacedNetwork:
        """Return the network."""
        draft = self.draft
        tubes = np.array(draft.tubes)
        laws = [law for _, _, law in draft.emitters]
        # The heights of all nodes at once: asked one by one they take longer than all the rest.
        heights = self.shapes.ground.heights(np.array(draft.places)) + np.array(draft.raised)
        heights[self.source] = self.shapes.source_z_m
        network = Network(
            z_m=heights,
            tube_from=tubes[:, 0].astype(np.int64),
            tube_to=tubes[:, 1].astype(np.int64),
            tube_length_m=tubes[:, 2],
            tube_bore_m=tubes[:, 3],
            tube_roughness_m=tubes[:, 4],
            tube_loss_k=tubes[:, 5],
            emitter_node=np.array([node for node, _, _ in draft.emitters]),
            emitter_k=np.array([law.k for law in laws]),
            emitter_exponent=np.array([law.exponent for law in laws]),
            emitter_opening_head_m=np.array([law.opening_head_m for law in laws]),
            emitter_upper_head_m=np.array([law.upper_head_m for law in laws]),
            inlet_node=self.source,
        )
        numbers = tuple(number for _, number, _ in draft.emitters)
        take_offs, laid = tuple(dict.fromkeys(draft.take_offs)), tuple(draft.laid)
        blank, inlets = np.array(draft.blank), tuple(draft.inlets)
        return PlacedNetwork(network, tuple(draft.places), numbers, laid, blank, take_offs, inlets)


def zone_network(case: Case, run: Run, rows: Collection[int] | None = None) -> PlacedNetwork:
    """Return the network of a zone that is one run of rows of one design, or some of its rows.

    Args:
        case: the design.
        run: its stretch of header.
        rows: the rows that run; all of the stretch unless given.

    Returns:
        The network; node 0 is the outlet of the head parts.
    """
    builder = _Builder(case.shapes)
    line = case.layout.headers[run.header]
    vertex = line.inlet(run)
    way = mainline_points(line, vertex)
    inlet = builder.mainline(builder.source, way, line.approach.rise_um / 1e6, case.tube, case.layout.raised)
    nodes = builder.header(case, run, vertex, inlet)
    laterals = [index for index in case.run_laterals(run) if rows is None or case.feed.laterals[index].row in rows]
    builder.laterals(case, 0, laterals, run.header, nodes)
    return builder.finish()


def laid_network(laying: Laying, zone: int) -> PlacedNetwork:
    """Return the network of a zone of a garden as it is laid.

    Args:
        laying: the garden.
        zone: number of the zone.

    Returns:
        The network; node 0 is the outlet of the head parts.
    """
    builder = _Builder(laying.shapes)
    ends = {SUPPLY: builder.source}
    raised = {header.part: laying.cases[header.block].layout.raised for header in laying.headers}
    for number in laying.zone_parts(zone):
        part = laying.mainline[number]
        climb = raised.get(number, 0.0)
        ends[number] = builder.mainline(ends[part.above], part.points, part.rise_um / 1e6, part.tube, climb)
    laterals: dict[int, list[int]] = {}
    for header, index in laying.zone_laterals(zone):
        laterals.setdefault(header, []).append(index)
    for number, indices in laterals.items():
        laid = laying.headers[number]
        case = laying.cases[laid.block]
        nodes = builder.header(case, laid.run, laid.inlet, ends[laid.part])
        builder.laterals(case, laying.lateral_starts[laid.block], indices, laid.run.header, nodes)
    return builder.finish()


def mainline_points(line: HeaderLine, inlet: int) -> tuple[Point, ...]:
    """Return the way of the mainline from the source to a header vertex: to the header, then alongside it."""
    return (*line.approach.points, *line.between(line.approach.vertex, inlet)[1:])

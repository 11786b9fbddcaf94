"""The pipe network of a zone, built from where the plan draws its tubes and nothing else."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from optimizer.geometry import Point
from optimizer.hydraulics import EmitterLaw, Network
from optimizer.plan import Header, Lateral, MainlinePart, Stretch, Zone
from optimizer.scenario.schema import BlankTube, EmitterLine
from optimizer.verification.facts import EMITTER_LINE, TOLERANCE_M, Facts, path_length, place_along
from optimizer.verification.tubes import bed_at, climb

GROUND_STEP_M = 0.5
"""Distance of the places at which the ground under the mainline is asked for [m]."""


@dataclass(frozen=True, eq=False)
class ZonePipes:
    """A zone's network and what its tubes and emitters belong to."""

    network: Network
    places: tuple[Point, ...]
    """of the nodes"""
    tube_product: tuple[str, ...]
    tube_blank: NDArray[np.bool_]
    tube_laid_m: NDArray[np.float64]
    """tube lengths without what stands for emitters and barbs"""
    emitter_lateral: tuple[str, ...]
    lowest_m: dict[str, float]
    """lowest place of each product in the zone [m]"""
    header_inlets: dict[str, int]
    """node at which each header is fed"""


def emitter_law(line: EmitterLine) -> EmitterLaw:
    """Return how the emitters of a product answer to pressure.

    Raises:
        HydraulicError: the values make no emitter.
    """
    low, high = (line.compensating.opens, line.compensating.up_to) if line.compensating else (0.0, math.inf)
    return EmitterLaw.from_rating(line.emitter_flow, line.at_pressure, line.law_exponent, line.cv, low, high)


class _Pipes:
    """Collects nodes, tubes and emitters."""

    def __init__(self, facts: Facts) -> None:
        self.facts = facts
        self.places: list[Point] = []
        self.z: list[float] = []
        self.tubes: list[tuple[int, int, float, float, float, float]] = []
        self.laid: list[float] = []
        self.product: list[str] = []
        self.emitters: list[tuple[int, str, EmitterLaw]] = []
        self.lowest: dict[str, float] = {}
        self.inlets: dict[str, int] = {}

    def node(self, at: Point, z: float) -> int:
        self.places.append(at)
        self.z.append(z)
        return len(self.z) - 1

    def tube(
        self, start: int, end: int, laid_m: float, item: EmitterLine | BlankTube, more_m: float = 0.0, k: float = 0.0
    ) -> None:
        self.tubes.append((start, end, laid_m + more_m, item.bore, item.roughness, k))
        self.laid.append(laid_m)
        self.product.append(item.name)
        self.low(item.name, min(self.z[start], self.z[end]))

    def low(self, product: str, z: float) -> None:
        self.lowest[product] = min(self.lowest.get(product, math.inf), z)

    def height(self, at: Point, bed: str | None) -> float:
        raised = self.facts.beds[bed].raised if bed else 0.0
        return self.facts.ground.height(at) + raised

    def finished(self, inlet: int) -> ZonePipes:
        ends = np.array([tube[:2] for tube in self.tubes], dtype=np.int64).reshape(-1, 2)
        length, bore, rough, k = np.array([tube[2:] for tube in self.tubes], dtype=np.float64).reshape(-1, 4).T
        laws = [law for _, _, law in self.emitters]
        network = Network(
            z_m=np.array(self.z),
            tube_from=ends[:, 0],
            tube_to=ends[:, 1],
            tube_length_m=length,
            tube_bore_m=bore,
            tube_roughness_m=rough,
            tube_loss_k=k,
            emitter_node=np.array([node for node, _, _ in self.emitters], dtype=np.int64),
            emitter_k=np.array([law.k for law in laws]),
            emitter_exponent=np.array([law.exponent for law in laws]),
            emitter_opening_head_m=np.array([law.opening_head_m for law in laws]),
            emitter_upper_head_m=np.array([law.upper_head_m for law in laws]),
            inlet_node=inlet,
        )
        blank = np.array([name in self.facts.tubes for name in self.product])
        names = tuple(name for _, name, _ in self.emitters)
        return ZonePipes(
            network,
            tuple(self.places),
            tuple(self.product),
            blank,
            np.array(self.laid),
            names,
            self.lowest,
            self.inlets,
        )


def zone_pipes(facts: Facts, zone: Zone) -> ZonePipes:
    """Return the network that feeds a zone, from the supply to its last emitter.

    Raises:
        HydraulicError: what is drawn makes no network.
    """
    pipes = _Pipes(facts)
    inlet = pipes.node(facts.scenario.supply.at, facts.source_height_m)
    joints = [inlet]
    for part in facts.plan.mainline:
        if zone.id in part.zone_ids:
            _add_mainline(pipes, part, joints)
    for name in zone.header_ids:
        _add_header(pipes, facts.headers[name], zone, joints)
    return pipes.finished(inlet)


def _joint(pipes: _Pipes, joints: list[int], at: Point, bed: str | None) -> int:
    """Return the joint of the mainline at a place, a new one if there is none."""
    for node in joints:
        if math.dist(pipes.places[node], at) <= TOLERANCE_M:
            return node
    joints.append(pipes.node(at, pipes.height(at, bed)))
    return joints[-1]


def _add_mainline(pipes: _Pipes, part: MainlinePart, joints: list[int]) -> None:
    beds = [bed_at(pipes.facts, at) for at in (part.points[0], part.points[-1])]
    start, end = (
        _joint(pipes, joints, at, bed) for at, bed in zip((part.points[0], part.points[-1]), beds, strict=True)
    )
    steps = max(1, math.ceil(path_length(part.points) / GROUND_STEP_M))
    for number in range(steps + 1):
        # Between a raised outlet and a raised bed the tube lies on the ground.
        at = place_along(part.points, path_length(part.points) * number / steps)
        pipes.low(part.tube, pipes.height(at, None))
    if start != end:
        laid = path_length(part.points) + climb(pipes.facts, part)
        pipes.tube(start, end, laid, pipes.facts.tubes[part.tube])


def _add_header(pipes: _Pipes, header: Header, zone: Zone, joints: list[int]) -> None:
    tube = pipes.facts.tubes[header.tube]
    mine = set(zone.lateral_ids)
    offs = [off for off in header.take_offs if mine & set(off.lateral_ids)]
    # The whole header stands under water, whichever of its rows are open.
    stops = sorted({header.inlet_um, *(off.distance_um for off in header.take_offs)})
    nodes = {header.inlet_um: _joint(pipes, joints, header.inlet_at, header.beds[0])}
    pipes.inlets[header.id] = nodes[header.inlet_um]
    for stop in stops:
        if stop not in nodes:
            at = place_along(header.points, stop / 1e6)
            nodes[stop] = pipes.node(at, pipes.height(at, header.beds[0]))
    for low, high in pairwise(stops):
        pipes.tube(nodes[low], nodes[high], (high - low) / 1e6, tube)
    for at in header.points:
        pipes.low(header.tube, pipes.height(at, header.beds[0]))
    for off in offs:
        for name in sorted(mine & set(off.lateral_ids)):
            _add_lateral(pipes, pipes.facts.laterals[name], nodes[off.distance_um])


def _add_lateral(pipes: _Pipes, lateral: Lateral, node: int) -> None:
    line = pipes.facts.lines[lateral.product]
    bed = pipes.facts.rows[lateral.row_id].bed
    law, k = emitter_law(line), pipes.facts.scenario.limits.take_off_loss
    bypass: Stretch | None = None
    for part in lateral.stretches:
        if part.kind != EMITTER_LINE:
            bypass = part
            continue
        if bypass is not None:
            node = _over_bypass(pipes, bypass, node, line, bed)
        node = _along_line(pipes, part, node, line, law, lateral.id, bed, k)
        bypass, k = None, 0.0


def _over_bypass(pipes: _Pipes, bypass: Stretch, node: int, line: EmitterLine, bed: str) -> int:
    """Half a spacing of line, then blank tube to where the line goes on."""
    start, end = bypass.points[0], bypass.points[-1]
    tube = pipes.facts.products[pipes.facts.pieces[bypass.piece_id].product]
    before, after = pipes.node(start, pipes.height(start, bed)), pipes.node(end, pipes.height(end, bed))
    pipes.tube(node, before, line.spacing / 2.0, line)
    pipes.tube(before, after, bypass.length_um / 1e6, tube)
    return after


def _along_line(
    pipes: _Pipes, part: Stretch, node: int, line: EmitterLine, law: EmitterLaw, lateral: str, bed: str, k: float
) -> int:
    """Emitters half a spacing after the start of a stretch and then every spacing; returns the last one's node."""
    for number in range(part.emitters):
        at = place_along(part.points, (number + 0.5) * line.spacing)
        here = pipes.node(at, pipes.height(at, bed))
        laid = line.spacing if number else line.spacing / 2.0
        pipes.tube(node, here, laid, line, line.emitter_loss, 0.0 if number else k)
        pipes.emitters.append((here, lateral, law))
        node = here
    end = part.points[-1]
    pipes.low(line.name, pipes.height(end, bed))
    return node

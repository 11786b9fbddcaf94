"""Zones judged by the exact network, emitter by emitter, against every limit of the scenario.

A figure so close to its limit that an interpolated table may read it on the other side is said to be on the edge.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from referee_layout import Layout

from optimizer.hydraulics import EmitterLaw, LeadIn, PumpCurve, TankCurve, TapCurve, solve_network, water
from optimizer.hydraulics import HeadPart as WaterPart
from optimizer.hydraulics import Regulator as WaterRegulator
from optimizer.hydraulics.assembly import HeadAssembly
from optimizer.hydraulics.build import NetworkBuilder
from optimizer.scenario.schema import EmitterLine, Regulator, Scenario

HOLDS, EDGE, BREAKS = 0, 1, 2
SHARE = 1e-3  # flows, velocities
VARIATION = 3e-4
HEAD_M = 0.02


def assembly(scenario: Scenario, regulator: Regulator | None, emptied: bool = False) -> HeadAssembly:
    """Return source and head parts in the order of flow, behind a full or a nearly empty tank."""
    supply, fluid = scenario.supply, water(scenario.limits.water_temperature)
    if supply.kind == "tap" and supply.open_flow is not None:
        source = TapCurve.from_bucket(supply.static_pressure, supply.open_flow)
    elif supply.kind == "tap":
        source = TapCurve.from_readings(
            supply.static_pressure, [item.flow for item in supply.readings], [item.pressure for item in supply.readings]
        )
    elif supply.kind == "pump" and len(supply.curve) == 1:
        flow, head = supply.curve[0].flow, supply.curve[0].pressure  # held up to that flow
        source = PumpCurve(np.array([0.0, flow]), np.array([head * (1 + 1e-9), head]), supply.least_flow, flow)
    elif supply.kind == "pump":
        points = sorted((item.flow, item.pressure) for item in supply.curve)
        source = PumpCurve(np.array([q for q, _ in points]), np.array([h for _, h in points]), supply.least_flow)
    else:
        tank = TankCurve(supply.outlet_height, supply.water_depth, supply.volume)
        source = tank.at(0.0) if emptied else tank
    parts = []
    if supply.lead_in:
        parts.append(
            LeadIn("lead-in", supply.lead_in.length, supply.lead_in.bore, supply.lead_in.roughness, fluid=fluid)
        )
    for part in supply.head_parts:
        most, rating = part.greatest_flow or math.inf, part.rated_pressure or math.inf
        parts.append(
            WaterPart(part.name, np.array([part.at_flow]), np.array([part.loss]), part.least_flow, most, rating)
        )
    if regulator:
        most = regulator.greatest_flow or math.inf
        parts.append(
            WaterRegulator(regulator.name, regulator.holds, regulator.needs_above, None, regulator.least_flow, most)
        )
    return HeadAssembly(source, tuple(parts))


def usable_flow(layout: Layout, head: HeadAssembly) -> float:
    """Return the flow zones may use, by halving on the supply's own curve [m3/s]."""
    supply = layout.scenario.supply
    wanted = layout.regulator.holds if layout.regulator else layout.line.at_pressure
    bands = [part.greatest_flow or math.inf for part in supply.head_parts]
    bands += [layout.regulator.greatest_flow or math.inf] if layout.regulator else []
    agreed = supply.greatest_flow or math.inf
    if supply.kind == "tank":
        return min([agreed, *bands])
    if supply.kind == "pump" and len(supply.curve) == 1:
        bands.append(supply.curve[0].flow)
    if head.outlet_head(0.0) < wanted:
        return 0.0
    low, high = 0.0, min([1.0, *bands])
    if head.outlet_head(high) >= wanted - 1e-9:
        low = high
    for _ in range(80):
        middle = (low + high) / 2
        low, high = (middle, high) if head.outlet_head(middle) >= wanted - 1e-9 * max(1.0, wanted) else (low, middle)
    return min(agreed, supply.margin * low)


def emitter_law(line: EmitterLine) -> EmitterLaw:
    """Return the emitter law: compensating emitters are flat inside their range unless an exponent is stated."""
    flat = line.compensating is not None and "exponent" not in line.model_fields_set
    low, high = (line.compensating.opens, line.compensating.up_to) if line.compensating else (0.0, math.inf)
    return EmitterLaw.from_rating(
        line.emitter_flow, line.at_pressure, 0.0 if flat else line.exponent, line.cv, low, high
    )


@dataclass(frozen=True)
class Judgement:
    """What a zone does."""

    verdict: int
    unevenness: float
    """flow variation in hundredths of a per cent"""
    worst: str


class Water:
    """Judges zones of one layout; each zone is solved once."""

    def __init__(self, layout: Layout) -> None:
        self.layout = layout
        self.head = assembly(layout.scenario, layout.regulator)
        self.fluid = water(layout.scenario.limits.water_temperature)
        self.usable = usable_flow(layout, self.head)
        self.known: dict[tuple[int, tuple[int, int], frozenset[int]], Judgement] = {}

    def judge(self, header: int, zone: tuple[int, int]) -> Judgement:
        """Judge the rows first to last of one header as a zone."""
        return self._known(header, zone, frozenset(range(zone[0], zone[1] + 1)))

    def judge_open(self, rows: frozenset[int]) -> Judgement:
        """Judge rows of the one header that are open while the others are shut off."""
        return self._known(0, (0, len(self.layout.plan.rows) - 1), rows)

    def _known(self, header: int, zone: tuple[int, int], rows: frozenset[int]) -> Judgement:
        if (header, zone, rows) not in self.known:
            found = self._judge(header, zone, rows, self.head)
            if self.layout.scenario.supply.kind == "tank":
                # It must run as well when the tank is nearly empty, and how even it is counts for that.
                empty = assembly(self.layout.scenario, self.layout.regulator, emptied=True)
                emptied = self._judge(header, zone, rows, empty)
                worst = max(found, emptied, key=lambda item: item.verdict)
                found = Judgement(worst.verdict, emptied.unevenness, worst.worst)
            self.known[header, zone, rows] = found
        return self.known[header, zone, rows]

    def _height(self, at: tuple[float, float], on_bed: bool = True) -> float:
        return self.layout.shapes.ground.height(at) + (self.layout.bed.raised if on_bed else 0.0)

    def _network(self, header: int, zone: tuple[int, int], rows: frozenset[int]):
        layout, tube, line = self.layout, self.layout.tube, self.layout.line
        way, build = layout.headers[header], NetworkBuilder()
        first, last, fed = way.ends(zone)
        blank: list[int] = []

        def lay(a: int, b: int, length: float) -> None:
            blank.append(build.tube(a, b, max(length, 1e-4), tube.bore, tube.roughness))

        step = 1 if fed >= way.start else -1
        main = (*way.approach, *(way.points[vertex] for vertex in range(way.start + step, fed + step, step)))
        node = build.node(layout.shapes.source_z_m)
        for number, (a, b) in enumerate(pairwise(main), 1):
            here = build.node(self._height(b, number >= len(way.approach) - 1))
            # At the end of the way to the bed it climbs from the ground to the soil.
            lay(node, here, math.dist(a, b) + (layout.bed.raised if number == len(way.approach) - 1 else 0.0))
            node = here
        nodes = {fed: node}
        for direction, end in ((1, last), (-1, first)):
            for vertex in range(fed + direction, end + direction, direction):
                nodes[vertex] = build.node(self._height(way.points[vertex]))
                lay(
                    nodes[vertex - direction],
                    nodes[vertex],
                    abs(way.at_um[vertex] - way.at_um[vertex - direction]) / 1e6,
                )
        law = emitter_law(line)
        for lateral in layout.laterals:
            if lateral.header == header and lateral.row in rows:
                self._lateral(build, lateral, nodes[lateral.vertex], law, lay)
        return build.network(0), blank, nodes

    def _lateral(self, build, lateral, before, law, lay):
        line, frame = self.layout.line, self.layout.field.frame
        loss = self.layout.scenario.limits.take_off_loss
        for part in lateral.parts:
            if part.way:
                if part is not lateral.parts[0]:  # the half spacing that closes the stretch before
                    end = build.node(self._height(part.way[0]))
                    build.tube(before, end, line.spacing / 2, line.bore, line.roughness)
                    before = end
                for a, b in pairwise(part.way):
                    node = build.node(self._height(b))
                    lay(before, node, math.dist(a, b))
                    before = node
            for number in range(part.spacings):
                at = frame.to_plan((part.u + lateral.side * (number + 0.5) * line.spacing, lateral.v))
                node = build.node(self._height(at))
                length = line.spacing * (1.0 if number else 0.5) + line.emitter_loss
                build.tube(before, node, length, line.bore, line.roughness, loss)
                build.emitter(node, law)
                before, loss = node, 0.0

    def _judge(self, header: int, zone: tuple[int, int], rows: frozenset[int], head: HeadAssembly) -> Judgement:
        layout, line, limits = self.layout, self.layout.line, self.layout.scenario.limits
        network, blank, nodes = self._network(header, zone, rows)
        solution = solve_network(network, head, self.fluid)
        q, h = solution.emitter_flow_m3_s, solution.emitter_head_m
        flow = float(solution.inlet_flow_m3_s)
        variation = float(1 - q.min() / q.max()) if q.max() > 0 else 1.0
        speed = np.abs(solution.tube_flow_m3_s[blank]) / (math.pi * layout.tube.bore**2 / 4)
        supply = layout.scenario.supply
        least = [part.least_flow for part in supply.head_parts] + (
            [layout.regulator.least_flow] if layout.regulator else []
        )
        least += [supply.least_flow] if supply.kind == "pump" else []
        low, high = line.least_pressure, line.greatest_pressure
        if line.compensating:
            low, high = max(low, line.compensating.opens), min(high, line.compensating.up_to)
        opened = [node for vertex, node in nodes.items() if layout.headers[header].rows[vertex] in rows]
        heads = [float(h.max()), *(float(solution.head_m[node]) for node in opened)]
        slacks = {
            "too much flow": (self.usable - flow, SHARE * max(self.usable, flow)),
            "too little flow": (flow - max(least, default=0.0), SHARE * flow if max(least, default=0.0) else 0.0),
            "low pressure": (float(h.min()) - low, HEAD_M),
            "high pressure": (high - float(h.max()), HEAD_M),
            "rating": (line.greatest_pressure - max(heads), HEAD_M),
            "too fast": (limits.velocity - float(speed.max()), SHARE * limits.velocity),
        }
        wanted = limits.flow_variation
        if wanted is None and limits.emission_uniformity is None:
            wanted = 0.10
        if wanted is not None:
            slacks["uneven"] = (wanted - variation, VARIATION)
        if limits.emission_uniformity is not None:
            share = (1 - 1.27 * line.cv) * float(q.min()) / max(float(q.mean()), 1e-12)
            slacks["not uniform"] = (share - limits.emission_uniformity, VARIATION)
        verdicts = {
            name: BREAKS if slack < -edge else (HOLDS if slack >= edge else EDGE)
            for name, (slack, edge) in slacks.items()
        }
        worst = max(verdicts, key=lambda name: verdicts[name])
        return Judgement(verdicts[worst], 1e4 * variation, worst if verdicts[worst] else "")


def stands(layout: Layout, head: HeadAssembly) -> int:
    """Judge the standing pressure with all valves shut: every product at its lowest place."""
    shut, height = float(head.shut_heads()[-1]), layout.shapes.ground.height
    z = layout.shapes.source_z_m
    raised = layout.bed.raised
    tube = [z, *(height(at) + raised for way in layout.headers for at in way.points)]
    line: list[float] = []
    for lateral in layout.laterals:
        for part in lateral.parts:
            ends = (part.u, part.u + lateral.side * part.spacings * layout.line.spacing)
            line += [height(layout.field.frame.to_plan((u, lateral.v))) + raised for u in ends]
            tube += [height(at) + raised for at in part.way]
    slack = min(
        layout.tube.greatest_pressure - (shut + z - min(tube)), layout.line.greatest_pressure - (shut + z - min(line))
    )
    return HOLDS if slack >= 1e-4 else (EDGE if slack >= -1e-4 else BREAKS)

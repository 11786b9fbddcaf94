"""Plans made by hand for the tests of the sheets: invented gardens, consistent in every length and id.

Pieces are put into rolls one after the other and emitter flows fall off linearly; nothing here comes from the
program's own solvers, so what the sheets say can be read back against it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from itertools import pairwise

from optimizer.plan import (
    PLAN_VERSION,
    Alternative,
    BedMap,
    BillLine,
    Certificate,
    Crossing,
    Cut,
    GoalValue,
    Header,
    HeadUnit,
    Lateral,
    MainlinePart,
    MapShape,
    Piece,
    Plan,
    Point,
    RollCuts,
    Row,
    SiteMap,
    Status,
    Stretch,
    TakeOff,
    Valve,
    Zone,
    ZoneNetwork,
    ZoneWater,
)

FOOT = 0.3048
LITRE_PER_HOUR = 1e-3 / 3600.0


@dataclass(frozen=True)
class RowSpec:
    """A row across the garden: from x0 to x1 at y; `gap` is what tube must be led around."""

    y: float
    x0: float
    x1: float
    crop: str
    lines: int = 1
    gap: tuple[float, float] | None = None


@dataclass(frozen=True)
class Garden:
    """What a plan is built from."""

    title: str
    unit_system: str
    currency: str
    outline: tuple[Point, ...]
    rows: tuple[RowSpec, ...]
    zones: tuple[int, ...]
    """rows in each zone, from the tap end"""
    header_x: float
    source_at: Point
    pitch_um: int
    """emitter spacing"""
    emitter_m3_s: float
    roll_um: int
    blank_roll_um: int
    usable_um: int
    line_name: str
    blank_name: str
    bore_m: float
    line_gap_m: float = 0.3
    slope: Point = (0.0, 0.0)
    shapes: tuple[MapShape, ...] = ()
    owned_um: tuple[int, ...] = ()
    warnings: tuple[str, ...] = ()
    fixed: tuple[int, ...] = field(default=())


def um(length_m: float) -> int:
    return round(length_m * 1_000_000)


def _whole(garden: Garden, length_m: float) -> int:
    return int(length_m * 1e6 + 0.5) // garden.pitch_um * garden.pitch_um


class _Builder:
    """Collects parts with ids while the garden is walked from the tap end."""

    def __init__(self, garden: Garden) -> None:
        self.garden = garden
        self.pieces: list[Piece] = []
        self.laterals: list[Lateral] = []
        self.headers: list[Header] = []

    def piece(self, product: str, purpose: str, serves: str, length_um: int) -> str:
        piece_id = f"P{len(self.pieces) + 1}"
        self.pieces.append(Piece(piece_id, product, purpose, serves, length_um))
        return piece_id

    def _stretch(self, kind: str, row_id: str, points: tuple[Point, ...], length_um: int) -> Stretch:
        garden = self.garden
        line = kind == "emitter line"
        product = garden.line_name if line else garden.blank_name
        piece = self.piece(product, "lateral" if line else "bypass", row_id, length_um)
        return Stretch(piece, kind, points, length_um, length_um // garden.pitch_um if line else 0)

    def _detour(self, row_id: str, a: float, b: float, y: float) -> Stretch:
        points = ((a, y), (a, y + 0.5), (b, y + 0.5), (b, y))
        return self._stretch("bypass", row_id, points, um(abs(b - a) + 1.0))

    def stretches(self, row_id: str, y: float, reach: float, gap: tuple[float, float] | None) -> tuple[Stretch, ...]:
        """Lay tube from the header to `reach`, around `gap` if it lies between."""
        garden = self.garden
        x, sign = garden.header_x, 1.0 if reach > garden.header_x else -1.0
        if gap is None or not min(x, reach) < gap[0] < max(x, reach):
            length = _whole(garden, abs(reach - x))
            return (self._stretch("emitter line", row_id, ((x, y), (x + sign * length / 1e6, y)), length),)
        near, far = (gap[0], gap[1]) if sign > 0 else (gap[1], gap[0])
        first = _whole(garden, abs(near - x))
        second = _whole(garden, abs(reach - far))
        stop = x + sign * first / 1e6
        return (
            self._stretch("emitter line", row_id, ((x, y), (stop, y)), first),
            self._detour(row_id, stop, far, y),
            self._stretch("emitter line", row_id, ((far, y), (far + sign * second / 1e6, y)), second),
        )

    def take_off(self, row_id: str, spec: RowSpec, line: int, zone: str, zero_y: float) -> TakeOff:
        garden = self.garden
        y = spec.y + (line - (spec.lines + 1) / 2.0) * garden.line_gap_m
        ids = []
        for side, reach in (("left", spec.x0), ("right", spec.x1)):
            if abs(reach - garden.header_x) * 1e6 < garden.pitch_um:
                continue
            parts = self.stretches(row_id, y, reach, spec.gap)
            emitter = [part for part in parts if part.kind == "emitter line"]
            lateral = Lateral(
                id=f"{row_id}-{line}{side[0].upper()}",
                row_id=row_id,
                line=line,
                zone_id=zone,
                header_id=f"H{zone}",
                side=side,
                product=garden.line_name,
                take_off_at=(garden.header_x, y),
                stretches=parts,
                length_um=sum(part.length_um for part in emitter),
                emitters=sum(part.emitters for part in emitter),
            )
            self.laterals.append(lateral)
            ids.append(lateral.id)
        return TakeOff(um(y - zero_y), (garden.header_x, y), row_id, tuple(ids))

    def header(self, zone: str, specs: list[tuple[str, RowSpec]]) -> None:
        garden = self.garden
        zero, end = specs[0][1].y - 0.4, specs[-1][1].y + 0.4
        take_offs = [
            self.take_off(row_id, spec, line, zone, zero) for row_id, spec in specs for line in range(1, spec.lines + 1)
        ]
        length = um(end - zero)
        piece = self.piece(garden.blank_name, "header", f"H{zone}", length)
        points = ((garden.header_x, zero), (garden.header_x, end))
        self.headers.append(
            Header(
                f"H{zone}",
                (zone,),
                ("Bed 1",),
                garden.blank_name,
                points,
                length,
                (piece,),
                0,
                points[0],
                tuple(take_offs),
            )
        )


def _rolls(garden: Garden, pieces: list[Piece], product: str, roll_um: int, price_ct: int, stem: str) -> list[RollCuts]:
    """Cut pieces in their order; a new roll is opened when the last one is too short."""
    stock = [*(garden.owned_um if stem == "T" else ())]
    rolls: list[tuple[int, bool, list[Cut]]] = [(length, True, []) for length in stock]
    for piece in (item for item in pieces if item.product == product):
        for length, _, cuts in rolls:
            if length - sum(cut.length_um for cut in cuts) >= piece.length_um:
                break
        else:
            cuts = []
            rolls.append((roll_um, False, cuts))
        mark = sum(cut.length_um for cut in cuts) + piece.length_um
        cuts.append(Cut(piece.id, 1, 1, piece.length_um, mark))
    answer = []
    for number, (length, owned, cuts) in enumerate(rolls, start=1):
        left = length - sum(cut.length_um for cut in cuts)
        price = 0 if owned else price_ct
        roll_id, stock_name = f"{stem}{number}", "owned piece" if owned else "roll"
        usable = left >= garden.usable_um
        answer.append(RollCuts(roll_id, product, stock_name, owned, length, price, tuple(cuts), left, usable))
    return answer


def _network(garden: Garden, header: Header, laterals: list[Lateral]) -> ZoneNetwork:
    """Inlet, one node for each take-off, then emitters at half, one and a half, ... spacings of each lateral."""
    nodes: list[Point] = [header.inlet_at]
    tubes: list[tuple[int, int, float]] = []
    emitters: list[tuple[int, str, float]] = []
    last = 0
    by_id = {lateral.id: lateral for lateral in laterals}
    count = sum(lateral.emitters for lateral in laterals)
    for take_off in header.take_offs:
        nodes.append(take_off.at)
        here = len(nodes) - 1
        tubes.append((last, here, math.dist(nodes[last], nodes[here])))
        last = here
        for lateral_id in take_off.lateral_ids:
            before = here
            for stretch in by_id[lateral_id].stretches:
                (ax, ay), (bx, by) = stretch.points[0], stretch.points[-1]
                for index in range(stretch.emitters):
                    share = (index + 0.5) / stretch.emitters
                    nodes.append((ax + share * (bx - ax), ay + share * (by - ay)))
                    node = len(nodes) - 1
                    tubes.append((before, node, math.dist(nodes[before], nodes[node])))
                    emitters.append((node, lateral_id, garden.emitter_m3_s * (1.0 - 0.06 * len(emitters) / count)))
                    before = node
    height = [garden.slope[0] * x + garden.slope[1] * y for x, y in nodes]
    tube_count = len(tubes)
    emitter_count = len(emitters)
    flow = tuple(item[2] for item in emitters)
    return ZoneNetwork(
        node_x_m=tuple(x for x, _ in nodes),
        node_y_m=tuple(y for _, y in nodes),
        node_z_m=tuple(height),
        tube_from=tuple(item[0] for item in tubes),
        tube_to=tuple(item[1] for item in tubes),
        tube_length_m=tuple(item[2] for item in tubes),
        tube_bore_m=(garden.bore_m,) * tube_count,
        tube_roughness_m=(1.5e-6,) * tube_count,
        tube_loss_k=(0.0,) * tube_count,
        emitter_node=tuple(item[0] for item in emitters),
        emitter_lateral=tuple(item[1] for item in emitters),
        emitter_k=tuple(value / math.sqrt(10.0) for value in flow),
        emitter_exponent=(0.5,) * emitter_count,
        emitter_opening_m=(0.0,) * emitter_count,
        emitter_upper_m=(0.0,) * emitter_count,
        inlet_node=0,
        inlet_head_m=10.0,
        viscosity_m2_s=1.0e-6,
        node_head_m=(10.0,) * len(nodes),
        emitter_flow_m3_s=flow,
    )


def _zone(garden: Garden, header: Header, laterals: list[Lateral], row_ids: tuple[str, ...], usable: float) -> Zone:
    network = _network(garden, header, laterals)
    flow = sum(network.emitter_flow_m3_s)
    least, greatest = min(network.emitter_flow_m3_s), max(network.emitter_flow_m3_s)
    tube = sum(network.tube_length_m) * math.pi / 4.0 * garden.bore_m**2
    water = ZoneWater(
        flow_m3_s=flow,
        usable_flow_m3_s=usable,
        source_head_m=30.0,
        inlet_head_m=10.0,
        least_flow_m3_s=least,
        greatest_flow_m3_s=greatest,
        least_head_m=8.9,
        greatest_head_m=10.0,
        flow_variation=(greatest - least) / greatest,
        emission_uniformity=0.91,
        greatest_velocity_m_s=0.9,
        static_head_m=14.0,
        fill_volume_m3=tube,
        binds="the usable flow of the tap",
    )
    ids = tuple(lateral.id for lateral in laterals)
    return Zone(header.zone_ids[0], row_ids, ids, (header.id,), garden.line_name, water, network)


def _bill(garden: Garden, rolls: list[RollCuts], laterals: int, zones: int) -> tuple[BillLine, ...]:
    us = garden.unit_system == "us"
    size = "outside 0.700 in, bore 0.600 in" if us else "outside 16.0 mm, bore 13.6 mm"
    lines = []
    for product in (garden.line_name, garden.blank_name):
        mine = [roll for roll in rolls if roll.product == product]
        price = max((roll.price_ct for roll in mine), default=0)
        owned = sum(roll.owned for roll in mine)
        lines.append(
            BillLine("tube", product, size, "", len(mine), owned, 0, "roll", price, (len(mine) - owned) * price)
        )
    spare = max(2, math.ceil(laterals * 0.1))
    lines += [
        BillLine("ends", "end sleeve", size, garden.line_name, laterals, 4, spare, "", 30, (laterals - 4) * 30),
        BillLine(
            "take-offs", "take-off with lock", "hole 4 mm", garden.blank_name, laterals, 0, spare, "", 85, laterals * 85
        ),
        BillLine("valves", "zone valve", "3/4 in thread", "mainline", zones, 0, 0, "", 2450, zones * 2450),
        BillLine("stakes and plugs", "goof plug", "hole 4 mm", garden.blank_name, 0, 0, spare, "", 15, 0),
        BillLine("stakes and plugs", "wire stake", "15 cm", "any tube", laterals * 4, 0, 8, "", 12, laterals * 48),
        BillLine("head parts", "screen filter 130 micron", "3/4 in thread", "tap", 1, 1, 0, "", 1800, 0),
    ]
    return tuple(lines)


def _certificate(money_ct: int) -> Certificate:
    return Certificate(
        status=Status.PROVEN_BEST,
        goals=(
            GoalValue("requests met", 100, 100, "percent", True),
            GoalValue("money", money_ct, money_ct, "ct", True),
            GoalValue("waste", 600_000, 400_000, "um", False),
        ),
        choice_set=(("row direction", "0, 90 degrees"), ("header place", "every 0.5 m"), ("product", "2 lines")),
        designs=84,
        solved=7,
        ruled_out=(("dearer than the plan by the bound on material", 61), ("the tap cannot feed it", 16)),
        seed=1,
        limits=(("time", "60 s"),),
        versions=(("drip-layout-optimizer", "0.1.0"),),
        reproducible=True,
    )


def _alternatives(money_ct: int) -> tuple[Alternative, ...]:
    return (
        Alternative(
            "rows along", "along the long side", ("end",), "tape", "16 mm", 2, 9, 18, 120.0, 118.0, money_ct + 2310,
            1_500_000, 900_000, 44, 0.08, "", True, "costs 23.10 more: one more roll",
        ),
        Alternative(
            "header in the middle", "across", ("middle",), "tape", "20 mm", 1, 9, 18, 120.0, 118.0, money_ct + 900,
            1_200_000, 900_000, 40, 0.05, "", False, "costs at least 9.00 more by the bound",
        ),
    )  # fmt: skip


def _valves(garden: Garden, headers: list[Header]) -> tuple[Valve, ...]:
    """One valve at the tap for a single zone, else one before each header."""
    if len(headers) == 1:
        return (Valve("V1", headers[0].zone_ids, garden.source_at, ("M1",), (), garden.blank_name),)
    return tuple(
        Valve(f"V{number}", header.zone_ids, header.inlet_at, (), (header.id,), header.tube)
        for number, header in enumerate(headers, start=1)
    )


def build(garden: Garden) -> Plan:
    """Lay the garden out row by row, zone by zone."""
    builder = _Builder(garden)
    named = [(f"R{number}", spec) for number, spec in enumerate(garden.rows, start=1)]
    zones, start = [], 0
    for number, count in enumerate(garden.zones):
        builder.header("ABCDEFGH"[number], named[start : start + count])
        start += count
    mainline_points = (garden.source_at, builder.headers[0].points[0], builder.headers[-1].points[0])
    mainline_um = um(sum(math.dist(a, b) for a, b in pairwise(mainline_points)))
    piece = builder.piece(garden.blank_name, "mainline", "M1", mainline_um)
    mainline = MainlinePart(
        "M1",
        garden.blank_name,
        mainline_points,
        mainline_um,
        (piece,),
        tuple("ABCDEFGH"[: len(garden.zones)]),
        tuple(Crossing(shape.name, shape.points[0]) for shape in garden.shapes if shape.kind == "path"),
    )
    rolls = _rolls(garden, builder.pieces, garden.line_name, garden.roll_um, 3890, "T")
    rolls += _rolls(garden, builder.pieces, garden.blank_name, garden.blank_roll_um, 2100, "B")
    usable = 1.5 * max(
        sum(lateral.emitters for lateral in builder.laterals if (lateral.zone_id,) == header.zone_ids)
        for header in builder.headers
    )
    start = 0
    for header, count in zip(builder.headers, garden.zones, strict=True):
        mine = [lateral for lateral in builder.laterals if lateral.header_id == header.id]
        ids = tuple(row_id for row_id, _ in named[start : start + count])
        zones.append(_zone(garden, header, mine, ids, usable * garden.emitter_m3_s))
        start += count
    bill = _bill(garden, rolls, len(builder.laterals), len(zones))
    rows = tuple(
        Row(row_id, "Bed 1", spec.crop, (spec.x0, spec.y), (spec.x1, spec.y), spec.lines, 0.6, spec.x1 - spec.x0, False)
        for row_id, spec in named
    )
    total = sum(line.cost_ct for line in bill)
    return Plan(
        version=PLAN_VERSION,
        title=garden.title,
        unit_system=garden.unit_system,
        currency=garden.currency,
        site=SiteMap(garden.outline, garden.shapes, garden.source_at, "tap", 0.0, garden.slope),
        beds=(BedMap("Bed 1", garden.outline, 0.0, 0.0, "across", ("west",)),),
        rows=rows,
        laterals=tuple(builder.laterals),
        headers=tuple(builder.headers),
        mainline=(mainline,),
        valves=_valves(garden, builder.headers),
        zones=tuple(zones),
        pieces=tuple(builder.pieces),
        rolls=tuple(rolls),
        bill=bill,
        head_units=(
            HeadUnit("battery timer", "timer", "one outlet"),
            HeadUnit("hose breaker", "backflow", "never before a valve that holds pressure on it"),
            HeadUnit("screen filter 130 micron", "filter", ""),
            HeadUnit("regulator 1 bar" if garden.unit_system == "metric" else "regulator 15 psi", "regulator", ""),
        ),
        not_watered=("R3: 0.30 m at the west end, shorter than one emitter spacing",),
        warnings=garden.warnings,
        assumptions=("soil: loam", "water temperature: 20 degC"),
        alternatives=_alternatives(total),
        certificate=_certificate(total),
    )


def allotment() -> Plan:
    """A metric allotment with a slanted edge, a path and an apple tree in two of nine rows."""
    ys = [0.6 + 0.75 * index for index in range(9)]
    tree = (3.0, 4.4)
    rows = tuple(
        RowSpec(y, 0.4, 9.3 - 0.21 * index, "tomato" if index < 4 else "bean", gap=tree if index in (4, 5) else None)
        for index, y in enumerate(ys)
    )
    shapes = (
        MapShape("apple tree", "obstacle", ((3.0, 3.4), (4.4, 3.4), (4.4, 4.5), (3.0, 4.5)), "both"),
        MapShape("middle path", "path", ((0.0, -0.4), (9.7, -0.4)), ""),
    )
    return build(
        Garden(
            title="Allotment 14, the <slanted> one & its $5 tree",
            unit_system="metric",
            currency="EUR",
            outline=((0.0, 0.0), (9.7, 0.0), (7.8, 7.2), (0.0, 7.2)),
            rows=rows,
            zones=(9,),
            header_x=0.4,
            source_at=(-1.2, -1.0),
            pitch_um=300_000,
            emitter_m3_s=1.6 * LITRE_PER_HOUR,
            roll_um=25_000_000,
            blank_roll_um=25_000_000,
            usable_um=1_500_000,
            line_name="dripline 16 mm, 30 cm, 1.6 L/h",
            blank_name="blank tube 16 mm",
            bore_m=0.0136,
            slope=(0.01, 0.03),
            shapes=shapes,
            owned_um=(9_400_000,),
            warnings=("Beans are sown: emitters 30 cm apart leave dry gaps while seeds come up.",),
        )
    )


def backyard() -> Plan:
    """A level US backyard, three beds' worth of double rows from a header at the west edge."""
    rows = tuple(RowSpec((3.0 + 4.0 * index) * FOOT, 2.0 * FOOT, 22.0 * FOOT, "pepper", lines=2) for index in range(5))
    return build(
        Garden(
            title="Backyard behind the garage",
            unit_system="us",
            currency="$",
            outline=((0.0, 0.0), (24 * FOOT, 0.0), (24 * FOOT, 21 * FOOT), (0.0, 21 * FOOT)),
            rows=rows,
            zones=(3, 2),
            header_x=2.0 * FOOT,
            source_at=(-6 * FOOT, 0.0),
            pitch_um=304_800,
            emitter_m3_s=0.6 * 3.785411784 * LITRE_PER_HOUR,
            roll_um=30_480_000,
            blank_roll_um=30_480_000,
            usable_um=1_828_800,
            line_name="1/2 in dripline, 12 in, 0.6 gal/h",
            blank_name="1/2 in blank tube",
            bore_m=0.01372,
            line_gap_m=1.0 * FOOT,
        )
    )


def market_garden(rows: int = 40) -> Plan:
    """Many rows with several zones, fed both ways from a header in the middle."""
    specs = tuple(RowSpec(1.0 + 1.2 * index, 0.5, 24.5, "salad", lines=2) for index in range(rows))
    zones = (rows // 4,) * 3 + (rows - 3 * (rows // 4),)
    return build(
        Garden(
            title="Market garden, north field",
            unit_system="metric",
            currency="EUR",
            outline=((0.0, 0.0), (25.0, 0.0), (25.0, 1.2 * rows + 1.0), (0.0, 1.2 * rows + 1.0)),
            rows=specs,
            zones=zones,
            header_x=12.5,
            source_at=(12.5, -3.0),
            pitch_um=200_000,
            emitter_m3_s=1.0 * LITRE_PER_HOUR,
            roll_um=500_000_000,
            blank_roll_um=50_000_000,
            usable_um=2_000_000,
            line_name="tape 16 mm, 20 cm, 1.0 L/h",
            blank_name="blank tube 40 mm",
            bore_m=0.0159,
            slope=(0.0, 0.01),
        )
    )


PLANS = {"allotment": allotment, "backyard": backyard, "market garden": market_garden}

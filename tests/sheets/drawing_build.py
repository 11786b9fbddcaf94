"""Builds whole plans out of a few shapes: lengths are real, water figures merely plausible.

Nothing here is an expected value; the tests only ask that such plans are drawn rightly.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from optimizer.plan import (
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


@dataclass(frozen=True)
class Side:
    """Laterals of a row on one side of the header, as way points; bypasses given by their place in the way."""

    way: tuple[Point, ...]
    bypass: tuple[int, ...] = ()
    """segments of the way (0 the first) that are blank tube"""
    header: str = ""
    """where it leaves from, if not from the header of the row"""


@dataclass(frozen=True)
class RowSpec:
    crop: str
    zone: str
    header: str
    take_off: Point
    sides: tuple[Side, ...]
    spacing: float
    lines: int = 1
    bed: str = "Plot"
    id: str = ""
    """numbered through the garden if empty"""


@dataclass(frozen=True)
class HeaderSpec:
    id: str
    zone: str
    points: tuple[Point, ...]
    bed: str = "Plot"


@dataclass(frozen=True)
class Ground:
    title: str
    unit_system: str
    outline: tuple[Point, ...]
    shapes: tuple[MapShape, ...]
    source: Point
    beds: tuple[BedMap, ...]
    rows: tuple[RowSpec, ...]
    headers: tuple[HeaderSpec, ...]
    mainline: tuple[tuple[tuple[Point, ...], tuple[str, ...], tuple[Crossing, ...]], ...]
    uphill: Point = (0.0, 0.0)
    north: float = 0.0
    pitch: float = 0.3
    product: str = "tape 16 mm, 30 cm, 1.0 L/h"
    roll_m: float = 100.0
    source_kind: str = "tap"
    head: tuple[str, ...] = ("vacuum breaker", "timer", "screen filter", "pressure regulator 0.7 bar")
    usable: float = 3.0e-4


def _length(points: Sequence[Point]) -> float:
    return sum(math.dist(a, b) for a, b in pairwise(points))


def _shift(points: Sequence[Point], offset: float) -> tuple[Point, ...]:
    """Move a way sideways (to the left) by the offset of its first segment's normal."""
    (x0, y0), (x1, y1) = points[0], points[-1]
    size = math.dist((x0, y0), (x1, y1))
    nx, ny = -(y1 - y0) / size, (x1 - x0) / size
    return tuple((x + nx * offset, y + ny * offset) for x, y in points)


def _cut_back(points: Sequence[Point], pitch: float) -> tuple[tuple[Point, ...], int]:
    """Shorten the last segment so that the way is a whole number of emitter spacings."""
    count = max(1, math.floor(_length(points) / pitch + 1e-9))
    over = _length(points) - count * pitch
    (xa, ya), (xb, yb) = points[-2], points[-1]
    size = math.dist((xa, ya), (xb, yb))
    t = (size - over) / size
    return (*points[:-1], (xa + (xb - xa) * t, ya + (yb - ya) * t)), count


def _stretches(side: Side, offset: float, lateral_id: str, pitch: float) -> tuple[Stretch, ...]:
    way, out = _shift(side.way, offset), []
    groups: list[tuple[bool, list[Point]]] = []
    for index in range(len(way) - 1):
        blank = index in side.bypass
        if groups and groups[-1][0] == blank:
            groups[-1][1].append(way[index + 1])
        else:
            groups.append((blank, [way[index], way[index + 1]]))
    for run, (blank, points) in enumerate(groups, start=1):
        piece = f"{lateral_id}{'b' if blank else ''}{run if len(groups) > 1 else ''}"
        if blank:
            out.append(Stretch(piece, "bypass", tuple(points), round(_length(points) * 1e6), 0))
        else:
            kept, count = _cut_back(points, pitch)
            out.append(Stretch(piece, "emitter line", kept, round(count * pitch * 1e6), count))
    return tuple(out)


def _laterals(ground: Ground) -> tuple[list[Row], list[Lateral]]:
    rows, laterals = [], []
    for number, spec in enumerate(ground.rows, start=1):
        row_id, planted = spec.id or f"R{number}", 0.0
        for line in range(1, spec.lines + 1):
            offset = (line - (spec.lines + 1) / 2) * 0.3
            for which, side in enumerate(spec.sides):
                header = side.header or spec.header
                lateral_id = f"{row_id}-{line}{'ab'[which] if len(spec.sides) > 1 else ''}"
                stretches = _stretches(side, offset, lateral_id, ground.pitch)
                length = sum(part.length_um for part in stretches if part.kind == "emitter line")
                emitters = sum(part.emitters for part in stretches)
                planted += length / 1e6 / spec.lines
                laterals.append(
                    Lateral(
                        lateral_id, row_id, line, spec.zone, header, ("left", "right")[which], ground.product,
                        stretches[0].points[0], stretches, length, emitters,
                    )
                )  # fmt: skip
        start = spec.sides[0].way[-1] if len(spec.sides) > 1 else spec.take_off
        if len(spec.sides) > 1 and spec.sides[1].header:
            start = spec.take_off
        end = spec.sides[-1].way[0 if spec.sides[-1].header else -1]
        rows.append(Row(row_id, spec.bed, spec.crop, start, end, spec.lines, spec.spacing, planted, False))
    return rows, laterals


def _along(points: Sequence[Point], at: Point) -> float:
    """Running distance along a polyline of the place nearest to a point."""
    best, run = (math.inf, 0.0), 0.0
    for a, b in pairwise(points):
        size = math.dist(a, b)
        t = max(0.0, min(1.0, ((at[0] - a[0]) * (b[0] - a[0]) + (at[1] - a[1]) * (b[1] - a[1])) / size**2))
        place = (a[0] + (b[0] - a[0]) * t, a[1] + (b[1] - a[1]) * t)
        best = min(best, (math.dist(place, at), run + t * size))
        run += size
    return best[1]


def _headers(ground: Ground, rows: Sequence[Row], laterals: Sequence[Lateral]) -> list[Header]:
    out = []
    for spec in ground.headers:
        takes = []
        for row, row_spec in zip(rows, ground.rows, strict=True):
            mine = [lateral for lateral in laterals if lateral.row_id == row.id and lateral.header_id == spec.id]
            if mine:
                place = row_spec.take_off
                if mine[0].header_id != row_spec.header:
                    place = mine[0].take_off_at
                um = round(_along(spec.points, place) * 1e6)
                takes.append(TakeOff(um, place, row.id, tuple(item.id for item in mine)))
        takes.sort(key=lambda take: take.distance_um)
        out.append(
            Header(
                spec.id, (spec.zone,), (spec.bed,), "blank tube 20 mm", spec.points, round(_length(spec.points) * 1e6),
                (f"{spec.id}-p",), 0, spec.points[0], tuple(takes),
            )
        )  # fmt: skip
    return out


def valves(headers: Sequence[Header], mainline: Sequence[MainlinePart]) -> list[Valve]:
    """A valve for every zone where mainline begins to feed it alone, else before its header."""
    out = []
    for zone in sorted({zone for header in headers for zone in header.zone_ids}):
        own = [part for part in mainline if part.zone_ids == (zone,)]
        first = [part for part in own if all(part.points[0] != other.points[-1] for other in own)]
        if first:
            out += [Valve(f"V{zone}{k}", (zone,), p.points[0], (p.id,), (), p.tube) for k, p in enumerate(first)]
        else:
            mine = [header for header in headers if zone in header.zone_ids]
            out += [Valve(f"V{zone}{k}", (zone,), h.inlet_at, (), (h.id,), h.tube) for k, h in enumerate(mine)]
    return out


def _network(ground: Ground, laterals: Sequence[Lateral]) -> ZoneNetwork:
    """Nodes at every emitter with a head that falls along the lateral; the tubes are left out."""
    xs, ys, zs, heads, flows, of_lateral = [], [], [], [], [], []
    for lateral in laterals:
        run = 0.0
        for part in lateral.stretches:
            span = part.length_um / 1e6
            for k in range(part.emitters):
                along = (k + 0.5) * ground.pitch
                x, y = _point_at(part.points, along)
                z = x * ground.uphill[0] + y * ground.uphill[1]
                reach = math.dist((x, y), ground.source)
                head = 7.0 - z - 0.9 * (1 - math.exp(-reach / 40)) - 0.035 * (run + along)
                xs.append(x), ys.append(y), zs.append(z), heads.append(head)
                flows.append(1.0 / 3.6e6 * math.sqrt(max(head, 0.0) / 7.0))
                of_lateral.append(lateral.id)
            run += span
    count = len(xs)
    return ZoneNetwork(
        tuple(xs), tuple(ys), tuple(zs), (), (), (), (), (), (), tuple(range(count)), tuple(of_lateral),
        (1.05e-7,) * count, (0.5,) * count, (0.0,) * count, (0.0,) * count, 0, 7.0, 1.0e-6,
        tuple(heads), tuple(flows),
    )  # fmt: skip


def _point_at(points: Sequence[Point], along: float) -> Point:
    for a, b in pairwise(points):
        size = math.dist(a, b)
        if along <= size + 1e-9:
            return a[0] + (b[0] - a[0]) * along / size, a[1] + (b[1] - a[1]) * along / size
        along -= size
    return points[-1]


def _zones(ground: Ground, rows: Sequence[Row], laterals: Sequence[Lateral]) -> list[Zone]:
    out = []
    for zone_id in sorted({lateral.zone_id for lateral in laterals}):
        mine = [lateral for lateral in laterals if lateral.zone_id == zone_id]
        net = _network(ground, mine)
        low, high = min(net.emitter_flow_m3_s), max(net.emitter_flow_m3_s)
        water = ZoneWater(
            sum(net.emitter_flow_m3_s), ground.usable, 28.0, 7.0, low, high, min(net.node_head_m),
            max(net.node_head_m), 1 - low / high, 92.0, 0.9, 7.0, 0.02, "flow of the tap",
        )  # fmt: skip
        row_ids = tuple(row.id for row in rows if any(item.row_id == row.id for item in mine))
        headers = tuple(spec.id for spec in ground.headers if spec.zone == zone_id)
        out.append(Zone(zone_id, row_ids, tuple(item.id for item in mine), headers, ground.product, water, net))
    return out


def _pieces(laterals: Iterable[Lateral], headers: Iterable[Header], mainline: Iterable[MainlinePart]) -> list[Piece]:
    out = []
    for lateral in laterals:
        for part in lateral.stretches:
            bypass = part.kind == "bypass"
            product = "blank tube 16 mm" if bypass else lateral.product
            out.append(Piece(part.piece_id, product, "bypass" if bypass else "lateral", lateral.row_id, part.length_um))
    out += [Piece(h.piece_ids[0], h.tube, "header", h.id, h.length_um) for h in headers]
    out += [Piece(m.piece_ids[0], m.tube, "mainline", m.id, m.length_um) for m in mainline]
    return out


def _roll(number: int, product: str, roll_um: int, owned: bool, pieces: Sequence[Piece]) -> RollCuts:
    mark, cuts = 0, []
    for piece in pieces:
        mark += piece.length_um
        cuts.append(Cut(piece.id, 1, 1, piece.length_um, mark))
    left = roll_um - mark
    return RollCuts(
        f"{number}", product, "owned piece" if owned else f"{roll_um // 1_000_000} m roll", owned, roll_um, 2400,
        tuple(cuts), left, left >= 2_000_000,
    )  # fmt: skip


def _rolls(pieces: Sequence[Piece], roll_m: float) -> list[RollCuts]:
    """First fit, longest first."""
    out: list[RollCuts] = []
    for product in sorted({piece.product for piece in pieces}):
        mine = sorted((p for p in pieces if p.product == product), key=lambda p: (-p.length_um, p.id))
        roll_um = round((roll_m if "tape" in product else max(roll_m / 2, mine[0].length_um / 1e6 + 1)) * 1e6)
        bins: list[list[Piece]] = []
        for piece in mine:
            for group in bins:
                if sum(p.length_um for p in group) + piece.length_um <= roll_um:
                    group.append(piece)
                    break
            else:
                bins.append([piece])
        out += [_roll(len(out) + k + 1, product, roll_um, False, group) for k, group in enumerate(bins)]
    return out


def build(ground: Ground) -> Plan:
    """Make the whole plan out of its shapes."""
    rows, laterals = _laterals(ground)
    headers = _headers(ground, rows, laterals)
    mainline = [
        MainlinePart(f"M{k}", "blank tube 25 mm", way, round(_length(way) * 1e6), (f"M{k}-p",), zones, crossings)
        for k, (way, zones, crossings) in enumerate(ground.mainline, start=1)
    ]
    pieces = _pieces(laterals, headers, mainline)
    certificate = Certificate(
        Status.PROVEN_BEST, (GoalValue("money", 9400, 9400, "ct", True),), (("row angle", "along, across"),),
        8, 2, (("needs more flow than the tap gives", 6),), 1, (), (("drawing test", "1"),), True,
    )  # fmt: skip
    units = tuple(HeadUnit(name, name.split(maxsplit=1)[0], "") for name in ground.head)
    return Plan(
        1, ground.title, ground.unit_system, "EUR" if ground.unit_system == "metric" else "USD",
        SiteMap(ground.outline, ground.shapes, ground.source, ground.source_kind, ground.north, ground.uphill),
        ground.beds, tuple(rows), tuple(laterals), tuple(headers), tuple(mainline), tuple(valves(headers, mainline)),
        tuple(_zones(ground, rows, laterals)), tuple(pieces), tuple(_rolls(pieces, ground.roll_m)),
        (BillLine("tube", "tape", "outside 16 mm", "", 2, 0, 0, "roll", 2400, 4800),), units,
        (), (), (), (), certificate,
    )  # fmt: skip

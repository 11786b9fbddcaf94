"""A small garden and a plan for it, both made by hand; every number is worked out in the comments.

Bed 10 m x 4 m, three rows along x at y = 1, 2, 3 m; the third is led around a post. All is level. The emitters
compensate, so each gives just 2 L/h, and the tubes are so wide that friction stays below a few millimetres of head
(laminar flow: 32 nu v L / (g d^2), 0.002 m in the mainline and 0.004 m in a lateral).
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from optimizer.plan import (
    PLAN_VERSION,
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
from optimizer.scenario import Scenario, parse_scenario

LINE, TUBE = "dripline 50 cm", "blank tube 32 mm"

TEXT = """
title = "Small garden"
units = "metric"

[[obstacles]]
name = "post"
outline = ["4.6 m, 2.7 m", "5.4 m, 2.7 m", "5.4 m, 3.3 m", "4.6 m, 3.3 m"]

[[paths]]
name = "garden path"
outline = ["-0.6 m, 0 m", "-0.3 m, 0 m", "-0.3 m, 4 m", "-0.6 m, 4 m"]

[[barriers]]
name = "wall"
line = "12 m, 0 m to 12 m, 4 m"

[supply]
kind = "tap"
at = "-1 m, 1 m"
static_pressure = "30 m head"
open_flow = "1 L/s"

[[supply.head_parts]]
name = "filter"
kind = "filter"
loss = "1 m head"
at_flow = "0.5 L/s"
price = 14.00

[[supply.regulators]]
name = "regulator"
holds = "10 m head"
needs_above = "3.5 m head"
least_flow = "60 L/h"
price = 12.50

[[beds]]
name = "bed"
rectangle = "10 m x 4 m"

[[beds.crops]]
name = "bean"
row_spacing = "50 cm"
rows = 2

[[beds.crops]]
name = "leek"
row_spacing = "1 m"
rows = 1

[[emitter_lines]]
name = "dripline 50 cm"
bore = "13.8 mm"
spacing = "50 cm"
flow = "2 L/h"
at_pressure = "10 m head"
exponent = 0.0
compensating = { opens = "5 m head", up_to = "30 m head" }
greatest_pressure = "25 m head"
longest_run = "9.5 m"
rolls = [{ length = "50 m", price = 20.00, available = 1 }]
owned = ["5 m"]

[[blank_tubes]]
name = "blank tube 32 mm"
bore = "25 mm"
greatest_pressure = "40 m head"
rolls = [{ length = "10 m", price = 9.00 }]

[[fittings]]
kind = "take-off"
price = 1.10

[limits]
joints_per_lateral = 1
"""

EMITTER_M3_S = 2e-3 / 3600.0  # 2 L/h


def small_scenario() -> Scenario:
    return parse_scenario(TEXT, "small")


def _line_stretch(piece: str, x: float, y: float, emitters: int) -> Stretch:
    # 0.5 m of line for every emitter
    points = ((x, y), (x + 0.5 * emitters, y))
    return Stretch(piece, "emitter line", points, 500_000 * emitters, emitters)


def _lateral(number: int, stretches: tuple[Stretch, ...], emitters: int) -> Lateral:
    at, row = (0.15, float(number)), f"R{number}"
    return Lateral(row, row, 1, "A", "HA", "right", LINE, at, stretches, 500_000 * emitters, emitters)


def _laterals() -> tuple[Lateral, ...]:
    # Rows run from 0.15 to 9.85: 9.7 m hold 19 spacings of 0.5 m = 9.5 m.
    # Before the post line may reach 4.6 - 0.15 = 4.45: 4.3 m hold 8 spacings = 4.0 m, to x = 4.15;
    # behind it from 5.4 + 0.15 = 5.55 to 9.85: 4.3 m hold 8 spacings again, to x = 9.55.
    # The way around: 0.45 up, 1.4 along, 0.45 down = 2.3 m; it turns 0.15 m above the post.
    way = ((4.15, 3.0), (4.15, 3.45), (5.55, 3.45), (5.55, 3.0))
    around = Stretch("R3-by", "bypass", way, 2_300_000, 0)
    third = (_line_stretch("R3-1", 0.15, 3.0, 8), around, _line_stretch("R3-2", 5.55, 3.0, 8))
    first, second = _line_stretch("R1", 0.15, 1.0, 19), _line_stretch("R2", 0.15, 2.0, 19)
    return _lateral(1, (first,), 19), _lateral(2, (second,), 19), _lateral(3, third, 16)


def _rows() -> tuple[Row, ...]:
    return (
        Row("R1", "bed", "bean", (0.15, 1.0), (9.85, 1.0), 1, 0.5, 9.5, False),
        Row("R2", "bed", "bean", (0.15, 2.0), (9.85, 2.0), 1, 0.5, 9.5, False),
        Row("R3", "bed", "leek", (0.15, 3.0), (9.85, 3.0), 1, 1.0, 8.0, False),
    )


def _header() -> Header:
    # From y = 0.9 to 3.1 with tails of 0.1 m: take-offs at running distances 0.1, 1.1 and 2.1 m.
    offs = tuple(TakeOff(1_000_000 * n - 900_000, (0.15, float(n)), f"R{n}", (f"R{n}",)) for n in (1, 2, 3))
    return Header(
        "HA", ("A",), ("bed",), TUBE, ((0.15, 0.9), (0.15, 3.1)), 2_200_000, ("HA",), 100_000, (0.15, 1.0), offs
    )


def _mainline() -> MainlinePart:
    # 1.15 m, cut to the next 10 cm.
    crossing = Crossing("garden path", (-0.45, 1.0))
    return MainlinePart("M1", TUBE, ((-1.0, 1.0), (0.15, 1.0)), 1_200_000, ("M1",), ("A",), (crossing,))


def _pieces() -> tuple[Piece, ...]:
    return (
        Piece("R1", LINE, "lateral", "R1", 9_500_000),
        Piece("R2", LINE, "lateral", "R2", 9_500_000),
        Piece("R3-1", LINE, "lateral", "R3", 4_000_000),
        Piece("R3-2", LINE, "lateral", "R3", 4_000_000),
        Piece("R3-by", TUBE, "bypass", "R3", 2_300_000),
        Piece("HA", TUBE, "header", "HA", 2_200_000),
        Piece("M1", TUBE, "mainline", "M1", 1_200_000),
    )


def _rolls() -> tuple[RollCuts, ...]:
    # R1 is 5.0 m of the owned piece and 4.5 m of the roll: 10 and 9 spacings, one coupler.
    owned = (Cut("R1", 1, 2, 5_000_000, 5_000_000),)
    # 9.5, 14.0, 18.0, 22.0 m: 28.0 m are left.
    line = (
        Cut("R2", 1, 1, 9_500_000, 9_500_000),
        Cut("R1", 2, 2, 4_500_000, 14_000_000),
        Cut("R3-1", 1, 1, 4_000_000, 18_000_000),
        Cut("R3-2", 1, 1, 4_000_000, 22_000_000),
    )
    # 2.3, 4.5, 5.7 m: 4.3 m are left.
    tube = (
        Cut("R3-by", 1, 1, 2_300_000, 2_300_000),
        Cut("HA", 1, 1, 2_200_000, 4_500_000),
        Cut("M1", 1, 1, 1_200_000, 5_700_000),
    )
    return (
        RollCuts("L1", LINE, "owned piece", True, 5_000_000, 0, owned, 0, False),
        RollCuts("L2", LINE, "roll", False, 50_000_000, 2000, line, 28_000_000, True),
        RollCuts("T1", TUBE, "roll", False, 10_000_000, 900, tube, 4_300_000, True),
    )


def _bill() -> tuple[BillLine, ...]:
    # Stakes, one at the start and then every 1.5 m. Line: 9.5 m twice 8, 8.0 m 7, together 23.
    # Blank: bypass 2.3 m 3, header 2.0 m between its take-offs 3, mainline 1.2 m 2, together 8.
    wanted = (
        ("tube", LINE, "owned", 1, 1, 0),
        ("tube", LINE, "roll", 1, 0, 2000),
        ("tube", TUBE, "roll", 1, 0, 900),
        ("take-offs", "take-off", LINE, 3, 0, 110),
        ("ends", "end closure", LINE, 3, 0, 50),
        ("joints", "line coupler", LINE, 1, 0, 70),
        ("joints", "bypass adapter", LINE, 2, 0, 80),
        ("joints", "elbow", TUBE, 1, 0, 120),
        ("ends", "header end", TUBE, 1, 0, 150),
        ("valves", "zone valve", TUBE, 1, 0, 900),
        ("stakes and plugs", "tube cover", TUBE, 1, 0, 600),
        ("stakes and plugs", "stake", LINE, 23, 0, 25),
        ("stakes and plugs", "stake", TUBE, 8, 0, 25),
        ("head parts", "filter", "filter", 1, 0, 1400),
        ("head parts", "regulator", "regulator", 1, 0, 1250),
    )
    return tuple(
        BillLine(shelf, item, "", fits, count, owned, 0, "piece", price, (count - owned) * price)
        for shelf, item, fits, count, owned, price in wanted
    )


def _water() -> ZoneWater:
    # 54 emitters of 2 L/h are 108 L/h = 3.0e-5 m3/s.
    # Tap: 30 (1 - (Q / 1e-3)^2) m, filter 1 (Q / 5e-4)^2 m. The regulator needs 13.5 m in front:
    # 16.5 = Q^2 (30e6 + 4e6), Q = 6.96630e-4 m3/s, of which 75 % are 5.22473e-4.
    # Tap while running: 30 (1 - 0.03^2) = 29.973 m.
    # EU: (1 - 1.27 x 0.05) x 1 = 0.9365.
    # Mainline: 3e-5 / (pi/4 0.025^2 = 4.908739e-4) = 0.0611155 m/s.
    # Filled: blank 1.15 + 2.0 + 2.3 = 5.45 m x 4.908739e-4, line (to the last emitters) 9.25 + 9.25 + 4.0 + 3.75
    # = 26.25 m x pi/4 0.0138^2 = 1.495712e-4: 2.675263e-3 + 3.926244e-3 = 6.601507e-3 m3.
    q = EMITTER_M3_S
    return ZoneWater(
        3.0e-5, 5.22473e-4, 29.973, 10.0, q, q, 10.0, 10.0, 0.0, 0.9365, 0.0611155, 10.0, 6.601507e-3, "supply"
    )


class _Network:
    """The stored network, node by node."""

    def __init__(self) -> None:
        self.places = [(-1.0, 1.0), (0.15, 1.0), (0.15, 2.0), (0.15, 3.0)]
        blank = (0.025, 1.5e-6, 0.0)
        self.tubes = [(0, 1, 1.15, *blank), (1, 2, 1.0, *blank), (2, 3, 1.0, *blank)]
        self.emitters: list[tuple[int, str]] = []

    def node(self, at: tuple[float, float], before: int, length: float, bore: float, k: float = 0.0) -> int:
        self.places.append(at)
        self.tubes.append((before, len(self.places) - 1, length, bore, 1.5e-6, k))
        return len(self.places) - 1

    def line(self, name: str, before: int, x: float, y: float, count: int, k: float) -> int:
        for n in range(count):
            before = self.node((x + 0.25 + 0.5 * n, y), before, 0.5 if n else 0.25, 0.0138, 0.0 if n else k)
            self.emitters.append((before, name))
        return before


def _network() -> ZoneNetwork:
    net = _Network()
    net.line("R1", 1, 0.15, 1.0, 19, 1.0)
    net.line("R2", 2, 0.15, 2.0, 19, 1.0)
    last = net.line("R3", 3, 0.15, 3.0, 8, 1.0)
    near = net.node((4.15, 3.0), last, 0.25, 0.0138)
    far = net.node((5.55, 3.0), near, 2.3, 0.025)
    net.line("R3", far, 5.55, 3.0, 8, 0.0)
    start, end, length, bore, rough, k = zip(*net.tubes, strict=True)
    count, nodes = len(net.emitters), len(net.places)
    return ZoneNetwork(
        node_x_m=tuple(x for x, _ in net.places),
        node_y_m=tuple(y for _, y in net.places),
        node_z_m=(0.0,) * nodes,
        tube_from=start,
        tube_to=end,
        tube_length_m=length,
        tube_bore_m=bore,
        tube_roughness_m=rough,
        tube_loss_k=k,
        emitter_node=tuple(node for node, _ in net.emitters),
        emitter_lateral=tuple(name for _, name in net.emitters),
        emitter_k=(EMITTER_M3_S,) * count,
        emitter_exponent=(0.0,) * count,
        emitter_opening_m=(5.0,) * count,
        emitter_upper_m=(30.0,) * count,
        inlet_node=0,
        inlet_head_m=10.0,
        viscosity_m2_s=1.004e-6,
        node_head_m=(10.0,) * nodes,
        emitter_flow_m3_s=(EMITTER_M3_S,) * count,
    )


def _goals() -> tuple[GoalValue, ...]:
    # Money: 2000 + 900 + 330 + 150 + 70 + 160 + 120 + 150 + 900 + 600 + 575 + 200 + 1400 + 1250 = 8805.
    # Waste: blank tube 2.3 + 2.2 + 1.2 = 5.7 m, no leftover too short to keep but the owned piece's 0.
    # Pushed on: take-offs 3, ends 3, coupler 1, adapters 2, elbow 1, header end 1, valve 1 = 12.
    values = (
        ("requests missing", 0, "ppm"),
        ("money", 8805, "ct"),
        ("waste", 5_700_000, "um"),
        ("fittings", 12, "count"),
        ("flow variation", 0, "0.01 %"),
    )
    return tuple(GoalValue(name, value, value, unit, True) for name, value, unit in values)


def small_plan() -> Plan:
    outline = ((0.0, 0.0), (10.0, 0.0), (10.0, 4.0), (0.0, 4.0))
    shapes = (
        MapShape("post", "obstacle", ((4.6, 2.7), (5.4, 2.7), (5.4, 3.3), (4.6, 3.3)), "rows and tube"),
        MapShape("garden path", "path", ((-0.6, 0.0), (-0.3, 0.0), (-0.3, 4.0), (-0.6, 4.0))),
        MapShape("wall", "barrier", ((12.0, 0.0), (12.0, 4.0))),
    )
    names = ("R1", "R2", "R3")
    return Plan(
        version=PLAN_VERSION,
        title="Small garden",
        unit_system="metric",
        currency="EUR",
        site=SiteMap((), shapes, (-1.0, 1.0), "tap", 0.0, (0.0, 0.0)),
        beds=(BedMap("bed", outline, 0.0, 0.0, "along", ("near end",)),),
        rows=_rows(),
        laterals=_laterals(),
        headers=(_header(),),
        mainline=(_mainline(),),
        valves=(Valve("V1", ("A",), (-1.0, 1.0), ("M1",), (), TUBE),),
        zones=(Zone("A", names, names, ("HA",), LINE, _water(), _network()),),
        pieces=_pieces(),
        rolls=_rolls(),
        bill=_bill(),
        head_units=(
            HeadUnit("tap", "tap", ""),
            HeadUnit("filter", "filter", ""),
            HeadUnit("regulator", "regulator", ""),
        ),
        not_watered=(),
        warnings=(),
        assumptions=(),
        alternatives=(),
        certificate=Certificate(Status.PROVEN_BEST, _goals(), (), 1, 1, (), 0, (), (), True),
    )


def changed(item: Any, path: str, /, **values: Any) -> Any:
    """Return a copy of a plan with fields changed somewhere inside: path like "laterals.0.stretches.1"."""
    if not path:
        return replace(item, **values)
    name, _, rest = path.partition(".")
    if isinstance(item, tuple):
        index = int(name)
        return (*item[:index], changed(item[index], rest, **values), *item[index + 1 :])
    return replace(item, **{name: changed(getattr(item, name), rest, **values)})


def rewritten(*pairs: tuple[str, str]) -> Scenario:
    """Return the small scenario with pieces of its text replaced."""
    text = TEXT
    for old, new in pairs:
        assert text.count(old) >= 1, old
        text = text.replace(old, new)
    return parse_scenario(text, "small")

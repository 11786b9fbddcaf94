"""Hand-made plans for the drawing tests.

Nothing here is an expected value; the tests only ask that such plans are drawn rightly.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

from drawing_build import Ground, HeaderSpec, RowSpec, Side, build

from optimizer.plan import BedMap, Crossing, MapShape, Plan, Point


def _bed(name: str, outline: Sequence[Point], angle: float, raised: float = 0.0) -> BedMap:
    return BedMap(name, tuple(outline), raised, angle, "along" if angle == 0 else "across", ("end",))


def rectangle(x: float, y: float, w: float, h: float) -> tuple[Point, ...]:
    return ((x, y), (x + w, y), (x + w, y + h), (x, y + h))


def circle(x: float, y: float, r: float, count: int = 48) -> tuple[Point, ...]:
    return tuple(
        (x + r * math.cos(2 * math.pi * k / count), y + r * math.sin(2 * math.pi * k / count)) for k in range(count)
    )


def allotment() -> Plan:
    """An irregular metric allotment: slanted side, round tree, shed, path, two zones, a bypass round the tree."""
    outline = ((0.0, 0.0), (14.2, 0.0), (15.6, 8.6), (9.0, 9.8), (0.0, 9.8))
    shapes = (
        MapShape("Apple tree", "obstacle", circle(8.6, 3.5, 0.75), "rows"),
        MapShape("Shed", "obstacle", rectangle(11.4, 6.6, 2.2, 1.6), "rows and tube"),
        MapShape("Middle path", "path", rectangle(0.0, 4.9, 11.2, 0.6)),
    )
    rows = []
    for k in range(7):
        y = 0.6 + 0.6 * k
        end = 14.1 + 0.163 * y - 0.5
        if abs(y - 3.5) < 0.85 and abs(y - 3.5) < 0.75:
            dip = 2.4 if y < 3.5 else 4.6
            half = 0.95
            way = (
                (0.6, y),
                (8.6 - half, y),
                (8.6 - half, dip + 0.1),
                (8.6 + half, dip + 0.1),
                (8.6 + half, y),
                (end, y),
            )
            side = Side(way, (1, 2, 3))
        else:
            side = Side(((0.6, y), (end, y)))
        crop = "Carrot" if k < 4 else "Lettuce"
        rows.append(RowSpec(crop, "A", "H1", (0.6, y), (side,), 0.6))
    for k in range(4):
        y = 6.1 + 0.9 * k
        end = 10.9 if y < 8.5 else 9.6
        rows.append(RowSpec("Tomato", "B", "H2", (0.6, y), (Side(((0.6, y), (end, y))),), 0.9, lines=2))
    headers = (
        HeaderSpec("H1", "A", ((0.6, 4.4), (0.6, 0.4))),
        HeaderSpec("H2", "B", ((0.6, 5.9), (0.6, 9.0))),
    )
    mainline = (
        (((-1.2, 5.2), (0.3, 5.2)), ("A", "B"), ()),
        (((0.3, 5.2), (0.3, 4.4), (0.6, 4.4)), ("A",), (Crossing("Middle path", (0.3, 4.9)),)),
        (((0.3, 5.2), (0.3, 5.9), (0.6, 5.9)), ("B",), (Crossing("Middle path", (0.3, 5.5)),)),
    )
    ground = Ground(
        "Allotment 14, lower field", "metric", outline, shapes, (-1.2, 5.2), (_bed("Plot", outline, 0.0),),
        tuple(rows), headers, mainline, uphill=(0.012, 0.016), north=25.0,
    )  # fmt: skip
    return build(ground)


def backyard() -> Plan:
    """A backyard in US units, 24 ft by 40 ft, rows up and down the page, header in the middle."""
    ft = 0.3048
    outline = rectangle(0.0, 0.0, 24 * ft, 40 * ft)
    bed = rectangle(1 * ft, 1 * ft, 22 * ft, 36 * ft)
    rows = []
    for k in range(7):
        x = (2.5 + 3 * k) * ft
        up, down = Side(((x, 19 * ft), (x, 36.4 * ft))), Side(((x, 19 * ft), (x, 1.5 * ft)))
        crop = ("Tomato", "Tomato", "Tomato", "Pepper", "Pepper", "Bush bean", "Bush bean")[k]
        rows.append(RowSpec(crop, "A", "H1", (x, 19 * ft), (up, down), 3 * ft, bed="Backyard bed"))
    headers = (HeaderSpec("H1", "A", ((1.5 * ft, 19 * ft), (21 * ft, 19 * ft)), "Backyard bed"),)
    way = ((0.5 * ft, 41.5 * ft), (0.5 * ft, 19 * ft), (1.5 * ft, 19 * ft))
    ground = Ground(
        "Backyard garden", "us", outline, (), (0.5 * ft, 41.5 * ft), (_bed("Backyard bed", bed, 90.0),),
        tuple(rows), headers, ((way, ("A",), ()),), pitch=ft, product='dripline 1/2 in, 12 in, 0.5 gal/h', roll_m=30.48,
        head=("vacuum breaker", "hose timer", "150 mesh filter", "25 psi regulator"), north=350.0,
    )  # fmt: skip
    return build(ground)


def field_two_headers(count: int = 60, zones: str = "ABCDE") -> Plan:
    """A field with rows longer than a lateral may be: headers at both ends, five zones."""
    pitch, length = 1.2, 96.0
    depth = count * pitch + 1.2
    outline = rectangle(0.0, 0.0, length + 4.0, depth)
    per = count // len(zones)
    rows, headers, mainline = [], [], []
    crops = ("Sweet corn", "Squash", "Onion", "Broccoli", "Potato")
    for k in range(count):
        zone, y = zones[k // per], 1.2 + k * pitch
        west = Side(((2.0, y), (length / 2 + 1.8, y)))
        east = Side(((length + 2.0, y), (length / 2 + 2.2, y)), header=f"H{zone}E")
        rows.append(RowSpec(crops[k // per % 5], zone, f"H{zone}W", (2.0, y), (west, east), pitch, bed="Field"))
    for index, zone in enumerate(zones):
        y0, y1 = 1.2 + index * per * pitch, 1.2 + ((index + 1) * per - 1) * pitch
        for side, x in (("W", 2.0), ("E", length + 2.0)):
            headers.append(HeaderSpec(f"H{zone}{side}", zone, ((x, y0), (x, y1)), "Field"))
        left = 0.9 - 0.18 * index
        mainline.append((((1.0, -3.0), (left, -1.5), (left, y0), (2.0, y0)), (zone,), ()))
        right = length + 3.1 + 0.18 * index
        mainline.append((((1.0, -3.0), (right, -3.0), (right, y0), (length + 2.0, y0)), (zone,), ()))
    shapes = (
        MapShape("Field track", "path", rectangle(-2.0, -2.6, length + 8.0, 2.0)),
        MapShape("Ditch", "barrier", ((-2.0, depth + 1.5), (length + 6.0, depth + 1.5))),
    )
    ground = Ground(
        "Long field", "metric", outline, shapes, (1.0, -3.0), (_bed("Field", outline, 0.0),), tuple(rows),
        tuple(headers), tuple(mainline), uphill=(0.0, 0.008), product="tape 16 mm, 30 cm, 0.8 L/h", roll_m=1000.0,
        source_kind="pump", head=("pump", "check valve", "disc filter", "pressure regulator 0.8 bar", "five valves"),
    )  # fmt: skip
    return build(ground)


def framed_beds() -> Plan:
    """Six framed beds of 1.20 m by 2.40 m with paths between, four lines a bed."""
    beds, rows, headers, mainline = [], [], [], []
    crops = ("Lettuce", "Carrot", "Onion", "Bean", "Strawberry", "Beetroot")
    supply = 3.4
    for k in range(6):
        x, y = 0.4 + 1.8 * (k % 3), 0.4 + 3.6 * (k // 3)
        name, low = f"Bed {k + 1}", k < 3
        zone = "A" if low else "B"
        beds.append(_bed(name, rectangle(x, y, 1.2, 2.4), 90.0, 0.3))
        head_y, far_y = (y + 2.3, y + 0.1) if low else (y + 0.1, y + 2.3)
        headers.append(HeaderSpec(f"H{k + 1}", zone, ((x + 0.1, head_y), (x + 1.1, head_y)), name))
        mainline.append((((x + 0.1, supply), (x + 0.1, head_y)), (zone,), ()))
        for line in range(4):
            at = (x + 0.15 + 0.3 * line, head_y)
            side = Side((at, (at[0], far_y)))
            rows.append(RowSpec(crops[k], zone, f"H{k + 1}", at, (side,), 0.3, bed=name))
    mainline.insert(0, (((-0.4, supply), (4.1, supply)), ("A", "B"), (Crossing("Path", (1.9, supply)),)))
    shapes = (MapShape("Path", "path", rectangle(1.65, 0.0, 0.5, 6.8)),)
    ground = Ground(
        "School garden, framed beds", "metric", rectangle(0.0, 0.0, 5.8, 6.8), shapes, (-0.4, supply), tuple(beds),
        tuple(rows), tuple(headers), tuple(mainline), pitch=0.2, product="dripline 16 mm, 20 cm, 1.6 L/h", roll_m=50.0,
        source_kind="tank", head=("tank outlet valve", "coarse filter", "timer for low pressure"), north=90.0,
    )  # fmt: skip
    return build(ground)


def many_beds(across: int = 6, deep: int = 5, *, framed: bool = True) -> Plan:
    """Beds of 1.20 m by 4.00 m in lines, rows numbered by bed, a header and a stub of mainline in each."""
    beds, rows, headers = [], [], []
    trunk_x, tops = -0.8, [4.2 + 4.7 * line for line in range(deep)]
    mainline = [(((trunk_x, -1.2), (trunk_x, top)), ("A", "B"), ()) for top in tops[:1]]
    mainline += [(((trunk_x, a), (trunk_x, b)), ("A", "B"), ()) for a, b in pairwise(tops)]
    for k in range(across * deep):
        x, y, name = 1.9 * (k % across), 4.7 * (k // across), f"bed {k + 1}"
        zone, top, head_y = "AB"[k < across * deep / 2], tops[k // across], y + 3.9
        crop, count = (("tomato", 3), ("lettuce", 4), ("onion", 4))[k % 3]
        beds.append(_bed(name, rectangle(x, y, 1.2, 4.0), 90.0, 0.25 if framed else 0.0))
        headers.append(HeaderSpec(f"H{k + 1}", zone, ((x + 0.1, head_y), (x + 1.1, head_y)), name))
        start = trunk_x if k % across == 0 else x + 0.1 - 1.9
        mainline.append((((start, top), (x + 0.1, top)), (zone,), ()))
        mainline.append((((x + 0.1, top), (x + 0.1, head_y)), (zone,), ()))
        for row in range(count):
            at = (x + 0.15 + 0.9 * row / (count - 1), head_y)
            side = Side((at, (at[0], y + 0.15)))
            rows.append(
                RowSpec(crop, zone, f"H{k + 1}", at, (side,), 0.3, bed=name, id=f"B{k + 1}R{row + 1}")
            )  # fmt: skip
    width, depth = 1.9 * across + 2.0, 4.7 * deep + 2.0
    shapes = (MapShape("barrow path", "path", rectangle(0.0, 4.05, 1.9 * across - 0.7, 0.6)),)
    ground = Ground(
        "Many beds", "metric", rectangle(-1.5, -1.5, width, depth), shapes, (trunk_x, -1.2), tuple(beds),
        tuple(rows), tuple(headers), tuple(mainline), pitch=0.33,
    )  # fmt: skip
    return build(ground)


def triangle(count: int = 45) -> Plan:
    """A slanted plot where no two rows are equally long."""
    outline = ((0.0, 0.0), (30.0, 0.0), (6.0, 24.0), (0.0, 24.0))
    rows = []
    for k in range(count):
        y = 0.5 + 0.5 * k
        rows.append(RowSpec("Onion", "A" if k < 20 else "B", "H1" if k < 20 else "H2", (0.5, y),
                            (Side(((0.5, y), (29.3 - y, y))),), 0.5))  # fmt: skip
    headers = (HeaderSpec("H1", "A", ((0.5, 0.3), (0.5, 10.0))), HeaderSpec("H2", "B", ((0.5, 10.5), (0.5, 23.0))))
    mainline = (
        (((-1.0, 0.3), (0.5, 0.3)), ("A",), ()),
        (((-1.0, 0.3), (0.2, 1.0), (0.2, 10.5), (0.5, 10.5)), ("B",), ()),
    )
    ground = Ground(
        "Slanted plot", "metric", outline, (), (-1.0, 0.3), (_bed("Plot", outline, 0.0),), tuple(rows), headers,
        mainline, uphill=(0.0, 0.02), roll_m=250.0,
    )  # fmt: skip
    return build(ground)


PLANS = {
    "allotment": allotment,
    "backyard": backyard,
    "field": field_two_headers,
    "beds": framed_beds,
    "slanted": triangle,
}

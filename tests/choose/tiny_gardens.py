"""Tiny gardens with planted difficulties, drawn from explicit seeds."""

from __future__ import annotations

import random

from optimizer.scenario import Scenario, parse_scenario

KINDS = (
    "several rolls",
    "owned pieces",
    "small supply",
    "tight variation",
    "slope",
    "triangle",
    "ell",
    "obstacle",
    "dear valve",
    "dear tube",
    "pump band",
    "own zone",
    "few outlets",
    "two headers",
    "joints",
    "two products",
    "path",
    "burst",
    "hollow",
    "tank",
    "raised",
    "compensating",
    "barrier",
    "label",
    "short rolls",
    "flow band",
    "two headers small supply",
    "double rows",
    "feet",
    "velocity",
    "lead-in",
    "planted",
    "meter",
    "blocked bypass",
    "shed in the way",
    "steep and small",
    "downhill header",
    "narrow bypass",
    "shut-offs",
    "shut-offs or splits",
)
SLOW = frozenset(
    {
        ("tight variation", 0),
        ("tight variation", 1),
        ("double rows", 2),
        ("compensating", 2),
        ("two headers small supply", 0),
        ("two headers small supply", 2),
        ("small supply", 3),
    }
)
"""(kind, seed) of gardens whose enumeration takes many seconds; the benchmark has them all"""
TIGHT = ("tight variation", "velocity", "flow band", "steep and small")
SCARCE = (
    "small supply", "few outlets", "tight variation", "flow band", "two headers small supply", "double rows",
    "steep and small", "lead-in", "shut-offs", "shut-offs or splits",
)  # fmt: skip


def garden_text(kind: str, seed: int) -> str:
    """Return a tiny garden of a kind as TOML."""
    draw = random.Random(f"{kind} {seed}")
    width, depth = draw.choice((3.0, 3.4, 4.2, 5.0)), draw.choice((1.6, 2.0, 2.6))
    spacing = draw.choice((0.4, 0.5, 0.6))
    if kind.startswith("two headers"):
        width, depth, spacing = draw.choice((4.2, 5.0)), draw.choice((1.6, 2.0)), 0.6
    flow = draw.choice((2.0, 4.0) if kind == "downhill header" else (1.0, 2.0, 4.0))
    emitters = width / 0.4 * (depth / spacing)
    share = draw.choice((0.35, 0.55, 0.8)) if kind in SCARCE else 2.5
    need = emitters * flow * share / 0.61  # open flow whose planned share at working pressure feeds that much
    lines = [
        f'title = "{kind} {seed}"',
        f'units = "{"us" if kind == "feet" else "metric"}"',
        "[site]",
        *_slope(kind, draw),
        *_extras(kind, draw, width, depth),
        *_supply(kind, draw, need, emitters * flow, width, depth),
        "[[beds]]",
        'name = "bed"',
        _outline(kind, draw, width, depth),
        _directions(kind, draw),
        'edge_margin = "10 cm"',
        *(['raised = "45 cm"'] if kind == "raised" else []),
        'row_end_margin = "10 cm"',
        *_crops(kind, draw, spacing),
        *_products(kind, draw, flow),
        *_fittings(kind, draw),
        *_limits(kind, draw),
    ]
    return "\n".join(lines) + "\n"


def garden(kind: str, seed: int) -> Scenario:
    """Return a tiny garden of a kind."""
    return parse_scenario(garden_text(kind, seed), f"{kind} {seed}")


def _directions(kind, draw):
    wide = ('"along", "across"', '"along"', '"along", "across", "30 deg"')
    chosen = wide[1] if kind in ("two headers", "two products") else draw.choice(wide)
    return f"directions = [{chosen}]"


def _slope(kind, draw):
    if kind == "hollow":
        deep = draw.choice((0.1, 0.3))
        places = ((0, 0, 0), (5, 0, 0.1), (0, 3, 0), (5, 3, 0.1), (2.5, 1.2, -deep))
        return [f"spot_heights = {_texts(f'{x} m, {y} m, {z} m' for x, y, z in places)}"]
    if kind == "downhill header":
        return [f'slope = "{draw.choice((4, 8, 12, 20))} %"', f'rises_toward = "{draw.choice((270, 270, 240))} deg"']
    if kind not in ("slope", "burst", "steep and small"):
        return []
    return [f'slope = "{draw.choice((2, 5, 9))} %"', f'rises_toward = "{draw.choice((0, 60, 90, 180, 270))} deg"']


def _outline(kind, draw, width, depth):
    if kind == "downhill header":  # rows grow longer away from the tap, or every other one is short
        tip = draw.choice((0.0, width / 2))
        growing = ((tip, 0), (tip + 0.9, 0), (width, depth), (0, depth))
        wavy = ((0, 0), (width, 0), (width, 0.6), (1.0, 0.65), (1.0, 0.95), (width, 1.0), (width, 1.8), (0, 1.8))
        return f"outline = {_texts(f'{a} m, {b} m' for a, b in draw.choice((growing, wavy)))}"
    if kind == "triangle":
        return f'outline = ["0 m, 0 m", "{width} m, 0 m", "{draw.choice((0.0, 0.8, width / 2))} m, {depth + 0.8} m"]'
    if kind == "ell":
        x, y = round(width * draw.choice((0.4, 0.6)), 2), round(depth * draw.choice((0.4, 0.6)), 2)
        corners = ((0, 0), (width, 0), (width, y), (x, y), (x, depth), (0, depth))
        return f"outline = {_texts(f'{a} m, {b} m' for a, b in corners)}"
    return f'rectangle = "{width} m x {depth} m"'


def _extras(kind, draw, width, depth):
    if kind in ("obstacle", "narrow bypass"):
        x, y = round(width * draw.choice((0.3, 0.5, 0.7)), 2), round(depth * draw.choice((0.3, 0.5)), 2)
        keeps = draw.choice(("both", "rows"))
        return ["[[obstacles]]", 'name = "pear"', f'circle = "{x} m, {y} m, 0.25 m"', f'keeps_out = "{keeps}"']
    if kind == "shed in the way":
        x, y = draw.choice(((width / 2, -0.5), (-0.5, 0.3)))
        return ["[[obstacles]]", 'name = "shed"', f'circle = "{x:.2f} m, {y:.2f} m, 0.3 m"', 'keeps_out = "both"']
    if kind in ("barrier", "blocked bypass"):
        x = round(width * draw.choice((0.3, 0.6)), 2)
        ends = (-0.5, depth * 0.5) if kind == "barrier" else (-1.0, depth + 1.0)
        lines = ["[[barriers]]", 'name = "wall"', f'line = "{x} m, {ends[0]:.2f} m to {x} m, {ends[1]:.2f} m"']
        if kind == "blocked bypass":
            lines += [
                "[[obstacles]]",
                'name = "post"',
                f'circle = "{x} m, {depth / 2:.2f} m, 0.2 m"',
                'keeps_out = "rows"',
            ]
        return lines
    if kind == "path":
        y = round(depth * draw.choice((0.3, 0.5)), 2)
        corners = ((-2, y), (width + 2, y), (width + 2, y + 0.2), (-2, y + 0.2))
        return ["[[paths]]", 'name = "planks"', f"outline = {_texts(f'{a} m, {b} m' for a, b in corners)}"]
    return []


def _supply(kind, draw, need, all_flow, width, depth):
    at = draw.choice(((-1.3, 0.2), (width / 2, -0.9), (-0.6, depth / 2), (width + 0.7, depth + 0.4)))
    lines = ["[supply]", f'at = "{at[0]:.2f} m, {at[1]:.2f} m"']
    if kind == "tank":
        deep = draw.choice((2.5, 3.5))
        return [*lines, 'kind = "tank"', f'outlet_height = "{deep} m"', 'water_depth = "1 m"', 'volume = "200 L"']
    if kind == "pump band":
        lines += ['kind = "pump"', f'least_flow = "{all_flow * draw.choice((0.3, 0.45, 0.6)):.2f} L/h"']
        head = draw.choice((1.4, 1.6))
        points = (
            f'{{ pressure = "{head} bar", flow = "{need / 4:.2f} L/h" }}',
            f'{{ pressure = "1.0 bar", flow = "{need / 2:.2f} L/h" }}',
        )
        lines += [f"curve = [{', '.join(points)}]"]
    else:
        lines += ['kind = "tap"', 'static_pressure = "3 bar"', f'open_flow = "{need:.2f} L/h"']
    lines += [f'greatest_flow = "{all_flow * draw.choice((0.3, 0.5, 1.1)):.2f} L/h"'] if kind == "meter" else []
    if kind == "lead-in":
        lines += [f'lead_in = {{ length = "{draw.choice((10, 25))} m", bore = "{draw.choice((5, 8))} mm" }}']
    if kind == "downhill header":
        lines[1] = f'at = "{draw.choice((0.4, 1.5))} m, -0.5 m"'
        lines += [
            "[[supply.regulators]]",
            'name = "low regulator"',
            f'holds = "{draw.choice((0.12, 0.2, 0.3))} bar"',
            "price = 9",
        ]
        return lines
    lines += ["[[supply.head_parts]]", 'name = "backflow device"', 'kind = "backflow device"', 'loss = "0.1 bar"']
    lines += [f'at_flow = "{max(need, 50):.1f} L/h"', f"price = {draw.choice((0, 7.5))}"]
    if kind == "flow band":
        share = draw.choice((0.15, 0.25, 0.35))
        lines += [f'least_flow = "{all_flow * share:.2f} L/h"', f'greatest_flow = "{all_flow * 2.2 * share:.2f} L/h"']
    choices = ((1.0,), (1.0, 1.2)) if kind == "compensating" else ((), (1.0,), (1.0, 1.2))
    for holds in draw.choice(choices) if kind != "pump band" else ():
        lines += ["[[supply.regulators]]", f'name = "regulator {holds}"', f'holds = "{holds} bar"']
        lines += [f"price = {draw.choice((9, 12))}", f"owned = {draw.choice(('true', 'false'))}"]
    return lines


def _crops(kind, draw, spacing):
    lines = ["[[beds.crops]]", 'name = "bean"', f'row_spacing = "{spacing} m"']
    if kind == "planted":
        y = draw.choice((0.6, 0.95))
        lines += [f'planted_rows = ["0.3 m, {y} m to 2.6 m, {y} m"]']
        lines += ["[[beds.crops]]", 'name = "leek"', 'row_spacing = "0.4 m"', "fill = true"]
        return lines
    if kind == "double rows":
        return [*lines, "lines_per_row = 2", 'line_spacing = "0.2 m"', "fill = true"]
    if kind in ("own zone", "ell", "shut-offs") or draw.random() < 0.3:
        lines += [
            f"rows = {draw.choice((1, 2))}",
            *(["own_zone = true"] if kind == "own zone" or (kind == "shut-offs" and draw.random() < 0.5) else []),
        ]
        lines += ["[[beds.crops]]", 'name = "leek"', f'row_spacing = "{draw.choice((0.4, 0.5))} m"']
    if draw.random() < 0.2:
        lines += ["lines_per_row = 2", 'line_spacing = "0.2 m"', "rows = 2"]
    elif draw.random() < 0.25:
        lines += [f'row_length = "{draw.choice((3, 5, 7))} m"']
    else:
        lines += ["fill = true"]
    return lines


def _law(kind, draw):
    if kind == "compensating":
        return [f'compensating = {{ opens = "{draw.choice((0.5, 0.9))} bar", up_to = "2 bar" }}']
    lines = [f"exponent = {draw.choice((0.5, 0.5, 0.4))}"]
    lines += [f'longest_run = "{draw.choice((1.3, 2.4))} m"'] if kind == "label" else []
    lines += ['least_pressure = "0.6 bar"'] if kind in ("raised", "lead-in") else []
    return lines


def _tube_bore(kind, draw):
    if kind == "downhill header":
        return draw.choice((3.5, 4, 5))
    return draw.choice((6, 8)) if kind in TIGHT else (5 if kind == "narrow bypass" else 13.2)


def _rating(kind, draw):
    return draw.choice((3.0, 3.01, 3.03, 3.05, 3.08)) if kind == "burst" else 4


def _line(kind, draw, name, flow, spacing, bore, rolls, owned):
    return [
        "[[emitter_lines]]",
        f'name = "{name}"',
        f'bore = "{bore} mm"',
        f'spacing = "{spacing} m"',
        f'flow = "{flow} L/h"',
        f'at_pressure = "{0.25 if kind in ("tank", "downhill header") else 1} bar"',
        *_law(kind, draw),
        f'greatest_pressure = "{_rating(kind, draw)} bar"',
        _rolls(rolls),
        f"owned = {_texts(f'{length} m' for length in owned)}",
    ]


def _texts(items):
    """Return texts as a TOML list."""
    return "[" + ", ".join(f'"{item}"' for item in items) + "]"


def _rolls(rolls):
    each = (f'{{ length = "{length} m", price = {price}{more} }}' for length, price, more in rolls)
    return f"rolls = [{', '.join(each)}]"


def _products(kind, draw, flow):
    rolls = [(draw.choice((8, 10, 12.5)), 6.5, "")]
    if kind in ("several rolls", "joints", "owned pieces") or draw.random() < 0.2:
        more = draw.choice(((15, 9.2), (17, 10.1), (20, 11.5)))
        rolls.append((*more, draw.choice(("", ", available = 1"))))
    if kind == "several rolls":
        rolls.append((25, draw.choice((13.9, 14.2)), ""))
    owned = sorted(draw.choice((2.3, 4.75, 5.1, 7.7)) for _ in range(2)) if kind == "owned pieces" else []
    if kind == "short rolls":
        rolls = [(draw.choice((2.6, 3.4)), 2.5, draw.choice(("", ", available = 6"))), (4.1, 3.6, ", available = 2")]
    tight = kind in TIGHT
    bore = draw.choice((3.0, 3.6)) if tight else draw.choice((4.3, 13.0))
    lines = _line(kind, draw, "line A", flow, 0.4, bore, rolls, owned)
    if kind == "two products":
        lines += _line(
            kind, draw, "line B", draw.choice((1.0, 2.0)), draw.choice((0.3, 0.5)), 13.0, [(11, 7.3, "")], []
        )
    tubes = [(draw.choice((5, 6)), 4.4, ""), (10, 7.9, "")]
    if kind == "dear tube":
        tubes = [(5, 29.0, ""), (7.5, 41.0, "")]
    tube_owned = '"3.2 m"' if kind == "owned pieces" else ""
    lines += ["[[blank_tubes]]", 'name = "tube"', f'bore = "{_tube_bore(kind, draw)} mm"']
    lines += [f'greatest_pressure = "{_rating(kind, draw)} bar"', _rolls(tubes), f"owned = [{tube_owned}]"]
    if kind == "two products" or (tight and draw.random() < 0.5):
        lines += [
            "[[blank_tubes]]",
            'name = "wide tube"',
            'bore = "16 mm"',
            'greatest_pressure = "4 bar"',
            _rolls([(5, 6.1, "")]),
        ]
    return lines


def _fittings(kind, draw):
    valve = {"dear valve": 39.0, "dear tube": 2.0}.get(kind, draw.choice((4.0, 9.0)))
    if kind == "shut-offs or splits":
        valve = draw.choice((6.0, 15.0, 25.0))
    lines = ["[[fittings]]", 'kind = "zone valve"', f"price = {valve}"]
    for name, price in (
        ("take-off", 0.7),
        ("stake", 0.2),
        ("header end", 1.1),
        ("tube coupler", 0.9),
        ("line coupler", 0.6),
    ):
        if draw.random() < 0.5:
            lines += ["[[fittings]]", f'kind = "{name}"', f"price = {price}"]
    return lines


def _limits(kind, draw):
    lines = ["[limits]", f'header_step = "{draw.choice((1.0, 1.5))} m"']
    lines += [f'tube_step = "{draw.choice((25, 50))} cm"'] if kind != "feet" else []
    lines += [
        f'usable_offcut = "{draw.choice((1.0, 2.0, 3.0))} m"',
        'shortest_joined_part = "1 m"',
        'row_step = "10 cm"',
    ]
    if kind in ("tight variation", "downhill header"):
        lines += [f'flow_variation = "{draw.choice((4, 6, 8, 12))} %"']
    elif kind in ("tank", "steep and small", "lead-in"):
        lines += [f'flow_variation = "{draw.choice((8, 15, 25))} %"']
    elif draw.random() < 0.3:
        lines += ['emission_uniformity = "88 %"']
    if kind.startswith("shut-offs"):
        lines += [f'zoning = "{"row shut-offs" if kind == "shut-offs" else "either"}"']
    if kind in ("few outlets", "dear valve"):
        lines += [f"zones_at_most = {draw.choice((1, 2, 3))}"]
    if kind == "velocity":
        lines += [f'velocity = "{draw.choice((0.15, 0.3))} m/s"']
    if kind.startswith("two headers"):
        lines += ["headers_at_most = 2"]
        lines[1] = 'header_step = "2 m"'
    if kind in ("joints", "short rolls"):
        lines += ["joints_per_lateral = 1"]
    return lines

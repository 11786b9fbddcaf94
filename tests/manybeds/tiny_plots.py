"""Tiny gardens of two to four beds with planted difficulties, drawn from explicit seeds."""

from __future__ import annotations

import random
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from optimizer.scenario import Scenario, parse_scenario

KINDS = (
    "beds in a line",
    "in a line, weak tap",
    "in a line, not shared",
    "raised",
    "one raised in a line",
    "triangle",
    "turned",
    "two directions",
    "path",
    "wide path",
    "barrier",
    "shed",
    "tree in a bed",
    "two lines",
    "a line for each bed",
    "two tubes",
    "two tubes, weak tap",
    "narrow tube",
    "rolls",
    "scarce rolls",
    "owned pieces",
    "joints",
    "at the tap",
    "in the field",
    "valve per bed",
    "alike",
    "alike, turned",
    "few zones",
    "own zone",
    "crops apart",
    "weak tap",
    "weak tap, dear valves",
    "weak tap, cheap valves",
    "two headers",
    "label",
    "slope",
    "steep",
    "burst",
    "regulators",
    "pump",
    "long way",
    "cut header",
    "three beds",
    "three beds, weak tap",
    "four beds",
    "plot with an edge",
    "alternating lines",
    "alternating lines, four beds",
    "three beds, pairs",
    "four beds, pairs",
    "tap amid",
)
SMALL = ("alternating lines", "alternating lines, four beds", "three beds, pairs", "four beds, pairs", "tap amid")
"""kinds with beds of one or two short rows, so that many groupings are enumerated quickly"""


SLOW: frozenset[tuple[str, int]] = frozenset(
    {
        ("alternating lines, four beds", 1),
        ("alternating lines, four beds", 2),
        ("at the tap", 1),
        ("at the tap", 2),
        ("beds in a line", 3),
        ("burst", 1),
        ("crops apart", 1),
        ("cut header", 1),
        ("cut header", 2),
        ("few zones", 1),
        ("four beds", 2),
        ("four beds", 3),
        ("in a line, not shared", 3),
        ("in a line, weak tap", 3),
        ("in the field", 3),
        ("label", 2),
        ("narrow tube", 3),
        ("pump", 2),
        ("pump", 3),
        ("tap amid", 1),
        ("tap amid", 2),
        ("three beds", 1),
        ("three beds", 3),
        ("three beds, weak tap", 1),
        ("three beds, weak tap", 2),
        ("tree in a bed", 2),
        ("tree in a bed", 3),
        ("two directions", 3),
        ("two headers", 2),
        ("two lines", 1),
        ("two lines", 3),
        ("two tubes", 2),
        ("two tubes", 3),
        ("two tubes, weak tap", 2),
        ("two tubes, weak tap", 3),
        ("weak tap", 1),
        ("weak tap, cheap valves", 1),
        ("weak tap, cheap valves", 2),
        ("weak tap, dear valves", 1),
        ("weak tap, dear valves", 3),
    }
)
"""(kind, seed) of gardens that take seconds to search and to enumerate"""

BY_HAND = frozenset({"four beds, pairs"})
"""kinds of which every garden does"""

WEAK = {
    "in a line, weak tap": (0.5, 0.8),
    "two tubes, weak tap": (0.5, 0.8),
    "weak tap": (0.4, 0.55, 0.8),
    "weak tap, dear valves": (0.4, 0.6),
    "weak tap, cheap valves": (0.4, 0.6),
    "three beds, weak tap": (0.4, 0.7),
    "few zones": (0.3, 0.4, 0.7),
    "cut header": (0.3, 0.4),
    "at the tap": (0.6, 2.5),
    "in the field": (0.6, 2.5),
    "valve per bed": (0.6, 2.5),
    "pump": (0.6, 1.5),
    "three beds, pairs": (0.72, 0.85),
    "four beds, pairs": (0.55, 0.8),
    "tap amid": (0.6, 0.8),
}
"""share of the water of all emitters that the supply gives at working pressure"""

COUNTS = {
    "three beds": 3,
    "three beds, weak tap": 3,
    "four beds": 4,
    "alternating lines": 3,
    "alternating lines, four beds": 4,
    "three beds, pairs": 3,
    "four beds, pairs": 4,
    "tap amid": 3,
}

IN_LINE = (
    "beds in a line",
    "in a line, weak tap",
    "in a line, not shared",
    "one raised in a line",
    "crops apart",
    "alike",
)
PIECES = ("rolls", "scarce rolls", "owned pieces", "joints")


@dataclass(frozen=True)
class Plot:
    """A bed as it is drawn: its first corner, sizes and turn [m, m, m, deg]."""

    at: tuple[float, float]
    width: float
    depth: float
    turned: float = 0.0


def plot_text(kind: str, seed: int) -> str:
    """Return a tiny garden of a kind as TOML."""
    draw = random.Random(f"{kind} {seed}")
    plots = _plots(kind, draw)
    spacing = draw.choice((0.5, 0.6))
    flow = draw.choice((1.0, 2.0, 4.0))
    emitters = sum(plot.width / 0.4 * plot.depth / spacing for plot in plots)
    lines = [
        f'title = "{kind} {seed}"',
        'units = "metric"',
        *_site(kind, draw, plots),
        *_in_the_way(kind, draw, plots),
        *_supply(kind, draw, emitters * flow, plots),
        *(line for number, plot in enumerate(plots) for line in _bed(kind, draw, number, plot, spacing)),
        *_products(kind, draw, flow),
        *_fittings(kind, draw),
        *_limits(kind, draw),
        *(["[climate]", 'need = "5 mm/day"'] if kind == "crops apart" else []),
    ]
    return "\n".join(lines) + "\n"


def plot(kind: str, seed: int) -> Scenario:
    """Return a tiny garden of a kind."""
    return parse_scenario(plot_text(kind, seed), f"{kind} {seed}")


# -------------------------------------------------------------------- the ground


def _plots(kind: str, draw: random.Random) -> list[Plot]:
    count = COUNTS.get(kind) or draw.choice((2, 2, 3))
    if kind in ("two headers", "two directions", "turned", "alike, turned", "cut header", "path", "wide path", *PIECES):
        count = 2
    width, depth = draw.choice((2.2, 2.6, 3.4)), draw.choice((1.0, 1.3, 1.6))
    if kind == "four beds":
        width, depth = 2.2, 1.0
    if kind == "two headers":
        width = 3.4
    if kind in SMALL:
        width, depth = draw.choice((1.4, 1.8)), draw.choice((0.5, 0.8))
    in_line = kind in IN_LINE or (count > 2 and draw.random() < 0.3)
    found, x, y = [], 0.0, 0.0
    for number in range(count):
        wide = width if kind.startswith("alike") or not number else round(width + draw.choice((-0.4, 0.0, 0.4)), 2)
        deep = depth if kind.startswith("alike") or not number else draw.choice((depth, 0.8 if kind in SMALL else 1.0))
        turned = draw.choice((20.0, 90.0)) if number and kind in ("turned", "alike, turned") else 0.0
        found.append(Plot((round(x, 2), round(y, 2)), wide, deep, turned))
        gap = draw.choice((0.5, 0.8, 1.2))
        if in_line or (number % 2 and not kind.startswith("alternating")):
            y = max(each.at[1] + each.depth for each in found) + gap
            x = 0.0 if not in_line else draw.choice((0.0, 0.0, 0.3))
        else:
            x = max(each.at[0] + each.width for each in found) + gap
            x += 1.2 if kind in ("turned", "alike, turned") else 0.0
    return found


def _span(plots: list[Plot]) -> tuple[float, float]:
    return max(each.at[0] + each.width for each in plots), max(each.at[1] + each.depth for each in plots)


def _site(kind: str, draw: random.Random, plots: list[Plot]) -> list[str]:
    lines = ["[site]"]
    if kind in ("slope", "steep", "burst"):
        rise = {"slope": (1, 3), "steep": (8, 15), "burst": (5, 9)}[kind]
        lines += [f'slope = "{draw.choice(rise)} %"', f'rises_toward = "{draw.choice((0, 60, 90, 180, 270))} deg"']
    if kind == "plot with an edge":
        x, y = _span(plots)
        lines.append(f"outline = {_places([(-1.5, -1.2), (x + 0.2, -1.2), (x + 0.2, y + 1.0), (-1.5, y + 1.0)])}")
    return lines


def _in_the_way(kind: str, draw: random.Random, plots: list[Plot]) -> list[str]:
    x, y = _span(plots)
    first, second = plots[0], plots[1]
    side_by_side = second.at[0] > first.width
    if kind in ("path", "wide path"):
        wide = 0.3 if kind == "path" else 0.45
        if side_by_side:
            at = round(second.at[0] - wide - 0.02, 2)
            around = [(at, -3), (at + wide, -3), (at + wide, y + 3), (at, y + 3)]
        else:
            at = round(second.at[1] - wide - 0.02, 2)
            around = [(-3, at), (x + 3, at), (x + 3, at + wide), (-3, at + wide)]
        return ["[[paths]]", 'name = "planks"', f"outline = {_places(around)}"]
    if kind == "barrier":
        at = round((first.width + second.at[0]) / 2 if side_by_side else -0.2, 2)
        low, high = draw.choice(((-0.8, first.depth), (0.2, y + 0.6), (-0.3, 0.4)))
        return ["[[barriers]]", 'name = "wall"', f'line = "{at} m, {low:.2f} m to {at} m, {high:.2f} m"']
    if kind == "shed":
        at = draw.choice(((-0.6, 0.5), (first.width / 2, -0.5), (first.width + 0.25, -0.3)))
        return [
            "[[obstacles]]",
            'name = "shed"',
            f'circle = "{at[0]:.2f} m, {at[1]:.2f} m, 0.2 m"',
            'keeps_out = "both"',
        ]
    if kind == "tree in a bed":
        at = round(first.width * draw.choice((0.3, 0.6)), 2), round(first.depth / 2, 2)
        keeps = draw.choice(("both", "rows"))
        return ["[[obstacles]]", 'name = "pear"', f'circle = "{at[0]} m, {at[1]} m, 0.15 m"', f'keeps_out = "{keeps}"']
    return []


# -------------------------------------------------------------------- the water


def _supply(kind: str, draw: random.Random, all_flow: float, plots: list[Plot]) -> list[str]:
    x, y = _span(plots)
    at = draw.choice(((-1.2, 0.3), (plots[0].width / 2, -0.9), (-0.6, y + 0.4), (x + 0.1, -0.7)))
    if kind == "long way":
        at = (-12.0, draw.choice((0.0, 4.0)))
    if kind == "plot with an edge":
        at = (-1.2, 0.3)
    if kind == "tap amid":
        at = (plots[0].width + 0.25, 0.2)
    share = draw.choice(WEAK.get(kind, (2.5,)))
    need = all_flow * share / 0.61  # open flow whose planned share at working pressure feeds that much
    lines = ["[supply]", f'at = "{at[0]:.2f} m, {at[1]:.2f} m"']
    if kind == "pump":
        points = ((1.5, need / 3), (1.0, need / 1.5))
        curve = ", ".join(f'{{ pressure = "{head} bar", flow = "{flow:.2f} L/h" }}' for head, flow in points)
        lines += ['kind = "pump"', f'least_flow = "{all_flow * draw.choice((0.1, 0.4)):.2f} L/h"', f"curve = [{curve}]"]
    else:
        lines += ['kind = "tap"', 'static_pressure = "3 bar"', f'open_flow = "{need:.2f} L/h"']
    lines += ["[[supply.head_parts]]", 'name = "backflow device"', 'kind = "backflow device"', 'loss = "0.1 bar"']
    lines += [f'at_flow = "{max(need, 50):.1f} L/h"', f"price = {draw.choice((0, 7.5))}"]
    for holds in {"regulators": (1.0, 1.2)}.get(kind, draw.choice(((), (1.0,)))) if kind != "pump" else ():
        lines += ["[[supply.regulators]]", f'name = "regulator {holds}"', f'holds = "{holds} bar"']
        lines += [f"price = {draw.choice((9, 12))}", f"owned = {draw.choice(('true', 'false'))}"]
    return lines


# -------------------------------------------------------------------- the beds


def _bed(kind: str, draw: random.Random, number: int, each: Plot, spacing: float) -> list[str]:
    wide = kind == "two directions" or (kind in ("turned", "two lines") and number == 1)
    lines = ["[[beds]]", f'name = "bed {number}"', *_outline(kind, draw, number, each)]
    lines += [f"directions = {_texts(('along', 'across') if wide else ('along',))}"]
    lines += ['edge_margin = "10 cm"', 'row_end_margin = "10 cm"']
    if kind == "raised" or (kind == "one raised in a line" and number == 1):
        lines.append(f'raised = "{draw.choice((30, 45))} cm"')
    if kind == "a line for each bed":
        lines.append(f"lines = {_texts((('line A',), ('line A', 'line B'), ('line B',))[number])}")
    if kind.startswith("alternating"):
        lines.append(f"lines = {_texts(('line A', 'line B')[number % 2 : number % 2 + 1])}")
    if kind == "crops apart":
        lines.append('soil = "sandy loam"')
        spacing = spacing if number % 2 else draw.choice((0.4, spacing))
    return [*lines, *_crops(kind, draw, number, spacing)]


def _outline(kind: str, draw: random.Random, number: int, each: Plot) -> list[str]:
    x, y = each.at
    if kind == "triangle" and number == 0:
        tip = draw.choice((0.0, 0.8, each.width / 2))
        return [f"outline = {_places([(x, y), (x + each.width, y), (x + tip, y + each.depth + 0.5)])}"]
    lines = [f'rectangle = "{each.width} m x {each.depth} m"', f'at = "{x} m, {y} m"']
    return lines + ([f'turned = "{each.turned} deg"'] if each.turned else [])


def _crops(kind: str, draw: random.Random, number: int, spacing: float) -> list[str]:
    lines = ["[[beds.crops]]", f'name = "bean {number}"', f'row_spacing = "{spacing} m"']
    if kind == "own zone":
        alone = number == 0 or draw.random() < 0.3
        return [*lines, "fill = true", *(["own_zone = true"] if alone else [])]
    if kind == "crops apart":
        return [*lines, "fill = true", 'water = { planted = 2026-05-10, like = "bean, green" }']
    if kind in ("turned", "two headers") or draw.random() < 0.25:
        return [*lines, f"rows = {draw.choice((1, 2))}"]
    if draw.random() < 0.15:
        return [*lines, "lines_per_row = 2", 'line_spacing = "0.2 m"', "rows = 1"]
    if draw.random() < 0.2:
        return [*lines, f'row_length = "{draw.choice((2, 4))} m"']
    return [*lines, "fill = true"]


# -------------------------------------------------------------------- what can be had


def _texts(items: Iterable[str]) -> str:
    """Return texts as a TOML list."""
    return "[" + ", ".join(f'"{item}"' for item in items) + "]"


def _places(points: Sequence[tuple[float, float]]) -> str:
    return _texts(f"{x:.2f} m, {y:.2f} m" for x, y in points)


def _rolls(rolls: list[tuple[float, float, str]]) -> str:
    each = (f'{{ length = "{length} m", price = {price}{more} }}' for length, price, more in rolls)
    return f"rolls = [{', '.join(each)}]"


def _line(kind: str, draw: random.Random, name: str, flow: float, spacing: float, rolls, owned) -> list[str]:
    rating = draw.choice((3.0, 3.03, 3.08)) if kind == "burst" else 4
    return [
        "[[emitter_lines]]",
        f'name = "{name}"',
        f'bore = "{draw.choice((4.3, 13.0)) if kind != "slope" else 3.6} mm"',
        f'spacing = "{spacing} m"',
        f'flow = "{flow} L/h"',
        'at_pressure = "1 bar"',
        f"exponent = {draw.choice((0.5, 0.4))}",
        f'greatest_pressure = "{rating} bar"',
        *([f'longest_run = "{draw.choice((1.3, 2.4))} m"'] if kind == "label" else []),
        _rolls(rolls),
        f"owned = {_texts(f'{length} m' for length in owned)}",
    ]


def _products(kind: str, draw: random.Random, flow: float) -> list[str]:
    rolls = [(draw.choice((8, 10, 12.5)), 6.5, "")]
    if kind in ("rolls", "joints", "owned pieces") or draw.random() < 0.2:
        rolls.append((*draw.choice(((15, 9.2), (17, 10.1), (20, 11.5))), draw.choice(("", ", available = 1"))))
    if kind == "scarce rolls":
        rolls = [(draw.choice((5.2, 6.4)), 3.5, f", available = {draw.choice((2, 4))}"), (10, 7.4, ", available = 2")]
    owned = sorted(draw.choice((2.3, 4.75, 5.1, 7.7)) for _ in range(2)) if kind == "owned pieces" else []
    lines = _line(kind, draw, "line A", flow, 0.4, rolls, owned)
    if kind in ("two lines", "a line for each bed") or kind.startswith("alternating"):
        lines += _line(kind, draw, "line B", draw.choice((1.0, 2.0)), draw.choice((0.3, 0.5)), [(11, 7.3, "")], [])
    tube = [(draw.choice((5, 6)), 4.4, ""), (10, 7.9, "")]
    if kind == "scarce rolls":
        tube = [(5, 4.4, ", available = 3"), (7.5, 6.0, ", available = 2")]
    bore = draw.choice((5, 6)) if kind.startswith("two tubes") or kind == "narrow tube" else 13.2
    lines += ["[[blank_tubes]]", 'name = "tube"', f'bore = "{bore} mm"', 'greatest_pressure = "4 bar"', _rolls(tube)]
    lines.append(f"owned = {_texts(('3.2 m', '6 m') if kind == 'owned pieces' else ())}")
    if kind.startswith("two tubes"):
        price = draw.choice((6.1, 9.0))
        lines += ["[[blank_tubes]]", 'name = "wide tube"', f'bore = "{draw.choice((8, 16))} mm"']
        lines += ['greatest_pressure = "4 bar"', _rolls([(5, price, "")])]
    return lines


def _fittings(kind: str, draw: random.Random) -> list[str]:
    dear = {"weak tap, dear valves": 39.0, "weak tap, cheap valves": 1.0}
    dear |= dict.fromkeys(("alternating lines", "alternating lines, four beds"), draw.choice((9.0, 39.0)))
    lines = ["[[fittings]]", 'kind = "zone valve"', f"price = {dear.get(kind, draw.choice((4.0, 9.0)))}"]
    if kind == "path":
        lines += ["[[fittings]]", 'kind = "tube cover"', f"price = {draw.choice((0.5, 3.0, 15.0))}"]
    if kind.startswith("two tubes"):
        for name, price in (("tee", 2.2), ("elbow", 1.9), ("zone valve", 11.0), ("tube coupler", 1.3)):
            lines += ["[[fittings]]", f'kind = "{name}"', f"price = {price}", 'fits = ["wide tube"]']
    prices = (("take-off", 0.7), ("stake", 0.2), ("header end", 1.1), ("tube coupler", 0.9), ("tee", 0.8))
    for name, price in prices:
        if draw.random() < 0.5:
            lines += ["[[fittings]]", f'kind = "{name}"', f"price = {price}"]
    return lines


def _limits(kind: str, draw: random.Random) -> list[str]:
    lines = ["[limits]", 'tube_step = "50 cm"', 'row_step = "10 cm"', 'shortest_joined_part = "1 m"']
    lines += [f'usable_offcut = "{draw.choice((1.0, 2.0, 3.0))} m"']
    lines += {
        "in a line, not shared": ["share_headers = false"],
        "at the tap": ['valves = "at the tap"'],
        "in the field": ['valves = "in the field"'],
        "valve per bed": ["valve_per_bed = true"],
        "alike": ["beds_alike = true"],
        "alike, turned": ["beds_alike = true"],
        "few zones": [f"zones_at_most = {draw.choice((1, 2))}"],
        "two headers": ["headers_at_most = 2"],
        "steep": [f'flow_variation = "{draw.choice((4, 8, 15))} %"'],
        "joints": ["joints_per_lateral = 1"],
        "narrow tube": [f'velocity = "{draw.choice((0.5, 1.0))} m/s"'],
        "long way": [f'mainline_loss = "{draw.choice((1, 5))} %"'],
    }.get(kind, [])
    if kind.startswith("two tubes"):
        lines += [f'mainline_loss = "{draw.choice((2, 5, 20))} %"']
    if kind in ("rolls", "label") and draw.random() < 0.5:
        lines += ['emission_uniformity = "88 %"']
    return lines

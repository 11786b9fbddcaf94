"""Tiny gardens of two to four beds with planted difficulties, drawn from explicit seeds."""

from __future__ import annotations

import random
from dataclasses import dataclass

from plot_stock import fittings, limits, places, products, texts

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
        *products(kind, draw, flow),
        *fittings(kind, draw),
        *limits(kind, draw),
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
        lines.append(f"outline = {places([(-1.5, -1.2), (x + 0.2, -1.2), (x + 0.2, y + 1.0), (-1.5, y + 1.0)])}")
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
        return ["[[paths]]", 'name = "planks"', f"outline = {places(around)}"]
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
    lines += [f"directions = {texts(('along', 'across') if wide else ('along',))}"]
    lines += ['edge_margin = "10 cm"', 'row_end_margin = "10 cm"']
    if kind == "raised" or (kind == "one raised in a line" and number == 1):
        lines.append(f'raised = "{draw.choice((30, 45))} cm"')
    if kind == "a line for each bed":
        lines.append(f"lines = {texts((('line A',), ('line A', 'line B'), ('line B',))[number])}")
    if kind.startswith("alternating"):
        lines.append(f"lines = {texts(('line A', 'line B')[number % 2 : number % 2 + 1])}")
    if kind == "crops apart":
        lines.append('soil = "sandy loam"')
        spacing = spacing if number % 2 else draw.choice((0.4, spacing))
    return [*lines, *_crops(kind, draw, number, spacing)]


def _outline(kind: str, draw: random.Random, number: int, each: Plot) -> list[str]:
    x, y = each.at
    if kind == "triangle" and number == 0:
        tip = draw.choice((0.0, 0.8, each.width / 2))
        return [f"outline = {places([(x, y), (x + each.width, y), (x + tip, y + each.depth + 0.5)])}"]
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

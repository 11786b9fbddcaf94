"""What can be had and what is asked in tiny gardens of several beds: lines, tubes, prices and limits, as TOML."""

from __future__ import annotations

import random
from collections.abc import Iterable, Sequence


def texts(items: Iterable[str]) -> str:
    """Return texts as a TOML list."""
    return "[" + ", ".join(f'"{item}"' for item in items) + "]"


def places(points: Sequence[tuple[float, float]]) -> str:
    """Return places as a TOML list."""
    return texts(f"{x:.2f} m, {y:.2f} m" for x, y in points)


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
        f"owned = {texts(f'{length} m' for length in owned)}",
    ]


def products(kind: str, draw: random.Random, flow: float) -> list[str]:
    """Return the emitter lines and blank tubes of a garden."""
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
    lines.append(f"owned = {texts(('3.2 m', '6 m') if kind == 'owned pieces' else ())}")
    if kind.startswith("two tubes"):
        price = draw.choice((6.1, 9.0))
        lines += ["[[blank_tubes]]", 'name = "wide tube"', f'bore = "{draw.choice((8, 16))} mm"']
        lines += ['greatest_pressure = "4 bar"', _rolls([(5, price, "")])]
    return lines


def fittings(kind: str, draw: random.Random) -> list[str]:
    """Return the prices of fittings that are stated."""
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


def limits(kind: str, draw: random.Random) -> list[str]:
    """Return the limits of a garden."""
    lines = ["[limits]", 'tube_step = "50 cm"', 'row_step = "10 cm"', 'shortest_joined_part = "1 m"']
    lines += [f'usable_offcut = "{draw.choice((1.0, 2.0, 3.0))} m"']
    lines += {
        "in a line, not shared": ["share_headers = false"],
        "alternating lines": ["share_headers = false"],
        "three beds, pairs": ["share_headers = false"],
        "tap amid": ["share_headers = false"],
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

"""Invented gardens for tests and benchmarks: varied in size, outline, ground, supply, crops, products and stock.

Each garden is a scenario file as a grower would write it, so that reading it is part of what is tried. A garden
depends on nothing but its seed and number. Products and prices are made up, of the size seen in small gardens.

Run with `python benchmarks/gardens.py` for a list of them.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass

from optimizer.scenario.load import parse_scenario
from optimizer.scenario.schema import Scenario

COUNT = 48
SEED = 20_260
_FOOT_M = 0.3048

Corners = tuple[tuple[float, float], ...]


@dataclass(frozen=True)
class Garden:
    """One invented garden.

    Args:
        name: number, size and shape in words.
        text: its scenario file.
    """

    name: str
    text: str

    def scenario(self) -> Scenario:
        """Return the garden as a checked scenario."""
        return parse_scenario(self.text, self.name)


@dataclass(frozen=True)
class _Writer:
    """Writes quantities in the units of a garden; lengths are rounded as a tape measure is read."""

    us: bool

    def length(self, metres: float) -> str:
        return f"{2 * metres / _FOOT_M // 1 / 2:.1f} ft" if self.us else f"{round(10 * metres) / 10:.1f} m"

    def short(self, metres: float) -> str:
        return f"{round(metres / 0.0254)} in" if self.us else f"{round(100 * metres)} cm"

    def bore(self, metres: float) -> str:
        return f"{metres / 0.0254:.3f} in" if self.us else f"{1000 * metres:.1f} mm"

    def pressure(self, bar: float) -> str:
        return f"{bar * 14.5038:.0f} psi" if self.us else f"{bar:.2f} bar"

    def flow(self, litres_min: float) -> str:
        return f"{litres_min / 3.7854:.2f} gal/min" if self.us else f"{litres_min:.1f} L/min"

    def bucket(self, litres_min: float) -> str:
        return f"5 gal in {60 * 18.927 / litres_min:.0f} s" if self.us else f"10 L in {600 / litres_min:.0f} s"

    def place(self, at: tuple[float, float]) -> str:
        return ", ".join(self.length(value) for value in at)


# ------------------------------------------------------------ outlines


def _rectangle(draw: random.Random, long_m: float, wide_m: float) -> Corners:
    return ((0.0, 0.0), (long_m, 0.0), (long_m, wide_m), (0.0, wide_m))


def _trapezoid(draw: random.Random, long_m: float, wide_m: float) -> Corners:
    left, right = draw.uniform(0.0, 0.15) * long_m, draw.uniform(0.0, 0.25) * long_m
    return ((0.0, 0.0), (long_m, 0.0), (long_m - right, wide_m), (left, wide_m))


def _skewed(draw: random.Random, long_m: float, wide_m: float) -> Corners:
    rise = draw.uniform(0.02, 0.08) * wide_m
    return ((0.0, 0.0), (long_m, rise), (0.92 * long_m, wide_m), (0.04 * long_m, 1.1 * wide_m))


def _ell(draw: random.Random, long_m: float, wide_m: float) -> Corners:
    knee_x, knee_y = draw.uniform(0.5, 0.75) * long_m, draw.uniform(0.4, 0.7) * wide_m
    return ((0.0, 0.0), (long_m, 0.0), (long_m, knee_y), (knee_x, knee_y), (knee_x, wide_m), (0.0, wide_m))


_OUTLINES: tuple[tuple[str, Callable[[random.Random, float, float], Corners]], ...] = (
    ("rectangle", _rectangle),
    ("trapezoid", _trapezoid),
    ("rectangle", _rectangle),
    ("L", _ell),
    ("four unequal sides", _skewed),
    ("rectangle", _rectangle),
)

# ------------------------------------------------------------ parts of a scenario


@dataclass(frozen=True)
class _Product:
    """An emitter line as made up here; flow in litres per hour and emitter."""

    name: str
    bore_mm: float
    spacing_cm: float
    flow_l_h: float
    bar: float
    exponent: float
    compensating: bool
    rated_bar: float
    metre_ct: float


_METRIC_LINES = (
    _Product("dripline 30 cm, 2 L/h", 13.8, 30, 2.0, 1.0, 0.48, False, 3.0, 68),
    _Product("dripline 33 cm, 1.6 L/h", 13.8, 33, 1.6, 1.0, 0.48, False, 3.0, 62),
    _Product("tape 20 cm, 1 L/h", 16.1, 20, 1.0, 0.7, 0.5, False, 1.2, 11),
    _Product("compensating dripline 40 cm, 1.6 L/h", 14.2, 40, 1.6, 1.0, 0.0, True, 4.0, 85),
    _Product("dripline 50 cm, 2.2 L/h", 15.2, 50, 2.2, 1.0, 0.46, False, 3.0, 57),
)
_US_LINES = (
    _Product("dripline 12 in, 0.6 gal/h", 13.7, 30.48, 2.27, 1.4, 0.0, True, 3.6, 80),
    _Product("tape 12 in, 0.3 gal/h", 15.9, 30.48, 1.14, 0.69, 0.52, False, 1.1, 12),
    _Product("dripline 18 in, 0.5 gal/h", 13.7, 45.72, 1.89, 1.0, 0.5, False, 3.0, 55),
    _Product("tape 8 in, 0.2 gal/h", 15.9, 20.32, 0.76, 0.69, 0.5, False, 1.1, 13),
)
_ROLLS_M = ((25, 50, 100), (50, 100), (100, 400), (30, 75, 200), (50,), (25, 100, 500))
_ROLLS_FT = ((50, 100, 250), (100, 500), (100, 250, 1000), (250,), (100, 1000))


def _rolls(draw: random.Random, us: bool, metre_ct: float, lengths: tuple[int, ...], limited: bool) -> str:
    """Longer rolls are cheaper by the metre; now and then only a few of the longest are to be had."""
    items = []
    for step, length in enumerate(lengths):
        metres = length * (_FOOT_M if us else 1.0)
        price = metres * metre_ct * (0.85**step) * draw.uniform(0.95, 1.05) / 100.0
        few = f", available = {draw.randint(1, 2)}" if limited and step and step == len(lengths) - 1 else ""
        items.append(f'{{ length = "{length} {"ft" if us else "m"}", price = {price:.2f}{few} }}')
    return f"rolls = [{', '.join(items)}]"


def _emitter_line(draw: random.Random, write: _Writer, product: _Product, owned_m: tuple[float, ...]) -> str:
    lengths = draw.choice(_ROLLS_FT if write.us else _ROLLS_M)
    if product.metre_ct < 20:
        lengths = tuple(5 * length for length in lengths)
    spacing = f"{product.spacing_cm / 2.54:.0f} in" if write.us else f"{product.spacing_cm:.0f} cm"
    flow = f"{product.flow_l_h / 3.7854:.2f} gal/h" if write.us else f"{product.flow_l_h} L/h"
    lines = [
        "[[emitter_lines]]",
        f'name = "{product.name}"',
        f'bore = "{write.bore(product.bore_mm / 1000)}"',
        f'spacing = "{spacing}"',
        f'flow = "{flow}"',
        f'at_pressure = "{write.pressure(product.bar)}"',
        f"cv = {0.04 if product.compensating else 0.03}",
        f'greatest_pressure = "{write.pressure(product.rated_bar)}"',
        _rolls(draw, write.us, product.metre_ct, lengths, draw.random() < 0.15),
    ]
    if product.compensating:
        lines.append(f'compensating = {{ opens = "{write.pressure(0.5)}", up_to = "{write.pressure(3.5)}" }}')
    else:
        lines.append(f"exponent = {product.exponent}")
    if owned_m:
        lines.append(f"owned = [{', '.join(chr(34) + write.length(length) + chr(34) for length in owned_m)}]")
    return "\n".join(lines)


def _tube(draw: random.Random, write: _Writer, bore_mm: float, metre_ct: float, owned_m: tuple[float, ...]) -> str:
    lengths = draw.choice(((50, 100), (100,), (50, 100, 250)) if write.us else ((10, 25), (25, 50), (25, 100), (50,)))
    lines = [
        "[[blank_tubes]]",
        f'name = "blank tube {bore_mm:.0f}"',
        f'bore = "{write.bore(bore_mm / 1000)}"',
        f'greatest_pressure = "{write.pressure(4.0)}"',
        _rolls(draw, write.us, metre_ct, lengths, False),
    ]
    if owned_m:
        lines.append(f"owned = [{', '.join(chr(34) + write.length(length) + chr(34) for length in owned_m)}]")
    return "\n".join(lines)


def _supply(draw: random.Random, write: _Writer, at: tuple[float, float], need_l_min: float, pump: bool) -> str:
    """A supply for between all of the garden at once and a seventh of it."""
    flow = max(need_l_min * draw.choice((1.9, 1.1, 0.8, 0.6, 0.45, 0.3)), 9.0)
    lines = ["[supply]", f'kind = "{"pump" if pump else "tap"}"', f'at = "{write.place(at)}"']
    if pump:
        points = ((0.4, draw.uniform(3.2, 4.0)), (1.0, draw.uniform(2.6, 3.0)), (1.7, 1.2))
        curve = [
            f'{{ flow = "{write.flow(flow * share)}", pressure = "{write.pressure(bar)}" }}' for share, bar in points
        ]
        lines += [f"curve = [{', '.join(curve)}]", f'least_flow = "{write.flow(0.12 * flow)}"', 'margin = "85 %"']
    else:
        # The open tap gives more than the flow left at working pressure.
        lines += [f'static_pressure = "{write.pressure(draw.uniform(2.6, 4.5))}"']
        lines += [f'open_flow = "{write.bucket(1.6 * flow)}"']
    for name, kind, bar, price in (
        ("vacuum breaker", "backflow device", 0.12, 9),
        ("screen filter", "filter", 0.1, 18),
    ):
        lines += ["[[supply.head_parts]]", f'name = "{name}"', f'kind = "{kind}"']
        lines += [f'loss = "{write.pressure(bar)}"', f'at_flow = "{write.flow(flow)}"', f"price = {price}.00"]
    for bar in (0.7, 1.0, 1.4):
        lines += ["[[supply.regulators]]", f'name = "regulator {bar} bar"', f'holds = "{write.pressure(bar)}"']
        lines += [
            f'needs_above = "{write.pressure(0.35)}"',
            f'greatest_flow = "{write.flow(4 * flow)}"',
            "price = 13.50",
        ]
    return "\n".join(lines)


_CROPS = (("tomato", 0.9), ("bean", 0.5), ("lettuce", 0.35), ("leek", 0.45), ("squash", 1.2), ("carrot", 0.4))


def _crops(draw: random.Random, write: _Writer, rows: int) -> tuple[str, float]:
    """Return one to three crops with the rows between them, and the depth of bed they need [m]."""
    kinds = draw.sample(_CROPS, 1 if rows > 30 and draw.random() < 0.5 else draw.choice((1, 2, 2, 3)))
    shares = [rows // len(kinds) + (1 if index < rows % len(kinds) else 0) for index in range(len(kinds))]
    depth, texts = 0.6, []
    for index, ((name, spacing), share) in enumerate(zip(kinds, shares, strict=True)):
        depth += share * spacing
        wish = "fill = true" if index == len(kinds) - 1 and draw.random() < 0.4 else f"rows = {share}"
        lines = ["[[beds.crops]]", f'name = "{name}"', f'row_spacing = "{write.short(spacing)}"', wish]
        if name == "carrot" and rows < 20:
            lines += ["lines_per_row = 2", f'line_spacing = "{write.short(0.15)}"']
        texts.append("\n".join(lines))
    return "\n".join(texts), depth


def _obstacle(draw: random.Random, write: _Writer, number: int, long_m: float, deep_m: float) -> str:
    at = draw.uniform(0.3, 0.7) * long_m, draw.uniform(0.2, 0.8) * deep_m
    radius = draw.uniform(0.3, 0.6)
    circle = f"{write.place(at)}, {write.length(radius)}"
    return f'[[obstacles]]\nname = "tree {number}"\ncircle = "{circle}"\nkeeps_out = "both"'


def _site(draw: random.Random, sloping: bool) -> str:
    if not sloping:
        return ""
    return f'[site]\nslope = "{draw.uniform(0.3, 2.5):.1f} %"\nrises_toward = "{draw.randrange(0, 360, 15)} deg"'


def _limits(draw: random.Random, write: _Writer, long_m: float) -> str:
    lines = [
        "[limits]",
        f'flow_variation = "{draw.choice((10, 10, 15))} %"',
        f'header_step = "{write.length(max(long_m / 12.0, 1.0))}"',
        f'row_step = "{write.short(0.05)}"',
        f'usable_offcut = "{write.length(draw.choice((1.5, 3.0, 5.0)))}"',
    ]
    if draw.random() < 0.4:
        lines.append("joints_per_lateral = 1")
    return "\n".join(lines)


# ------------------------------------------------------------ whole gardens


def garden(number: int, seed: int = SEED) -> Garden:
    """Return one garden.

    Args:
        number: which, from 0 [-].
        seed: seed of all gardens [-].
    """
    draw = random.Random(f"{seed} {number}")
    write = _Writer(us=number % 3 == 2)
    shape, outline = _OUTLINES[number % len(_OUTLINES)]
    rows = 6 + round(54 * (number * 0.6180339887 % 1.0) ** 1.6)
    crops, depth = _crops(draw, write, rows)
    long_m = draw.uniform(0.6, 2.2) * depth if depth < 12 else draw.uniform(1.0, 1.6) * depth
    corners = outline(draw, long_m, depth)
    products = draw.sample(_US_LINES if write.us else _METRIC_LINES, draw.choice((1, 2, 2, 3)))
    need = max(rows * long_m * 100.0 / item.spacing_cm * item.flow_l_h / 60.0 for item in products)
    at = (draw.choice((-1.5, -0.6, 0.5, 1.0)) * 2.0, draw.choice((-1.0, 0.3 * depth, 0.5 * depth, 0.9 * depth)))
    if draw.random() < 0.25:
        at = (0.5 * long_m, -1.5)
    owned = [tuple(round(draw.uniform(3.0, 25.0), 1) for _ in range(draw.choice((0, 0, 1, 3)))) for _ in products]
    trees = 1 + number % 2 if number % 4 == 1 else 0
    pump = rows > 35 and draw.random() < 0.6
    tubes = ((16.0, 90), (20.5, 120), (28.0, 190)) if rows < 35 else ((20.5, 120), (28.0, 190), (36.0, 290))
    bed = [f'[[beds]]\nname = "bed"\noutline = [{", ".join(chr(34) + write.place(at) + chr(34) for at in corners)}]']
    bed += [f'edge_margin = "{write.short(0.2)}"', f'row_end_margin = "{write.short(0.2)}"']
    head = [f'title = "Invented garden {number}"', f'units = "{"us" if write.us else "metric"}"']
    parts = [
        *head,
        _site(draw, draw.random() < 0.5),
        *(_obstacle(draw, write, index + 1, long_m, depth) for index in range(trees)),
        _supply(draw, write, at, need, pump),
        *bed,
        crops,
        *(_emitter_line(draw, write, item, have) for item, have in zip(products, owned, strict=True)),
        *(
            _tube(draw, write, bore, price, (7.5,) if draw.random() < 0.2 else ())
            for bore, price in tubes[: draw.choice((2, 3))]
        ),
        _limits(draw, write, long_m),
    ]
    words = f"{number:02d} {shape}, about {rows} rows{', trees' if trees else ''}{', US' if write.us else ''}"
    return Garden(words, "\n".join(part for part in parts if part) + "\n")


def gardens(count: int = COUNT, seed: int = SEED) -> tuple[Garden, ...]:
    """Return the first gardens of a seed.

    Args:
        count: how many [-].
        seed: seed of all gardens [-].
    """
    return tuple(garden(number, seed) for number in range(count))


def main() -> None:
    for item in gardens():
        scenario = item.scenario()
        lines, tubes = len(scenario.emitter_lines), len(scenario.blank_tubes)
        crops = ", ".join(crop.name for crop in scenario.beds[0].crops)
        print(f"{item.name:46}{scenario.supply.kind:6}{lines} lines {tubes} tubes  {crops}")


if __name__ == "__main__":
    main()

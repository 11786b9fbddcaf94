"""Pictures of a sweep: curves over one varied entry, a grid of cells over two."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator

from optimizer.scenario.schema import Scenario
from optimizer.sheets.labels import font, wrap
from optimizer.sheets.palette import INK, PALE, SOFT_INK, STEPS, WATER, lightness
from optimizer.sheets.paper import MM_PER_INCH, Paper
from optimizer.study.sweep import Parameter, Result, Variant
from optimizer.units import Display, System

_GRID_COLUMNS, _GRID_ROWS = 7, 8
_CURVE_VALUES = 40
_LIGHT = tuple(reversed(STEPS))[:4]
"""cheap is light, dear is dark"""


def sweep_figures(
    parameters: Sequence[Parameter],
    asked: Sequence[Variant],
    results: Mapping[str, Result],
    paper: Paper,
    display: Display,
) -> tuple[Figure, ...]:
    """Draw a sweep on as many lying pages as it takes.

    Args:
        parameters: one or two.
        asked: every combination, the last parameter changing first.
        results: under the keys of the combinations.
        paper: the page.
        display: writes lengths.
    """
    found = [results[variant.key] for variant in asked]
    scenario = asked[0].scenario
    if len(parameters) == 1:
        parts = range(0, len(asked), _CURVE_VALUES)
        return tuple(
            _curves(parameters[0], start, found[start : start + _CURVE_VALUES], paper, display, scenario)
            for start in parts
        )
    across, down = parameters
    cells = {
        (x, y): found[x * len(down.values) + y] for x in range(len(across.values)) for y in range(len(down.values))
    }
    return tuple(
        _grid(parameters, cells, (x, y), paper, f"{scenario.title}: money in {scenario.currency}")
        for y in range(0, len(down.values), _GRID_ROWS)
        for x in range(0, len(across.values), _GRID_COLUMNS)
    )


def _page(paper: Paper, title: str) -> Figure:
    figure = Figure(figsize=(paper.height_mm / MM_PER_INCH, paper.width_mm / MM_PER_INCH), facecolor="white")
    figure.text(0.04, 0.955, title, fontproperties=font(14.0, bold=True), color=INK, va="center")
    return figure


# ------------------------------------------------------------ one parameter


def _curves(
    parameter: Parameter, start: int, results: Sequence[Result], paper: Paper, display: Display, scenario: Scenario
) -> Figure:
    figure = _page(paper, f"{scenario.title}: best layout by {parameter.path}")
    unit = "ft" if display.system is System.US else "m"
    per_um = 1e-6 / 0.3048 if unit == "ft" else 1e-6
    panels = (
        (f"Money [{scenario.currency}]", [_scaled(item.money_ct, 0.01) for item in results]),
        (f"Tubing spent [{unit}]", [_scaled(item.waste_um, per_um) for item in results]),
        ("Fittings", [_scaled(item.fittings, 1.0) for item in results]),
        ("Zones", [_scaled(item.zones, 1.0) for item in results]),
    )
    labels = parameter.values[start : start + len(results)]
    bottom = 0.20 if _upright(labels) else 0.13
    grid = figure.add_gridspec(2, 2, left=0.08, right=0.97, top=0.88, bottom=bottom, hspace=0.25, wspace=0.20)
    for number, (name, values) in enumerate(panels):
        axes = figure.add_subplot(grid[divmod(number, 2)])
        _curve(axes, name, values, [item.row_direction for item in results])
        _label_values(axes, labels, shown=number >= 2)
    _legend(figure, results)
    return figure


def _scaled(value: int | None, factor: float) -> float | None:
    return None if value is None else value * factor


def _curve(axes: Axes, name: str, values: Sequence[float | None], directions: Sequence[str]) -> None:
    """Draw one figure over the values in the order given; gaps where nothing can be laid."""
    known = {place: value for place, value in enumerate(values) if value is not None}
    gapped = [float("nan") if value is None else value for value in values]
    axes.plot(range(len(values)), gapped, color=SOFT_INK, linewidth=1.0, zorder=2)
    for kind, (marker, colour) in _markers(directions).items():
        places = [place for place in known if directions[place] == kind]
        axes.plot(places, [known[place] for place in places], marker, color=colour, markersize=7, zorder=3)
    low, high = min(known.values(), default=0.0), max(known.values(), default=1.0)
    room = max(high - low, 0.05 * abs(high), 1e-9)
    axes.set_ylim(max(low - 0.25 * room, 0.0), high + 0.25 * room)
    if name in ("Fittings", "Zones"):
        axes.set_ylim(max(low - 1, 0), high + 1)
        axes.yaxis.set_major_locator(MaxNLocator(integer=True))
    for place in (place for place, value in enumerate(values) if value is None):
        axes.axvspan(place - 0.4, place + 0.4, facecolor=PALE, edgecolor=SOFT_INK, hatch="//", linewidth=0.0, zorder=1)
    axes.set_title(name, fontproperties=font(11.0, bold=True), loc="left", color=INK)
    axes.grid(axis="y", color=PALE, zorder=0)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)


def _markers(directions: Sequence[str]) -> dict[str, tuple[str, str]]:
    looks = (("o", WATER), ("s", "#8f3a08"), ("^", "#1f5f2c"), ("D", "#54207a"))
    names = [name for name in dict.fromkeys(directions) if name]
    return {name: looks[number % len(looks)] for number, name in enumerate(names)}


def _label_values(axes: Axes, labels: Sequence[str], *, shown: bool) -> None:
    axes.set_xlim(-0.6, len(labels) - 0.4)
    axes.set_xticks(range(len(labels)))
    axes.set_xticklabels(labels if shown else [""] * len(labels), rotation=90 if _upright(labels) else 0)
    for text in (*axes.get_xticklabels(), *axes.get_yticklabels()):
        text.set_fontproperties(font(10.0))


def _upright(labels: Sequence[str]) -> bool:
    """Return whether the values are too long to stand side by side."""
    return len(labels) > 1 and max(map(len, labels)) * len(labels) > 42


def _legend(figure: Figure, results: Sequence[Result]) -> None:
    """Tell what the marks mean, in one line at the foot."""
    axes = figure.add_axes((0.04, 0.02, 0.92, 0.05))
    axes.set_axis_off()
    axes.set_xlim(0, 1)
    axes.set_ylim(0, 1)
    x = 0.01
    for name, (marker, colour) in _markers([item.row_direction for item in results]).items():
        axes.plot([x], [0.5], marker, color=colour, markersize=7)
        axes.text(x + 0.015, 0.5, f"rows {name}", fontproperties=font(10.0), va="center", color=INK)
        x += 0.20
    if any(item.money_ct is None for item in results):
        axes.text(x, 0.5, "hatched: nothing can be laid, or not planned", fontproperties=font(10.0), va="center")


# ------------------------------------------------------------ two parameters


def _grid(
    parameters: Sequence[Parameter],
    cells: Mapping[tuple[int, int], Result],
    first: tuple[int, int],
    paper: Paper,
    title: str,
) -> Figure:
    """Draw a part of the grid of combinations, its first column and row given."""
    across, down = parameters
    figure = _page(paper, title)
    columns = range(first[0], min(first[0] + _GRID_COLUMNS, len(across.values)))
    rows = range(first[1], min(first[1] + _GRID_ROWS, len(down.values)))
    axes = figure.add_axes((0.20, 0.06, 0.77, 0.76))
    axes.set_xlim(columns.start, columns.stop)
    axes.set_ylim(rows.stop, rows.start)
    costs = sorted({item.money_ct for item in cells.values() if item.money_ct is not None})
    width_mm = 0.77 * paper.height_mm / len(columns) - 3.0
    deep = min(0.76, 0.19 * len(rows))
    axes.set_position((0.20, 0.82 - deep, 0.77, deep))
    for x in columns:
        for y in rows:
            _cell(axes, (x, y), cells[x, y], costs, width_mm)
    axes.set_xticks([x + 0.5 for x in columns], [across.values[x] for x in columns])
    axes.set_yticks([y + 0.5 for y in rows], ["\n".join(wrap(down.values[y], 0.12 * paper.height_mm)) for y in rows])
    axes.xaxis.tick_top()
    axes.tick_params(length=0)
    for text in (*axes.get_xticklabels(), *axes.get_yticklabels()):
        text.set_fontproperties(font(10.0))
    axes.set_xlabel(across.path, fontproperties=font(11.0, bold=True), labelpad=8)
    axes.xaxis.set_label_position("top")
    figure.text(0.20, 0.025, "Lighter is cheaper.", fontproperties=font(), color=INK)
    figure.text(0.04, 0.87, down.path, fontproperties=font(11.0, bold=True), color=INK)
    return figure


def _cell(axes: Axes, at: tuple[int, int], result: Result, costs: Sequence[int], width_mm: float) -> None:
    x, y = at
    if result.money_ct is None:
        axes.fill((x, x + 1, x + 1, x), (y, y, y + 1, y + 1), facecolor=PALE, edgecolor="white", hatch="//")
        words = wrap("not planned" if result.failed else "nothing can be laid", width_mm)
        axes.text(
            x + 0.5, y + 0.5, "\n".join(words), fontproperties=font(), ha="center", va="center",
            bbox={"facecolor": "white", "edgecolor": "none"},
        )  # fmt: skip
        return
    face = _shade(result.money_ct, costs)
    axes.fill((x, x + 1, x + 1, x), (y, y, y + 1, y + 1), facecolor=face, edgecolor="white", linewidth=2.0)
    zones = f"{result.zones} zone{'s' * (result.zones != 1)}"
    lines = [f"{result.money_ct / 100:.2f}", *wrap(f"{zones}, {result.row_direction}", width_mm)]
    colour = INK if lightness(face) > 55 else "white"
    axes.text(
        x + 0.5, y + 0.5, "\n".join(lines), fontproperties=font(), ha="center", va="center", color=colour,
        linespacing=1.4,
    )  # fmt: skip


def _shade(cost: int, costs: Sequence[int]) -> str:
    """Return lighter for cheaper, in even steps between the least and the greatest cost."""
    if costs[0] == costs[-1]:
        return _LIGHT[0]
    return _LIGHT[round((cost - costs[0]) / (costs[-1] - costs[0]) * (len(_LIGHT) - 1))]

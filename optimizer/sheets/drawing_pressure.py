"""Map of what every emitter gets: pressure or flow along the laterals, with the least and greatest of each zone."""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from enum import StrEnum
from functools import partial

import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection
from matplotlib.figure import Figure
from numpy.typing import NDArray

from optimizer.plan import Plan, Point, Zone
from optimizer.sheets import drawing_legend as legend
from optimizer.sheets import drawing_marks as marks
from optimizer.sheets.drawing_areas import draw_beds, draw_outline, draw_shape
from optimizer.sheets.drawing_board import Board, Box
from optimizer.sheets.drawing_layout import Layout, choose_layout, draw_frame, sized
from optimizer.sheets.drawing_panel import Block, Entry, Sign
from optimizer.sheets.drawing_places import extent
from optimizer.sheets.drawing_rows import BYPASS
from optimizer.sheets.drawing_tubes import draw_blank_tube
from optimizer.sheets.labels import glued, place_name
from optimizer.sheets.palette import INK, STEPS
from optimizer.sheets.paper import Paper, View, new_page, points, scale_text
from optimizer.units import Display, System

_CLEAR_MM = 12.0
_GAP_PITCHES = 2.2
"""emitters further apart than this many spacings have blank tube between them"""


class Quantity(StrEnum):
    """What a map shows."""

    PRESSURE = "pressure"
    FLOW = "flow"


@dataclass(frozen=True)
class _Emitters:
    """Emitters of one zone: places, shape (n, 2) [m], values [m or m3/s], and the lateral each sits in."""

    zone: Zone
    at: NDArray[np.float64]
    value: NDArray[np.float64]
    lateral: tuple[str, ...]


def draw_pressure_map(plan: Plan, paper: Paper, quantity: Quantity = Quantity.PRESSURE) -> Figure:
    """Draw to scale what every emitter gets by the solution of its zone's network.

    Up to six steps from dark (least) to light (greatest) are spread evenly over what occurs in the plan. The least and
    greatest emitter of each zone carry their figures. With compensating emitters pressures tell more than flows.

    Args:
        plan: what is drawn.
        paper: the page.
        quantity: pressure or flow.

    Returns:
        The figure, for `save_drawing`.

    Raises:
        DripLayoutError: the paper is too small for the text alone.
    """
    display = Display(System(plan.unit_system))
    emitters = [_emitters(zone, quantity) for zone in plan.zones]
    edges = _edges(emitters, quantity, display)
    beside: tuple[str, ...] = ()
    while True:
        blocks = partial(_blocks, plan, paper, display, quantity, edges, beside)
        layout = choose_layout(paper, *extent(plan), sized(blocks, display.system), display.system, _CLEAR_MM)
        figure, axes = new_page(paper, lying=layout.lying)
        draw_frame(axes, layout, blocks(scale_text(layout.view.denominator, display.system)), display)
        missed = _draw_ground(axes, layout, plan, display, emitters, edges, quantity)
        fresh = tuple(text for text in missed if text not in beside)
        if not fresh:
            return figure
        beside += fresh


def _emitters(zone: Zone, quantity: Quantity) -> _Emitters:
    net = zone.network
    node = np.array(net.emitter_node, dtype=int)
    at = np.column_stack([np.array(net.node_x_m)[node], np.array(net.node_y_m)[node]])
    heads, flows = np.array(net.node_head_m)[node], np.array(net.emitter_flow_m3_s)
    return _Emitters(zone, at, heads if quantity is Quantity.PRESSURE else flows, net.emitter_lateral)


def _edges(emitters: list[_Emitters], quantity: Quantity, display: Display) -> NDArray[np.float64]:
    """Return the borders of as many equal steps as can be told apart when their borders are written."""
    values = np.concatenate([part.value for part in emitters])
    for steps in range(len(STEPS), 1, -1):
        edges = np.linspace(float(values.min()), float(values.max()), steps + 1)
        if len({_write_value(float(edge), quantity, display) for edge in edges}) == len(edges):
            return edges
    return np.array([float(values.min()), float(values.max())])


def _colours(count: int) -> list[str]:
    """Pick colours for a number of steps, from dark to light; a single one is light."""
    if count == 1:
        return [STEPS[-1]]
    return [STEPS[round(k * (len(STEPS) - 1) / (count - 1))] for k in range(count)]


def step_of(values: NDArray[np.float64], edges: NDArray[np.float64]) -> NDArray[np.intp]:
    """Return the step each value falls into, 0 the least; the greatest value belongs to the last step.

    Args:
        values: shape (n,), in the unit of the edges.
        edges: borders of the steps, rising, shape (steps + 1,).
    """
    if edges[-1] - edges[0] <= 1e-9 * max(abs(float(edges[-1])), 1e-30):
        return np.full(values.shape, len(edges) - 2)
    found: NDArray[np.intp] = np.clip(np.searchsorted(edges, values, side="right") - 1, 0, len(edges) - 2)
    return found


def _write_value(value: float, quantity: Quantity, display: Display) -> str:
    return display.pressure(value) if quantity is Quantity.PRESSURE else display.emitter_flow(value)


def _blocks(
    plan: Plan,
    paper: Paper,
    display: Display,
    quantity: Quantity,
    edges: NDArray[np.float64],
    beside: tuple[str, ...],
    scale: str,
) -> list[Block]:
    name = "Pressure at the emitters" if quantity is Quantity.PRESSURE else "Flow of the emitters"
    blocks = [
        legend.title_block(plan, name, scale, paper.name),
        legend.compass_block(plan),
        _scale_block(name, quantity, edges, display),
        _spread_block(plan, display),
    ]
    if beside:
        blocks.append(Block("Also, without room on the drawing", tuple(Entry(text) for text in beside)))
    return blocks


def _scale_block(name: str, quantity: Quantity, edges: NDArray[np.float64], display: Display) -> Block:
    texts, colours = [_write_value(float(edge), quantity, display) for edge in edges], _colours(len(edges) - 1)
    entries = [
        Entry(f"{low} to {high}" if low != high else f"{low} everywhere", sign=_step_sign(colour))
        for (low, high), colour in zip(itertools.pairwise(texts), colours, strict=True)
    ]
    least = Entry("least of a zone", sign=lambda axes, x, y: _pointer(axes, (x, y), least=True))
    greatest = Entry("greatest of a zone", sign=lambda axes, x, y: _pointer(axes, (x, y), least=False))
    return Block(name, (*reversed(entries), least, greatest))


def _spread_block(plan: Plan, display: Display) -> Block:
    entries = []
    for zone_id, look in legend.looks(plan).items():
        water = next(zone.water for zone in plan.zones if zone.id == zone_id)
        low, high = display.pressure(water.least_head_m), display.pressure(water.greatest_head_m)
        entries.append(Entry(f"{glued(low)} to {glued(high)},", sign=legend.swatch(look, zone_id)))
        low, high = display.emitter_flow(water.least_flow_m3_s), display.emitter_flow(water.greatest_flow_m3_s)
        entries.append(Entry(f"{glued(low)} to {glued(high)}", indent=True))
        entries.append(Entry(f"flow variation {glued(display.percent(water.flow_variation))}", indent=True))
    return Block("Zones", tuple(entries))


def _step_sign(step_colour: str) -> Sign:
    def sign(axes: Axes, x: float, y: float) -> None:
        _band(axes, [np.array([[x - 4.0, y], [x + 4.0, y]])], step_colour, 2.6)

    return sign


def _band(axes: Axes, lines: list[NDArray[np.float64]], step_colour: str, width_mm: float) -> None:
    """Draw strokes in the colour of a step with a dark rim, so that the light ones show on white paper too."""
    for colour, extra, zorder in ((INK, 0.3, 8.0), (step_colour, 0.0, 8.1)):
        lines_drawn = LineCollection(
            lines, colors=colour, linewidths=points(width_mm + extra), zorder=zorder, capstyle="butt"
        )
        axes.add_collection(lines_drawn, autolim=False)


def _pointer(axes: Axes, at: Point, *, least: bool) -> None:
    """A triangle on an emitter: point down for the least, up for the greatest."""
    axes.plot(
        [at[0]], [at[1]], "v" if least else "^", markersize=points(2.6), markerfacecolor="white", markeredgecolor=INK,
        markeredgewidth=points(0.4), zorder=15,
    )  # fmt: skip


def _draw_ground(
    axes: Axes,
    layout: Layout,
    plan: Plan,
    display: Display,
    emitters: list[_Emitters],
    edges: NDArray[np.float64],
    quantity: Quantity,
) -> list[str]:
    board, view = Board(layout.ground.shrunk(1.0)), layout.view
    for shape in plan.site.shapes:
        draw_shape(axes, shape, view)
    draw_beds(axes, board, plan, view)
    draw_outline(axes, board, plan, view)
    draw_blank_tube(axes, board, plan, view)
    width = _band_width(plan, view)
    _bypasses(axes, plan, view)
    for colour, lines in zip(_colours(len(edges) - 1), _strokes(emitters, edges, view), strict=True):
        _band(axes, lines, colour, width)
        for line in lines:
            board.discourage_line(line, width)
    marks.source(axes, view.at(plan.site.source_at))
    board.block(Box(*view.at(plan.site.source_at), 4.8, 4.8))
    return _extremes(axes, board, emitters, view, quantity, display)


def _bypasses(axes: Axes, plan: Plan, view: View) -> None:
    """Draw blank tube between parts of a lateral as thin dashes."""
    ways = [view.to_page(s.points) for lateral in plan.laterals for s in lateral.stretches if s.kind == BYPASS]
    style: list[tuple[float, tuple[float, float]]] = [(0, (3.0, 2.0))]
    axes.add_collection(
        LineCollection(ways, colors=INK, linewidths=points(0.25), linestyles=style, zorder=7.5), autolim=False
    )


def _band_width(plan: Plan, view: View) -> float:
    """Return a width of strokes at which neighbouring laterals stay apart [mm]."""
    gaps = [row.spacing_m / max(row.lines, 1) for row in plan.rows]
    return max(0.5, min(1.8, 0.55 * min(gaps, default=1.0) * view.mm_per_m))


def _strokes(emitters: list[_Emitters], edges: NDArray[np.float64], view: View) -> list[list[NDArray[np.float64]]]:
    """Return, by step, the strokes of neighbouring emitters in the same step on the page [mm]."""
    out: list[list[NDArray[np.float64]]] = [[] for _ in edges[1:]]
    for part in emitters:
        steps = step_of(part.value, edges)
        start = 0
        for _, group in itertools.groupby(part.lateral):
            stop = start + len(list(group))
            at = part.at[start:stop] * view.mm_per_m + view.origin_mm
            for step, line in _runs(at, steps[start:stop]):
                out[step].append(line)
            start = stop
    return out


def _runs(at: NDArray[np.float64], steps: NDArray[np.intp]) -> list[tuple[int, NDArray[np.float64]]]:
    """Join emitters of one lateral that follow each other in one step; strokes meet halfway between emitters."""
    if len(at) == 1:
        return [(int(steps[0]), np.array([at[0] - (0.5, 0.0), at[0] + (0.5, 0.0)]))]
    gaps = np.hypot(*np.diff(at, axis=0).T)
    joined = gaps <= _GAP_PITCHES * float(np.median(gaps)) + 1e-9
    middle = (at[:-1] + at[1:]) / 2
    half = np.diff(at, axis=0) / 2 * np.minimum(1.0, np.median(gaps) / np.maximum(gaps, 1e-9))[:, None]
    out: list[tuple[int, NDArray[np.float64]]] = []
    line = [at[0] - half[0], at[0]]
    for k, gap_joined in enumerate(joined):
        if gap_joined and steps[k] == steps[k + 1]:
            line.append(at[k + 1])
            continue
        line.append(middle[k] if gap_joined else at[k] + half[k])
        out.append((int(steps[k]), np.array(line)))
        line = [middle[k] if gap_joined else at[k + 1] - half[k], at[k + 1]]
    out.append((int(steps[-1]), np.array([*line, at[-1] + half[-1]])))
    return out


def _extremes(
    axes: Axes, board: Board, emitters: list[_Emitters], view: View, quantity: Quantity, display: Display
) -> list[str]:
    """Mark the least and the greatest emitter of every zone and write their values; return what found no place."""
    spots = []
    for part in emitters:
        for least, index in ((True, int(np.argmin(part.value))), (False, int(np.argmax(part.value)))):
            at = view.at((float(part.at[index, 0]), float(part.at[index, 1])))
            _pointer(axes, at, least=least)
            board.block(Box(*at, 2.8, 2.8))
            word = "least" if least else "greatest"
            text = f"{part.zone.id} {word} {_write_value(float(part.value[index]), quantity, display)}"
            spots.append((at, text))
    missed = []
    for at, text in spots:
        near = place_name(axes, board, (at,), text, bold=True, skirt_mm=1.5, reach_mm=30.0, bearable=0.0)
        if not near and not place_name(axes, board, (at,), text, bold=True, skirt_mm=1.5, reach_mm=90.0):
            missed.append(text)
    return missed

"""Picture of the roll cutting: every roll as a bar, its pieces in cutting order, and what is left of it."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from shapely.geometry import box as shapely_box

from optimizer.plan import Cut, Plan, RollCuts
from optimizer.sheets.drawing_areas import fill_zone
from optimizer.sheets.drawing_board import Box
from optimizer.sheets.labels import LINE_MM, text_size, wrap, write
from optimizer.sheets.palette import INK, PALE, SOFT_INK, Hatch, ZoneLook
from optimizer.sheets.paper import MARGIN_MM, Paper, Rect, mark_id, new_page, page_size, points
from optimizer.units import Display, System

_PAD_MM = 3.0
_LEAST_MM = 4.8
"""a piece is drawn at least this wide, so that its number fits"""
_MEAN_MM = 11.0
"""mean width aimed at"""
_BAR_MM = 7.0
_GAP_MM = 5.0
_FILLS = {"lateral": "#dcecf8", "bypass": "#ffffff", "header": "#c9d3dc", "mainline": "#dddddd"}
_KEPT = ZoneLook("#f3f7ec", "#3b5f2a", Hatch("sparse dots", (30.0,), 2.4, 0.01, 2.4))
_WASTE = ZoneLook("#e6e0da", "#4a4038", Hatch("tight lattice", (45.0, 135.0), 1.7))


@dataclass(frozen=True)
class _Part:
    """A stretch of the bar: one cut, or what is left (no cut)."""

    cut: Cut | None
    label: str
    fill: str
    width_mm: float


@dataclass(frozen=True)
class _Deck:
    """Parts of a roll that stand on one line of the page, and the words below them."""

    parts: tuple[_Part, ...]
    bar_mm: float
    notes: tuple[tuple[float, float, float, int, str], ...]
    """from, to [mm from the left], middle of the words [mm], lane below the bar, words"""

    @property
    def height_mm(self) -> float:
        """Bar and lanes of words."""
        return self.bar_mm + (1 + max((note[3] for note in self.notes), default=-1)) * LINE_MM + _GAP_MM


@dataclass(frozen=True)
class _Strip:
    """One roll: heading and decks."""

    roll: RollCuts
    heading: tuple[str, ...]
    decks: tuple[_Deck, ...]

    @property
    def height_mm(self) -> float:
        """Heading and decks."""
        return len(self.heading) * LINE_MM + 1.5 + sum(deck.height_mm for deck in self.decks)


def draw_rolls(plan: Plan, paper: Paper) -> tuple[Figure, ...]:
    """Draw what is cut from every roll, on as many upright pages as it takes.

    Pieces stand in cutting order and are as wide as they are long, but never narrower than their number; pieces of one
    length in a row share a measure. What is left is hatched, one way if it is kept and another if it is waste.

    Args:
        plan: whose rolls.
        paper: the page.

    Returns:
        The pages; none if the plan has no rolls.
    """
    display = Display(System(plan.unit_system))
    width, height = page_size(paper, lying=False)
    frame = Rect(0.0, 0.0, width, height).shrunk(MARGIN_MM)
    body = Rect(frame.x0 + _PAD_MM, frame.y0 + _PAD_MM, frame.x1 - _PAD_MM, frame.y1 - 27.0)
    purpose = {piece.id: piece.purpose for piece in plan.pieces}
    strips = [_strip(roll, purpose, display, body.width) for roll in plan.rolls]
    pages = _paginate(strips, body.height)
    return tuple(_page(plan, paper, frame, body, page, k + 1, len(pages)) for k, page in enumerate(pages))


def _strip(roll: RollCuts, purpose: dict[str, str], display: Display, width_mm: float) -> _Strip:
    used = roll.length_um - roll.leftover_um
    kind = "owned piece" if roll.owned else roll.stock
    amount = f"{display.length(used / 1e6)} of {display.length(roll.length_um / 1e6)} used"
    text = f"Roll {roll.id}: {roll.product}, {kind}, {amount}"
    decks = [_deck(parts, display, width_mm) for parts in _fitted(roll, purpose, display, width_mm)]
    return _Strip(roll, tuple(wrap(text, width_mm, bold=True)), tuple(decks))


def _fitted(roll: RollCuts, purpose: dict[str, str], display: Display, width_mm: float) -> list[list[_Part]]:
    """Choose the scale at which a roll fills whole lines, as few as leave room for most numbers."""
    lines = max(1, round(_MEAN_MM * (len(roll.cuts) + 1) / width_mm))
    scale = lines * width_mm / roll.length_um
    for _ in range(60):
        broken = _break(_parts(roll, purpose, display, scale), width_mm)
        if len(broken) <= lines:
            break
        scale *= 0.97
    return broken


def _parts(roll: RollCuts, purpose: dict[str, str], display: Display, scale: float) -> list[_Part]:
    """Return what stands on the bar.

    Args:
        roll: what is cut.
        purpose: of every piece.
        display: writes lengths.
        scale: width on the page per length [mm/um].
    """
    out = []
    for cut in roll.cuts:
        label = cut.piece_id if cut.parts == 1 else f"{cut.piece_id} {cut.part}/{cut.parts}"
        fill = _FILLS.get(purpose.get(cut.piece_id, ""), PALE)
        out.append(_Part(cut, label, fill, max(_LEAST_MM, cut.length_um * scale)))
    if roll.leftover_um > 0:
        length = display.length_down(roll.leftover_um / 1e6)
        label = f"{'keep' if roll.leftover_usable else 'waste'} {length}"
        out.append(_Part(None, label, "", max(_LEAST_MM, roll.leftover_um * scale)))
    return out


def _break(parts: Sequence[_Part], width_mm: float) -> list[list[_Part]]:
    """Set parts on lines; a part wider than a line is drawn as wide as the line."""
    lines: list[list[_Part]] = []
    room = 0.0
    for part in parts:
        wide = min(part.width_mm, width_mm)
        if wide > room + 1e-6:
            lines.append([])
            room = width_mm
        lines[-1].append(_Part(part.cut, part.label, part.fill, wide))
        room -= wide
    return lines


def _upright(part: _Part) -> bool:
    return text_size(part.label, bold=True)[0] + 1.0 > part.width_mm


def _deck(parts: Sequence[_Part], display: Display, width_mm: float) -> _Deck:
    tall = [text_size(part.label, bold=True)[0] + 1.6 for part in parts if part.cut and _upright(part)]
    wanted: list[tuple[float, float, str]] = []
    left = 0.0
    for _, group in itertools.groupby(parts, key=lambda part: part.cut.length_um if part.cut else -1):
        members = list(group)
        right = left + sum(part.width_mm for part in members)
        cut = members[0].cut
        if cut is not None:
            length = display.length(cut.length_um / 1e6)
            wanted.append((left, right, f"{len(members)} × {length}" if len(members) > 1 else length))
        elif _upright(members[0]):
            wanted.append((left, right, members[0].label))
        left = right
    return _Deck(tuple(parts), max([_BAR_MM, *tall]), tuple(_lanes(wanted, width_mm)))


def _lanes(wanted: Sequence[tuple[float, float, str]], width_mm: float) -> list[tuple[float, float, float, int, str]]:
    """Give every text the first line below the bar on which it is clear of the others and of their brackets' stems."""
    ends: list[float] = []
    out = []
    for left, right, text in wanted:
        half = text_size(text)[0] / 2
        middle = min(max((left + right) / 2, half), width_mm - half)
        lane = next((k for k, end in enumerate(ends) if middle - half > end + 1.5), len(ends))
        if lane == len(ends):
            ends.append(0.0)
        ends[lane] = middle + half
        out.append((left, right, middle, lane, text))
    return out


def _paginate(strips: Sequence[_Strip], height_mm: float) -> list[list[_Strip]]:
    """Fill pages; a roll too tall for one is split between decks, its heading repeated."""
    pages: list[list[_Strip]] = []
    room = 0.0
    for strip in strips:
        for part in _split(strip, height_mm):
            if part.height_mm > room:
                pages.append([])
                room = height_mm
            pages[-1].append(part)
            room -= part.height_mm + 1.0
    return pages


def _split(strip: _Strip, height_mm: float) -> list[_Strip]:
    out = [_Strip(strip.roll, strip.heading, ())]
    for deck in strip.decks:
        longer = _Strip(strip.roll, strip.heading, (*out[-1].decks, deck))
        if longer.height_mm > height_mm and out[-1].decks:
            out.append(_Strip(strip.roll, strip.heading, (deck,)))
        else:
            out[-1] = longer
    return out


def _page(
    plan: Plan, paper: Paper, frame: Rect, body: Rect, strips: Sequence[_Strip], number: int, count: int
) -> Figure:
    figure, axes = new_page(paper, lying=False)
    xs, ys = (frame.x0, frame.x1, frame.x1, frame.x0, frame.x0), (frame.y0, frame.y0, frame.y1, frame.y1, frame.y0)
    axes.plot(xs, ys, color=INK, linewidth=points(0.5), zorder=2)
    _head_line(axes, frame, plan, number, count)
    top = body.y1
    for strip in strips:
        _draw_strip(axes, strip, body.x0, top)
        top -= strip.height_mm + 1.0
    return figure


def _line(axes: Axes, left: float, y: float, text: str, size_pt: float = 10.0, *, bold: bool = False) -> None:
    width, height = text_size(text, size_pt, bold=bold)
    write(axes, Box(left + width / 2, y, width, height), text, size_pt=size_pt, bold=bold, flush=True)


def _head_line(axes: Axes, frame: Rect, plan: Plan, number: int, count: int) -> None:
    left = frame.x0 + _PAD_MM
    title = wrap(plan.title, frame.width - 2 * _PAD_MM, 14.0, bold=True)[0]
    _line(axes, left, frame.y1 - 5.5, title, 14.0, bold=True)
    page = f", page {number} of {count}" if count > 1 else ""
    _line(axes, left, frame.y1 - 11.5, f"How the rolls are cut{page}", 11.0, bold=True)
    _line(
        axes,
        left,
        frame.y1 - 17.0,
        "Cut from the left, in this order. Very short pieces are drawn wider than they are.",
    )
    y = frame.y1 - 22.3
    for x, look, text in ((left, _KEPT, "left over, keep it"), (left + 60.0, _WASTE, "left over, waste")):
        fill_zone(axes, shapely_box(x, y - 1.8, x + 9.0, y + 1.8), look, f"key {text}")
        _line(axes, x + 11.0, y, text)


def _draw_strip(axes: Axes, strip: _Strip, left: float, top: float) -> None:
    y = top
    for text in strip.heading:
        _line(axes, left, y - LINE_MM / 2, text, bold=True)
        y -= LINE_MM
    y -= 1.5
    for deck in strip.decks:
        _draw_deck(axes, deck, strip.roll, left, y)
        y -= deck.height_mm


def _draw_deck(axes: Axes, deck: _Deck, roll: RollCuts, left: float, top: float) -> None:
    x = left
    for part in deck.parts:
        area = (x, top - deck.bar_mm, x + part.width_mm, top)
        _draw_part(axes, part, roll, Rect(*area))
        x += part.width_mm
    for start, stop, middle, lane, text in deck.notes:
        y = top - deck.bar_mm - 1.2
        _bracket(axes, left + start, left + stop, y)
        width, height = text_size(text)
        spot = Box(left + middle, y - 2.6 - lane * LINE_MM, width, height)
        if lane:
            x_stem = (start + stop) / 2 + left
            axes.plot((x_stem, x_stem), (y, spot.y + height / 2), color=SOFT_INK, linewidth=points(0.15), zorder=3)
        write(axes, spot, text, clear=1.0)


def _bracket(axes: Axes, x0: float, x1: float, y: float) -> None:
    xs, ys = (x0 + 0.4, x0 + 0.4, x1 - 0.4, x1 - 0.4), (y + 0.8, y, y, y + 0.8)
    axes.plot(xs, ys, color=SOFT_INK, linewidth=points(0.2), zorder=3)


def _draw_part(axes: Axes, part: _Part, roll: RollCuts, area: Rect) -> None:
    xs, ys = (area.x0, area.x1, area.x1, area.x0), (area.y0, area.y0, area.y1, area.y1)
    if part.cut is None:
        look = _KEPT if roll.leftover_usable else _WASTE
        fill_zone(axes, shapely_box(area.x0, area.y0, area.x1, area.y1), look, f"left of roll {roll.id}")
    axes.fill(
        xs, ys, facecolor=part.fill if part.cut else "none", edgecolor=INK, linewidth=points(0.25), zorder=5,
        gid=mark_id("cut", part.label) if part.cut else None,
    )  # fmt: skip
    width, height = text_size(part.label, bold=True)
    if not _upright(part):
        write(axes, Box(*area.centre, width, height), part.label, bold=True, clear=0.0 if part.cut else 0.85)
    elif part.cut is not None:
        write(axes, Box(*area.centre, width, height, 90.0), part.label, bold=True)

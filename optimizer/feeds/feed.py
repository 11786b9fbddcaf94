"""The laterals of a bed for given rows, header places and emitter spacing.

Every length of emitter line is a whole number of emitter spacings: laterals start half a spacing before their first
emitter and end half a spacing behind their last, so no cut or fitting falls on an emitter.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from optimizer.feeds.bypass import Bypass, BypassFinder
from optimizer.feeds.places import HeaderPlace
from optimizer.geometry import Frame, Point
from optimizer.rows import RowLine, RowPlan
from optimizer.rows.field import Stretches
from optimizer.site import SiteShapes

_SNAP = 1e-6  # a row of exactly so many spacings must not lose one to rounding [m]


class FeedError(ValueError):
    """A header place does not work for a row plan; the message is the reason listed in the certificate."""


@dataclass(frozen=True)
class LinePart:
    """A stretch of emitter line in a lateral, or the bypass that leads to it."""

    u: float
    """where it starts, in the row frame [m]"""
    spacings: int
    """its length in emitter spacings; also its number of emitters"""
    bypass: Bypass | None
    """blank tube before this stretch; None for the stretch at the header"""


@dataclass(frozen=True)
class LateralShape:
    """A lateral on the plan, in the row frame."""

    row: int
    """index of the row in the row plan"""
    line: int
    """index of the line in the row"""
    header: int
    side: int
    """+1 in the direction of growing u, -1 against it"""
    parts: tuple[LinePart, ...]

    @property
    def spacings(self) -> int:
        """Length of emitter line in emitter spacings."""
        return sum(part.spacings for part in self.parts)

    @property
    def bypass_lengths_m(self) -> tuple[float, ...]:
        """Lengths of the blank tube in it [m]."""
        return tuple(part.bypass.length_m for part in self.parts if part.bypass is not None)


@dataclass(frozen=True)
class HeaderVertex:
    """Where a header crosses one line of a row."""

    row: int
    line: int
    at: Point
    """(u, v) in the row frame [m]"""


@dataclass(frozen=True, eq=False)
class Feed:
    """Headers and laterals of one bed."""

    headers: tuple[tuple[HeaderVertex, ...], ...]
    """vertices of each header in order of growing v"""
    laterals: tuple[LateralShape, ...]
    """in order of row, line, header, side"""
    dropped: tuple[tuple[int, float, str], ...]
    """(row, length without water [m], why)"""


Reaches = list[tuple[float, float]]


@dataclass(frozen=True)
class FeedTask:
    """What laterals are built for.

    Args:
        frame: frame of the rows.
        shapes: the site.
        find: ways around what cuts a row.
        shortest_m: shortest stretch worth a lateral [m].
        spacing_m: emitter spacing [m].
    """

    frame: Frame
    shapes: SiteShapes
    find: BypassFinder
    shortest_m: float
    spacing_m: float


def _reaches(line: RowLine, crossings: Sequence[float], header: int, side: int) -> Reaches:
    """Return the stretches one side of one header feeds, in the order of flow, as distances from the header.

    Between two headers each feeds half of the row.
    """
    at = crossings[header]
    low, high = -math.inf, math.inf
    if header > 0:
        low = (crossings[header - 1] + at) / 2.0
    if header + 1 < len(crossings):
        high = (at + crossings[header + 1]) / 2.0
    limit = (at, high) if side > 0 else (low, at)
    parts = [(max(a, limit[0]), min(b, limit[1])) for a, b in line.stretches]
    kept = [(a, b) for a, b in parts if b > a]
    return [(a - at, b - at) for a, b in kept] if side > 0 else [(at - b, at - a) for a, b in reversed(kept)]


def _with_lead(way: Bypass, frame: Frame, u: float, v: float) -> Bypass:
    """Return a way extended back to where the emitter line before it is cut."""
    start = frame.to_plan((u, v))
    return way if math.dist(start, way.points[0]) < _SNAP else Bypass((start, *way.points))


def _parts(task: FeedTask, v: float, at: float, side: int, reaches: Reaches) -> tuple[tuple[LinePart, ...], float]:
    """Return the parts of a lateral and the length of row it cannot reach [m]."""
    parts: list[LinePart] = []
    end = 0.0
    for index, (start, stop) in enumerate(reaches):
        spacings = math.floor((stop - start + _SNAP) / task.spacing_m)
        if not spacings:
            continue
        bypass = None
        if start > _SNAP:
            if not parts:
                # A take-off carries emitter line; a lateral cannot begin with blank tube.
                raise FeedError("the header would stand where something cuts a row")
            gap_from = reaches[index - 1][1] if index else 0.0
            way = task.find(v, at + side * gap_from, at + side * start)
            if way is None:
                return tuple(parts), sum(b - a for a, b in reaches[index:])
            bypass = _with_lead(way, task.frame, at + side * end, v)
        parts.append(LinePart(at + side * start, spacings, bypass))
        end = start + spacings * task.spacing_m
    return tuple(parts), 0.0


def _crossings(line: RowLine, places: Sequence[HeaderPlace], shortest_m: float) -> list[float]:
    found = [place.cross(line.stretches, shortest_m) for place in places]
    if any(b - a < shortest_m for a, b in pairwise(found)):
        raise FeedError("headers stand closer than the shortest stretch worth a lateral")
    return found


@dataclass(frozen=True)
class _Watered:
    """What one side of one header waters of any row with certain stretches."""

    header: int
    side: int
    at: float
    reaches: Reaches
    straight: tuple[LinePart, ...] | None
    """its parts where no bypass is needed, None where one is"""


def _watered(task: FeedTask, line: RowLine, crossings: Sequence[float]) -> Iterator[_Watered]:
    for header, at in enumerate(crossings):
        for side in (-1, 1):
            reaches = _reaches(line, crossings, header, side)
            straight = len(reaches) < 2 and not any(start > _SNAP for start, _ in reaches)
            parts = _parts(task, line.v, at, side, reaches)[0] if straight else None
            yield _Watered(header, side, at, reaches, parts)


def _line_laterals(
    task: FeedTask, row: int, index: int, line: RowLine, watered: Sequence[_Watered]
) -> Iterator[tuple[LateralShape | None, float]]:
    for item in watered:
        parts, lost = item.straight, 0.0
        if parts is None:
            parts, lost = _parts(task, line.v, item.at, item.side, item.reaches)
        yield (LateralShape(row, index, item.header, item.side, parts) if parts else None), lost


def _check_headers(task: FeedTask, headers: Sequence[Sequence[HeaderVertex]]) -> None:
    for vertices in headers:
        points = tuple(task.frame.to_plan(vertex.at) for vertex in vertices)
        if len(points) > 1 and not task.shapes.tube_allowed(points):
            raise FeedError("the header would cross an obstacle or barrier")


def _check_watered(headers: Sequence[Sequence[HeaderVertex]], laterals: Sequence[LateralShape]) -> None:
    fed = {(lateral.header, lateral.row, lateral.line) for lateral in laterals}
    for header, vertices in enumerate(headers):
        if any((header, vertex.row, vertex.line) not in fed for vertex in vertices):
            raise FeedError("a row is too short for one emitter spacing")


def build_feed(task: FeedTask, plan: RowPlan, places: Sequence[HeaderPlace]) -> Feed:
    """Return headers and laterals for given rows and header places.

    Args:
        task: what is the same for all of them.
        plan: the rows.
        places: one place per header, in increasing u.

    Raises:
        FeedError: the header would cross what tube must keep out of, or two headers stand too close.
    """
    headers: list[list[HeaderVertex]] = [[] for _ in places]
    laterals: list[LateralShape] = []
    dropped: list[tuple[int, float, str]] = []
    # Rows with the same stretches differ only in their height: in a rectangle all of them.
    alike: dict[Stretches, tuple[list[float], tuple[_Watered, ...]]] = {}
    for row_index, row in enumerate(plan.rows):
        for line_index, line in enumerate(row.lines):
            if line.stretches not in alike:
                crossings = _crossings(line, places, task.shortest_m)
                alike[line.stretches] = crossings, tuple(_watered(task, line, crossings))
            crossings, watered = alike[line.stretches]
            for header, at in enumerate(crossings):
                headers[header].append(HeaderVertex(row_index, line_index, (at, line.v)))
            for lateral, lost in _line_laterals(task, row_index, line_index, line, watered):
                laterals += [lateral] if lateral else []
                dropped += [(row_index, lost, "no tube can be led to it")] if lost > 0.0 else []
    _check_headers(task, headers)
    _check_watered(headers, laterals)
    return Feed(tuple(tuple(vertices) for vertices in headers), tuple(laterals), tuple(dropped))

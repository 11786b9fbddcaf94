"""Names of beds where there are several: beside all of them if the paths leave room, else on the beds themselves.

A name must never be taken for that of a neighbour: beside a bed it stands only where every other bed is further off.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from optimizer.plan import Plan, Point, Row
from optimizer.sheets.drawing_board import Box, readable, segment_box
from optimizer.sheets.drawing_places import is_area
from optimizer.sheets.drawing_row_names import Desk, draw_bar, on_stroke, parts_size, write_parts
from optimizer.sheets.drawing_rows import Group, id_span
from optimizer.sheets.labels import place_name, text_size, write
from optimizer.sheets.palette import INK
from optimizer.sheets.spans import bed_key, numbered_alike, short_ids

_BESIDE_MM = 0.9
_APART_MM = 3.0
"""another bed must be further than this from a name beside a bed"""
_BAR_MM = 1.2
_RIM_MM = 0.7
_BEARABLE = 5.0
"""laterals under a name on a bed; header and mainline weigh more"""
_NEAR_MM = 30.0
_NEARLY_ALL = 0.8

Stroke = tuple[Point, Point]


@dataclass(frozen=True)
class BedTag:
    """What is written about a bed."""

    bed: str
    key: str
    """what the ids of its rows begin with; empty if nothing"""
    zone_ids: tuple[str, ...]
    outline: tuple[Point, ...]
    """on the page [mm]"""
    strokes: tuple[Stroke, ...]
    """its rows on the page [mm]"""
    rows: str
    """ids of its rows, short"""
    crop: str
    """empty if there are several, or several groups of rows"""

    def names(self) -> tuple[str, ...]:
        """Return the wordings of its name, the longest first."""
        if len(self.zone_ids) != 1:
            return (self.bed,)
        return f"{self.bed}, zone {self.zone_ids[0]}", f"{self.bed}, {self.zone_ids[0]}"

    def numbers(self) -> tuple[str, ...]:
        """Return what stands for the name where that is too long: its number in the ids of rows."""
        letter = f", {self.zone_ids[0]}" if len(self.zone_ids) == 1 else ""
        return (f"{self.key}{letter}",) if self.key else ()


@dataclass(frozen=True)
class BedNames:
    """What came of naming the beds."""

    zones_told: tuple[tuple[str, str], ...]
    """zone and bed wherever the letter stands with the name"""
    rows_told: tuple[str, ...]
    """beds whose row ids stand with the name"""
    missed: tuple[str, ...]
    """found no place"""


def bed_tags(desk: Desk, plan: Plan, groups: Sequence[Group] | None) -> tuple[BedTag, ...]:
    """Gather what is written about every bed.

    Args:
        desk: places the beds on the page.
        plan: whose beds.
        groups: rows alike, or None if every row carries a name of its own.
    """
    tags = []
    for bed in plan.beds:
        rows = [row for row in plan.rows if row.bed == bed.name]
        mine = [group for group in groups or () if group.bed == bed.name]
        zones = tuple(zone.id for zone in plan.zones if not set(zone.row_ids).isdisjoint(row.id for row in rows))
        outline = tuple((float(x), float(y)) for x, y in desk.view.to_page(bed.outline))
        one = mine[0] if len(mine) == 1 else None
        tags.append(
            BedTag(bed.name, bed_key(plan, bed.name), zones, outline, _strokes(desk, rows),
                   _row_words(plan, rows) if one else "", one.crop if one else "")
        )  # fmt: skip
    return tuple(tag for tag in tags if len(tag.outline) > 2)


def _strokes(desk: Desk, rows: Sequence[Row]) -> tuple[Stroke, ...]:
    return tuple((desk.view.at(row.start), desk.view.at(row.end)) for row in rows)


def _row_words(plan: Plan, rows: Sequence[Row]) -> str:
    """Write the ids of a bed's rows, without its number where the name tells that already."""
    ids = [row.id for row in rows]
    bed = rows[0].bed
    return id_span(short_ids(ids) if numbered_alike(bed, bed_key(plan, bed)) else ids)


def name_beds(desk: Desk, plan: Plan, groups: Sequence[Group] | None) -> BedNames:
    """Write the names of several beds, with the letter of their zone; a single bed needs none.

    All of them stand beside their beds, or all of them on their beds; single ones that fit neither way are led to.
    """
    if len(plan.beds) == 1:
        return BedNames((), (), ())
    tags = bed_tags(desk, plan, groups)
    others = shapely.union_all([_shape(desk, shape.points) for shape in plan.site.shapes if is_area(shape)])
    beside = _all_beside(desk, tags, others)
    if beside is not None:
        for _, text, box in beside:
            _write_name(desk, box, text)
        return BedNames(tuple(_told(tag) for tag, _, _ in beside if len(tag.zone_ids) == 1), (), ())
    return _on_beds(desk, tags)


def _told(tag: BedTag) -> tuple[str, str]:
    return tag.zone_ids[0], tag.bed


def _shape(desk: Desk, outline: Sequence[Point]) -> BaseGeometry:
    area: BaseGeometry = Polygon(desk.view.to_page(outline))
    return area


# ---------------------------------------------------------------- beside the beds


def _all_beside(
    desk: Desk, tags: Sequence[BedTag], ground: BaseGeometry
) -> list[tuple[BedTag, str, Box]] | None:  # fmt: skip
    """Return a place beside every bed, all in one wording; None if there is none."""
    for wording in range(max(len(tag.names()) for tag in tags)):
        found: list[tuple[BedTag, str, Box]] = []
        for index, tag in enumerate(tags):
            text = tag.names()[min(wording, len(tag.names()) - 1)]
            beds = [Polygon(other.outline) for k, other in enumerate(tags) if k != index]
            taken = [_area(box) for _, _, box in found]
            box = _beside(desk, tag, text, shapely.union_all(beds), shapely.union_all([ground, *taken]))
            if box is None:
                break
            found.append((tag, text, box))
        if len(found) == len(tags):
            return found
    return None


def _area(box: Box) -> BaseGeometry:
    # Half a millimetre around it: two names must not run into one another.
    area: BaseGeometry = Polygon(box.corners()).buffer(0.5, join_style="mitre")
    return area


def _beside(desk: Desk, tag: BedTag, text: str, beds: BaseGeometry, ground: BaseGeometry) -> Box | None:
    """Return a place above or below a bed that is plainly its own."""
    xs, ys = zip(*tag.outline, strict=True)
    width, height = text_size(text, bold=True)
    for y in (max(ys) + height / 2 + _BESIDE_MM, min(ys) - height / 2 - _BESIDE_MM):
        box = Box((min(xs) + max(xs)) / 2, y, width, height)
        area = Polygon(box.corners())
        own = desk.board.is_free(box) and desk.board.covered(box) == 0.0
        if own and area.distance(beds) > _APART_MM and not area.intersects(ground):
            return box
    return None


def _write_name(desk: Desk, box: Box, text: str) -> None:
    desk.board.block(box)
    write(desk.axes, box, text, bold=True)


# ---------------------------------------------------------------- on the beds


def _wordings(tag: BedTag) -> list[tuple[str, str]]:
    """Return what may stand on a bed, best first: its name heavy, its rows light."""
    names, rows = tag.names(), tag.rows
    full = [(names[0], f"{rows} {tag.crop}"), (names[0], rows), (names[-1], rows)] if rows else []
    return [*full, (names[0], ""), (names[-1], ""), *((key, "") for key in tag.numbers())]


def _on_beds(desk: Desk, tags: Sequence[BedTag]) -> BedNames:
    """Write every name along the rows of its bed, in the best wording that fits all beds where there is one."""
    spare = [[_place_on(desk, tag, words) for words in _wordings(tag)] for tag in tags]
    shared = _shared(spare)
    zones, rows, missed = [], [], []
    for tag, places in zip(tags, spare, strict=True):
        chosen = next((k for k, place in enumerate(places) if place and k >= shared), None)
        box = places[chosen] if chosen is not None else None
        words = _wordings(tag)[chosen] if chosen is not None else (tag.names()[-1], "")
        if box is not None:
            _write_on(desk, tag, words, box)
        elif not _lead_to(desk, tag, words[0]):
            missed.append(words[0])
        if len(tag.zone_ids) == 1:
            zones.append(_told(tag))
        if box is not None and words[1]:
            rows.append(tag.bed)
    return BedNames(tuple(zones), tuple(rows), tuple(missed))


def _shared(spare: Sequence[Sequence[Box | None]]) -> int:
    """Return the best wording that fits nearly all beds, so that they read alike; the last if none does."""
    count = min(map(len, spare))
    fits = (k for k in range(count) if sum(places[k] is not None for places in spare) >= _NEARLY_ALL * len(spare))
    return next(fits, count - 1)


def _place_on(desk: Desk, tag: BedTag, words: tuple[str, str]) -> Box | None:
    width, height = parts_size(*words)
    spots = [box for box in _spots(tag, width, height) if Polygon(tag.outline).covers(Polygon(box.corners()))]
    return desk.board.first_free(spots, bearable=_BEARABLE)


def _spots(tag: BedTag, width: float, height: float) -> Iterator[Box]:
    """Yield places along the middle row of a bed, from its middle outwards; upright ones if it has no rows [mm]."""
    if not tag.strokes:
        x, y = Polygon(tag.outline).representative_point().coords[0]
        yield Box(x, y, width, height)
        return
    (xa, ya), (xb, yb) = _middle(tag)
    size, angle = math.dist((xa, ya), (xb, yb)), readable(math.degrees(math.atan2(yb - ya, xb - xa)))
    low, high = width / 2 + _BAR_MM + _RIM_MM, size - width / 2 - _RIM_MM
    if low > high:
        return
    for along in sorted(np.linspace(low, high, 9), key=lambda value: abs(value - size / 2)):
        t = float(along) / size
        yield Box(xa + (xb - xa) * t, ya + (yb - ya) * t, width, height, angle)


def _middle(tag: BedTag) -> Stroke:
    """Return the line in the middle of the rows [mm]."""
    a, b = tag.strokes[0], tag.strokes[-1]
    return ((a[0][0] + b[0][0]) / 2, (a[0][1] + b[0][1]) / 2), ((a[1][0] + b[1][0]) / 2, (a[1][1] + b[1][1]) / 2)


def _ends(tag: BedTag, box: Box) -> Stroke:
    """Return where the bar before a name meets the first and the last row of the bed [mm]."""
    start = _middle(tag)[0]
    along = math.dist(start, (box.x, box.y)) - box.width / 2 - _BAR_MM
    return on_stroke(tag.strokes[0], along), on_stroke(tag.strokes[-1], along)


def _bar(tag: BedTag, box: Box) -> Box:
    return segment_box(*_ends(tag, box), 0.4)


def _write_on(desk: Desk, tag: BedTag, words: tuple[str, str], box: Box) -> None:
    """Write a name on its bed; where the rows are named too a bar shows from which to which, if it has room."""
    ink = desk.looks[tag.zone_ids[0]].ink if len(tag.zone_ids) == 1 else INK
    if words[1] and len(tag.strokes) > 1 and desk.board.is_free(_bar(tag, box)):
        draw_bar(desk.axes, *_ends(tag, box), ink)
        desk.board.block(_bar(tag, box))
    desk.board.block(box)
    write_parts(desk.axes, box, *words, ink)


def _lead_to(desk: Desk, tag: BedTag, text: str) -> bool:
    """Write a name near its bed, with a leader from the middle of the bed."""
    middle = Polygon(tag.outline).representative_point().coords[0]
    return place_name(desk.axes, desk.board, [(middle[0], middle[1])], text, bold=True, reach_mm=_NEAR_MM)

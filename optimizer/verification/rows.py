"""Rows: inside their bed, clear of what keeps them out, far enough apart, as many as wanted, all watered."""

from __future__ import annotations

import math
from itertools import pairwise

import shapely
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from optimizer.plan import Point, Row
from optimizer.scenario.schema import Crop
from optimizer.verification.facts import EMITTER_LINE, TOLERANCE_M, Facts, distance_to
from optimizer.verification.findings import Verdict, Verdicts, judged

Span = tuple[Point, Point]

NOTHING_M = 1e-6
"""Lengths below this are rounding [m]."""


def grown(start: Point, end: Point, by_m: float) -> Span:
    """Return a straight line made longer at both ends [m]."""
    size = math.dist(start, end)
    dx, dy = (end[0] - start[0]) / size * by_m, (end[1] - start[1]) / size * by_m
    return (start[0] - dx, start[1] - dy), (end[0] + dx, end[1] + dy)


def sideways(start: Point, end: Point, by_m: float) -> Span:
    """Return a straight line moved to its left [m]."""
    size = math.dist(start, end)
    dx, dy = -(end[1] - start[1]) / size * by_m, (end[0] - start[0]) / size * by_m
    return (start[0] + dx, start[1] + dy), (end[0] + dx, end[1] + dy)


def length_outside(shape: Polygon, line: Span) -> float:
    """Return how much of a line lies outside a shape, what lies within a millimetre of its edge not counted [m]."""
    return float(LineString(line).difference(shape.buffer(TOLERANCE_M)).length)


def length_within(shape: BaseGeometry, points: tuple[Point, ...]) -> float:
    """Return how much of a line lies deeper than a millimetre in a shape [m]."""
    return float(LineString(points).intersection(shape.buffer(-TOLERANCE_M)).length)


def inside_bed(facts: Facts) -> Verdicts:
    """Rows lie in their bed with its margins: at the ends along the row, elsewhere across it."""
    for row in facts.plan.rows:
        bed, shape = facts.beds[row.bed], facts.bed_shapes[row.bed]
        # A row that already stands may be nearer to the edge than one that would be planted now.
        end, edge = (0.0, 0.0) if row.fixed else (bed.row_end_margin, bed.edge_margin)
        over = length_outside(shape, grown(row.start, row.end, end))
        message = f"with a margin of {facts.show.length(end)} at its ends it leaves the bed by {over:.3f} m"
        yield judged(f"row {row.id}", over <= NOTHING_M, message)
        over = max(length_outside(shape, sideways(row.start, row.end, side)) for side in (-edge, edge))
        message = f"it comes nearer than {facts.show.length(edge)} to the edge of its bed over {over:.3f} m"
        yield judged(f"row {row.id}", over <= NOTHING_M, message)


def row_direction(facts: Facts) -> Verdicts:
    """Rows run in the direction stated for their bed."""
    for row in facts.plan.rows:
        frame = facts.frame(row.bed)
        off = abs(frame.to_frame(row.start)[1] - frame.to_frame(row.end)[1])
        yield judged(f"row {row.id}", off <= TOLERANCE_M, f"its ends lie {off:.3f} m off the row direction of the bed")


def clear_of_obstacles(facts: Facts) -> Verdicts:
    """What is watered stays clear of obstacles, with the row end margin before them."""
    for lateral, part in facts.all_stretches(EMITTER_LINE):
        row = facts.rows[lateral.row_id]
        margin = 0.0 if row.fixed else facts.beds[row.bed].row_end_margin
        for obstacle, shape in facts.kept_out("rows"):
            deep = length_within(shape, grown(part.points[0], part.points[-1], margin))
            message = f"with {facts.show.length(margin)} at its ends it reaches {deep:.3f} m into '{obstacle.name}'"
            yield judged(f"lateral {lateral.id}", deep <= NOTHING_M, message)


def row_spacing(facts: Facts) -> Verdicts:
    """Rows of a bed are at least the larger of their two row spacings apart."""
    for bed in facts.plan.beds:
        rows = facts.rows_of(bed.name)
        for number, low in enumerate(rows):
            yield from (_apart(facts, low, high) for high in rows[number + 1 :])


def _apart(facts: Facts, low: Row, high: Row) -> Verdict:
    wanted = max(facts.crop(low).row_spacing, facts.crop(high).row_spacing)
    frame = facts.frame(low.bed)
    across = abs(frame.to_frame(high.start)[1] - frame.to_frame(low.start)[1])
    gap = float(LineString((low.start, low.end)).distance(LineString((high.start, high.end))))
    # Two parts of one line of plants, before and behind an obstacle, must only not overlap.
    holds = gap > TOLERANCE_M if across <= TOLERANCE_M else gap >= wanted - TOLERANCE_M
    message = f"they are {facts.show.length(gap)} apart; {facts.show.length(wanted)} is needed"
    both_planted = low.fixed and high.fixed
    return judged(f"rows {low.id} and {high.id}", holds or both_planted, message)


def crop_words(facts: Facts) -> Verdicts:
    """A row carries the lines and the spacing its crop asks for."""
    for row in facts.plan.rows:
        crop = facts.crop(row)
        message = f"{crop.name} wants {crop.lines_per_row} lines, the row has {row.lines}"
        yield judged(f"row {row.id}", row.lines == crop.lines_per_row, message)
        message = f"{crop.name} wants rows {facts.show.length(crop.row_spacing)} apart, the plan says {row.spacing_m} m"
        yield judged(f"row {row.id}", abs(row.spacing_m - crop.row_spacing) <= 1e-6, message)


def planted_rows(facts: Facts) -> Verdicts:
    """Rows that already stand are in the plan at their place, and no other row claims to stand already."""
    for bed in facts.scenario.beds:
        for crop in bed.crops:
            for points in crop.planted_rows:
                mine = [row for row in facts.plan.rows if (row.bed, row.crop, row.fixed) == (bed.name, crop.name, True)]
                found = any(_lies_on(row, points) for row in mine)
                where = f"{crop.name} from {points[0]} to {points[-1]}"
                yield judged(where, found, "the planted row is not in the plan at its place")
    for row in facts.plan.rows:
        if row.fixed:
            found = any(_lies_on(row, points) for points in facts.crop(row).planted_rows)
            yield judged(f"row {row.id}", found, f"no row of {row.crop} stands there")


def _lies_on(row: Row, points: tuple[Point, ...]) -> bool:
    """Whether a row lies on a planted row and not on a short part of it only."""
    planted, line = LineString(points), LineString((row.start, row.end))
    return bool(line.hausdorff_distance(planted.intersection(line.buffer(TOLERANCE_M))) <= 2 * TOLERANCE_M)


def line_length(facts: Facts, row: Row, line: int) -> float:
    """Return the emitter line laid for one line of a row [m]."""
    return sum(lateral.length_um for lateral in facts.laterals_of(row) if lateral.line == line) / 1e6


def in_their_row(facts: Facts) -> Verdicts:
    """Emitter line lies on its row, lines of a row side by side at their spacing."""
    for lateral, part in facts.all_stretches(EMITTER_LINE):
        row = facts.rows[lateral.row_id]
        spacing = facts.crop(row).line_spacing
        wanted = (lateral.line - (row.lines + 1) / 2.0) * spacing
        off = _off_line(row, part.points, wanted, _beyond(facts, row, wanted))
        message = f"it lies {off:.3f} m off its place in the row"
        yield judged(f"lateral {lateral.id}", 1 <= lateral.line <= row.lines and off <= TOLERANCE_M, message)


def _beyond(facts: Facts, row: Row, beside_m: float) -> float:
    """Return by how much a line beside the middle of a row may end before or beyond it, at a slanted edge [m]."""
    frame, outline = facts.frame(row.bed), [*facts.bed_shapes[row.bed].exterior.coords]
    edges = pairwise(frame.to_frame((at[0], at[1])) for at in outline)
    slants = [abs(u1 - u0) / abs(v1 - v0) for (u0, v0), (u1, v1) in edges if abs(v1 - v0) > TOLERANCE_M]
    return abs(beside_m) * max(1.0, *slants)


def _off_line(row: Row, points: tuple[Point, ...], wanted_m: float, beyond_m: float) -> float:
    """Return how far points lie off a line beside a row or beyond its ends; either side may be the first [m].

    Args:
        row: the row.
        points: the line as it is drawn.
        wanted_m: how far beside the row it is to lie [m].
        beyond_m: how far it may reach beyond the ends of the row [m].
    """
    lines = [
        LineString(grown(*sideways(row.start, row.end, side), beyond_m + TOLERANCE_M)) for side in (wanted_m, -wanted_m)
    ]
    return min(max(distance_to(line, point) for point in points) for line in lines)


def all_watered(facts: Facts) -> Verdicts:
    """Every line of every row is watered from end to end, but for what is too short or listed as left out."""
    for row in facts.plan.rows:
        listed = any(row.id in words.replace(",", " ").replace(":", " ").split() for words in facts.plan.not_watered)
        for line in range(1, row.lines + 1):
            dry = _longest_dry(facts, row, line)
            message = f"line {line} leaves {facts.show.length(dry)} without water and the plan does not list it"
            before = _beyond(facts, row, (line - (row.lines + 1) / 2.0) * facts.crop(row).line_spacing)
            yield judged(f"row {row.id}", listed or dry <= _least_wet(facts, row) + before + TOLERANCE_M, message)


def _least_wet(facts: Facts, row: Row) -> float:
    """Return the length of row that may stay dry at one place: less than a lateral or than one emitter spacing [m]."""
    used = [facts.lines[lateral.product].spacing for lateral in facts.laterals_of(row)]
    spacing = max(used, default=max(line.spacing for line in facts.scenario.emitter_lines))
    return max(facts.scenario.limits.shortest_row, spacing)


def _longest_dry(facts: Facts, row: Row, line: int) -> float:
    """Return the longest part of a row that should be watered by a line of it and is not [m]."""
    bed = facts.beds[row.bed]
    off = (line - (row.lines + 1) / 2.0) * facts.crop(row).line_spacing
    # Lines are counted from one side of the row or the other, as the row is drawn.
    places = (sideways(row.start, row.end, off), sideways(row.start, row.end, -off))
    return min(_dry_on(facts, row, line, own, bed.row_end_margin) for own in places)


def _dry_on(facts: Facts, row: Row, line: int, own: Span, margin_m: float) -> float:
    """Return the longest part of a line's own place that is not watered by it [m]."""
    left: BaseGeometry = LineString(own)
    barriers = [LineString(barrier.line) for barrier in facts.scenario.barriers]
    for shape in (*(shape for _, shape in facts.kept_out("rows")), *barriers):
        touched = left.intersection(shape)
        reach = 0.0 if row.fixed or touched.is_empty else margin_m
        left = left.difference(touched.buffer(max(reach, TOLERANCE_M)))
    for lateral in facts.laterals_of(row):
        for part in lateral.stretches:
            if lateral.line == line and part.kind == EMITTER_LINE:
                width = row.lines * facts.crop(row).line_spacing + TOLERANCE_M
                left = left.difference(LineString(part.points).buffer(width, cap_style="flat"))
    return max((float(part.length) for part in shapely.get_parts(left)), default=0.0)


def planted_length(facts: Facts) -> Verdicts:
    """The watered length stated for a row is that of its emitter line, less than a spacing more at each stretch."""
    for row in facts.plan.rows:
        first = [lateral for lateral in facts.laterals_of(row) if lateral.line == 1]
        spare = sum(facts.lines[lateral.product].spacing * len(lateral.stretches) for lateral in first)
        laid = line_length(facts, row, 1)
        message = (
            f"the plan waters {facts.show.length(row.planted_m)}, its first line is {facts.show.length(laid)} long"
        )
        # Beside a slanted edge the lines of a row differ in length from its middle by what the edge gains across them.
        slant = _slant(facts, row)
        holds = laid - slant - TOLERANCE_M <= row.planted_m <= laid + spare + slant + TOLERANCE_M
        yield judged(f"row {row.id}", holds, message)


def _slant(facts: Facts, row: Row) -> float:
    """Return how much longer or shorter than its middle the lines of a row may be [m]."""
    lengths = [line_length(facts, row, line) for line in range(1, row.lines + 1)]
    return max(lengths) - min(lengths)


def shortfall(facts: Facts, bed: str, crop: Crop) -> tuple[float, float]:
    """Return what is missing of a crop's request and the request: rows as a count, all else as metres of row.

    A crop that fills what is left wants a row at least.
    """
    mine = [row for row in facts.plan.rows if (row.bed, row.crop) == (bed, crop.name)]
    watered = sum(row.planted_m for row in mine)
    if crop.rows is not None:
        return float(max(0, crop.rows - len(mine))), float(crop.rows)
    if crop.row_length is not None:
        return max(0.0, crop.row_length - watered), crop.row_length
    if crop.plants is not None and crop.plant_spacing is not None:
        wanted = crop.plants * crop.plant_spacing
        return max(0.0, wanted - watered), wanted
    if crop.fill:
        return float(not mine), 1.0
    return 0.0, 0.0


def wishes(facts: Facts) -> Verdicts:
    """Crops stand beside, apart from and pole-side of each other as wished."""
    for bed in facts.scenario.beds:
        if bed.name not in facts.bed_maps:
            continue
        order = [row.crop for row in facts.rows_of(bed.name)]
        pairs = {frozenset(pair) for pair in pairwise(order) if pair[0] != pair[1]}
        for crop in bed.crops:
            present = [name for name in crop.beside if {name, crop.name} <= set(order)]
            for name in present:
                yield judged(crop.name, frozenset((crop.name, name)) in pairs, f"it does not stand beside {name}")
            for name in crop.apart_from:
                together = frozenset((crop.name, name)) in pairs
                yield judged(crop.name, not together, f"it stands beside {name}, from which it is to be kept apart")
        yield from _tall(facts, bed.name)


def _tall(facts: Facts, bed: str) -> Verdicts:
    """Tall crops stand farther north than all others, unless rows run so that none shades another."""
    toward = _northing(facts, bed)
    if abs(toward) < 1e-6:
        return
    rows = facts.rows_of(bed)[:: 1 if toward > 0 else -1]
    tall = [facts.crop(row).tall for row in rows]
    for number, row in enumerate(rows):
        ok = not tall[number] or all(tall[number:])
        yield judged(f"row {row.id}", ok, f"{row.crop} is tall and stands on the sunny side of other crops")


def _northing(facts: Facts, bed: str) -> float:
    """Return how much a step across the rows leads north [1]."""
    across = facts.frame(bed).angle + math.pi / 2.0
    north = math.pi / 2.0 - facts.scenario.site.north
    return math.cos(across - north)

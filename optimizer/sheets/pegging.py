"""Where things lie on the ground: corners, header ends and row ends by tape from the tap and from two corners."""

from __future__ import annotations

import math
from itertools import combinations, pairwise, product, starmap

from optimizer.plan import BedMap, Header, Plan, Point
from optimizer.sheets.blocks import Column, Table
from optimizer.sheets.lists import along_um, both_lengths, display, distance_um, metres
from optimizer.sheets.spans import name_span

_SEEN_M = 0.005
"""less is lost in reading the tape"""
_FLAT = 0.35
"""two tapes that meet flatter than this sine cross too slowly to mark a place"""


def _seen_from_tap(plan: Plan, place: Point) -> str:
    """Write a place as distances right (or left) and up (or down) on the drawing, from the tap, pump or tank."""
    shown, source = display(plan), plan.site.source_at
    right, up = place[0] - source[0], place[1] - source[1]
    across, along = ("left" if right < 0 else "right"), ("down" if up < 0 else "up")
    return f"{shown.length(abs(right))} {across}, {shown.length(abs(up))} {along}"


def corner_table(plan: Plan, bed: BedMap) -> Table:
    """Return where the corners of a bed lie, seen from the tap, pump or tank."""
    source = plan.site.source_kind
    rows = tuple(
        (str(number), _seen_from_tap(plan, corner), *both_lengths(plan, distance_um(plan.site.source_at, corner)))
        for number, corner in enumerate(bed.outline, start=1)
    )
    return Table(
        caption=f"{bed.name}: where its corners are, as seen on the plan drawing from the {source}",
        columns=(
            Column("Corner", right=True),
            Column(f"From the {source}"),
            Column("Straight", right=True),
            Column("Same", right=True),
        ),
        rows=rows,
        ticks=True,
    )


def corner_tables(plan: Plan) -> tuple[Table, ...]:
    """Return where the corners of all beds lie: several beds in one table."""
    tables = [corner_table(plan, bed) for bed in plan.beds]
    if len(tables) < 2:
        return tuple(tables)
    rows = tuple((bed.name, *row) for bed, table in zip(plan.beds, tables, strict=True) for row in table.rows)
    return (
        Table(
            caption=f"Where the corners of the beds are, as seen on the plan drawing from the {plan.site.source_kind}",
            columns=(Column("Bed"), *tables[0].columns),
            rows=rows,
            ticks=True,
        ),
    )


def _sine(place: Point, a: Point, b: Point) -> float:
    """Return the sine of the angle under which a place sees two others; 0 if it is one of them."""
    u, v = (a[0] - place[0], a[1] - place[1]), (b[0] - place[0], b[1] - place[1])
    size = math.hypot(*u) * math.hypot(*v)
    return abs(u[0] * v[1] - u[1] * v[0]) / size if size else 0.0


def two_corners(bed: BedMap, place: Point) -> tuple[int, int]:
    """Return the two corners of a bed from which tapes mark a place best: near, and crossing steeply enough.

    Args:
        bed: with at least two corners.
        place: what is marked [m].
    """
    pairs = list(combinations(range(len(bed.outline)), 2))
    sines = {pair: _sine(place, bed.outline[pair[0]], bed.outline[pair[1]]) for pair in pairs}
    steep = [pair for pair in pairs if sines[pair] >= _FLAT] or [max(pairs, key=lambda pair: sines[pair])]
    return min(steep, key=lambda pair: max(math.dist(place, bed.outline[index]) for index in pair))


def _corners_cut(header: Header) -> list[tuple[str, Point]]:
    """Return the bends of a header, each with its name."""
    bends = []
    for before, corner, after in zip(header.points, header.points[1:], header.points[2:], strict=False):
        turned = math.atan2(after[1] - corner[1], after[0] - corner[0]) - math.atan2(
            corner[1] - before[1], corner[0] - before[0]
        )
        if abs((turned + math.pi) % (2 * math.pi) - math.pi) >= math.radians(1.0):
            bends.append(("corner", corner))
    return bends


def _row_ends(plan: Plan, header: Header) -> list[tuple[str, Point]]:
    """Return where the first and the last lateral on each side of a header end, in every bed it lies in."""
    bed_of = {row.id: row.bed for row in plan.rows}
    found: list[tuple[str, Point]] = []
    for side, bed in product(("left", "right"), header.beds):
        mine = [lateral for lateral in plan.laterals if lateral.header_id == header.id and lateral.side == side]
        mine = [lateral for lateral in mine if bed_of[lateral.row_id] == bed]
        mine.sort(key=lambda lateral: (along_um(header.points, lateral.take_off_at), lateral.line))
        for lateral in dict.fromkeys((*mine[:1], *mine[-1:])):
            found.append((f"{lateral.row_id} {side}, far end", lateral.stretches[-1].points[-1]))
    return found


def _tapes(plan: Plan, header: Header, place: Point) -> str:
    """Name two corners and their distances; of a header in several beds those of the bed nearest to the place."""
    beds = [bed for bed in plan.beds if bed.name in header.beds]
    bed = min(beds, key=lambda item: min(math.dist(place, corner) for corner in item.outline))
    of_bed = f" of {bed.name}" if len(beds) > 1 else ""
    corners = two_corners(bed, place)
    shown = [display(plan).length(metres(distance_um(bed.outline[index], place))) for index in corners]
    words = [f"{length} from corner {index + 1}" for length, index in zip(shown, corners, strict=True)]
    return " and ".join(words) + of_bed


def tube_note(plan: Plan, header: Header) -> str:
    """Say how far apart the pegs of a header are, and what to do with tube that is longer."""
    shown = display(plan)
    straight, way = math.dist(header.points[0], header.points[-1]), sum(starmap(math.dist, pairwise(header.points)))
    check = f"Check: zero and end of the header are {shown.length(straight)} apart, straight."
    bent = f" Along its corners they are {shown.length(way)} apart." if way - straight > _SEEN_M else ""
    extra = metres(header.length_um) - way
    if extra < _SEEN_M:
        return check + bent
    return f"{check}{bent} The tube is {shown.length(extra)} longer than that: let it overhang at the far end."


def peg_table(plan: Plan, header: Header) -> Table:
    """Return where a header and its outer rows are pegged: from the tap, and by two tapes from corners of the bed."""
    places = (
        ("zero of the header", header.points[0]),
        *_corners_cut(header),
        ("end of the header", header.points[-1]),
        *_row_ends(plan, header),
    )
    rows = [(name, _tapes(plan, header, place), _seen_from_tap(plan, place)) for name, place in places]
    between = "Rows between those two of a bed" if len(header.beds) > 1 else "Rows between those two"
    return Table(
        caption=f"Where header {header.id} lies in {name_span(header.beds)}: peg these first, where two tapes meet",
        columns=(Column("Place"), Column("Two tapes"), Column(f"From the {plan.site.source_kind}, on the drawing")),
        rows=tuple(rows),
        ticks=True,
        notes=(
            tube_note(plan, header),
            f"{between} run parallel to them, each from its own mark on the header as far as its stop.",
        ),
    )

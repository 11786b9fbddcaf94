"""Where the rows of a header start and stop, and the sides and diagonals of the beds."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from itertools import groupby, pairwise

from optimizer.plan import BedMap, Header, Lateral, Plan, Row, Stretch
from optimizer.sheets.blocks import Column, Table
from optimizer.sheets.lists import along_um, both_lengths, display, distance_um, lines_of_row
from optimizer.sheets.spans import id_span, name_span

_STRAIGHT_M = 0.01
_PARALLEL = 1e-3
"""sine of the angle up to which rows count as parallel"""
_BYPASS_NOTE = "Left and right of blank tube are meant looking along the row from the header."


def starts_um(lateral: Lateral) -> int:
    """Return how far from the take-off the lateral begins, as the crow flies [um]."""
    return distance_um(lateral.take_off_at, lateral.stretches[0].points[0])


def stops_um(lateral: Lateral) -> int:
    """Return how far from the take-off the lateral ends, as the crow flies [um]."""
    return distance_um(lateral.take_off_at, lateral.stretches[-1].points[-1])


def bypass_side(stretch: Stretch) -> tuple[str, float]:
    """Return on which side blank tube goes round, looking along the row from the header, and how far out [m].

    Args:
        stretch: blank tube from where the emitter line stops to where it goes on.

    Returns:
        Left, right or empty if it lies straight; greatest distance from the row.
    """
    (ax, ay), (bx, by) = stretch.points[0], stretch.points[-1]
    gap = math.hypot(bx - ax, by - ay)
    if gap == 0.0:
        return "", 0.0
    off = [((bx - ax) * (y - ay) - (by - ay) * (x - ax)) / gap for x, y in stretch.points]
    most = max(off, key=abs)
    return ("" if abs(most) < _STRAIGHT_M else "left" if most > 0 else "right"), abs(most)


def _round(plan: Plan, stretch: Stretch) -> str:
    side, out = bypass_side(stretch)
    return f", round on the {side}, {display(plan).length(out)} out" if side else ""


def _detours(plan: Plan, lateral: Lateral) -> str:
    """Say where blank tube leads around something, measured from the take-off."""
    places = [
        f"{both_lengths(plan, distance_um(lateral.take_off_at, stretch.points[0]))[0]} to "
        f"{both_lengths(plan, distance_um(lateral.take_off_at, stretch.points[-1]))[0]}"
        f"{_round(plan, stretch)}"
        for stretch in lateral.stretches
        if stretch.kind == "bypass"
    ]
    return ", ".join(places) or "-"


def _offset_row(plan: Plan, lateral: Lateral) -> tuple[str, ...]:
    return (
        lateral.row_id,
        lateral.side,
        *both_lengths(plan, starts_um(lateral)),
        *both_lengths(plan, stops_um(lateral)),
        _detours(plan, lateral),
    )


def _by_row_and_measures(plan: Plan, header: Header) -> dict[tuple[str, ...], list[int]]:
    """Return the rows of a header with their measures, and the lines that share them."""
    mine = [lateral for lateral in plan.laterals if lateral.header_id == header.id]
    mine.sort(key=lambda lateral: (along_um(header.points, lateral.take_off_at), lateral.side, lateral.line))
    found: dict[tuple[str, ...], list[int]] = {}
    for lateral in mine:
        found.setdefault(_offset_row(plan, lateral), []).append(lateral.line)
    return found


def _gap(before: Row, row: Row) -> float | None:
    """Return the distance between two rows; None if they are not parallel [m]."""
    (ax, ay), (bx, by) = before.start, before.end
    ux, uy = bx - ax, by - ay
    vx, vy = row.end[0] - row.start[0], row.end[1] - row.start[1]
    size = math.hypot(ux, uy)
    if not size or abs(ux * vy - uy * vx) > _PARALLEL * size * math.hypot(vx, vy):
        return None
    return abs(ux * (row.start[1] - ay) - uy * (row.start[0] - ax)) / size


def row_gaps(plan: Plan, header: Header) -> tuple[str, ...]:
    """Say how far every row of a header is from the row before; neighbours with equal gaps are told together."""
    by_id = {row.id: row for row in plan.rows}
    rows = [by_id[row_id] for row_id in dict.fromkeys(take_off.row_id for take_off in header.take_offs)]
    told: list[tuple[str, list[str]]] = []
    for before, row in pairwise(rows):
        gap = _gap(before, row)
        if gap is None:
            continue
        words = display(plan).length(gap)
        if not told or told[-1][0] != words:
            told.append((words, []))
        told[-1][1].append(row.id)
    spans = [f"{ids[0]}{f' to {ids[-1]}' if len(ids) > 1 else ''} {words}" for words, ids in told]
    if not spans:
        return ()
    return (f"Distance to the row before, the same all along the row: {'; '.join(spans)}.",)


def _alike_together(rows: tuple[tuple[str, ...], ...]) -> Iterator[tuple[str, ...]]:
    """Yield one row for neighbouring rows of the same measures: small beds have many that are alike."""
    for measures, alike in groupby(rows, key=lambda row: row[1:]):
        yield (id_span([row[0] for row in alike]), *measures)


def rows_table(plan: Plan, header: Header) -> Table:
    """Return where the emitter lines of one header start and stop, measured from the take-off along the row.

    Lines of a row that start and stop alike share a line of the table.
    """
    lines = lines_of_row(plan)
    rows = tuple(
        (f"{row[0]} line {', '.join(map(str, sorted(shared)))}" if lines[row[0]] > 1 else row[0], *row[1:])
        for row, shared in _by_row_and_measures(plan, header).items()
    )
    if len(plan.beds) > 1:
        rows = tuple(_alike_together(rows))
    titles: tuple[str, ...] = ("Row", "Side", "Starts", "Same", "Stops", "Same", "Blank tube")
    if all(row[-1] == "-" for row in rows):
        titles, rows = titles[:-1], tuple(row[:-1] for row in rows)
    return Table(
        caption=f"Rows on header {header.id}: start and stop, measured from the take-off along the row",
        columns=tuple(Column(title, right=2 <= index <= 5) for index, title in enumerate(titles)),
        rows=rows,
        ticks=True,
        notes=(*row_gaps(plan, header), *((_BYPASS_NOTE,) if titles[-1] == "Blank tube" else ())),
    )


def _bed_sides(plan: Plan, bed: BedMap) -> list[tuple[str, str, str]]:
    corners = bed.outline
    count = len(corners)
    sides = [(index, (index + 1) % count, "side") for index in range(count)]
    diagonals = [(0, other, "diagonal") for other in range(2, count - 1)]
    if count == 4:
        diagonals.append((1, 3, "diagonal"))
    return [
        (f"{kind} {a + 1} to {b + 1}", *both_lengths(plan, distance_um(corners[a], corners[b])))
        for a, b, kind in (*sides, *diagonals)
    ]


def bed_table(plan: Plan, bed: BedMap) -> Table:
    """Return sides and diagonals of a bed, so that its corners can be pegged true."""
    return Table(
        caption=f"{bed.name}: sides and diagonals; corners are counted in the order of the plan",
        columns=(Column("From corner to corner"), Column("Length", right=True), Column("Same", right=True)),
        rows=tuple(_bed_sides(plan, bed)),
        ticks=True,
    )


def bed_tables(plan: Plan) -> tuple[Table, ...]:
    """Return sides and diagonals of all beds; beds of the same measures share a table."""
    alike: dict[tuple[tuple[str, ...], ...], list[BedMap]] = {}
    for bed in plan.beds:
        alike.setdefault(bed_table(plan, bed).rows, []).append(bed)
    return tuple(_shared_table(plan, beds) for beds in alike.values())


def _shared_table(plan: Plan, beds: list[BedMap]) -> Table:
    table = bed_table(plan, beds[0])
    if len(beds) == 1:
        return table
    names = name_span([bed.name for bed in beds])
    return replace(table, caption=f"{names}: sides and diagonals, the same for each; tick when all are checked")

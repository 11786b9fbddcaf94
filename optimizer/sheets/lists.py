"""What the lists have in common: lengths in both unit systems, and which piece serves what."""

from __future__ import annotations

import math
from itertools import pairwise

from optimizer.errors import VerificationError
from optimizer.plan import Header, Lateral, MainlinePart, Piece, Plan, Point
from optimizer.sheets.spans import rows_text
from optimizer.units import Display, System, whole

METRIC = Display(System.METRIC)
US = Display(System.US)


def display(plan: Plan) -> Display:
    """Return the writer for the plan's own unit system."""
    return Display(System(plan.unit_system))


def other_display(plan: Plan) -> Display:
    """Return the writer for the unit system the plan does not use."""
    return US if display(plan).system is System.METRIC else METRIC


def metres(length_um: int) -> float:
    """Return whole micrometres as metres [um]."""
    return length_um / 1_000_000


def both_lengths(plan: Plan, length_um: int) -> tuple[str, str]:
    """Write a length in the plan's own unit system and in the other one.

    Args:
        plan: says which system is its own.
        length_um: the length [um].
    """
    return display(plan).length(metres(length_um)), other_display(plan).length(metres(length_um))


def distance_um(a: Point, b: Point) -> int:
    """Return the straight distance between two places, as whole micrometres.

    Args:
        a: a place [m].
        b: a place [m].
    """
    return round(math.dist(a, b) * 1_000_000)


def along_um(points: tuple[Point, ...], place: Point) -> int:
    """Return how far along a line the point nearest to a place lies, as whole micrometres.

    Args:
        points: corners of the line [m].
        place: the place [m].
    """
    best, run, answer = math.inf, 0.0, 0.0
    for a, b in pairwise(points):
        length = math.dist(a, b)
        if length == 0.0:
            continue
        share = ((place[0] - a[0]) * (b[0] - a[0]) + (place[1] - a[1]) * (b[1] - a[1])) / length**2
        share = min(max(share, 0.0), 1.0)
        foot = (a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1]))
        gap = math.dist(foot, place)
        if gap < best - 1e-9:
            best, answer = gap, run + share * length
        run += length
    return round(answer * 1_000_000)


def laterals_by_id(plan: Plan) -> dict[str, Lateral]:
    """Return the laterals under their ids."""
    return {lateral.id: lateral for lateral in plan.laterals}


def pieces_by_id(plan: Plan) -> dict[str, Piece]:
    """Return the pieces under their ids."""
    return {piece.id: piece for piece in plan.pieces}


def lateral_of_piece(plan: Plan) -> dict[str, Lateral]:
    """Return, for every piece laid in a lateral (emitter line or bypass), that lateral."""
    return {stretch.piece_id: lateral for lateral in plan.laterals for stretch in lateral.stretches}


def lines_of_row(plan: Plan) -> dict[str, int]:
    """Return the number of emitter lines of every row."""
    return {row.id: row.lines for row in plan.rows}


def tube_part(plan: Plan, part_id: str) -> Header | MainlinePart:
    """Return the header or mainline part of this id.

    Raises:
        VerificationError: the plan has no such part.
    """
    parts: list[Header | MainlinePart] = [*plan.headers, *plan.mainline]
    for part in parts:
        if part.id == part_id:
            return part
    raise VerificationError(f"the plan names '{part_id}', but has no header or mainline part of that name")


def place_text(plan: Plan, place: Point) -> str:
    """Write a place on the plan as distances right (or left) and up (or down) from the plan's origin [m]."""
    shown = display(plan)
    across, along = ("left" if place[0] < 0 else "right"), ("down" if place[1] < 0 else "up")
    return f"{shown.length(abs(place[0]))} {across}, {shown.length(abs(place[1]))} {along}"


def zone_words(header: Header) -> str:
    """Name the zone of a header, or its zones."""
    return f"zone{'s' if len(header.zone_ids) > 1 else ''} {', '.join(header.zone_ids)}"


def counted(number: int, one: str, many: str = "") -> str:
    """Write a number with its noun in singular or plural."""
    return f"{whole(number)} {one if number == 1 else many or one + 's'}"


def shut_offs_text(plan: Plan) -> str:
    """Say how rows with shut-offs of their own are run; nothing if there are none."""
    if not any(take_off.shut_offs for header in plan.headers for take_off in header.take_offs):
        return ""
    zones = "; ".join(f"zone {zone.id}: {rows_text(plan, zone.row_ids)}" for zone in plan.zones)
    return (
        "Every emitter line has a shut-off behind its take-off, opened and closed by hand. Before each start open the "
        f"rows of that zone and close all others: {zones}."
    )

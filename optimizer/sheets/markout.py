"""Mark-out list: running distances along every header from one zero, and where rows start and stop."""

from __future__ import annotations

import math
from dataclasses import dataclass

from optimizer.plan import Header, Lateral, Plan, TakeOff
from optimizer.sheets.blocks import Column, Table
from optimizer.sheets.lists import (
    METRIC,
    US,
    along_um,
    both_lengths,
    counted,
    laterals_by_id,
    lines_of_row,
    metres,
    zone_words,
)
from optimizer.sheets.pegging import corner_tables, peg_table
from optimizer.sheets.rowmeasures import bed_tables, rows_table, starts_um, stops_um
from optimizer.sheets.textual import csv_text, paragraphs, table_text, title_text

RULES = (
    "Everything starts at the tap, pump or tank: corners are measured from it, headers and row ends from the corners, "
    "holes from the zero of their header, rows from their take-off.",
    "Peg the corners of the bed first, then the ends of each header. Right, left, up and down in the first tables are "
    "those of the plan drawing. Where two tapes are named, hold each at its corner and peg the place "
    "where both meet inside the bed.",
    "One tape, pinned at the zero of the header; every mark is read on that tape. Never measure from mark to mark: "
    "small errors would add up.",
    "Left and right are meant looking along the header from its zero. Lengths are rounded to 1 cm or half an inch.",
    "Write what you really made in the empty column.",
)

CSV_HEADER = (
    "header",
    "zone",
    "order",
    "kind",
    "distance_um",
    "distance_metric",
    "distance_us",
    "side",
    "row",
    "lateral",
    "what",
    "x_m",
    "y_m",
    "row_starts_um",
    "row_stops_um",
    "row_starts_metric",
    "row_stops_metric",
    "row_starts_us",
    "row_stops_us",
)

_SAME_PLACE_UM = 1_000
_TEE_UM = 50_000
# What is made at one distance is worked in this order.
_KINDS = ("zero", "inlet", "corner", "crossing", "joint", "take-off", "end")


@dataclass(frozen=True)
class Mark:
    """One thing to make on a header."""

    header_id: str
    zone_id: str
    kind: str
    """zero, inlet, corner, crossing, joint, take-off, end"""
    distance_um: int
    """running distance from the header's zero"""
    side: str
    """left, right or empty"""
    row_id: str
    lateral: Lateral | None
    what: str
    at: tuple[float, float] | None


def zero_name(header: Header) -> str:
    """Name the one place that all distances of a header are counted from."""
    return f"0 = the end of header {header.id} nearest the tap"


def _plain_mark(header: Header, kind: str, distance_um: int, what: str) -> Mark:
    return Mark(header.id, ", ".join(header.zone_ids), kind, distance_um, "", "", None, what, None)


def _take_off_marks(
    header: Header, take_off: TakeOff, laterals: dict[str, Lateral], lines: dict[str, int]
) -> list[Mark]:
    marks, kind = [], "take-off with shut-off" if take_off.shut_offs else "take-off"
    for lateral_id in take_off.lateral_ids:
        lateral = laterals[lateral_id]
        name = "" if lateral.id == lateral.row_id else f" for {lateral.id}"
        what = f"{kind}{name}" + (f", line {lateral.line}" if lines[lateral.row_id] > 1 else "")
        marks.append(
            Mark(
                header.id,
                ", ".join(header.zone_ids),
                "take-off",
                take_off.distance_um,
                lateral.side,
                lateral.row_id,
                lateral,
                what,
                take_off.at,
            )
        )
    return sorted(marks, key=lambda mark: (mark.side, mark.lateral.line if mark.lateral else 0))


def _corner_marks(header: Header) -> list[Mark]:
    marks, run = [], 0.0
    for before, corner, after in zip(header.points, header.points[1:], header.points[2:], strict=False):
        run += math.dist(before, corner)
        heading = math.atan2(corner[1] - before[1], corner[0] - before[0])
        turned = math.degrees(math.atan2(after[1] - corner[1], after[0] - corner[0]) - heading)
        turned = (turned + 180.0) % 360.0 - 180.0
        if abs(turned) >= 1.0:
            side = "left" if turned > 0 else "right"
            marks.append(_plain_mark(header, "corner", round(run * 1e6), f"corner: {abs(turned):.0f} degrees {side}"))
    return marks


def _joint_marks(plan: Plan, header: Header) -> list[Mark]:
    parts = {(cut.piece_id, cut.part): cut.length_um for roll in plan.rolls for cut in roll.cuts}
    lengths = [parts[key] for piece in header.piece_ids for key in sorted(parts) if key[0] == piece]
    marks, run = [], 0
    for length in lengths[:-1]:
        run += length
        # Tube that ends at the inlet is joined by the inlet's own tee.
        if abs(run - header.inlet_um) > _TEE_UM:
            marks.append(_plain_mark(header, "joint", run, "tube lengths meet: coupler, clear of any hole"))
    return marks


def _crossing_marks(header: Header) -> list[Mark]:
    return [
        _plain_mark(
            header, "crossing", along_um(header.points, crossing.at), f"crosses {crossing.path}: sleeve or cover"
        )
        for crossing in header.crossings
    ]


def inlet_end(header: Header) -> str:
    """Return on which end of the tube the water enters: zero, far, or empty where a tee is cut in between."""
    distances = [take_off.distance_um for take_off in header.take_offs]
    if header.inlet_um <= min(distances, default=0) + _SAME_PLACE_UM:
        return "zero"
    if header.inlet_um >= max(distances, default=header.length_um) - _SAME_PLACE_UM:
        return "far"
    return ""


def _inlet_mark(header: Header) -> Mark:
    """Say how the mainline joins: on a tube end beyond the outer take-off, or by a tee between take-offs."""
    end = inlet_end(header)
    if end:
        what = f"inlet: the inlet is the tube's {end} end; push the mainline's elbow on that end; no hole"
        return _plain_mark(header, "inlet", 0 if end == "zero" else header.length_um, what)
    beside = any(abs(take_off.distance_um - header.inlet_um) < _SAME_PLACE_UM for take_off in header.take_offs)
    what = "inlet: cut here, tee for the mainline" + (", close beside the take-off" if beside else "")
    return _plain_mark(header, "inlet", header.inlet_um, what)


def marks(plan: Plan, header: Header) -> tuple[Mark, ...]:
    """Return all that is made on a header, by running distance.

    Args:
        plan: the plan.
        header: one of its headers.

    Returns:
        The marks; a take-off place with laterals on both sides gives one mark for each.
    """
    laterals, lines = laterals_by_id(plan), lines_of_row(plan)
    found = [
        _plain_mark(header, "zero", 0, "zero: pin the tape here"),
        _inlet_mark(header),
        *(mark for take_off in header.take_offs for mark in _take_off_marks(header, take_off, laterals, lines)),
        *_corner_marks(header),
        *_crossing_marks(header),
        *_joint_marks(plan, header),
        _plain_mark(header, "end", header.length_um, "end of the header"),
    ]
    return tuple(sorted(found, key=lambda mark: (mark.distance_um, _KINDS.index(mark.kind))))


def _both(length_um: int) -> tuple[str, str]:
    return METRIC.length(metres(length_um)), US.length(metres(length_um))


def _offset_cells(lateral: Lateral | None) -> tuple[object, ...]:
    if lateral is None:
        return ("",) * 6
    start, stop = starts_um(lateral), stops_um(lateral)
    (start_metric, start_us), (stop_metric, stop_us) = _both(start), _both(stop)
    return (start, stop, start_metric, stop_metric, start_us, stop_us)


def _csv_row(order: int, mark: Mark) -> tuple[object, ...]:
    x, y = (f"{mark.at[0]:.6f}", f"{mark.at[1]:.6f}") if mark.at else ("", "")
    return (
        mark.header_id,
        mark.zone_id,
        order,
        mark.kind,
        mark.distance_um,
        *_both(mark.distance_um),
        mark.side,
        mark.row_id,
        mark.lateral.id if mark.lateral else "",
        mark.what,
        x,
        y,
        *_offset_cells(mark.lateral),
    )


def mark_out_csv(plan: Plan) -> str:
    """Write the mark-out list as CSV, distances exact in micrometres and readable in both unit systems."""
    return csv_text(
        CSV_HEADER,
        (_csv_row(order, mark) for header in plan.headers for order, mark in enumerate(marks(plan, header), start=1)),
    )


def header_table(plan: Plan, header: Header) -> Table:
    """Return what is made on one header as a table."""
    own, other = both_lengths(plan, header.length_um)
    rows = tuple(
        (*both_lengths(plan, mark.distance_um), mark.side, mark.row_id, mark.what, "") for mark in marks(plan, header)
    )
    return Table(
        caption=f"Header {header.id}, {zone_words(header)}: {header.tube}, {own} ({other}). {zero_name(header)}.",
        columns=(
            Column("From zero", right=True),
            Column("Same", right=True),
            Column("Side"),
            Column("Row"),
            Column("What to make there"),
            Column("As built"),
        ),
        rows=rows,
        ticks=True,
    )


def mark_out_tables(plan: Plan) -> tuple[Table, ...]:
    """Return the mark-out list: beds, then for every header where it lies, its marks and its rows."""
    beds = (*corner_tables(plan), *bed_tables(plan))
    headers = [
        table
        for header in plan.headers
        for table in (peg_table(plan, header), header_table(plan, header), rows_table(plan, header))
    ]
    return (*beds, *headers)


def mark_out_text(plan: Plan) -> str:
    """Write the mark-out list as text of at most 80 columns."""
    head = title_text(f"Mark-out list: {plan.title}") + "\n" + "\n".join(paragraphs(RULES)) + "\n"
    return "\n".join([head, *(table_text(table) for table in mark_out_tables(plan))])


def holes(plan: Plan, header: Header) -> int:
    """Return how many take-offs are set into a header."""
    return sum(len(take_off.lateral_ids) for take_off in header.take_offs)


def holes_text(plan: Plan, header: Header) -> str:
    """Say how many take-offs are set into a header."""
    return f"header {header.id}: {counted(holes(plan, header), 'take-off')}"

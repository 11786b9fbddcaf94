"""What is to be written about rows: stretches with their cut lengths, and rows that are alike taken together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby

from optimizer.plan import Lateral, Plan, Point, Row, Stretch
from optimizer.sheets.spans import id_span
from optimizer.units import Display

__all__ = [
    "BYPASS",
    "Group",
    "Run",
    "group_rows",
    "id_span",
    "laterals_by_row",
    "length_text",
    "run_text",
    "runs_of",
]

BYPASS = "bypass"


@dataclass(frozen=True)
class Run:
    """The same stretch of all lines of a row, on one side of the header."""

    row: Row
    zone_id: str
    kind: str
    way: tuple[Point, ...]
    """of the middle line, from the header outwards"""
    lengths_um: tuple[int, ...]
    """one per line"""


@dataclass(frozen=True)
class Group:
    """Neighbouring rows that are the same in all that is cut for them."""

    bed: str
    crop: str
    zone_ids: tuple[str, ...]
    lines: int
    rows: tuple[Row, ...]
    texts: tuple[str, ...]
    """cut lengths of every run; of all rows, if they are alike"""


def laterals_by_row(plan: Plan) -> dict[str, list[Lateral]]:
    """Return the laterals of each row, in the order of the plan."""
    out: dict[str, list[Lateral]] = {row.id: [] for row in plan.rows}
    for lateral in plan.laterals:
        out[lateral.row_id].append(lateral)
    return out


def _shape(lateral: Lateral) -> tuple[str, ...]:
    return tuple(stretch.kind for stretch in lateral.stretches)


def _runs_alike(row: Row, laterals: Sequence[Lateral]) -> list[Run]:
    columns: list[tuple[Stretch, ...]] = list(zip(*(lateral.stretches for lateral in laterals), strict=True))
    middle = (len(laterals) - 1) // 2
    return [
        Run(row, laterals[0].zone_id, column[0].kind, column[middle].points, tuple(part.length_um for part in column))
        for column in columns
    ]


def runs_of(row: Row, laterals: Sequence[Lateral]) -> list[Run]:
    """Gather a row's stretches; lines that run alike share a run, others have their own."""
    key = lambda lateral: (lateral.header_id, lateral.side, lateral.zone_id, _shape(lateral))  # noqa: E731
    order = {lateral.id: index for index, lateral in enumerate(laterals)}
    parts = [list(part) for _, part in groupby(sorted(laterals, key=key), key=key)]
    parts.sort(key=lambda part: order[part[0].id])
    return [run for part in parts for run in _runs_alike(row, sorted(part, key=lambda lateral: lateral.line))]


def length_text(lengths_um: Sequence[int], display: Display) -> str:
    """Write the cut lengths of a run: "14.40 m", "2 × 14.40 m", or each if they differ."""
    texts = [display.length(length / 1e6) for length in lengths_um]
    if len(set(texts)) == 1:
        return texts[0] if len(texts) == 1 else f"{len(texts)} × {texts[0]}"
    return " / ".join(texts)


def run_text(run: Run, display: Display) -> str:
    """Write a run's cut length, a bypass named as such."""
    text = length_text(run.lengths_um, display)
    return f"bypass {text}" if run.kind == BYPASS else text


def group_rows(plan: Plan, display: Display, *, by_length: bool) -> tuple[Group, ...]:
    """Take neighbouring rows together that share bed, crop, zones and lines.

    Args:
        plan: whose rows.
        display: writes the lengths.
        by_length: True if also the cut lengths must be the same.
    """
    laterals = laterals_by_row(plan)

    def key(row: Row) -> tuple[str, str, tuple[str, ...], int, tuple[str, ...]]:
        zones = tuple(sorted({lateral.zone_id for lateral in laterals[row.id]}))
        texts = tuple(run_text(run, display) for run in runs_of(row, laterals[row.id]))
        return row.bed, row.crop, zones, row.lines, texts if by_length else ()

    out = []
    for (bed, crop, zones, lines, texts), rows in groupby(plan.rows, key=key):
        members = tuple(rows)
        out.append(Group(bed, crop, zones, lines, members, texts or _spans(members, laterals, display)))
    return tuple(out)


def _spans(rows: Sequence[Row], laterals: dict[str, list[Lateral]], display: Display) -> tuple[str, ...]:
    """Write from shortest to longest cut of several rows."""
    lengths = sorted(part.length_um for row in rows for item in laterals[row.id] for part in item.stretches)
    if not lengths:
        return ()
    low, high = display.length(lengths[0] / 1e6), display.length(lengths[-1] / 1e6)
    return (low if low == high else f"{low} to {high}",)

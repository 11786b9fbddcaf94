"""Ids of everything in a plan: short, stable, and said the same on paper and on a label in the garden."""

from __future__ import annotations

from string import ascii_lowercase, ascii_uppercase

from optimizer.problem.case import Case


def zone_letter(index: int) -> str:
    """Return A, B ... Z, then AA, AB ..."""
    high, low = divmod(index, 26)
    return (zone_letter(high - 1) if high else "") + ascii_uppercase[low]


def row_id(index: int) -> str:
    """Return the id of a row, counted from the tap end."""
    return f"R{index + 1}"


def lateral_ids(case: Case) -> tuple[str, ...]:
    """Return an id for each lateral: its row, and a letter where the row has several."""
    seen: dict[int, int] = {}
    several = {lateral.row for lateral in case.feed.laterals if _count(case, lateral.row) > 1}
    found = []
    for lateral in case.feed.laterals:
        number = seen.get(lateral.row, 0)
        seen[lateral.row] = number + 1
        found.append(row_id(lateral.row) + (ascii_lowercase[number] if lateral.row in several else ""))
    return tuple(found)


def _count(case: Case, row: int) -> int:
    return sum(lateral.row == row for lateral in case.feed.laterals)

"""Names of many beds and rows written shortly and truly: "bed 1, 4, 9 to 12", "B2R1-B2R3"."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from itertools import groupby

from optimizer.plan import Header, Plan

_ROW = re.compile(r"(B\d+)(R\d+)")
_NAME = re.compile(r"(.*[^\d.,\-])?(\d+)")


def _numbered(text: str) -> tuple[str, int] | None:
    """Split "bed 12" into ("bed ", 12); None for names that do not end in a plain whole number."""
    match = _NAME.fullmatch(text)
    return (match[1] or "", int(match[2])) if match and str(int(match[2])) == match[2] else None


def _split_id(text: str) -> tuple[str, int] | None:
    match = re.fullmatch(r"(.*?)(\d+)", text)
    return (match[1], int(match[2])) if match else None


def id_span(ids: Sequence[str]) -> str:
    """Write ids shortly: ("R1", "R2", "R3", "R7") becomes "R1-R3, R7"."""
    spans: list[list[str]] = []
    for item in ids:
        last, this = _split_id(spans[-1][-1]) if spans else None, _split_id(item)
        if last and this and last[0] == this[0] and this[1] == last[1] + 1:
            spans[-1].append(item)
        else:
            spans.append([item])
    return ", ".join(span[0] if len(span) == 1 else f"{span[0]}-{span[-1]}" for span in spans)


def _numbers(values: Sequence[int]) -> str:
    """Write rising numbers: (1, 4, 9, 10, 11) becomes "1, 4, 9 to 11"."""
    runs = [[value for _, value in part] for _, part in groupby(enumerate(values), key=lambda item: item[1] - item[0])]
    texts = [f"{run[0]} to {run[-1]}" if len(run) > 2 else ", ".join(map(str, run)) for run in runs]
    return ", ".join(texts)


def name_span(names: Iterable[str]) -> str:
    """Write names that differ in a number shortly: ("bed 1", "bed 2", "bed 3", "Herbs") becomes "bed 1 to 3, Herbs"."""
    parts = []
    for stem, run in groupby(names, key=lambda name: (_numbered(name) or (None, 0))[0]):
        members = list(run)
        if stem is None:
            parts += members
        else:
            parts.append(f"{stem}{_numbers([number for _, number in filter(None, map(_numbered, members))])}")
    return ", ".join(parts)


def bed_key(plan: Plan, bed: str) -> str:
    """Return what the ids of a bed's rows begin with, such as "B7"; empty where rows are not numbered by bed."""
    found = {match[1] if (match := _ROW.fullmatch(row.id)) else "" for row in plan.rows if row.bed == bed}
    return found.pop() if len(found) == 1 else ""


def numbered_alike(name: str, key: str) -> bool:
    """Say whether a bed's name ends in the number of its key: "bed 7" and "B7"."""
    split = _numbered(name)
    return split is not None and key == f"B{split[1]}"


def keyed_beds(plan: Plan) -> bool:
    """Say whether beds are better told by key than by name: rows are numbered by bed, names are not."""
    keys = [bed_key(plan, bed.name) for bed in plan.beds]
    alike = [numbered_alike(bed.name, key) for bed, key in zip(plan.beds, keys, strict=True)]
    return len(plan.beds) > 1 and all(keys) and not all(alike)


def beds_text(plan: Plan, names: Sequence[str]) -> str:
    """Name beds shortly where their keys are explained: by key, unless their names carry the same number."""
    if keyed_beds(plan):
        return id_span([bed_key(plan, name) for name in dict.fromkeys(names)])
    return name_span(names)


def short_ids(row_ids: Sequence[str]) -> tuple[str, ...]:
    """Return row ids without the key of their bed: "B7R2" becomes "R2"."""
    return tuple(match[2] if (match := _ROW.fullmatch(item)) else item for item in row_ids)


def rows_text(plan: Plan, row_ids: Sequence[str], *, by_key: bool = False) -> str:
    """Name rows by their beds where all rows of a bed are meant, else by their ids.

    Args:
        plan: whose rows; of one bed it has row ids only.
        row_ids: the rows meant.
        by_key: whether keys of beds are explained near by.
    """
    mine = set(row_ids)
    whole = [bed.name for bed in plan.beds if _all_in(plan, bed.name, mine)] if len(plan.beds) > 1 else []
    beds = beds_text(plan, whole) if by_key else name_span(whole)
    rest = [row.id for row in plan.rows if row.id in mine and row.bed not in whole]
    return ", ".join(text for text in (beds, id_span(rest)) if text)


def _all_in(plan: Plan, bed: str, row_ids: set[str]) -> bool:
    rows = [row.id for row in plan.rows if row.bed == bed]
    return bool(rows) and row_ids.issuperset(rows)


def headers_text(plan: Plan, headers: Sequence[Header]) -> list[str]:
    """Say in which beds headers lie, keys of beds being explained; neighbours told together: "H1-H6 in bed 1 to 6"."""
    parts: list[list[Header]] = []
    for header in headers:
        if parts and _follows(plan, parts[-1][-1], header):
            parts[-1].append(header)
        else:
            parts.append([header])
    return [
        f"{id_span([header.id for header in part])} in {beds_text(plan, [bed for item in part for bed in item.beds])}"
        for part in parts
    ]


def _follows(plan: Plan, before: Header, header: Header) -> bool:
    """Say whether both the number of a header and that of its only bed are one more than before."""
    ids, beds = (before.id, header.id), (*before.beds, *header.beds)
    beds = tuple(bed_key(plan, bed) for bed in beds) if keyed_beds(plan) else beds
    first, second = (_split_id(item) for item in ids)
    low, high = (_numbered(bed) for bed in (beds[0], beds[-1]))
    if len(before.beds) != 1 or len(header.beds) != 1 or not (first and second and low and high):
        return False
    return (first[0], first[1] + 1, low[0], low[1] + 1) == (*second, *high)

"""Blocks of the panel for gardens of several beds: alike beds told together, tubes that carry no name listed."""

from __future__ import annotations

import math
from collections.abc import Sequence

from optimizer.plan import MainlinePart, Plan
from optimizer.sheets.drawing_panel import Block, Entry, paired
from optimizer.sheets.drawing_rows import Group
from optimizer.sheets.labels import glued
from optimizer.sheets.spans import bed_key, beds_text, headers_text, id_span, numbered_alike, short_ids

_SAME_PLACE_M = 0.01
_MANY_NAMES = 8
"""more names of beds run on one behind the other"""


def rows_by_bed(plan: Plan, groups: Sequence[Group]) -> list[Entry]:
    """Return crop, cut lengths and zone of rows; beds with the same rows share an entry."""
    beds: dict[tuple[str, str], list[str]] = {}
    for group in groups:
        rows = id_span(short_ids([row.id for row in group.rows]))
        beds.setdefault((rows, group_text(group)), []).append(group.bed)
    return [Entry(f"{beds_text(plan, names)}: {rows} {text}") for (rows, text), names in beds.items()]


def group_text(group: Group) -> str:
    """Write crop, cut lengths and zone of a group of rows."""
    each = "each " if len(group.rows) > 1 and "to" not in " ".join(group.texts) else ""
    zones = "/".join(group.zone_ids) or "none"
    return f"{group.crop}, {glued(each + ' + '.join(group.texts) + ', ' + zones)}"


def bed_numbers(plan: Plan, *, names: bool = True) -> list[Entry]:
    """Return what the ids of rows have to do with the names of beds; nothing if they have not.

    Args:
        plan: whose beds.
        names: False leaves names that carry no number to the field book, and says so.
    """
    keys = {bed.name: bed_key(plan, bed.name) for bed in plan.beds}
    rows = [row for row in plan.rows if keys[row.bed]]
    if not rows:
        return []
    last = rows[-1]
    told = Entry(f"{keys[last.bed]} is {last.bed}, {last.id} its row {short_ids([last.id])[0][1:]}.")
    named = [f"{key} {name}" for name, key in keys.items() if key and not numbered_alike(name, key)]
    if named and not names:
        return [told, Entry("Names of the other beds: see the table of rows in the field book.")]
    if len(named) > _MANY_NAMES:
        return [told, Entry("; ".join(map(glued, named)))]
    return [told, *paired([Entry(text) for text in named])]


def tubes_block(plan: Plan, unnamed: Sequence[str], *, mainline: bool = True, headers: bool = True) -> Block | None:
    """Say where headers and mainline parts are that carry no name on the drawing; None if all do.

    Args:
        plan: whose tubes.
        unnamed: ids of the tubes.
        mainline: False leaves the order of mainline parts to the field book, and says so.
        headers: False does the same for headers.
    """
    mine = [header for header in plan.headers if header.id in unnamed]
    entries = [Entry(text) for text in headers_text(plan, mine)] if headers else _elsewhere([item.id for item in mine])
    parts = [part.id for part in plan.mainline if part.id in unnamed]
    if not mainline:
        entries += _elsewhere(parts)
    elif parts:
        entries.append(Entry("mainline: part before > parts behind it"))
        entries += [Entry(text) for text in mainline_texts(plan, parts)]
    return Block("Tubes without a name on the drawing", paired(entries)) if entries else None


def _elsewhere(ids: Sequence[str]) -> list[Entry]:
    return [Entry(f"{id_span(ids)}: see the laying steps of the field book.")] if ids else []


def mainline_texts(plan: Plan, unnamed: Sequence[str]) -> list[str]:
    """Write which mainline parts follow which, and the header at an end: "M2 > M3, M4 (HA1)".

    Args:
        plan: whose mainline.
        unnamed: only branching places of these parts are told.
    """
    behind: dict[str, list[MainlinePart]] = {}
    for part in plan.mainline:
        behind.setdefault(_before(plan, part), []).append(part)
    return [
        f"{before} > {', '.join(_with_header(plan, part) for part in parts)}"
        for before, parts in behind.items()
        if any(part.id in unnamed for part in parts)
    ]


def _before(plan: Plan, part: MainlinePart) -> str:
    """Name where the water of a mainline part comes from."""
    found = (
        other.id
        for other in plan.mainline
        if other.id != part.id
        and set(part.zone_ids) <= set(other.zone_ids)
        and math.dist(other.points[-1], part.points[0]) < _SAME_PLACE_M
    )
    return next(found, plan.site.source_kind)


def _with_header(plan: Plan, part: MainlinePart) -> str:
    fed = [header.id for header in plan.headers if math.dist(header.inlet_at, part.points[-1]) < _SAME_PLACE_M]
    return f"{part.id} ({', '.join(fed)})" if fed else part.id

"""Ids of everything in a plan: short, stable, and said the same on paper and on a label in the garden."""

from __future__ import annotations

from string import ascii_lowercase, ascii_uppercase

from optimizer.problem.laying import Laying


def zone_letter(index: int) -> str:
    """Return A, B ... Z, then AA, AB ..."""
    high, low = divmod(index, 26)
    return (zone_letter(high - 1) if high else "") + ascii_uppercase[low]


def row_ids(laying: Laying) -> tuple[tuple[str, ...], ...]:
    """Return the id of each row of each block: counted from the tap end, in each bed anew.

    Where there are several beds the number of the bed stands before it, in the order of the scenario.
    """
    beds = laying.scenario.beds
    found = []
    for case in laying.cases:
        numbers = [beds.index(case.layout.beds[case.layout.bed_of(row)]) + 1 for row in range(case.row_count)]
        before = [f"B{number}" if len(beds) > 1 else "" for number in numbers]
        counted = [numbers[: row + 1].count(number) for row, number in enumerate(numbers)]
        found.append(tuple(f"{bed}R{count}" for bed, count in zip(before, counted, strict=True)))
    return tuple(found)


def lateral_ids(laying: Laying) -> tuple[tuple[str, ...], ...]:
    """Return an id for each lateral of each block: its row, and a letter where the row has several."""
    found = []
    for case, rows in zip(laying.cases, row_ids(laying), strict=True):
        owners = [lateral.row for lateral in case.feed.laterals]
        seen: dict[int, int] = {}
        ids = []
        for row in owners:
            number = seen.get(row, 0)
            seen[row] = number + 1
            ids.append(rows[row] + (ascii_lowercase[number] if owners.count(row) > 1 else ""))
        found.append(tuple(ids))
    return tuple(found)


def header_ids(laying: Laying) -> tuple[str, ...]:
    """Return an id for each header: H with the letter of its zone, and a number where the zone has several."""
    if laying.shut_offs:
        return tuple(f"H{number}" for number in range(1, len(laying.headers) + 1))
    zones = [zones[0] for zones in laying.header_zones]
    return tuple(
        f"H{zone_letter(zone)}" + (f"{zones[: index + 1].count(zone)}" if zones.count(zone) > 1 else "")
        for index, zone in enumerate(zones)
    )

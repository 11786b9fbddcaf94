"""Test sheet: what nine emitters of a zone must catch in a stated time, and what the meter must show."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeVar

from optimizer.plan import Plan, Zone
from optimizer.sheets.blocks import Block, Column, Fill, Heading, Paragraph, Table
from optimizer.sheets.lists import counted, display, laterals_by_id, lines_of_row, shut_offs_text
from optimizer.sheets.spans import rows_text
from optimizer.sheets.watertree import Outlet, laterals_outwards, outlets

CUPS = 9
CUP_BAND = 0.15
"""a single cup may differ this much from what is expected (common practice, no source)"""
METER_BAND = 0.10
"""the zone's meter may differ this much (common practice, no source)"""
LEAST_CATCH_M3 = 100e-6
"""what a measuring jug of 5 mL steps can tell to 5 per cent"""
_MINUTES = (1, 2, 3, 5, 10, 15, 20, 30)

_Item = TypeVar("_Item")


@dataclass(frozen=True)
class Catch:
    """One cup of the test."""

    cup: int
    outlet: Outlet
    of: int
    """emitters of the lateral"""
    expected_m3: float
    low_m3: float
    high_m3: float


def spread(items: Sequence[_Item], count: int) -> tuple[_Item, ...]:
    """Return items evenly spread over a sequence, its ends among them.

    Args:
        items: what to choose from.
        count: how many are wanted; fewer come if there are not as many [1].
    """
    if count >= len(items):
        return tuple(items)
    if count == 1:
        return (items[0],)
    return tuple(items[round(step * (len(items) - 1) / (count - 1))] for step in range(count))


def running_minutes(zone: Zone) -> int:
    """Return the shortest running time of the list that fills every cup far enough to be read; at most 30."""
    for minutes in _MINUTES:
        if zone.water.least_flow_m3_s * minutes * 60.0 >= LEAST_CATCH_M3:
            return minutes
    return _MINUTES[-1]


def chosen_outlets(zone: Zone) -> tuple[tuple[Outlet, int], ...]:
    """Return the emitters under which cups are set, each with the number of emitters of its lateral.

    Three laterals (nearest the inlet, middle, farthest), on each the first, a middle and the last emitter; a zone of
    fewer laterals gets more cups on each.
    """
    by_lateral = outlets(zone)
    laterals = spread(laterals_outwards(zone), 3)
    each = CUPS // len(laterals)
    return tuple(
        (outlet, len(by_lateral[lateral])) for lateral in laterals for outlet in spread(by_lateral[lateral], each)
    )


def catches(zone: Zone) -> tuple[Catch, ...]:
    """Return the cups of a zone with what they should catch in `running_minutes`.

    Returns:
        Up to nine cups, the nearest to the inlet first.
    """
    seconds = running_minutes(zone) * 60.0
    found = []
    for cup, (outlet, count) in enumerate(chosen_outlets(zone), start=1):
        expected = outlet.flow_m3_s * seconds
        band = CUP_BAND * expected
        found.append(Catch(cup, outlet, count, expected, expected - band, expected + band))
    return tuple(found)


def millilitres(volume_m3: float) -> str:
    """Write a catch in whole millilitres [m3]."""
    return f"{volume_m3 * 1e6:.0f} mL"


def _lateral_words(plan: Plan, lateral_id: str) -> str:
    lateral = laterals_by_id(plan)[lateral_id]
    line = f" line {lateral.line}" if lines_of_row(plan)[lateral.row_id] > 1 else ""
    return f"{lateral.row_id}{line}, {lateral.side}"


def catch_table(plan: Plan, zone: Zone) -> Table:
    """Return the cups of a zone as a table to fill in."""
    minutes = running_minutes(zone)
    rows = tuple(
        (
            str(catch.cup),
            _lateral_words(plan, catch.outlet.lateral_id),
            f"{catch.outlet.number} of {catch.of}",
            millilitres(catch.expected_m3),
            f"{catch.low_m3 * 1e6:.0f} to {millilitres(catch.high_m3)}",
            "",
            "",
        )
        for catch in catches(zone)
    )
    return Table(
        caption=f"Zone {zone.id}: cups after {counted(minutes, 'minute')}",
        columns=(
            Column("Cup", right=True),
            Column("Row"),
            Column("Emitter"),
            Column("Expected", right=True),
            Column("Good if", right=True),
            Column("Caught"),
            Column("Next year"),
        ),
        rows=rows,
    )


def meter_text(plan: Plan, zone: Zone) -> str:
    """Say what a meter at the tap must show over the time of the test."""
    shown, water, minutes = display(plan), zone.water, running_minutes(zone)
    expected = water.flow_m3_s * minutes * 60.0
    low, high = expected * (1.0 - METER_BAND), expected * (1.0 + METER_BAND)
    return (
        f"Meter, if you have one: zone {zone.id} takes {shown.flow(water.flow_m3_s)}. In "
        f"{counted(minutes, 'minute')} the meter must move on by "
        f"{shown.volume(expected)}; good from {shown.volume(low)} to {shown.volume(high)}."
    )


def lowest_cups(count: int) -> int:
    """Return how many cups make the lowest quarter: a quarter of them, rounded to the nearest, at least one [1]."""
    return max(1, (count + 2) // 4)


def _open_rows(plan: Plan, zone: Zone) -> tuple[Block, ...]:
    """Say which shut-offs to open, where every row has one."""
    if not shut_offs_text(plan):
        return ()
    return (Paragraph(f"Open the shut-offs of {rows_text(plan, zone.row_ids)}, close those of all other rows."),)


def zone_blocks(plan: Plan, zone: Zone) -> tuple[Block, ...]:
    """Return the test of one zone."""
    table = catch_table(plan, zone)
    fill_text = display(plan).volume(zone.water.fill_volume_m3)
    low = lowest_cups(len(table.rows))
    fill = Fill(
        (
            "Date, and who measured",
            "Meter before / after, if you have one",
            f"Average of all {len(table.rows)} cups, mL",
            f"Average of the {counted(low, 'lowest cup')}, mL",
            "Lowest divided by all (0.90 or more is very even; below 0.80 look for clogs and leaks)",
        )
    )
    return (
        Heading(f"Zone {zone.id}"),
        *_open_rows(plan, zone),
        Paragraph(
            f"Filling the empty tubes takes {fill_text}; start the clock only when the farthest emitters drip steadily."
        ),
        table,
        Paragraph(meter_text(plan, zone)),
        fill,
    )


def sheet_blocks(plan: Plan) -> tuple[Block, ...]:
    """Return the test sheet of all zones."""
    head = Paragraph(
        "Run one zone at a time with the filter clean. Dig a cup in under each emitter listed so that only that "
        "emitter drips into it; turn the emitter down, or tie a thread to it so that its water runs into the cup. "
        f"A single cup may be {CUP_BAND:.0%} off, the meter {METER_BAND:.0%}: emitters are not all alike. "
        "Few cups wrong: clean or replace those emitters. All cups low together: filter, pressure, a leak. "
        "Cups falling off along a row: a kink or a clog on the way."
    )
    return (head, *(block for zone in plan.zones for block in zone_blocks(plan, zone)))

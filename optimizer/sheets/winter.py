"""Winter and spring card: where water stands, how to let it out, what to do when it gets warm again."""

from __future__ import annotations

import math
from dataclasses import dataclass

from optimizer.plan import Header, Plan, Point, Zone
from optimizer.sheets.blocks import Block, Bullets, Column, Heading, Steps, Table
from optimizer.sheets.cutlist import offcut_name
from optimizer.sheets.drawing_places import low_drains
from optimizer.sheets.flushing import lateral_name
from optimizer.sheets.install import head_parts
from optimizer.sheets.lists import along_um, both_lengths, display, laterals_by_id, metres
from optimizer.sheets.markout import inlet_end
from optimizer.sheets.watertree import Outlet, outlets

_END_UM = 10_000
LEVEL_M = 0.01
"""a line whose heights differ by less drains nowhere by itself"""


@dataclass(frozen=True)
class LowPoint:
    """Where the water of a lateral gathers."""

    lateral_id: str
    kind: str
    """level, header, end, between"""
    away_m: float
    """from the first emitter, as the crow flies"""


def lateral_low(found: tuple[Outlet, ...]) -> LowPoint:
    """Return where a lateral is lowest.

    Args:
        found: its emitters from the header outwards.
    """
    low = min(found, key=lambda outlet: outlet.height_m)
    high = max(outlet.height_m for outlet in found)
    away = math.dist(low.at, found[0].at)
    if high - low.height_m < LEVEL_M:
        return LowPoint(low.lateral_id, "level", 0.0)
    if low.height_m > found[0].height_m - LEVEL_M:
        return LowPoint(low.lateral_id, "header", 0.0)
    if low.height_m > found[-1].height_m - LEVEL_M:
        return LowPoint(low.lateral_id, "end", math.dist(found[-1].at, found[0].at))
    return LowPoint(low.lateral_id, "between", away)


_WORDS = {
    "level": "level: open the end, lift the tube hand over hand towards it",
    "header": "falls to the header: open the end to let air in",
    "end": "falls to its closed end: open it there",
}


def _low_words(plan: Plan, low: LowPoint) -> str:
    if low.kind == "between":
        return f"sags about {display(plan).length(low.away_m)} from its first emitter: lift it there"
    return _WORDS[low.kind]


def _lateral_rows(plan: Plan, zone: Zone) -> list[tuple[str, str]]:
    """Return one row for every way of draining, with the laterals that drain so."""
    laterals = laterals_by_id(plan)
    ways: dict[str, list[str]] = {}
    for lateral_id, found in outlets(zone).items():
        words = _low_words(plan, lateral_low(found))
        ways.setdefault(words, []).append(lateral_name(plan, laterals[lateral_id]))
    return [(f"Zone {zone.id}: {_shorten(names, zone)}", words) for words, names in ways.items()]


def _shorten(names: list[str], zone: Zone) -> str:
    return "all rows" if len(names) == len(zone.lateral_ids) else ", ".join(names)


def _from_zero(plan: Plan, header: Header, at: Point) -> str:
    return display(plan).length(metres(along_um(header.points, at)))


def _way_out(header: Header, at: Point) -> str:
    """Say how a header is opened where it is lowest: at an end that the elbow feeds it is pulled off."""
    place, fed = along_um(header.points, at), inlet_end(header)
    ends = {"zero": place <= _END_UM, "far": place >= along_um(header.points, header.points[-1]) - _END_UM}
    if fed and ends[fed]:
        return "pull the tube off the elbow there"
    return "open the header end there" if any(ends.values()) else "lift it there, towards an open end"


def drain_table(plan: Plan) -> Table:
    """Return the places where water stands, headers first."""
    headers = [
        (
            f"Header {header.id}",
            f"lowest {_from_zero(plan, header, place.at)} from its zero: {_way_out(header, place.at)}",
        )
        for header, place in zip(plan.headers, low_drains(plan), strict=True)
    ]
    rows = [row for zone in plan.zones for row in _lateral_rows(plan, zone)]
    return Table(
        caption="Where the water stands",
        columns=(Column("Tube"), Column("Drain it here")),
        rows=(*headers, *rows),
        ticks=True,
    )


def _kept(plan: Plan) -> tuple[str, ...]:
    return tuple(
        f"{offcut_name(roll)}: {both_lengths(plan, roll.leftover_um)[0]} of {roll.product}"
        for roll in plan.rolls
        if roll.leftover_usable and roll.leftover_um
    )


def winter_blocks(plan: Plan) -> tuple[Block, ...]:
    """Return the winter and spring card."""
    volume = display(plan).volume(sum(zone.water.fill_volume_m3 for zone in plan.zones))
    parts = ", ".join(unit.name for unit in head_parts(plan))
    autumn = (
        "Before the first frost shut the water off and open every valve.",
        f"Take the head parts indoors: {parts}." if parts else "",
        f"Open every end and every low place of the table. All tubes together hold {volume}.",
        "Leave the ends open but capped loosely against insects, until spring.",
        "Tubes that stay out: weigh them down. Tubes that come in: roll them up, tagged with their row.",
    )
    spring = (
        "Look at every tube for splits and bites before the water comes on.",
        "Clean the filter, put the head parts back in their order, fresh battery in the timer.",
        "Flush mainline, headers and rows in their groups, then close the ends.",
        "Repeat the test sheet and write this year's figures beside last year's.",
    )
    kept = _kept(plan)
    return (
        Heading("Autumn"),
        Steps(tuple(step for step in autumn if step)),
        drain_table(plan),
        Heading("Spring"),
        Steps(spring),
        *((Heading("Offcuts kept for next year"), Bullets(kept)) if kept else ()),
    )

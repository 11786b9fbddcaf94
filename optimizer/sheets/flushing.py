"""Flushing: which ends stand open together, so that silt is carried out."""

from __future__ import annotations

import math
from dataclasses import dataclass

from optimizer.plan import Lateral, Plan, Zone
from optimizer.sheets.blocks import Column, Table
from optimizer.sheets.lists import counted, display, lines_of_row
from optimizer.sheets.watertree import laterals_outwards, outlets

FLUSH_SPEED_M_S = 0.3048
"""1 ft/s in the line carries silt out (University of California ANR, maintenance of microirrigation systems)"""


@dataclass(frozen=True)
class FlushGroup:
    """Laterals whose ends stand open at the same time."""

    zone_id: str
    lateral_ids: tuple[str, ...]
    flow_m3_s: float
    """through the open ends at flushing speed"""
    enough: bool
    """the supply reaches flushing speed beside what the emitters take"""


def flush_flow(bore_m: float) -> float:
    """Return the flow that moves water at flushing speed.

    Args:
        bore_m: inside diameter of the line [m].

    Returns:
        Flow [m3/s].
    """
    return FLUSH_SPEED_M_S * math.pi / 4.0 * bore_m**2


def flush_groups(zone: Zone) -> tuple[FlushGroup, ...]:
    """Split a zone's laterals into groups whose open ends the supply can flush at once.

    The emitters are taken to draw their full flow all the while, which is on the safe side.

    Returns:
        Groups from the inlet outwards; if not even one end reaches flushing speed, every group is a single lateral
        and says so.
    """
    bores = {lateral_id: found[0].bore_m for lateral_id, found in outlets(zone).items()}
    spare = zone.water.usable_flow_m3_s - zone.water.flow_m3_s
    groups: list[list[str]] = [[]]
    for lateral_id in laterals_outwards(zone):
        taken = sum(flush_flow(bores[member]) for member in groups[-1])
        if groups[-1] and taken + flush_flow(bores[lateral_id]) > spare:
            groups.append([])
        groups[-1].append(lateral_id)
    flows = [sum(flush_flow(bores[member]) for member in group) for group in groups]
    return tuple(
        FlushGroup(zone.id, tuple(group), flow, flow <= spare) for group, flow in zip(groups, flows, strict=True)
    )


def lateral_name(plan: Plan, lateral: Lateral) -> str:
    """Name a lateral by what can be seen in the garden: row, line, side."""
    line = f" line {lateral.line}" if lines_of_row(plan)[lateral.row_id] > 1 else ""
    return f"{lateral.row_id}{line} {lateral.side}"


def _names(plan: Plan, ids: tuple[str, ...]) -> tuple[str, ...]:
    by_id = {lateral.id: lateral for lateral in plan.laterals}
    return tuple(lateral_name(plan, by_id[lateral_id]) for lateral_id in ids)


def flush_table(plan: Plan, zone: Zone) -> Table:
    """Return in which order the ends of a zone are opened and closed."""
    shown = display(plan)
    groups = flush_groups(zone)
    most = max(len(group.lateral_ids) for group in groups)
    rows = tuple(
        (
            str(number),
            ", ".join(_names(plan, group.lateral_ids)),
            shown.flow(group.flow_m3_s),
        )
        for number, group in enumerate(groups, start=1)
    )
    speed = shown.velocity(FLUSH_SPEED_M_S)
    notes = [
        f"At most {counted(most, 'end')} open at once, all others closed: silt is carried out by {speed} in the line. "
        + (
            "Open one end, wait for a clear cup, close it, go to the next."
            if most == 1
            else "When a group runs clear, close its ends in the order listed while the next group is opened."
        )
    ]
    if not all(group.enough for group in groups):
        notes.append(
            "The supply does not bring that speed beside what the emitters take: flush longer, until a full cup "
            "is clear."
        )
    return Table(
        caption=f"Zone {zone.id}: open the header end first, let it run clear, close it; then the rows in groups",
        columns=(
            Column("Group", right=True),
            Column("Open these ends"),
            Column("They take", right=True),
        ),
        rows=rows,
        ticks=True,
        notes=tuple(notes),
    )

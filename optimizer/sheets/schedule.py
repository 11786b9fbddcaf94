"""Schedule card: what to set on the timer, season by season. The values are worked out elsewhere."""

from __future__ import annotations

from dataclasses import dataclass

from optimizer.plan import Plan
from optimizer.sheets.blocks import Block, Bullets, Column, Paragraph, Table
from optimizer.sheets.lists import display, shut_offs_text
from optimizer.sheets.shopping import valve_text


@dataclass(frozen=True)
class ZoneTimes:
    """When one zone runs in one part of the year."""

    season: str
    zone_id: str
    minutes: int
    """of one run"""
    starts: tuple[str, ...]
    """times of day, "06:00"; several if the run is split"""
    days: tuple[str, ...]
    """names of the days, or one entry such as "every 2nd day" """
    week_m3: float
    """water the zone uses in a week"""
    timer: str = ""
    """what to press, in the timer's own steps"""


@dataclass(frozen=True)
class ScheduleCard:
    """Everything that hangs at the tap."""

    times: tuple[ZoneTimes, ...]
    rules: tuple[str, ...] = ()
    """rain, heat, filter and flush days"""
    assumptions: tuple[str, ...] = ()
    """climate, soil and crop values it rests on"""


def _season_table(plan: Plan, season: str, times: tuple[ZoneTimes, ...]) -> Table:
    shown = display(plan)
    return Table(
        caption=f"{season[:1].upper()}{season[1:]}",
        columns=(
            Column("Zone"),
            Column("Minutes at each start", right=True),
            Column("Start"),
            Column("Days"),
            Column("Water a week", right=True),
            Column("Timer"),
        ),
        rows=tuple(
            (
                time.zone_id,
                str(time.minutes),
                ", ".join(time.starts),
                ", ".join(time.days),
                shown.volume(time.week_m3),
                time.timer,
            )
            for time in times
        ),
    )


def _blank_card(plan: Plan) -> Table:
    shown = display(plan)
    return Table(
        caption="Card to fill in",
        columns=(
            Column("Zone"),
            Column("Takes in an hour", right=True),
            Column("Spring: minutes, days"),
            Column("Summer: minutes, days"),
            Column("Autumn: minutes, days"),
        ),
        rows=tuple((zone.id, shown.volume(zone.water.flow_m3_s * 3600.0), "", "", "") for zone in plan.zones),
    )


BY_HAND = (
    "With hand valves open only the zone whose start it is, and close it before the next. If nobody is there then "
    "shift all starts of the day together."
)


def schedule_blocks(plan: Plan, card: ScheduleCard | None) -> tuple[Block, ...]:
    """Return the schedule card; without one a card to fill in by hand.

    Args:
        plan: the plan.
        card: the worked-out times, if there are any.
    """
    if card is None:
        return (
            Paragraph(
                "No watering times were worked out for this plan, so the card is empty. What each zone takes in an "
                "hour is printed, for working out the minutes from the need of the crop."
            ),
            _blank_card(plan),
            *((Paragraph(shut_offs_text(plan)),) if shut_offs_text(plan) else ()),
        )
    seasons = tuple(dict.fromkeys(time.season for time in card.times))
    tables = tuple(
        _season_table(plan, season, tuple(time for time in card.times if time.season == season)) for season in seasons
    )
    rests_on = (Paragraph("The minutes rest on:", strong=True), Bullets(card.assumptions)) if card.assumptions else ()
    words = shut_offs_text(plan) or (BY_HAND if valve_text(plan) else "")
    by_hand = (Paragraph(words),) if words else ()
    return (*by_hand, *tables, *((Bullets(card.rules),) if card.rules else ()), *rests_on)

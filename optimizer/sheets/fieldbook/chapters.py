"""Which sheets the field book holds and in which order they are needed."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping
from dataclasses import replace

from optimizer.plan import Plan
from optimizer.sheets import cutlist, markout, shopping
from optimizer.sheets.blocks import Block, Book, Bullets, Chapter, Column, Labels, Paragraph, Picture, Steps, Table
from optimizer.sheets.cautions import caution_blocks
from optimizer.sheets.headsketch import head_sketch
from optimizer.sheets.install import MANY, head_steps, install_blocks
from optimizer.sheets.lists import counted, display, metres
from optimizer.sheets.schedule import ScheduleCard, schedule_blocks
from optimizer.sheets.stripsketch import strip_sketches
from optimizer.sheets.testsheet import sheet_blocks
from optimizer.sheets.why import status_text, why_blocks
from optimizer.sheets.winter import winter_blocks
from optimizer.units import money


def _lead(plan: Plan) -> tuple[str, ...]:
    """Return the plan in a few lines."""
    shown = display(plan)
    line_um = sum(lateral.length_um for lateral in plan.laterals)
    emitters = sum(lateral.emitters for lateral in plan.laterals)
    flow = max((zone.water.flow_m3_s for zone in plan.zones), default=0.0)
    return (
        f"{counted(len(plan.rows), 'row')} on {counted(len(plan.beds), 'bed')}, "
        f"{counted(len(plan.laterals), 'emitter line')} of {shown.length(metres(line_um))} in all, "
        f"{counted(emitters, 'emitter')}.",
        f"{counted(len(plan.zones), 'zone')}; the greatest takes {shown.flow(flow)}.",
        f"To buy: {money(shopping.total_ct(plan), plan.currency)}, without spares.",
        status_text(plan),
    )


def _rows_table(plan: Plan) -> Table:
    """Return the plan as a table, for those who read it better than a picture."""
    shown = display(plan)
    laid = Counter({row.id: 0 for row in plan.rows})
    for lateral in plan.laterals:
        laid[lateral.row_id] += lateral.length_um
    zone_of = {row_id: zone.id for zone in plan.zones for row_id in zone.row_ids}
    return Table(
        caption="Rows, numbered from the tap end",
        notes=(
            "Emitter line differs from the row length: it is cut in whole emitter spacings, has none where blank tube "
            "leads round something, and counts every line of a row.",
        ),
        columns=(
            Column("Row"),
            Column("Zone"),
            Column("Bed"),
            Column("Crop"),
            Column("Row length", right=True),
            Column("Lines", right=True),
            Column("Emitter line", right=True),
        ),
        rows=tuple(
            (
                row.id,
                zone_of.get(row.id, "-"),
                row.bed,
                row.crop,
                shown.length(math.dist(row.start, row.end)),
                str(row.lines),
                shown.length(metres(laid[row.id])),
            )
            for row in plan.rows
        ),
    )


def _shopping(plan: Plan) -> tuple[Block, ...]:
    return (
        *(Paragraph(rule) for rule in shopping.RULES),
        *shopping.shopping_tables(plan),
        Paragraph(shopping.total_text(plan), strong=True),
        *(Paragraph(note) for note in shopping.notes(plan)),
        Paragraph("Tools to have at hand (not in the price):", strong=True),
        Bullets(shopping.TOOLS),
    )


def _ending(chapter: Chapter, drawn: Mapping[str, tuple[Picture, ...]]) -> Chapter:
    return replace(chapter, blocks=(*chapter.blocks, *drawn.get(chapter.id, ())))


def field_book(
    plan: Plan, pictures: Mapping[str, tuple[Picture, ...]] | None = None, schedule: ScheduleCard | None = None
) -> Book:
    """Put the sheets of a plan together.

    Args:
        plan: what was decided.
        pictures: drawings under the id of their chapter, as from `plan_pictures`; those of the plan lead its chapter,
            others end theirs.
        schedule: watering times, if they were worked out.

    Returns:
        The book, its numbers already in words, for `book_html` and `book_pdf`.

    Raises:
        VerificationError: lengths, ids or the network of the plan contradict each other.
        ValueError: there is no chapter for a picture.
    """
    drawn = pictures or {}
    cuts: tuple[Block, ...] = (*(Paragraph(rule) for rule in cutlist.RULES), *cutlist.cut_list_tables(plan))
    # Of many headers every one is short: its table says the same on less paper.
    drawn_headers = plan.headers if len(plan.headers) <= MANY else ()
    strips = (sketch for header in drawn_headers for sketch in strip_sketches(plan, header))
    marks: tuple[Block, ...] = (*(Paragraph(rule) for rule in markout.RULES), *markout.mark_out_tables(plan), *strips)
    chapters = (
        Chapter("plan", "The plan", (*drawn.get("plan", ()), _rows_table(plan))),
        Chapter("cautions", "Cautions", caution_blocks(plan)),
        Chapter("shopping", "Shopping list", _shopping(plan)),
        Chapter("cutting", "Cut list", cuts),
        Chapter("tags", "Tags to cut out", (Labels(cutlist.labels(plan)),)),
        Chapter("marking", "Mark-out list", marks),
        Chapter("head", "Head assembly", (head_sketch(plan), Steps(head_steps(plan)))),
        Chapter("laying", "Laying and flushing", install_blocks(plan)),
        Chapter("test", "Test sheet", sheet_blocks(plan)),
        Chapter("schedule", "Schedule card", schedule_blocks(plan, schedule)),
        Chapter("winter", "Winter and spring card", winter_blocks(plan)),
        Chapter("why", "Why this plan", why_blocks(plan)),
    )
    strangers = sorted(set(drawn) - {chapter.id for chapter in chapters})
    if strangers:
        raise ValueError(f"the field book has no chapter '{strangers[0]}' for a picture")
    return Book(plan.title, _lead(plan), (chapters[0], *(_ending(chapter, drawn) for chapter in chapters[1:])))

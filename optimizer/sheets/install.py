"""Putting it together: head parts in order, steps with the plan's own numbers."""

from __future__ import annotations

import math

from shapely.geometry import LineString

from optimizer.plan import BillLine, Header, HeadUnit, Lateral, MainlinePart, Plan, Point
from optimizer.sheets.blocks import Block, Bullets, Column, Heading, Paragraph, Steps, Table
from optimizer.sheets.flushing import flush_table
from optimizer.sheets.lists import both_lengths, counted, display, lines_of_row, metres, shut_offs_text, zone_words
from optimizer.sheets.markout import holes
from optimizer.sheets.shopping import VALVES
from optimizer.sheets.spans import name_span
from optimizer.units import System

_SAME_PLACE_M = 0.01
_BESIDE_M = 0.2
_BUCKET_M3 = {System.METRIC: 0.010, System.US: 5.0 * 3.785411784e-3}


def head_parts(plan: Plan) -> tuple[HeadUnit, ...]:
    """Return the head parts in the order of flow, the tap, pump or tank itself left out."""
    return tuple(unit for unit in plan.head_units if unit.kind != plan.site.source_kind)


def head_steps(plan: Plan) -> tuple[str, ...]:
    """Return the head parts in the order of flow, in words."""
    source = plan.site.source_kind
    parts = tuple(f"{unit.name}{f' ({unit.note})' if unit.note else ''}" for unit in head_parts(plan))
    return (f"{source}: start here", *parts, "mainline to the garden")


def _tube_words(plan: Plan, part: Header | MainlinePart) -> str:
    return f"{display(plan).length(metres(part.length_um))} of {part.tube}, {_pieces(part.piece_ids)}"


def _pieces(ids: tuple[str, ...]) -> str:
    return f"{'piece' if len(ids) == 1 else 'pieces'} {', '.join(ids)}"


def _cover(part: Header | MainlinePart) -> str:
    paths = sorted({crossing.path for crossing in part.crossings})
    if not paths:
        return ""
    return f" Sleeve or cover it where it crosses: {', '.join(paths)} ({counted(len(part.crossings), 'crossing')})."


def _mainline_step(plan: Plan, part: MainlinePart) -> str:
    start, end = _start_of(plan, part), _end_of(plan, part)
    return (
        f"Lay mainline {part.id} from {start} to {end}: {_tube_words(plan, part)}.{_beside(plan, part)}{_cover(part)}"
    )


def alongside(part: MainlinePart, header: Header) -> bool:
    """Tell whether a mainline part runs beside a header rather than up to it."""
    shared = LineString(part.points).intersection(LineString(header.points).buffer(_BESIDE_M))
    return float(shared.length) > 2.0 * _BESIDE_M


def _beside(plan: Plan, part: MainlinePart) -> str:
    """Say where mainline lies whose line on the plan is that of a header."""
    found = [header for header in plan.headers if alongside(part, header)]
    if not found:
        return ""
    ids = {header.id for header in found}
    sides = {lateral.side for lateral in plan.laterals if lateral.header_id in ids}
    where = ", on the side away from the rows" if len(sides) == 1 else ""
    return f" Alongside header {' and '.join(header.id for header in found)} lay it a hand's width off{where}."


def _same_place(a: Point, b: Point) -> bool:
    return math.dist(a, b) < _SAME_PLACE_M


def _start_of(plan: Plan, part: MainlinePart) -> str:
    """Name where a mainline part begins."""
    before = [
        other.id for other in plan.mainline if other.id != part.id and _same_place(other.points[-1], part.points[0])
    ]
    return f"the tee at the end of {before[0]}" if before else "the head parts"


def _end_of(plan: Plan, part: MainlinePart) -> str:
    """Name where a mainline part ends: at header inlets, or at a tee from which others go on."""
    end = part.points[-1]
    inlets = [f"header {header.id}" for header in plan.headers if _same_place(header.inlet_at, end)]
    on = [other.id for other in plan.mainline if other.id != part.id and _same_place(other.points[0], end)]
    ways = [f"the inlet of {name}" for name in inlets] + [f"mainline {name}" for name in on]
    if len(ways) > 1:
        return f"the tee for {' and '.join(ways)}"
    return ways[0] if ways else "its end"


def _valve_step(plan: Plan) -> str:
    """Say where each valve sits: at the start of the tube that it opens."""
    places = []
    for valve in plan.valves:
        behind = [f"mainline {name}" for name in valve.part_ids]
        behind += [f"header {name}, before its inlet" for name in valve.header_ids]
        served = "all zones" if 1 < len(valve.zone_ids) == len(plan.zones) else f"zone {', '.join(valve.zone_ids)}"
        places.append(f"{served} at the start of {' and '.join(behind)}")
    stubs = "A valve sits between short stubs of tube: cut them from what is left of the blank roll."
    if len(places) == 1:
        return f"Set the zone valve: {places[0]}. {stubs}"
    where = f"Set the {len(places)} zone valves where the tube feeds one zone alone: {'; '.join(places)}."
    return f"{where} {stubs} {VALVES}"


def tap_step(plan: Plan) -> str:
    """Say what the tap, pump or tank must give, with a bucket to measure it."""
    shown = display(plan)
    hardest = max(plan.zones, key=lambda zone: zone.water.flow_m3_s).water
    usable = hardest.usable_flow_m3_s or hardest.flow_m3_s
    bucket_m3 = _BUCKET_M3[shown.system]
    seconds = math.floor(bucket_m3 / usable)
    return (
        f"Before you buy, check the {plan.site.source_kind}: the plan counts on {shown.flow(usable)} from it, and on "
        f"{shown.pressure(hardest.source_head_m)} while a zone takes {shown.flow(hardest.flow_m3_s)}. Fully open it "
        f"must fill {shown.volume(bucket_m3)} in less than {seconds} s, and a gauge on it, nothing "
        f"running, must show more than that pressure. Less: measure again and plan anew."
    )


def _header_step(plan: Plan, header: Header) -> str:
    return (
        f"Lay header {header.id} of {zone_words(header)}: {_tube_words(plan, header)}. Let it lie in the sun until it "
        f"is soft and straight, peg it, then make its {counted(holes(plan, header), 'hole')} at the running marks of "
        f"the mark-out list and push in the take-offs.{_cover(header)}"
    )


def _tube_laid(plan: Plan, product: str) -> float:
    """Return how much of a tube is laid; of all tubes if no roll is of this product [m]."""
    products = {piece.product for piece in plan.pieces}
    wanted = {product} if product in products else products
    return sum(metres(piece.length_um) for piece in plan.pieces if piece.product in wanted)


MANY = 8
"""so many parts of mainline, or headers, make a step each; more stand in a table"""
_TABLED = "after the table below, tick each there"


def _mainline_steps(plan: Plan) -> tuple[str, ...]:
    if len(plan.mainline) <= MANY:
        return tuple(_mainline_step(plan, part) for part in plan.mainline)
    return (f"Lay the {len(plan.mainline)} parts of mainline from the head parts outwards, {_TABLED}.",)


def _header_steps(plan: Plan) -> tuple[str, ...]:
    if len(plan.headers) <= MANY:
        return tuple(_header_step(plan, header) for header in plan.headers)
    return (
        f"Lay the {len(plan.headers)} headers {_TABLED}. Let each lie in the sun until it is soft and straight, peg "
        "it, then make its holes at the running marks of the mark-out list and push in the take-offs.",
    )


def mainline_table(plan: Plan) -> Table:
    """Return from where to where every part of the mainline goes, in the order of flow."""
    rows = tuple(
        (
            part.id,
            _start_of(plan, part),
            _end_of(plan, part),
            f"{_tube_words(plan, part)}.{_beside(plan, part)}{_cover(part)}",
        )
        for part in plan.mainline
    )
    return Table(
        caption="Mainline, in the order of flow",
        columns=(Column("Part"), Column("From"), Column("To"), Column("Tube")),
        rows=rows,
        ticks=True,
    )


def headers_table(plan: Plan) -> Table:
    """Return where every header lies, what it is made of and how many holes it takes."""
    rows = tuple(
        (
            header.id,
            name_span(header.beds),
            ", ".join(header.zone_ids),
            f"{_tube_words(plan, header)}.{_cover(header)}",
            str(holes(plan, header)),
        )
        for header in plan.headers
    )
    titles = ("Header", "Bed", "Zone", "Tube", "Holes")
    return Table(
        caption="Headers",
        columns=tuple(Column(title, right=title == "Holes") for title in titles),
        rows=rows,
        ticks=True,
    )


def _many_tables(plan: Plan) -> tuple[Table, ...]:
    """Return tables for tubes that are too many to make a step each."""
    mainline = (mainline_table(plan),) if len(plan.mainline) > MANY else ()
    return (*mainline, *((headers_table(plan),) if len(plan.headers) > MANY else ()))


def _stake_gap(plan: Plan, line: BillLine) -> str:
    return f"about one every {display(plan).length(_tube_laid(plan, line.fits) / line.quantity)} of {line.fits}"


def _stake_step(plan: Plan) -> str:
    stakes = [line for line in plan.bill if "stake" in line.item.lower() and line.quantity]
    words = ", ".join(f"{line.quantity} x {line.item} ({line.fits})" for line in stakes)
    every = "; ".join(_stake_gap(plan, line) for line in stakes)
    where = f"both ends of every line, then evenly between ({every}); at corners of headers one on each side"
    return f"Stake the tubes down: {words}. Set them at {where}. Leave them loose: tube grows in the sun."


def pushes(plan: Plan) -> int:
    """Return how many fittings are pushed on by hand at least: two for a take-off, one for an end, two for a joint."""
    joints = sum(cut.part > 1 for roll in plan.rolls for cut in roll.cuts)
    bypasses = sum(stretch.kind == "bypass" for lateral in plan.laterals for stretch in lateral.stretches)
    return 3 * len(plan.laterals) + 2 * joints + 4 * bypasses


BYPASS = (
    "Lead blank tube round an obstacle on the side that the mark-out list says. The piece is longer than the gap "
    "because it goes round: lay it in a wide bow so that no bend kinks, and stake it there."
)


def install_steps(plan: Plan) -> tuple[str, ...]:
    """Return the steps from the bare ground to running water, with the plan's own numbers."""
    stakes = any("stake" in line.item.lower() and line.quantity for line in plan.bill)
    return (
        tap_step(plan),
        "Read the cautions. Find out what lies under the ground before you dig or drive stakes.",
        "Peg the corners of the beds; check the diagonals. Peg headers and rows after the mark-out list and stretch a "
        "string along every row: if something does not fit, find out before you cut.",
        f"Cut all {counted(len(plan.pieces), 'piece')} after the cut list and tag each one at once.",
        "Put the head parts together in their order, hand-tight with washers; let water run through them into "
        "a bucket once.",
        *_mainline_steps(plan),
        *((_valve_step(plan),) if any(line.item == "zone valve" and line.quantity for line in plan.bill) else ()),
        *_header_steps(plan),
        f"Lay the {counted(len(plan.laterals), 'emitter line')} along the strings, emitters upwards, after the table "
        f"below. In all there are about {pushes(plan)} push-on joints: dip tube ends into hot water, and change hands.",
        *((shut_offs_text(plan),) if shut_offs_text(plan) else ()),
        *((BYPASS,) if any(stretch.kind == "bypass" for way in plan.laterals for stretch in way.stretches) else ()),
        *((_stake_step(plan),) if stakes else ()),
        "Open the water slowly and flush: first the mainline, then the headers, then the rows in the groups below. "
        "Until its turn comes keep every end kinked shut and tied; its end closure or header end goes on only when it "
        "has run clear.",
        "With all ends closed walk every line. Plug wrong holes; pull a weeping joint, cut it back and push it again.",
        "Do the test sheet. Cover with mulch only after it.",
    )


def _lateral_pieces(plan: Plan, lateral: Lateral) -> str:
    return ", then ".join(
        f"{'blank ' if stretch.kind == 'bypass' else ''}{stretch.piece_id} {both_lengths(plan, stretch.length_um)[0]}"
        for stretch in lateral.stretches
    )


def _pieces_rows(plan: Plan, header: Header) -> tuple[tuple[str, str, str], ...]:
    """Return row, pieces in order and emitters of every row on a header."""
    lines = lines_of_row(plan)
    rows: dict[str, list[Lateral]] = {}
    for lateral in plan.laterals:
        if lateral.header_id == header.id:
            rows.setdefault(lateral.row_id, []).append(lateral)

    def words(lateral: Lateral) -> str:
        line = f"line {lateral.line} " if lines[lateral.row_id] > 1 else ""
        return f"{line}{lateral.side}: {_lateral_pieces(plan, lateral)}"

    return tuple(
        (row_id, "; ".join(map(words, found)), str(sum(lateral.emitters for lateral in found)))
        for row_id, found in rows.items()
    )


_PIECES = (Column("Row"), Column("Pieces in order"), Column("Emitters", right=True))


def pieces_tables(plan: Plan) -> tuple[Table, ...]:
    """Return which pieces make the laterals, row by row, in order from the take-off: many headers in one table."""
    caption = "What goes on header {}, from the take-off outwards"
    if len(plan.headers) <= MANY:
        return tuple(
            Table(caption.format(header.id), _PIECES, _pieces_rows(plan, header), ticks=True) for header in plan.headers
        )
    rows = tuple((header.id, *row) for header in plan.headers for row in _pieces_rows(plan, header))
    return (Table("What goes on the headers, from the take-off outwards", (Column("Header"), *_PIECES), rows, True, 1),)


def install_blocks(plan: Plan) -> tuple[Block, ...]:
    """Return the installation chapter."""
    return (
        Steps(install_steps(plan)),
        *_many_tables(plan),
        Heading("Which pieces go where"),
        *pieces_tables(plan),
        Heading("Flushing in groups"),
        Paragraph(
            "Silt and shavings from cutting clog emitters. Flush now, after every repair, and as often as the "
            "schedule card says. Stand clear of ends that whip."
        ),
        *(flush_table(plan, zone) for zone in plan.zones),
        *((Heading("Not watered"), Bullets(plan.not_watered)) if plan.not_watered else ()),
    )

"""Cut list: every roll, what is cut from it in which order, and the running mark of every cut."""

from __future__ import annotations

from dataclasses import dataclass

from optimizer.errors import VerificationError
from optimizer.plan import Cut, Lateral, Piece, Plan, RollCuts
from optimizer.sheets.blocks import Column, Label, Table
from optimizer.sheets.lists import (
    METRIC,
    US,
    both_lengths,
    counted,
    display,
    lateral_of_piece,
    lines_of_row,
    metres,
    pieces_by_id,
)
from optimizer.sheets.textual import csv_text, paragraphs, table_text, title_text

RULES = (
    "Pull the tube out straight and relaxed, not stretched, with its trimmed end pinned at zero. Cut at the running "
    "mark, counted from the trimmed end, and never by adding up single lengths: then no error adds up.",
    "On emitter line trim the first end of the roll midway between two emitters and call that cut zero.",
    "No room to pull out the whole roll: pull out one piece, cut it, pin the new end at its mark and go on.",
    "Count the emitters before each cut, which falls midway between two of them. If mark and number of emitters "
    "disagree the number wins: cut there and pin the new end at the mark listed. Tag the piece before you put it down.",
)

CSV_HEADER = (
    "roll",
    "product",
    "stock",
    "owned",
    "order",
    "kind",
    "piece",
    "part",
    "parts",
    "purpose",
    "row_or_tube",
    "lateral",
    "length_um",
    "mark_um",
    "left_on_roll_um",
    "length_metric",
    "mark_metric",
    "left_metric",
    "length_us",
    "mark_us",
    "left_us",
)


@dataclass(frozen=True)
class CutLine:
    """One cut, with where its piece goes."""

    roll_id: str
    order: int
    """1 for the first cut of the roll"""
    piece: Piece
    part: int
    parts: int
    lateral_id: str
    """empty for headers and mainline"""
    serves: str
    """in words"""
    length_um: int
    mark_um: int
    left_um: int
    """still on the roll after the cut"""


def _check(roll: RollCuts, pieces: dict[str, Piece]) -> None:
    """Raise VerificationError unless cuts, marks and leftover add up to the roll exactly."""
    run = 0
    for cut in roll.cuts:
        run += cut.length_um
        if cut.mark_um != run:
            raise VerificationError(f"roll {roll.id}: mark of {cut.piece_id} is {cut.mark_um} um, the cuts say {run}")
        if cut.piece_id not in pieces:
            raise VerificationError(f"roll {roll.id}: the plan has no piece '{cut.piece_id}'")
    if run + roll.leftover_um != roll.length_um:
        raise VerificationError(
            f"roll {roll.id}: cuts {run} um and leftover {roll.leftover_um} um are not its {roll.length_um} um"
        )


def _serves(piece: Piece, lateral: Lateral | None, lines: dict[str, int]) -> str:
    if lateral is None:
        return f"{piece.purpose} {piece.serves}"
    line = f", line {lateral.line}" if lines[lateral.row_id] > 1 else ""
    bypass = ", bypass (blank)" if piece.purpose == "bypass" else ""
    return f"row {lateral.row_id}{line}, {lateral.side} of {lateral.header_id}{bypass}"


def cut_lines(plan: Plan, roll: RollCuts) -> tuple[CutLine, ...]:
    """Return the cuts of a roll in cutting order.

    Args:
        plan: the plan.
        roll: one of its rolls.

    Returns:
        One line for each cut.

    Raises:
        VerificationError: cuts and leftover do not add up to the roll, or a piece is unknown.
    """
    pieces, laterals, lines = pieces_by_id(plan), lateral_of_piece(plan), lines_of_row(plan)
    _check(roll, pieces)

    def line(order: int, cut: Cut) -> CutLine:
        piece, lateral = pieces[cut.piece_id], laterals.get(cut.piece_id)
        return CutLine(
            roll_id=roll.id,
            order=order,
            piece=piece,
            part=cut.part,
            parts=cut.parts,
            lateral_id=lateral.id if lateral else "",
            serves=_serves(piece, lateral, lines),
            length_um=cut.length_um,
            mark_um=cut.mark_um,
            left_um=roll.length_um - cut.mark_um,
        )

    return tuple(line(order, cut) for order, cut in enumerate(roll.cuts, start=1))


def offcut_name(roll: RollCuts) -> str:
    """Return the name under which what is left of a roll is kept."""
    return f"OFF-{roll.id}"


def _kind(roll: RollCuts) -> str:
    return "keep" if roll.leftover_usable else "waste"


def _csv_lengths(length_um: int, mark_um: int, left_um: int) -> tuple[object, ...]:
    exact = (length_um, mark_um, left_um)
    return (*exact, *(shown.length(metres(value)) for shown in (METRIC, US) for value in exact))


def _csv_roll(plan: Plan, roll: RollCuts) -> list[tuple[object, ...]]:
    stem = (roll.id, roll.product, roll.stock, "yes" if roll.owned else "no")
    lines = cut_lines(plan, roll)
    rows: list[tuple[object, ...]] = [
        (
            *stem,
            line.order,
            "cut",
            line.piece.id,
            line.part,
            line.parts,
            line.piece.purpose,
            line.piece.serves,
            line.lateral_id,
            *_csv_lengths(line.length_um, line.mark_um, line.left_um),
        )
        for line in lines
    ]
    if roll.leftover_um:
        end = (len(lines) + 1, _kind(roll), offcut_name(roll), 1, 1, "offcut", "", "")
        rows.append((*stem, *end, *_csv_lengths(roll.leftover_um, roll.length_um, 0)))
    return rows


def cut_list_csv(plan: Plan) -> str:
    """Write the cut list as CSV, lengths exact in micrometres and readable in both unit systems."""
    return csv_text(CSV_HEADER, (row for roll in plan.rolls for row in _csv_roll(plan, roll)))


def _piece_name(line: CutLine) -> str:
    return line.piece.id if line.parts == 1 else f"{line.piece.id} ({line.part} of {line.parts})"


def offcut_note(plan: Plan, roll: RollCuts) -> str:
    """Say what is left of a roll and what to do with it."""
    if not roll.leftover_um:
        return "Nothing is left of it."
    own, _ = both_lengths(plan, roll.leftover_um)
    if roll.leftover_usable:
        return f"Offcut {offcut_name(roll)}: {own}, long enough to use again. Tag it and keep it."
    return f"Offcut {offcut_name(roll)}: {own}, too short to lay. Keep it for sleeves over folded ends."


def _joint_notes(lines: tuple[CutLine, ...]) -> tuple[str, ...]:
    joined = sorted({line.piece.id: line.parts for line in lines if line.parts > 1}.items())
    return tuple(
        f"Piece {piece} is made of {parts} lengths: join them in order with {counted(parts - 1, 'coupler')}."
        for piece, parts in joined
    )


def emitters_cut(plan: Plan, line: CutLine) -> int:
    """Return how many emitters are on a cut length; 0 on blank tube [1]."""
    counts = {stretch.piece_id: stretch.emitters for lateral in plan.laterals for stretch in lateral.stretches}
    return round(counts.get(line.piece.id, 0) * line.length_um / line.piece.length_um)


def roll_table(plan: Plan, roll: RollCuts) -> Table:
    """Return one roll's cuts as a table.

    Raises:
        VerificationError: see `cut_lines`.
    """
    lines = cut_lines(plan, roll)
    own, other = both_lengths(plan, roll.length_um)
    counts = [emitters_cut(plan, line) for line in lines]
    rows = tuple(
        (
            _piece_name(line),
            display(plan).length(metres(line.length_um)),
            display(plan).length(metres(line.mark_um)),
            display(plan).length(metres(line.left_um)),
            *((str(count),) if any(counts) else ()),
            line.serves,
        )
        for line, count in zip(lines, counts, strict=True)
    )
    return Table(
        caption=f"Roll {roll.id}: {roll.product}, {own} ({other}){', already there' if roll.owned else ''}",
        columns=(
            Column("Piece"),
            Column("Length", right=True),
            Column("Cut at mark", right=True),
            Column("Left on roll", right=True),
            *((Column("Emitters", right=True),) if any(counts) else ()),
            Column("For"),
        ),
        rows=rows,
        ticks=True,
        notes=(*_joint_notes(lines), offcut_note(plan, roll)),
    )


def cut_list_tables(plan: Plan) -> tuple[Table, ...]:
    """Return the cut list: one table for each roll, in the order of the plan."""
    return tuple(roll_table(plan, roll) for roll in plan.rolls)


def cut_list_text(plan: Plan) -> str:
    """Write the cut list as text of at most 80 columns."""
    head = title_text(f"Cut list: {plan.title}") + "\n" + "\n".join(paragraphs(RULES)) + "\n"
    return "\n".join([head, *(table_text(table) for table in cut_list_tables(plan))])


def _label(plan: Plan, line: CutLine) -> Label:
    return Label(f"{_piece_name(line)} {display(plan).length(metres(line.length_um))}", line.serves)


def labels(plan: Plan) -> tuple[Label, ...]:
    """Return a tag for every cut length and every offcut worth keeping, in cutting order."""
    tags: list[Label] = []
    for roll in plan.rolls:
        tags += [_label(plan, line) for line in cut_lines(plan, roll)]
        if roll.leftover_usable and roll.leftover_um:
            tags.append(
                Label(f"{offcut_name(roll)} {both_lengths(plan, roll.leftover_um)[0]}", f"keep: {roll.product}")
            )
    return tuple(tags)

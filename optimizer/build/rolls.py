"""Which roll each piece is cut from, with running marks."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

from optimizer.cutting import CuttingPlan, RollUse
from optimizer.plan import Cut, Piece, RollCuts
from optimizer.scenario.schema import Tubing
from optimizer.units import Display, micrometres


def _assigned(pieces: Sequence[Piece], unit_um: int) -> dict[tuple[str, int], Piece]:
    """Return which piece each copy of each demanded length is."""
    copies: dict[int, int] = defaultdict(int)
    found = {}
    for piece in pieces:
        units = piece.length_um // unit_um
        found[f"{units}", copies[units]] = piece
        copies[units] += 1
    return found


def _stock(tubing: Tubing, use: RollUse, display: Display) -> tuple[str, bool, int, int]:
    """Return name, ownership, length and price of the stock a use cuts into."""
    kind, number = use.stock.split(" ")
    index = int(number) - 1
    if kind == "owned":
        length = tubing.owned[index]
        return f"owned piece, {display.length(length)}", True, micrometres(length), 0
    roll = tubing.rolls[index]
    return f"roll of {display.length(roll.length)}", False, micrometres(roll.length), roll.price


def roll_cuts(
    tubing: Tubing,
    numbering: tuple[str, int],
    plan: CuttingPlan,
    pieces: Sequence[Piece],
    unit_um: int,
    usable_um: int,
    display: Display,
) -> tuple[RollCuts, ...]:
    """Return the rolls of one product with their cuts in cutting order.

    Args:
        tubing: the product.
        numbering: first letter of the roll ids, and the number of the first.
        plan: what the cutting decided.
        pieces: the pieces, each a whole number of units long.
        unit_um: cutting unit [um].
        usable_um: shortest offcut worth keeping [um].
        display: writes the names of the rolls.
    """
    piece_of = _assigned(pieces, unit_um)
    parts: dict[tuple[str, int], int] = defaultdict(int)
    for use in plan.uses:
        for cut in use.cuts:
            parts[cut.demand, cut.copy] += 1
    found = []
    letter, first = numbering
    for number, use in enumerate(plan.uses, start=first):
        name, owned, length_um, price_ct = _stock(tubing, use, display)
        mark, cuts = 0, []
        for cut in use.cuts:
            mark += cut.units * unit_um
            piece = piece_of[cut.demand, cut.copy]
            cuts.append(Cut(piece.id, cut.part + 1, parts[cut.demand, cut.copy], cut.units * unit_um, mark))
        usable = use.leftover_um >= usable_um
        found.append(
            RollCuts(
                f"{letter}{number}",
                tubing.name,
                name,
                owned,
                length_um,
                price_ct,
                tuple(cuts),
                use.leftover_um,
                usable,
            )
        )
    return tuple(found)

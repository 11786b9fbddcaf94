"""Cutting: every piece out of a real roll, once, to the micrometre."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from optimizer.plan import Cut, Piece, RollCuts
from optimizer.units import micrometres
from optimizer.verification.facts import EMITTER_LINE, Facts
from optimizer.verification.findings import Verdict, Verdicts, judged


def cut_once(facts: Facts) -> Verdicts:
    """Every piece is cut once: all its parts, none twice, from its own product, adding up to its length."""
    cuts: dict[str, list[tuple[RollCuts, Cut]]] = {piece.id: [] for piece in facts.plan.pieces}
    for roll in facts.plan.rolls:
        for cut in roll.cuts:
            cuts[cut.piece_id].append((roll, cut))
    for piece in facts.plan.pieces:
        mine = cuts[piece.id]
        path = f"piece {piece.id}"
        numbers = sorted(cut.part for _, cut in mine)
        whole = numbers == list(range(1, len(mine) + 1)) and all(cut.parts == len(mine) for _, cut in mine)
        yield judged(path, bool(mine) and whole, f"its parts are cut as numbers {numbers}")
        total = sum(cut.length_um for _, cut in mine)
        yield judged(path, total == piece.length_um, f"its cuts add up to {total} um, it is {piece.length_um} um long")
        products = {roll.product for roll, _ in mine}
        yield judged(path, products <= {piece.product}, f"it is {piece.product} and cut from {sorted(products)}")


def roll_sums(facts: Facts) -> Verdicts:
    """Cuts and leftover are the roll, exactly, and nothing has no length."""
    for roll in facts.plan.rolls:
        total = sum(cut.length_um for cut in roll.cuts) + roll.leftover_um
        whole = total == roll.length_um and roll.leftover_um >= 0 and all(cut.length_um > 0 for cut in roll.cuts)
        message = f"cuts and leftover add up to {total} um, the roll has {roll.length_um} um"
        yield judged(f"roll {roll.id}", whole, message)


def running_marks(facts: Facts) -> Verdicts:
    """Marks on a roll are the sum of the cuts so far."""
    for roll in facts.plan.rolls:
        run = 0
        for cut in roll.cuts:
            run += cut.length_um
            message = f"the mark of {cut.piece_id} is {cut.mark_um} um, the cuts so far make {run} um"
            yield judged(f"roll {roll.id}", cut.mark_um == run, message)


def stock(facts: Facts) -> Verdicts:
    """Rolls to buy are sold in that length at that price, and no more of them than can be had."""
    bought = Counter((roll.product, roll.length_um, roll.price_ct) for roll in facts.plan.rolls if not roll.owned)
    for (name, length_um, price_ct), count in sorted(bought.items()):
        sold = [
            roll
            for roll in facts.products[name].rolls
            if (micrometres(roll.length), roll.price) == (length_um, price_ct)
        ]
        path = f"rolls of {name}, {length_um} um"
        yield judged(path, bool(sold), f"no roll of this length is sold for {price_ct} ct")
        limit = None if any(roll.available is None for roll in sold) else sum(roll.available or 0 for roll in sold)
        yield judged(path, limit is None or count <= limit, f"{count} are used, {limit} can be had")


def owned_pieces(facts: Facts) -> Verdicts:
    """Owned pieces exist, are used once and cost nothing."""
    used = Counter((roll.product, roll.length_um) for roll in facts.plan.rolls if roll.owned)
    there = Counter((item.name, micrometres(length)) for item in facts.products.values() for length in item.owned)
    for (name, length_um), count in sorted(used.items()):
        message = f"{count} owned pieces are used, {there[name, length_um]} are there"
        yield judged(f"{name}, {length_um} um", count <= there[name, length_um], message)
    for roll in facts.plan.rolls:
        yield judged(f"roll {roll.id}", not (roll.owned and roll.price_ct), f"it is owned and costs {roll.price_ct} ct")


def leftovers(facts: Facts) -> Verdicts:
    """A leftover is called usable where it is long enough."""
    limit = micrometres(facts.scenario.limits.usable_offcut)
    for roll in facts.plan.rolls:
        usable = roll.leftover_um >= limit
        message = f"a leftover of {roll.leftover_um} um is called {'usable' if roll.leftover_usable else 'waste'}"
        yield judged(f"roll {roll.id}", roll.leftover_usable == usable, message)


def joints(facts: Facts) -> Verdicts:
    """Joined pieces have parts that are long enough, and laterals no more couplers than allowed."""
    limits = facts.scenario.limits
    for piece in facts.plan.pieces:
        parts = facts.parts_of_piece[piece.id]
        short = len(parts) > 1 and min(parts) < micrometres(limits.shortest_joined_part)
        message = f"its shortest part has {min(parts, default=0)} um"
        yield judged(f"piece {piece.id}", not short, message)
    for lateral in facts.plan.laterals:
        lines = [part for part in lateral.stretches if part.kind == EMITTER_LINE]
        count = sum(max(0, len(facts.parts_of_piece[part.piece_id]) - 1) for part in lines)
        message = f"it has {count} couplers, {limits.joints_per_lateral} are allowed"
        yield judged(f"lateral {lateral.id}", count <= limits.joints_per_lateral, message)


def between_emitters(facts: Facts) -> Verdicts:
    """Parts of emitter line are whole emitter spacings, so that no coupler falls on an emitter."""
    for piece in facts.plan.pieces:
        if piece.product in facts.lines:
            spacing = micrometres(facts.lines[piece.product].spacing)
            off = [length for length in facts.parts_of_piece[piece.id] if length % spacing]
            message = f"parts of {off} um are no whole number of spacings of {spacing} um"
            yield judged(f"piece {piece.id}", not off, message)


def serves(facts: Facts) -> Verdicts:
    """Pieces are what they are cut for: right product, right length, one use each."""
    uses = Counter(piece for _, ids, *_ in _uses(facts) for piece in ids)
    for piece in facts.plan.pieces:
        yield judged(f"piece {piece.id}", uses[piece.id] == 1, f"{uses[piece.id]} parts of the plan are made of it")
    for path, ids, purpose, served, product, length_um in _uses(facts):
        made = [facts.pieces[name] for name in ids]
        yield _right_length(path, made, length_um)
        for piece in made:
            right = (piece.purpose, piece.serves) == (purpose, served) and _right_product(facts, piece, product)
            message = f"piece {piece.id} is {piece.product} for {piece.purpose} {piece.serves}"
            yield judged(path, right, message)


Use = tuple[str, tuple[str, ...], str, str, str, int]


def _uses(facts: Facts) -> Iterator[Use]:
    """Yield path, pieces, purpose, what is served, product ("" for any blank tube) and length of all that is laid."""
    for lateral in facts.plan.laterals:
        for part in lateral.stretches:
            line = part.kind == EMITTER_LINE
            purpose, product = ("lateral", lateral.product) if line else ("bypass", "")
            yield f"lateral {lateral.id}", (part.piece_id,), purpose, lateral.row_id, product, part.length_um
    for header in facts.plan.headers:
        yield f"header {header.id}", header.piece_ids, "header", header.id, header.tube, header.length_um
    for run in facts.plan.mainline:
        yield f"mainline {run.id}", run.piece_ids, "mainline", run.id, run.tube, run.length_um


def _right_length(path: str, made: list[Piece], length_um: int) -> Verdict:
    total = sum(piece.length_um for piece in made)
    return judged(path, total == length_um, f"its pieces have {total} um together, it is {length_um} um long")


def _right_product(facts: Facts, piece: Piece, product: str) -> bool:
    return piece.product == product if product else piece.product in facts.tubes

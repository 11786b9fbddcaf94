"""Give laid-out rolls their ids: which roll is which copy of which stock, which piece is which copy of which demand."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from optimizer.cutting.core import Core, Pattern
from optimizer.cutting.model import Cut, CuttingPlan, CuttingTask, RollUse


@dataclass(frozen=True)
class Laid:
    """A roll with its parts, before ids are given.

    Args:
        stock: Index of the stock class.
        parts: Piece number (within the plan) and units of each part, in cutting order.
    """

    stock: int
    parts: tuple[tuple[int, int], ...]


def laid_singles(core: Core, packing: Iterable[Pattern], unit_factor: int) -> tuple[list[Laid], list[int]]:
    """Rolls without joints, longest piece first, and the length of each piece number.

    Args:
        core: Pieces and single-roll bins.
        packing: One pattern per roll.
        unit_factor: Task units in one core unit [-].
    """
    rolls: list[Laid] = []
    lengths: list[int] = []
    for bin_, counts in sorted(packing, key=lambda p: (p[0], [-n for n in p[1]])):
        parts = []
        for size, count in zip(core.sizes, counts, strict=True):
            for _ in range(count):
                parts.append((len(lengths), size * unit_factor))
                lengths.append(size * unit_factor)
        rolls.append(Laid(bin_, tuple(parts)))
    return rolls, lengths


def assemble(task: CuttingTask, core: Core, rolls: list[Laid], lengths: list[int]) -> CuttingPlan:
    """Name rolls and pieces and add up the goals.

    Args:
        task: What was asked.
        core: Stock classes the rolls refer to.
        rolls: Rolls with parts.
        lengths: Length of each piece number, in task units [-].
    """
    names = _piece_names(task, lengths)
    copies = [_stock_copies(task, core, k) for k in range(len(core.stock))]
    next_part: dict[int, int] = defaultdict(int)
    uses = []
    for roll in rolls:
        cuts = []
        for piece, units in roll.parts:
            cuts.append(Cut(*names[piece], next_part[piece], units))
            next_part[piece] += 1
        stock, copy = copies[roll.stock].pop(0)
        used_um = task.unit_um * sum(units for _, units in roll.parts)
        uses.append(RollUse(stock, copy, tuple(cuts), core.stock[roll.stock].length_um - used_um))
    couplers = sum(parts - 1 for parts in next_part.values())
    rolls_ct = sum(core.stock[roll.stock].price_ct for roll in rolls)
    waste_um = sum(use.leftover_um for use in uses if use.leftover_um < task.usable_um)
    return CuttingPlan(tuple(uses), rolls_ct + couplers * task.coupler_ct, waste_um, couplers)


def _piece_names(task: CuttingTask, lengths: list[int]) -> list[tuple[str, int]]:
    """Hand out demands in order of id to pieces of their length."""
    waiting: dict[int, list[tuple[str, int]]] = defaultdict(list)
    for demand in sorted(task.demands, key=lambda d: d.id, reverse=True):
        waiting[demand.units].extend((demand.id, copy) for copy in reversed(range(demand.count)))
    return [waiting[length].pop() for length in lengths]


def _stock_copies(task: CuttingTask, core: Core, k: int) -> list[tuple[str, int]]:
    """Copies of a stock class in the order they are used: by id; an unlimited stock last, with enough copies."""
    available = {s.id: s.available for s in task.stocks}
    pieces = sum(d.count * (task.joints_per_piece + 1) for d in task.demands)
    limited = [(name, copy) for name in core.stock[k].ids for copy in range(available[name] or 0)]
    unlimited = [name for name in core.stock[k].ids if available[name] is None][:1]
    return limited + [(name, copy) for name in unlimited for copy in range(pieces)]

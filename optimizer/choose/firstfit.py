"""Cutting as it is done with paper and pencil: piece after piece, each from the first roll that still holds it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field

from optimizer.cutting import Cut, CuttingPlan, CuttingTask, RollUse, Stock


@dataclass(eq=False)
class _Roll:
    """A roll or owned piece on the bench."""

    stock: Stock
    copy: int
    left_um: int
    cuts: list[Cut] = field(default_factory=list)


class _Bench:
    """Rolls already begun, in the order they were taken; owned pieces lie ready from the start."""

    def __init__(self, task: CuttingTask, total_units: int) -> None:
        self.task = task
        self.todo_um = total_units * task.unit_um
        self.taken: Counter[str] = Counter()
        self.rolls: list[_Roll] = []
        for stock in task.stocks:
            if stock.owned:
                self.rolls += [_Roll(stock, copy, stock.length_um) for copy in range(stock.available or 0)]

    def _to_be_had(self) -> list[Stock]:
        return [
            stock
            for stock in self.task.stocks
            if not stock.owned and (stock.available is None or self.taken[stock.id] < stock.available)
        ]

    def _bought(self, stock: Stock) -> _Roll:
        roll = _Roll(stock, self.taken[stock.id], stock.length_um)
        self.taken[stock.id] += 1
        self.rolls.append(roll)
        return roll

    def holding(self, need_um: int) -> _Roll | None:
        """Return the first roll that holds a length; buys one if none begun does, None if none can be had.

        The cheapest roll that holds all there is still to cut is bought if there is one, otherwise the cheapest by
        the metre.
        """
        for roll in self.rolls:
            if roll.left_um >= need_um:
                return roll
        fitting = [stock for stock in self._to_be_had() if stock.length_um >= need_um]
        if not fitting:
            return None
        enough = [stock for stock in fitting if stock.length_um >= self.todo_um]
        if enough:
            return self._bought(min(enough, key=lambda stock: (stock.price_ct, stock.length_um)))
        return self._bought(min(fitting, key=lambda stock: (stock.price_ct / stock.length_um, stock.length_um)))

    def longest(self) -> _Roll | None:
        """Return the roll with the most left, bought if a new one holds more."""
        begun = max(self.rolls, key=lambda roll: roll.left_um, default=None)
        new = max(self._to_be_had(), key=lambda stock: stock.length_um, default=None)
        if new is not None and (begun is None or new.length_um > begun.left_um):
            return self._bought(new)
        return begun

    def take(self, roll: _Roll, cut: Cut) -> None:
        """Cut a part off a roll."""
        roll.cuts.append(cut)
        roll.left_um -= cut.units * self.task.unit_um
        self.todo_um -= cut.units * self.task.unit_um

    def plan(self) -> CuttingPlan:
        """Return all cuts made, with their price."""
        used = [roll for roll in self.rolls if roll.cuts]
        uses = tuple(RollUse(roll.stock.id, roll.copy, tuple(roll.cuts), roll.left_um) for roll in used)
        couplers = sum(cut.part > 0 for roll in used for cut in roll.cuts)
        money = sum(roll.stock.price_ct for roll in used) + couplers * self.task.coupler_ct
        waste = sum(roll.left_um for roll in used if roll.left_um < self.task.usable_um)
        return CuttingPlan(uses, money, waste, couplers)


def _cut_piece(bench: _Bench, units: int, copy: int) -> bool:
    """Cut one piece, with couplers where no roll holds it whole; False if it cannot be cut."""
    task, rest, part = bench.task, units, 0
    while part <= task.joints_per_piece:
        roll = bench.holding(rest * task.unit_um)
        if roll is not None:
            bench.take(roll, Cut(f"{units}", copy, part, rest))
            return True
        roll = bench.longest()
        length = min(roll.left_um // task.unit_um, rest - task.least_part_units) if roll is not None else 0
        if roll is None or length < task.least_part_units:
            return False
        bench.take(roll, Cut(f"{units}", copy, part, length))
        rest -= length
        part += 1
    return False


def first_fit(task: CuttingTask, order: Sequence[int]) -> CuttingPlan | None:
    """Cut pieces one after another, each from the first roll that still holds it; None if one cannot be cut.

    Owned pieces come first, then rolls in the order they were begun. A new roll is the cheapest that holds all there
    is still to cut, or else the cheapest by the metre. A piece longer than every roll is joined, longest part first.

    Args:
        task: the stock and the pieces; a demand's id is its length in units.
        order: lengths of the pieces in the order they are cut, in units [-].
    """
    bench = _Bench(task, sum(order))
    copies: Counter[int] = Counter()
    for units in order:
        if not _cut_piece(bench, units, copies[units]):
            return None
        copies[units] += 1
    return bench.plan()

"""The task as bare integers: equal pieces merged, equal stock merged, and the bins pieces can go into.

A bin is one roll, or, with joints, a chain of rolls laid end to end. In any plan with joints the rolls that share a
piece form connected groups; a group of k rolls needs at least k - 1 couplers and holds no more than its rolls do
together. So whole pieces in chains are a relaxation of every plan with joints, whatever the least part and the number
of joints allowed, and they are exact wherever a chain can really be laid (see `chains`).
"""

from __future__ import annotations

from bisect import bisect_left
from collections import Counter, defaultdict
from dataclasses import dataclass
from functools import cached_property
from math import gcd

from optimizer.cutting.model import CuttingTask, Stock

Goals = tuple[int, int, int]  # money [ct], waste [um], couplers
Pattern = tuple[int, tuple[int, ...]]  # index of the bin, how many of each piece


@dataclass(frozen=True)
class StockClass:
    """Stock that differs in nothing but its id."""

    length_um: int
    capacity: int
    price_ct: int
    owned: bool
    available: int | None
    ids: tuple[str, ...]


@dataclass(frozen=True)
class Bin:
    """One roll or one chain of rolls, with its waste as a function of the units used.

    Using `u` units wastes `waste` of the first level `(most, waste)` with `u <= most`; above all levels, where no
    leftover can be usable, it wastes `full_waste_um + unit_um * (capacity - u)`.
    """

    capacity: int
    rolls: tuple[int, ...]
    money_ct: int
    couplers: int
    full_waste_um: int
    levels: tuple[tuple[int, int], ...]

    def waste_um(self, used: int, unit_um: int) -> int:
        """Least waste when `used` units are cut.

        Args:
            used: Units cut [-].
            unit_um: Length of a unit [um].
        """
        fitting = bisect_left(self.levels, (used, -1))
        if fitting < len(self.levels):
            return self.levels[fitting][1]
        return self.full_waste_um + unit_um * (self.capacity - used)


@dataclass(frozen=True)
class Core:
    """A cutting task without names: pieces in falling length, bins, and stock limits."""

    unit_um: int
    usable_um: int
    coupler_ct: int
    sizes: tuple[int, ...]
    counts: tuple[int, ...]
    stock: tuple[StockClass, ...]
    bins: tuple[Bin, ...]

    @cached_property
    def total(self) -> int:
        """Units of all pieces together."""
        return sum(size * count for size, count in zip(self.sizes, self.counts, strict=True))

    @cached_property
    def money_step(self) -> int:
        """Every amount of money is a multiple of this [ct]."""
        return max(1, gcd(*(b.money_ct for b in self.bins)))

    def used(self, pattern: Pattern) -> int:
        """Units a pattern cuts.

        Args:
            pattern: Bin and pieces.
        """
        return sum(size * count for size, count in zip(self.sizes, pattern[1], strict=True))

    def goals(self, patterns: list[Pattern]) -> Goals:
        """Money, waste and couplers of a packing.

        Args:
            patterns: One entry per bin used.
        """
        bins = [self.bins[p[0]] for p in patterns]
        wastes = (b.waste_um(self.used(p), self.unit_um) for b, p in zip(bins, patterns, strict=True))
        return sum(b.money_ct for b in bins), sum(wastes), sum(b.couplers for b in bins)


def stock_classes(task: CuttingTask, unit_um: int) -> tuple[StockClass, ...]:
    """Merge equal stock; owned first, then the cheapest per length.

    Args:
        task: What was asked.
        unit_um: Length of a unit after reduction [um].
    """
    groups: dict[tuple[int, int, bool], list[Stock]] = defaultdict(list)
    for stock in task.stocks:
        if stock.available != 0 and stock.length_um >= unit_um:
            groups[stock.length_um, stock.price_ct, stock.owned].append(stock)
    classes = []
    for (length, price, owned), members in groups.items():
        counts = [m.available for m in members]
        available = None if None in counts else sum(count or 0 for count in counts)
        ids = tuple(sorted(m.id for m in members))
        classes.append(StockClass(length, length // unit_um, price, owned, available, ids))
    return tuple(sorted(classes, key=lambda c: (not c.owned, c.price_ct / c.capacity, -c.length_um, c.price_ct)))


def make_bin(
    core_unit_um: int, usable_um: int, coupler_ct: int, stock: tuple[StockClass, ...], rolls: tuple[int, ...]
) -> Bin:
    """Chain of the given rolls with its waste levels.

    Args:
        core_unit_um: Length of a unit [um].
        usable_um: Least usable leftover [um].
        coupler_ct: Price of a coupler [ct].
        stock: Stock classes.
        rolls: How many rolls of each class [-].
    """
    capacity = sum(n * c.capacity for n, c in zip(rolls, stock, strict=True))
    couplers = sum(rolls) - 1
    money = sum(n * c.price_ct for n, c in zip(rolls, stock, strict=True)) + couplers * coupler_ct
    remainders = [(c.length_um % core_unit_um, n) for c, n in zip(stock, rolls, strict=True) if n]
    full = sum(remainder * n for remainder, n in remainders)
    levels = _waste_levels(core_unit_um, usable_um, capacity, remainders)
    return Bin(capacity, rolls, money, couplers, full, levels)


def _waste_levels(
    unit: int, usable: int, capacity: int, remainders: list[tuple[int, int]]
) -> tuple[tuple[int, int], ...]:
    """Turn rolls of a chain usable one by one, those that save most waste per unit left over first.

    Leaving `spare` units makes a roll's leftover usable and saves its remainder. Rolls of one remainder are alike, so
    best savings for each number of spare units follow from a small knapsack.
    """
    best: dict[int, tuple[int, bool]] = {0: (0, False)}  # spare units -> waste saved, any usable
    for remainder, count in remainders:
        spare = max(0, -((remainder - usable) // unit))
        for _ in range(count):
            for units, (saved, _usable) in sorted(best.items(), reverse=True):
                grown = (saved + remainder, True)
                best[units + spare] = max(best.get(units + spare, (-1, False)), grown)
    full = sum(remainder * count for remainder, count in remainders)
    levels: list[tuple[int, int]] = []
    least = None
    for units, (saved, usable_one) in sorted(best.items()):
        if usable_one and units <= capacity and (least is None or full - saved < least):
            least = full - saved
            levels.append((capacity - units, least))
    return tuple(reversed(levels))


def merged_pieces(task: CuttingTask) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """Lengths in falling order and how many of each are wanted.

    Args:
        task: What was asked.
    """
    counts: Counter[int] = Counter()
    for demand in task.demands:
        counts[demand.units] += demand.count
    sizes = tuple(sorted((size for size in counts if counts[size]), reverse=True))
    return sizes, tuple(counts[size] for size in sizes)


def single_roll_core(task: CuttingTask) -> Core:
    """Core without joints: every bin is one roll; lengths divided by their common divisor.

    Args:
        task: What was asked.
    """
    sizes, counts = merged_pieces(task)
    divisor = gcd(*sizes) if sizes else 1
    unit = task.unit_um * divisor
    stock = stock_classes(task, unit)
    one = [tuple(int(i == j) for j in range(len(stock))) for i in range(len(stock))]
    bins = tuple(make_bin(unit, task.usable_um, task.coupler_ct, stock, rolls) for rolls in one)
    return Core(unit, task.usable_um, task.coupler_ct, tuple(s // divisor for s in sizes), counts, stock, bins)


def whole_unit_core(task: CuttingTask) -> Core:
    """Core in the task's own units, without bins; where there are joints, lengths cannot be divided.

    Args:
        task: What was asked.
    """
    sizes, counts = merged_pieces(task)
    return Core(task.unit_um, task.usable_um, task.coupler_ct, sizes, counts, stock_classes(task, task.unit_um), ())

"""What blank tube of a total length costs at least, and how much of it cannot go back on the shelf."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import product

from optimizer.cutting import Stock


@dataclass(frozen=True)
class TubeBound:
    """No cutting of pieces with this total length does better."""

    money_ct: int
    spent_um: int
    """tube laid and offcuts too short to keep, at that money"""


def _covers(rolls: Sequence[Stock], need_um: int) -> Iterator[tuple[int, int]]:
    """Yield (price, length) of every choice of rolls that holds a length and of which none can be left out."""
    if need_um <= 0:
        yield 0, 0
        return
    *others, last = rolls
    most = [_most(stock, need_um) for stock in others]
    for counts in product(*(range(count + 1) for count in most)):
        length = sum(count * stock.length_um for count, stock in zip(counts, others, strict=True))
        rest = max(-(-(need_um - length) // last.length_um), 0)
        if last.available is None or rest <= last.available:
            price = sum(count * stock.price_ct for count, stock in zip(counts, others, strict=True))
            yield price + rest * last.price_ct, length + rest * last.length_um


def _most(stock: Stock, need_um: int) -> int:
    enough = -(-need_um // stock.length_um)
    return enough if stock.available is None else min(enough, stock.available)


def tube_bound(stocks: Sequence[Stock], usable_um: int, need_um: int) -> TubeBound | None:
    """Return a bound for blank tube of a total length; None if there is not enough.

    Args:
        stocks: rolls and owned pieces; owned ones cost nothing.
        usable_um: shortest leftover worth keeping [um].
        need_um: total length of the pieces, at least 1 [um].
    """
    owned_um = sum(stock.length_um for stock in stocks if stock.owned)
    rolls = [stock for stock in stocks if not stock.owned]
    if not rolls:
        return TubeBound(0, need_um) if owned_um >= need_um else None
    covers = list(_covers(rolls, need_um - owned_um))
    if not covers:
        return None
    least = min(price for price, _ in covers)
    lengths = [length + owned_um for price, length in covers if price == least]
    # If no leftover can be long enough to keep, all that is cut into is spent; owned pieces need not be cut.
    keeps = owned_um > 0 or max(lengths) - need_um >= usable_um
    return TubeBound(least, need_um if keeps else min(lengths))

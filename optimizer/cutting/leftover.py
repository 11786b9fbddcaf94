"""A bound on waste from lengths alone: what the rolls that money allows leave over, if none of it is long enough."""

from __future__ import annotations

from collections.abc import Iterator

from optimizer.cutting.core import Core

_MOST_CHOICES = 20_000  # more choices of rolls than this are not gone through; the bound is then zero


def _lengths(core: Core, index: int, price_left: int, length_um: int) -> Iterator[int]:
    """Yield the total length of every choice of stock within a price."""
    if index == len(core.stock):
        yield length_um
        return
    stock = core.stock[index]
    most = -(-core.total // max(stock.capacity, 1))
    most = most if stock.available is None else min(most, stock.available)
    if stock.price_ct:
        most = min(most, price_left // stock.price_ct)
    for count in range(most, -1, -1):
        yield from _lengths(core, index + 1, price_left - count * stock.price_ct, length_um + count * stock.length_um)


def waste_floor(core: Core, money_ct: int) -> int:
    """Return a waste no plan within some money goes below [um].

    Every choice of rolls leaves over its length less that of the pieces. Less than a usable offcut in all means that
    every bit of it is waste.

    Args:
        core: Pieces and stock.
        money_ct: Most money for rolls [ct].
    """
    need_um = core.total * core.unit_um
    least: int | None = None
    for number, length_um in enumerate(_lengths(core, 0, money_ct, 0)):
        left_um = length_um - need_um
        if number == _MOST_CHOICES or left_um >= core.usable_um:
            return 0
        if left_um >= 0 and (least is None or left_um < least):
            least = left_um
    return least or 0

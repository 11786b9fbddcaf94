"""Quick packings of single rolls: best-fit decreasing, and rolls filled as full as possible one by one."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from optimizer.cutting.core import Core, Pattern
from optimizer.cutting.cover import cheapest_cover_counts


@dataclass
class _Open:
    bin: int
    rest: int
    pieces: list[int]


def quick_packings(core: Core) -> Iterator[list[Pattern]]:
    """Yield complete packings found without search, cheap ones first; each is feasible.

    Args:
        core: Pieces and single-roll bins.
    """
    for counts in purchases(core):
        for packing in (_into_given(core, counts), _filled_given(core, counts)):
            if packing is not None:
                yield packing
    for roll in range(len(core.bins)):
        packing = _filled(core, roll)
        if packing is not None:
            yield packing


def better(core: Core, packings: Iterator[list[Pattern]] | list[list[Pattern]]) -> list[Pattern] | None:
    """Best packing by money, waste and couplers; the first of equals; None without any.

    Args:
        core: Pieces and bins.
        packings: Candidates.
    """
    return min(packings, key=core.goals, default=None)


def purchases(core: Core) -> Iterator[tuple[int, ...]]:
    """Stock to try: the cheapest cover of the total, then covers of slowly growing totals, then everything.

    Args:
        core: Pieces and stock.
    """
    stock = core.stock
    caps, prices = [c.capacity for c in stock], [c.price_ct for c in stock]
    available = [c.available for c in stock]
    need, seen = core.total, set()
    largest = max(caps)
    for _ in range(4):
        counts = cheapest_cover_counts(caps, prices, available, need)
        if counts is None:
            break
        if counts not in seen:
            seen.add(counts)
            yield counts
        held = sum(n * cap for n, cap in zip(counts, caps, strict=True))
        need = max(need + max(1, largest // 4), min(held + 1, need + largest))
    yield tuple(sum(core.counts) if c.available is None else c.available for c in stock)


def _pattern(core: Core, roll: int, pieces: list[int]) -> Pattern:
    counts = [0] * len(core.sizes)
    for piece in pieces:
        counts[piece] += 1
    return roll, tuple(counts)


def _into_given(core: Core, counts: tuple[int, ...]) -> list[Pattern] | None:
    """Best-fit decreasing: into the fullest open roll that still holds the piece, else the next roll in stock order."""
    left = list(counts)
    open_rolls: list[_Open] = []
    for piece, size in enumerate(core.sizes):
        for _ in range(core.counts[piece]):
            fitting = [r for r in open_rolls if r.rest >= size]
            if fitting:
                roll = min(fitting, key=lambda r: r.rest)
            else:
                bin_ = next((b for b, c in enumerate(core.stock) if left[b] and c.capacity >= size), None)
                if bin_ is None:
                    return None
                left[bin_] -= 1
                roll = _Open(bin_, core.stock[bin_].capacity, [])
                open_rolls.append(roll)
            roll.rest -= size
            roll.pieces.append(piece)
    return [_pattern(core, r.bin, r.pieces) for r in open_rolls]


def _filled_given(core: Core, counts: tuple[int, ...]) -> list[Pattern] | None:
    """Fill the given rolls one by one, short rolls first, each as full as possible."""
    left = list(core.counts)
    packing: list[Pattern] = []
    order = sorted((c.capacity, b) for b, c in enumerate(core.stock))
    for _, roll in order:
        for _ in range(counts[roll]):
            if not any(left):
                return packing
            _fill_one(core, roll, left, packing)
    return None if any(left) else packing


def _filled(core: Core, roll: int) -> list[Pattern] | None:
    """Fill rolls of one kind (owned pieces first) as full as possible, while there are any."""
    left = list(core.counts)
    packing: list[Pattern] = []
    order = [b for b, c in enumerate(core.stock) if c.owned and b != roll]
    order.append(roll)
    for bin_ in order:
        available = core.stock[bin_].available
        for _ in range(sum(left) if available is None else available):
            if not any(left) or not _fill_one(core, bin_, left, packing):
                break
    return None if any(left) else packing


def _fill_one(core: Core, roll: int, left: list[int], packing: list[Pattern]) -> bool:
    """Cut the longest piece that fits, then whatever fills the rest best; False if nothing fits."""
    capacity = core.stock[roll].capacity
    longest = next((i for i, size in enumerate(core.sizes) if left[i] and size <= capacity), None)
    if longest is None:
        return False
    left[longest] -= 1
    taken = fullest(core.sizes, left, capacity - core.sizes[longest])
    taken[longest] += 1
    left[longest] += 1
    for i, count in enumerate(taken):
        left[i] -= count
    packing.append((roll, tuple(taken)))
    return True


def fullest(sizes: tuple[int, ...], counts: list[int], capacity: int) -> list[int]:
    """Pieces that fill a capacity best, few long ones rather than many short ones.

    Args:
        sizes: Lengths in falling order [-].
        counts: How many of each there are [-].
        capacity: What may be filled [-].
    """
    mask = (1 << (capacity + 1)) - 1
    reach = [1]  # bit u of reach[i]: u units can be filled by the i shortest kinds of pieces
    for size, count in zip(reversed(sizes), reversed(counts), strict=True):
        bits, left, step = reach[-1], min(count, capacity // size), 1
        while left > 0:
            bits |= (bits << (size * min(step, left))) & mask
            left -= step
            step *= 2
        reach.append(bits)
    units = reach[-1].bit_length() - 1
    taken = []
    for i, size in enumerate(sizes):
        below = reach[len(sizes) - 1 - i]
        copies = min(counts[i], units // size)
        while not below >> (units - copies * size) & 1:
            copies -= 1
        taken.append(copies)
        units -= copies * size
    return taken

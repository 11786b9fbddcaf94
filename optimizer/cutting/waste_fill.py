"""Seeded quick search for packings of given bins with little waste: fill to the end, or leave a usable offcut."""

from __future__ import annotations

import random
from dataclasses import replace

from optimizer.cutting.core import Core, Pattern

_TRIES = 40
_REFILLS = 250


def fill_with_little_waste(core: Core, rolls: list[int], seed: int) -> list[Pattern] | None:
    """Best of many quick fillings of the given bins; None if none holds all pieces.

    Args:
        core: Pieces and bins.
        rolls: Bin of each roll or chain to fill.
        seed: Seed of the order of rolls and pieces.
    """
    rng = random.Random(seed)
    best: list[Pattern] | None = None
    for _ in range(_TRIES):
        packing = _one_try(core, rolls, rng)
        if packing is not None and (best is None or core.goals(packing) < core.goals(best)):
            best = packing
            if core.goals(best)[1] == 0:
                return best
    return None if best is None else _refilled(core, best, rng)


def _refilled(core: Core, packing: list[Pattern], rng: random.Random) -> list[Pattern]:
    """Empty a wasteful bin and a few others, fill them anew, keep what is no worse; repeat."""
    wastes = [_waste(core, p) for p in packing]
    for _ in range(_REFILLS):
        if not any(wastes):
            break
        worst = rng.choice([j for j, waste in enumerate(wastes) if waste])
        others = [j for j in range(len(packing)) if j != worst]
        emptied = sorted([worst, *rng.sample(others, min(len(others), rng.randint(1, 5)))])
        kept = [p for j, p in enumerate(packing) if j not in emptied]
        pieces = tuple(sum(n) for n in zip(*(packing[j][1] for j in emptied), strict=True))
        refill = _one_try(replace(core, counts=pieces), [packing[j][0] for j in emptied], rng)
        if refill is not None and sum(_waste(core, p) for p in refill) <= sum(wastes[j] for j in emptied):
            packing = kept + refill
            wastes = [_waste(core, p) for p in packing]
    return packing


def _waste(core: Core, pattern: Pattern) -> int:
    return core.bins[pattern[0]].waste_um(core.used(pattern), core.unit_um)


def _one_try(core: Core, rolls: list[int], rng: random.Random) -> list[Pattern] | None:
    left = list(core.counts)
    order = rng.sample(rolls, len(rolls))
    spare = sum(core.bins[r].capacity for r in rolls) - core.total
    packing: list[Pattern] = []
    for roll in order:
        if not any(left):
            break
        taken = _fill(core, roll, left, spare, rng)
        used = core.used((roll, taken))
        spare -= core.bins[roll].capacity - used
        if used:
            packing.append((roll, taken))
        left = [n - t for n, t in zip(left, taken, strict=True)]
    return None if any(left) else packing


def _fill(core: Core, roll: int, left: list[int], spare: int, rng: random.Random) -> tuple[int, ...]:
    """Cut one roll: exactly to a usable offcut or its end where pieces allow it and enough spare length is left."""
    capacity = core.bins[roll].capacity
    kinds = [i for i, n in enumerate(left) if n]
    rng.shuffle(kinds)
    if rng.random() < 0.5:
        kinds.sort(reverse=True)  # long pieces are placed last here, so they are taken first below
    reach = _reach(core, kinds, left, capacity)
    units = _best_use(core, roll, reach[-1], spare)
    taken = [0] * len(left)
    for position in reversed(range(len(kinds))):
        i = kinds[position]
        size, below = core.sizes[i], reach[position]
        copies = min(left[i], units // size)
        while not below >> (units - copies * size) & 1:
            copies -= 1
        taken[i] = copies
        units -= copies * size
    return tuple(taken)


def _reach(core: Core, kinds: list[int], left: list[int], capacity: int) -> list[int]:
    """Bit `u` of entry `k` tells whether the first `k` kinds can fill exactly `u` units."""
    mask = (1 << (capacity + 1)) - 1
    reach = [1]
    for i in kinds:
        bits, step = reach[-1], 1
        count = min(left[i], capacity // core.sizes[i])
        while count > 0:
            bits |= (bits << (core.sizes[i] * min(step, count))) & mask
            count -= step
            step *= 2
        reach.append(bits)
    return reach


def _best_use(core: Core, roll: int, reach: int, spare: int) -> int:
    """Units to cut: as many as possible, or as many as leave a usable offcut if that wastes less and length allows."""
    bin_ = core.bins[roll]
    fullest = reach.bit_length() - 1
    best = (bin_.waste_um(fullest, core.unit_um), bin_.capacity - fullest, fullest)
    for most, _ in bin_.levels:
        usable = (reach & ((1 << (most + 1)) - 1)).bit_length() - 1
        if usable > 0 and bin_.capacity - usable <= spare:
            best = min(best, (bin_.waste_um(usable, core.unit_um), bin_.capacity - usable, usable))
    return best[2]

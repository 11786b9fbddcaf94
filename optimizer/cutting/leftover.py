"""A bound on waste from lengths alone: what is left over of the rolls that money allows, spread as well as can be."""

from __future__ import annotations

from optimizer.cutting.chains import roll_choices
from optimizer.cutting.core import Core, make_bin

_MOST_CHOICES = 500  # more choices of rolls than this are not gone through; the bound is then zero


def waste_floor(core: Core, money_ct: int) -> int:
    """Waste no plan within some money goes below, with joints or without [um].

    Whatever the plan, its rolls together leave over their length less that of the pieces. Laid end to end they could
    leave it wherever it wastes least; no real plan does better.

    Args:
        core: Pieces and stock.
        money_ct: Most money for rolls [ct].
    """
    choices = roll_choices(core, money_ct, 0, _MOST_CHOICES, core.total)
    least: int | None = None
    for rolls in choices or ():
        if least == 0:
            break
        if sum(n * c.capacity for n, c in zip(rolls, core.stock, strict=True)) >= core.total:
            chain = make_bin(core.unit_um, core.usable_um, 0, core.stock, rolls)
            waste = chain.waste_um(core.total, core.unit_um)
            least = waste if least is None else min(least, waste)
    return least or 0

"""The shopping list: whole rolls, every fitting, head parts, and spares shown apart."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence

from optimizer.plan import BillLine, RollCuts
from optimizer.problem.case import Case
from optimizer.problem.counts import FittingCount
from optimizer.problem.laying import Laying
from optimizer.scenario.defaults import fitting_price, fitting_size
from optimizer.scenario.schema import FittingKind, Scenario, Tubing
from optimizer.units import Display

_SHELF: dict[FittingKind, str] = {
    "take-off": "take-offs",
    "end closure": "ends",
    "header end": "ends",
    "line coupler": "joints",
    "tube coupler": "joints",
    "bypass adapter": "joints",
    "tee": "joints",
    "elbow": "joints",
    "zone valve": "valves",
    "row shut-off": "valves",
    "tube cover": "tools and covers",
    "stake": "stakes and plugs",
    "plug": "stakes and plugs",
}

SPARE_SHARE = 0.10
"""spares of each fitting, at least two; common practice, no source"""

_NO_SPARES = ("zone valve", "tube cover")


def _size(tubing: Tubing, display: Display) -> str:
    outside = f"outside {display.bore(tubing.outside)}, " if tubing.outside is not None else ""
    return f"{outside}bore {display.bore(tubing.bore)} - measure yours"


def _tube_lines(tubing: Tubing, rolls: Sequence[RollCuts], display: Display) -> list[BillLine]:
    counted = Counter((roll.stock, roll.owned, roll.price_ct) for roll in rolls if roll.product == tubing.name)
    return [
        BillLine(
            "tube",
            tubing.name,
            _size(tubing, display),
            stock,
            count,
            count if owned else 0,
            0,
            "piece" if owned else "roll",
            price,
            0 if owned else count * price,
        )
        for (stock, owned, price), count in sorted(counted.items())
    ]


def spares(kind: str, count: int) -> int:
    """Return how many spares to carry home for a number of fittings."""
    return 0 if kind in _NO_SPARES or not count else max(math.ceil(SPARE_SHARE * count), 2)


def _fitting_line(scenario: Scenario, kind: FittingKind, product: str, count: int, display: Display) -> BillLine:
    products: tuple[Tubing, ...] = (*scenario.emitter_lines, *scenario.blank_tubes)
    tubing = next(item for item in products if item.name == product)
    price, _ = fitting_price(scenario, kind, product)
    size = fitting_size(scenario, kind, product) or _size(tubing, display)
    return BillLine(_SHELF[kind], kind, size, product, count, 0, spares(kind, count), "piece", price, count * price)


def _head_lines(case: Case) -> list[BillLine]:
    lines = [
        BillLine(
            "head parts", part.name, "thread as your tap - check", part.kind, 1, 0, 0, "piece", part.price, part.price
        )
        for part in case.scenario.supply.head_parts
    ]
    regulator = case.regulator
    if regulator is not None:
        owned = int(regulator.owned)
        cost = 0 if owned else regulator.price
        lines.append(
            BillLine(
                "head parts",
                regulator.name,
                "thread as your tap - check",
                "regulator",
                1,
                owned,
                0,
                "piece",
                regulator.price,
                cost,
            )
        )
    return lines


def bill(laying: Laying, rolls: Sequence[RollCuts], fittings: FittingCount, display: Display) -> tuple[BillLine, ...]:
    """Return the shopping list of a garden.

    Args:
        laying: the garden.
        rolls: the rolls that are cut.
        fittings: every fitting with couplers and stakes.
        display: writes sizes.
    """
    scenario = laying.scenario
    used = {roll.product for roll in rolls}
    products: tuple[Tubing, ...] = (*scenario.emitter_lines, *scenario.blank_tubes)
    lines = [line for item in products if item.name in used for line in _tube_lines(item, rolls, display)]
    lines += [_fitting_line(scenario, kind, product, count, display) for kind, product, count in fittings.counts]
    lines += _head_lines(laying.cases[0])
    holes = sum(count for kind, _, count in fittings.counts if kind == "take-off")
    plug = _fitting_line(scenario, "plug", laying.cases[0].tube.name, 0, display)
    lines.append(
        BillLine(
            plug.shelf, plug.item, plug.size, plug.fits, 0, 0, spares("plug", holes), "piece", plug.unit_price_ct, 0
        )
    )
    return tuple(lines)

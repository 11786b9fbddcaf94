"""Kinds of layout a grower with several beds would ask about: each leaves some of the combinations."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from optimizer.choose.manybeds.blocks import Layout
from optimizer.choose.manybeds.combination import Combination
from optimizer.choose.manybeds.garden import Garden
from optimizer.choose.manybeds.opened import Open


@dataclass(frozen=True)
class Kind:
    """A kind of layout.

    Args:
        name: in words.
        products: whether a pattern and a kit belong to it, by their numbers.
        layout: whether a layout of a block does: its pattern, its block and itself.
    """

    name: str
    products: Callable[[int, int], bool]
    layout: Callable[[int, int, Layout], bool]

    def of(self, garden: Garden, some: Open) -> Open | None:
        """Return those of some combinations that belong to it, None if none does."""
        if not self.products(some.pattern, some.kit):
            return None
        blocks = garden.patterns[some.pattern].blocks
        for number, block in enumerate(blocks):
            kept = [each for each in some.layouts[number] if self.layout(some.pattern, number, block.layouts[each])]
            if not kept:
                return None
            some = some.only(number, kept)
        return some

    def holds(self, garden: Garden, item: Combination) -> bool:
        """Say whether a combination belongs to it."""
        return self.of(garden, Open(item.pattern, item.kit, tuple((each,) for each in item.layouts))) is not None


def kinds(garden: Garden) -> Iterator[Kind]:
    """Yield the kinds worth comparing: row direction, header place, shared headers, line, tubes and regulator."""
    yield from _by_direction(garden)
    yield from _by_place(garden)
    if len(garden.patterns) > 1:
        for number, pattern in enumerate(garden.patterns):
            yield _of_products(pattern.name, lambda each, kit, number=number: each == number)  # type: ignore[misc]
    yield from _by_product(garden)


def _of_products(name: str, products: Callable[[int, int], bool]) -> Kind:
    return Kind(name, products, lambda pattern, block, layout: True)


def _of_layouts(name: str, layout: Callable[[int, int, Layout], bool]) -> Kind:
    return Kind(name, lambda pattern, kit: True, layout)


def _by_direction(garden: Garden) -> Iterator[Kind]:
    """Yield one kind for each direction that some bed may have; beds that may not have it keep theirs."""
    of_beds = [[each.name for each in block.choices.directions] for block in garden.patterns[0].blocks]
    names = dict.fromkeys(name for own in of_beds for name in own)
    for name in names if len(names) > 1 else ():

        def turned(pattern: int, number: int, layout: Layout, name: str = name) -> bool:
            block = garden.patterns[pattern].blocks[number]
            own = block.choices.directions[layout.direction].name
            return own == name or not any(name in of_beds[bed] for bed in block.beds)

        yield _of_layouts(f"rows {name}", turned)


def _by_place(garden: Garden) -> Iterator[Kind]:
    def at_ends(layout: Layout) -> bool:
        return len(layout.places) == 1 and math.isinf(layout.places[0].u)

    def between(layout: Layout) -> bool:
        return len(layout.places) == 1 and not math.isinf(layout.places[0].u)

    yield _of_layouts("headers at the row ends", lambda pattern, block, layout: at_ends(layout))
    yield _of_layouts("headers in the middle of the rows", lambda pattern, block, layout: between(layout))
    for count in range(2, garden.scenario.limits.headers_at_most + 1):
        yield _of_layouts(
            f"{count} headers in a bed",
            lambda pattern, block, layout, count=count: len(layout.places) == count,  # type: ignore[misc]
        )


def _by_product(garden: Garden) -> Iterator[Kind]:
    scenario, kits = garden.scenario, garden.kits
    for lines in dict.fromkeys(kit.lines for kit in kits):
        name = " and ".join(dict.fromkeys(scenario.emitter_lines[index].name for index in lines))
        yield _of_products(name, lambda pattern, kit, lines=lines: kits[kit].lines == lines)  # type: ignore[misc]
    for tube, item in enumerate(scenario.blank_tubes):
        yield _of_products(
            f"headers of {item.name}",
            lambda pattern, kit, tube=tube: kits[kit].tube == tube,  # type: ignore[misc]
        )
    for mains in dict.fromkeys(kit.mains for kit in kits):
        name = " and ".join(scenario.blank_tubes[index].name for index in mains)
        yield _of_products(
            f"mainline of {name}",
            lambda pattern, kit, mains=mains: kits[kit].mains == mains,  # type: ignore[misc]
        )
    for number, regulator in enumerate(scenario.supply.regulators):
        yield _of_products(
            regulator.name,
            lambda pattern, kit, number=number: kits[kit].regulator == number,  # type: ignore[misc]
        )

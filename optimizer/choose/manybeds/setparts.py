"""What a set of combinations is made of: what each layout of each block adds, and the emitter lines it is laid with."""

from __future__ import annotations

from collections.abc import Callable
from functools import cached_property

from optimizer.choose.manybeds.garden import Garden
from optimizer.choose.manybeds.linebound import LineBound
from optimizer.choose.manybeds.opened import Open
from optimizer.choose.manybeds.shares import Share
from optimizer.choose.manybeds.web import Way
from optimizer.problem.case import Case
from optimizer.scenario.defaults import fitting_price
from optimizer.scenario.schema import EmitterLine, FittingKind

ShareOf = Callable[[int, int, int, int], Share]
"""what a layout adds, by pattern, kit, block and layout"""

BlockWays = tuple[tuple[Way, ...], ...]
"""ways into each block"""


class SetParts:
    """A set of combinations taken apart."""

    def __init__(self, garden: Garden, some: Open, share: ShareOf) -> None:
        """Take a set apart.

        Args:
            garden: the garden.
            some: the set.
            share: what a layout of a block adds.

        Raises:
            RuledOutError: a layout cannot be laid.
        """
        self.garden, self.some = garden, some
        self.scenario = self.garden.scenario
        self.shares = [
            [share(some.pattern, some.kit, block, layout) for layout in layouts]
            for block, layouts in enumerate(some.layouts)
        ]
        self.cases: list[Case] = [
            self.garden.block(some.pattern, some.kit, block, layouts[0]).case
            for block, layouts in enumerate(some.layouts)
        ]
        self.step_mm = self.cases[0].tube_step_um // 1000

    @cached_property
    def ways(self) -> BlockWays:
        """The ways into each block."""
        return tuple(tuple(dict.fromkeys(way for item in each for way in item.ways)) for each in self.shares)

    def price(self, kind: FittingKind) -> int:
        """Return what a fitting of the mainline costs at least [ct]."""
        return min(fitting_price(self.scenario, kind, tube.name)[0] for tube in self.garden.mains(self.some.kit))

    @cached_property
    def lines(self) -> tuple[LineBound, ...]:
        """What each emitter line costs at least."""
        return tuple(
            LineBound(self.garden.cutter, self.scenario, line, [self.shares[block] for block in blocks])
            for line, blocks in self.laid_with
        )

    @cached_property
    def laid_with(self) -> tuple[tuple[EmitterLine, tuple[int, ...]], ...]:
        """Each emitter line with the blocks it is laid in."""
        blocks: dict[str, list[int]] = {}
        for block, case in enumerate(self.cases):
            blocks.setdefault(case.line.name, []).append(block)
        return tuple((line, tuple(blocks[line.name])) for line in self.scenario.emitter_lines if line.name in blocks)

    @property
    def most(self) -> int | None:
        """Greatest number of zones."""
        return self.scenario.most_zones

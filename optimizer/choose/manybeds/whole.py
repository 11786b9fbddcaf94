"""All combinations of a garden, in sets that can be bounded, without those of which a block cannot work."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field

from optimizer.choose.evaluate import RuledOutError
from optimizer.choose.manybeds.alike import alike_choices
from optimizer.choose.manybeds.bounds import Bounds
from optimizer.choose.manybeds.garden import Garden
from optimizer.choose.manybeds.kinds import Kind
from optimizer.choose.manybeds.opened import Open
from optimizer.choose.reasons import NOT_ALIKE


@dataclass(eq=False)
class Whole:
    """The combinations of every pattern and kit, worked out while they are gone through.

    Args:
        garden: the garden.
        bounds: knows what a block adds.
        kind: leaves some of them; all without it.
        combinations: how many there are, as far as gone through.
        ruled_out: how many fell out for which reason.
    """

    garden: Garden
    bounds: Bounds
    kind: Kind | None = None
    combinations: int = 0
    ruled_out: Counter[str] = field(default_factory=Counter)

    def __iter__(self) -> Iterator[Open]:
        """Yield them pattern by pattern and kit by kit.

        Raises:
            GroundError: the supply stands where tube may not lie.
        """
        for pattern in range(len(self.garden.patterns)):
            for kit in range(len(self.garden.kits)):
                every = self._every(pattern, kit)
                if every is not None:
                    yield from self._worked_out(every)

    def _every(self, pattern: int, kit: int) -> Open | None:
        blocks = self.garden.patterns[pattern].blocks
        every = Open(pattern, kit, tuple(tuple(range(len(block.layouts))) for block in blocks))
        return self.kind.of(self.garden, every) if self.kind is not None else every

    def _worked_out(self, every: Open) -> Iterator[Open]:
        self.combinations += every.size
        alike = list(alike_choices(self.garden, every))
        apart = every.size - sum(some.size for some in alike)
        if apart:
            self.ruled_out[NOT_ALIKE] += apart
        for some in alike:
            working = self._working(some)
            if working is not None:
                yield working

    def _working(self, some: Open) -> Open | None:
        """Return combinations without those of which a block cannot work; these are counted by their reason."""
        for block in range(len(some.layouts)):
            works, others = [], some.size // max(len(some.layouts[block]), 1)
            for layout in some.layouts[block]:
                try:
                    self.bounds.share(some.pattern, some.kit, block, layout)
                    works.append(layout)
                except RuledOutError as error:
                    self.ruled_out[str(error)] += others
            if not works:
                return None
            some = some.only(block, works)
        return some

"""Sets of combinations: every block may still have any of some layouts."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from optimizer.choose.manybeds.combination import Combination


@dataclass(frozen=True)
class Open:
    """Combinations of one kit whose blocks each have one of some layouts, by their numbers."""

    pattern: int
    kit: int
    layouts: tuple[tuple[int, ...], ...]

    @property
    def size(self) -> int:
        """Number of combinations."""
        return math.prod(len(each) for each in self.layouts)

    @property
    def first(self) -> Combination:
        """The first of them in the stated order."""
        return Combination(self.pattern, self.kit, tuple(min(each) for each in self.layouts))

    def only(self, block: int, layouts: Sequence[int]) -> Open:
        """Return those of them in which a block has one of fewer layouts."""
        return replace(self, layouts=(*self.layouts[:block], tuple(layouts), *self.layouts[block + 1 :]))

    def holds(self, item: Combination) -> bool:
        """Say whether a combination is one of them."""
        own = (item.pattern, item.kit) == (self.pattern, self.kit)
        return own and all(layout in each for layout, each in zip(item.layouts, self.layouts, strict=True))

"""One layout of all beds with given products, and what it comes to."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from optimizer.choose.chosen import ProductCut
from optimizer.choose.goals import Goals
from optimizer.problem.laying import Laying

Key = tuple[int, int, tuple[int, ...]]
"""place in the stated order; the lower wins a full tie"""


@dataclass(frozen=True)
class Combination:
    """A layout of all beds and the products it is made of.

    Args:
        pattern: which beds share headers, by its number.
        kit: products, by the number of the kit.
        layouts: layout of each block, by its number.
    """

    pattern: int
    kit: int
    layouts: tuple[int, ...]

    @property
    def key(self) -> Key:
        """Place in the stated order; the lower wins a full tie."""
        return self.pattern, self.kit, self.layouts


class Trees(Enum):
    """How zones get their water."""

    COMMON = "all units on one tree; valves where tube begins to serve one zone alone"
    OWN = "each zone on a tree of its own from the supply"
    FORKED = "each zone on a tree of its own that leaves a common stem"


@dataclass(frozen=True, eq=False)
class Valued:
    """A combination with its best mainline, zones and cuts."""

    combination: Combination
    goals: Goals
    bound: Goals
    trees: Trees
    laying: Laying
    cuts: tuple[ProductCut, ...]

    @property
    def rank(self) -> tuple[Goals, Key]:
        """Better goals first, then the stated order."""
        return self.goals, self.combination.key

"""What one emitter line costs at least for a set of combinations, with the fittings of the blocks it is laid in."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Sequence
from functools import cached_property, reduce

from optimizer.choose.cutter import Cutter
from optimizer.choose.evaluate import RuledOutError
from optimizer.choose.manybeds.shares import Share
from optimizer.choose.reasons import LINE_SHORT
from optimizer.choose.tubebound import TubeBound
from optimizer.cutting import CuttingStatus, CuttingTask
from optimizer.problem.tubing import emitter_line_task
from optimizer.scenario.schema import EmitterLine, Scenario

Sums = tuple[tuple[int, int], ...]
"""(length, money) of some blocks together; none is shorter and as cheap as another [emitter spacings, ct]"""

_NONE: Sums = ((0, 0),)


class LineBound:
    """The bound for one emitter line.

    Longer laterals may need fewer fittings, so length and fittings are summed together; of their sums those are kept
    than which none is shorter and as cheap.
    """

    def __init__(
        self, cutter: Cutter, scenario: Scenario, line: EmitterLine, shares: Sequence[Sequence[Share]]
    ) -> None:
        """Prepare.

        Args:
            cutter: cuts rolls.
            scenario: the scenario.
            line: the emitter line.
            shares: layouts of each block it is laid in.
        """
        self.cutter, self.scenario, self.line, self.shares = cutter, scenario, line, shares
        self.settled = all(item.line_units == each[0].line_units for each in shares for item in each)

    @cached_property
    def least(self) -> TubeBound:
        """The bound; its length spent is waste alone.

        Raises:
            RuledOutError: there is not enough line.
        """
        return TubeBound(self._cheapest(self._before[-1]), self._cut.spent_um if self.settled else 0)

    def extra_ct(self) -> list[list[int]]:
        """Return for each layout of each block how much more the bound is with it than without a choice [ct].

        Raises:
            RuledOutError: there is not enough line.
        """
        least = self.least.money_ct
        found = []
        for block, each in enumerate(self.shares):
            others = _joined(self._before[block], self._behind[block + 1])
            known = {_figures(item): 0 for item in each}
            if len(known) > 1:
                for own in known:
                    known[own] = self._cheapest_if_any(_joined(others, (own,))) - least
            found.append([known[_figures(item)] for item in each])
        return found

    # ------------------------------------------------------------ sums

    @cached_property
    def _before(self) -> list[Sums]:
        """Sums of the blocks before each one, and of all."""
        return _running(self.shares)

    @cached_property
    def _behind(self) -> list[Sums]:
        """Sums of the blocks from each one on, and of none."""
        return _running(self.shares[::-1])[::-1]

    def _cheapest(self, sums: Sums) -> int:
        found = self._cheapest_if_any(sums)
        if found == _NEVER_CT:
            raise RuledOutError(LINE_SHORT)
        return found

    def _cheapest_if_any(self, sums: Sums) -> int:
        if self.settled:
            return self._cut.money_ct + min(money for _, money in sums)
        rolls = ((self.cutter.tube_bound(self._stock, units), money) for units, money in sums)
        return min((bound.money_ct + money for bound, money in rolls if bound is not None), default=_NEVER_CT)

    @cached_property
    def _stock(self) -> CuttingTask:
        return emitter_line_task(self.scenario, self.line, ())

    @cached_property
    def _cut(self) -> TubeBound:
        """The bound for cutting it, where its pieces are the same in all layouts.

        Raises:
            RuledOutError: there is not enough line.
        """
        units = reduce(Counter.__add__, (each[0].line_units for each in self.shares), Counter[int]())
        outcome = self.cutter.cut(emitter_line_task(self.scenario, self.line, units.elements()), 0)
        if outcome.status is CuttingStatus.IMPOSSIBLE:
            raise RuledOutError(LINE_SHORT)
        return TubeBound(outcome.money_bound_ct or 0, outcome.waste_bound_um or 0)


_NEVER_CT = 10**12
"""more than any garden costs: there is not enough line [ct]"""


def _figures(item: Share) -> tuple[int, int]:
    return item.line_length, item.money_ct


def _running(shares: Sequence[Sequence[Share]]) -> list[Sums]:
    found = [_NONE]
    for each in shares:
        found.append(_joined(found[-1], dict.fromkeys(_figures(item) for item in each)))
    return found


def _joined(sums: Sums, others: Iterable[tuple[int, int]]) -> Sums:
    """Return the sums of one of each, without those than which another is shorter and as cheap."""
    others = tuple(others)
    every = sorted({(length + more, money + extra) for length, money in sums for more, extra in others})
    kept, least = [], math.inf
    for length, money in every:
        if money < least:
            kept.append((length, money))
            least = money
    return tuple(kept)

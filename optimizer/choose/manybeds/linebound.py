"""What one emitter line costs at least for a set of combinations, with the fittings of the blocks it is laid in."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from functools import cached_property, reduce
from typing import NamedTuple

from optimizer.choose.cutter import Cutter
from optimizer.choose.evaluate import RuledOutError
from optimizer.choose.manybeds.shares import Pieces, Share
from optimizer.choose.reasons import LINE_SHORT
from optimizer.choose.tubebound import TubeBound
from optimizer.cutting import CuttingStatus, CuttingTask
from optimizer.problem.tubing import emitter_line_task
from optimizer.scenario.schema import EmitterLine, Scenario

Sums = tuple[tuple[int, int], ...]
"""(length, money) of some blocks together; none is shorter and as cheap as another [emitter spacings, ct]"""

_NONE: Sums = ((0, 0),)

MOST_SORTS = 100
"""sorts of pieces up to which each is bounded by itself"""


class Sort(NamedTuple):
    """A sort of pieces: what all else costs at least with it [ct], and the pieces of each block then."""

    cost_ct: int
    blocks: tuple[Pieces, ...]


class ManySortsError(Exception):
    """Blocks can be made of too many sorts of pieces to bound each by itself."""


class LineBound:
    """The bound for one emitter line.

    Longer laterals may need fewer fittings, so length and fittings are summed together; of their sums those are kept
    than which none is shorter and as cheap. Where few sorts of pieces can come together, what each sort costs to cut is
    bounded by itself, the cheapest by length first.
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
        if self.settled:
            return TubeBound(self._cheapest(self._before[-1]), self._cut.spent_um)
        by_length = self._cheapest(self._before[-1])
        try:
            sorts = _sorts(_options(self.shares))
        except ManySortsError:
            return TubeBound(by_length, 0)
        return TubeBound(max(by_length, self._by_pieces(sorts)), 0)

    def _by_pieces(self, sorts: Mapping[Pieces, Sort]) -> int:
        """Return what the cheapest of some sorts of pieces costs at least to cut, with their fittings.

        Raises:
            RuledOutError: there is not enough line for any of them.
        """
        best = self._cheapest_sort(sorts)
        if best is None:
            raise RuledOutError(LINE_SHORT)
        return best[0]

    def _cheapest_sort(self, sorts: Mapping[Pieces, Sort]) -> tuple[int, tuple[Pieces, ...]] | None:
        """Return what the cheapest of some sorts costs at least with all else, and the pieces of each block."""
        plain = ((self._rolls(sum(units * count for units, count in pieces)), pieces) for pieces in sorts)
        waiting = sorted(
            (rolls + sorts[pieces].cost_ct, sorted(pieces)) for rolls, pieces in plain if rolls < _NEVER_CT
        )
        best: tuple[int, tuple[Pieces, ...]] | None = None
        for bound, pieces in waiting:
            if best is not None and bound >= best[0]:
                break
            units = [length for length, count in pieces for _ in range(count)]
            money = self.cutter.least_money(emitter_line_task(self.scenario, self.line, units))
            own = sorts[frozenset(pieces)]
            if money is not None and (best is None or money + own.cost_ct < best[0]):
                best = money + own.cost_ct, own.blocks
        return best

    def best_pieces(self, costs_ct: Sequence[Mapping[Pieces, int]]) -> tuple[Pieces, ...] | None:
        """Return the pieces that each block should be made of, as far as is seen quickly.

        Args:
            costs_ct: for each block the pieces it can be made of and what all else costs then [ct].
        """
        best = self._cheapest_sort(_sorts(costs_ct, keep=MOST_SORTS))
        return best[1] if best is not None else None

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
                    known[own] = max(self._cheapest_if_any(_joined(others, (own,))) - least, 0)
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
        if found >= _NEVER_CT:
            raise RuledOutError(LINE_SHORT)
        return found

    def _cheapest_if_any(self, sums: Sums) -> int:
        if self.settled:
            return self._cut.money_ct + min(money for _, money in sums)
        return min(self._rolls(units) + money for units, money in sums)

    def _rolls(self, units: int) -> int:
        """Return what rolls of a total length cost at least, more than anything where there is not enough [ct]."""
        found = self.cutter.tube_bound(self._stock, units)
        return found.money_ct if found is not None else _NEVER_CT

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


def _options(shares: Sequence[Sequence[Share]]) -> list[dict[Pieces, int]]:
    """Return for each block the pieces it can be made of with the least money of their fittings [ct]."""
    found = []
    for each in shares:
        own: dict[Pieces, int] = {}
        for item in each:
            own[item.pieces] = min(own.get(item.pieces, item.money_ct), item.money_ct)
        found.append(own)
    return found


def _sorts(options: Sequence[Mapping[Pieces, int]], keep: int | None = None) -> dict[Pieces, Sort]:
    """Return the sorts of pieces that blocks can have together, each with its least cost.

    Args:
        options: for each block the pieces it can be made of and their cost [ct].
        keep: how many of the cheapest sorts to go on with; all without it.

    Raises:
        ManySortsError: there are too many and none may be left.
    """
    found = {frozenset[tuple[int, int]](): Sort(0, ())}
    for own in options:
        new: dict[Pieces, Sort] = {}
        for pieces, known in found.items():
            for more, cost in own.items():
                key = frozenset((Counter(dict(pieces)) + Counter(dict(more))).items())
                sort = Sort(known.cost_ct + cost, (*known.blocks, more))
                if key not in new or sort.cost_ct < new[key].cost_ct:
                    new[key] = sort
        if len(new) > MOST_SORTS:
            if keep is None:
                raise ManySortsError
            new = dict(sorted(new.items(), key=lambda item: item[1].cost_ct)[:keep])
        found = new
    return found


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

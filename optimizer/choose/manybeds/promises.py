"""What a set of combinations promises: combinations worth working out first. Bounds owe them nothing."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import chain

from optimizer.choose.evaluate import RuledOutError
from optimizer.choose.manybeds.combination import Combination
from optimizer.choose.manybeds.forks import Entered, entered_together, with_stem
from optimizer.choose.manybeds.gaps import BlockGroups, across_gaps
from optimizer.choose.manybeds.garden import Garden
from optimizer.choose.manybeds.moves import moved
from optimizer.choose.manybeds.opened import Open
from optimizer.choose.manybeds.rough import RoughTrees
from optimizer.choose.manybeds.setparts import BlockWays, SetParts, ShareOf
from optimizer.choose.manybeds.shares import Pieces, Share
from optimizer.choose.manybeds.sizes import metre_price_mct
from optimizer.choose.manybeds.web import Way
from optimizer.choose.manybeds.zonebound import zone_room
from optimizer.choose.reasons import NO_WAY
from optimizer.routes.graph import RoutePrice

MOST_STARTS = 5
"""groups along gaps, of each number of zones, from which blocks are moved"""

FULL = (1.0, 0.7, 0.4, 0.1)
"""how far zones may be filled: from as much as each has if all have the same, to as much as one may have"""

MOST_GROUPS = 2
"""ways to part a garden that are looked at for each number of zones and each filling"""

_ROUNDING = 1e-6

BranchKey = tuple[int, RoutePrice, BlockWays]
"""pattern, price of tube, and ways into some blocks with the price of what lies behind"""


@dataclass(frozen=True)
class Parted:
    """A combination that promises much if its blocks run in given zones.

    Args:
        cost_ct: what it costs if tube and lines cost by the metre [ct].
        laid_mm: blank tube it is laid with, covers over paths counted as tube of their price [mm].
        combination: the combination.
        groups: blocks of each zone.
    """

    cost_ct: int
    laid_mm: int
    combination: Combination
    groups: BlockGroups


class Promises:
    """Finds what sets promise; branches of mainline are worked out once."""

    def __init__(self, garden: Garden, share: ShareOf) -> None:
        """Prepare.

        Args:
            garden: the garden.
            share: what a layout of a block adds.
        """
        self.garden, self.share = garden, share
        self._branches: dict[BranchKey, Entered] = {}

    def best(self, some: Open) -> Combination:
        """Return the combination that is cheapest by the metre, of those whose pieces of line are cheap to cut.

        Args:
            some: what it is among.

        Raises:
            RuledOutError: tube cannot reach a block.
        """
        return self._narrowed(some).promising()

    def groups(self, some: Open) -> list[BlockGroups]:
        """Return ways to part the blocks into few zones whose mainline is roughly the cheapest."""
        return self._narrowed(some).groups()

    def parted(self, some: Open, groups: Sequence[BlockGroups]) -> list[Parted]:
        """Return combinations that promise much if their blocks run in given zones, the cheapest by the metre first.

        Args:
            some: what they are among.
            groups: blocks of each zone.
        """
        narrowed = self._narrowed(some)
        found = (narrowed.parted(each) for each in groups)
        return sorted((each for each in found if each is not None), key=lambda each: each.cost_ct)

    def _narrowed(self, some: Open) -> _SetPromise:
        narrowed = _SetPromise(self.garden, some, self.share, self._branches).narrowed()
        return _SetPromise(self.garden, narrowed, self.share, self._branches)


class _SetPromise(SetParts):
    """What one set promises."""

    def __init__(self, garden: Garden, some: Open, share: ShareOf, branches: dict[BranchKey, Entered]) -> None:
        super().__init__(garden, some, share)
        self.branches = branches

    def promising(self) -> Combination:
        """Return the combination that is cheapest if tube cost by the metre and lines did as well.

        Raises:
            RuledOutError: tube cannot reach a block.
        """
        found = self.garden.ways(self.some.pattern).entered(self._priced, self.garden.price(self.some.kit))
        if found is None:
            raise RuledOutError(NO_WAY)
        return self._entered(found)

    def parted(self, groups: BlockGroups) -> Parted | None:
        """Return the same if the blocks of each zone have mainline of their own behind a common stem; None if none."""
        ways, price = self.garden.ways(self.some.pattern), self.garden.price(self.some.kit)
        if not ways.reaches(self._priced):
            return None
        found = with_stem(ways, [self._together(group) for group in groups], price)
        if found is None:
            return None
        cost_ct = found[0] // 1000 + len(groups) * self.price("zone valve")
        taken = dict(zip(chain.from_iterable(groups), chain.from_iterable(found[1]), strict=True))
        inside_mct = sum(self._inside_mct[block][way] for block, way in taken.items())
        laid_mm = (found[0] - inside_mct) // price.tube_mct_per_mm
        return Parted(cost_ct, laid_mm, self._entered([taken[block] for block in range(len(taken))]), groups)

    def _together(self, group: tuple[int, ...]) -> Entered:
        priced, price = tuple(self._priced[block] for block in group), self.garden.price(self.some.kit)
        key = self.some.pattern, price, priced
        if key not in self.branches:
            self.branches[key] = entered_together(self.garden.ways(self.some.pattern), priced, price)
        return self.branches[key]

    def groups(self) -> list[BlockGroups]:
        """Return groups of blocks whose mainline is roughly the cheapest: as few zones as flow allows, and one more."""
        flows = [min(sum(item.unit_flows_m3_s) for item in each) for each in self.shares]
        room = zone_room(self.cases, self.garden.mains(self.some.kit))
        least = max(math.ceil(sum(flows) / room - _ROUNDING), 2)
        rough = RoughTrees(self.garden.ways(self.some.pattern), self._priced, self.garden.price(self.some.kit))
        found: list[BlockGroups] = []
        for zones in range(least, least + 2 if self.most is None else min(least + 1, self.most) + 1):
            parted = sorted(across_gaps(self.garden.middles(self.some.pattern), zones), key=rough.cost_mct)
            fair = min(sum(flows) / zones, room)
            for part in FULL:
                most = fair + part * (room - fair)
                tried = {moved(rough, start, flows, most) for start in parted[:MOST_STARTS]}.difference(found)
                fitting = [
                    each for each in tried if all(sum(flows[block] for block in group) <= room for group in each)
                ]
                found += sorted(fitting, key=lambda each: (rough.cost_mct(each), each))[:MOST_GROUPS]
        return found

    @cached_property
    def _priced(self) -> BlockWays:
        """The ways into each block with the price of all that lies behind [mct], layout by layout."""
        per_mm = self.garden.price(self.some.kit).tube_mct_per_mm
        return tuple(
            tuple(
                Way(way.portal, way.behind_mct * per_mm + inside)
                for way, inside in zip((way for item, _ in wanted for way in item.ways), each, strict=True)
            )
            for wanted, each in zip(self._wanted, self._inside_mct, strict=True)
        )

    @cached_property
    def _inside_mct(self) -> list[list[int]]:
        """Of each block for every way into it what its layout costs besides tube [mct]."""
        found = []
        for case, wanted in zip(self.cases, self._wanted, strict=True):
            line_mct = metre_price_mct(case.line) * case.line.spacing * 1000.0
            found.append(
                [1000 * item.money_ct + round(item.line_length * line_mct) for item, _ in wanted for _ in item.ways]
            )
        return found

    def narrowed(self) -> Open:
        """Return those of the set whose pieces of emitter line are cheap to cut together, as far as is seen quickly."""
        per_mm = self.garden.price(self.some.kit).tube_mct_per_mm
        some = self.some
        for line, (_, blocks) in zip(self.lines, self.laid_with, strict=True):
            costs: list[dict[Pieces, int]] = []
            for block in blocks:
                own: dict[Pieces, int] = {}
                for item, _ in self._wanted[block]:
                    tube_mct = per_mm * min((way.behind_mct for way in item.ways), default=0)
                    cost = item.money_ct + tube_mct // 1000
                    own[item.pieces] = min(own.get(item.pieces, cost), cost)
                costs.append(own)
            best = line.best_pieces(costs)
            for block, pieces in zip(blocks, best or (), strict=best is not None):
                some = some.only(block, [layout for item, layout in self._wanted[block] if item.pieces == pieces])
        return some

    @cached_property
    def _wanted(self) -> list[list[tuple[Share, int]]]:
        """Of each block the layouts that miss least of the requests."""
        found = []
        for each, layouts in zip(self.shares, self.some.layouts, strict=True):
            least = min(item.missing_ppm for item in each)
            found.append([pair for pair in zip(each, layouts, strict=True) if pair[0].missing_ppm == least])
        return found

    def _entered(self, ways: Sequence[int]) -> Combination:
        """Return the combination whose blocks are entered by some of the priced ways."""
        owners = [[layout for item, layout in wanted for _ in item.ways] for wanted in self._wanted]
        layouts = tuple(mine[way] for mine, way in zip(owners, ways, strict=True))
        return Combination(self.some.pattern, self.some.kit, layouts)

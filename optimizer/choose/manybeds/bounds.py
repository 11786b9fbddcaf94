"""Bounds on whole sets of combinations: every block may still have any of some layouts."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from optimizer.choose.evaluate import RuledOutError, fixed_price
from optimizer.choose.goals import Goals
from optimizer.choose.manybeds.combination import Combination
from optimizer.choose.manybeds.garden import Garden
from optimizer.choose.manybeds.opened import Open
from optimizer.choose.manybeds.promises import Promises
from optimizer.choose.manybeds.setparts import BlockWays, SetParts
from optimizer.choose.manybeds.shares import Share, share
from optimizer.choose.manybeds.value import Low
from optimizer.choose.manybeds.zonebound import least_zones
from optimizer.choose.reasons import NO_WAY, TIMER_FULL, TUBE_SHORT
from optimizer.choose.tubebound import TubeBound
from optimizer.problem.counts import stakes
from optimizer.problem.tubing import pooled_tubes
from optimizer.scenario.schema import BlankTube, FittingKind


@dataclass(frozen=True)
class Bounded:
    """What a set of combinations cannot beat.

    Args:
        low: the bound.
        some: those of the set that may still be worth looking at; None if there are none.
        laid_mm: length of blank tube that none is laid with less of [mm].
        ways: the ways for which that length was worked out.
        promising: one of them that promises much.
        closely: whether length and promise are worked out for this set, or taken over from a larger one.
    """

    low: Low
    some: Open | None
    laid_mm: int = 0
    ways: BlockWays = ()
    promising: Combination | None = None
    closely: bool = False


@dataclass(eq=False)
class Bounds:
    """Bounds sets of combinations."""

    garden: Garden
    _shares: dict[tuple[int, int, int, int], Share] = field(default_factory=dict)
    _laid: dict[tuple[int, BlockWays], int | None] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.promises = Promises(self.garden, self.share)

    def share(self, pattern: int, kit: int, block: int, layout: int) -> Share:
        """Return what a layout of a block adds at least.

        Raises:
            RuledOutError: it cannot be laid, or some rows cannot run.
        """
        key = (pattern, kit, block, layout)
        if key not in self._shares:
            self._shares[key] = share(self.garden.block(*key))
        return self._shares[key]

    def of(self, some: Open, above: Bounded | None, beat: Goals | None) -> Bounded:
        """Return what none of some combinations can beat.

        Args:
            some: the combinations.
            above: bound of a set they are in; None takes a quick look, without regard to the ways over the site.
            beat: what a combination must reach at least to be worth a look.

        Raises:
            RuledOutError: none of them works.
        """
        set_bound = _SetBound(self.garden, some, self.share)
        if above is None:
            return self._worth(set_bound, Bounded(_NOTHING, some), beat)
        if above.some is not some:
            # What was worked out for the larger set holds for its part; a closer look is taken when its turn comes.
            return self._worth(set_bound, replace(above, some=some, closely=False), beat)
        ways = set_bound.ways
        laid_mm = above.laid_mm if ways == above.ways else max(self._laid_mm(some.pattern, ways), above.laid_mm)
        promising = above.promising
        if promising is None or not some.holds(promising):
            promising = self.promises.best(some)
        close = Bounded(above.low, some, laid_mm, ways, promising, closely=True)
        return self._worth(set_bound, close, beat)

    def zones(self, some: Open) -> int:
        """Return how many zones combinations have at least.

        Raises:
            RuledOutError: the timer has fewer outlets.
        """
        return _SetBound(self.garden, some, self.share).zones()

    def money_ct(self, some: Open, laid_mm: int, zones: int) -> int:
        """Return what combinations cost at least if they are laid with so much blank tube and have so many zones [ct].

        Raises:
            RuledOutError: there is not enough tube.
        """
        return _SetBound(self.garden, some, self.share).money_ct(laid_mm, zones)

    def _worth(self, set_bound: _SetBound, known: Bounded, beat: Goals | None) -> Bounded:
        """Return a bound completed, without the layouts that cannot reach what is to beat."""
        own = set_bound.low(known.laid_mm)
        low = own.at_least(known.low)
        if beat is None:
            return replace(known, low=low)
        if low.goals > beat:
            return replace(known, low=low, some=None)
        # What a layout adds is counted on this set's own bound: one taken over may hold some of it already.
        kept = set_bound.worth(own.goals, beat)
        assert known.some is not None
        if kept == known.some.layouts:
            return replace(known, low=low)
        if not all(kept):
            return replace(known, low=low, some=None)
        return replace(known, low=low, some=replace(known.some, layouts=kept), closely=False)

    def _laid_mm(self, pattern: int, ways: BlockWays) -> int:
        """Return what header, bypasses and mainline together are not shorter than [mm].

        Raises:
            RuledOutError: tube cannot reach a block.
        """
        key = pattern, ways
        if key not in self._laid:
            self._laid[key] = self.garden.ways(pattern).least(ways, self.garden.cutter.seconds_left)
        found = self._laid[key]
        if found is None:
            raise RuledOutError(NO_WAY)
        return found


_NOTHING = Low(Goals(0, 0, 0, 0, 0), Goals(0, 0, 0, 0, 0))


class _SetBound(SetParts):
    """The bound of one set of combinations, part by part."""

    def low(self, laid_mm: int) -> Low:
        """Return the bound for at least so much blank tube.

        Raises:
            RuledOutError: nothing of the set works.
        """
        laid_mm = max(laid_mm, self.step_mm * self._sum("tube_units"))
        tube, zones = self._tube(laid_mm), self.zones()
        return Low(self._goals(zones, laid_mm, tube), self._goals(max(zones, 2), laid_mm, tube))

    def money_ct(self, laid_mm: int, zones: int) -> int:
        """Return what any of the set costs at least with at least so much blank tube and so many zones [ct].

        Raises:
            RuledOutError: there is not enough tube.
        """
        return self._goals(zones, laid_mm, self._tube(laid_mm)).money_ct

    def _goals(self, zones: int, laid_mm: int, tube: TubeBound) -> Goals:
        headers, climbs = self._sum("headers"), self._sum("climbs")
        valves = max(zones, headers) if self.scenario.limits.valve_per_bed else zones
        mainline_mm = max(laid_mm - self.step_mm * sum(max(s.tube_units for s in each) for each in self.shares), 0)
        fittings: list[tuple[FittingKind, int]] = [
            ("tee", headers - 1),
            ("zone valve", valves),
            ("elbow", climbs),
            ("stake", stakes(mainline_mm / 1000.0)),
        ]
        money = sum(count * self.price(kind) for kind, count in fittings) + fixed_price(self.cases[0])
        return Goals(
            self._sum("missing_ppm"),
            money + tube.money_ct + sum(line.least.money_ct for line in self.lines),
            tube.spent_um + sum(line.least.spent_um for line in self.lines),
            self._sum("pushed") + headers - 1 + valves + climbs,
            0,
        )

    def _sum(self, name: str) -> int:
        """Return the least sum over all blocks of one figure of their shares."""
        return sum(min(getattr(item, name) for item in each) for each in self.shares)

    # ------------------------------------------------------------ tubing

    def _tube(self, laid_mm: int) -> TubeBound:
        """Return a bound for all blank tube.

        Raises:
            RuledOutError: there is not enough.
        """
        tube, mains = self.cases[0].tube, self.garden.mains(self.some.kit)
        together = self._least_tube([tube, *(main for main in mains if main.name != tube.name)], laid_mm)
        apart = self._mainline_alone(laid_mm) if len(mains) == 1 else self._two_sizes(laid_mm)
        return TubeBound(max(together.money_ct, apart), together.spent_um)

    def _mainline_alone(self, laid_mm: int) -> int:
        """Return what tube costs at least if mainline is all of one product, 0 if headers are of the same [ct]."""
        tube, main = self.cases[0].tube, self.garden.mains(self.some.kit)[0]
        if main.name == tube.name:
            return 0
        longest_mm = self.step_mm * sum(max(item.tube_units for item in each) for each in self.shares)
        headers = self._least_tube([tube], self.step_mm * self._sum("tube_units")).money_ct
        left_mm = laid_mm - longest_mm
        return headers + (self._least_tube([main], left_mm).money_ct if left_mm > 0 else 0)

    def _two_sizes(self, laid_mm: int) -> int:
        """Return what tube costs at least if mainline is of two sizes or more: a roll of another than the headers [ct].

        Raises:
            RuledOutError: there is not enough.
        """
        tube, mains = self.cases[0].tube, self.garden.mains(self.some.kit)
        others = [main for main in mains if main.name != tube.name]
        if any(main.owned for main in others):
            return 0
        rolls = [roll for main in others for roll in main.rolls]
        found = (
            roll.price + self._least_tube([tube, *others], laid_mm - math.ceil(1000 * roll.length)).money_ct
            for roll in rolls
        )
        return min(found, default=0)

    def _least_tube(self, products: Sequence[BlankTube], length_mm: int) -> TubeBound:
        """Return a bound for a length of tube of several products, as if one could stand in for another.

        Raises:
            RuledOutError: there is not enough.
        """
        units = max(-(-length_mm // self.step_mm), 1)
        task = pooled_tubes(self.scenario, products, 1000 * self.step_mm)
        found = self.garden.cutter.tube_bound(task, units)
        if found is None:
            raise RuledOutError(TUBE_SHORT)
        return found

    # ------------------------------------------------------------ zones

    def zones(self) -> int:
        """Return how many zones there are at least.

        Raises:
            RuledOutError: the timer has fewer outlets.
        """
        mains = self.garden.mains(self.some.kit)
        zones = sum(
            least_zones([self.cases[block] for block in blocks], [self.shares[block] for block in blocks], mains)
            for _, blocks in self.laid_with
        )
        if self.most is not None and zones > self.most:
            raise RuledOutError(TIMER_FULL)
        return zones

    # ------------------------------------------------------------ what is worth a look

    def worth(self, low: Goals, beat: Goals) -> tuple[tuple[int, ...], ...]:
        """Return the layouts of each block with which a combination may reach what is to beat.

        Args:
            low: bound of the whole set.
            beat: what is to beat.
        """
        extra = [[0] * len(each) for each in self.shares]
        for line, (_, blocks) in zip(self.lines, self.laid_with, strict=True):
            for block, more in zip(blocks, line.extra_ct(), strict=True):
                extra[block] = more
        kept = []
        for each, layouts, more in zip(self.shares, self.some.layouts, extra, strict=True):
            least = min(item.missing_ppm for item in each)
            reached = (
                (low.missing_ppm + item.missing_ppm - least, low.money_ct + ct)
                for item, ct in zip(each, more, strict=True)
            )
            kept.append(tuple(k for k, found in zip(layouts, reached, strict=True) if found <= beat[:2]))
        return tuple(kept)

"""Best-first search over the combinations of a garden of many beds, with a bound on everything not yet looked at."""

from __future__ import annotations

import heapq
import math
import time
from collections import Counter
from collections.abc import Callable
from copy import copy
from dataclasses import dataclass
from itertools import count

from optimizer.choose.cutter import EFFORTS, Cutter, UnsettledError
from optimizer.choose.evaluate import RuledOutError, open_after_gap
from optimizer.choose.goals import Goals
from optimizer.choose.manybeds.blocks import kits, patterns
from optimizer.choose.manybeds.bounds import Bounded, Bounds
from optimizer.choose.manybeds.combination import Combination, Key, Trees, Valued
from optimizer.choose.manybeds.feeding import TimeUpError
from optimizer.choose.manybeds.gaps import BlockGroups
from optimizer.choose.manybeds.garden import Garden
from optimizer.choose.manybeds.kinds import Kind
from optimizer.choose.manybeds.opened import Open
from optimizer.choose.manybeds.promises import Parted
from optimizer.choose.manybeds.units import MOST_FREE
from optimizer.choose.manybeds.value import Look, Low, OutdoneError, Valuer
from optimizer.choose.manybeds.whole import Whole
from optimizer.choose.search import OUTDONE, Progress, SearchLimits
from optimizer.plan import Status
from optimizer.problem.laying import Laying
from optimizer.scenario.schema import Scenario

MOST_KITS = 8
"""kits of each pattern that are tried before the search sets out"""


SURE = 0.96
"""share of the tube a combination seems to take that it is held to take when others are preferred to it"""


TRIALS = 0.35
"""part of a limited time that goes into trials of zones at most, once there is a plan"""

MOST_AGAIN = 3
"""combinations of each set that are looked at with more care though they seemed outdone at first"""


@dataclass(frozen=True, eq=False)
class GardenResult:
    """What a search found and proved."""

    status: Status
    best: Valued | None
    bound: Goals | None
    """nothing among the combinations is better than this"""
    valued: int
    """combinations worked out to the last cut"""
    combinations: int
    ruled_out: tuple[tuple[str, int], ...]
    repeatable: bool


@dataclass(frozen=True, eq=False)
class Entry:
    """Combinations that wait, with what they cannot beat and how far the work on them has come."""

    low: Low
    some: Open
    bounded: Bounded
    effort: int = 0

    @property
    def rank(self) -> tuple[Goals, Key, int]:
        """Best bound first, then the stated order."""
        return self.low.goals, self.some.first.key, self.effort

    @property
    def promising(self) -> Combination:
        """One of them that promises much."""
        assert self.bounded.promising is not None
        return self.bounded.promising


class GardenSearch:
    """A search that can be asked for more: first the best combination, then the best of a kind."""

    def __init__(
        self,
        scenario: Scenario,
        limits: SearchLimits,
        report: Callable[[Progress], None] | None = None,
    ) -> None:
        """Prepare a search over the combinations of every pattern and kit.

        Args:
            scenario: the scenario.
            limits: how long to search.
            report: told about progress, if given.

        Raises:
            CropOrderError: the wishes about neighbours in a bed contradict each other.
        """
        self.scenario, self.limits, self.report = scenario, limits, report
        self.begun, self.on_trials = time.monotonic(), 0.0
        self.end = None if limits.seconds is None else self.begun + limits.seconds
        self.garden = Garden(scenario, patterns(scenario), tuple(kits(scenario)), Cutter(limits.seed, self.end))
        self.valuer, self.bounds = Valuer(self.garden), Bounds(self.garden)
        self.done: dict[Key, Valued] = {}
        self.groups: dict[tuple[object, ...], list[BlockGroups]] = {}
        """for each pattern and emitter lines the zones that promise most"""
        self.tried: set[tuple[Key, BlockGroups | None, bool]] = set()
        """what was valued in such zones or in any, and whether quickly: no plan came of it, or it is done"""
        self.started = self.stopped = False
        self._start(Whole(self.garden, self.bounds))

    def _start(self, whole: Whole) -> None:
        self.whole = whole
        self.pending = iter(whole)
        self.queue: list[tuple[tuple[Goals, Key, int], int, Entry]] = []
        self.serial = count()
        self.ruled_out: Counter[str] = Counter()
        self.left_open: list[Goals] = []

    def among(self, kind: Kind) -> GardenSearch:
        """Return a search over the combinations of one kind that knows what this one worked out."""
        other = copy(self)
        other.done = {key: item for key, item in self.done.items() if kind.holds(self.garden, item.combination)}
        other.report = None
        other.tried = set()  # outdone by the best of all is not outdone by the best of a kind
        other._start(Whole(self.garden, self.bounds, kind))
        return other

    def _push(self, entry: Entry) -> None:
        heapq.heappush(self.queue, (entry.rank, next(self.serial), entry))

    # ------------------------------------------------------------ searching

    def best(self) -> Valued | None:
        """Return the best combination so far."""
        return min(self.done.values(), key=lambda item: item.rank, default=None)

    def run(self, most: int | None = None) -> GardenResult:
        """Search until nothing left can beat the best, or the limit is reached.

        Args:
            most: greatest number of sets to look at; None for all.

        Raises:
            GroundError: the supply stands where tube may not lie.
        """
        entry: Entry | None = None
        looked_at = 0
        try:
            self._go_through()
            self._look_ahead()
            while not self._ends() and (most is None or looked_at < most):
                looked_at += 1
                # Known before it leaves the queue: whenever an interruption comes, it is in one place or the other.
                entry = self.queue[0][2]
                heapq.heappop(self.queue)
                self._work_on(entry)
                entry = None
                self._tell()
        except KeyboardInterrupt:
            self.stopped = True
            if entry is not None:
                # What was being worked out is open again, so that the bound stays true.
                self._push(entry)
        return self.result()

    def _go_through(self) -> None:
        """Put all combinations into the queue with a first bound."""
        for some in self.pending:
            self._bound(some, None)
            self.stopped |= self.garden.cutter.time_is_up
            if self.stopped:
                return
        self.started = True

    def _look_ahead(self) -> None:
        """Value what each way to part the beds promises with each kit: a plan to hold, whatever becomes of the rest."""
        first: dict[tuple[int, int], Entry] = {}
        for _, _, entry in sorted(self.queue, key=lambda item: item[:2]):
            first.setdefault((entry.some.pattern, entry.some.kit), entry)
        ahead = [found for entry in first.values() if (found := self._closely(entry)) is not None]
        for pattern in range(len(self.garden.patterns)):
            mine = sorted((e for e in ahead if e.some.pattern == pattern), key=lambda entry: entry.rank)
            for entry in mine[:MOST_KITS]:
                if self._worth_a_look(entry.low):
                    self._try_all(entry)

    def _closely(self, entry: Entry) -> Entry | None:
        """Return a set with a closer bound; None if nothing of it works, which its own turn will find."""
        try:
            found = self.bounds.of(entry.some, entry.bounded, None)
        except RuledOutError:
            return None
        return Entry(found.low, entry.some, found)

    def _worth_a_look(self, low: Low) -> bool:
        best = self.best()
        return not self._ends() and (best is None or low.goals <= best.goals)

    def _bound(self, some: Open, above: Entry | None) -> None:
        """Put combinations into the queue with their bound, without those that cannot beat the best."""
        before = above.bounded if above is not None else None
        try:
            found = self.bounds.of(some, before, self._to_beat())
        except RuledOutError as error:
            self.ruled_out[str(error)] += some.size
            return
        if found.some is None:
            self.ruled_out[OUTDONE] += some.size
            return
        self.ruled_out[OUTDONE] += some.size - found.some.size
        self._push(Entry(found.low, found.some, found))

    def _ends(self) -> bool:
        best = self.best()
        if not self.queue or self.stopped:
            return True
        (bound, first, _), _, _ = self.queue[0]
        if best is not None and ((bound, first) > best.rank or _near_enough(best.goals, bound, self.limits.gap)):
            return True
        self.stopped = self.garden.cutter.time_is_up
        return self.stopped

    def _work_on(self, entry: Entry) -> None:
        """Bound a set more closely, value what it promises, then part it; a set of one is settled."""
        if not entry.bounded.closely:
            self._bound(entry.some, entry)
        elif entry.some.size == 1:
            self._settle(entry)
        else:
            self._try_all(entry)
            for layouts in self._halves(entry, block := self._parted(entry)):
                self._bound(entry.some.only(block, layouts), entry)

    def _parted(self, entry: Entry) -> int:
        """Return the block whose layouts differ most in price: deciding it moves the bound most."""
        some = entry.some

        def spread(block: int) -> tuple[int, int]:
            prices = [
                self.bounds.share(some.pattern, some.kit, block, layout).money_ct for layout in some.layouts[block]
            ]
            return max(prices) - min(prices), -block

        return max((block for block in range(len(some.layouts)) if len(some.layouts[block]) > 1), key=spread)

    def _halves(self, entry: Entry, block: int) -> tuple[tuple[int, ...], tuple[int, ...]]:
        """Part the layouts of a block: those made of the same as the one that promises most; then that one alone."""
        some, chosen = entry.some, entry.promising.layouts[block]
        made_of = {
            layout: self.bounds.share(some.pattern, some.kit, block, layout).made_of for layout in some.layouts[block]
        }
        like = tuple(layout for layout in some.layouts[block] if made_of[layout] == made_of[chosen])
        mine = like if len(like) < len(some.layouts[block]) else (chosen,)
        return mine, tuple(layout for layout in some.layouts[block] if layout not in mine)

    def _try(self, combination: Combination, low: Low, groups: BlockGroups | None = None, quick: bool = True) -> bool:
        """Value a combination with little effort, for a plan to hold early, and with more if it is the best so far.

        Returns:
            Whether it works and yet seems outdone, now or before.
        """
        tried = combination.key, groups, quick
        if tried in self.tried or (combination.key in self.done and groups is None):
            return False
        self.tried.add(tried)
        return self._look_at(combination, low, Look(0, groups, quick=quick))

    def _look_at(self, combination: Combination, low: Low, look: Look) -> bool:
        try:
            found = self.valuer.value(combination, look, low, self._to_beat())
        except OutdoneError:
            return True
        except (RuledOutError, UnsettledError, TimeUpError):
            return False  # the sets it is in go on; it is settled when it is alone
        self._keep(found)
        if look.effort or found is not self.best() or found.bound >= found.goals:
            return False
        self._look_at(combination, low, Look(1, _whole_blocks(found.laying), found.trees, quick=True))
        return False

    def _keep(self, found: Valued) -> None:
        known = self.done.get(found.combination.key, found)
        self.done[found.combination.key] = min(found, known, key=lambda item: item.rank)

    def _try_all(self, entry: Entry) -> None:
        """Value what a set promises, in one zone if that may do, and in given zones unless one was found to do."""
        if self.bounds.zones(entry.some) > 1:
            self._try_parted(entry.some, entry.low)
        self._try(entry.promising, entry.low)
        best = self.best()
        if best is None or len(best.laying.zones) > 1:
            self._try_parted(entry.some, entry.low)
        if self.best() is None:
            self._try(entry.promising, entry.low, quick=False)

    def _try_parted(self, some: Open, low: Low) -> None:
        """Value what promises much if beds run in given zones, where there are too many to compare."""
        if len(some.layouts) <= MOST_FREE:
            return
        made = some.pattern, self.garden.kits[some.kit].lines
        if made not in self.groups:
            self.groups[made] = self.bounds.promises.groups(some)
        again, start = MOST_AGAIN, time.monotonic()
        parted = self.bounds.promises.parted(some, self.groups[made]) if self._has_time(0.0) else []
        for each in sorted(parted, key=lambda each: (self._money_ct(some, each, 1.0), each.cost_ct)):
            if not self._has_time(time.monotonic() - start) or not self._may_do(some, each, SURE):
                continue
            outdone = self._try(each.combination, low, each.groups)
            if outdone and again and self._may_do(some, each, 1.0) and self._holds(each):
                # By the tube it should take it does, and trees found with more care may take no more.
                again -= 1
                self._look_at(each.combination, low, Look(1, each.groups, self._trees(each), quick=True))

        self.on_trials += time.monotonic() - start

    def _has_time(self, seconds: float) -> bool:
        """Say whether zones may still be tried: of a time that is limited, bounds must have their part."""
        if self.end is None or self.best() is None:
            return not self.garden.cutter.time_is_up
        return (
            self.on_trials + seconds <= TRIALS * (time.monotonic() - self.begun) and not self.garden.cutter.time_is_up
        )

    def _holds(self, each: Parted) -> bool:
        try:
            return self.valuer.holds(each.combination, each.groups, self._trees(each))
        except TimeUpError:
            return False

    def _trees(self, each: Parted) -> Trees:
        """Return that zones get their water from a stem, if they may."""
        limits = self.scenario.limits
        if limits.valve_per_bed:
            return Trees.COMMON
        may_fork = self.garden.may_fork(each.combination.pattern, len(each.groups)) and limits.valves != "at the tap"
        return Trees.FORKED if may_fork else Trees.OWN

    def _may_do(self, some: Open, each: Parted, share: float) -> bool:
        """Say whether a combination in given zones may beat the best with a share of the tube it seems to take."""
        best = self.best()
        return self._money_ct(some, each, share) <= (best.goals.money_ct if best is not None else math.inf)

    def _money_ct(self, some: Open, each: Parted, share: float) -> float:
        """Return what a combination in given zones may cost with a share of the tube it seems to take [ct]."""
        try:
            return self.bounds.money_ct(some, math.floor(share * each.laid_mm), len(each.groups))
        except RuledOutError:
            return math.inf

    def _settle(self, entry: Entry) -> None:
        """Value the only combination of a set; what is not settled waits for more effort, and then stays open."""
        combination, low = entry.some.first, entry.low
        try:
            found = self.valuer.value(combination, Look(entry.effort), low, self._to_beat())
        except RuledOutError as error:
            self.ruled_out[str(error)] += 1
            return
        except OutdoneError:
            self.ruled_out[OUTDONE] += 1
            return
        except TimeUpError:
            self._push(entry)
            return
        except UnsettledError:
            pass
        else:
            self._keep(found)
            if found.bound >= found.goals:
                return
            low = Low(max(low.goals, found.bound), low.several)
        if entry.effort + 1 < len(EFFORTS):
            self._push(Entry(low, entry.some, entry.bounded, entry.effort + 1))
        else:
            self.left_open.append(low.goals)

    def _to_beat(self) -> Goals | None:
        best = self.best()
        return best.goals if best is not None else None

    def _tell(self) -> None:
        if self.report is not None:
            best = self.best()
            bound = self.queue[0][2].low.goals if self.queue else None
            left = sum(entry.some.size for _, _, entry in self.queue)
            self.report(Progress(self.whole.combinations, left, best.goals if best else None, bound))

    # ------------------------------------------------------------ what is known

    def result(self) -> GardenResult:
        """Return what is known now."""
        best = self.best()
        bounds = [entry.low.goals for _, _, entry in self.queue] + self.left_open
        bounds += [best.goals] if best is not None else []
        # Combinations not yet gone through may be as good as anything.
        bound = min(bounds, default=None) if self.started else Goals(0, 0, 0, 0, 0)
        if best is not None and bound is not None:
            bound = open_after_gap(best.goals, bound)
        ruled_out = self.ruled_out + self.whole.ruled_out
        waiting = sum(entry.some.size for _, _, entry in self.queue)
        if best is not None and waiting:
            ruled_out[OUTDONE] += waiting
        return GardenResult(
            self._status(best, bound),
            best,
            bound,
            len(self.done),
            self.whole.combinations,
            tuple(sorted(ruled_out.items())),
            self.end is None and not self.stopped,
        )

    def _status(self, best: Valued | None, bound: Goals | None) -> Status:
        if best is None:
            return Status.NOTHING_FOUND if self.queue or self.stopped or self.left_open else Status.IMPOSSIBLE
        return Status.PROVEN_BEST if bound is not None and bound >= best.goals else Status.BEST_FOUND


def _whole_blocks(laying: Laying) -> BlockGroups | None:
    """Return the blocks of each zone; None if there is one zone, or a block is in several."""
    zones = [{laying.headers[member.header].block for member in members} for members in laying.zones]
    if len(zones) == 1 or sum(len(zone) for zone in zones) > len(laying.cases):
        return None
    return tuple(tuple(sorted(zone)) for zone in zones)


def _near_enough(goals: Goals, bound: Goals, gap: float) -> bool:
    """Say whether nothing that waits costs so much less that it is worth looking for."""
    return (
        bound.missing_ppm >= goals.missing_ppm
        and bound.money_ct >= math.ceil(goals.money_ct * (1.0 - gap))
        and gap > 0.0
    )

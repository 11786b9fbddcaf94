"""Best-first search over the combinations of a garden of many beds, with a bound on everything not yet looked at."""

from __future__ import annotations

import heapq
import math
import time
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import count

from optimizer.choose.cutter import EFFORTS, Cutter, UnsettledError
from optimizer.choose.evaluate import RuledOutError, open_after_gap
from optimizer.choose.goals import Goals
from optimizer.choose.manybeds.alike import alike_choices
from optimizer.choose.manybeds.blocks import kits, patterns
from optimizer.choose.manybeds.bounds import Bounds, Open
from optimizer.choose.manybeds.combination import Combination, Key, Valued
from optimizer.choose.manybeds.garden import Garden
from optimizer.choose.manybeds.value import Low, OutdoneError, Valuer
from optimizer.choose.reasons import NOT_ALIKE
from optimizer.choose.search import OUTDONE, Progress, SearchLimits
from optimizer.plan import Status
from optimizer.scenario.schema import Scenario


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
    promising: Combination
    effort: int = 0

    @property
    def rank(self) -> tuple[Goals, Key, int]:
        """Best bound first, then the stated order."""
        return self.low.goals, self.some.first.key, self.effort


class GardenSearch:
    """A search that can be asked for more: first the best combination, then the best of a kind."""

    def __init__(
        self, scenario: Scenario, limits: SearchLimits, report: Callable[[Progress], None] | None = None
    ) -> None:
        """Bound the combinations of every pattern and kit.

        Args:
            scenario: the scenario.
            limits: how long to search.
            report: told about progress, if given.

        Raises:
            CropOrderError: the wishes about neighbours in a bed contradict each other.
            GroundError: the supply stands where tube may not lie.
        """
        self.scenario, self.limits, self.report = scenario, limits, report
        self.end = None if limits.seconds is None else time.monotonic() + limits.seconds
        self.garden = Garden(scenario, patterns(scenario), tuple(kits(scenario)), Cutter(limits.seed, self.end))
        self.valuer, self.bounds = Valuer(self.garden), Bounds(self.garden)
        self.queue: list[tuple[tuple[Goals, Key, int], int, Entry]] = []
        self.serial = count()
        self.done: dict[Key, Valued] = {}
        self.ruled_out: Counter[str] = Counter()
        self.left_open: list[Goals] = []
        self.combinations = 0
        self.stopped = False
        for some in self._every():
            self._add(some)

    def _every(self) -> Iterator[Open]:
        """Yield all combinations, pattern by pattern and kit by kit, without those of which a block cannot work."""
        for pattern in range(len(self.garden.patterns)):
            for kit in range(len(self.garden.kits)):
                blocks = self.garden.patterns[pattern].blocks
                every = Open(pattern, kit, tuple(tuple(range(len(block.layouts))) for block in blocks))
                alike = list(alike_choices(self.garden, every))
                if not alike:
                    self.combinations += every.size
                    self.ruled_out[NOT_ALIKE] += every.size
                for some in alike:
                    self.combinations += some.size
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

    def _add(self, some: Open) -> None:
        try:
            found = self.bounds.of(some)
        except RuledOutError as error:
            self.ruled_out[str(error)] += some.size
            return
        self._push(Entry(found.low, some, found.promising))

    def _push(self, entry: Entry) -> None:
        heapq.heappush(self.queue, (entry.rank, next(self.serial), entry))

    # ------------------------------------------------------------ searching

    def best(self) -> Valued | None:
        """Return the best combination so far."""
        return min(self.done.values(), key=lambda item: item.rank, default=None)

    def run(self) -> GardenResult:
        """Search until nothing left can beat the best, or the limit is reached."""
        entry: Entry | None = None
        try:
            while not self._ends():
                entry = heapq.heappop(self.queue)[2]
                self._work_on(entry)
                entry = None
                self._tell()
        except KeyboardInterrupt:
            self.stopped = True
            if entry is not None:
                # What was being worked out is open again, so that the bound stays true.
                self._push(entry)
        return self.result()

    def _ends(self) -> bool:
        best = self.best()
        if not self.queue or self.stopped:
            return True
        (bound, first, _), _, _ = self.queue[0]
        if best is not None and ((bound, first) > best.rank or _near_enough(best.goals, bound, self.limits.gap)):
            return True
        self.stopped = self.end is not None and time.monotonic() > self.end
        return self.stopped

    def _work_on(self, entry: Entry) -> None:
        """Value what a set of combinations promises, then part it; a set of one is settled."""
        if entry.some.size == 1:
            self._settle(entry)
            return
        self._try(entry.promising, entry.low)
        block = self._parted(entry)
        for layouts in self._halves(entry, block):
            some = entry.some.only(block, layouts)
            try:
                found = self.bounds.of(some)
            except RuledOutError as error:
                self.ruled_out[str(error)] += some.size
                continue
            self._push(Entry(found.low.at_least(entry.low), some, found.promising))

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

    def _try(self, combination: Combination, low: Low) -> None:
        """Value a combination with little effort, for a plan to hold early."""
        if combination.key in self.done:
            return
        try:
            self.done[combination.key] = self.valuer.value(combination, 0, low, self._to_beat())
        except (RuledOutError, OutdoneError, UnsettledError):
            return  # the sets it is in go on; it is settled when it is alone

    def _settle(self, entry: Entry) -> None:
        """Value the only combination of a set; what is not settled waits for more effort, and then stays open."""
        combination, low = entry.some.first, entry.low
        try:
            found = self.valuer.value(combination, entry.effort, low, self._to_beat())
        except RuledOutError as error:
            self.ruled_out[str(error)] += 1
            return
        except OutdoneError:
            self.ruled_out[OUTDONE] += 1
            return
        except UnsettledError:
            pass
        else:
            known = self.done.get(combination.key, found)
            self.done[combination.key] = min(found, known, key=lambda item: item.rank)
            if found.bound >= found.goals:
                return
            low = Low(max(low.goals, found.bound), low.several)
        if entry.effort + 1 < len(EFFORTS):
            self._push(Entry(low, entry.some, entry.promising, entry.effort + 1))
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
            self.report(Progress(self.combinations, left, best.goals if best else None, bound))

    # ------------------------------------------------------------ what is known

    def result(self) -> GardenResult:
        """Return what is known now."""
        best = self.best()
        bounds = [entry.low.goals for _, _, entry in self.queue] + self.left_open
        bounds += [best.goals] if best is not None else []
        bound = min(bounds, default=None)
        if best is not None and bound is not None:
            bound = open_after_gap(best.goals, bound)
        ruled_out = Counter(self.ruled_out)
        waiting = sum(entry.some.size for _, _, entry in self.queue)
        if best is not None and waiting:
            ruled_out[OUTDONE] += waiting
        return GardenResult(
            self._status(best, bound),
            best,
            bound,
            len(self.done),
            self.combinations,
            tuple(sorted(ruled_out.items())),
            self.end is None and not self.stopped,
        )

    def _status(self, best: Valued | None, bound: Goals | None) -> Status:
        if best is None:
            return Status.NOTHING_FOUND if self.queue or self.stopped or self.left_open else Status.IMPOSSIBLE
        return Status.PROVEN_BEST if bound is not None and bound >= best.goals else Status.BEST_FOUND


def _near_enough(goals: Goals, bound: Goals, gap: float) -> bool:
    """Say whether nothing that waits costs so much less that it is worth looking for."""
    return (
        bound.missing_ppm >= goals.missing_ppm
        and bound.money_ct >= math.ceil(goals.money_ct * (1.0 - gap))
        and gap > 0.0
    )

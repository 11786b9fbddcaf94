"""Best-first search over the designs of one bed, with a bound on everything not yet looked at."""

from __future__ import annotations

import heapq
import time
from collections import Counter
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass

from optimizer.choose.designs import ChoiceSet, Design
from optimizer.choose.evaluate import EFFORTS, Evaluated, Evaluator, RuledOutError, UnsettledError, open_after_gap
from optimizer.choose.goals import Goals
from optimizer.choose.rulebased import rule_based
from optimizer.plan import Status
from optimizer.problem.case import Case

OUTDONE = "cannot beat the best, by its bound"

FRESH, CLOSELY_BOUNDED = -1, 0
"""how far a design has come: only its plain bound is known, or also the one that counts the zones its water needs"""

_SIDE_BY_SIDE = 64
"""designs whose closer bound is worked out at once"""


@dataclass(frozen=True)
class SearchLimits:
    """How long to search.

    Args:
        seconds: stop after this time with the best found; None to go on to the proof [s].
        seed: seed of every solver run.
        gap: stop once nothing else can cost less by more than this share; 0 to go on to the proof.
    """

    seconds: float | None = None
    seed: int = 1
    gap: float = 0.0


@dataclass(frozen=True)
class Progress:
    """How far a search has come."""

    designs: int
    left: int
    best: Goals | None
    bound: Goals | None


@dataclass(frozen=True, eq=False)
class SearchResult:
    """What a search found and proved."""

    status: Status
    best: Evaluated | None
    bound: Goals | None
    """nothing among the designs is better than this"""
    evaluated: tuple[Evaluated, ...]
    """every design valued exactly, best first"""
    waiting: tuple[tuple[Goals, Design, Case], ...]
    """designs left with the bound that ruled them out, best bound first"""
    designs: int
    ruled_out: tuple[tuple[str, int], ...]
    repeatable: bool


Entry = tuple[Goals, int, int, Design, Case]
"""bound, number of the design, effort to spend next (an index into `EFFORTS`) or FRESH, design, the same worked out"""


class Search:
    """A search that can be asked for more: first the best design, then the best of a kind."""

    def __init__(
        self, choices: ChoiceSet, limits: SearchLimits, report: Callable[[Progress], None] | None = None
    ) -> None:
        """Bound every design.

        Args:
            choices: what to choose among.
            limits: how long to search.
            report: told about progress, if given.
        """
        self.limits, self.report = limits, report
        self.end = None if limits.seconds is None else time.monotonic() + limits.seconds
        self.evaluator = Evaluator(choices, limits.seed, self.end)
        self.queue: list[Entry] = []
        self.done: dict[int, Evaluated] = {}
        self.ruled_out: Counter[str] = Counter()
        self.left_open: list[Goals] = []
        self.designs = 0
        self.stopped = False
        self.current: Entry | None = None
        for design in choices.designs():
            self._bound(design)
        heapq.heapify(self.queue)
        self.first = self._by_rule()

    def _bound(self, design: Design) -> None:
        self.designs += 1
        try:
            case, goals = self.evaluator.bound(design)
        except RuledOutError as error:
            self.ruled_out[str(error)] += 1
            return
        self.queue.append((goals, design.number, FRESH, design, case))

    def _by_rule(self) -> tuple[Evaluated, ...]:
        """Return a layout by rule of thumb for each emitter line: something to hold before a design is valued."""
        found = []
        for line in self.evaluator.choices.lines:
            with suppress(RuledOutError):
                found.append(rule_based(self.evaluator.choices, self.evaluator, line))
        return tuple(found)

    def best(self) -> Evaluated | None:
        """Return the best layout so far: of the designs valued, or those by rule of thumb."""
        return min((*self.done.values(), *self.first), key=_rank, default=None)

    def run(self) -> SearchResult:
        """Search until nothing left can beat the best, or the limit is reached."""
        while True:
            try:
                self._run()
            except KeyboardInterrupt:
                self.stopped = True
                # What was being worked out is open again, so that the bound stays true.
                if self.current is not None and not any(entry is self.current for entry in self.queue):
                    heapq.heappush(self.queue, self.current)
            if not self._best_fails():
                return self.result()

    def _run(self) -> None:
        while self.queue and not self.stopped:
            best = self.best()
            if best is not None and self.queue[0][:2] > (best.goals, best.design.number):
                break
            if self.end is not None and time.monotonic() > self.end:
                self.stopped = True
                break
            if self.queue[0][2] == FRESH:
                self._bound_closely(best.goals if best is not None else None)
                continue
            self.current = self.queue[0]
            heapq.heappop(self.queue)
            self._value(self.current)
            self.current = None

    def _best_fails(self) -> bool:
        """Hold the best layout against its limits emitter by emitter; one that fails goes back to be valued anew."""
        best = self.best()
        if best is None or not self.evaluator.fails(best):
            return False
        self.first = tuple(item for item in self.first if item is not best)
        number = best.design.number
        if self.done.get(number) is best:
            del self.done[number]
            self.queue = [entry for entry in self.queue if entry[1] != number]
            heapq.heapify(self.queue)
            heapq.heappush(self.queue, (best.bound, number, CLOSELY_BOUNDED, best.design, best.case))
        return True

    def _bound_closely(self, best: Goals | None, kind: Callable[[Design], bool] | None = None) -> None:
        """Work out the closer bounds of the fresh designs with the best plain ones."""
        fresh = (entry for entry in self.queue if entry[2] == FRESH and (kind is None or kind(entry[3])))
        hopeful = (entry for entry in fresh if best is None or entry[0] <= best)
        chosen = heapq.nsmallest(_SIDE_BY_SIDE, hopeful, key=lambda entry: entry[:2])
        bounds = self.evaluator.closer_bounds([entry[3:] for entry in chosen])
        numbers = {entry[1] for entry in chosen}
        queue = [entry for entry in self.queue if entry[1] not in numbers]
        out: Counter[str] = Counter()
        for entry, bound in zip(chosen, bounds, strict=True):
            if isinstance(bound, RuledOutError):
                out[str(bound)] += 1
            else:
                queue.append((max(entry[0], bound), entry[1], CLOSELY_BOUNDED, *entry[3:]))
        heapq.heapify(queue)
        # In one step, so that an interruption leaves every design either in the old queue or in the new one.
        self.queue = queue
        self.ruled_out.update(out)

    def _value(self, entry: Entry) -> None:
        _, number, effort, design, case = entry
        try:
            item = self.evaluator.evaluate(design, case, effort)
        except RuledOutError as error:
            self.ruled_out[str(error)] += 1
        except UnsettledError:
            self._again(entry, entry[0])
        else:
            self.done[number] = min(item, self.done.get(number, item), key=_rank)
            if item.bound < item.goals:
                self._again(entry, item.bound)
        if self.report is not None:
            best = self.best()
            bound = self.queue[0][0] if self.queue else None
            self.report(Progress(self.designs, len(self.queue), best.goals if best else None, bound))

    def _again(self, entry: Entry, bound: Goals) -> None:
        """Put a design back that is not settled, for more effort; after the most its bound stays open."""
        _, number, effort, design, case = entry
        if effort + 1 < len(EFFORTS):
            heapq.heappush(self.queue, (bound, number, effort + 1, design, case))
        else:
            self.left_open.append(bound)

    def best_of(self, kind: Callable[[Design], bool]) -> Evaluated | None:
        """Return the best design of a kind, each of them looked at once; None if all fell out or the time is up."""
        while True:
            known = min((item for item in self.done.values() if kind(item.design)), key=_rank, default=None)
            fresh = (i for i, entry in enumerate(self.queue) if entry[2] <= CLOSELY_BOUNDED and kind(entry[3]))
            index = min(fresh, key=lambda i: self.queue[i][:2], default=None)
            if index is None:
                return known
            if known is not None and self.queue[index][0] >= known.goals:
                return known
            if self.stopped or (self.end is not None and time.monotonic() > self.end):
                return known
            if self.queue[index][2] == FRESH:
                self._bound_closely(known.goals if known is not None else None, kind)
                continue
            entry = self.queue.pop(index)
            heapq.heapify(self.queue)
            self._value(entry)

    def result(self) -> SearchResult:
        """Return what is known now."""
        best = self.best()
        waiting = sorted(self.queue, key=lambda entry: entry[:3])
        bounds = [entry[0] for entry in waiting[:1]] + [item.bound for item in self.done.values()] + self.left_open
        bound = min(bounds, default=None)
        if best is not None and bound is not None:
            bound = open_after_gap(best.goals, bound)
        ruled_out = Counter(self.ruled_out)
        fresh = sum(entry[2] <= CLOSELY_BOUNDED for entry in waiting)
        if best is not None and fresh:
            ruled_out[OUTDONE] += fresh
        return SearchResult(
            self._status(best, bound),
            best,
            bound,
            tuple(sorted(self.done.values(), key=_rank)),
            tuple((goals, design, case) for goals, _, _, design, case in waiting),
            self.designs,
            tuple(sorted(ruled_out.items())),
            self.end is None and not self.stopped,
        )

    def _status(self, best: Evaluated | None, bound: Goals | None) -> Status:
        if best is None:
            return Status.NOTHING_FOUND if self.queue or self.stopped or self.left_open else Status.IMPOSSIBLE
        return Status.PROVEN_BEST if bound is not None and bound >= best.goals else Status.BEST_FOUND


def _rank(item: Evaluated) -> tuple[Goals, int]:
    return item.goals, item.design.number

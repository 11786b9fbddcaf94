"""Best-first search over the designs of one bed, with a bound on everything not yet looked at."""

from __future__ import annotations

import heapq
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass

from optimizer.choose.designs import ChoiceSet, Design
from optimizer.choose.evaluate import Evaluated, Evaluator, RuledOutError
from optimizer.choose.goals import Goals
from optimizer.cutting import Limits as CuttingLimits
from optimizer.plan import Status
from optimizer.problem.case import Case

OUTDONE = "cannot beat the best, by its bound"


@dataclass(frozen=True)
class SearchLimits:
    """How long to search.

    Args:
        seconds: stop after this time with the best found; None to go on to the proof [s].
        seed: seed of every solver run.
    """

    seconds: float | None = None
    seed: int = 1


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


class Search:
    """A search that can be asked for more: first the best design, then the best of a kind."""

    def __init__(self, choices: ChoiceSet, limits: SearchLimits, report: Callable[[Progress], None] | None) -> None:
        """Bound every design.

        Args:
            choices: what to choose among.
            limits: how long to search.
            report: told about progress, if given.
        """
        self.evaluator = Evaluator(choices, CuttingLimits(seed=limits.seed, work=3.0))
        self.limits, self.report = limits, report
        self.end = None if limits.seconds is None else time.monotonic() + limits.seconds
        self.queue: list[tuple[Goals, int, Design, Case]] = []
        self.done: dict[int, Evaluated] = {}
        self.ruled_out: Counter[str] = Counter()
        self.designs = 0
        self.stopped = False
        for design in choices.designs():
            self._bound(design)
        heapq.heapify(self.queue)

    def _bound(self, design: Design) -> None:
        self.designs += 1
        try:
            case, goals = self.evaluator.bound(design)
        except RuledOutError as error:
            self.ruled_out[str(error)] += 1
            return
        self.queue.append((goals, design.number, design, case))

    def best(self) -> Evaluated | None:
        """Return the best design valued so far."""
        return min(self.done.values(), key=_rank, default=None)

    def run(self) -> SearchResult:
        """Search until nothing left can beat the best, or the limit is reached."""
        while self.queue and not self.stopped:
            best = self.best()
            if best is not None and self.queue[0][:2] > (best.goals, best.design.number):
                break
            if self.end is not None and time.monotonic() > self.end:
                self.stopped = True
                break
            self._value(heapq.heappop(self.queue))
        return self.result()

    def _value(self, entry: tuple[Goals, int, Design, Case]) -> None:
        _, number, design, case = entry
        try:
            self.done[number] = self.evaluator.evaluate(design, case)
        except RuledOutError as error:
            self.ruled_out[str(error)] += 1
        if self.report is not None:
            best = self.best()
            bound = self.queue[0][0] if self.queue else None
            self.report(Progress(self.designs, len(self.queue), best.goals if best else None, bound))

    def best_of(self, kind: Callable[[Design], bool]) -> Evaluated | tuple[Goals, Design, Case] | None:
        """Return the best design of a kind, valued exactly; its best bound if the time is up; None if all fell out."""
        while True:
            known = min((item for item in self.done.values() if kind(item.design)), key=_rank, default=None)
            index = min(
                (i for i, entry in enumerate(self.queue) if kind(entry[2])),
                key=lambda i: self.queue[i][:2],
                default=None,
            )
            if index is None:
                return known
            if known is not None and self.queue[index][0] >= known.goals:
                return known
            if self.end is not None and time.monotonic() > self.end:
                return known if known is not None else (self.queue[index][0], *self.queue[index][2:])
            entry = self.queue[index]
            self.queue[index] = self.queue[-1]
            self.queue.pop()
            self._value(entry)

    def result(self) -> SearchResult:
        """Return what is known now."""
        best = self.best()
        waiting = sorted(self.queue, key=lambda entry: entry[:2])
        bounds = [entry[0] for entry in waiting[:1]] + [item.bound for item in self.done.values()]
        bound = min(bounds, default=None)
        ruled_out = Counter(self.ruled_out)
        if best is not None and waiting:
            ruled_out[OUTDONE] += len(waiting)
        return SearchResult(
            self._status(best, bound),
            best,
            bound,
            tuple(sorted(self.done.values(), key=_rank)),
            tuple((goals, design, case) for goals, _, design, case in waiting),
            self.designs,
            tuple(sorted(ruled_out.items())),
            self.end is None,
        )

    def _status(self, best: Evaluated | None, bound: Goals | None) -> Status:
        if best is None:
            return Status.NOTHING_FOUND if self.queue or self.stopped else Status.IMPOSSIBLE
        return Status.PROVEN_BEST if bound is not None and bound >= best.goals else Status.BEST_FOUND


def _rank(item: Evaluated) -> tuple[Goals, int]:
    return item.goals, item.design.number

"""How few zones the rows of a design need at least, found for many designs side by side.

More rows on a zone never raise its pressure, so a zone filled until it breaks a limit reaches as far as any zone from
its row can, and filling one after another takes the fewest. The last zone is filled from its far end as well: how near
to the tap it can begin says how far mainline must lead.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import cached_property

from optimizer.choose.judge import Asked, RunFigures, ZoneJudge
from optimizer.choose.runs import group_ends
from optimizer.choose.waterlimits import WaterLimits
from optimizer.hydraulics.takeoffs import TakeOffs
from optimizer.problem.case import Case, Run


@dataclass(frozen=True)
class Fewest:
    """What all splits of one header have in common.

    Args:
        zones: no split has fewer zones; None if a row cannot run at all.
        nearest_last: the last zone begins at this row or behind it.
        farthest_first: the first zone ends at this row or before it.
        why: the limit broken by a row that cannot run.
    """

    zones: int | None
    nearest_last: int
    farthest_first: int
    why: str = ""


@dataclass
class _Reach:
    """The search for the longest run from a fixed end: `low` rows work, more than `high` do not."""

    high: int
    tried: int
    low: int = 0
    step: int = 1

    @property
    def known(self) -> bool:
        return self.low == self.high

    def narrow(self, works: bool, allowed: float) -> None:
        """Take in whether the length tried works, and how many rows of such a flow would be allowed."""
        if works:
            self.low, guess, self.step = self.tried, self.tried + self.step, 2 * self.step
        else:
            # Where flow is not what stops it, halving finds the length.
            halfway = (self.low + self.tried) // 2
            self.high, guess, self.step = self.tried - 1, int(allowed) if allowed < self.tried else halfway, 1
        self.tried = min(max(guess, self.low + 1), max(self.high, 1))


@dataclass
class _Chain:
    """Filling the rows of one header zone by zone, then the last zone from its far end."""

    case: Case
    limits: WaterLimits
    offs: TakeOffs
    header: int
    ends: Sequence[int] = ()
    first: int = 0
    zones: int = 0
    first_zone_end: int = 0
    nearest_last: int = 0
    backward: bool = False
    done: bool = False
    why: str = ""
    reach: _Reach = field(default_factory=lambda: _Reach(1, 1))

    def __post_init__(self) -> None:
        self.ends = group_ends(self.case)
        most = self.ends[0] + 1
        # A guess far beyond what can run takes long to solve, for nothing.
        rated = self.case.line.emitter_flow * float(self.offs.emitters.sum()) / self._rows
        self.reach = _Reach(most, min(most, max(int(1.25 * self._greatest_flow / rated), 1)))

    @cached_property
    def _greatest_flow(self) -> float:
        """Flow no zone may exceed: what the supply gives, and what the tube passes within the velocity limit [m3/s]."""
        return min(self.limits.usable_m3_s, self.limits.velocity_m_s * math.pi * self.case.tube.bore**2 / 4.0)

    @property
    def _rows(self) -> int:
        return len(self.ends)

    @property
    def run(self) -> Run:
        """The run to try next."""
        if self.backward:
            return Run(self.header, self._rows - self.reach.tried, self._rows - 1)
        return Run(self.header, self.first, self.first + self.reach.tried - 1)

    def take(self, figures: RunFigures) -> None:
        """Take in what the run tried does."""
        flow = float(figures.flow_m3_s[0])
        allowed = self.reach.tried * self._greatest_flow / flow if flow > 0.0 else math.inf
        self.reach.narrow(not figures.grows_worse[0], allowed)
        if not self.reach.known:
            return
        if self.reach.high == 0:
            self.done, self.why = True, figures.reasons[0]
        elif self.backward:
            self.done, self.nearest_last = True, self._rows - self.reach.high
        else:
            self._next_zone()

    def _next_zone(self) -> None:
        length = self.reach.high
        if not self.zones:
            self.first_zone_end = self.first + length - 1
        self.zones += 1
        self.first += length
        if self.first < self._rows:
            most = self.ends[self.first] + 1 - self.first
            self.reach = _Reach(most, min(most, length))
        elif self.zones == 1:
            self.done = True
        else:
            self.backward = True
            most = self._rows - self.ends.index(self._rows - 1)
            self.reach = _Reach(most, min(most, length))

    def found(self) -> Fewest:
        """Return what was found."""
        return Fewest(None if self.why else self.zones, self.nearest_last, self.first_zone_end, self.why)


def fewest_zones(judge: ZoneJudge, asked: Sequence[tuple[Case, WaterLimits]]) -> Iterator[tuple[Fewest, ...]]:
    """Yield for each design what all splits of each of its headers have in common.

    Args:
        judge: judges runs.
        asked: designs of one scenario, each with what its zones must hold.
    """
    chains = [
        [_Chain(case, limits, judge.take_offs(case, header), header) for header in range(len(case.layout.headers))]
        for case, limits in asked
    ]
    while going := [chain for group in chains for chain in group if not chain.done]:
        runs = [Asked(chain.case, chain.limits, chain.offs, chain.header, (chain.run,)) for chain in going]
        for chain, figures in zip(going, judge.judge_all(runs), strict=True):
            chain.take(figures)
    yield from (tuple(chain.found() for chain in group) for group in chains)

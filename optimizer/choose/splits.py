"""All ways to split the rows of a design into zones, walked best bound first with valid bounds.

The rows of all headers stand in one list of places; a zone is a run of places on one header. Fittings and lengths of
tube add up over the runs of a split; the price of tube does not, because it is cut from whole rolls, so its bound is
the price of the cheapest rolls that hold the length. What the places still open add at best is kept as the few sums
none of which is better in everything than another.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property, reduce
from heapq import heappop, heappush
from itertools import count
from typing import NamedTuple

from optimizer.choose.fewest import Fewest
from optimizer.choose.leastsplit import fewest_by_reach, least_split
from optimizer.choose.runs import RunTable, Split
from optimizer.choose.tubebound import TubeBound
from optimizer.cutting import CuttingOutcome, CuttingStatus
from optimizer.geometry import bends
from optimizer.problem.bill import tube_fittings
from optimizer.problem.case import Case, Run
from optimizer.problem.counts import (
    SHARP_BEND_DEG,
    FittingCount,
    approach_elbows,
    gathered,
    joining_fittings,
    run_fittings,
)
from optimizer.problem.split import split_laying
from optimizer.problem.tubing import TubePiece, bypass_pieces, header_pieces, mainline_pieces

Cutter = Callable[[tuple[int, ...]], CuttingOutcome]
Bound = Callable[[int], TubeBound | None]


class SplitGoals(NamedTuple):
    """What depends on the split and the blank tube, first to last."""

    money_ct: int
    waste_um: int
    """blank tube laid, and its offcuts too short to keep"""
    fittings: int


class Parts(NamedTuple):
    """What adds up over runs."""

    money_ct: int
    fittings: int
    units: int
    """length of tube of header and mainline beside it in cutting units"""
    mainline: int
    """length of mainline in it"""

    def plus(self, other: Parts) -> Parts:
        """Return the sum."""
        return Parts(
            self.money_ct + other.money_ct,
            self.fittings + other.fittings,
            self.units + other.units,
            self.mainline + other.mainline,
        )

    def least(self, other: Parts) -> Parts:
        """Return the smaller of each."""
        return Parts(*map(min, self, other))


NOTHING = Parts(0, 0, 0, 0)
Rest = tuple[Parts, ...]

MOST_SUMS = 24
"""sums kept for the places from one on; more are merged into fewer that bound them"""


def undominated(sums: Iterable[Parts]) -> Rest:
    """Return the sums than which no other is at most as large in everything, sorted; merged if there are too many."""
    kept: list[Parts] = []
    for item in sorted(set(sums)):
        if not any(f <= item.fittings and u <= item.units and m <= item.mainline for _, f, u, m in kept):
            kept.append(item)
    while len(kept) > MOST_SUMS:
        kept = [reduce(Parts.least, kept[index : index + 2]) for index in range(0, len(kept), 2)]
    return tuple(kept)


@dataclass
class Walk:
    """One pass over the splits: which runs it may use, and how much work it did and may do."""

    most_nodes: int
    allowed: Callable[[Run], bool] | None = None
    nodes: int = 0

    @property
    def spent(self) -> bool:
        """Whether the pass ended before it saw everything."""
        return self.nodes >= self.most_nodes


class Splits:
    """The splits of one design."""

    def __init__(self, table: RunTable, cut: Cutter, tube_bound: Bound) -> None:
        """Prepare.

        Args:
            table: which runs may be zones.
            cut: exact cutting of blank tube for sorted piece lengths in cutting units.
            tube_bound: bound for a total length in cutting units, None if there is not enough.
        """
        self.table = table
        self.case: Case = table.case
        self.rows = self.case.row_count
        self.headers = self.case.layout.headers
        self.places = self.rows * len(self.headers)
        self.cut, self.tube_bound = cut, tube_bound
        self.bypasses = bypass_pieces(self.case)
        self.unsettled = False  # whether a cutting was valued whose best is not proven
        self._parts: dict[Run, Parts] = {}
        self._joining: dict[tuple[int, int], tuple[int, int]] = {}
        self._layers: list[list[Rest]] = [[*([()] * self.places), (NOTHING,)]]

    # ------------------------------------------------------------ what adds up

    def run(self, start: int, end: int) -> Run:
        """Return the run between two places."""
        header, first = divmod(start, self.rows)
        return Run(header, first, end - header * self.rows)

    def reach(self, start: int) -> int:
        """Return the last place a zone starting at a place may reach."""
        header, first = divmod(start, self.rows)
        return header * self.rows + self.table.last[header][first]

    def parts(self, run: Run) -> Parts:
        """Return what a run adds to any split it is in."""
        if run not in self._parts:
            fittings = run_fittings(self.case, run)
            header = sum(piece.units for piece in self._header(run))
            shares = list(mainline_shares(self.case, run))
            mainline = sum(units for units, _ in shares)
            elbows = gathered([("elbow", self.case.tube.name, sum(turns for _, turns in shares))])
            money = fittings.cost_ct(self.case.scenario) + elbows.cost_ct(self.case.scenario)
            self._parts[run] = Parts(money, fittings.pushed + elbows.pushed, header + mainline, mainline)
        return self._parts[run]

    def _header(self, run: Run) -> tuple[TubePiece, ...]:
        return header_pieces(self.case, run, self.headers[run.header].inlet(run))

    def rest(self, zones: int, start: int) -> Rest:
        """Return the best sums for the places from a start on in exactly so many zones; none if impossible."""
        while len(self._layers) <= zones:
            before = self._layers[-1]
            self._layers.append([*(self._best_sums(place, before) for place in range(self.places)), ()])
        return self._layers[zones][start]

    def _best_sums(self, start: int, after: Sequence[Rest]) -> Rest:
        found: list[Parts] = []
        for end in range(start, self.reach(start) + 1):
            run = self.run(start, end)
            if after[end + 1] and self.table.may(run):
                own = self.parts(run)
                found += (own.plus(tail) for tail in after[end + 1])
        return undominated(found)

    # ------------------------------------------------------------ bounds

    @cached_property
    def _approach_units(self) -> int:
        """Length of the ways to the headers."""
        return sum(self.case.tube_units(line.approach.length_um) for line in self.headers)

    @cached_property
    def _fixed_units(self) -> int:
        """Length of tube every split needs: the ways to the headers and the bypasses."""
        return self._approach_units + sum(piece.units for piece in self.bypasses)

    def _joined(self, zones: int, mainline: int) -> tuple[int, int]:
        """Return price and number of the fittings that join so many zones by mainline without covers."""
        if (zones, mainline) not in self._joining:
            length_m = (mainline + self._approach_units) * self.case.tube_step_um / 1e6
            joining = joining_fittings(self.case, zones, 0, length_m, approach_elbows(self.case))
            self._joining[zones, mainline] = joining.cost_ct(self.case.scenario), joining.pushed
        return self._joining[zones, mainline]

    def goals_of(self, total: Parts, zones: int) -> SplitGoals | None:
        """Return what splits with these sums reach at best; None if there is not enough tube."""
        tube = self.tube_bound(total.units + self._fixed_units)
        if tube is None:
            return None
        money_ct, pushed = self._joined(zones, total.mainline)
        return SplitGoals(total.money_ct + tube.money_ct + money_ct, tube.spent_um, total.fittings + pushed)

    def bound(self, done: Parts, done_zones: int, zones_left: int, start: int) -> SplitGoals | None:
        """Return a bound on all splits that go on from a place with so many zones more; None if there are none."""
        zones = done_zones + zones_left
        found = (self.goals_of(done.plus(tail), zones) for tail in self.rest(zones_left, start))
        return min((goals for goals in found if goals is not None), default=None)

    def hopeless_from(self, zones: int, best: SplitGoals) -> bool:
        """Say whether no split into so many zones or more can be better than the best."""
        for number in range(zones, self.places + 1):
            if self._least(number, or_more=True) > best:
                return True
            if self._least(number, or_more=False) <= best:
                return False
        return True

    def _least(self, zones: int, or_more: bool) -> tuple[float, int, int]:
        """Return what no split into so many zones, or more, can beat; endless money where there is not enough tube."""
        least = least_split(self.case, self._fewest, zones, or_more)
        tube = self.tube_bound(least.units)
        return (math.inf, 0, 0) if tube is None else (least.money_ct + tube.money_ct, tube.spent_um, least.pushed)

    @cached_property
    def _fewest(self) -> tuple[Fewest, ...]:
        return tuple(fewest_by_reach(reach) for reach in self.table.last)

    # ------------------------------------------------------------ one split exactly

    def pieces(self, split: Split) -> tuple[TubePiece, ...]:
        """Return all pieces of blank tube of a split."""
        found = [piece for run in split for piece in self._header(run)]
        for header in range(len(self.headers)):
            found += mainline_pieces(self.case, [run for run in split if run.header == header])
        return (*found, *self.bypasses)

    def fittings(self, split: Split) -> FittingCount:
        """Return valves, inlets, header ends, tees, elbows, covers and stakes of a split, without couplers."""
        return tube_fittings(split_laying(self.case, split))

    def cut_tube(self, split: Split) -> CuttingOutcome:
        """Cut the blank tube of a split."""
        return self.cut(tuple(sorted(piece.units for piece in self.pieces(split))))

    def at_best(self, split: Split) -> SplitGoals | None:
        """Return what a split reaches if its tube could be cut without loss; None if there is not enough tube."""
        pieces = self.pieces(split)
        tube = self.tube_bound(sum(piece.units for piece in pieces))
        if tube is None:
            return None
        fittings = self.fittings(split)
        return SplitGoals(fittings.cost_ct(self.case.scenario) + tube.money_ct, tube.spent_um, fittings.pushed)

    def value(self, split: Split) -> SplitGoals | None:
        """Return money, waste and fittings of a split with its tube cut; None if the tube cannot be cut."""
        outcome = self.cut_tube(split)
        self.unsettled |= outcome.status not in (CuttingStatus.PROVEN_BEST, CuttingStatus.IMPOSSIBLE)
        if outcome.plan is None:
            return None
        pieces = self.pieces(split)
        laid_um = self.case.tube_step_um * sum(piece.units for piece in pieces)
        fittings = self.fittings(split)
        money = fittings.cost_ct(self.case.scenario) + outcome.plan.money_ct
        return SplitGoals(money, laid_um + outcome.plan.waste_um, fittings.pushed + outcome.plan.couplers)

    # ------------------------------------------------------------ walking

    def walk(self, zones: int, pass_: Walk, worth: Callable[[SplitGoals], bool]) -> Iterator[Split]:
        """Yield the splits into so many zones whose bound is worth a look, the best bound first.

        Of equal bounds the one that has come farthest goes on, with the longest run first.
        """
        turn = count()
        queue: list[tuple[SplitGoals, int, int, Split, Parts]] = []
        first = self.bound(NOTHING, 0, zones, 0)
        if first is not None:
            queue.append((first, 0, next(turn), (), NOTHING))
        while queue and not pass_.spent:
            bound, behind, _, chosen, done = heappop(queue)
            if not worth(bound):
                return
            if -behind == self.places:
                yield chosen
                continue
            pass_.nodes += 1
            for grown, bound, end, so_far in self._grown(zones, pass_, chosen, done, -behind):
                if worth(bound):
                    heappush(queue, (bound, -end - 1, next(turn), grown, so_far))

    def _grown(
        self, zones: int, pass_: Walk, chosen: Split, done: Parts, start: int
    ) -> Iterator[tuple[Split, SplitGoals, int, Parts]]:
        """Yield a split with each zone that may come next, its bound, the zone's last place and the sums so far."""
        left = zones - len(chosen) - 1
        for end in range(self.reach(start), start - 1, -1):
            run = self.run(start, end)
            if left < 0 or not self.rest(left, end + 1) or not self._open(run, pass_):
                continue
            so_far = done.plus(self.parts(run))
            bound = self.bound(so_far, len(chosen) + 1, left, end + 1)
            if bound is not None:
                yield (*chosen, run), bound, end, so_far

    def _open(self, run: Run, pass_: Walk) -> bool:
        return self.table.may(run) and (pass_.allowed is None or pass_.allowed(run))


def mainline_shares(case: Case, run: Run) -> Iterator[tuple[int, int]]:
    """Yield length in cutting units and sharp turns of each mainline beside its header that a run answers for.

    Zones beyond the vertex at which the mainline arrives are fed at their nearest end. So where a run ends decides
    where the next one farther out is fed, and the stretch to there depends on the nearer run alone.
    """
    line = case.layout.headers[run.header]
    start, inlet = line.approach.vertex, line.inlet(run)
    first, last = line.vertices(run)
    onward = [last + 1] if last >= start and run.last + 1 < case.row_count else []
    onward += [first - 1] if first <= start and run.first > 0 else []
    for end in onward:
        turns = len(bends(line.between(inlet, end), SHARP_BEND_DEG))
        yield case.tube_units(line.span_um(inlet, end)), turns

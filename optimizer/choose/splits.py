"""All ways to split the rows of a design into zones, walked depth first with valid bounds.

The rows of all headers stand in one list of places; a zone is a run of places on one header. Fittings add up over
the runs of a split; tube does not, because it is cut from whole rolls, so its bound is the price of the cheapest
rolls that hold the least length still possible.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

from optimizer.choose.runs import RunTable, Split
from optimizer.choose.tubebound import TubeBound
from optimizer.cutting import CuttingOutcome, CuttingStatus
from optimizer.problem.case import Case, Run, with_tails
from optimizer.problem.counts import FittingCount, added, joining_fittings, run_fittings
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
    """length of header tube in cutting units"""

    def plus(self, other: Parts) -> Parts:
        """Return the sum."""
        return Parts(self.money_ct + other.money_ct, self.fittings + other.fittings, self.units + other.units)

    def least(self, other: Parts) -> Parts:
        """Return the smaller of each."""
        return Parts(
            min(self.money_ct, other.money_ct), min(self.fittings, other.fittings), min(self.units, other.units)
        )


NOTHING = Parts(0, 0, 0)


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
        start: list[Parts | None] = [None] * self.places
        self._layers: list[list[Parts | None]] = [[*start, NOTHING]]

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
            pieces = header_pieces(self.case, run)
            units = sum(piece.units for piece in pieces)
            self._parts[run] = Parts(fittings.cost_ct(self.case.scenario), fittings.pushed, units)
        return self._parts[run]

    def rest(self, zones: int, start: int) -> Parts | None:
        """Return the least of each part for the places from a start on in exactly so many zones; None if impossible."""
        while len(self._layers) <= zones:
            before = self._layers[-1]
            self._layers.append([*(self._least(place, before) for place in range(self.places)), None])
        return self._layers[zones][start]

    def _least(self, start: int, after: Sequence[Parts | None]) -> Parts | None:
        best: Parts | None = None
        for end in range(start, self.reach(start) + 1):
            tail = after[end + 1]
            run = self.run(start, end)
            if tail is not None and self.table.may(run):
                total = self.parts(run).plus(tail)
                best = total if best is None else best.least(total)
        return best

    # ------------------------------------------------------------ bounds

    @cached_property
    def _fixed_units(self) -> int:
        """Length of tube every split needs: the ways to the headers and the bypasses."""
        approaches = sum(self.case.tube_units(line.approach.length_um) for line in self.headers)
        return approaches + sum(piece.units for piece in self.bypasses)

    def bound(self, done: Parts, done_zones: int, zones_left: int, start: int) -> SplitGoals | None:
        """Return a bound on all splits that go on from a place with so many zones more; None if there are none."""
        rest = self.rest(zones_left, start)
        if rest is None:
            return None
        total = done.plus(rest)
        tube = self.tube_bound(total.units + self._fixed_units)
        if tube is None:
            return None
        joining = joining_fittings(self.case, done_zones + zones_left, 0, 0.0)
        return SplitGoals(
            total.money_ct + tube.money_ct + joining.cost_ct(self.case.scenario),
            tube.spent_um,
            total.fittings + joining.pushed,
        )

    def hopeless_from(self, zones: int, best: SplitGoals) -> bool:
        """Say whether no split into so many zones or more can be better than the best."""
        every = [self.parts(self.run(place, place)) for place in range(self.places)]
        tube = self.tube_bound(self._fixed_units)
        if tube is None:
            return True
        joining = joining_fittings(self.case, zones, 0, 0.0)
        money = zones * min(part.money_ct for part in every) + tube.money_ct + joining.cost_ct(self.case.scenario)
        fittings = zones * min(part.fittings for part in every) + joining.pushed
        return SplitGoals(money, tube.spent_um, fittings) > best

    # ------------------------------------------------------------ one split exactly

    def pieces(self, split: Split) -> tuple[TubePiece, ...]:
        """Return all pieces of blank tube of a split."""
        found = [piece for run in split for piece in header_pieces(self.case, run)]
        for header in range(len(self.headers)):
            found += mainline_pieces(self.case, [run for run in split if run.header == header])
        return (*found, *self.bypasses)

    def fittings(self, split: Split, pieces: Sequence[TubePiece]) -> FittingCount:
        """Return valves, inlets, header ends, tees, covers and stakes of a split, without couplers."""
        mainline_um = self.case.tube_step_um * sum(piece.units for piece in pieces if piece.purpose == "mainline")
        joining = joining_fittings(self.case, len(split), len(crossed(self.case, split)), mainline_um / 1e6)
        return added(joining, *(run_fittings(self.case, run) for run in split))

    def cut_tube(self, split: Split) -> CuttingOutcome:
        """Cut the blank tube of a split."""
        return self.cut(tuple(sorted(piece.units for piece in self.pieces(split))))

    def at_best(self, split: Split) -> SplitGoals | None:
        """Return what a split reaches if its tube could be cut without loss; None if there is not enough tube."""
        pieces = self.pieces(split)
        tube = self.tube_bound(sum(piece.units for piece in pieces))
        if tube is None:
            return None
        fittings = self.fittings(split, pieces)
        return SplitGoals(fittings.cost_ct(self.case.scenario) + tube.money_ct, tube.spent_um, fittings.pushed)

    def value(self, split: Split) -> SplitGoals | None:
        """Return money, waste and fittings of a split with its tube cut; None if the tube cannot be cut."""
        outcome = self.cut_tube(split)
        self.unsettled |= outcome.status not in (CuttingStatus.PROVEN_BEST, CuttingStatus.IMPOSSIBLE)
        if outcome.plan is None:
            return None
        pieces = self.pieces(split)
        laid_um = self.case.tube_step_um * sum(piece.units for piece in pieces)
        fittings = self.fittings(split, pieces)
        money = fittings.cost_ct(self.case.scenario) + outcome.plan.money_ct
        return SplitGoals(money, laid_um + outcome.plan.waste_um, fittings.pushed + outcome.plan.couplers)

    # ------------------------------------------------------------ walking

    def walk(self, zones: int, pass_: Walk, worth: Callable[[SplitGoals], bool]) -> Iterator[Split]:
        """Yield the splits into so many zones whose bound is worth a look, longest runs first."""
        return self._walk(zones, pass_, worth, 0, (), NOTHING)

    def _walk(
        self, zones: int, pass_: Walk, worth: Callable[[SplitGoals], bool], start: int, chosen: Split, done: Parts
    ) -> Iterator[Split]:
        if start == self.places:
            yield chosen
            return
        left = zones - len(chosen) - 1
        for end in range(self.reach(start), start - 1, -1):
            if pass_.spent:
                return
            run = self.run(start, end)
            if self.rest(left, end + 1) is None or not self._open(run, pass_):
                continue
            pass_.nodes += 1
            so_far = done.plus(self.parts(run))
            bound = self.bound(so_far, len(chosen) + 1, left, end + 1)
            if bound is not None and worth(bound):
                yield from self._walk(zones, pass_, worth, end + 1, (*chosen, run), so_far)

    def _open(self, run: Run, pass_: Walk) -> bool:
        return self.table.may(run) and (pass_.allowed is None or pass_.allowed(run))


def crossed(case: Case, split: Split) -> tuple[tuple[str, tuple[float, float]], ...]:
    """Return where header and mainline of a split cross paths, each place once."""
    found: dict[tuple[str, tuple[float, float]], None] = {}
    for header, line in enumerate(case.layout.headers):
        runs = [run for run in split if run.header == header]
        reached = [line.approach.vertex, *(line.inlet(run) for run in runs)]
        ways = [line.approach.points, line.points[min(reached) : max(reached) + 1]]
        tail_m = case.scenario.limits.header_tail
        for first, last in (line.vertices(run) for run in runs):
            ways.append(with_tails(line.points[first : last + 1], tail_m, line.points))
        for way in ways:
            if len(way) > 1:
                found |= dict.fromkeys(case.shapes.crossings(way))
    return tuple(found)

"""Units of zones: stretches of header that run as a whole; a header is one, or cut where it is too long for a zone."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

from optimizer.choose.cutter import Cutter
from optimizer.choose.evaluate import RuledOutError
from optimizer.choose.judge import ZoneJudge
from optimizer.choose.manybeds.inlets import Inlet, inlets
from optimizer.choose.manybeds.stretches import alike_stretches
from optimizer.choose.manybeds.unitflows import Fed, least_flows
from optimizer.choose.runs import RunTable, run_table
from optimizer.choose.splits import Splits
from optimizer.choose.waterlimits import WaterLimits, water_limits
from optimizer.choose.zones import NoZonesError, best_split
from optimizer.problem.case import Case, Run
from optimizer.problem.tubing import tube_task
from optimizer.scenario.schema import Scenario
from optimizer.scenario.water import crops_apart

MOST_FREE = 6
"""units up to which every grouping into zones is compared, on the cheapest tube there is"""


@dataclass(frozen=True)
class Unit:
    """A stretch of header whose rows always run together.

    Args:
        header: number among the headers of all blocks.
        run: its rows.
    """

    header: int
    run: Run


@dataclass(frozen=True, eq=False)
class LaidBlock:
    """One block worked out: its design, the ways to its headers, and the stretches they are cut into."""

    case: Case
    inlets: tuple[tuple[Inlet, ...], ...]
    """of each header"""
    runs: tuple[tuple[Run, ...], ...]
    """of each header"""
    flows_m3_s: dict[Run, float]
    """of each stretch, at least, in whatever zone it runs [m3/s]"""

    @property
    def fed(self) -> tuple[Fed, ...]:
        """Each stretch of header with the vertices at which it may be fed."""
        return fed_at(self.case, self.inlets, self.runs)


def laid_block(case: Case, limits: WaterLimits, judge: ZoneJudge, cutter: Cutter) -> LaidBlock:
    """Return a block worked out.

    Args:
        case: its design.
        limits: what zones must hold.
        judge: judges runs.
        cutter: cuts tube.

    Raises:
        RuledOutError: some rows cannot run, whatever the zones.
        UnsettledError: the effort allowed did not settle how its headers are cut.
    """
    ways = tuple(inlets(case, header) for header in range(len(case.layout.headers)))
    runs = _runs(case, limits, judge, cutter)
    fed = fed_at(case, ways, runs)
    flows = least_flows(case, fed, limits, judge)
    return LaidBlock(case, ways, runs, {run: flow for (run, _), flow in zip(fed, flows, strict=True)})


def fed_at(case: Case, ways: Sequence[Sequence[Inlet]], runs: Sequence[Sequence[Run]]) -> tuple[Fed, ...]:
    """Return each stretch of header with the vertices at which it may be fed.

    Args:
        case: the design of a block.
        ways: the ways to each header; mainline lies beside one that is cut, so that every vertex may be an inlet.
        runs: the stretches of each header.
    """
    found: list[Fed] = []
    for line, own, inlets_ in zip(case.layout.headers, runs, ways, strict=True):
        for run in own:
            first, last = line.vertices(run)
            at_ways = sorted({way.vertex for way in inlets_ if first <= way.vertex <= last})
            found.append((run, at_ways if len(own) == 1 else list(range(first, last + 1))))
    return tuple(found)


def _runs(case: Case, limits: WaterLimits, judge: ZoneJudge, cutter: Cutter) -> tuple[tuple[Run, ...], ...]:
    """Return each header whole where all of it may be one zone, else cut: alike, or as if the block stood alone."""
    table = run_table(case, limits, judge)
    last, free = case.row_count - 1, _any_may_share(case)
    found: list[tuple[Run, ...]] = []
    for header, reach in enumerate(table.last):
        if reach[0] == last:
            found.append((Run(header, 0, last),))
        else:
            alike = alike_stretches(case, header, limits, judge) if free else None
            found.append(alike or tuple(run for run in _alone(case, table, cutter) if run.header == header))
    return tuple(found)


def _any_may_share(case: Case) -> bool:
    """Say whether any rows of a block may run together, as far as their crops go."""
    wanted_alone = any(crop.own_zone for crop in case.layout.crops)
    return not wanted_alone and not crops_apart(case.scenario, case.line)


def _alone(case: Case, table: RunTable, cutter: Cutter) -> Sequence[Run]:
    splits = Splits(
        table,
        lambda units: cutter.cut(tube_task(case, units), 1),
        lambda units: cutter.tube_bound(tube_task(case, ()), units),
    )
    try:
        return best_split(splits, None).split
    except NoZonesError as error:
        raise RuledOutError(str(error)) from None


@dataclass(frozen=True, eq=False)
class Units:
    """All units of a garden, and which of them may not run together."""

    scenario: Scenario
    blocks: tuple[LaidBlock, ...]

    @cached_property
    def headers(self) -> tuple[tuple[int, int], ...]:
        """(block, header of the block) of every header."""
        return tuple(
            (number, header)
            for number, block in enumerate(self.blocks)
            for header in range(len(block.case.layout.headers))
        )

    @cached_property
    def units(self) -> tuple[Unit, ...]:
        """Every unit, header by header."""
        return tuple(
            Unit(number, run)
            for number, (block, header) in enumerate(self.headers)
            for run in self.blocks[block].runs[header]
        )

    def case(self, unit: Unit) -> Case:
        """Return the design of the block a unit belongs to."""
        return self.blocks[self.headers[unit.header][0]].case

    def flow_m3_s(self, unit: int) -> float:
        """Return the flow of a unit at least, in whatever zone it runs [m3/s]."""
        own = self.units[unit]
        return self.blocks[self.headers[own.header][0]].flows_m3_s[own.run]

    def usable_m3_s(self, unit: int) -> float:
        """Return what a zone with a unit may take at most [m3/s]."""
        return water_limits(self.case(self.units[unit])).usable_m3_s

    def emitters(self, unit: int) -> int:
        """Return the number of emitters of a unit."""
        case = self.case(self.units[unit])
        return sum(case.feed.laterals[index].spacings for index in case.run_laterals(self.units[unit].run))

    @cached_property
    def apart(self) -> frozenset[tuple[int, int]]:
        """Pairs of units, the smaller first, that may not run together: other lines, or crops that may not share."""
        held = [self._crops(unit) for unit in self.units]
        pairs = self._crops_apart()
        alone = {place for place in set().union(*held) if self._wants_own_zone(place)}
        found = set()
        for one in range(len(held)):
            for two in range(one + 1, len(held)):
                lines = self.case(self.units[one]).line.name != self.case(self.units[two]).line.name
                together = held[one] | held[two]
                mixed = len(together) > 1 and together & alone
                if lines or mixed or any((a, b) in pairs for a in held[one] for b in held[two]):
                    found.add((one, two))
        return frozenset(found)

    def _crops(self, unit: Unit) -> frozenset[tuple[int, int]]:
        """Return (bed, crop) of all rows of a unit, by their numbers in the scenario."""
        layout, beds = self.case(unit).layout, self.scenario.beds
        found = set()
        for row in range(unit.run.first, unit.run.last + 1):
            crop = layout.plan.rows[row].crop
            bed = layout.crop_beds[crop]
            found.add((beds.index(layout.beds[bed]), crop - layout.crop_beds.index(bed)))
        return frozenset(found)

    def _crops_apart(self) -> set[tuple[tuple[int, int], tuple[int, int]]]:
        names = {block.case.line.name for block in self.blocks}
        lines = [line for line in self.scenario.emitter_lines if line.name in names]
        pairs = {pair for line in lines for pair in crops_apart(self.scenario, line)}
        return pairs | {(two, one) for one, two in pairs}

    def _wants_own_zone(self, place: tuple[int, int]) -> bool:
        return self.scenario.beds[place[0]].crops[place[1]].own_zone

    def may_share(self, group: Sequence[int], unit: int) -> bool:
        """Say whether a unit may run with all of a group."""
        return not any((min(unit, other), max(unit, other)) in self.apart for other in group)


def partitions(units: Units, most: int | None) -> Iterator[tuple[tuple[int, ...], ...]]:
    """Yield every way to group the units into zones whose crops and lines may share, at most so many of them."""
    count = len(units.units)

    def grown(groups: list[list[int]], unit: int) -> Iterator[tuple[tuple[int, ...], ...]]:
        if unit == count:
            yield tuple(tuple(group) for group in groups)
            return
        for group in groups:
            if units.may_share(group, unit):
                group.append(unit)
                yield from grown(groups, unit + 1)
                group.pop()
        if most is None or len(groups) < most:
            groups.append([unit])
            yield from grown(groups, unit + 1)
            groups.pop()

    yield from grown([], 0)

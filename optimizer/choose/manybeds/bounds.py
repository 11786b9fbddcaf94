"""Bounds on whole sets of combinations: every block may still have any of some layouts."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import reduce

from optimizer.choose.evaluate import RuledOutError, fixed_price
from optimizer.choose.goals import Goals
from optimizer.choose.manybeds.combination import Combination
from optimizer.choose.manybeds.garden import Garden
from optimizer.choose.manybeds.shares import Share, share
from optimizer.choose.manybeds.sizes import metre_price_mct
from optimizer.choose.manybeds.value import Low
from optimizer.choose.manybeds.ways import Way
from optimizer.choose.manybeds.zones import velocity_flow
from optimizer.choose.reasons import LINE_SHORT, NO_WAY, TIMER_FULL, TUBE_SHORT
from optimizer.choose.tubebound import TubeBound
from optimizer.choose.waterlimits import WaterLimits, water_limits
from optimizer.cutting import CuttingStatus
from optimizer.problem.case import Case
from optimizer.problem.counts import stakes
from optimizer.problem.tubing import blank_tube_task, emitter_line_task
from optimizer.routes.graph import RoutePrice
from optimizer.scenario.defaults import fitting_price
from optimizer.scenario.schema import BlankTube, EmitterLine, FittingKind


@dataclass(frozen=True)
class Open:
    """Combinations of one kit whose blocks each have one of some layouts, by their numbers."""

    pattern: int
    kit: int
    layouts: tuple[tuple[int, ...], ...]

    @property
    def size(self) -> int:
        """Number of combinations."""
        return math.prod(len(each) for each in self.layouts)

    @property
    def first(self) -> Combination:
        """The first of them in the stated order."""
        return Combination(self.pattern, self.kit, tuple(min(each) for each in self.layouts))

    def only(self, block: int, layouts: Sequence[int]) -> Open:
        """Return those of them in which a block has one of fewer layouts."""
        return replace(self, layouts=(*self.layouts[:block], tuple(layouts), *self.layouts[block + 1 :]))


@dataclass(frozen=True)
class Bounded:
    """What a set of combinations cannot beat, and one of them that promises much."""

    low: Low
    promising: Combination


@dataclass(eq=False)
class Bounds:
    """Bounds sets of combinations."""

    garden: Garden
    _shares: dict[tuple[int, int, int, int], Share] = field(default_factory=dict)
    _limits: dict[int, WaterLimits] = field(default_factory=dict)

    def share(self, pattern: int, kit: int, block: int, layout: int) -> Share:
        """Return what a layout of a block adds at least.

        Raises:
            RuledOutError: it cannot be laid, or some rows cannot run.
        """
        key = (pattern, kit, block, layout)
        if key not in self._shares:
            laid = self.garden.block(*key)
            self._shares[key] = share(laid, water_limits(laid.case), self.garden.judge)
        return self._shares[key]

    def of(self, some: Open) -> Bounded:
        """Return what none of some combinations can beat.

        Raises:
            RuledOutError: none of them works.
        """
        shares = [
            [self.share(some.pattern, some.kit, block, layout) for layout in layouts]
            for block, layouts in enumerate(some.layouts)
        ]
        return _Bound(self.garden, some, shares).found()


class _Bound:
    """The bound of one set of combinations, part by part."""

    def __init__(self, garden: Garden, some: Open, shares: Sequence[Sequence[Share]]) -> None:
        self.garden, self.some, self.shares = garden, some, shares
        self.scenario = garden.scenario
        self.cases: list[Case] = [
            garden.block(some.pattern, some.kit, block, layouts[0]).case for block, layouts in enumerate(some.layouts)
        ]
        self.step_mm = self.cases[0].tube_step_um // 1000

    def found(self) -> Bounded:
        """Return the bound.

        Raises:
            RuledOutError: nothing of the set works.
        """
        laid_mm = self._laid_mm()
        line, tube = self._lines_and_fittings(), self._tube(laid_mm)
        zones = self._zones()
        goals = self._goals(zones, laid_mm, line, tube)
        several = self._goals(max(zones, 2), laid_mm, line, tube)
        return Bounded(Low(goals, several), self._promising())

    def _goals(self, zones: int, laid_mm: int, line: TubeBound, tube: TubeBound) -> Goals:
        headers, climbs = self._sum("headers"), self._sum("climbs")
        valves = max(zones, headers) if self.scenario.limits.valve_per_bed else zones
        mainline_mm = max(laid_mm - self.step_mm * sum(max(s.tube_units for s in each) for each in self.shares), 0)
        fittings: list[tuple[FittingKind, int]] = [
            ("tee", headers - 1),
            ("zone valve", valves),
            ("elbow", climbs),
            ("stake", stakes(mainline_mm / 1000.0)),
        ]
        money = sum(count * self._price(kind) for kind, count in fittings) + fixed_price(self.cases[0])
        return Goals(
            self._sum("missing_ppm"),
            money + line.money_ct + tube.money_ct,
            line.spent_um + tube.spent_um,
            self._sum("pushed") + headers - 1 + valves + climbs,
            0,
        )

    def _sum(self, name: str) -> int:
        """Return the least sum over all blocks of one figure of their shares."""
        return sum(min(getattr(item, name) for item in each) for each in self.shares)

    def _price(self, kind: FittingKind) -> int:
        """Return what a fitting of the mainline costs at least [ct]."""
        return min(fitting_price(self.scenario, kind, tube.name)[0] for tube in self.garden.mains(self.some.kit))

    # ------------------------------------------------------------ tubing

    def _laid_mm(self) -> int:
        """Return what header, bypasses and mainline together are not shorter than [mm]."""
        ways = [[way for item in each for way in item.ways] for each in self.shares]
        found = self.garden.ways(self.some.pattern).least(ways, RoutePrice())
        if found is None:
            raise RuledOutError(NO_WAY)
        return found

    def _tube(self, laid_mm: int) -> TubeBound:
        """Return a bound for all blank tube; of several products as if one could stand in for another.

        Raises:
            RuledOutError: there is not enough.
        """
        tube, mains = self.cases[0].tube, self.garden.mains(self.some.kit)
        others = [main for main in mains if main.name != tube.name]
        together = self._least_tube([tube, *others], max(-(-laid_mm // self.step_mm), 1))
        if not others:
            return together
        # Headers need the one product, and of the others at least one is used.
        headers = self._least_tube([tube], max(self._sum("tube_units"), 1))
        other = min(self._least_tube([main], 1).money_ct for main in others)
        return TubeBound(max(together.money_ct, headers.money_ct + other), together.spent_um)

    def _least_tube(self, products: Sequence[BlankTube], units: int) -> TubeBound:
        tasks = [blank_tube_task(self.scenario, each, 1000 * self.step_mm, ()) for each in products]
        stocks = tuple(
            replace(stock, id=f"{each.name}, {stock.id}")
            for each, task in zip(products, tasks, strict=True)
            for stock in task.stocks
        )
        found = self.garden.cutter.tube_bound(replace(tasks[0], stocks=stocks), units)
        if found is None:
            raise RuledOutError(TUBE_SHORT)
        return found

    def _lines_and_fittings(self) -> TubeBound:
        """Return a bound for all emitter lines and the fittings of blocks; its length spent is waste alone.

        Raises:
            RuledOutError: there is not enough line.
        """
        bounds = [self._one_line(line, blocks) for line, blocks in self._lines()]
        return TubeBound(sum(bound.money_ct for bound in bounds), sum(bound.spent_um for bound in bounds))

    def _lines(self) -> list[tuple[EmitterLine, list[int]]]:
        """Return each emitter line with the blocks it is laid in."""
        blocks: dict[str, list[int]] = {}
        for block, case in enumerate(self.cases):
            blocks.setdefault(case.line.name, []).append(block)
        return [(line, blocks[line.name]) for line in self.scenario.emitter_lines if line.name in blocks]

    def _one_line(self, line: EmitterLine, blocks: Sequence[int]) -> TubeBound:
        shares = [self.shares[block] for block in blocks]
        if all(item.line_units == each[0].line_units for each in shares for item in each):
            return self._settled_line(line, shares)
        stock = emitter_line_task(self.scenario, line, ())
        sums = _cheapest_sums([[(_length(item), item.money_ct) for item in each] for each in shares])
        rolls = ((self.garden.cutter.tube_bound(stock, units), money) for units, money in sums)
        found = [bound.money_ct + money for bound, money in rolls if bound is not None]
        if not found:
            raise RuledOutError(LINE_SHORT)
        return TubeBound(min(found), 0)

    def _settled_line(self, line: EmitterLine, shares: Sequence[Sequence[Share]]) -> TubeBound:
        """Return the bound for a line whose pieces are the same in all layouts."""
        units = reduce(Counter.__add__, (each[0].line_units for each in shares), Counter[int]())
        outcome = self.garden.cutter.cut(emitter_line_task(self.scenario, line, units.elements()), 0)
        if outcome.status is CuttingStatus.IMPOSSIBLE:
            raise RuledOutError(LINE_SHORT)
        fittings = sum(min(item.money_ct for item in each) for each in shares)
        return TubeBound(fittings + (outcome.money_bound_ct or 0), outcome.waste_bound_um or 0)

    # ------------------------------------------------------------ zones

    def _zones(self) -> int:
        """Return how many zones there are at least.

        Raises:
            RuledOutError: the timer has fewer outlets.
        """
        zones = sum(self._zones_of(blocks) for _, blocks in self._lines())
        most = self.scenario.most_zones
        if most is not None and zones > most:
            raise RuledOutError(TIMER_FULL)
        return zones

    def _zones_of(self, blocks: Sequence[int]) -> int:
        """Return the least number of zones of blocks with one emitter line, by the flow of their emitters.

        No emitter of a zone gives less than its strongest one, less the flow variation allowed.
        """
        limits = [water_limits(self.cases[block]) for block in blocks]
        fastest = max(velocity_flow(tube, self.scenario) for tube in self.garden.mains(self.some.kit))
        variation = limits[0].variation
        if variation is None:
            return 1
        emitters = sum(min(item.emitters for item in self.shares[block]) for block in blocks)
        strongest = min(item.emitter_flow_m3_s for block in blocks for item in self.shares[block])
        flow = emitters * (1.0 - variation) * strongest
        return max(math.ceil(flow / min(max(item.usable_m3_s for item in limits), fastest) - 1e-6), 1)

    # ------------------------------------------------------------ what to try

    def _promising(self) -> Combination:
        """Return the combination that is cheapest if tube cost by the metre and lines did as well."""
        price = self.garden.price(self.some.kit)
        per_mm = price.tube_mct_per_mm
        ways, owners = [], []
        for case, each, layouts in zip(self.cases, self.shares, self.some.layouts, strict=True):
            line_mct = metre_price_mct(case.line) * case.line.spacing * 1000.0
            least_missing = min(item.missing_ppm for item in each)
            ways.append(
                [
                    Way(way.portal, way.behind_mct * per_mm + 1000 * item.money_ct + round(_length(item) * line_mct))
                    for item in each
                    if item.missing_ppm == least_missing
                    for way in item.ways
                ]
            )
            owners.append(
                [
                    layout
                    for item, layout in zip(each, layouts, strict=True)
                    if item.missing_ppm == least_missing
                    for _ in item.ways
                ]
            )
        found = self.garden.ways(self.some.pattern).entered(ways, price)
        if found is None:
            raise RuledOutError(NO_WAY)
        layouts = tuple(mine[way] for mine, way in zip(owners, found, strict=True))
        return Combination(self.some.pattern, self.some.kit, layouts)


def _length(item: Share) -> int:
    """Return the length of emitter line of a layout [emitter spacings]."""
    return sum(units * count for units, count in item.line_units.items())


def _cheapest_sums(blocks: Sequence[Sequence[tuple[int, int]]]) -> list[tuple[int, int]]:
    """Return the sums of one (length, money) of every block than which no other is shorter and as cheap."""
    sums = [(0, 0)]
    for each in blocks:
        every = sorted({(length + more, money + extra) for length, money in sums for more, extra in each})
        sums, least = [], math.inf
        for length, money in every:
            if money < least:
                sums.append((length, money))
                least = money
    return sums

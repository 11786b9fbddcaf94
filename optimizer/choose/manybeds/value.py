"""The exact value of one layout of all beds with given products: mainline, zones and cuts at their best."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace

from optimizer.choose.chosen import ProductCut
from optimizer.choose.cutter import Cutter, UnsettledError
from optimizer.choose.evaluate import RuledOutError, fixed_price, open_after_gap
from optimizer.choose.goals import Goals
from optimizer.choose.judge import ZoneJudge
from optimizer.choose.manybeds.blocks import Block, Kit, Layout, Pattern
from optimizer.choose.manybeds.inlets import inlets
from optimizer.choose.manybeds.lay import Groups, Hung, hung, laid
from optimizer.choose.manybeds.order import in_order
from optimizer.choose.manybeds.sizes import metre_price_mct, sized
from optimizer.choose.manybeds.units import LaidBlock, Units, laid_block, partitions
from optimizer.choose.manybeds.ways import FedHeader, Tree, Ways
from optimizer.choose.manybeds.zones import Reading, reading
from optimizer.choose.reasons import LINE_SHORT, NO_WAY, RUN_TOO_LONG, TIMER_FULL, TUBE_SHORT
from optimizer.choose.waterlimits import water_limits
from optimizer.cutting import CuttingOutcome, CuttingStatus, CuttingTask
from optimizer.feeds import FeedError
from optimizer.problem.bill import emitter_lines, laid_fittings, line_units, tube_pieces
from optimizer.problem.case import Case
from optimizer.problem.counts import FittingCount
from optimizer.problem.laying import Laying
from optimizer.problem.tubing import blank_tube_task, emitter_line_task
from optimizer.routes.graph import RoutePrice
from optimizer.scenario.defaults import fitting_price
from optimizer.scenario.schema import BlankTube, Scenario
from optimizer.site import SiteShapes, site_shapes

MOST_FREE = 6
"""units up to which every grouping into zones is compared"""


@dataclass(frozen=True, eq=False)
class Combination:
    """A layout of all beds and the products it is made of.

    Args:
        pattern: which beds share headers, by its number.
        kit: products, by the number of the kit.
        layouts: layout of each block, by its number.
    """

    pattern: int
    kit: int
    layouts: tuple[int, ...]

    @property
    def key(self) -> tuple[int, int, tuple[int, ...]]:
        """Place in the stated order; the lower wins a full tie."""
        return self.pattern, self.kit, self.layouts


@dataclass(frozen=True, eq=False)
class Valued:
    """A combination with its best mainline, zones and cuts."""

    combination: Combination
    goals: Goals
    bound: Goals
    laying: Laying
    cuts: tuple[ProductCut, ...]


@dataclass(frozen=True, eq=False)
class _Try:
    """A way to group and feed the units that holds all limits, and what it reaches at best."""

    goals: Goals
    laying: Laying
    fittings: FittingCount
    tubes: dict[str, tuple[int, ...]]
    """pieces of each blank tube [cutting units]"""
    proven: bool


@dataclass(eq=False)
class Valuer:
    """Values combinations of one scenario; what they have in common is worked out once."""

    scenario: Scenario
    patterns: tuple[Pattern, ...]
    kits: tuple[Kit, ...]
    cutter: Cutter
    judge: ZoneJudge = field(default_factory=ZoneJudge)
    _ways: dict[int, Ways] = field(default_factory=dict)
    _blocks: dict[tuple[int, int, int, int], LaidBlock | RuledOutError] = field(default_factory=dict)
    _trees: dict[tuple[object, ...], Tree | None] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.shapes: SiteShapes = site_shapes(self.scenario)

    # ------------------------------------------------------------ what combinations share

    def ways(self, pattern: int) -> Ways:
        """Return the ways over the site for one way to part the beds.

        Raises:
            GroundError: the supply stands where tube may not lie.
        """
        if pattern not in self._ways:
            portals = [
                inlet.portal
                for block in self.patterns[pattern].blocks
                for layout in block.layouts
                for case in self._some_case(block, layout)
                for header in range(len(case.layout.headers))
                for inlet in inlets(case, header)
            ]
            self._ways[pattern] = Ways.over(self.scenario, self.shapes, portals)
        return self._ways[pattern]

    def _some_case(self, block: Block, layout: Layout) -> Iterator[Case]:
        """Yield the layout with each kit's lines once: headers lie alike in all of them."""
        for kit in self.kits:
            try:
                yield block.case(layout, kit)
                return
            except FeedError:
                continue

    def block(self, pattern: int, kit: int, number: int, layout: int) -> LaidBlock:
        """Return a block worked out.

        Raises:
            RuledOutError: it cannot be laid, or some rows cannot run.
        """
        key = (pattern, kit, number, layout)
        if key not in self._blocks:
            self._blocks[key] = self._worked_out(pattern, kit, number, layout)
        found = self._blocks[key]
        if isinstance(found, RuledOutError):
            raise found
        return found

    def case(self, pattern: int, kit: int, number: int, layout: int) -> Case:
        """Return the design of a block, its laterals no longer than their label allows.

        Raises:
            RuledOutError: it cannot be laid.
        """
        block = self.patterns[pattern].blocks[number]
        try:
            case = block.case(block.layouts[layout], self.kits[kit])
        except FeedError as error:
            raise RuledOutError(str(error)) from None
        longest = case.line.longest_run
        length = max(lateral.spacings for lateral in case.feed.laterals) * case.line.spacing
        if longest is not None and length > longest + 1e-6:
            raise RuledOutError(RUN_TOO_LONG)
        return case

    def _worked_out(self, pattern: int, kit: int, number: int, layout: int) -> LaidBlock | RuledOutError:
        try:
            case = self.case(pattern, kit, number, layout)
            return laid_block(case, water_limits(case), self.judge, self.cutter)
        except RuledOutError as error:
            return error

    def price(self, kit: int) -> RoutePrice:
        """Return what mainline costs by the metre, and a cover over it where it crosses a path."""
        tube = self.mains(kit)[0]
        cover = fitting_price(self.scenario, "tube cover", tube.name)[0]
        return RoutePrice(metre_price_mct(tube), 1000 * cover)

    def mains(self, kit: int) -> list[BlankTube]:
        """Return the tubes of the mainline of a kit, the cheapest by the metre first."""
        tubes = [self.scenario.blank_tubes[index] for index in self.kits[kit].mains]
        return sorted(tubes, key=lambda tube: (metre_price_mct(tube), tube.bore))

    def tree(self, combination: Combination, units: Units, members: Sequence[int]) -> Tree:
        """Return the cheapest tree to some units.

        Raises:
            RuledOutError: tube cannot reach one of them.
        """
        price = self.price(combination.kit)
        kit = self.kits[combination.kit]
        key = (combination.pattern, kit.lines, combination.layouts, price, tuple(units.units[m] for m in members))
        if key not in self._trees:
            self._trees[key] = self.ways(combination.pattern).tree(_fed(units, members), price)
        found = self._trees[key]
        if found is None:
            raise RuledOutError(NO_WAY)
        return found

    # ------------------------------------------------------------ one combination

    def units(self, combination: Combination) -> Units:
        """Return the units of a combination.

        Raises:
            RuledOutError: a block cannot be laid, or some rows cannot run.
        """
        blocks = [
            self.block(combination.pattern, combination.kit, number, layout)
            for number, layout in enumerate(combination.layouts)
        ]
        return Units(self.scenario, tuple(blocks))

    def value(self, combination: Combination, effort: int, low: Goals) -> Valued:
        """Return the best mainline, zones and cuts of a combination.

        Args:
            combination: what is laid.
            effort: index into the cutter's efforts.
            low: a bound on all it may reach.

        Raises:
            RuledOutError: no zones or cuts work.
            UnsettledError: the effort did not settle whether the tubing can be cut.
        """
        units = self.units(combination)
        line_cuts = tuple(self._line_cuts(units, effort))
        tries, complete = self._tries(combination, units)
        best: Valued | None = None
        unsettled = False
        for item in sorted(tries, key=lambda item: item.goals):
            floor = _added(item.goals, line_cuts)
            if best is not None and floor >= best.goals:
                break
            try:
                found = self._cut(combination, item, line_cuts, effort)
            except UnsettledError:
                unsettled = True
                continue
            except RuledOutError:
                continue
            if best is None or found.goals < best.goals:
                best = found
        if best is None:
            raise UnsettledError if unsettled else RuledOutError(TUBE_SHORT)
        if not complete or unsettled:
            return replace(best, bound=open_after_gap(best.goals, min(low, best.goals)))
        return best

    def _line_cuts(self, units: Units, effort: int) -> Iterator[ProductCut]:
        laying = Laying(tuple(block.case for block in units.blocks), (), (), ())
        pieces = line_units(laying)
        for line in emitter_lines(laying):
            task = emitter_line_task(self.scenario, line, pieces[line.name].elements())
            yield ProductCut(line, task.unit_um, self._settled(task, effort, LINE_SHORT))

    def _settled(self, task: CuttingTask, effort: int, short: str) -> CuttingOutcome:
        outcome = self.cutter.cut(task, effort)
        if outcome.plan is None:
            raise RuledOutError(short) if outcome.status is CuttingStatus.IMPOSSIBLE else UnsettledError
        return outcome

    def _cut(self, combination: Combination, item: _Try, line_cuts: tuple[ProductCut, ...], effort: int) -> Valued:
        cuts = list(line_cuts)
        for tube in self.scenario.blank_tubes:
            if tube.name in item.tubes:
                task = self._tube_task(item.laying, tube, item.tubes[tube.name])
                cuts.append(ProductCut(tube, task.unit_um, self._settled(task, effort, TUBE_SHORT)))
        goals, bound = _sums(item, cuts)
        proven = item.proven and all(cut.outcome.status is CuttingStatus.PROVEN_BEST for cut in cuts)
        return Valued(combination, goals, bound if proven else open_after_gap(goals, bound), item.laying, tuple(cuts))

    def _tube_task(self, laying: Laying, tube: BlankTube, units: Sequence[int]) -> CuttingTask:
        return blank_tube_task(self.scenario, tube, laying.cases[0].tube_step_um, units)

    # ------------------------------------------------------------ zones

    def _tries(self, combination: Combination, units: Units) -> tuple[list[_Try], bool]:
        """Return the ways to group and feed the units that hold all limits, and whether no other can be better.

        One zone for all takes the least valves and tube; it is the only one looked at where it holds.

        Raises:
            RuledOutError: none holds.
        """
        every = tuple(range(len(units.units)))
        common = _Fed(self, combination, units, own=False)
        if not units.apart and common.reading(every).holds:
            found = list(common.tries([(every,)]))
            if found:
                return found, True
        most = self.scenario.most_zones
        fed = [common] + ([_Fed(self, combination, units, own=True)] if self._at_the_tap else [])
        fed = fed[1:] if self.scenario.limits.valves == "at the tap" and self._at_the_tap else fed
        complete = len(every) <= MOST_FREE
        found = []
        for way in fed:
            groupings = partitions(units, most) if complete else in_order(units, way, most)
            found += list(way.tries(groupings))
        if not found:
            raise RuledOutError(self._why(common, units, most))
        return found, complete

    @property
    def _at_the_tap(self) -> bool:
        """Whether zones may have a tube each from the tap."""
        limits = self.scenario.limits
        return limits.valves != "in the field" and not limits.valve_per_bed

    def _why(self, common: _Fed, units: Units, most: int | None) -> str:
        """Return why no grouping holds: a unit that fails alone, else that there are too many."""
        alone = (common.reading((unit,)).reason for unit in range(len(units.units)))
        return next((reason for reason in alone if reason), TIMER_FULL if most is not None else NO_WAY)


class _Fed:
    """Units of a combination on one common tree of mainline, or each zone on a tree of its own."""

    def __init__(self, valuer: Valuer, combination: Combination, units: Units, own: bool) -> None:
        self.valuer, self.combination, self.units, self.own = valuer, combination, units, own
        mains = valuer.mains(combination.kit)
        self.widest = max(mains, key=lambda tube: tube.bore)
        self.mixed = mains if len(mains) > 1 else []
        self.readings: dict[tuple[int, ...], Reading] = {}
        self.common: Hung | None = None

    def on(self, groups: Groups) -> Hung:
        """Return the units hung on mainline of the widest tube."""
        if not self.own:
            if self.common is None:
                self.common = self._hung([tuple(range(len(self.units.units)))])
            return self.common
        return self._hung(groups)

    def _hung(self, sets: Sequence[tuple[int, ...]]) -> Hung:
        trees = [(members, self.valuer.tree(self.combination, self.units, members)) for members in sets]
        return hung(self.units, trees, self.widest)

    def reading(self, group: tuple[int, ...]) -> Reading:
        """Return what a group of units does as a zone."""
        if group not in self.readings:
            rest = tuple(unit for unit in range(len(self.units.units)) if unit not in group)
            on = self.on((group, rest) if rest else (group,))
            self.readings[group] = reading(laid(self.units, on, (group,)), 0)
        return self.readings[group]

    def tries(self, groupings: Iterable[Groups]) -> Iterator[_Try]:
        """Yield what groupings that hold all limits reach at best."""
        for groups in groupings:
            readings = [self.reading(group) for group in groups]
            if not all(item.holds for item in readings):
                continue
            on = self.on(groups)
            valve_per_header = self.valuer.scenario.limits.valve_per_bed
            laying: Laying | None = laid(self.units, on, groups, valve_per_header)
            assert laying is not None
            if self.mixed:
                laying = sized(laying, [item.flow_m3_s for item in readings], self.mixed)
                if laying is None:
                    continue
                readings = [reading(laying, zone) for zone in range(len(groups))]
                if not all(item.holds for item in readings):
                    continue
            found = self._at_best(laying, max(item.unevenness for item in readings), on.proven)
            if found is not None:
                yield found

    def _at_best(self, laying: Laying, unevenness: int, proven: bool) -> _Try | None:
        """Return what a garden reaches if its tube could be cut without loss; None if there is not enough."""
        valuer = self.valuer
        fittings, tubes = laid_fittings(laying), dict[str, list[int]]()
        for piece in tube_pieces(laying):
            tubes.setdefault(piece.tube.name, []).append(piece.units)
        money, spent = fittings.cost_ct(valuer.scenario) + fixed_price(laying.cases[0]), 0
        for tube in valuer.scenario.blank_tubes:
            if tube.name in tubes:
                bound = valuer.cutter.tube_bound(valuer._tube_task(laying, tube, ()), sum(tubes[tube.name]))
                if bound is None:
                    return None
                money, spent = money + bound.money_ct, spent + bound.spent_um
        missing = sum(case.missing_ppm for case in laying.cases)
        goals = Goals(missing, money, spent, fittings.pushed, unevenness)
        return _Try(goals, laying, fittings, {name: tuple(sorted(units)) for name, units in tubes.items()}, proven)


def _fed(units: Units, members: Sequence[int]) -> list[FedHeader]:
    """Return the headers of some units as mainline must reach them."""
    found: list[FedHeader] = []
    for header in dict.fromkeys(units.units[member].header for member in members):
        number, own = units.headers[header]
        block = units.blocks[number]
        runs = tuple(units.units[member].run for member in members if units.units[member].header == header)
        line = block.case.layout.headers[own]
        found.append(FedHeader(line, block.inlets[own], runs, len(block.runs[own]) > 1))
    return found


def _added(goals: Goals, cuts: Sequence[ProductCut]) -> Goals:
    """Return goals with what cuts of emitter line add to them."""
    plans = [cut.outcome.plan for cut in cuts if cut.outcome.plan is not None]
    return Goals(
        goals.missing_ppm,
        goals.money_ct + sum(plan.money_ct for plan in plans),
        goals.waste_um + sum(plan.waste_um for plan in plans),
        goals.fittings + sum(plan.couplers for plan in plans),
        goals.unevenness,
    )


def _sums(item: _Try, cuts: Sequence[ProductCut]) -> tuple[Goals, Goals]:
    """Return the goals of a garden with its cuts, and the bound that follows from theirs."""
    scenario, unit_um = item.laying.scenario, item.laying.cases[0].tube_step_um
    fixed = item.fittings.cost_ct(scenario) + fixed_price(item.laying.cases[0])
    laid_um = unit_um * sum(sum(units) for units in item.tubes.values())
    outcomes = [cut.outcome for cut in cuts]
    plans = [outcome.plan for outcome in outcomes if outcome.plan is not None]
    goals = Goals(
        item.goals.missing_ppm,
        fixed + sum(plan.money_ct for plan in plans),
        laid_um + sum(plan.waste_um for plan in plans),
        item.fittings.pushed + sum(plan.couplers for plan in plans),
        item.goals.unevenness,
    )
    bound = Goals(
        item.goals.missing_ppm,
        fixed + sum(outcome.money_bound_ct or 0 for outcome in outcomes),
        laid_um + sum(outcome.waste_bound_um or 0 for outcome in outcomes),
        item.fittings.pushed + sum(outcome.couplers_bound or 0 for outcome in outcomes),
        item.goals.unevenness,
    )
    return goals, bound

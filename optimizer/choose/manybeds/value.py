"""The exact value of one combination: mainline, zones and cuts at their best."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from optimizer.choose.chosen import ProductCut
from optimizer.choose.cutter import UnsettledError
from optimizer.choose.evaluate import RuledOutError, fixed_price, open_after_gap
from optimizer.choose.goals import Goals
from optimizer.choose.manybeds.combination import Combination, Trees, Valued
from optimizer.choose.manybeds.feeding import Fed, Feeding
from optimizer.choose.manybeds.gaps import BlockGroups
from optimizer.choose.manybeds.garden import Garden
from optimizer.choose.manybeds.lay import Groups
from optimizer.choose.manybeds.order import in_order
from optimizer.choose.manybeds.units import MOST_FREE, Units, partitions
from optimizer.choose.reasons import APART, AT_THE_TAP, LINE_SHORT, NO_WAY, ONE_SIZE, TIMER_FULL, TUBE_SHORT
from optimizer.cutting import CuttingOutcome, CuttingStatus, CuttingTask
from optimizer.problem.bill import emitter_lines, line_units
from optimizer.problem.laying import Laying
from optimizer.problem.tubing import blank_tube_task, emitter_line_task
from optimizer.scenario.defaults import fitting_price

MORE_ZONES = 3
"""zones beyond the fewest that are looked at where mainline may be of several sizes"""


class OutdoneError(Exception):
    """A combination cannot reach what was to beat."""


@dataclass(frozen=True)
class Low:
    """What a set of combinations cannot beat.

    Args:
        goals: whatever its zones.
        several: with more than one zone.
    """

    goals: Goals
    several: Goals

    def at_least(self, other: Low) -> Low:
        """Return the better of two bounds on the same combinations."""
        return Low(max(self.goals, other.goals), max(self.several, other.several))


@dataclass(frozen=True)
class Look:
    """How a combination is looked at.

    Args:
        effort: index into the cutter's efforts.
        groups: blocks of each zone, if no other zones are to be looked at.
        trees: how zones get their water, if in no other way.
        quick: whether to give up where the goals seem out of reach on the cheapest tree found, proven or not, or one
            zone for all could do but does not.
    """

    effort: int
    groups: BlockGroups | None = None
    trees: Trees | None = None
    quick: bool = False


@dataclass(frozen=True, eq=False)
class Valuer:
    """Values combinations of a garden."""

    garden: Garden

    def value(self, combination: Combination, look: Look, low: Low, beat: Goals | None = None) -> Valued:
        """Return the best mainline, zones and cuts of a combination.

        Args:
            combination: what is laid.
            look: how it is looked at.
            low: what it cannot beat.
            beat: goals it must reach at least to be worth the work.

        Raises:
            RuledOutError: no zones or cuts work.
            OutdoneError: it cannot reach the goals to beat.
            UnsettledError: the effort did not settle whether the tubing can be cut.
        """
        units = self.garden.units(combination)
        lines = tuple(self._line_cuts(units, look.effort))
        if look.groups is not None:
            fed, complete = self._in_groups(combination, units, lines, look, beat), False
        else:
            if look.quick and beat is not None and self._seems_dear(combination, units, lines, look.effort, beat):
                raise OutdoneError
            fed, complete = self._fed(combination, units, lines, look, low, beat)
        best, unsettled = self._best_cut(combination, fed, lines, look.effort)
        if best is None:
            raise UnsettledError if unsettled else RuledOutError(TUBE_SHORT)
        if not complete or unsettled:
            return replace(best, bound=open_after_gap(best.goals, min(low.goals, best.goals)))
        return best

    def holds(self, combination: Combination, groups: BlockGroups, trees: Trees) -> bool:
        """Say whether given zones hold all limits on mainline of the widest tube, found with little effort.

        Args:
            combination: what is laid.
            groups: blocks of each zone.
            trees: how they get their water.
        """
        units = self.garden.units(combination)
        fed = Feeding(self.garden, combination, units, (), 0, trees)
        try:
            wanted = _unit_groups(units, groups)
            return all(fed.reading(group, wanted).holds for group in wanted)
        except RuledOutError:
            return False

    # ------------------------------------------------------------ cuts

    def _line_cuts(self, units: Units, effort: int) -> Iterator[ProductCut]:
        laying = Laying(tuple(block.case for block in units.blocks), (), (), ())
        pieces = line_units(laying)
        for line in emitter_lines(laying):
            task = emitter_line_task(self.garden.scenario, line, pieces[line.name].elements())
            yield ProductCut(line, task.unit_um, self._settled(task, effort, LINE_SHORT))

    def _settled(self, task: CuttingTask, effort: int, short: str) -> CuttingOutcome:
        outcome = self.garden.cutter.cut(task, effort)
        if outcome.plan is None:
            raise RuledOutError(short) if outcome.status is CuttingStatus.IMPOSSIBLE else UnsettledError
        return outcome

    def _best_cut(
        self, combination: Combination, fed: Sequence[Fed], lines: Sequence[ProductCut], effort: int
    ) -> tuple[Valued | None, bool]:
        """Return the best of some gardens with their cuts, and whether the effort left one of them unsettled."""
        best: Valued | None = None
        unsettled = False
        for item in sorted(fed, key=lambda item: item.goals):
            if best is not None and item.goals >= best.goals:
                break
            try:
                found = self._cut(combination, item, lines, effort)
            except UnsettledError:
                unsettled = True
            except RuledOutError:
                continue
            else:
                best = found if best is None or found.goals < best.goals else best
        return best, unsettled

    def _cut(self, combination: Combination, item: Fed, lines: Sequence[ProductCut], effort: int) -> Valued:
        cuts = list(lines)
        scenario, step_um = self.garden.scenario, item.laying.cases[0].tube_step_um
        for tube in scenario.blank_tubes:
            if tube.name in item.tubes:
                task = blank_tube_task(scenario, tube, step_um, item.tubes[tube.name])
                cuts.append(ProductCut(tube, task.unit_um, self._settled(task, effort, TUBE_SHORT)))
        goals, bound = _sums(item, cuts)
        proven = item.proven and all(cut.outcome.status is CuttingStatus.PROVEN_BEST for cut in cuts)
        bound = bound if proven else open_after_gap(goals, bound)
        return Valued(combination, goals, bound, item.trees, item.laying, tuple(cuts))

    # ------------------------------------------------------------ zones

    def _fed(
        self,
        combination: Combination,
        units: Units,
        lines: Sequence[ProductCut],
        look: Look,
        low: Low,
        beat: Goals | None,
    ) -> tuple[list[Fed], bool]:
        """Return the ways to group and feed the units that hold all limits, and whether no other can be better.

        Where all units may run together that is the only zone looked at: it takes the least valves and tube.

        Raises:
            RuledOutError: none holds.
            OutdoneError: none that holds can reach the goals to beat.
        """
        complete = len(units.units) <= MOST_FREE
        common = Feeding(self.garden, combination, units, lines, look.effort, Trees.COMMON)
        if not units.apart:
            together = self._together(common, low, beat)
            if together is not None:
                return together
            if look.quick and not complete and low.several > low.goals:
                raise OutdoneError
        feedings = [
            common if trees is Trees.COMMON else Feeding(self.garden, combination, units, lines, look.effort, trees)
            for trees in self._trees(complete)
        ]
        found = []
        for feeding in feedings:
            found += list(feeding.groupings(self._groupings(units, common, complete, feeding.trees), beat))
        if not found:
            if any(feeding.outdone for feeding in feedings):
                raise OutdoneError
            raise RuledOutError(_why(common, units, self.garden.scenario.most_zones))
        return found, complete

    def _together(self, common: Feeding, low: Low, beat: Goals | None) -> tuple[list[Fed], bool] | None:
        """Return all units fed in one zone, and whether no other way to feed them can be better; None if none holds.

        Raises:
            RuledOutError: they hold, but of tube there is not enough.
            OutdoneError: they cannot reach the goals to beat, nor can several zones.
        """
        every = (tuple(range(len(common.units.units))),)
        found = list(common.groupings([every], beat))
        if found:
            return found, True
        if common.outdone and (beat is None or low.several > beat or common.reading(every[0]).holds):
            raise OutdoneError
        if len(every[0]) > MOST_FREE:
            # Less pressure may be lost where tube takes more elbows.
            bent = Feeding(
                self.garden, common.combination, common.units, common.lines, common.effort, Trees.COMMON, straight=False
            )
            found = list(bent.groupings([every], beat))
            if found:
                return found, False
        if common.reading(every[0]).holds:
            raise RuledOutError(ONE_SIZE if common.sizes else TUBE_SHORT)
        return None

    def _seems_dear(
        self, combination: Combination, units: Units, lines: Sequence[ProductCut], effort: int, beat: Goals
    ) -> bool:
        """Say whether all units cost more than there is to beat in one zone, or with one more valve if that fails."""
        common = Feeding(self.garden, combination, units, lines, effort, Trees.COMMON)
        money = common.together_ct()
        if money <= beat.money_ct and not common.reading(tuple(range(len(units.units)))).holds:
            money += min(
                fitting_price(self.garden.scenario, "zone valve", tube.name)[0]
                for tube in self.garden.mains(combination.kit)
            )
        return money > beat.money_ct

    def _in_groups(
        self,
        combination: Combination,
        units: Units,
        lines: Sequence[ProductCut],
        look: Look,
        beat: Goals | None,
    ) -> list[Fed]:
        """Return the ways to feed zones of given blocks that hold all limits.

        Raises:
            RuledOutError: none holds.
            OutdoneError: none that holds can reach the goals to beat.
        """
        wanted = _unit_groups(units, look.groups or ())
        # On one tree with everything such zones mostly need valves at many places.
        trees = [look.trees] if look.trees else [each for each in self._trees(False) if each is not Trees.COMMON]
        feedings = [
            Feeding(self.garden, combination, units, lines, look.effort, each, straight)
            for each in trees
            for straight in (True, False)
        ]
        found = [item for feeding in feedings for item in feeding.groupings([wanted], beat)]
        if not found:
            if any(feeding.outdone for feeding in feedings):
                raise OutdoneError
            reasons = (feeding.reading(group, wanted).reason for feeding in feedings for group in wanted)
            raise RuledOutError(next((reason for reason in reasons if reason), TUBE_SHORT))
        return found

    def _groupings(self, units: Units, common: Feeding, complete: bool, trees: Trees) -> Iterator[Groups]:
        """Yield the groupings to look at: all of them, or those that promise most where these are too many."""
        most = self.garden.scenario.most_zones
        if complete:
            yield from partitions(units, most)
            return
        yield from in_order(units, common, most, MORE_ZONES if common.sizes and trees is Trees.COMMON else 0)

    def _trees(self, complete: bool) -> list[Trees]:
        """Return how zones may get their water; forks are looked at where not every grouping is."""
        limits = self.garden.scenario.limits
        if limits.valve_per_bed:
            return [Trees.COMMON]
        if limits.valves == "at the tap":
            return [Trees.OWN]
        found = [Trees.COMMON] if limits.valves == "in the field" else [Trees.COMMON, Trees.OWN]
        return found if complete else [*found, Trees.FORKED]


def _unit_groups(units: Units, groups: BlockGroups) -> Groups:
    """Return the units of each zone of given blocks.

    Raises:
        RuledOutError: some of them may not run together.
    """
    home = {block: zone for zone, group in enumerate(groups) for block in group}
    zones: list[list[int]] = [[] for _ in groups]
    for number, unit in enumerate(units.units):
        zones[home[units.headers[unit.header][0]]].append(number)
    wanted = tuple(tuple(zone) for zone in zones)
    if any(not units.may_share(group[:place], unit) for group in wanted for place, unit in enumerate(group)):
        raise RuledOutError(APART)
    return wanted


def _why(common: Feeding, units: Units, most: int | None) -> str:
    """Return why no grouping holds: a unit that fails alone, else that there are too many or the tube too short."""
    if common.at_the_tap:
        return AT_THE_TAP
    alone = (common.reading((unit,)).reason for unit in range(len(units.units)))
    return next((reason for reason in alone if reason), TIMER_FULL if most is not None else NO_WAY)


def _sums(item: Fed, cuts: Sequence[ProductCut]) -> tuple[Goals, Goals]:
    """Return the goals of a garden with its cuts, and the bound that follows from theirs."""
    fixed = item.fittings.cost_ct(item.laying.scenario) + fixed_price(item.laying.cases[0])
    laid_um = item.laying.cases[0].tube_step_um * item.tube_units
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

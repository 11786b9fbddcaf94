"""Units of a combination on their mainline: which groups of them may be zones, and what a garden so laid reaches."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from optimizer.choose.chosen import ProductCut
from optimizer.choose.evaluate import RuledOutError, fixed_price
from optimizer.choose.goals import Goals
from optimizer.choose.manybeds.combination import Combination, Trees
from optimizer.choose.manybeds.garden import Garden
from optimizer.choose.manybeds.lay import Groups, Hung, hung, laid
from optimizer.choose.manybeds.sizes import sized
from optimizer.choose.manybeds.units import Units
from optimizer.choose.manybeds.zones import Reading, reading
from optimizer.choose.reasons import TOO_MUCH_FLOW, TUBE_SHORT
from optimizer.problem.bill import laid_fittings, tube_pieces
from optimizer.problem.counts import FittingCount
from optimizer.problem.laying import SUPPLY, Laying, MainPart
from optimizer.problem.tubing import blank_tube_task, pooled_tubes
from optimizer.scenario.schema import BlankTube

_ROUNDING = 1e-9


class TimeUpError(Exception):
    """The search has lasted as long as it may."""


@dataclass(frozen=True, eq=False)
class Fed:
    """Units grouped into zones and fed.

    Args:
        goals: what they reach if tube could be cut without loss.
        laying: the garden as it is laid.
        fittings: its fittings.
        tubes: pieces of each blank tube [cutting units].
        proven: whether its mainline is proven cheapest by the metre.
        trees: how its zones get their water.
    """

    goals: Goals
    laying: Laying
    fittings: FittingCount
    tubes: dict[str, tuple[int, ...]]
    proven: bool
    trees: Trees

    @property
    def tube_units(self) -> int:
        """Length of all blank tube [cutting units]."""
        return sum(sum(units) for units in self.tubes.values())


class Feeding:
    """Units of a combination on trees of mainline."""

    def __init__(
        self,
        garden: Garden,
        combination: Combination,
        units: Units,
        lines: Sequence[ProductCut],
        effort: int,
        trees: Trees,
        straight: bool = True,
    ) -> None:
        """Prepare.

        Args:
            garden: the garden.
            combination: what is laid.
            units: its units.
            lines: how its emitter lines are cut.
            effort: how much is done for trees.
            trees: how zones get their water.
            straight: whether tube goes round elbows where that is cheaper.
        """
        self.garden, self.combination, self.units, self.lines = garden, combination, units, lines
        self.effort, self.trees, self.straight = effort, trees, straight
        mains = garden.mains(combination.kit)
        self.widest = max(mains, key=lambda tube: tube.bore)
        self.sizes = mains if len(mains) > 1 else []
        self.outdone = False
        """whether a grouping was left out because it cannot reach what was to beat"""
        self.at_the_tap = False
        """whether one was left out because its valves would stand at the tap"""
        self._readings: dict[Groups, Reading] = {}
        self._hung: dict[Groups, Hung] = {}

    def on(self, groups: Groups) -> Hung:
        """Return the units hung on mainline of the widest tube.

        Raises:
            RuledOutError: tube cannot reach one of them.
        """
        every = (tuple(range(len(self.units.units))),)
        key = every if self.trees is Trees.COMMON else groups
        if key not in self._hung:
            self._hung[key] = self._on_forked(groups) if self.trees is Trees.FORKED else self._on_trees(key)
        return self._hung[key]

    def _on_trees(self, sets: Groups) -> Hung:
        trees = [
            (members, self.garden.tree(self.combination, self.units, members, self.effort, self.straight))
            for members in sets
        ]
        return hung(self.units, trees, self.widest)

    def _on_forked(self, groups: Groups) -> Hung:
        tree = self.garden.forked(self.combination, self.units, groups, self.effort, self.straight)
        return hung(self.units, [(range(len(self.units.units)), tree)], self.widest)

    def reading(self, group: tuple[int, ...], groups: Groups = ()) -> Reading:
        """Return what a group of units does as a zone on mainline of the widest tube.

        Args:
            group: the units.
            groups: all groups of a grouping it belongs to; by itself it is read on the common tree.

        Raises:
            RuledOutError: tube cannot reach a unit.
        """
        # On a common stem what a zone does depends on the others, as its tube does.
        key = (group, *groups) if self.trees is Trees.FORKED else (group,)
        if key not in self._readings:
            self._readings[key] = self._too_much(group) or self._solved(group, groups or (group,))
        return self._readings[key]

    def _too_much(self, group: tuple[int, ...]) -> Reading | None:
        """Return the reading of a group whose units take too much even at their least, None if it may hold."""
        flow = sum(self.units.flow_m3_s(unit) for unit in group)
        usable = max(self.units.usable_m3_s(unit) for unit in group)
        return Reading(TOO_MUCH_FLOW, 0.0, 10_000) if flow > usable * (1.0 + _ROUNDING) else None

    def _solved(self, group: tuple[int, ...], groups: Groups) -> Reading:
        if self.garden.cutter.time_is_up:
            raise TimeUpError
        return reading(laid(self.units, self.on(groups), (group,)), 0)

    def groupings(self, wanted: Iterable[Groups], beat: Goals | None) -> Iterator[Fed]:
        """Yield groupings that hold all limits.

        Args:
            wanted: the groupings to look at.
            beat: goals that must be reached at least; those that cannot are left out.

        Raises:
            RuledOutError: tube cannot reach a unit.
        """
        for groups in wanted:
            if self.trees is Trees.FORKED and not self.garden.may_fork(self.combination.pattern, len(groups)):
                continue
            if self._at_the_tap(groups):
                self.at_the_tap = True
                continue
            found = self._of_sizes(groups, beat) if self.sizes else self._of_one_tube(groups, beat)
            if found is not None and self._hopeful(found, beat):
                yield found

    def together_ct(self) -> int:
        """Return what all units in one zone cost at least if tube could be cut without loss, whether it holds or not.

        Raises:
            RuledOutError: tube cannot reach a unit, or there is not enough.
        """
        every = (tuple(range(len(self.units.units))),)
        laying = laid(self.units, self.on(every), every, self._valve_per_header)
        if self.sizes:
            return self._least_ct(laying)
        found = self._at_best(laying, proven=False)
        if found is None:
            raise RuledOutError(TUBE_SHORT)
        return found.goals.money_ct

    def _at_the_tap(self, groups: Groups) -> bool:
        """Say whether valves would stand at the tap though they are wanted in the field."""
        limits = self.garden.scenario.limits
        if self.trees is Trees.OWN or len(groups) < 2 or limits.valves != "in the field" or limits.valve_per_bed:
            return False
        laying = laid(self.units, self.on(groups), groups)
        return any(laying.mainline[part].above == SUPPLY for valve in laying.valves for part in valve.parts)

    def _hopeful(self, found: Fed, beat: Goals | None) -> bool:
        if beat is None or found.goals <= beat:
            return True
        self.outdone = True
        return False

    def _of_one_tube(self, groups: Groups, beat: Goals | None) -> Fed | None:
        on = self.on(groups)
        found = self._at_best(laid(self.units, on, groups, self._valve_per_header), on.proven)
        if found is None or not self._hopeful(found, beat):
            return None
        return self._holding(found, [self.reading(group, groups) for group in groups])

    def _of_sizes(self, groups: Groups, beat: Goals | None) -> Fed | None:
        """Return a grouping with a tube chosen for each part of mainline; None if one tube does for all."""
        on = self.on(groups)
        on_widest = laid(self.units, on, groups, self._valve_per_header)
        if beat is not None and self._least_ct(on_widest) > beat.money_ct:
            self.outdone = True
            return None
        readings = [self.reading(group, groups) for group in groups]
        if not all(item.holds for item in readings):
            return None
        chosen = sized(on_widest, [item.flow_m3_s for item in readings], self.sizes)
        if chosen is None or len({part.tube.name for part in chosen.laying.mainline}) == 1:
            return None
        laying = chosen.laying
        found = self._at_best(laying, on.proven and chosen.proven)
        if found is None or not self._hopeful(found, beat):
            return None
        return self._holding(found, [reading(laying, zone) for zone in range(len(groups))])

    def _least_ct(self, on_widest: Laying) -> int:
        """Return what a garden costs at least whatever the tubes of its mainline [ct]."""
        scenario, case = self.garden.scenario, on_widest.cases[0]
        ways = [replace(on_widest, mainline=_all_of(on_widest, tube)) for tube in self.sizes]
        units = sum(piece.units for piece in tube_pieces(on_widest))
        tubes = {tube.name: tube for tube in (case.tube, *self.sizes)}
        found = self.garden.cutter.tube_bound(pooled_tubes(scenario, tuple(tubes.values()), case.tube_step_um), units)
        plans = [cut.outcome.plan for cut in self.lines if cut.outcome.plan is not None]
        fittings = min(laid_fittings(way).cost_ct(scenario) for way in ways)
        fixed = fixed_price(case) + sum(plan.money_ct for plan in plans)
        return fixed + fittings + (found.money_ct if found is not None else 0)

    @property
    def _valve_per_header(self) -> bool:
        return self.garden.scenario.limits.valve_per_bed

    @staticmethod
    def _holding(found: Fed, readings: Sequence[Reading]) -> Fed | None:
        """Return a garden with its unevenness, None if a zone breaks a limit."""
        if not all(item.holds for item in readings):
            return None
        return replace(found, goals=found.goals._replace(unevenness=max(item.unevenness for item in readings)))

    def _at_best(self, laying: Laying, proven: bool) -> Fed | None:
        """Return what a garden reaches if its tube could be cut without loss; None if there is not enough."""
        scenario, step_um = self.garden.scenario, laying.cases[0].tube_step_um
        fittings, tubes = laid_fittings(laying), dict[str, list[int]]()
        for piece in tube_pieces(laying):
            tubes.setdefault(piece.tube.name, []).append(piece.units)
        plans = [cut.outcome.plan for cut in self.lines if cut.outcome.plan is not None]
        money = fittings.cost_ct(scenario) + fixed_price(laying.cases[0]) + sum(plan.money_ct for plan in plans)
        waste = sum(plan.waste_um for plan in plans)
        for tube in scenario.blank_tubes:
            if tube.name in tubes:
                task = blank_tube_task(scenario, tube, step_um, ())
                bound = self.garden.cutter.tube_bound(task, sum(tubes[tube.name]))
                if bound is None:
                    return None
                money, waste = money + bound.money_ct, waste + bound.spent_um
        goals = Goals(
            sum(case.missing_ppm for case in laying.cases),
            money,
            waste,
            fittings.pushed + sum(plan.couplers for plan in plans),
            0,
        )
        pieces = {name: tuple(sorted(units)) for name, units in tubes.items()}
        return Fed(goals, laying, fittings, pieces, proven, self.trees)


def _all_of(laying: Laying, tube: BlankTube) -> tuple[MainPart, ...]:
    return tuple(replace(part, tube=tube) for part in laying.mainline)

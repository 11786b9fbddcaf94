"""Full enumeration of the joint choice for tiny gardens of several beds.

All patterns, kits and layouts of the blocks; every grouping of the stretches of header into zones; valves in the field
and at the tap; every way to cut. Candidates are taken in the order of a plain bound (first of what lies in the beds
alone, then of all fittings with the cheapest rolls by length), so that trees, networks and cuts are only worked out
while they can still matter.

Taken over from the product: patterns and kits, rows and headers of a block and the ways into it, how a header is cut
that may not run as a whole, the places and pieces of ground that mainline may take, and the exact network of a zone.
The referee groups, feeds, judges, counts, prices and cuts by itself.

Mainline is a tree that is cheapest by the metre of the cheapest mainline tube with covers at crossings. Of equally
cheap trees the search keeps one with few bends; which one decides fittings, and so money. The referee works out the
price of a cheapest tree itself and asks that the search's tree has it and is sound; fittings, pieces, water and money
are then compared on that same tree. The same holds for equally cheap tubes of its parts.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from enum import IntEnum
from itertools import product

from plot_bill import Laid, Part, Stretch, lateral_fittings, price, stock_of, vertices
from plot_cuts import least_price
from plot_trees import Goal, Ground, faults, tree_price
from plot_units import Groups, LaidOut, groupings, laid_out
from plot_water import Judged, as_laying, choose_by_hand, judge, per_mm, with_tubes

from optimizer.choose.evaluate import RuledOutError
from optimizer.choose.manybeds.combination import Combination
from optimizer.choose.manybeds.garden import Garden
from optimizer.choose.manybeds.sizes import sized
from optimizer.choose.manybeds.trees import Tree
from optimizer.routes.graph import RoutePrice
from optimizer.scenario.schema import BlankTube

Goals = tuple[int, int, int, int, int]
EXACT_TREE = 2


@dataclass(frozen=True)
class Found:
    """The best there is."""

    goals: Goals
    combination: Combination
    laid: Laid
    own_trees: bool


class Step(IntEnum):
    """How far a candidate is worked out."""

    COMBINATION = 0
    ZONED = 1
    HOLDS = 2
    VALUE = 3


class Waiting:
    """Candidates in the order of what they cannot beat."""

    def __init__(self) -> None:
        self.heap: list[tuple[Goals, int, Step, tuple]] = []
        self.count = 0

    def __bool__(self) -> bool:
        return bool(self.heap)

    def push(self, goals: Goals, step: Step, *held) -> None:
        """Add one."""
        self.count += 1
        heapq.heappush(self.heap, (goals, self.count, step, held))

    def pop(self) -> tuple[Goals, Step, tuple]:
        """Take the first."""
        goals, _, step, held = heapq.heappop(self.heap)
        return goals, step, held


@dataclass(eq=False)
class Enumeration:
    """All candidates of a garden in the order of their goals."""

    garden: Garden
    tree_faults: list[str] = field(default_factory=list)
    size_faults: list[str] = field(default_factory=list)
    trees_checked: int = 0
    _grounds: dict[tuple[int, RoutePrice], Ground] = field(default_factory=dict)
    _judged: dict[tuple[object, ...], Judged] = field(default_factory=dict)
    _checked: set[int] = field(default_factory=set)

    # ---------------------------------------------------------------- what there is

    def combinations(self) -> Iterator[Combination]:
        """Yield every combination."""
        for pattern, each in enumerate(self.garden.patterns):
            for kit in range(len(self.garden.kits)):
                for layouts in product(*(range(len(block.layouts)) for block in each.blocks)):
                    yield Combination(pattern, kit, layouts)

    def laid_out(self, combination: Combination) -> LaidOut | None:
        """Return a combination laid out; None if it cannot be, or is not as wanted."""
        return laid_out(self.garden, combination)

    # ---------------------------------------------------------------- mainline

    def mains(self, kit: int) -> list[BlankTube]:
        """Return the tubes of the mainline."""
        return [self.garden.scenario.blank_tubes[number] for number in self.garden.kits[kit].mains]

    def route_price(self, kit: int) -> RoutePrice:
        """Return what mainline costs: the cheapest tube by the metre, and a cover where it crosses a path."""
        cheapest = min(self.mains(kit), key=lambda tube: (per_mm(tube), tube.bore))
        return RoutePrice(per_mm(cheapest), 1000 * price(self.garden.scenario, "tube cover", cheapest.name))

    def tree(self, units: LaidOut, members: Sequence[int]) -> Tree | None:
        """Return the search's tree to some stretches, held against the referee's own price; None if out of reach."""
        try:
            tree = self.garden.tree(units.combination, units.product, members, EXACT_TREE)
        except RuledOutError:
            tree = None
        if tree is None or id(tree) not in self._checked:
            self._check(units, members, tree)
        return tree

    def _check(self, units: LaidOut, members: Sequence[int], tree: Tree | None) -> None:
        pattern, wanted = units.combination.pattern, self.route_price(units.combination.kit)
        key = pattern, wanted
        if key not in self._grounds:
            self._grounds[key] = Ground(self.garden.ways(pattern), wanted)
        ground, goals = self._grounds[key], self._goals(units, members)
        cheapest = ground.cheapest(goals)
        self.trees_checked += 1
        where = f"{self.garden.scenario.title}, {units.combination}, {tuple(members)}"
        if tree is None or cheapest is None:
            if tree is not None or cheapest is not None:
                self.tree_faults.append(f"{where}: in reach {cheapest}, {tree}")
            return
        self._checked.add(id(tree))
        shapes = self.garden.shapes
        mine = tree_price(tree, wanted, lambda points: len(shapes.crossings(points)))
        if abs(mine - cheapest) > ground.slack(goals):
            self.tree_faults.append(f"{where}: the tree costs {mine}, a cheapest {cheapest}")
        if not tree.proven:
            self.tree_faults.append(f"{where}: not proven")
        self.tree_faults += [f"{where}: {fault}" for fault in faults(tree, ground.ways, goals)]

    def _goals(self, units: LaidOut, members: Sequence[int]) -> list[Goal]:
        goals = []
        for block, header in dict.fromkeys(units.stretches[member][:2] for member in members):
            case, inlets = units.cases[block], units.product.blocks[block].inlets[header]
            own = [
                units.product.units[member].run for member in members if units.stretches[member][:2] == (block, header)
            ]
            ways = tuple((inlet.portal, inlet.vertex, inlet.length_um) for inlet in inlets)
            stretches = tuple(vertices(case, run)[:2] for run in own)
            cut = sum(each[:2] == (block, header) for each in units.stretches) > 1
            goals.append(Goal(case.layout.headers[header], ways, stretches, cut))
        return goals

    def laid(self, units: LaidOut, groups: Groups, own: bool, tube: BlankTube) -> Laid | None:
        """Return a garden on a common tree, or with a tree for each zone; None if one is out of reach."""
        sets = groups if own else (tuple(range(len(units.stretches))),)
        parts: list[Part] = []
        ends: dict[int, tuple[int, int]] = {}
        for members in sets:
            tree, first = self.tree(units, members), len(parts)
            if tree is None:
                return None
            for part in tree.parts:
                above = part.above + first if part.above >= 0 else -1
                parts.append(Part(part.points, part.length_um, part.rise_um, above, tube))
            for member, key in zip(members, sorted(tree.ends), strict=True):
                ends[member] = (tree.ends[key][0] + first, tree.ends[key][1])
        stretches = tuple(
            Stretch(where[0], units.product.units[member].run, *ends[member])
            for member, where in enumerate(units.stretches)
        )
        valves = self.garden.scenario.limits.valve_per_bed
        return Laid(self.garden.scenario, units.cases, tuple(parts), stretches, groups, valves)

    # ---------------------------------------------------------------- zones

    def zonings(self, units: LaidOut) -> Iterator[tuple[Laid, bool]]:
        """Yield every way to group and feed the stretches that is a choice, and whether each zone has its own tree.

        Where all may run together that is the only one.
        """
        every = tuple(range(len(units.stretches)))
        mains = self.mains(units.combination.kit)
        widest = max(mains, key=lambda tube: tube.bore)
        if not units.apart:
            together = self.laid(units, (every,), False, widest)
            if together is None:
                return
            if self.judged(together, 0, units, False).holds:
                yield together, False
                return
        for groups in groupings(len(every), units.apart, self.garden.scenario.most_zones):
            for own in self._modes():
                laid = self.laid(units, groups, own, widest)
                if laid is not None and not (self._off_the_tap and laid.valve_at_the_tap()):
                    yield laid, own

    @property
    def _off_the_tap(self) -> bool:
        """Whether no grouping will do whose tube for one zone alone begins at the tap."""
        limits = self.garden.scenario.limits
        return limits.valves == "in the field" and not limits.valve_per_bed

    def _modes(self) -> tuple[bool, ...]:
        limits = self.garden.scenario.limits
        if limits.valve_per_bed or limits.valves == "in the field":
            return (False,)
        return (True,) if limits.valves == "at the tap" else (False, True)

    def judged(self, laid: Laid, zone: int, units: LaidOut, own: bool) -> Judged:
        """Return what a zone does; the same on every grouping it is in."""
        members = laid.zones[zone]
        on = sorted({part for member in members for part in laid.way_to(laid.stretches[member].part)})
        key = units.combination, members, own, tuple(laid.parts[part].tube.name for part in on)
        if key not in self._judged:
            self._judged[key] = judge(laid, zone)
        return self._judged[key]

    def holding(self, laid: Laid, units: LaidOut, own: bool) -> Iterator[tuple[Laid, float]]:
        """Yield a garden with sized mainline if all its zones hold their limits, with the worst flow variation."""
        found = self._holding(laid, units, own)
        if not found:
            return
        mains = self.mains(units.combination.kit)
        if len(mains) > 1:
            chosen = self._sized(laid, [item.flow for item in found], mains)
            if chosen is None or len({part.tube.name for part in chosen.parts}) == 1:
                return  # of one tube it belongs to another kit
            laid = chosen
            found = self._holding(laid, units, own)
        if found:
            yield laid, max(item.unevenness for item in found)

    def _holding(self, laid: Laid, units: LaidOut, own: bool) -> list[Judged]:
        """Return what the zones do if all hold their limits, else nothing; the largest are asked first."""
        found: dict[int, Judged] = {}
        for zone in sorted(range(len(laid.zones)), key=lambda zone: -len(laid.zones[zone])):
            found[zone] = self.judged(laid, zone, units, own)
            if not found[zone].holds:
                return []
        return [found[zone] for zone in range(len(laid.zones))]

    def _sized(self, laid: Laid, flows: Sequence[float], mains: Sequence[BlankTube]) -> Laid | None:
        """Return a garden with tubes chosen by the search among those that are equally cheap."""
        _, choices = choose_by_hand(laid, flows, mains)
        theirs = sized(as_laying(laid), flows, mains)
        names = tuple(part.tube.name for part in theirs.laying.mainline) if theirs is not None else None
        if (names is None) != (not choices) or (names is not None and names not in choices):
            self.size_faults.append(f"{self.garden.scenario.title}, {laid.zones}: {names} is not among {choices}")
        return with_tubes(laid, names) if names is not None else None

    # ---------------------------------------------------------------- the best

    def best(self) -> Found | None:
        """Return the lexicographic optimum; None if nothing works."""
        waiting = Waiting()
        for combination in self.combinations():
            units = self.laid_out(combination)
            low = self.in_beds(units) if units is not None else None
            if low is not None:
                waiting.push(low, Step.COMBINATION, units)
        while waiting:
            goals, step, held = waiting.pop()
            if step is Step.VALUE:
                return Found(goals, *held)
            following = {Step.COMBINATION: self._zoned, Step.ZONED: self._judged_all, Step.HOLDS: self._cut}[step]
            for low, *more in following(goals, *held):
                waiting.push(low, Step(step + 1), *more)
        return None

    def _zoned(self, goals: Goals, units: LaidOut) -> Iterator[tuple]:
        """Yield the zonings of a combination, each with what it costs at least."""
        several = len(self.mains(units.combination.kit)) > 1
        for laid, own in self.zonings(units):
            low = laid.goals(exact=False)
            if several:
                yield goals, units, laid, own  # which tubes its parts get is open yet
            elif low is not None:
                yield (*low[:2], 0, 0, 0), units, laid, own

    def _judged_all(self, goals: Goals, units: LaidOut, laid: Laid, own: bool) -> Iterator[tuple]:
        for chosen, uneven in self.holding(laid, units, own):
            low = chosen.goals(exact=False)
            if low is not None:
                yield (*low, 0), units, chosen, own, uneven

    def _cut(self, goals: Goals, units: LaidOut, laid: Laid, own: bool, uneven: float) -> Iterator[tuple]:
        exact = laid.goals(exact=True)
        if exact is not None:
            yield (*exact, round(uneven)), units.combination, laid, own

    def in_beds(self, units: LaidOut) -> Goals | None:
        """Return what a combination costs at least by what lies in its beds: laterals, and headers by length alone."""
        scenario, money = self.garden.scenario, 0
        lines: dict[str, int] = {}
        for case in units.cases:
            found = lateral_fittings(case, scenario)
            money += sum(count * price(scenario, kind, name) for (kind, name), count in found.items())
            own = sum(part.spacings for lateral in case.feed.laterals for part in lateral.parts)
            lines[case.line.name] = lines.get(case.line.name, 0) + own
        for block, _, _, _ in units.stretches:
            tube = units.cases[block].tube.name
            money += price(scenario, "header end", tube)
        for name, spacings in lines.items():
            least = least_price(stock_of(scenario, name, 0), spacings)
            if least is None:
                return None
            money += least
        return sum(case.missing_ppm for case in units.cases), money, 0, 0, 0

    # ---------------------------------------------------------------- one combination

    def value(self, combination: Combination) -> Found | None:
        """Return the best of one combination; None if it does not work."""
        return min(self.values(combination), key=lambda found: found.goals, default=None)

    def values(self, combination: Combination) -> Iterator[Found]:
        """Yield every way to group, feed and cut one combination that holds its limits."""
        units = self.laid_out(combination)
        for laid, own in self.zonings(units) if units is not None else ():
            for chosen, uneven in self.holding(laid, units, own):
                exact = chosen.goals(exact=True)
                if exact is not None:
                    yield Found((*exact, round(uneven)), combination, chosen, own)

"""A garden with all that is open for it; what combinations have in common is worked out once."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import cached_property

from shapely import unary_union
from shapely.geometry import LineString, Polygon
from shapely.geometry import Point as Place
from shapely.geometry.base import BaseGeometry

from optimizer.choose.cutter import Cutter
from optimizer.choose.evaluate import RuledOutError
from optimizer.choose.judge import ZoneJudge
from optimizer.choose.manybeds.blocks import Block, Kit, Layout, Pattern
from optimizer.choose.manybeds.combination import Combination
from optimizer.choose.manybeds.forks import Branches, branches, forked
from optimizer.choose.manybeds.inlets import inlets
from optimizer.choose.manybeds.meeting import is_quick
from optimizer.choose.manybeds.sizes import metre_price_mct
from optimizer.choose.manybeds.trees import Tree
from optimizer.choose.manybeds.units import MOST_FREE, LaidBlock, Units, laid_block
from optimizer.choose.manybeds.ways import SEAM_M, Ways
from optimizer.choose.manybeds.web import FedHeader
from optimizer.choose.reasons import NO_WAY, RUN_TOO_LONG, TAIL_IN_THE_WAY, THROUGH_A_BED
from optimizer.choose.waterlimits import water_limits
from optimizer.feeds import FeedError
from optimizer.geometry import Point
from optimizer.problem.case import Case, with_tails
from optimizer.routes.graph import RoutePrice
from optimizer.routes.steiner import CAREFUL, EXACT, QUICK
from optimizer.scenario.defaults import fitting_price
from optimizer.scenario.outlines import corners
from optimizer.scenario.schema import BlankTube, Scenario
from optimizer.site import SiteShapes, site_shapes

CARE = (QUICK, CAREFUL, EXACT)
"""how much is done for a tree, for each effort of the cutter"""


@dataclass(eq=False)
class Garden:
    """Blocks, ways and trees of one scenario."""

    scenario: Scenario
    patterns: tuple[Pattern, ...]
    kits: tuple[Kit, ...]
    cutter: Cutter
    judge: ZoneJudge = field(default_factory=ZoneJudge)
    _ways: dict[int, Ways] = field(default_factory=dict)
    _blocks: dict[tuple[int, int, int, int], LaidBlock | RuledOutError] = field(default_factory=dict)
    _trees: dict[tuple[object, ...], tuple[int, tuple[Tree, Tree] | None]] = field(default_factory=dict)
    _branches: dict[tuple[object, ...], tuple[Branches, Branches] | None] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.shapes: SiteShapes = site_shapes(self.scenario)

    # ------------------------------------------------------------ products

    def mains(self, kit: int) -> list[BlankTube]:
        """Return the tubes of the mainline of a kit, the cheapest by the metre first."""
        tubes = [self.scenario.blank_tubes[index] for index in self.kits[kit].mains]
        return sorted(tubes, key=lambda tube: (metre_price_mct(tube), tube.bore))

    def price(self, kit: int) -> RoutePrice:
        """Return what mainline costs by the metre, and a cover over it where it crosses a path."""
        tube = self.mains(kit)[0]
        cover = fitting_price(self.scenario, "tube cover", tube.name)[0]
        return RoutePrice(metre_price_mct(tube), 1000 * cover)

    # ------------------------------------------------------------ blocks

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

    def block(self, pattern: int, kit: int, number: int, layout: int) -> LaidBlock:
        """Return a block worked out.

        Raises:
            RuledOutError: it cannot be laid, or some rows cannot run.
        """
        key = (pattern, kit, number, layout)
        if key not in self._blocks:
            self._blocks[key] = self._worked_out(*key)
        found = self._blocks[key]
        if isinstance(found, RuledOutError):
            raise found
        return found

    def _worked_out(self, pattern: int, kit: int, number: int, layout: int) -> LaidBlock | RuledOutError:
        try:
            case = self.case(pattern, kit, number, layout)
            why = self._in_the_way(self.patterns[pattern].blocks[number], case)
            if why:
                return RuledOutError(why)
            return laid_block(case, water_limits(case), self.judge, self.cutter)
        except RuledOutError as error:
            return error

    def _in_the_way(self, block: Block, case: Case) -> str:
        """Return why headers cannot lie as they do, or nothing: through another bed, or with an end in a raised one."""
        tail_m = self.scenario.limits.header_tail
        for number, (bed, shape) in enumerate(zip(self.scenario.beds, self._shrunk, strict=True)):
            for line in case.layout.headers if number not in block.beds else ():
                if shape.intersects(_drawn(line.points)):
                    return THROUGH_A_BED
                ends = _drawn(with_tails(line.points, tail_m, line.points))
                if (bed.raised or case.layout.raised) and shape.intersects(ends):
                    return TAIL_IN_THE_WAY
        return ""

    @cached_property
    def _shrunk(self) -> list[BaseGeometry]:
        """The beds, drawn in a little: tube may lie along their edges."""
        return [Polygon(corners(bed)).buffer(-SEAM_M) for bed in self.scenario.beds]

    def middles(self, pattern: int) -> list[Point]:
        """Return the middle of each block of a pattern [m]."""
        found = []
        for block in self.patterns[pattern].blocks:
            middle = unary_union([Polygon(corners(self.scenario.beds[bed])) for bed in block.beds]).centroid
            found.append((middle.x, middle.y))
        return found

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

    # ------------------------------------------------------------ mainline

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
        """Yield a layout with some kit: headers lie alike with all of them."""
        for kit in self.kits:
            try:
                yield block.case(layout, kit)
                return
            except FeedError:
                continue

    def tree(
        self, combination: Combination, units: Units, members: Sequence[int], effort: int, straight: bool = True
    ) -> Tree:
        """Return a tree to some units, cheap by the metre.

        Args:
            combination: what is laid.
            units: its units.
            members: those to reach.
            effort: index into `CARE`.
            straight: whether tube goes round elbows where that is cheaper; with few units it never does.

        Raises:
            RuledOutError: tube cannot reach one of them.
        """
        key = self._key(combination, units, members)
        known = self._trees.get(key)
        if known is None or (known[0] < effort and known[1] is not None and not known[1][0].proven):
            price, ways = self.price(combination.kit), self.ways(combination.pattern)
            elbow_mct, seconds = self._elbow_mct(combination, units), self.cutter.seconds_left
            known = effort, ways.trees(_fed(units, members), price, CARE[effort], seconds, elbow_mct)
            self._trees[key] = known
        if known[1] is None:
            raise RuledOutError(NO_WAY)
        return known[1][straight]

    def may_fork(self, pattern: int, zones: int) -> bool:
        """Say whether the cheapest stem to so many zones is found quickly enough to be looked at."""
        return is_quick(zones, len(self.ways(pattern).graph.nodes))

    def forked(
        self,
        combination: Combination,
        units: Units,
        groups: Sequence[tuple[int, ...]],
        effort: int,
        straight: bool = True,
    ) -> Tree:
        """Return mainline that forks before it feeds anything, with branches for each of some groups.

        Args:
            combination: what is laid.
            units: its units.
            groups: units of each zone, all of them together.
            effort: index into `CARE`.
            straight: whether tube goes round elbows where that is cheaper; with few units it never does.

        Raises:
            RuledOutError: tube cannot reach one of them, or there are too many groups.
        """
        place = _places(units)
        zones = [self._grown(combination, units, group, effort)[straight] for group in groups]
        wanted = [[place[member] for member in group] for group in groups]
        found = forked(self.ways(combination.pattern), zones, wanted, self.price(combination.kit))
        if found is None:
            raise RuledOutError(NO_WAY)
        return found

    def _grown(
        self, combination: Combination, units: Units, members: Sequence[int], effort: int
    ) -> tuple[Branches, Branches]:
        key = effort, self._key(combination, units, members)
        if key not in self._branches:
            price, ways = self.price(combination.kit), self.ways(combination.pattern)
            elbow_mct, seconds = self._elbow_mct(combination, units), self.cutter.seconds_left
            self._branches[key] = branches(ways, _fed(units, members), price, CARE[effort], seconds, elbow_mct)
        found = self._branches[key]
        if found is None:
            raise RuledOutError(NO_WAY)
        return found

    def _elbow_mct(self, combination: Combination, units: Units) -> int:
        """Return what an elbow may cost in tube that goes round; nothing for few units, whose tube is the cheapest."""
        if len(units.units) <= MOST_FREE:
            return 0
        return 1000 * fitting_price(self.scenario, "elbow", self.mains(combination.kit)[0].name)[0]

    def _key(self, combination: Combination, units: Units, members: Sequence[int]) -> tuple[object, ...]:
        """Return what mainline to some units goes by: the layouts of their blocks, whatever those of others."""
        lines = self.kits[combination.kit].lines
        fed = []
        for member in members:
            block, own = units.headers[units.units[member].header]
            fed.append((block, combination.layouts[block], own, units.units[member].run))
        return combination.pattern, lines, self.price(combination.kit), tuple(fed)


def _drawn(points: Sequence[Point]) -> BaseGeometry:
    return LineString(points) if len(points) > 1 else Place(points[0])


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


def _places(units: Units) -> list[tuple[int, int]]:
    """Return for each unit the number of its header and of its run among all that are fed."""
    runs: dict[int, int] = {}
    found = []
    for unit in units.units:
        runs[unit.header] = runs.get(unit.header, -1) + 1
        found.append((unit.header, runs[unit.header]))
    return found

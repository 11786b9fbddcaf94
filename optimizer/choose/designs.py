"""The choice set: every combination of row direction, row plan, header places, emitter line, tube and regulator."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import cached_property

from shapely import unary_union
from shapely.geometry import Polygon

from optimizer.choose.reasons import NO_WAY
from optimizer.feeds import (
    Feed,
    FeedError,
    FeedTask,
    HeaderPlace,
    HeaderVertex,
    build_feed,
    bypass_finder,
    header_places,
)
from optimizer.geometry import Frame
from optimizer.hydraulics import Fluid
from optimizer.hydraulics.assembly import HeadAssembly
from optimizer.problem.case import BlockLayout, Case, HeaderLine, approach, running_um
from optimizer.problem.water import head_assembly, scenario_fluid
from optimizer.routes.ground import NoRouteError
from optimizer.rows import RowField, RowPlan, row_field, row_plans
from optimizer.scenario.outlines import corners
from optimizer.scenario.schema import Bed, BlankTube, EmitterLine, Regulator, Scenario
from optimizer.scenario.water import may_not_share_zone
from optimizer.site import SiteShapes, row_angles, site_shapes

MOST_ROW_PLANS = 24
"""crop orders kept for each row direction"""


@dataclass(frozen=True)
class Design:
    """One combination, by indices into the lists of the choice set."""

    number: int
    """place in the stated order of designs; the lower number wins a full tie"""
    direction: int
    row_plan: int
    places: tuple[HeaderPlace, ...]
    line: int
    tube: int
    regulator: int
    shut_offs: bool = False
    """whether every lateral has a shut-off instead of the header being split into zones"""


@dataclass(frozen=True, eq=False)
class Direction:
    """Row places and row plans of one direction."""

    name: str
    angle: float
    fields: tuple[RowField, ...]
    """row places of each bed"""
    plans: tuple[RowPlan, ...]
    plans_found: int
    """different row plans before any were left out"""

    @property
    def frame(self) -> Frame:
        """The frame of the rows."""
        return self.fields[0].frame


@dataclass(eq=False)
class ChoiceSet:
    """Everything that is compared for one block of beds; feeds and headers are worked out once and kept."""

    scenario: Scenario
    beds: tuple[Bed, ...]
    shapes: SiteShapes
    directions: tuple[Direction, ...]
    fluid: Fluid
    regulators: tuple[Regulator | None, ...]
    _feeds: dict[tuple[int, int, tuple[HeaderPlace, ...], float], Feed | str] = field(default_factory=dict)
    _headers: dict[tuple[int, int, tuple[HeaderPlace, ...]], tuple[HeaderLine, ...] | str] = field(default_factory=dict)

    @cached_property
    def assemblies(self) -> tuple[HeadAssembly, ...]:
        """Head assembly with each regulator."""
        return tuple(head_assembly(self.scenario, regulator) for regulator in self.regulators)

    @cached_property
    def _tasks(self) -> dict[tuple[int, float], FeedTask]:
        tasks = {}
        grown = unary_union([Polygon(corners(bed)) for bed in self.beds])
        outline = self.shapes.site if self.shapes.site is not None else grown
        for index, direction in enumerate(self.directions):
            limits = self.scenario.limits
            find = bypass_finder(direction.frame, self.shapes, outline, limits.fitting_clearance)
            for line in self.scenario.emitter_lines:
                task = FeedTask(direction.frame, self.shapes, find, limits.shortest_row, line.spacing)
                tasks[index, line.spacing] = task
        return tasks

    @cached_property
    def lines(self) -> tuple[int, ...]:
        """Emitter lines that may be laid in all beds, by their number in the scenario."""
        every = range(len(self.scenario.emitter_lines))
        names = [line.name for line in self.scenario.emitter_lines]
        return tuple(index for index in every if all(not bed.lines or names[index] in bed.lines for bed in self.beds))

    def designs(self) -> Iterator[Design]:
        """Yield every design in the stated order."""
        number = 0
        for index, direction in enumerate(self.directions):
            for plan_index, plan in enumerate(direction.plans):
                for places in self.places(plan):
                    for line in self.lines:
                        for tube in range(len(self.scenario.blank_tubes)):
                            for regulator in range(len(self.regulators)):
                                for shut_offs in self._zonings(places):
                                    yield Design(number, index, plan_index, places, line, tube, regulator, shut_offs)
                                    number += 1

    def _zonings(self, places: Sequence[HeaderPlace]) -> tuple[bool, ...]:
        """Return whether laterals have shut-offs, in the order compared; several headers side by side have none."""
        open_to = {"split headers": (False,), "row shut-offs": (True,), "either": (False, True)}
        return open_to[self.scenario.limits.zoning] if len(places) == 1 else (False,)

    def places(self, plan: RowPlan) -> tuple[tuple[HeaderPlace, ...], ...]:
        """Return the header places compared for a row plan."""
        limits = self.scenario.limits
        return header_places(plan, limits.header_step, limits.headers_at_most) if plan.rows else ()

    def feed(self, design: Design) -> Feed:
        """Return the feed of a design.

        Raises:
            FeedError: its header place does not work.
        """
        line: EmitterLine = self.scenario.emitter_lines[design.line]
        key = (design.direction, design.row_plan, design.places, line.spacing)
        if key not in self._feeds:
            plan = self.directions[design.direction].plans[design.row_plan]
            try:
                self._feeds[key] = build_feed(self._tasks[design.direction, line.spacing], plan, design.places)
            except FeedError as error:
                self._feeds[key] = str(error)
        found = self._feeds[key]
        if isinstance(found, str):
            raise FeedError(found)
        return found

    def headers(self, design: Design, feed: Feed) -> tuple[HeaderLine, ...]:
        """Return the header lines of a design.

        Raises:
            FeedError: tube cannot reach a header.
        """
        key = (design.direction, design.row_plan, design.places)
        if key not in self._headers:
            frame = self.directions[design.direction].frame
            try:
                self._headers[key] = tuple(
                    header_line(frame, self.shapes, vertices, self.beds[0].raised) for vertices in feed.headers
                )
            except NoRouteError:
                self._headers[key] = NO_WAY
        found = self._headers[key]
        if isinstance(found, str):
            raise FeedError(found)
        return found

    def case(self, design: Design) -> Case:
        """Return a design worked out as exact lengths.

        Raises:
            FeedError: its header places do not work.
        """
        direction = self.directions[design.direction]
        feed = self.feed(design)
        headers = self.headers(design, feed)
        plan = direction.plans[design.row_plan]
        layout = BlockLayout(self.beds, direction.fields, plan, design.places, headers)
        tube: BlankTube = self.scenario.blank_tubes[design.tube]
        return Case(
            self.scenario,
            self.shapes,
            layout,
            feed,
            self.scenario.emitter_lines[design.line],
            tube,
            self.regulators[design.regulator],
            self.assemblies[design.regulator],
            self.fluid,
        )


def header_line(frame: Frame, shapes: SiteShapes, vertices: Sequence[HeaderVertex], raised_m: float) -> HeaderLine:
    """Return a header on the plan with the way of the mainline to it.

    Raises:
        NoRouteError: tube cannot reach it.
    """
    points = tuple(frame.to_plan(vertex.at) for vertex in vertices)
    keys = tuple((vertex.row, vertex.line) for vertex in vertices)
    rows = tuple(vertex.row for vertex in vertices)
    return HeaderLine(points, rows, keys, running_um(points), approach(shapes, points, raised_m))


def choice_set(scenario: Scenario, bed: Bed) -> ChoiceSet:
    """Return everything to choose among for one bed.

    Args:
        scenario: the scenario.
        bed: one of its beds.

    Raises:
        CropOrderError: the wishes about neighbours contradict each other.
    """
    shapes = site_shapes(scenario)
    index = scenario.beds.index(bed)
    choosy = {
        crop for line in scenario.emitter_lines for pair in may_not_share_zone(scenario, index, line) for crop in pair
    }
    directions = []
    for name, angle in row_angles(bed):
        rows = row_field(bed, name, angle, shapes, scenario.limits)
        plans, found = row_plans(bed, rows, scenario.site.north, MOST_ROW_PLANS, choosy)
        directions.append(Direction(name, angle, (rows,), plans, found))
    regulators: tuple[Regulator | None, ...] = scenario.supply.regulators or (None,)
    return ChoiceSet(scenario, (bed,), shapes, tuple(directions), scenario_fluid(scenario), regulators)

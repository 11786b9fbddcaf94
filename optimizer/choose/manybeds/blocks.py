"""Blocks of beds: each bed by itself, or level beds in a line that share their headers."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import combinations, islice, product

from shapely import unary_union
from shapely.geometry import Polygon

from optimizer.choose.designs import MOST_ROW_PLANS, ChoiceSet, Design, Direction, choice_set
from optimizer.feeds import FeedError, HeaderPlace
from optimizer.feeds.places import reach
from optimizer.problem.case import Case
from optimizer.problem.water import scenario_fluid
from optimizer.rows import CropOrderError, RowPlan, frame_away_from, joined_plans, row_field, row_plans
from optimizer.scenario.outlines import corners
from optimizer.scenario.schema import Bed, Scenario
from optimizer.scenario.water import crops_apart
from optimizer.site import SiteShapes, row_angles, site_shapes

GREATEST_GAP_M = 3.0
"""beds farther apart than this along a line do not share a header [m]"""

OUT_OF_LINE_M = 1.0
"""beds whose row ends differ by more than this at both ends do not share a header [m]"""

_SAME_ANGLE = 1e-6


@dataclass(frozen=True)
class Layout:
    """Rows and header places of a block, by their numbers in its choice set."""

    direction: int
    row_plan: int
    places: tuple[HeaderPlace, ...]


@dataclass(frozen=True)
class Kit:
    """What a garden is made of, by numbers in the scenario.

    Args:
        lines: emitter line of each bed.
        tube: blank tube of headers.
        mains: blank tubes the mainline may be made of; of several each stretch gets the cheapest that is wide enough.
        regulator: number among those to choose from.
    """

    lines: tuple[int, ...]
    tube: int
    mains: tuple[int, ...]
    regulator: int


@dataclass(eq=False)
class Block:
    """Beds that are laid out together, and the layouts open for them."""

    beds: tuple[int, ...]
    choices: ChoiceSet

    @cached_property
    def layouts(self) -> tuple[Layout, ...]:
        """All layouts: rows, and headers at either row ends, in the middle, or several of these."""
        return tuple(
            Layout(direction, number, places)
            for direction, each in enumerate(self.choices.directions)
            for number, plan in enumerate(each.plans)
            if plan.rows
            for places in self._places(plan)
        )

    def _places(self, plan: RowPlan) -> Iterator[tuple[HeaderPlace, ...]]:
        low, high = reach(plan)
        single = [HeaderPlace(-math.inf), HeaderPlace(round((low + high) / 2.0, 6)), HeaderPlace(math.inf)]
        yield from ((place,) for place in (single[0], single[2], single[1]))
        for size in range(2, self.choices.scenario.limits.headers_at_most + 1):
            yield from combinations(single, size)

    def case(self, layout: Layout, kit: Kit) -> Case:
        """Return a layout worked out with the products of a kit.

        Raises:
            FeedError: its headers cannot be laid.
        """
        line = kit.lines[self.beds[0]]
        return self.choices.case(
            Design(0, layout.direction, layout.row_plan, layout.places, line, kit.tube, kit.regulator)
        )


@dataclass(frozen=True, eq=False)
class Pattern:
    """A way to part the beds into blocks."""

    name: str
    blocks: tuple[Block, ...]


def patterns(scenario: Scenario) -> tuple[Pattern, ...]:
    """Return the ways to part the beds: each by itself, and for each direction beds in a line together.

    Raises:
        CropOrderError: the wishes about neighbours in a bed contradict each other.
    """
    shapes = site_shapes(scenario)
    alone = [Block((index,), choice_set(scenario, bed)) for index, bed in enumerate(scenario.beds)]
    found = [Pattern("every bed has headers of its own", tuple(alone))]
    for name, angle in _common_angles(scenario.beds) if scenario.limits.share_headers else ():
        lines = _lines_of_beds(scenario, shapes, angle)
        if not any(len(line) > 1 for line in lines):
            continue
        blocks = [
            alone[line[0]] if len(line) == 1 else Block(line, _shared_choices(scenario, shapes, line, name, angle))
            for line in lines
        ]
        if all(block.layouts for block in blocks):
            found.append(Pattern(f"beds in a line share headers, rows {name}", tuple(blocks)))
    return tuple(found)


def _common_angles(beds: Sequence[Bed]) -> list[tuple[str, float]]:
    """Return the row directions that two beds or more have in common, each once, named as in the first bed."""
    found: dict[int, tuple[str, float]] = {}
    counts: dict[int, int] = {}
    for bed in beds:
        for name, angle in row_angles(bed):
            key = round(angle / _SAME_ANGLE) % round(math.pi / _SAME_ANGLE)
            found.setdefault(key, (name, angle))
            counts[key] = counts.get(key, 0) + 1
    return [found[key] for key in found if counts[key] > 1]


def _lines_of_beds(scenario: Scenario, shapes: SiteShapes, angle: float) -> list[tuple[int, ...]]:
    """Part the beds into lines that a header can run along when their rows have one direction.

    A bed joins a line if it is level like its beds, allows the direction and the same emitter lines, follows the last
    of them across the rows within reach with no bed between, and its rows begin or end where theirs do.
    """
    beds = scenario.beds
    frame = frame_away_from(shapes.source_at, unary_union([Polygon(corners(bed)) for bed in beds]), angle)
    bounds = [frame.shape_to_frame(Polygon(corners(bed))).bounds for bed in beds]
    able = [
        not bed.raised and any(abs(math.sin(angle - other)) < _SAME_ANGLE for _, other in row_angles(bed))
        for bed in beds
    ]
    lines: list[list[int]] = []
    for index in sorted(range(len(beds)), key=lambda index: (bounds[index][1], bounds[index][0])):
        home = next((line for line in lines if able[index] and _joins(beds, bounds, able, line[-1], index)), None)
        if home is None:
            lines.append([index])
        else:
            home.append(index)
    return sorted(tuple(sorted(line)) for line in lines)


def _joins(
    beds: Sequence[Bed],
    bounds: Sequence[tuple[float, float, float, float]],
    able: Sequence[bool],
    last: int,
    following: int,
) -> bool:
    (low, _, high, top), (other_low, bottom, other_high, _) = bounds[last], bounds[following]
    in_line = min(abs(low - other_low), abs(high - other_high)) <= OUT_OF_LINE_M
    near = -1e-6 <= bottom - top <= GREATEST_GAP_M
    free = not any(
        max(low, other_low, left) < min(high, other_high, right) and top < over and under < bottom
        for left, under, right, over in bounds
    )
    return able[last] and beds[last].lines == beds[following].lines and in_line and near and free


def _shared_choices(scenario: Scenario, shapes: SiteShapes, line: Sequence[int], name: str, angle: float) -> ChoiceSet:
    """Return the choices of beds in a line whose rows have one direction and share their headers."""
    beds = tuple(scenario.beds[index] for index in line)
    frame = frame_away_from(shapes.source_at, unary_union([Polygon(corners(bed)) for bed in beds]), angle)
    fields = tuple(row_field(bed, name, angle, shapes, scenario.limits, frame) for bed in beds)
    choosy = _choosy(scenario)
    found = [
        row_plans(bed, field, scenario.site.north, MOST_ROW_PLANS, choosy[index])
        for index, bed, field in zip(line, beds, fields, strict=True)
    ]
    crops = [len(bed.crops) for bed in beds]
    joined = [
        joined_plans(plans, crops)
        for plans in islice(product(*(plans for plans, _ in found)), MOST_ROW_PLANS)
        if all(plan.rows for plan in plans)
    ]
    total = math.prod(count for _, count in found)
    direction = Direction(name, angle, fields, tuple(joined), total)
    regulators = scenario.supply.regulators or (None,)
    return ChoiceSet(scenario, beds, shapes, (direction,), scenario_fluid(scenario), regulators)


def _choosy(scenario: Scenario) -> list[set[int]]:
    """Return for each bed its crops that may not run with every crop of the garden."""
    found: list[set[int]] = [set() for _ in scenario.beds]
    for line in scenario.emitter_lines:
        for bed, crop in (place for pair in crops_apart(scenario, line) for place in pair):
            found[bed].add(crop)
    return found


def kits(scenario: Scenario) -> Iterator[Kit]:
    """Yield every choice of products: beds that allow the same lines get the same, mainline no thinner than headers."""
    names = [line.name for line in scenario.emitter_lines]
    groups = list(dict.fromkeys(bed.lines for bed in scenario.beds))
    open_to = [[index for index, name in enumerate(names) if not group or name in group] for group in groups]
    tubes = scenario.blank_tubes
    for chosen in product(*open_to):
        lines = tuple(chosen[groups.index(bed.lines)] for bed in scenario.beds)
        for tube in range(len(tubes)):
            wider = tuple(index for index in range(len(tubes)) if tubes[index].bore >= tubes[tube].bore - 1e-9)
            mains = [(index,) for index in wider] + ([wider] if len(wider) > 1 else [])
            for main in mains:
                for regulator in range(max(len(scenario.supply.regulators), 1)):
                    yield Kit(lines, tube, main, regulator)


__all__ = ["Block", "CropOrderError", "FeedError", "Kit", "Layout", "Pattern", "kits", "patterns"]

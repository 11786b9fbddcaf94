"""Pieces, fittings and money of a garden as it is laid, counted by the referee from the rules.

Taken over from the product: rows, laterals and headers of a block (`Case`), and where mainline lies.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from plot_cuts import Stock, best_cut, least_part_units, least_price

from optimizer.problem.case import Case, Run
from optimizer.scenario.schema import BlankTube, EmitterLine, Scenario

ROUGH_CT = {
    "take-off": 90, "end closure": 50, "line coupler": 70, "bypass adapter": 80, "tube coupler": 100, "tee": 150,
    "elbow": 120, "header end": 150, "zone valve": 900, "tube cover": 600, "stake": 25,
}  # fmt: skip
"""rough prices the documentation states for fittings a scenario says nothing about [ct]"""

STAKE_UM = 1_500_000
UNDER_ONE_COVER_M = 0.25
SHARP_DEG = 20.0

Place = tuple[float, float]


@dataclass(frozen=True)
class Part:
    """Mainline between two branching places; `above` is -1 at the supply."""

    points: tuple[Place, ...]
    length_um: int
    rise_um: int
    above: int
    tube: BlankTube


@dataclass(frozen=True)
class Stretch:
    """A stretch of header: its block, its rows, the part that ends at it and the vertex at which it is fed."""

    block: int
    run: Run
    part: int
    fed: int


@dataclass(frozen=True, eq=False)
class Laid:
    """A garden as it is laid: designs of the blocks, mainline, stretches of header, and the zone of each."""

    scenario: Scenario
    cases: tuple[Case, ...]
    parts: tuple[Part, ...]
    stretches: tuple[Stretch, ...]
    zones: tuple[tuple[int, ...], ...]
    valve_per_stretch: bool

    # ---------------------------------------------------------------- pieces

    @property
    def step_um(self) -> int:
        """Blank tube is cut on multiples of this."""
        step = self.scenario.limits.tube_step
        return round(step * 1e6) if step is not None else 100_000

    def units(self, length_um: float) -> int:
        """Return a length of tube in cutting units, rounded up."""
        return max(math.ceil(length_um / self.step_um - 1e-9), 1)

    def line_pieces(self) -> dict[str, list[int]]:
        """Return the pieces of every emitter line in emitter spacings."""
        found: dict[str, list[int]] = {}
        for case in self.cases:
            for lateral in case.feed.laterals:
                found.setdefault(case.line.name, []).extend(part.spacings for part in lateral.parts)
        return found

    def tube_pieces(self) -> dict[str, list[int]]:
        """Return the pieces of every blank tube in cutting units."""
        found: dict[str, list[int]] = {}
        for part in self.parts:
            found.setdefault(part.tube.name, []).append(self.units(part.length_um))
        for stretch in self.stretches:
            case = self.cases[stretch.block]
            found.setdefault(case.tube.name, []).extend(self._of_header(case, stretch))
        for case in self.cases:
            found.setdefault(case.tube.name, []).extend(self.units(way) for way in bypasses_um(case))
        return found

    def _of_header(self, case: Case, stretch: Stretch) -> list[int]:
        first, last, at = vertices(case, stretch.run)
        tail = round(self.scenario.limits.header_tail * 1e6)
        if first < stretch.fed < last:
            return [self.units(at[stretch.fed] - at[first] + tail), self.units(at[last] - at[stretch.fed] + tail)]
        return [self.units(at[last] - at[first] + 2 * tail)]

    # ---------------------------------------------------------------- fittings

    def fittings(self) -> Counter[tuple[str, str]]:
        """Return the count of every (kind, product) without couplers."""
        found: Counter[tuple[str, str]] = Counter()
        for case in self.cases:
            found += lateral_fittings(case, self.scenario)
        for stretch in self.stretches:
            found += header_fittings(self.cases[stretch.block], stretch.run, stretch.fed)
        return found + self._mainline_fittings()

    def _mainline_fittings(self) -> Counter[tuple[str, str]]:
        found: Counter[tuple[str, str]] = Counter()
        first = self.parts[0].tube.name
        leaving = [part.above for part in self.parts] + [stretch.part for stretch in self.stretches]
        for node, count in Counter(leaving).items():
            found["tee", self.parts[node].tube.name if node >= 0 else first] += count - 1
        for part in self.parts:
            found["elbow", part.tube.name] += sharp_turns(part.points) + (part.rise_um > 0)
        for tube in self._valves():
            found["zone valve", tube] += 1
        found["tube cover", first] += self._covers()
        laid = self.step_um * sum(self.units(part.length_um) for part in self.parts)
        found["stake", first] += stakes(laid)
        return found

    def _valves(self) -> list[str]:
        """Return the tube on which each valve sits: where tube begins to serve one zone alone."""
        if self.valve_per_stretch:
            return [self.cases[stretch.block].tube.name for stretch in self.stretches]
        found = []
        for zone, members in enumerate(self.zones):
            starts: dict[int, str] = {}
            for number, part in enumerate(self.parts):
                if self._behind(number) == {zone} and (part.above < 0 or self._behind(part.above) != {zone}):
                    starts.setdefault(part.above, part.tube.name)
            for member in members:
                stretch = self.stretches[member]
                if self._behind(stretch.part) != {zone}:
                    starts.setdefault(stretch.part, self.cases[stretch.block].tube.name)
            found += list(starts.values())
        return found

    def valve_at_the_tap(self) -> bool:
        """Say whether one of several zones has tube of its own right from the tap."""
        first = [number for number, part in enumerate(self.parts) if part.above < 0]
        return len(self.zones) > 1 and any(len(self._behind(number)) == 1 for number in first)

    def _behind(self, part: int) -> set[int]:
        """Return the zones with a stretch of header behind a part."""
        zone_of = {member: zone for zone, members in enumerate(self.zones) for member in members}
        return {zone_of[k] for k, stretch in enumerate(self.stretches) if part in self.way_to(stretch.part)}

    def way_to(self, part: int) -> list[int]:
        """Return a part and all that feed it."""
        found = []
        while part >= 0:
            found.append(part)
            part = self.parts[part].above
        return found

    def _covers(self) -> int:
        shapes = self.cases[0].shapes
        kept: list[tuple[str, Place]] = []
        lines = [part.points for part in self.parts] + [self.with_tails(stretch) for stretch in self.stretches]
        for line in lines:
            for name, at in shapes.crossings(tuple(line)):
                if all(name != other or math.dist(at, place) > UNDER_ONE_COVER_M for other, place in kept):
                    kept.append((name, at))
        return len(kept)

    def with_tails(self, stretch: Stretch) -> tuple[Place, ...]:
        case, tail = self.cases[stretch.block], self.scenario.limits.header_tail
        first, last, _ = vertices(case, stretch.run)
        points = case.layout.headers[stretch.run.header].points
        own = points[first : last + 1]
        if len(own) == 1:
            if len(points) == 1:
                along = (points[0], (points[0][0], points[0][1] + 1.0))
            else:
                along = points[first : first + 2] if first + 1 < len(points) else points[first - 1 : first + 1]
            dx, dy = along[1][0] - along[0][0], along[1][1] - along[0][1]
            size = math.hypot(dx, dy)
            (x, y), (ux, uy) = own[0], (dx / size * tail, dy / size * tail)
            return ((x - ux, y - uy), (x, y), (x + ux, y + uy))
        return (_beyond(own[1], own[0], tail), *own, _beyond(own[-2], own[-1], tail))

    # ---------------------------------------------------------------- money

    def fixed(self) -> tuple[int, int]:
        """Return money for fittings and head parts, and the number of fittings pushed on."""
        found, regulator = self.fittings(), self.cases[0].regulator
        money = sum(count * price(self.scenario, kind, product) for (kind, product), count in found.items())
        money += sum(part.price for part in self.scenario.supply.head_parts)
        money += regulator.price if regulator is not None and not regulator.owned else 0
        return money, sum(count for (kind, _), count in found.items() if kind not in ("stake", "tube cover"))

    def missing_ppm(self) -> int:
        """Return the missing share of the requests."""
        return sum(case.missing_ppm for case in self.cases)

    def goals(self, exact: bool) -> tuple[int, int, int, int] | None:
        """Return the first four goals; unless exact as if rolls could be cut without a loss. None if there are none."""
        money, pushed = self.fixed()
        tubes = self.tube_pieces()
        waste = self.step_um * sum(sum(units) for units in tubes.values())
        for name, pieces in (*self.line_pieces().items(), *tubes.items()):
            if not pieces:
                continue
            stock = stock_of(self.scenario, name, self.step_um)
            if exact:
                cut = best_cut(stock, tuple(sorted(pieces)))
            else:
                least = least_price(stock, sum(pieces))
                cut = None if least is None else (least, 0, 0)
            if cut is None:
                return None
            money, waste, pushed = money + cut[0], waste + cut[1], pushed + cut[2]
        return self.missing_ppm(), money, waste, pushed


def stock_of(scenario: Scenario, name: str, step_um: int) -> Stock:
    """Return what a product is cut from."""
    limits = scenario.limits
    product: EmitterLine | BlankTube = next(
        p for p in (*scenario.emitter_lines, *scenario.blank_tubes) if p.name == name
    )
    is_line = isinstance(product, EmitterLine)
    unit_um = round(product.spacing * 1e6) if isinstance(product, EmitterLine) else step_um
    return Stock(
        unit_um,
        tuple((round(roll.length * 1e6), roll.price, roll.available) for roll in product.rolls),
        tuple(round(length * 1e6) for length in product.owned),
        round(limits.usable_offcut * 1e6),
        price(scenario, "line coupler" if is_line else "tube coupler", name),
        limits.joints_per_lateral if is_line else 20,
        least_part_units(round(limits.shortest_joined_part * 1e6), unit_um),
    )


def price(scenario: Scenario, kind: str, product: str) -> int:
    """Return what one fitting costs: as stated for the product, as stated for all, else the rough price [ct]."""
    stated = [item for item in scenario.fittings if item.kind == kind]
    mine = [item.price for item in stated if product in item.fits] + [item.price for item in stated if not item.fits]
    return mine[0] if mine else ROUGH_CT[kind]


def stakes(length_um: float) -> int:
    """Return the stakes for a length of tubing."""
    return math.ceil(length_um / STAKE_UM - 1e-9) + 1


def bypasses_um(case: Case) -> list[int]:
    """Return the lengths of blank tube within laterals [um]."""
    ways = (part.bypass for lateral in case.feed.laterals for part in lateral.parts if part.bypass is not None)
    return [round(way.length_m * 1e6) for way in ways]


def vertices(case: Case, run: Run) -> tuple[int, int, Sequence[int]]:
    """Return first and last vertex of a run, and the running distance of all vertices of its header [um]."""
    line = case.layout.headers[run.header]
    mine = [vertex for vertex, row in enumerate(line.rows) if run.first <= row <= run.last]
    return mine[0], mine[-1], line.distance_um


def lateral_fittings(case: Case, scenario: Scenario) -> Counter[tuple[str, str]]:
    """Return the fittings of all laterals of a block."""
    found: Counter[tuple[str, str]] = Counter()
    line, tube, frame = case.line.name, case.tube.name, case.layout.frame
    for lateral in case.feed.laterals:
        found["take-off", line] += 1
        found["end closure", line] += 1
        found["stake", line] += stakes(sum(part.spacings for part in lateral.parts) * case.line.spacing * 1e6)
        v = case.layout.plan.rows[lateral.row].lines[lateral.line].v
        for part in lateral.parts:
            end = part.u + lateral.side * part.spacings * case.line.spacing
            crossed = len(case.shapes.crossings((frame.to_plan((part.u, v)), frame.to_plan((end, v)))))
            if part.bypass is not None:
                found["bypass adapter", line] += 2
                found["stake", tube] += stakes(part.bypass.length_m * 1e6)
                crossed += len(case.shapes.crossings(part.bypass.points))
            found["tube cover", tube] += crossed
    return found


def header_fittings(case: Case, run: Run, fed: int) -> Counter[tuple[str, str]]:
    """Return the fittings of a stretch of header."""
    tube, points = case.tube.name, case.layout.headers[run.header].points
    first, last, at = vertices(case, run)
    inside = first < fed < last
    turns = sum(sharp_turns(points[k - 1 : k + 2]) for k in range(first + 1, last) if k != fed)
    return Counter(
        {
            ("tee" if inside else "elbow", tube): 1 + (0 if inside else turns),
            **({("elbow", tube): turns} if inside else {}),
            ("header end", tube): 2 if inside else 1,
            ("stake", tube): stakes(at[last] - at[first]),
        }
    )


def sharp_turns(points: Sequence[Place]) -> int:
    """Return how often a tube turns by more than 20 degrees, which takes an elbow."""
    apart = [points[0]]
    for point in points[1:]:
        if math.dist(point, apart[-1]) >= 1e-3:
            apart.append(point)
    count = 0
    for (ax, ay), (bx, by), (cx, cy) in zip(apart, apart[1:], apart[2:], strict=False):
        (ux, uy), (vx, vy) = (bx - ax, by - ay), (cx - bx, cy - by)
        cosine = (ux * vx + uy * vy) / (math.hypot(ux, uy) * math.hypot(vx, vy))
        count += cosine < math.cos(math.radians(SHARP_DEG)) - 1e-9
    return count


def _beyond(a: Place, b: Place, length: float) -> Place:
    """Return the place behind b on the line from a."""
    reach = math.dist(a, b)
    return (b[0] + (b[0] - a[0]) * length / reach, b[1] + (b[1] - a[1]) * length / reach)

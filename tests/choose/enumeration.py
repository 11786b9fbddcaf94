"""Full enumeration of the main choice for one tiny bed.

Every direction, row plan, header place, emitter line, blank tube and regulator; every split of the rows into zones of
neighbouring rows; every way to cut. Candidates are taken in the order of a plain bound (fittings exactly, the cheapest
rolls by length), so that cutting and the network of a zone are only worked out while they can still matter.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise, product

from referee_cuts import Cut, best_cut, least_price
from referee_layout import Layout, NoLayoutError, header_places, lay_out
from referee_water import BREAKS, EDGE, HOLDS, Water, assembly, stands

from optimizer.rows import row_field, row_plans
from optimizer.scenario.schema import Scenario
from optimizer.site import row_angles, site_shapes

Zones = tuple[tuple[tuple[int, int], ...], ...]
OPEN: Zones = ()
"""no split: the rows of one whole header are opened by hand, any of them together"""
Four = tuple[int, int, int, int]


@dataclass(frozen=True)
class Found:
    """The best of one way of reading figures on the edge of a limit."""

    goals: Four
    unevenness: float
    """least flow variation among all with these goals, in hundredths of a per cent"""
    layout: Layout
    zones: Zones


@dataclass(frozen=True)
class Optimum:
    """Best when figures on the edge break their limit, and when they hold; the same where none matters."""

    strict: Found | None
    loose: Found | None
    designs: int

    @property
    def clear(self) -> bool:
        """Whether nothing hangs on a figure on the edge."""
        if self.strict is None or self.loose is None:
            return self.strict is self.loose
        near = abs(self.strict.unevenness - self.loose.unevenness) < 1e-9
        return self.strict.goals == self.loose.goals and near


def layouts(scenario: Scenario) -> Iterator[Layout]:
    """Yield every design that can be laid out."""
    bed, shapes, limits = scenario.beds[0], site_shapes(scenario), scenario.limits
    regulators = scenario.supply.regulators or (None,)
    for name, angle in row_angles(bed):
        field = row_field(bed, name, angle, shapes, limits)
        for plan in row_plans(bed, field, scenario.site.north, 24)[0]:
            places = header_places(plan, limits.header_step, limits.headers_at_most) if plan.rows else []
            for chosen in product(places, scenario.emitter_lines, scenario.blank_tubes, regulators):
                try:
                    yield lay_out(scenario, shapes, field, plan, chosen[0], chosen[1:])
                except NoLayoutError:
                    continue


def splits(layout: Layout) -> Iterator[Zones]:
    """Yield every split of the rows of every header into zones of neighbouring rows that may run together."""
    crops = layout.bed.crops
    alone = [row.crop if crops[row.crop].own_zone else -1 for row in layout.plan.rows]
    rows = len(alone)
    ways = []
    for cuts in product((False, True), repeat=rows - 1):
        edges = [0, *(index + 1 for index, cut in enumerate(cuts) if cut), rows]
        zones = tuple((a, b - 1) for a, b in pairwise(edges))
        if all(len(set(alone[a : b + 1])) == 1 for a, b in zones):
            ways.append(zones)
    most = layout.scenario.limits.zones_at_most
    for chosen in product(ways, repeat=len(layout.headers)):
        if most is None or sum(len(zones) for zones in chosen) <= most:
            yield chosen


def partitions(rows) -> Iterator[tuple[tuple[int, ...], ...]]:
    """Yield every grouping of rows."""
    rows = tuple(rows)
    if not rows:
        yield ()
        return
    for rest in partitions(rows[1:]):
        yield ((rows[0],), *rest)
        for index, group in enumerate(rest):
            yield (*rest[:index], (rows[0], *group), *rest[index + 1 :])


class Enumeration:
    """All candidates of a scenario in the order of their goals."""

    def __init__(self, scenario: Scenario) -> None:
        self.scenario = scenario
        self.heap: list[tuple[Four, int, bool, Layout, Zones]] = []
        self.waters: dict[int, Water] = {}
        self.lines: dict[int, Cut] = {}
        self.standing: dict[int, int] = {}
        self.count = self.designs = 0
        for layout in layouts(scenario):
            self._add(layout)

    def _add(self, layout: Layout) -> None:
        longest = layout.line.longest_run
        spacings = max(sum(part.spacings for part in lateral.parts) for lateral in layout.laterals)
        stand = stands(layout, assembly(self.scenario, layout.regulator))
        if (longest is not None and spacings * layout.line.spacing > longest + 1e-6) or stand == BREAKS:
            return
        line = best_cut(layout.shelf("line"), layout.line_pieces())
        if line is None:
            return
        self.designs += 1
        self.waters[id(layout)], self.lines[id(layout)], self.standing[id(layout)] = Water(layout), line, stand
        for zones in self._zonings(layout):
            pieces = layout.tube_pieces(zones)
            price = least_price(layout.shelf("tube"), sum(pieces))
            if price is not None:
                self._push(self._goals(layout, zones, pieces, (price, 0, 0)), False, layout, zones)

    def _zonings(self, layout: Layout) -> Iterator[Zones]:
        if self.scenario.limits.zoning != "row shut-offs" or len(layout.headers) > 1:
            yield from splits(layout)
        else:  # where all rows may run together none needs a shut-off
            yield from (zones for zones in splits(layout) if zones == layout.whole)
        if self.scenario.limits.zoning != "split headers" and len(layout.headers) == 1:
            yield OPEN

    def _push(self, goals: Four, exact: bool, layout: Layout, zones: Zones) -> None:
        self.count += 1
        heapq.heappush(self.heap, (goals, self.count, exact, layout, zones))

    def _goals(self, layout: Layout, zones: Zones, pieces: tuple[int, ...], tube: Cut) -> Four:
        line, fittings = self.lines[id(layout)], layout.fittings(zones)
        pushed = sum(count for (kind, _), count in fittings.items() if kind not in ("stake", "tube cover"))
        money = layout.fitting_money(fittings) + layout.head_money() + line[0] + tube[0]
        waste = line[1] + tube[1] + layout.step_um * sum(pieces)
        return layout.missing_ppm(), money, waste, pushed + line[2] + tube[2]

    def exact_goals(self, layout: Layout, zones: Zones) -> Four | None:
        """Return the first four goals of a split with its tube cut; None if the tube cannot be cut."""
        pieces = layout.tube_pieces(zones)
        tube = best_cut(layout.shelf("tube"), pieces)
        return None if tube is None else self._goals(layout, zones, pieces, tube)

    def readings(self, layout: Layout, zones: Zones) -> dict[int, float]:
        """Return the readings of figures on the edge under which zones hold, each with the flow variation then."""
        if zones == OPEN:
            return self._open_readings(layout)
        verdict, uneven = self._verdict(layout, zones)
        return dict.fromkeys(range(verdict, EDGE + 1), uneven)

    def _open_readings(self, layout: Layout) -> dict[int, float]:
        """Return the same for the fewest groups of rows, of these the most even, among all groupings."""
        water, found = self.waters[id(layout)], {}
        most = self.scenario.limits.zones_at_most or len(layout.plan.rows)
        for reading in range(self.standing[id(layout)], EDGE + 1):
            tries = []
            for groups in partitions(range(len(layout.plan.rows))):
                if all(self._may_share(layout, group) for group in groups):
                    judged = [water.judge_open(frozenset(group)) for group in groups]
                    if max(item.verdict for item in judged) <= reading:
                        tries.append((len(groups), max(item.unevenness for item in judged)))
            if tries and 1 < min(tries)[0] <= most:
                found[reading] = min(tries)[1]
        return found

    def _may_share(self, layout: Layout, group: tuple[int, ...]) -> bool:
        crops = layout.bed.crops
        marks = {layout.plan.rows[row].crop if crops[layout.plan.rows[row].crop].own_zone else -1 for row in group}
        return len(marks) == 1

    def _verdict(self, layout: Layout, zones: Zones) -> tuple[int, float]:
        """Return the worst verdict of the zones of a split and its flow variation."""
        water, worst, uneven = self.waters[id(layout)], self.standing[id(layout)], 0.0
        for header, runs in enumerate(zones):
            for zone in runs:
                found = water.judge(header, zone)
                worst, uneven = max(worst, found.verdict), max(uneven, found.unevenness)
                if worst == BREAKS:
                    return worst, uneven
        return worst, uneven

    def optimum(self) -> Optimum:
        """Return the lexicographic optimum."""
        best: dict[int, Found | None] = {HOLDS: None, EDGE: None}
        while self.heap:
            goals, _, exact, layout, zones = heapq.heappop(self.heap)
            strict = best[HOLDS]
            if strict is not None and goals > strict.goals:
                break
            readings = self.readings(layout, zones)
            if not readings:
                continue
            if not exact:
                value = self.exact_goals(layout, zones)
                if value is not None:
                    self._push(value, True, layout, zones)
                continue
            for reading, uneven in readings.items():
                known = best[reading]
                if known is None or (goals, uneven) < (known.goals, known.unevenness):
                    best[reading] = Found(goals, uneven, layout, zones)
        return Optimum(best[HOLDS], best[EDGE], self.designs)

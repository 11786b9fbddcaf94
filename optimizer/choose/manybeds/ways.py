"""Mainline from the supply to the headers of all beds: cheapest trees of tube over the ground between them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace

import shapely
from shapely.geometry import Point as Place
from shapely.geometry import Polygon

from optimizer.choose.manybeds.meeting import Meeting, every_last, every_price, is_quick
from optimizer.choose.manybeds.trees import Tree
from optimizer.choose.manybeds.web import FedHeader, Way, Web
from optimizer.geometry import Point
from optimizer.routes.graph import GroundGraph, IntArray, RoutePrice
from optimizer.routes.ground import GardenPath, Ground
from optimizer.routes.network import FAR, distances
from optimizer.routes.steiner import QUICK, Care, cheap_edges, cheapest_edges, lean_edges, least_cost, surveyed
from optimizer.routes.visibility import reached_graph
from optimizer.scenario.outlines import corners
from optimizer.scenario.schema import Scenario
from optimizer.site import SiteShapes

STRETCH = 1.02
"""ways over the ground with few edges are no more than so many times dearer"""

SEAM_M = 0.005
"""beds are drawn in by this, so that tube may lie between two that touch [m]"""

_COARSE_M = 0.02


def tube_ground(scenario: Scenario, shapes: SiteShapes, portals: Sequence[Point]) -> Ground:
    """Return what mainline must respect: it stays off beds, obstacles and barriers, and crosses paths straight.

    If the supply stands on the plot mainline stays on it. A bed in which the supply stands is no hindrance.

    Args:
        scenario: the scenario.
        shapes: its site.
        portals: places on bed edges that mainline leads to [m].
    """
    source = Place(shapes.source_at)
    beds = [Polygon(corners(bed)) for bed in scenario.beds]
    shut = [bed.buffer(-SEAM_M, join_style="mitre") for bed in beds if not bed.contains(source)]
    kept = [*portals, shapes.source_at]
    obstacles = [_coarse(part, kept) for part in shapely.get_parts(shapes.no_tube)]
    region = shapes.site if shapes.site is not None and shapes.site.covers(source) else None
    return Ground(
        keep_outs=tuple(part for shape in (*shut, *obstacles) for part in shapely.get_parts(shape)),
        barriers=tuple(shapely.get_parts(shapes.barriers)),
        paths=tuple(GardenPath(name, outline) for name, outline in shapes.paths),
        region=region,
        smallest_corner_rad=0.0,
    )


def _coarse(shape: Polygon, kept: Sequence[Point]) -> Polygon:
    """Return a round obstacle with few corners around it, unless that covers a place tube must reach."""
    coarse = shape.convex_hull.simplify(_COARSE_M).buffer(_COARSE_M * 1.05, quad_segs=1, join_style="mitre")
    few = len(coarse.exterior.coords) < len(shape.exterior.coords)
    return coarse if few and not any(coarse.covers(Place(at)) for at in kept) else shape


@dataclass(frozen=True)
class GroundSurvey:
    """What a relaxation says of the ground for some ways into each block.

    Args:
        blocks: the ways into each block.
        least: what mainline that ends at one way into each of them costs at least [mct].
    """

    blocks: tuple[frozenset[Way], ...]
    least: int

    def holds_for(self, blocks: Sequence[Sequence[Way]]) -> bool:
        """Say whether other ways are all among these."""
        return len(blocks) == len(self.blocks) and all(
            every.issuperset(some) for every, some in zip(self.blocks, blocks, strict=True)
        )


@dataclass(eq=False)
class Ways:
    """The ground graph of one way to part the beds, and trees on it."""

    graph: GroundGraph
    source: Point
    nodes: dict[Point, int]
    """node of each portal that can be reached"""
    surveys: list[GroundSurvey] = field(default_factory=list)
    lean: Ways | None = None
    """the same with the few edges among which cheap trees probably are; None until the ground was surveyed"""
    core: frozenset[int] = frozenset()
    """edges of the graph among which cheap trees probably are"""
    _far: dict[RoutePrice, int] = field(default_factory=dict)
    _costs: dict[RoutePrice, IntArray] = field(default_factory=dict)
    _prices: dict[RoutePrice, IntArray] = field(default_factory=dict)
    _lasts: dict[RoutePrice, IntArray] = field(default_factory=dict)

    @classmethod
    def over(cls, scenario: Scenario, shapes: SiteShapes, portals: Iterable[Point]) -> Ways:
        """Return the ways over a site to places on the edges of its beds.

        Raises:
            GroundError: the supply stands where tube may not lie.
        """
        places = list(dict.fromkeys(portals))
        graph, numbers = reached_graph(tube_ground(scenario, shapes, places), shapes.source_at, places)
        nodes = {place: node for place, node in zip(places, numbers, strict=True) if node is not None}
        return cls(graph, shapes.source_at, nodes)

    def _leaned(self, core: frozenset[int]) -> Ways:
        """Return the ways with a core of edges, and few others that lead to all places."""
        kept = sorted(core.union(lean_edges(self.graph, self.costs(RoutePrice()), STRETCH)))
        graph = replace(self.graph, edges=tuple(self.graph.edges[edge] for edge in kept))
        return Ways(graph, self.source, self.nodes, core=frozenset(k for k, edge in enumerate(kept) if edge in core))

    @property
    def quick(self) -> Ways:
        """The ways on which trees are found quickly."""
        return self if self.lean is None else self.lean

    def web(self, price: RoutePrice) -> Web:
        """Return the ground with nothing hung into it yet."""
        return Web(self.graph, self.source, self.nodes, self.costs(price), self.farthest(price), price)

    # ------------------------------------------------------------ trees

    def trees(
        self,
        headers: Sequence[FedHeader],
        price: RoutePrice,
        care: Care,
        seconds: float | None = None,
        elbow_mct: int = 0,
    ) -> tuple[Tree, Tree] | None:
        """Return a tree to some headers, cheap by the metre, and the same with fewer elbows; None if out of reach.

        Args:
            headers: the headers.
            price: of tube and crossings.
            care: how much is done to find a cheapest one.
            seconds: how long a relaxation may take at most; None for as long as it takes.
            elbow_mct: what an elbow may cost in tube that goes round without it; 0 for the same tree twice [mct].
        """
        if care is QUICK and self.lean is not None:
            return self.lean.trees(headers, price, care, None, elbow_mct)
        web = self.web(price)
        wanted = [(number, run) for number, header in enumerate(headers) for run in range(len(header.runs))]
        for number, header in enumerate(headers):
            web.add_header(number, header)
        terminals = [web.add_terminal(headers[number], number, run) for number, run in wanted]
        if any(not web.links[terminal] for terminal in terminals):
            return None
        graph = web.graph(terminals)
        found = cheapest_edges(graph, web.costs(), care, seconds, web.with_ground(self.core))
        plain = web.tree(found.edges, wanted, terminals, found.cost == found.bound)
        if not elbow_mct:
            return plain, plain
        straighter = web.straighter(graph, found.edges, elbow_mct)
        # By the metre a tree that goes round elbows is not the cheapest any more, and nothing else is proven of it.
        same = set(straighter) == set(found.edges)
        return plain, web.tree(straighter, wanted, terminals, same and found.cost == found.bound)

    def least(self, blocks: Sequence[Sequence[Way]], seconds: float | None = None) -> int | None:
        """Return how long mainline that ends at one way into each block is at least; None if a block is out of reach.

        The first question about many blocks surveys the ground.

        Args:
            blocks: the ways into each block.
            seconds: how long a survey may take at most; None for as long as it takes.
        """
        if not self.reaches(blocks):
            return None
        price = RoutePrice()
        if is_quick(len(blocks), len(self.graph.nodes)):
            return self._meeting(blocks, price).least
        web, terminals = self.linked(blocks, price)
        least = least_cost(web.graph(terminals), web.costs()) - len(terminals) * web.apart
        if not any(survey.holds_for(blocks) for survey in self.surveys):
            self.surveys.append(self._survey(blocks, seconds))
        return max([least, *(survey.least for survey in self.surveys if survey.holds_for(blocks))])

    def _survey(self, blocks: Sequence[Sequence[Way]], seconds: float | None) -> GroundSurvey:
        web, terminals = self.linked(blocks, RoutePrice())
        found = surveyed(web.graph(terminals), web.costs(), seconds)
        self.lean = self._leaned(frozenset(web.ground_edges(found.core)))
        least = found.bound - len(terminals) * web.apart
        return GroundSurvey(tuple(frozenset(ways) for ways in blocks), least)

    def entered(self, blocks: Sequence[Sequence[Way]], price: RoutePrice) -> tuple[int, ...] | None:
        """Return the way into each block that cheap mainline takes, by its number; None if a block is out of reach.

        Args:
            blocks: the ways into each block.
            price: of tube and crossings.
        """
        if not self.reaches(blocks):
            return None
        if is_quick(len(blocks), len(self.graph.nodes)):
            return self._meeting(blocks, price).ways()
        web, terminals = self.quick.linked(blocks, price)
        core = web.with_ground(self.quick.core)
        taken = web.taken(cheap_edges(web.graph(terminals), web.costs(), QUICK, None, core).edges)
        return tuple(taken[terminal] for terminal in terminals)

    def reaches(self, blocks: Sequence[Sequence[Way]]) -> bool:
        """Say whether tube can reach every block."""
        return all(any(way.portal in self.nodes for way in ways) for ways in blocks)

    def _meeting(self, blocks: Sequence[Sequence[Way]], price: RoutePrice) -> Meeting:
        ends = [[(self.nodes.get(way.portal), way.behind_mct) for way in ways] for ways in blocks]
        return Meeting(self.every_price_for(price), self.graph.source, ends)

    def linked(self, blocks: Sequence[Sequence[Way]], price: RoutePrice) -> tuple[Web, list[int]]:
        """Return the ground with a terminal for each block hung in, and these terminals."""
        web = self.web(price)
        terminals = [web.new_node() for _ in blocks]
        for terminal, ways in zip(terminals, blocks, strict=True):
            for number, way in enumerate(ways):
                if way.portal in self.nodes:
                    web.link(self.nodes[way.portal], terminal, way.behind_mct, number)
        return web, terminals

    def every_price_for(self, price: RoutePrice) -> IntArray:
        """Return the price of the cheapest way between all places, shape (nodes, nodes) [mct]."""
        if price not in self._prices:
            self._prices[price] = every_price(len(self.graph.nodes), self.graph.ends, self.costs(price))
        return self._prices[price]

    def every_last_for(self, price: RoutePrice) -> IntArray:
        """Return the place before the last on the cheapest way between all places, shape (nodes, nodes)."""
        if price not in self._lasts:
            self._lasts[price] = every_last(self.every_price_for(price), self.graph.ends, self.costs(price))
        return self._lasts[price]

    def costs(self, price: RoutePrice) -> IntArray:
        """Return the price of every edge of the ground graph [mct]."""
        if price not in self._costs:
            self._costs[price] = self.graph.costs(price)
        return self._costs[price]

    def farthest(self, price: RoutePrice) -> int:
        """Return the price of the dearest of all cheapest ways from the supply [mct]."""
        if price not in self._far:
            away, _ = distances(self.graph.neighbours, self.costs(price), [self.graph.source])
            self._far[price] = max(cost for cost in away if cost < FAR)
        return self._far[price]

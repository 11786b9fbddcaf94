"""Mainline that forks before it feeds anything: a stem to every zone, and behind each fork a tree of one zone alone."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from optimizer.choose.manybeds.meeting import Leg, Meeting, is_quick
from optimizer.choose.manybeds.trees import Grown, GrownAlone, Tree, WayPart
from optimizer.choose.manybeds.ways import Ways
from optimizer.choose.manybeds.web import FedHeader, Way
from optimizer.routes.graph import RoutePrice
from optimizer.routes.shortest import cheapest_walk
from optimizer.routes.steiner import QUICK, Care, cheap_edges, cheapest_edges

Wanted = Sequence[tuple[int, int]]
"""(header, run) of all that a zone feeds"""


Branches = Grown | GrownAlone
"""mainline to all that a zone feeds, wherever its stem comes from"""


def branches(
    ways: Ways,
    headers: Sequence[FedHeader],
    price: RoutePrice,
    care: Care,
    seconds: float | None = None,
    elbow_mct: int = 0,
) -> tuple[Branches, Branches] | None:
    """Return cheap mainline to all runs of some headers, wherever its stem comes from, and the same with fewer elbows.

    Args:
        ways: the ways over the site.
        headers: the headers of a zone.
        price: of tube and crossings.
        care: how much is done to find the cheapest.
        seconds: how long a relaxation may take at most; None for as long as it takes.
        elbow_mct: what an elbow may cost in tube that goes round without it; 0 for the same twice [mct].

    Returns:
        None if one is out of reach.
    """
    if care is QUICK:
        ways = ways.quick
    web = ways.web(price)
    for number, header in enumerate(headers):
        web.add_header(number, header)
    terminals = [
        web.add_terminal(header, number, run)
        for number, header in enumerate(headers)
        for run in range(len(header.runs))
    ]
    if any(not web.links[terminal] for terminal in terminals):
        return None
    if len(terminals) == 1:
        alone = web.grown_alone(terminals[0])
        return alone, alone
    graph = replace(web.graph(terminals[1:]), source=terminals[0])
    edges = cheapest_edges(graph, web.costs(), care, seconds, web.with_ground(ways.core)).edges
    plain = web.grown(edges, terminals)
    return plain, web.grown(web.straighter(graph, edges, elbow_mct), terminals) if elbow_mct else plain


def forked(ways: Ways, zones: Sequence[Branches], wanted: Sequence[Wanted], price: RoutePrice) -> Tree | None:
    """Return mainline on which every zone has one valve: their branches, and the cheapest stem to all of them.

    Args:
        ways: the ways over the site.
        zones: branches of each zone.
        wanted: what each zone feeds.
        price: of tube and crossings.

    Returns:
        None if there are too many zones.
    """
    if not is_quick(len(zones), len(ways.graph.nodes)):
        return None
    ends = [zone.stems for zone in zones]
    legs = Meeting(ways.every_price_for(price), ways.graph.source, ends).legs()
    return _joined(_stem(ways, legs, price), legs, zones, wanted)


@dataclass(frozen=True)
class Entered:
    """Cheap branches of mainline into some blocks, wherever their stem comes from.

    Args:
        cost_mct: what they cost.
        taken: the way into each block, by its number; empty for a block alone, which its stem enters.
        ends: places at which a stem may come to them, with the price of what lies behind [mct].
    """

    cost_mct: int
    taken: tuple[int, ...]
    ends: tuple[tuple[int | None, int], ...]


def entered_together(ways: Ways, blocks: Sequence[Sequence[Way]], price: RoutePrice) -> Entered:
    """Return cheap branches into some blocks.

    Args:
        ways: the ways over the site.
        blocks: the ways into each block, one of them at least within reach.
        price: of tube and crossings.
    """
    if len(blocks) == 1:
        return Entered(0, (), tuple((ways.nodes.get(way.portal), way.behind_mct) for way in blocks[0]))
    web, terminals = ways.quick.linked(blocks, price)
    graph = replace(web.graph(terminals[1:]), source=terminals[0])
    found = cheap_edges(graph, web.costs(), QUICK, None, web.with_ground(ways.quick.core))
    taken = web.taken(found.edges)
    return Entered(
        found.cost - len(blocks) * web.apart,
        tuple(taken[terminal] for terminal in terminals),
        tuple((node, 0) for node in web.entries(found.edges)),
    )


def with_stem(ways: Ways, groups: Sequence[Entered], price: RoutePrice) -> tuple[int, list[tuple[int, ...]]] | None:
    """Return what groups of blocks cost with a stem to each of them [mct], and the ways taken into their blocks.

    Args:
        ways: the ways over the site.
        groups: branches of each group.
        price: of tube and crossings.

    Returns:
        None if there are too many groups.
    """
    if not is_quick(len(groups), len(ways.graph.nodes)):
        return None
    meeting = Meeting(ways.every_price_for(price), ways.graph.source, [group.ends for group in groups])
    taken = [group.taken or (way,) for group, way in zip(groups, meeting.ways(), strict=True)]
    return meeting.least + sum(group.cost_mct for group in groups), taken


def _stem(ways: Ways, legs: Sequence[Leg], price: RoutePrice) -> list[WayPart]:
    """Return the legs of a stem as parts of mainline; those of no length are left in, for their numbers."""
    places = ways.web(price).places
    edges, costs = ways.graph.edges, ways.costs(price)
    found = []
    for leg in legs:
        points, length_mm, at = [places[leg.start]], 0, leg.start
        for number in cheapest_walk(ways.graph, costs, leg.start, leg.end):
            edge = edges[number]
            at = edge.end if edge.start == at else edge.start
            points.append(places[at])
            length_mm += edge.length_mm
        found.append(WayPart(tuple(points), 1000 * length_mm, 0, leg.above))
    return found


def _joined(stem: Sequence[WayPart], legs: Sequence[Leg], zones: Sequence[Branches], wanted: Sequence[Wanted]) -> Tree:
    """Return stem and branches as one tree."""
    parts: list[WayPart] = []
    new = {-1: -1}
    for number, part in enumerate(stem):
        if part.length_um:
            parts.append(replace(part, above=new[part.above]))
            new[number] = len(parts) - 1
        else:
            new[number] = new[part.above]
    ends: dict[tuple[int, int], tuple[int, int]] = {}
    for number, leg in enumerate(legs):
        if leg.block is not None:
            first, above = len(parts), new[number]
            tree = zones[leg.block].tree(leg.end, wanted[leg.block], proven=False)
            parts += [replace(part, above=part.above + first if part.above >= 0 else above) for part in tree.parts]
            ends |= {key: (part + first, vertex) for key, (part, vertex) in tree.ends.items()}
    return Tree(tuple(parts), ends, proven=False)

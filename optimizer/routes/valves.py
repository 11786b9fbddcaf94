"""Valves at the tap with a tube for each zone, or valves in the field on one common tube: what each takes and costs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from optimizer.routes.graph import GroundGraph, RoutePrice
from optimizer.routes.result import RouteTree, Status
from optimizer.routes.steiner import cheapest_tree


@dataclass(frozen=True)
class ValvePrice:
    """What zone valves cost where they may stand.

    Args:
        at_tap_mct: A valve beside the tap, with its share of the box [mct].
        in_field_mct: A valve in the field, with its box [mct].
        wire_mct_per_mm: Wire laid beside the common tube; 0 for valves with their own battery [mct/mm].
    """

    at_tap_mct: int
    in_field_mct: int
    wire_mct_per_mm: int = 0


@dataclass(frozen=True)
class ValveLayout:
    """One way of placing the valves.

    Args:
        trees: Tubes laid: one tree a zone in the order of zone names, or a single common one.
        valves: Number of valves.
        wire_mm: Length of wire [mm].
        cost_mct: Tube, crossings, valves and wire [mct].
        bound_mct: No layout of this kind on these lines costs less [mct].
    """

    trees: tuple[RouteTree, ...]
    valves: int
    wire_mm: int
    cost_mct: int
    bound_mct: int

    @property
    def length_mm(self) -> int:
        """Tube laid [mm]."""
        return sum(tree.length_mm for tree in self.trees)

    @property
    def crossings(self) -> int:
        """Crossings of paths; tubes of different zones count one by one."""
        return sum(len(tree.crossings) for tree in self.trees)

    @property
    def proven(self) -> bool:
        """Whether every tree was proven cheapest."""
        return all(tree.status is Status.PROVEN for tree in self.trees)


@dataclass(frozen=True)
class ValveComparison:
    """Both layouts of the same zones."""

    at_tap: ValveLayout
    in_field: ValveLayout


def compare_valves(graph: GroundGraph, zones: Sequence[str], price: RoutePrice, valve: ValvePrice) -> ValveComparison:
    """Lay the tubes both ways, each as cheaply as it can be done.

    At the tap every zone needs one valve and a tube of its own to all its terminals. In the field one tube serves all
    and every terminal has its valve. The wire follows the common tube, and is laid only if it has a price.

    Args:
        graph: The candidate graph.
        zones: Zone of each of the graph's terminals.
        price: What tube and crossings cost.
        valve: What valves and wire cost.

    Returns:
        The two layouts.

    Raises:
        ValueError: There is not one zone a terminal.
    """
    if len(zones) != len(graph.terminals):
        raise ValueError(f"{len(graph.terminals)} terminals need as many zones, not {len(zones)}")
    own = tuple(cheapest_tree(_only(graph, zones, zone), price) for zone in sorted(set(zones)))
    # wire is priced like tube, by the millimetre of the same tree, so both are minimised together
    with_wire = replace(price, tube_mct_per_mm=price.tube_mct_per_mm + valve.wire_mct_per_mm)
    common = cheapest_tree(graph, with_wire)
    return ValveComparison(
        _layout(own, len(own) * valve.at_tap_mct, len(own), 0),
        _layout(
            (common,),
            len(zones) * valve.in_field_mct,
            len(zones),
            common.length_mm if valve.wire_mct_per_mm else 0,
        ),
    )


def _layout(trees: tuple[RouteTree, ...], valves_mct: int, valves: int, wire_mm: int) -> ValveLayout:
    cost = sum(tree.cost_mct for tree in trees) + valves_mct
    bound = sum(tree.bound_mct for tree in trees) + valves_mct
    return ValveLayout(trees, valves, wire_mm, cost, bound)


def _only(graph: GroundGraph, zones: Sequence[str], zone: str) -> GroundGraph:
    """The same ground with the terminals of one zone."""
    terminals = tuple(t for t, name in zip(graph.terminals, zones, strict=True) if name == zone)
    return GroundGraph(graph.frame, graph.nodes, graph.edges, graph.source, terminals, graph.families)

"""Mainline routes: cheapest trees of blank tube from a tap to header inlets over the places tube may go."""

from optimizer.routes.graph import Crossing, GroundGraph, RoutePrice
from optimizer.routes.ground import GardenPath, Ground, GroundError, NoRouteError
from optimizer.routes.rectilinear import rectilinear_graph
from optimizer.routes.result import Route, RouteTree, Status, TreeEdge
from optimizer.routes.shortest import shortest_route
from optimizer.routes.sizes import Inlet, SizeChoice, TubeSize, choose_sizes
from optimizer.routes.steiner import cheapest_over_axes, cheapest_tree, tree_by_cuts, tree_by_subsets
from optimizer.routes.valves import ValveComparison, ValvePrice, compare_valves
from optimizer.routes.visibility import visibility_graph

__all__ = [
    "Crossing",
    "GardenPath",
    "Ground",
    "GroundError",
    "GroundGraph",
    "Inlet",
    "NoRouteError",
    "Route",
    "RoutePrice",
    "RouteTree",
    "SizeChoice",
    "Status",
    "TreeEdge",
    "TubeSize",
    "ValveComparison",
    "ValvePrice",
    "cheapest_over_axes",
    "cheapest_tree",
    "choose_sizes",
    "compare_valves",
    "rectilinear_graph",
    "shortest_route",
    "tree_by_cuts",
    "tree_by_subsets",
    "visibility_graph",
]

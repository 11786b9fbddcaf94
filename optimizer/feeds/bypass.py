"""Blank tube led around an obstacle that cuts a row."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from itertools import pairwise

import shapely
from shapely.geometry import Point
from shapely.geometry.base import BaseGeometry

from optimizer.geometry import Frame
from optimizer.geometry import Point as Place
from optimizer.routes.graph import RoutePrice
from optimizer.routes.ground import Ground as TubeGround
from optimizer.routes.ground import GroundError, NoRouteError
from optimizer.routes.shortest import shortest_route
from optimizer.routes.visibility import visibility_graph
from optimizer.site import SiteShapes

_TOUCH_M = 2e-4  # the ends of a row stay outside what tube is led around
_INSCRIBED = 1.005  # a rounded outline drawn with corners lies that little inside the true one


@dataclass(frozen=True)
class Bypass:
    """A way of tube from the end of one stretch of a row to the start of the next, in plan coordinates."""

    points: tuple[Place, ...]

    @property
    def length_m(self) -> float:
        """Length of tube [m]."""
        return sum(length for _, length in self.legs)

    @property
    def legs(self) -> tuple[tuple[Place, float], ...]:
        """Straight pieces in the order of flow: where each ends and its length [m]."""
        return tuple((end, math.dist(start, end)) for start, end in pairwise(self.points))


BypassFinder = Callable[[float, float, float], Bypass | None]


def _grown(part: BaseGeometry, ends: tuple[Place, Place], clearance_m: float) -> BaseGeometry:
    """Return an obstacle with its clearance, but never grown over the ends of the row itself."""
    room = min(clearance_m, *(part.distance(Point(end)) - _TOUCH_M for end in ends))
    grown: BaseGeometry = part.buffer(max(room, 0.0) * _INSCRIBED, quad_segs=8)
    hull: BaseGeometry = grown.convex_hull
    # A round outline has many corners; a way around it needs few.
    coarse: BaseGeometry = hull.simplify(0.02).buffer(0.021, quad_segs=1, join_style="mitre")
    return next((shape for shape in (coarse, hull) if not any(shape.intersects(Point(end)) for end in ends)), grown)


def bypass_finder(frame: Frame, shapes: SiteShapes, within: BaseGeometry, clearance_m: float) -> BypassFinder:
    """Return a function that finds the shortest way around what cuts a row.

    Args:
        frame: frame of the rows.
        shapes: the site.
        within: where tube may lie, plan coordinates [m].
        clearance_m: distance kept from obstacles where there is room [m].

    Returns:
        A function of (v, u at the end of one stretch, u at the start of the next) giving the way, or None if no tube
        can be led around.
    """

    @cache
    def find(v: float, u_from: float, u_to: float) -> Bypass | None:
        ends = frame.to_plan((u_from, v)), frame.to_plan((u_to, v))
        keep_outs = tuple(_grown(part, ends, clearance_m) for part in shapely.get_parts(shapes.no_tube))
        barriers = tuple(shapely.get_parts(shapes.barriers))
        ground = TubeGround(keep_outs=keep_outs, barriers=barriers, region=within.buffer(1e-3), smallest_corner_rad=0.0)
        try:
            route = shortest_route(visibility_graph(ground, ends[0], [ends[1]]), RoutePrice())
        except (NoRouteError, GroundError):  # no way, or a row end too close to a barrier for tube to leave it
            return None
        return Bypass(route.points)

    return find

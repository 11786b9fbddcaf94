"""Where tube may lie: off beds it does not feed, and on the site."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import product

import shapely
from shapely.geometry import LineString, MultiLineString, Polygon
from shapely.geometry import Point as Place
from shapely.geometry.base import BaseGeometry

from optimizer.plan import Header, Point
from optimizer.scenario.outlines import corners
from optimizer.verification.facts import TOLERANCE_M, Facts, distance_to
from optimizer.verification.findings import Verdicts, judged
from optimizer.verification.rows import NOTHING_M

EDGE_M = 0.01
"""tube along the edge of a bed may lie this far within it [m]"""

_SAME_ANGLE = 1e-6


def headers_in_their_beds(facts: Facts) -> Verdicts:
    """Headers stay off beds they do not feed, but for their ends: on level ground these may lie on the next bed."""
    tails_m = 2.0 * facts.scenario.limits.header_tail
    level = {bed.name for bed in facts.scenario.beds if not bed.raised}
    for header in facts.plan.headers:
        for name, shape in facts.bed_shapes.items():
            if name not in header.beds:
                deep = float(LineString(header.points).intersection(shape.buffer(-EDGE_M)).length)
                most = tails_m if level.issuperset((name, *header.beds)) else 0.0
                message = f"it lies {deep:.3f} m within '{name}', which it does not feed"
                yield judged(f"header {header.id}", deep <= most + NOTHING_M, message)


def mainline_off_beds(facts: Facts) -> Verdicts:
    """Mainline enters a bed only to reach a header of it, and in it goes on only beside its line of headers.

    The bed in which the supply stands may be crossed.
    """
    source = Place(facts.scenario.supply.at)
    for name, shape in facts.bed_shapes.items():
        if not shape.contains(source):
            within, lines = shape.buffer(-EDGE_M), _header_lines(facts, name).buffer(TOLERANCE_M)
            for part in facts.plan.mainline:
                stray = _stray(LineString(part.points), within, lines)
                message = f"it runs {stray:.3f} m through '{name}' and to no header of it"
                yield judged(f"mainline {part.id}", stray <= NOTHING_M, message)


def _stray(way: LineString, bed: BaseGeometry, lines: BaseGeometry) -> float:
    """Return how much of a way lies in a bed, neither beside its headers nor leading to them [m]."""
    if not way.intersects(bed):
        return 0.0
    pieces = shapely.get_parts(way.intersection(bed).difference(lines))
    return sum(float(piece.length) for piece in pieces if piece.length > NOTHING_M and not _leads_to(way, piece, lines))


def _leads_to(way: LineString, piece: BaseGeometry, lines: BaseGeometry) -> bool:
    """Return whether a piece of a way ends, in its direction, at one of some lines."""
    end = max(piece.coords, key=lambda at: way.project(Place(at)))
    return distance_to(lines, end) <= TOLERANCE_M


def _header_lines(facts: Facts, bed: str) -> BaseGeometry:
    """Return the headers of a bed, and the gaps between stretches of header that stand in one line."""
    mine = [header for header in facts.plan.headers if bed in header.beds]
    found = [LineString(header.points) for header in mine]
    for one, two in product(mine, facts.plan.headers):
        if one.id != two.id and _in_line(facts, one, two):
            found.append(LineString(_gap(one, two)))
    return MultiLineString(found)


def _in_line(facts: Facts, one: Header, two: Header) -> bool:
    """Return whether two stretches of header may be parts of one.

    They stand behind each other across the rows of one bed, or of level beds that may share headers.
    """
    beds = [*one.beds, *two.beds]
    if not set(one.beds) & set(two.beds):
        level = not any(facts.beds[name].raised for name in beds)
        angles = [math.radians(facts.bed_maps[name].row_angle_deg) for name in beds]
        same = all(abs(math.sin(angle - angles[0])) <= _SAME_ANGLE for angle in angles)
        if not (facts.scenario.limits.share_headers and level and same):
            return False
    (low, high), (other_low, other_high) = (_across(facts, header, beds[0]) for header in (one, two))
    return high < other_low or other_high < low


def _across(facts: Facts, header: Header, bed: str) -> tuple[float, float]:
    """Return where the first and the last take-off of a header lie across the rows of a bed [m]."""
    places = [facts.frame(bed).to_frame(off.at)[1] for off in header.take_offs]
    return min(places), max(places)


def _gap(one: Header, two: Header) -> tuple[Point, Point]:
    """Return the nearest take-offs of two headers."""
    places = product((off.at for off in one.take_offs), (off.at for off in two.take_offs))
    return min(places, key=lambda pair: math.dist(*pair))


def on_the_site(facts: Facts) -> Verdicts:
    """Mainline and headers stay on the site where the supply stands on it."""
    outline = corners(facts.scenario.site)
    if not outline or not Polygon(outline).covers(Place(facts.scenario.supply.at)):
        return
    site = Polygon(outline).buffer(TOLERANCE_M, join_style="mitre")
    for path, points in _blank_tubes(facts):
        off = float(LineString(points).difference(site).length)
        yield judged(path, off <= NOTHING_M, f"it lies {off:.3f} m off the site")


def _blank_tubes(facts: Facts) -> Iterator[tuple[str, tuple[Point, ...]]]:
    yield from ((f"mainline {part.id}", part.points) for part in facts.plan.mainline)
    yield from ((f"header {header.id}", header.points) for header in facts.plan.headers)

"""Sides of barriers: a place on a barrier is split into one copy for each sector that the barrier lines leave."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum

import numpy as np
import numpy.typing as npt
import shapely

from optimizer.routes.graph import segments
from optimizer.routes.ground import PointMm

Segment = tuple[PointMm, PointMm]


class Contact(Enum):
    """How a straight piece of tube meets the barriers between its two ends."""

    CLEAR = "clear"
    ALONG = "along"
    BLOCKED = "blocked"


@dataclass(frozen=True)
class Sides:
    """The sectors round one place on a barrier, counter-clockwise, sector k lying between arm k - 1 and arm k.

    Args:
        arms: Directions of the barriers and closed-area edges leaving the place, sorted by angle [mm].
        tube_left: For each arm, whether tube laid along it lies on its left; told for edges of closed areas only.
    """

    arms: tuple[PointMm, ...] = ()
    tube_left: tuple[bool, ...] = ()

    @property
    def count(self) -> int:
        """Number of copies of the place."""
        return max(1, len(self.arms))

    def sector(self, direction: PointMm) -> int:
        """Sector of tube leaving in a direction along no barrier; along a closed area it is the open side."""
        along = self._along(direction)
        if along is not None:
            left, right = self.left_and_right(direction)
            return left if self.tube_left[along] else right
        angle = _angle(direction)
        return sum(_angle(arm) < angle for arm in self.arms) % self.count

    def left_and_right(self, direction: PointMm) -> tuple[int, int]:
        """Sectors to the left and right of someone walking off along the arm in this direction."""
        k = self._along(direction)
        if k is None:
            raise ValueError(f"no barrier leaves in direction {direction}")
        return (k + 1) % self.count, k

    def _along(self, direction: PointMm) -> int | None:
        return next((i for i, arm in enumerate(self.arms) if _same_way(arm, direction)), None)


def sides_at(point: PointMm, barriers: Sequence[Segment], rims: Sequence[Segment]) -> Sides:
    """The sectors that barriers, and closed areas touching them, leave round a point.

    Args:
        point: The place [mm].
        barriers: Barrier segments [mm].
        rims: Edges of closed areas, tube to their right; they only count at places on a barrier [mm].

    Returns:
        Its sectors; a single one for a place off all barriers or at a free barrier end.
    """
    walls = _arms(point, barriers)
    if not walls:
        return Sides()
    arms = {arm: False for arm, _ in walls}
    for arm, with_rim in _arms(point, rims):
        known = next((other for other in arms if _same_way(arm, other)), arm)
        arms[known] = not with_rim  # walking against the rim, what was on its right is on the left
    listed = sorted(arms, key=_angle)
    return Sides(tuple(listed), tuple(arms[arm] for arm in listed))


def _arms(point: PointMm, lines: Sequence[Segment]) -> list[tuple[PointMm, bool]]:
    """Directions in which segments leave a point, each once, and whether that is the segment's own direction."""
    arms: list[tuple[PointMm, bool]] = []
    for a, b in lines:
        if _on_segment(point, a, b):
            for end, own in ((a, False), (b, True)):
                arm = (end[0] - point[0], end[1] - point[1])
                if arm != (0, 0) and not any(_same_way(arm, other) for other, _ in arms):
                    arms.append((arm, own))
    return arms


def contacts(lines: npt.NDArray[np.object_], barriers: Sequence[Segment]) -> list[Contact]:
    """How each straight piece of tube meets the barriers, its two ends left out.

    Args:
        lines: Straight line strings, shape (n,) [mm].
        barriers: Barrier segments [mm].

    Returns:
        One contact a line; `ALONG` only where a single barrier segment covers the whole piece.
    """
    found = [Contact.CLEAR] * len(lines)
    if not barriers or not len(lines):
        return found
    walls = segments(barriers)
    hits = shapely.STRtree(walls).query(lines, predicate="intersects")
    pairs = sorted(zip(hits[0].tolist(), hits[1].tolist(), strict=True))
    for i, j in pairs:
        found[i] = _worse(found[i], _contact(shapely.relate(lines[i], walls[j])))
    return found


def edge_copies(p: PointMm, q: PointMm, at_p: Sides, at_q: Sides, contact: Contact) -> list[tuple[int, int]]:
    """Sectors of p and q that a straight piece between them joins: none, one pair, or one for each side.

    Args:
        p: One end [mm].
        q: Other end [mm].
        at_p: Sectors round p.
        at_q: Sectors round q.
        contact: How the piece meets the barriers.

    Returns:
        Pairs (sector at p, sector at q).
    """
    there, back = (q[0] - p[0], q[1] - p[1]), (p[0] - q[0], p[1] - q[1])
    if contact is Contact.BLOCKED:
        return []
    if contact is Contact.CLEAR:
        return [(at_p.sector(there), at_q.sector(back))]
    left_p, right_p = at_p.left_and_right(there)
    left_q, right_q = at_q.left_and_right(back)
    return sorted({(left_p, right_q), (right_p, left_q)})


def _contact(relation: str) -> Contact:
    """Read the nine-intersection text of (piece, barrier segment)."""
    inside, barrier_end = relation[0], relation[1]
    if inside == "F" and barrier_end == "F":
        return Contact.CLEAR
    # covered throughout: nothing of the piece lies outside the barrier segment
    return Contact.ALONG if inside == "1" and relation[2] == "F" else Contact.BLOCKED


def _worse(a: Contact, b: Contact) -> Contact:
    order = (Contact.CLEAR, Contact.ALONG, Contact.BLOCKED)
    return max(a, b, key=order.index)


def _on_segment(p: PointMm, a: PointMm, b: PointMm) -> bool:
    if (b[0] - a[0]) * (p[1] - a[1]) != (b[1] - a[1]) * (p[0] - a[0]):
        return False
    return min(a[0], b[0]) <= p[0] <= max(a[0], b[0]) and min(a[1], b[1]) <= p[1] <= max(a[1], b[1])


def _same_way(u: PointMm, v: PointMm) -> bool:
    return u[0] * v[1] == u[1] * v[0] and u[0] * v[0] + u[1] * v[1] > 0


def _angle(direction: PointMm) -> float:
    return math.atan2(direction[1], direction[0]) % math.tau

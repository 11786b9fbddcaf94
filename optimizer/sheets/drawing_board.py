"""What of a page is taken: boxes that may be turned, and a board that knows which places are still free.

Text and marks are hard and never covered; tubes and edges are soft and covered only where nothing better is free.
Sizes are millimetres on the page.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from optimizer.plan import Point
from optimizer.sheets.paper import Rect

_TOUCH = 1e-9
_GAP_MM = 0.35
"""kept free around every label"""


@dataclass(frozen=True)
class Box:
    """A rectangle around a centre, turned anticlockwise [mm, deg]."""

    x: float
    y: float
    width: float
    height: float
    angle_deg: float = 0.0

    def corners(self) -> tuple[Point, ...]:
        """Return the four corners in order [mm]."""
        c, s = math.cos(math.radians(self.angle_deg)), math.sin(math.radians(self.angle_deg))
        half = (
            (-self.width, -self.height),
            (self.width, -self.height),
            (self.width, self.height),
            (-self.width, self.height),
        )
        return tuple((self.x + (a * c - b * s) / 2, self.y + (a * s + b * c) / 2) for a, b in half)

    def bounds(self) -> Rect:
        """Return the upright rectangle around it."""
        if self.angle_deg == 0.0:
            w, h = self.width / 2, self.height / 2
            return Rect(self.x - w, self.y - h, self.x + w, self.y + h)
        xs, ys = zip(*self.corners(), strict=True)
        return Rect(min(xs), min(ys), max(xs), max(ys))


def readable(angle_deg: float) -> float:
    """Turn an angle by half a turn if text along it would stand on its head: (-90, 90] [deg]."""
    angle = angle_deg % 180.0
    return angle if angle <= 90.0 + 1e-6 else angle - 180.0


def segment_box(a: Point, b: Point, thickness_mm: float) -> Box:
    """Return the box that covers a straight stroke [mm]."""
    angle = math.degrees(math.atan2(b[1] - a[1], b[0] - a[0]))
    return Box((a[0] + b[0]) / 2, (a[1] + b[1]) / 2, math.dist(a, b), thickness_mm, angle)


class _Taken:
    """Boxes as arrays, so that one box is compared with all others at once."""

    def __init__(self) -> None:
        self._count = 0
        self._corners = np.zeros((64, 4, 2))
        self._bounds = np.zeros((64, 4))
        self._axes = np.zeros((64, 2, 2))
        self._weights = np.zeros(64)
        self._turned = np.zeros(64, dtype=bool)

    def add(self, box: Box, weight: float) -> None:
        if self._count == len(self._weights):
            self._corners, self._bounds, self._axes = (
                np.concatenate([a, np.zeros_like(a)]) for a in (self._corners, self._bounds, self._axes)
            )
            self._weights = np.concatenate([self._weights, np.zeros_like(self._weights)])
            self._turned = np.concatenate([self._turned, np.zeros_like(self._turned)])
        b = box.bounds()
        self._corners[self._count] = box.corners()
        self._bounds[self._count] = (b.x0, b.y0, b.x1, b.y1)
        self._axes[self._count] = _directions(box.angle_deg)
        self._weights[self._count] = weight
        self._turned[self._count] = abs(box.angle_deg % 90.0) > 1e-9
        self._count += 1

    def weight_under(self, box: Box) -> float:
        """Sum the weights of all boxes that share area with this one (separating axes of both)."""
        b, bounds = box.bounds(), self._bounds[: self._count]
        near = np.flatnonzero(
            (bounds[:, 0] < b.x1 - _TOUCH)
            & (bounds[:, 2] > b.x0 + _TOUCH)
            & (bounds[:, 1] < b.y1 - _TOUCH)
            & (bounds[:, 3] > b.y0 + _TOUCH)
        )
        if near.size == 0:
            return 0.0
        mine, theirs = np.asarray(box.corners()), self._corners[near]
        own = np.broadcast_to(_directions(box.angle_deg), (near.size, 2, 2))
        axes = np.concatenate([own, self._axes[near]], axis=1)
        ours = np.einsum("pc,nac->nap", mine, axes)
        others = np.einsum("npc,nac->nap", theirs, axes)
        apart = (ours.max(axis=2) <= others.min(axis=2) + _TOUCH) | (others.max(axis=2) <= ours.min(axis=2) + _TOUCH)
        return float(self._weights[near][~apart.any(axis=1)].sum())

    def touched(self, bounds: NDArray[np.float64], *, turned: bool) -> NDArray[np.bool_]:
        """Say which upright boxes, rows x0 y0 x1 y1 of shape (n, 4), meet the bounds of a turned (or upright) box."""
        b, k = bounds[:, None, :], self._bounds[: self._count][self._turned[: self._count] == turned][None, :, :]
        meets = (k[..., 0] < b[..., 2]) & (k[..., 2] > b[..., 0]) & (k[..., 1] < b[..., 3]) & (k[..., 3] > b[..., 1])
        found: NDArray[np.bool_] = meets.any(axis=1)
        return found


def _directions(angle_deg: float) -> NDArray[np.float64]:
    c, s = math.cos(math.radians(angle_deg)), math.sin(math.radians(angle_deg))
    return np.array([(c, s), (-s, c)])


class Board:
    """What of a page is taken: hard (text, marks) or soft (tubes, edges; better not covered)."""

    def __init__(self, area: Rect) -> None:
        self.area = area
        self._hard = _Taken()
        self._soft = _Taken()

    def block(self, box: Box) -> None:
        """Forbid a place to all labels still to come."""
        self._hard.add(box, 1.0)

    def discourage(self, box: Box, weight: float = 1.0) -> None:
        """Let labels cover a place only if nothing better is free; the weight says how unwelcome that is [1]."""
        self._soft.add(box, weight)

    def discourage_line(self, line: Iterable[Sequence[float]], thickness_mm: float = 0.8, weight: float = 1.0) -> None:
        """Discourage every stroke of a polyline [mm]."""
        for a, b in itertools.pairwise((float(x), float(y)) for x, y in line):
            if math.dist(a, b) > 0.05:
                self.discourage(segment_box(a, b, thickness_mm), weight)

    def inside(self, box: Box) -> bool:
        """Say whether a box lies on the area of the board."""
        b = box.bounds()
        return b.x0 >= self.area.x0 and b.y0 >= self.area.y0 and b.x1 <= self.area.x1 and b.y1 <= self.area.y1

    def is_free(self, box: Box) -> bool:
        """Say whether a box lies on the board and over nothing that is blocked."""
        grown = Box(box.x, box.y, box.width + 2 * _GAP_MM, box.height + 2 * _GAP_MM, box.angle_deg)
        return self.inside(box) and self._hard.weight_under(grown) == 0.0

    def free_among(self, boxes: Sequence[Box]) -> list[bool]:
        """Say of many upright boxes at once which are free."""
        half = np.array([(b.x, b.y, b.width / 2, b.height / 2) for b in boxes]).reshape(-1, 4)
        low, high = half[:, :2] - half[:, 2:], half[:, :2] + half[:, 2:]
        a = self.area
        inside = (low >= (a.x0, a.y0)).all(axis=1) & (high <= (a.x1, a.y1)).all(axis=1)
        grown = np.hstack([low - _GAP_MM, high + _GAP_MM])
        clear = inside & ~self._hard.touched(grown, turned=False)
        # Of turned boxes only the bounds were met; look closer there.
        doubtful = self._hard.touched(grown, turned=True)
        return [bool(c) and (not d or self.is_free(box)) for box, c, d in zip(boxes, clear, doubtful, strict=True)]

    def covered(self, box: Box) -> float:
        """Return the weight of what a box would cover [1]."""
        return self._soft.weight_under(box)

    def first_free(self, spots: Iterable[Box], *, bearable: float = 0.0) -> Box | None:
        """Return the first free spot that covers no more than is bearable, else the free one that covers least.

        Args:
            spots: places in order of liking.
            bearable: weight a label may cover without looking further [1].
        """
        best: tuple[float, Box] | None = None
        for box in spots:
            if not self.is_free(box):
                continue
            cost = self.covered(box)
            if cost <= bearable:
                return box
            if best is None or cost < best[0]:
                best = (cost, box)
        return best[1] if best else None

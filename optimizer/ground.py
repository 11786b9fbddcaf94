"""Heights of the ground: flat, a plane, or a smooth surface through measured spots."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Ground:
    """Height z(x, y) = base + rise . (x, y) + thin-plate terms around the spots.

    The surface passes through every spot and runs out into a plane far from them
    (Duchon 1977, splines minimizing rotation-invariant semi-norms in Sobolev spaces).
    """

    base_m: float = 0.0
    rise: tuple[float, float] = (0.0, 0.0)
    spots: tuple[tuple[float, float], ...] = ()
    weights: tuple[float, ...] = ()

    @property
    def flat(self) -> bool:
        """Whether it lies at one height everywhere."""
        return not self.spots and self.rise == (0.0, 0.0)

    def heights(self, points: FloatArray) -> FloatArray:
        """Return the height at each point.

        Args:
            points: places, shape (n, 2) [m].

        Returns:
            heights, shape (n,) [m].
        """
        flat = self.base_m + points @ np.array(self.rise)
        if not self.spots:
            return np.asarray(flat, dtype=np.float64)
        return np.asarray(flat + _kernel(points, np.array(self.spots)) @ np.array(self.weights), dtype=np.float64)

    def height(self, point: tuple[float, float]) -> float:
        """Return the height at one point [m]."""
        return float(self.heights(np.array([point]))[0])


def _kernel(points: FloatArray, spots: FloatArray) -> FloatArray:
    square = ((points[:, None, :] - spots[None, :, :]) ** 2).sum(axis=2)
    return np.where(square > 0.0, 0.5 * square * np.log(np.where(square > 0.0, square, 1.0)), 0.0)


def sloping(slope: float, rises_toward: float) -> Ground:
    """Return a plane through the origin.

    Args:
        slope: rise per metre in the steepest direction [1].
        rises_toward: direction in which it rises, anticlockwise from x [rad].
    """
    return Ground(rise=(slope * math.cos(rises_toward), slope * math.sin(rises_toward)))


def through_spots(spots: Sequence[tuple[float, float, float]]) -> Ground:
    """Return the surface through three or more measured heights.

    Args:
        spots: (x, y, z) of each place [m].

    Raises:
        ValueError: fewer than three places, or all on one line.
    """
    places = np.array([spot[:2] for spot in spots], dtype=np.float64)
    plane = np.column_stack([np.ones(len(spots)), places])
    if len(spots) < 3 or np.linalg.matrix_rank(plane, tol=1e-6) < 3:
        raise ValueError("heights need at least three places that do not lie on one line")
    if len({spot[:2] for spot in spots}) < len(spots):
        raise ValueError("two heights are given for the same place")
    size = len(spots)
    system = np.zeros((size + 3, size + 3))
    system[:size, :size] = _kernel(places, places)
    system[:size, size:] = plane
    system[size:, :size] = plane.T
    right = np.concatenate([[spot[2] for spot in spots], np.zeros(3)])
    solution = np.linalg.solve(system, right)
    weights = tuple(float(weight) for weight in solution[:size]) if size > 3 else ()
    kept = tuple(spot[:2] for spot in spots) if size > 3 else ()
    return Ground(float(solution[size]), (float(solution[size + 1]), float(solution[size + 2])), kept, weights)

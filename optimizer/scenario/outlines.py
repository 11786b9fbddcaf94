"""Corners of the shapes of a scenario, however they were measured."""

from __future__ import annotations

from optimizer import geometry
from optimizer.geometry import Point
from optimizer.scenario.schema import Obstacle, Outlined


def corners(shape: Outlined) -> tuple[Point, ...]:
    """Return the corners of a shape in order; none for a site without a shape.

    Args:
        shape: any shape of a scenario.

    Raises:
        ValueError: the measurements make no polygon.
    """
    if isinstance(shape, Obstacle) and shape.circle is not None:
        x, y, radius = shape.circle
        if radius <= 0.0:
            raise ValueError("the radius of a circle must be above zero")
        return geometry.circle((x, y), radius)
    if shape.rectangle is not None:
        return geometry.rectangle(*shape.rectangle, shape.at, shape.turned)
    if shape.sides is not None:
        return geometry.from_sides(shape.sides, shape.diagonals, shape.at, shape.turned)
    return shape.outline or ()

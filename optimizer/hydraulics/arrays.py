"""Array types shared by the water side."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]
BoolArray = npt.NDArray[np.bool_]


def floats(values: npt.ArrayLike) -> FloatArray:
    """Values as a float array; a copy is made only when the type must change.

    Args:
        values: numbers of any shape [any]
    """
    return np.asarray(values, dtype=np.float64)


def frozen_floats(values: npt.ArrayLike) -> FloatArray:
    """A private, read-only float copy, so that a frozen dataclass really is frozen.

    Args:
        values: numbers of any shape [any]
    """
    array = np.array(values, dtype=np.float64)
    array.setflags(write=False)
    return array


def frozen_ints(values: npt.ArrayLike) -> IntArray:
    """A private, read-only integer copy; refuses numbers that are not whole.

    Args:
        values: whole numbers of any shape [any]

    Raises:
        ValueError: when a value is not whole.
    """
    given = np.asarray(values)
    array = given.astype(np.int64)
    if not np.array_equal(array, given):
        raise ValueError("indices must be whole numbers")
    array.setflags(write=False)
    return array

"""Root of a function that does not rise, inside a bracket."""

from __future__ import annotations

from collections.abc import Callable

from optimizer.errors import HydraulicError

_ROUNDS = 200


def falling_root(
    function: Callable[[float], float], low: float, high: float, value_tolerance: float, width_tolerance: float
) -> float:
    """Where a function that does not rise passes zero; false position with the Illinois rule, halving when it stalls.

    Source: Dowell and Jarratt 1971, BIT 11, 168-174 (Illinois rule). Example: 2 - x on 0..3 -> 2.

    Args:
        function: continuous and not rising between the ends [-]
        low: where the function is zero or above [any]
        high: where the function is zero or below [any]
        value_tolerance: function values this near zero are taken as zero [any]
        width_tolerance: a bracket this narrow is taken as a point [any]

    Raises:
        HydraulicError: when the ends do not bracket a root.
    """
    at_low, at_high = function(low), function(high)
    if at_low < -value_tolerance or at_high > value_tolerance:
        raise HydraulicError(f"no sign change between {low} ({at_low}) and {high} ({at_high})")
    for end, value in ((high, at_high), (low, at_low)):
        if abs(value) <= value_tolerance:
            return end
    side = 0
    for round_number in range(_ROUNDS):
        width = high - low
        halve = round_number % 4 == 3
        point = low + 0.5 * width if halve else low + width * at_low / (at_low - at_high)
        value = function(point)
        if abs(value) <= value_tolerance or width <= width_tolerance:
            return point
        if value > 0.0:
            at_high = 0.5 * at_high if side > 0 and not halve else at_high
            low, at_low, side = point, value, 1
        else:
            at_low = 0.5 * at_low if side < 0 and not halve else at_low
            high, at_high, side = point, value, -1
    raise HydraulicError(f"no root found between {low} and {high}")

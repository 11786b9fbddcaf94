"""The goals of a design in the order they are compared."""

from __future__ import annotations

from typing import NamedTuple


class Goals(NamedTuple):
    """Smaller is better, the first that differs decides."""

    missing_ppm: int
    """missing share of the requests, summed over the crops, in millionths"""
    money_ct: int
    """money spent on what must be bought"""
    waste_um: int
    """tubing spent without watering: offcuts too short to keep, and blank tube laid"""
    fittings: int
    """fittings to push on"""
    unevenness: int
    """flow variation of the worst zone, in hundredths of a per cent"""


GOAL_WORDS: tuple[tuple[str, str], ...] = (
    ("requests missing", "ppm"),
    ("money", "ct"),
    ("waste", "um"),
    ("fittings", "count"),
    ("flow variation", "0.01 %"),
)
"""name and unit of each goal, in order"""

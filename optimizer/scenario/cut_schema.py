"""A list of lengths and a shelf of rolls, for cutting without a garden; the text under a field is its documentation."""

from __future__ import annotations

import re
from typing import Annotated

from pydantic import BeforeValidator, Field

from optimizer import units
from optimizer.errors import QuantityError
from optimizer.scenario.part import Part
from optimizer.scenario.quantities import Length, Price
from optimizer.scenario.schema import Roll
from optimizer.units import Dimension, System

_PIECES = re.compile(r"(?:(?P<count>[1-9]\d*) x )?(?P<length>.+)")


def _read_pieces(value: object) -> tuple[int, float]:
    """Count and length from a text such as "6 x 14.4 m"."""
    match = _PIECES.fullmatch(value.strip()) if isinstance(value, str) else None
    if match is None:
        raise ValueError("write pieces as a text like '6 x 14.4 m' or '9 m'")
    try:
        length = units.parse(match["length"], Dimension.LENGTH)
    except QuantityError as error:
        raise ValueError(str(error)) from None
    if length <= 0.0:
        raise ValueError(f"'{value}': the length must be above zero")
    return int(match["count"] or 1), length


Pieces = Annotated[tuple[int, float], BeforeValidator(_read_pieces)]


class CutList(Part):
    """What is to be cut, and from what."""

    title: str = "Cut list"
    units: System
    """metric or us: how results are written"""
    currency: str = "EUR"
    pieces: tuple[Pieces, ...] = Field(min_length=1)
    """lengths wanted, like "6 x 14.4 m"; each is rounded up to whole steps"""
    rolls: tuple[Roll, ...] = ()
    """rolls that can be bought"""
    owned: tuple[Length, ...] = ()
    """pieces already there"""
    step: Length = 0.01
    """every cut and joint sits on multiples of this; for emitter line its emitter spacing"""
    usable_offcut: Length = 3.0
    """leftovers of at least this length are kept, shorter ones are waste"""
    joints: Annotated[int, Field(strict=True, ge=0, le=20)] = 0
    """couplers allowed within one piece"""
    coupler_price: Price = 0
    shortest_joined_part: Length = 1.0

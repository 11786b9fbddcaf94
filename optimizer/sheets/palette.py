"""Colours and hatches: told apart by people who see few colours, and in a grey print.

A zone always has three marks of its own: a light fill, a hatch and its letter. Neighbouring fills alternate between
lighter and darker, and no two of the first eight zones share a hatch. Hatches are drawn as lines in millimetres and
not by the backend, so that they print alike from every file format.
"""

from __future__ import annotations

from dataclasses import dataclass

INK = "#1b1b1b"
"""writing, outlines, mainline"""
SOFT_INK = "#5a5a5a"
PALE = "#ececec"
PATH_FILL = "#e4dfd6"
OBSTACLE_FILL = "#cfcac1"
BED_EDGE = "#6b5a41"
WATER = "#123b5d"
"""blank tube: header and mainline"""


@dataclass(frozen=True)
class Hatch:
    """A pattern in millimetres: families of parallel strokes."""

    name: str
    angles_deg: tuple[float, ...]
    gap_mm: float
    stroke_mm: float = 0.0
    """length of a stroke; 0 for unbroken lines"""
    pause_mm: float = 0.0
    doubled: bool = False


HATCHES = (
    Hatch("rising lines", (52.0,), 4.0),
    Hatch("dots", (30.0,), 3.0, 0.01, 3.0),
    Hatch("falling lines", (128.0,), 4.0),
    Hatch("lattice", (52.0, 128.0), 5.0),
    Hatch("rising dashes", (52.0,), 3.0, 2.2, 2.2),
    Hatch("falling double lines", (128.0,), 5.0, doubled=True),
    Hatch("falling dashes", (128.0,), 3.0, 2.2, 2.2),
    Hatch("rising double lines", (52.0,), 5.0, doubled=True),
)


@dataclass(frozen=True)
class ZoneLook:
    """How a zone is shown."""

    fill: str
    ink: str
    """laterals, hatch and letter"""
    hatch: Hatch


_FILLS = ("#dcecf8", "#f3c58f", "#e3f1cf", "#c3aed8", "#fbeeb4", "#93c9c6", "#f7d3dc", "#b4bcc6")
_INKS = ("#0a4a80", "#8f3a08", "#1f5f2c", "#54207a", "#6a4e00", "#004f55", "#8d1144", "#333d48")


def zone_look(index: int) -> ZoneLook:
    """Return the look of the zone with this place in the list of zones, counted from 0.

    From the ninth zone on colours come back with another hatch; 64 looks differ.
    """
    turn, place = divmod(index, len(_FILLS))
    return ZoneLook(_FILLS[place], _INKS[place], HATCHES[(place + 3 * turn) % len(HATCHES)])


def linear_light(colour: str) -> tuple[float, float, float]:
    """Return the linear-light red, green and blue of "#rrggbb" (IEC 61966-2-1), each 0 to 1."""
    parts = [int(colour[k : k + 2], 16) / 255.0 for k in (1, 3, 5)]
    red, green, blue = (p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts)
    return red, green, blue


def lightness(colour: str) -> float:
    """Return the CIE lightness L* of a colour, 0 black to 100 white: what a grey print keeps of it."""
    red, green, blue = linear_light(colour)
    y = 0.2126 * red + 0.7152 * green + 0.0722 * blue
    return 116.0 * y ** (1 / 3) - 16.0 if y > (6 / 29) ** 3 else y * (29 / 3) ** 3


# From dark to light in nearly even steps of lightness, so that order survives a grey copy.
STEPS = ("#14213d", "#1f4e79", "#2f7f8c", "#63ad7a", "#b9cf6a", "#f6e7a1")
"""scale for pressures and flows, least first"""

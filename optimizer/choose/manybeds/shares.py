"""What one layout of one block adds to a garden at least, whatever the other blocks are like."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

from optimizer.choose.manybeds.units import LaidBlock
from optimizer.choose.manybeds.web import Way
from optimizer.problem.case import Case, Run
from optimizer.problem.counts import FittingCount, header_fittings, lateral_fittings
from optimizer.problem.tubing import bypass_pieces, header_pieces

Pieces = frozenset[tuple[int, int]]
"""(length, count) of pieces of emitter line [emitter spacings]"""


@dataclass(frozen=True, eq=False)
class Share:
    """What a layout of a block adds at least.

    Args:
        missing_ppm: missing share of the requests.
        money_ct: fittings of laterals and headers.
        pushed: how many of these are pushed on.
        climbs: headers that mainline climbs to.
        line_units: pieces of emitter line by their length in emitter spacings.
        tube_units: headers and bypasses [cutting units].
        headers: stretches of header.
        ways: places where mainline may come to it, with the length of tube behind: the way and all headers [mm].
        unit_flows_m3_s: flow at least of each stretch of header, none of which is cut into several zones [m3/s].
    """

    missing_ppm: int
    money_ct: int
    pushed: int
    climbs: int
    line_units: Counter[int]
    tube_units: int
    headers: int
    ways: tuple[Way, ...]
    unit_flows_m3_s: tuple[float, ...]

    @cached_property
    def line_length(self) -> int:
        """Length of emitter line [emitter spacings]."""
        return sum(units * count for units, count in self.line_units.items())

    @cached_property
    def pieces(self) -> Pieces:
        """The same as (length, count)."""
        return frozenset(self.line_units.items())

    @property
    def made_of(self) -> tuple[int, int, Pieces]:
        """What a layout is made of, wherever its headers lie."""
        return self.missing_ppm, self.money_ct, self.pieces


def share(block: LaidBlock) -> Share:
    """Return what a block worked out adds at least."""
    case = block.case
    laterals = lateral_fittings(case)
    parts = [_least_header(case, run, vertices) for run, vertices in block.fed]
    step_mm = case.tube_step_um // 1000
    tube_units = sum(units for _, _, units in parts) + sum(piece.units for piece in bypass_pieces(case))
    return Share(
        missing_ppm=case.missing_ppm,
        money_ct=laterals.cost_ct(case.scenario) + sum(money for money, _, _ in parts),
        pushed=laterals.pushed + sum(pushed for _, pushed, _ in parts),
        climbs=len(case.layout.headers) if case.layout.raised > 0.0 else 0,
        line_units=Counter(part.spacings for lateral in case.feed.laterals for part in lateral.parts),
        tube_units=tube_units,
        headers=len(parts),
        ways=tuple(
            Way(inlet.portal, -(-inlet.length_um // 1000) + tube_units * step_mm)
            for ways in block.inlets
            for inlet in ways
        ),
        unit_flows_m3_s=tuple(block.flows_m3_s.values()),
    )


def _least_header(case: Case, run: Run, vertices: Iterable[int]) -> tuple[int, int, int]:
    """Return price, count and tube of a stretch of header, each at the vertex where it is least."""
    counts: list[FittingCount] = []
    units: list[int] = []
    for vertex in vertices:
        counts.append(header_fittings(case, run, vertex))
        units.append(sum(piece.units for piece in header_pieces(case, run, vertex)))
    if not counts:
        return 0, 0, 0  # no way leads to it; the search finds that out
    return min(count.cost_ct(case.scenario) for count in counts), min(count.pushed for count in counts), min(units)

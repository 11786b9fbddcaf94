"""What every split of a design into zones costs at least, from the fewest zones its rows need."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise
from typing import NamedTuple

from optimizer.choose.fewest import Fewest
from optimizer.problem.case import Case, HeaderLine
from optimizer.problem.counts import STAKE_EVERY_M, approach_elbows, joining_fittings
from optimizer.problem.tubing import bypass_pieces
from optimizer.scenario.defaults import fitting_price
from optimizer.units import micrometres

_LEAST_PER_ZONE = 3
"""valve, inlet and one header end"""


class LeastSplit(NamedTuple):
    """No split has less in any of these."""

    money_ct: int
    """fittings and stakes of zones and mainline, without tube"""
    pushed: int
    units: int
    """blank tube in cutting units, bypasses with it"""


def one_zone_a_header(case: Case) -> tuple[Fewest, ...]:
    """Return what is known of splits before any zone was judged."""
    return tuple(Fewest(1, 0, case.row_count - 1) for _ in case.layout.headers)


def fewest_by_reach(reach: Sequence[int]) -> Fewest:
    """Return what all splits of a header have in common, from how far a zone starting at each row may reach."""
    zones, first = 0, 0
    while first < len(reach):
        if reach[first] < first:
            return Fewest(None, 0, 0)
        zones, first = zones + 1, reach[first] + 1
    return Fewest(zones, next(row for row, last in enumerate(reach) if last == len(reach) - 1), reach[0])


def least_split(case: Case, fewest: Sequence[Fewest], zones: int, or_more: bool = False) -> LeastSplit:
    """Return what no split of a design into so many zones can do without.

    Mainline beside a header passes all gaps between its zones on the way to the farthest. So header and mainline
    together cover the header's whole way once, and those zones twice that the mainline passes.

    Args:
        case: the design.
        fewest: what all splits of each header have in common.
        zones: number of zones of all headers together, at least the sum of the fewest [-].
        or_more: hold for splits into more zones as well.
    """
    headers = case.layout.headers
    gaps = sorted((gap for line in headers for gap in _row_gaps_um(line)), reverse=True)
    gaps_um = sum(gaps if or_more else gaps[: max(zones - len(headers), 0)])
    way_um = sum(line.distance_um[-1] for line in headers)
    beside_um = sum(_mainline_beside_um(line, item) for line, item in zip(headers, fewest, strict=True))
    approaches_um = [line.approach.length_um for line in headers]
    laid_um = way_um + max(beside_um - gaps_um, 0) + 2 * zones * micrometres(case.scenario.limits.header_tail)
    units = sum(case.tube_units(length) for length in approaches_um) + sum(piece.units for piece in bypass_pieces(case))
    units += -(-laid_um // case.tube_step_um)
    joining = joining_fittings(case, zones, 0, (sum(approaches_um) + beside_um) / 1e6, approach_elbows(case))
    stakes = zones + math.ceil((way_um - gaps_um) / 1e6 / STAKE_EVERY_M - 1e-9)
    money = joining.cost_ct(case.scenario) + zones * _least_zone_ct(case) + stakes * _price(case, "stake")
    return LeastSplit(money, joining.pushed + _LEAST_PER_ZONE * zones, units)


def _row_gaps_um(line: HeaderLine) -> list[int]:
    """Return the length of header between each row and the next: what a cut between them leaves out."""
    pairs = pairwise(zip(line.rows, line.distance_um, strict=True))
    return [far - near for (row, near), (other, far) in pairs if row != other]


def _mainline_beside_um(line: HeaderLine, fewest: Fewest) -> int:
    """Return the mainline that must lead beside a header to its first and last zone, from where it arrives."""
    start = line.approach.vertex
    last, first = (
        line.rows.index(fewest.nearest_last),
        len(line.rows) - 1 - line.rows[::-1].index(fewest.farthest_first),
    )
    beyond = line.distance_um[last] - line.distance_um[start] if last > start else 0
    before = line.distance_um[start] - line.distance_um[first] if first < start else 0
    return beyond + before


def _least_zone_ct(case: Case) -> int:
    """Return what a zone costs at least without its stakes: its valve, one header end and its inlet [ct]."""
    tee, end, elbow = (_price(case, kind) for kind in ("tee", "header end", "elbow"))
    return _price(case, "zone valve") + min(tee + 2 * end, elbow + end)


def _price(case: Case, kind: str) -> int:
    return fitting_price(case.scenario, kind, case.tube.name)[0]  # type: ignore[arg-type]

"""Pieces and fittings of a garden as it is laid: what is cut and pushed together, counted once for search and plan."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

from optimizer.geometry import Point
from optimizer.problem.case import Case, with_tails
from optimizer.problem.counts import (
    FittingCount,
    added,
    covers,
    gathered,
    header_fittings,
    lateral_fittings,
    stakes,
    way_elbows,
)
from optimizer.problem.laying import SUPPLY, LaidHeader, Laying
from optimizer.problem.tubing import TubePiece, bypass_pieces, header_pieces
from optimizer.scenario.schema import BlankTube, EmitterLine


@dataclass(frozen=True)
class LaidTube:
    """A piece of blank tube of a garden, whole cutting units long.

    Args:
        tube: its product.
        units: its length [cutting units].
        purpose: header, mainline or bypass.
        owner: number of the header, mainline part or block it belongs to.
        span: header: first and last vertex; bypass: lateral and part.
    """

    tube: BlankTube
    units: int
    purpose: str
    owner: int
    span: tuple[int, int] = (0, 0)


def tube_pieces(laying: Laying) -> tuple[LaidTube, ...]:
    """Return all pieces of blank tube: bypasses block by block, headers, mainline."""
    case = laying.cases[0]
    found = [
        LaidTube(each.tube, piece.units, piece.purpose, block, piece.span)
        for block, each in enumerate(laying.cases)
        for piece in bypass_pieces(each)
    ]
    for number, header in enumerate(laying.headers):
        block = laying.cases[header.block]
        found += [_of_header(block, number, piece) for piece in header_pieces(block, header.run, header.inlet)]
    found += [
        LaidTube(part.tube, case.tube_units(part.length_um), "mainline", number)
        for number, part in enumerate(laying.mainline)
    ]
    return tuple(found)


def _of_header(case: Case, number: int, piece: TubePiece) -> LaidTube:
    return LaidTube(case.tube, piece.units, piece.purpose, number, piece.span)


def line_units(laying: Laying) -> dict[str, Counter[int]]:
    """Return how many pieces of each length every emitter line is cut to, in its emitter spacings."""
    found: dict[str, Counter[int]] = {}
    for case in laying.cases:
        lengths = found.setdefault(case.line.name, Counter())
        lengths.update(part.spacings for lateral in case.feed.laterals for part in lateral.parts)
    return found


def emitter_lines(laying: Laying) -> tuple[EmitterLine, ...]:
    """Return the emitter lines laid, in the order of the scenario."""
    names = {case.line.name for case in laying.cases}
    return tuple(line for line in laying.scenario.emitter_lines if line.name in names)


def header_points(laying: Laying, header: LaidHeader) -> tuple[Point, ...]:
    """Return the line of a stretch of header with its tails [m]."""
    line = laying.cases[header.block].layout.headers[header.run.header]
    first, last = line.vertices(header.run)
    return with_tails(line.points[first : last + 1], laying.scenario.limits.header_tail, line.points)


def laid_fittings(laying: Laying) -> FittingCount:
    """Return every fitting and stake of a garden, without couplers."""
    return added(*(lateral_fittings(case) for case in laying.cases), tube_fittings(laying))


def tube_fittings(laying: Laying) -> FittingCount:
    """Return the fittings and stakes of headers, mainline and zones, and the shut-offs of rows."""
    headers = [header_fittings(laying.cases[header.block], header.run, header.inlet) for header in laying.headers]
    return added(*headers, _shut_offs(laying), _joints(laying))


def _shut_offs(laying: Laying) -> FittingCount:
    if not laying.shut_offs:
        return gathered([])
    return gathered(("row shut-off", case.line.name, len(case.feed.laterals)) for case in laying.cases)


def _joints(laying: Laying) -> FittingCount:
    """Return what the mainline takes: tees, elbows, valves, covers and stakes, each on the tube it sits on."""
    case, parts = laying.cases[0], laying.mainline
    ways = Counter(part.above for part in parts) + Counter(header.part for header in laying.headers)
    tube_at = {number: part.tube.name for number, part in enumerate(parts)}
    tube_at[SUPPLY] = parts[0].tube.name
    laid_m = sum(case.tube_units(part.length_um) for part in parts) * case.tube_step_um / 1e6
    turns = [(part.tube.name, way_elbows(part.points, part.rise_um)) for part in parts]
    valves = [_valve_tube(laying, valve.parts, valve.headers) for valve in laying.valves]
    return gathered(
        [
            *(("tee", tube_at[node], count - 1) for node, count in ways.items()),
            *(("elbow", tube, count) for tube, count in turns),
            *(("zone valve", tube, 1) for tube in valves),
            ("tube cover", tube_at[SUPPLY], covers(laid_crossings(laying))),
            ("stake", tube_at[SUPPLY], stakes(laid_m)),
        ]
    )


def _valve_tube(laying: Laying, parts: tuple[int, ...], headers: tuple[int, ...]) -> str:
    if parts:
        return laying.mainline[parts[0]].tube.name
    return laying.cases[laying.headers[headers[0]].block].tube.name


def laid_crossings(laying: Laying) -> Iterator[tuple[str, Point]]:
    """Yield where mainline and then headers cross paths."""
    for part in laying.mainline:
        yield from laying.shapes.crossings(part.points)
    for header in laying.headers:
        yield from laying.shapes.crossings(header_points(laying, header))

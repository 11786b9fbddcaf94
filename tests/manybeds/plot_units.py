"""Stretches of header of a combination, which of them may not run together, and every way to group them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from optimizer.choose.evaluate import RuledOutError
from optimizer.choose.manybeds.combination import Combination
from optimizer.choose.manybeds.garden import Garden
from optimizer.choose.manybeds.units import Units
from optimizer.problem.case import Case
from optimizer.scenario.outlines import corners
from optimizer.scenario.schema import Bed

Groups = tuple[tuple[int, ...], ...]


@dataclass(frozen=True, eq=False)
class LaidOut:
    """A combination laid out: designs of its blocks, and its stretches of header."""

    combination: Combination
    cases: tuple[Case, ...]
    product: Units
    stretches: tuple[tuple[int, int, int, int], ...]
    """(block, header of the block, first row, last row)"""
    apart: frozenset[tuple[int, int]]
    """pairs of stretches that may not run together"""


def laid_out(garden: Garden, combination: Combination) -> LaidOut | None:
    """Return a combination laid out; None if it cannot be, or its beds are not alike as wanted."""
    try:
        units = garden.units(combination)
    except RuledOutError:
        return None
    cases = tuple(block.case for block in units.blocks)
    if garden.scenario.limits.beds_alike and not alike(garden, combination, cases):
        return None
    stretches = tuple(
        (block, header, run.first, run.last)
        for block, laid in enumerate(units.blocks)
        for header, runs in enumerate(laid.runs)
        for run in runs
    )
    return LaidOut(combination, cases, units, stretches, _apart(garden, combination, cases, stretches))


def alike(garden: Garden, combination: Combination, cases: Sequence[Case]) -> bool:
    """Say whether beds of one shape have lines of the same lengths."""
    lengths: dict[int, set[int]] = {}
    for block, case in zip(garden.patterns[combination.pattern].blocks, cases, strict=True):
        for lateral in case.feed.laterals:
            bed = block.beds[case.layout.bed_of(lateral.row)]
            lengths.setdefault(bed, set()).update(
                round(part.spacings * case.line.spacing * 1e6) for part in lateral.parts
            )
    beds = garden.scenario.beds
    pairs = [(one, two) for one in range(len(beds)) for two in range(one) if same_shape(beds[one], beds[two])]
    return all(lengths.get(one) == lengths.get(two) for one, two in pairs)


@dataclass(frozen=True)
class Held:
    """A crop in a stretch of header: whether it wants its own zone, and its minutes up to a factor, if known."""

    bed: int
    name: str
    own_zone: bool
    minutes: float | None


def _apart(garden: Garden, combination: Combination, cases: Sequence[Case], stretches) -> frozenset[tuple[int, int]]:
    held = []
    for block, _, first, last in stretches:
        beds, case = garden.patterns[combination.pattern].blocks[block].beds, cases[block]
        crops = {case.layout.plan.rows[row].crop for row in range(first, last + 1)}
        held.append({_held(garden, case, beds[case.layout.crop_beds[crop]], crop) for crop in crops})
    lines = [cases[block].line.name for block, _, _, _ in stretches]
    tolerance = garden.scenario.limits.minutes_tolerance
    return frozenset(
        (one, two)
        for two in range(len(held))
        for one in range(two)
        if lines[one] != lines[two] or _clash(held[one], held[two], tolerance)
    )


def _held(garden: Garden, case: Case, bed: int, number: int) -> Held:
    """Return a crop; its minutes are a depth of water over the ground of an emitter, by the flow of the emitter."""
    crop, known = case.layout.crops[number], garden.scenario.climate and not garden.scenario.limits.share_zones_anyway
    ground = crop.row_spacing / crop.lines_per_row * case.line.spacing
    return Held(bed, crop.name, crop.own_zone, ground / case.line.emitter_flow if known else None)


def _clash(one: set[Held], two: set[Held], tolerance: float) -> bool:
    every = one | two
    if len({each.name for each in every}) > 1 and any(each.own_zone for each in every):
        return True
    pairs = [(a.minutes, b.minutes) for a in one for b in two if a.minutes is not None and b.minutes is not None]
    return any(abs(a - b) > tolerance * max(a, b) * (1 + 1e-9) for a, b in pairs)


def groupings(count: int, apart: frozenset[tuple[int, int]], most: int | None) -> Iterator[Groups]:
    """Yield every way to part so many units into groups without a pair that must be apart."""
    for marks in _marks(count):
        groups = tuple(tuple(k for k in range(count) if marks[k] == mark) for mark in sorted(set(marks)))
        if (most is None or len(groups) <= most) and not any(marks[one] == marks[two] for one, two in apart):
            yield groups


def _marks(count: int) -> Iterator[tuple[int, ...]]:
    """Yield restricted growth strings: the number of the group of each unit, new ones in order."""
    if count == 0:
        yield ()
        return
    for before in _marks(count - 1):
        for mark in range(max(before, default=-1) + 2):
            yield (*before, mark)


def same_shape(one: Bed, two: Bed) -> bool:
    """Say whether two beds have the same sides and corners in order, height and margins."""
    if (one.raised, one.edge_margin, one.row_end_margin) != (two.raised, two.edge_margin, two.row_end_margin):
        return False
    first, second = _distances(corners(one)), _distances(corners(two))
    size = len(first)
    if size != len(second):
        return False
    turns = [[(start + step) % size for step in range(size)] for start in range(size)]
    return any(
        all(abs(first[i][j] - second[turn[i]][turn[j]]) < 0.003 for i in range(size) for j in range(size))
        for turn in turns
    )


def _distances(around: Sequence[tuple[float, float]]) -> list[list[float]]:
    area = sum(a[0] * b[1] - b[0] * a[1] for a, b in zip(around, [*around[1:], around[0]], strict=True))
    way = list(around) if area > 0 else list(around)[::-1]
    return [[((a[0] - b[0]) ** 2 + (a[1] - b[1]) ** 2) ** 0.5 for b in way] for a in way]

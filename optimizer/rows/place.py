"""Placing rows exactly: for every order of the crops, the rows that meet the requests and plant the most.

Rows of a crop stand together as a block. For a given order of blocks the best placing is found by dynamic
programming over (block, rows so far, place): first the least missing share of the requests, where a filling crop asks
for one row, then the most rows of filling crops, then the greatest planted length; among equals the rows nearest the
tap. Neighbouring rows keep at least the larger of their two row spacings. Rows that already stand are kept and push
the others away.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence, Set
from dataclasses import dataclass, replace
from itertools import permutations

import numpy as np
from numpy.typing import NDArray

from optimizer.geometry import Frame
from optimizer.rows.field import RowField, Stretches
from optimizer.scenario.schema import Bed, Crop

# Weight of a request not met at all: divided by its rows still above any sum of the lower goals, and a multiple of
# 1 to 20, so that equal shares of different requests weigh the same.
_REQUEST = 232_792_560 * 10**8
_FILL_ROW = 10**9  # weight of one more row of a filling crop: above any planted length in mm
_NEVER = -(2**62)
_MOST_ORDERED = 6  # more crops than this keep the order in which they are listed
_POLE_SIDE = 1e-6  # rows that run exactly north-south have no pole side

Ints = NDArray[np.int64]


class CropOrderError(ValueError):
    """No order of the crops of a bed satisfies the wishes about neighbours."""

    def __init__(self, bed: str) -> None:
        """Say it of a bed by its name."""
        super().__init__(f"no order of the crops of bed '{bed}' satisfies beside, apart_from and tall")
        self.bed = bed


@dataclass(frozen=True)
class RowLine:
    """One emitter line of a row: its place and the stretches to water [m]."""

    v: float
    stretches: Stretches


@dataclass(frozen=True)
class PlacedRow:
    """A row at its place in the frame of the bed."""

    crop: int
    """index in the bed's list of crops"""
    v: float
    stretches: Stretches
    lines: tuple[RowLine, ...]
    fixed: bool

    @property
    def planted_m(self) -> float:
        """Length of row that is watered [m]."""
        return sum(b - a for a, b in self.stretches)


@dataclass(frozen=True)
class RowPlan:
    """Rows in order of growing v, and what was asked for but does not fit."""

    rows: tuple[PlacedRow, ...]
    missing: tuple[tuple[int, str, float], ...]
    """(crop index, rows or m or plants, how many)"""
    missing_ppm: int
    """sum over the crops of the missing share of their request, in millionths"""
    order: tuple[int, ...]
    """crop indices from the tap outward"""

    @property
    def planted_m(self) -> float:
        """Length of row that is watered [m]."""
        return sum(row.planted_m for row in self.rows)


@dataclass(frozen=True)
class _Wish:
    """A crop as the placing sees it."""

    index: int
    spacing_m: float
    most: int | None
    """rows wanted, None to fill"""
    lengths_mm: Ints
    """planted length at each place; 0 where no row can stand"""
    row_weight: int
    """share of the request that a missing row is; for a filling crop the first one"""

    def owed(self, rows: int) -> int:
        """Return the weight of what is missing with so many rows; a filling crop asks for one."""
        return max((1 if self.most is None else self.most) - rows, 0) * self.row_weight


def _row_lines(field: RowField, crop: Crop, v: float) -> tuple[RowLine, ...]:
    first = -(crop.lines_per_row - 1) / 2.0
    offsets = [(first + index) * crop.line_spacing for index in range(crop.lines_per_row)]
    return tuple(RowLine(v + offset, field.stretches(v + offset)) for offset in offsets)


def _can_stand(field: RowField, crop: Crop, v: float) -> bool:
    return all(line.stretches for line in _row_lines(field, crop, v))


def _clear(crop: Crop, v: float, fixed: Sequence[tuple[float, float]]) -> bool:
    return all(abs(v - at) >= max(crop.row_spacing, spacing) - 1e-6 for at, spacing in fixed)


def _lengths(field: RowField, crop: Crop, fixed: Sequence[tuple[float, float]]) -> Ints:
    found = [
        round(1000 * field.planted_m(v)) if _clear(crop, v, fixed) and _can_stand(field, crop, v) else 0
        for v in field.places_m.tolist()
    ]
    return np.array(found, dtype=np.int64)


def _fixed_rows(bed: Bed, field: RowField) -> list[PlacedRow]:
    rows = []
    for index, crop in enumerate(bed.crops):
        for line in crop.planted_rows:
            (u0, v0), (u1, v1) = (field.frame.to_frame(end) for end in line)
            v, low, high = (v0 + v1) / 2.0, min(u0, u1), max(u0, u1)
            lines = _row_lines(field, crop, v)
            clipped = tuple(replace(item, stretches=_clip(item.stretches, low, high)) for item in lines)
            rows.append(PlacedRow(index, v, _clip(field.stretches(v), low, high), clipped, True))
    return rows


def _clip(stretches: Stretches, low: float, high: float) -> Stretches:
    return tuple((max(a, low), min(b, high)) for a, b in stretches if min(b, high) > max(a, low))


def _order_holds(order: tuple[int, ...], bed: Bed, frame: Frame, north: float) -> bool:
    rank = {bed.crops[index].name: position for position, index in enumerate(order)}
    for index in order:
        crop = bed.crops[index]
        if any(abs(rank[crop.name] - rank[other]) != 1 for other in crop.beside if other in rank):
            return False
        if any(abs(rank[crop.name] - rank[other]) < 2 for other in crop.apart_from if other in rank):
            return False
    toward_pole = frame.to_frame((math.sin(north), math.cos(north)))[1]
    if abs(toward_pole) < _POLE_SIDE:
        return True
    tall = [bed.crops[index].tall for index in (order if toward_pole > 0.0 else order[::-1])]
    return tall == sorted(tall)


def _orders(bed: Bed, field: RowField, north: float) -> Iterator[tuple[int, ...]]:
    wanted = tuple(index for index, crop in enumerate(bed.crops) if _asks(crop))
    if len(wanted) > _MOST_ORDERED:
        candidates: Sequence[tuple[int, ...]] = [wanted, wanted[::-1]]
    else:
        candidates = list(permutations(wanted))
    yield from (order for order in candidates if _order_holds(order, bed, field.frame, north))


def _asks(crop: Crop) -> bool:
    return crop.fill or crop.rows is not None or crop.row_length is not None or crop.plants is not None


class _Placing:
    """Dynamic programme for one order of blocks; holds the choices for walking back."""

    def __init__(self, places_m: NDArray[np.float64], wishes: Sequence[_Wish]) -> None:
        self.places_m = places_m
        self.wishes = wishes
        self.size = len(places_m)
        # ends[l]: best score with the last row so far of wish l at each place; origin: which state it came from.
        self.ends: dict[int, Ints] = {}
        self.back: dict[tuple[int, int], Ints] = {}
        self.start: dict[int, tuple[Ints, Ints]] = {}
        self.rows_at_end: dict[int, Ints] = {}
        self.penalty = 0
        for block in range(len(wishes)):
            self._add_block(block)

    def _reach(self, spacing_m: float) -> Ints:
        """Return for each place how many places lie at least the spacing below it."""
        return np.searchsorted(self.places_m, self.places_m - spacing_m + 1e-6, side="right").astype(np.int64)

    def _best_before(self, score: Ints, reach: Ints) -> tuple[Ints, Ints]:
        """Return the best score within reach of each place and the lowest place that has it."""
        top = np.maximum.accumulate(score)
        first = np.maximum.accumulate(np.where(np.diff(top, prepend=_NEVER - 1) > 0, np.arange(self.size), -1))
        inside = np.maximum(reach - 1, 0)
        value = np.where(reach > 0, top[inside], _NEVER)
        return value, np.where(value > _NEVER, first[inside], -1)

    def _enter(self, block: int) -> tuple[Ints, Ints, Ints]:
        """Return best score before the first row of a block, and the block and place it follows."""
        wish = self.wishes[block]
        best = np.full(self.size, -self.penalty, dtype=np.int64)
        from_block = np.full(self.size, -1, dtype=np.int64)
        from_place = np.full(self.size, -1, dtype=np.int64)
        for earlier, score in self.ends.items():
            reach = self._reach(max(wish.spacing_m, self.wishes[earlier].spacing_m))
            value, place = self._best_before(score, reach)
            better = value > best
            best, from_block, from_place = (
                np.where(better, value, best),
                np.where(better, earlier, from_block),
                np.where(better, place, from_place),
            )
        return best, from_block, from_place

    def _add_block(self, block: int) -> None:
        wish = self.wishes[block]
        usable = wish.lengths_mm > 0
        gain = wish.lengths_mm + (_FILL_ROW if wish.most is None else 0)
        owed = wish.owed(0)
        entry, from_block, from_place = self._enter(block)
        self.start[block] = (from_block, from_place)
        score = np.where(usable & (entry > _NEVER), entry + gain, _NEVER)
        reach = self._reach(wish.spacing_m)
        best, rows_best, rows = score - wish.owed(1), np.ones(self.size, dtype=np.int64), 1
        while (wish.most is None or rows < wish.most) and (score > _NEVER).any():
            rows += 1
            before, place = self._best_before(score, reach)
            score = np.where(usable & (before > _NEVER), before + gain, _NEVER)
            self.back[block, rows] = place
            settled = np.where(score > _NEVER, score - wish.owed(rows), _NEVER)
            rows_best = np.where(settled > best, rows, rows_best)
            best = np.maximum(best, settled)
        best = np.where(best > _NEVER // 2, best, _NEVER)
        for earlier in self.ends:
            self.ends[earlier] = np.where(self.ends[earlier] > _NEVER, self.ends[earlier] - owed, _NEVER)
        self.penalty += owed
        self.ends[block] = best
        self.rows_at_end[block] = rows_best

    def best(self) -> tuple[int, list[tuple[int, int]]]:
        """Return the best score and its rows as (block, place), from the tap outward."""
        top, block, place = -self.penalty, -1, -1
        for candidate, score in self.ends.items():
            at = int(np.argmax(score)) if self.size else 0
            if self.size and score[at] > top:
                top, block, place = int(score[at]), candidate, at
        return top, self._walk_back(block, place)

    def _walk_back(self, block: int, place: int) -> list[tuple[int, int]]:
        found: list[tuple[int, int]] = []
        while block >= 0:
            for rows in range(int(self.rows_at_end[block][place]), 0, -1):
                found.append((block, place))
                if rows > 1:
                    place = int(self.back[block, rows][place])
            from_block, from_place = self.start[block]
            block, place = int(from_block[place]), int(from_place[place])
        return found[::-1]


def _rows_wanted(crop: Crop, lengths_mm: Ints, standing: int, standing_m: float) -> int | None:
    """Return the least number of further rows that could meet a crop's request, None to fill."""
    if crop.fill:
        return None
    if crop.rows is not None:
        return max(crop.rows - standing, 0)
    longest = int(lengths_mm.max(initial=0))
    missing_mm = math.ceil(1000 * (metres_wanted(crop) - standing_m) - 1e-6)
    return max(math.ceil(missing_mm / longest), 0) if longest else int(missing_mm > 0)


def metres_wanted(crop: Crop) -> float:
    """Return the metres of row a crop's request comes to; 0 for a request in rows or a filling crop [m]."""
    if crop.plants is not None and crop.plant_spacing is not None:
        return crop.plants * crop.plant_spacing
    return crop.row_length or 0.0


class _Planner:
    """Row plans of one bed and direction."""

    def __init__(self, bed: Bed, field: RowField) -> None:
        self.bed = bed
        self.field = field
        self.fixed = _fixed_rows(bed, field)
        spaced = [(row.v, bed.crops[row.crop].row_spacing) for row in self.fixed]
        self.lengths = [_lengths(field, crop, spaced) for crop in bed.crops]

    def plan(self, order: tuple[int, ...]) -> RowPlan:
        """Return the best row plan for an order of crops.

        A request in metres or plants starts with the fewest rows that could meet it and takes one more while the
        rows that fit fall short, until no further row fits.
        """
        wanted = {index: self._first_wish(index) for index in order}
        while True:
            rows = self._place(order, wanted)
            short = [index for index in order if self._more_rows_help(index, rows, wanted[index])]
            if not short:
                return self._finish(order, rows)
            wanted[short[0]] = (wanted[short[0]] or 0) + 1

    def _standing(self, index: int) -> list[PlacedRow]:
        return [row for row in self.fixed if row.crop == index]

    def _first_wish(self, index: int) -> int | None:
        standing = self._standing(index)
        planted = sum(row.planted_m for row in standing)
        return _rows_wanted(self.bed.crops[index], self.lengths[index], len(standing), planted)

    def _place(self, order: tuple[int, ...], wanted: dict[int, int | None]) -> list[PlacedRow]:
        wishes = [
            _Wish(
                index,
                self.bed.crops[index].row_spacing,
                wanted[index],
                self.lengths[index],
                self._row_weight(index, wanted[index]),
            )
            for index in order
            if wanted[index] != 0
        ]
        _, chosen = _Placing(self.field.places_m, wishes).best()
        return [self._row(wishes[block].index, float(self.field.places_m[place])) for block, place in chosen]

    def _row_weight(self, index: int, wanted: int | None) -> int:
        """Return the weight of one missing row of a crop: its share of the whole request."""
        if wanted is None:
            return 0 if self._standing(index) else _REQUEST
        return _REQUEST // (self.bed.crops[index].rows or wanted)

    def _row(self, index: int, v: float) -> PlacedRow:
        return PlacedRow(index, v, self.field.stretches(v), _row_lines(self.field, self.bed.crops[index], v), False)

    def _more_rows_help(self, index: int, rows: Sequence[PlacedRow], wanted: int | None) -> bool:
        crop = self.bed.crops[index]
        if wanted is None or crop.rows is not None:
            return False
        own = [row for row in rows if row.crop == index]
        planted = sum(row.planted_m for row in [*own, *self._standing(index)])
        return planted < metres_wanted(crop) - 1e-6 and len(own) == wanted

    def _missing(self, rows: Sequence[PlacedRow]) -> Iterator[tuple[int, str, float, float]]:
        for index, crop in enumerate(self.bed.crops):
            own = [row for row in rows if row.crop == index]
            planted = sum(row.planted_m for row in own)
            if crop.rows is not None and len(own) < crop.rows:
                yield index, "rows", crop.rows - len(own), 1.0 - len(own) / crop.rows
            elif crop.fill and not own:
                yield index, "rows", 1.0, 1.0
            elif planted < metres_wanted(crop) - 1e-6:
                share = 1.0 - planted / metres_wanted(crop)
                if crop.plants is not None:
                    yield index, "plants", float(math.ceil(share * crop.plants)), share
                else:
                    yield index, "m", metres_wanted(crop) - planted, share

    def _finish(self, order: tuple[int, ...], rows: Sequence[PlacedRow]) -> RowPlan:
        every = tuple(sorted([*rows, *self.fixed], key=lambda row: row.v))
        missing = list(self._missing(every))
        share = round(1_000_000 * sum(item[3] for item in missing))
        return RowPlan(every, tuple(item[:3] for item in missing), share, order)


def joined_plans(plans: Sequence[RowPlan], crops: Sequence[int]) -> RowPlan:
    """Return the rows of several beds in one frame as one plan, crops numbered bed after bed.

    Args:
        plans: row plans in one frame.
        crops: number of crops of each bed.
    """
    starts = [sum(crops[:number]) for number in range(len(crops))]
    rows = [replace(row, crop=row.crop + start) for plan, start in zip(plans, starts, strict=True) for row in plan.rows]
    missing = [
        (crop + start, unit, amount)
        for plan, start in zip(plans, starts, strict=True)
        for crop, unit, amount in plan.missing
    ]
    order = [crop + start for plan, start in zip(plans, starts, strict=True) for crop in plan.order]
    share = sum(plan.missing_ppm for plan in plans)
    return RowPlan(tuple(sorted(rows, key=lambda row: row.v)), tuple(missing), share, tuple(order))


def _looks(plan: RowPlan, choosy: Set[int]) -> tuple[object, ...]:
    """What a row plan is for all later choices: plans that look alike cost alike."""
    return tuple((row.v, row.lines, row.crop if row.crop in choosy else -1) for row in plan.rows)


def row_plans(
    bed: Bed, field: RowField, north: float, most: int, choosy: Set[int] = frozenset()
) -> tuple[tuple[RowPlan, ...], int]:
    """Return the row plans worth comparing for one direction of one bed.

    Args:
        bed: the bed.
        field: its row places in that direction.
        north: direction of north, clockwise from y [rad].
        most: how many plans to return at most.
        choosy: crops that do not share a zone with every other; crops that want their own count without being named.

    Returns:
        Plans with the least missing share of the requests, different for all later choices, in the order in which
        the crops are listed; and how many there were before any were left out for `most`.

    Raises:
        CropOrderError: the wishes about neighbours contradict each other.
    """
    planner = _Planner(bed, field)
    orders = list(_orders(bed, field, north))
    if not orders:
        raise CropOrderError(bed.name)
    plans = [planner.plan(order) for order in orders]
    least = min(plan.missing_ppm for plan in plans)
    told = choosy | {index for index, crop in enumerate(bed.crops) if crop.own_zone}
    different: dict[tuple[object, ...], RowPlan] = {}
    for plan in plans:
        if plan.missing_ppm == least:
            different.setdefault(_looks(plan, told), plan)
    kept = list(different.values())
    return tuple(kept[:most]), len(kept)

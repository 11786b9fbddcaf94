"""A garden laid out: units hung on trees of mainline, grouped into zones."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from optimizer.choose.manybeds.trees import Tree
from optimizer.choose.manybeds.units import Units
from optimizer.problem.laying import LaidHeader, Laying, MainPart, whole_run
from optimizer.scenario.schema import BlankTube

Groups = tuple[tuple[int, ...], ...]
"""units that run together, zone by zone"""


@dataclass(frozen=True, eq=False)
class Hung:
    """Units hung on mainline: what each is fed by, whatever its zone.

    Args:
        parts: all parts of mainline, each behind the part that feeds it.
        fed: for each unit the number of the part that ends at it and the header vertex there.
        proven: whether every tree is proven cheapest by the metre.
    """

    parts: tuple[MainPart, ...]
    fed: tuple[tuple[int, int], ...]
    proven: bool


def hung(units: Units, trees: Sequence[tuple[Sequence[int], Tree]], tube: BlankTube) -> Hung:
    """Return units hung on their trees, all made of one tube.

    Args:
        units: the units.
        trees: for each tree the units it feeds, in its order of headers and runs, and the tree.
        tube: what it is made of.
    """
    parts: list[MainPart] = []
    fed: dict[int, tuple[int, int]] = {}
    for members, tree in trees:
        first = len(parts)
        for part in tree.parts:
            above = part.above + first if part.above >= 0 else part.above
            parts.append(MainPart(part.points, part.length_um, above, tube, part.rise_um))
        for unit, key in zip(members, sorted(tree.ends), strict=True):
            end, vertex = tree.ends[key]
            fed[unit] = (first + end, vertex)
    return Hung(tuple(parts), tuple(fed[unit] for unit in range(len(units.units))), all(t.proven for _, t in trees))


def laid(units: Units, on: Hung, groups: Groups, valve_per_header: bool = False) -> Laying:
    """Return the garden as it is laid with units grouped into zones; units in no group are laid and never run."""
    headers = tuple(
        LaidHeader(units.headers[unit.header][0], unit.run, part, vertex)
        for unit, (part, vertex) in zip(units.units, on.fed, strict=True)
    )
    zones = tuple(tuple(whole_run(unit, units.units[unit].run) for unit in group) for group in groups)
    cases = tuple(block.case for block in units.blocks)
    return Laying(cases, headers, on.parts, zones, valve_per_header=valve_per_header)

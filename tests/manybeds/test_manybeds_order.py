"""Groupings of neighbours along the mainline, with reaches and valves counted by hand."""

from __future__ import annotations

from dataclasses import dataclass
from types import SimpleNamespace

import pytest

from optimizer.choose.manybeds.order import in_order, valves_of


@dataclass
class Chain:
    """Units of given sizes; a zone holds up to a capacity. Part k of the mainline ends at unit k.

    `above` is the part that feeds each part; unless given the parts are one behind the other.
    """

    sizes: tuple[int, ...]
    room: int
    above: tuple[int, ...] = ()
    kinds: tuple[int, ...] = ()

    def __post_init__(self):
        self.above = self.above or tuple(range(-1, len(self.sizes) - 1))
        self.kinds = self.kinds or (0,) * len(self.sizes)

    @property
    def units(self):
        return [None] * len(self.sizes)

    def emitters(self, unit):
        return self.sizes[unit]

    def may_share(self, group, unit):
        return all(self.kinds[other] == self.kinds[unit] for other in group)

    def on(self, groups):
        parts = tuple(SimpleNamespace(above=above) for above in self.above)
        return SimpleNamespace(parts=parts, fed=tuple((unit, 0) for unit in range(len(self.sizes))))

    def reading(self, group):
        return SimpleNamespace(holds=sum(self.sizes[unit] for unit in group) <= self.room)


def found(chain: Chain, most: int | None = None) -> list[tuple[tuple[int, ...], ...]]:
    return list(in_order(chain, chain, most))


def test_all_in_one_where_it_holds():
    assert found(Chain((3, 3, 3), 9)) == [((0, 1, 2),)]


def test_neighbours_run_together():
    assert ((0, 1), (2, 3)) in found(Chain((3, 3, 3, 3), 6))


def test_one_grouping_is_alike_in_size_and_one_reaches_as_far_as_it_can():
    groupings = found(Chain((4, 1, 1, 4), 6))
    assert ((0, 1), (2, 3)) in groupings  # 5 and 5
    assert ((0, 1, 2), (3,)) in groupings  # 6 and 4
    assert all(len(groups) == 2 for groups in groupings)


def test_a_unit_that_holds_in_no_zone_leaves_nothing():
    assert found(Chain((3, 7, 3), 6)) == []


def test_too_few_zones_leave_nothing():
    assert found(Chain((3, 3, 3, 3), 6), most=1) == []
    assert found(Chain((3, 3, 3, 3), 6), most=2)


def test_kinds_that_may_not_share_are_parted_first():
    assert found(Chain((3, 3, 3, 3), 6, kinds=(0, 1, 0, 1))) == [((0, 2), (1, 3))]


def test_the_order_is_that_of_a_walk_along_the_mainline():
    # Two arms leave the supply: units 0, 2 and 1, 3. Two zones are the arms, not units by number.
    groupings = found(Chain((3, 3, 3, 3), 6, above=(-1, -1, 0, 1)))
    assert groupings[0] == ((0, 2), (1, 3))


def test_more_zones_are_looked_at_where_they_need_fewer_valves():
    # An arm of three units of size 2 and an arm of one of size 4: by reach alone the third would run with the fourth,
    # two valves more than a zone for each arm.
    chain = Chain((2, 2, 2, 4), 6, above=(-1, 0, 1, -1))
    assert found(chain)[0] == ((0, 1, 2), (3,))


@pytest.mark.parametrize(
    ("start", "end", "valves"),
    [
        (0, 4, 1),  # everything: one valve at the supply
        (2, 4, 1),  # the end of the chain: behind unit 1
        (3, 4, 1),
        (0, 2, 2),  # tube goes on to others, so a valve at each header
        (1, 3, 2),
        (0, 1, 1),
    ],
)
def test_valves_on_a_chain(start, end, valves):
    chain = Chain((1, 1, 1, 1), 9)
    assert valves_of(chain.on(()), [0, 1, 2, 3])(start, end) == valves


def test_valves_on_a_star_stand_together_at_the_supply():
    chain = Chain((1, 1, 1), 9, above=(-1, -1, -1))
    assert [valves_of(chain.on(()), [0, 1, 2])(0, end) for end in (1, 2, 3)] == [1, 1, 1]

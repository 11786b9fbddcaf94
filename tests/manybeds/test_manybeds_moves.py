"""Rough prices of mainline against the exact meeting of few blocks, and zones made better by moving blocks."""

from __future__ import annotations

import random
from itertools import pairwise

import numpy as np
import pytest
from hand_plots import Plain, garden

from optimizer.choose.manybeds.meeting import every_last, every_price
from optimizer.choose.manybeds.moves import moved
from optimizer.choose.manybeds.rough import RoughTrees
from optimizer.choose.manybeds.web import Way
from optimizer.routes.graph import RoutePrice

PRICE = RoutePrice(3)


def rows_of_beds(count: int, gap: float = 6.0):
    """Two lines of beds on either side of a way with the tap at its start."""
    beds = [Plain((gap * (k // 2), 0.0 if k % 2 else 4.0)) for k in range(count)]
    return garden(beds, limits="share_headers = false", tap=(-2.0, 3.0))


def rough_of(held) -> RoughTrees:
    """Return rough trees over a garden; each block is entered at every place where a layout of it may be."""
    ways = held.ways(0)
    blocks = [
        tuple(dict.fromkeys(Way(inlet.portal, 1000 * k) for k in range(2) for inlet in _inlets(held, block, k)))
        for block in range(len(held.patterns[0].blocks))
    ]
    return RoughTrees(ways, blocks, PRICE)


def _inlets(held, block: int, layout: int):
    return held.block(0, 0, block, layout).inlets[0]


@pytest.mark.parametrize("seed", range(20))
def test_the_place_before_the_last_leads_back_along_a_cheapest_way(seed):
    draw = random.Random(seed)
    count = draw.randint(3, 9)
    edges = [(draw.randrange(end), end) for end in range(1, count)] + [(0, count - 1)]
    ends, costs = np.array(edges), np.array([draw.randint(1, 9) for _ in edges])
    price = every_price(count, ends, costs)
    last = every_last(price, ends, costs)
    cost_of = {}
    for (a, b), cost in zip(edges, costs.tolist(), strict=True):
        cost_of[a, b] = cost_of[b, a] = min(cost, cost_of.get((a, b), cost))
    for start in range(count):
        for end in range(count):
            way = [end]
            while way[-1] != start:
                way.append(int(last[start, way[-1]]))
            assert sum(cost_of[step] for step in pairwise(way)) == price[start, end]


@pytest.mark.parametrize("count", [2, 3, 4, 5])
def test_rough_mainline_is_never_cheaper_than_a_cheapest_and_not_much_dearer(count):
    held = rows_of_beds(count)
    rough = rough_of(held)
    # The cheapest meeting of supply and blocks over all places: Dreyfus and Wagner, Networks 1, 1971.
    exact = held.ways(0)._meeting(rough.blocks, PRICE).least
    together = rough.cost_mct((tuple(range(count)),))
    assert exact <= together <= 1.25 * exact


def test_zones_that_share_nothing_cost_no_less_than_one():
    rough = rough_of(rows_of_beds(6))
    one = rough.cost_mct(((0, 1, 2, 3, 4, 5),))
    assert rough.cost_mct(((0, 2, 4), (1, 3, 5))) >= one - max(way.behind_mct for way in rough.blocks[0])


def test_a_block_on_the_wrong_side_is_moved():
    # Near beds are 0 to 3, far ones 4 to 7; bed 3 begins among the far ones.
    beds = [Plain((4.8 * (k % 4), 0.0 if k < 4 else 30.0)) for k in range(8)]
    rough = rough_of(garden(beds, limits="share_headers = false", tap=(-2.0, 15.0)))
    found = moved(rough, ((0, 1, 2), (3, 4, 5, 6, 7)), [1.0] * 8, 5.0)
    assert found == ((0, 1, 2, 3), (4, 5, 6, 7))


def test_blocks_are_moved_until_zones_hold_even_if_mainline_grows():
    rough = rough_of(rows_of_beds(8))
    flows = [1.0] * 8
    start = ((0,), (1, 2, 3, 4, 5, 6, 7))
    found = moved(rough, start, flows, 4.0)
    assert [len(group) for group in found] == [4, 4]
    assert sorted(block for group in found for block in group) == list(range(8))


@pytest.mark.parametrize("seed", range(6))
def test_moves_never_make_zones_worse(seed):
    draw = random.Random(seed)
    rough = rough_of(rows_of_beds(9))
    home = [draw.randrange(3) for _ in range(9)]
    start = tuple(tuple(block for block in range(9) if home[block] == zone) or (zone,) for zone in range(3))
    if sorted(block for group in start for block in group) != list(range(9)):
        start = ((0, 1, 2), (3, 4, 5), (6, 7, 8))
    found = moved(rough, start, [1.0] * 9, 9.0)
    assert rough.cost_mct(found) <= rough.cost_mct(start)
    assert sorted(block for group in found for block in group) == list(range(9))
    assert all(group for group in found)

"""Mainline over blocks with several ways in: against brute force, and on plots measured by hand.

A cheapest tree of k ends has at most k - 2 places where it branches (Gilbert and Pollak, Steiner minimal trees, SIAM J.
Appl. Math. 16, 1968), so the brute force takes every way into each block, every set of so many places more, and a
spanning tree of them all by their cheapest ways.
"""

from __future__ import annotations

import math
import random
from itertools import combinations, product

import numpy as np
import pytest
from hand_plots import Plain, garden

from optimizer.choose.manybeds.combination import Combination
from optimizer.choose.manybeds.meeting import Meeting, every_price
from optimizer.routes.graph import Crossing, GraphEdge
from optimizer.routes.visibility import without_longer

FAR = 1 << 40


def network(draw: random.Random, count: int) -> tuple[list[tuple[int, int, int]], list[list[int]]]:
    """Return edges of a network in one piece, and the prices between all its places."""
    edges = [(draw.randrange(end), end, draw.randint(1, 20)) for end in range(1, count)]
    edges += [(*sorted(draw.sample(range(count), 2)), draw.randint(1, 20)) for _ in range(count)]
    between = [[0 if a == b else FAR for b in range(count)] for a in range(count)]
    for a, b, price in edges:
        between[a][b] = between[b][a] = min(between[a][b], price)
    for middle, a, b in product(range(count), repeat=3):
        between[a][b] = min(between[a][b], between[a][middle] + between[middle][b])
    return edges, between


def spanning(places: set[int], between: list[list[int]]) -> int:
    """Return the price of a cheapest spanning tree (Prim)."""
    first, *_ = places
    inside, outside, total = {first}, places - {first}, 0
    while outside:
        price, new = min((between[a][b], b) for a in inside for b in outside)
        total += price
        inside.add(new)
        outside.discard(new)
    return total


def cheapest(blocks, between, source: int) -> int:
    """Return the price of a cheapest tree by brute force."""
    count, best = len(between), FAR
    for chosen in product(*([way for way in ways if way[0] is not None] for ways in blocks)):
        ends = {source, *(place for place, _ in chosen)}
        behind = sum(price for _, price in chosen)
        for size in range(max(len(ends) - 1, 1)):
            for more in combinations(range(count), size):
                best = min(best, behind + spanning(ends | set(more), between))
    return best


@pytest.mark.parametrize("seed", range(60))
def test_meeting_is_as_cheap_as_any_tree(seed):
    draw = random.Random(seed)
    count = draw.randint(3, 8)
    edges, between = network(draw, count)
    prices = every_price(count, np.array([edge[:2] for edge in edges]), np.array([edge[2] for edge in edges]))
    assert prices.tolist() == between
    blocks = []
    for _ in range(draw.randint(1, 4)):
        ways = [(draw.randrange(count), draw.randint(0, 15)) for _ in range(draw.randint(1, 3))]
        blocks.append(ways + ([(None, 0)] if draw.random() < 0.3 else []))
    meeting = Meeting(prices, 0, blocks)
    assert meeting.least == cheapest(blocks, between, 0)
    taken = [[ways[number]] for ways, number in zip(blocks, meeting.ways(), strict=True)]
    assert cheapest(taken, between, 0) == meeting.least


def test_meeting_by_hand():
    # 0 - 1 - 2 in a row, 10 each, and 3 off the middle by 4. The second way into the second block is nearer but dearer.
    edges = np.array([(0, 1), (1, 2), (1, 3)])
    prices = every_price(4, edges, np.array([10, 10, 4]))
    meeting = Meeting(prices, 0, [[(2, 5)], [(3, 1), (1, 6)]])
    assert meeting.least == 10 + 10 + 5 + 4 + 1
    assert meeting.ways() == (0, 0)
    assert Meeting(prices, 0, [[(2, 5)], [(3, 3), (1, 6)]]).ways() == (0, 1)


# -------------------------------------------------------------------- on a plot

LOW, HIGH = Plain((0.0, 0.0)), Plain((0.0, 3.0))


def tree(beds, **kwargs):
    """Return the mainline to headers at the left ends of the rows."""
    held = garden(beds, limits="share_headers = false", **kwargs)
    left = [
        next(k for k in range(3) if held.case(0, 0, block, k).layout.headers[0].points[0][0] < bed.at[0] + 0.2)
        for block, bed in enumerate(beds)
    ]
    combination = Combination(0, 0, tuple(left))
    return held.tree(combination, held.units(combination), tuple(range(len(beds))), 2)


def length_mm(found) -> float:
    return sum(part.length_um for part in found.parts) / 1000


def test_between_two_beds_straight_to_both_headers():
    # Headers 0.1 m from the left edge; from the middle of the gap 0.5 m to each bed and 0.1 m to the first take-off.
    found = tree([LOW, HIGH], tap=(0.1, 2.5))
    assert length_mm(found) == pytest.approx(1200, abs=2)
    assert [part.above for part in found.parts] == [-1, -1]
    assert found.proven


def test_a_raised_bed_takes_its_climb_more():
    found = tree([LOW, Plain(HIGH.at, more='raised = "30 cm"')], tap=(0.1, 2.5))
    assert length_mm(found) == pytest.approx(1500, abs=2)
    assert sorted(part.rise_um for part in found.parts) == [0, 300_000]


def test_around_the_end_of_a_barrier():
    # Round its end at (-1, 2.2) to the last take-off of the lower bed, from beside at (0, 1.9) and 0.1 m on.
    wall = '[[barriers]]\nname = "wall"\nline = "-1 m, 2.2 m to 10 m, 2.2 m"'
    around = math.hypot(1.1, 0.3) + math.hypot(1.0, 0.3) + 0.1
    assert length_mm(tree([LOW, HIGH], tap=(0.1, 2.5), more=wall)) == pytest.approx(1000 * around + 600, abs=6)


def test_past_the_first_bed_to_the_next():
    # Header places at the left; from the left the lower bed is reached beside at (0, 0.1). The upper one is 20 m to
    # the right on the same height: along the lower edge of the first bed from the supply, straight.
    far = Plain((20.0, 0.0))
    found = tree([LOW, far], tap=(-2.0, 0.0))
    to_first = math.hypot(2.0, 0.1) + 0.1
    onward = 20.0 + 0.1  # from (0, 0) or so to (20, 0.1) and in
    assert length_mm(found) == pytest.approx(1000 * (to_first + onward), abs=12)


# -------------------------------------------------------------------- fewer edges


def edge(start, end, length, *paths):
    return GraphEdge(start, end, length, tuple(Crossing(path, (0.0, 0.0), 300) for path in paths))


IN_LINE = [(0, 0), (1000, 0), (3000, 0), (6000, 0)]


def test_of_places_in_line_only_neighbours_stay_joined():
    edges = [edge(a, b, IN_LINE[b][0] - IN_LINE[a][0]) for a, b in combinations(range(4), 2)]
    assert {(e.start, e.end) for e in without_longer(IN_LINE, edges)} == {(0, 1), (1, 2), (2, 3)}


def test_a_long_edge_stays_where_a_short_one_is_missing():
    edges = [edge(0, 1, 1000), edge(0, 2, 3000), edge(2, 3, 3000), edge(0, 3, 6000)]
    assert {(e.start, e.end) for e in without_longer(IN_LINE, edges)} == {(0, 1), (0, 2), (2, 3)}


def test_a_long_edge_stays_where_rounding_makes_the_short_ones_dearer():
    # Slanted: 1414.2 mm twice are 1415 mm each, together 2 mm more than 2828.4 mm rounded up by itself.
    slanted = [(0, 0), (1000, 1000), (2000, 2000)]
    assert len(without_longer(slanted, [edge(0, 1, 1415), edge(1, 2, 1415), edge(0, 2, 2829)])) == 3


def test_a_long_edge_goes_only_if_the_short_ones_cross_the_same_paths():
    short = [edge(0, 1, 1000), edge(1, 2, 2000, "planks")]
    assert len(without_longer(IN_LINE, [*short, edge(0, 2, 3000, "planks")])) == 2
    assert len(without_longer(IN_LINE, [*short, edge(0, 2, 3000)])) == 3


@pytest.mark.parametrize("seed", range(20))
def test_no_way_gets_longer(seed):
    draw = random.Random(seed)
    places = sorted({(1000 * draw.randrange(5), 1000 * draw.randrange(4)) for _ in range(9)})
    pairs = [pair for pair in combinations(range(len(places)), 2) if draw.random() < 0.8]
    edges = [edge(a, b, math.ceil(math.dist(places[a], places[b]) - 1e-9)) for a, b in pairs]

    def between(some):
        ends, costs = np.array([(e.start, e.end) for e in some]), np.array([e.length_mm for e in some])
        return every_price(len(places), ends.reshape(-1, 2), costs).tolist()

    fewer = without_longer(places, edges)
    assert set(fewer) <= set(edges)
    assert between(fewer) == between(edges)

"""Mainline that forks before it feeds anything: on plots measured by hand, and its parts on many others."""

from __future__ import annotations

import math
import random
from itertools import pairwise

import numpy as np
import pytest
from hand_plots import Plain, garden
from tiny_plots import plot

from optimizer.choose.evaluate import RuledOutError
from optimizer.choose.goals import Goals
from optimizer.choose.manybeds.combination import Combination
from optimizer.choose.manybeds.gaps import across_gaps
from optimizer.choose.manybeds.lay import hung, laid
from optimizer.choose.manybeds.meeting import Meeting, every_price
from optimizer.choose.manybeds.search import GardenSearch
from optimizer.choose.manybeds.trees import Tree
from optimizer.choose.manybeds.units import Units
from optimizer.choose.manybeds.value import Look, Low, Valuer
from optimizer.choose.search import SearchLimits

EXACT = 2  # the most that is done for a tree


def at_left_ends(beds, **kwargs):
    """Return a garden, its headers at the left ends of the rows, and their units: one a bed."""
    held = garden(beds, limits="share_headers = false", **kwargs)
    left = [
        next(k for k in range(3) if held.case(0, 0, block, k).layout.headers[0].points[0][0] < bed.at[0] + 0.2)
        for block, bed in enumerate(beds)
    ]
    combination = Combination(0, 0, tuple(left))
    return held, combination, held.units(combination)


def length_mm(found: Tree) -> float:
    return sum(part.length_um for part in found.parts) / 1000


def laid_out(held, units: Units, found: Tree, groups):
    on = hung(units, [(range(len(units.units)), found)], held.mains(0)[0])
    return laid(units, on, groups)


def test_two_zones_behind_one_another_share_the_way_to_the_first():
    # The way of the tests of trees: to the first bed at (0, 0.1), 0.1 m in, and 20 m on to the second and 0.1 m in.
    # With a tree of its own each would need the first 2 m for itself.
    held, combination, units = at_left_ends([Plain((0.0, 0.0)), Plain((20.0, 0.0))], tap=(-2.0, 0.0))
    groups = ((0,), (1,))
    found = held.forked(combination, units, groups, EXACT)
    assert length_mm(found) == pytest.approx(1000 * (math.hypot(2.0, 0.1) + 0.1 + 20.0 + 0.1), abs=12)
    alone = [length_mm(held.tree(combination, units, group, EXACT)) for group in groups]
    assert sum(alone) == pytest.approx(length_mm(found) + 2000, abs=12)
    laying = laid_out(held, units, found, groups)
    assert [valve.zones for valve in laying.valves] == [(0,), (1,)]


def test_branches_of_a_zone_do_not_reach_for_the_supply():
    # Two pairs of beds: one pair at the tap, one 30 m to the right. Left headers of a pair lie 1 m apart, so branches
    # between them take 1 m and 0.1 m into each.
    beds = [Plain((0.0, 0.0)), Plain((0.0, 3.0)), Plain((30.0, 0.0)), Plain((30.0, 3.0))]
    held, combination, units = at_left_ends(beds, tap=(-1.0, 2.5))
    groups = ((0, 1), (2, 3))
    found = held.forked(combination, units, groups, EXACT)
    # Mainline parts where beds are entered: from the tap to the way into the first bed, and 30 m along its edge to that
    # of the second pair.
    assert length_mm(found) == pytest.approx(1000 * (math.hypot(1.1, 0.5) + 30.0 + 2 * (1.0 + 2 * 0.1)), abs=12)
    laying = laid_out(held, units, found, groups)
    assert len(laying.valves) == 2


PLOTS = [
    (kind, seed) for kind in ("beds in a line", "raised", "barrier", "path", "slope", "long header") for seed in (0, 1)
]


@pytest.mark.parametrize(("kind", "seed"), PLOTS)
def test_every_zone_has_one_valve_and_nothing_of_another(kind, seed):
    held = GardenSearch(plot(kind, seed), SearchLimits()).garden
    draw, seen = random.Random(f"forks {kind} {seed}"), 0
    for _ in range(12):
        pattern = draw.randrange(len(held.patterns))
        sizes = [len(block.layouts) for block in held.patterns[pattern].blocks]
        combination = Combination(pattern, 0, tuple(draw.randrange(size) for size in sizes))
        try:
            units = held.units(combination)
            every = tuple(range(len(units.units)))
            groups = parted(every, draw)
            found = held.forked(combination, units, groups, EXACT)
            least = length_mm(held.tree(combination, units, every, EXACT))
        except RuledOutError:
            continue
        seen += 1
        laying = laid_out(held, units, found, groups)
        assert sorted(zone for valve in laying.valves for zone in valve.zones) == list(range(len(groups)))
        for number, part in enumerate(found.parts):
            start = found.parts[part.above].points[-1] if part.above >= 0 else laying.shapes.source_at
            assert part.above < number
            assert math.dist(part.points[0], start) < 0.002
            walked = sum(math.dist(a, b) for a, b in pairwise(part.points))
            assert part.length_um / 1e6 == pytest.approx(walked + part.rise_um / 1e6, abs=0.002 * len(part.points))
        # One tree to everything is the shortest there is, cheap by the metre, but for covers over paths.
        assert kind == "path" or length_mm(found) >= least - 1.0
    assert seen


def parted(every: tuple[int, ...], draw: random.Random) -> tuple[tuple[int, ...], ...]:
    home = [draw.randrange(3) for _ in every]
    zones = [tuple(unit for unit in every if home[unit] == zone) for zone in range(3)]
    return tuple(zone for zone in zones if zone)


@pytest.mark.parametrize("seed", range(30))
def test_legs_make_up_the_tree(seed):
    draw = random.Random(seed)
    count = draw.randint(4, 9)
    edges = [(draw.randrange(end), end) for end in range(1, count)]
    edges += [tuple(sorted(draw.sample(range(count), 2))) for _ in range(count)]
    prices = every_price(count, np.array(edges), np.array([draw.randint(1, 20) for _ in edges]))
    blocks = [
        [(draw.randrange(count), draw.randint(0, 15)) for _ in range(draw.randint(1, 3))]
        for _ in range(draw.randint(1, 4))
    ]
    meeting = Meeting(prices, 0, blocks)
    legs = meeting.legs()
    behind = sum(blocks[leg.block][meeting.ways()[leg.block]][1] for leg in legs if leg.block is not None)
    assert sum(int(prices[leg.start, leg.end]) for leg in legs) + behind == meeting.least
    assert sorted(leg.block for leg in legs if leg.block is not None) == list(range(len(blocks)))
    for leg in legs:
        assert leg.start == (legs[leg.above].end if leg.above >= 0 else 0)


# -------------------------------------------------------------------- gaps

GRID = [(3.0 * column, 6.0 * row) for row in range(3) for column in range(2)]
"""two columns 3 m apart, three rows 6 m apart"""


def test_a_garden_is_parted_between_rows_or_columns():
    found = {frozenset(groups) for groups in across_gaps(GRID, 2)}
    rows = {frozenset({(0, 1), (2, 3, 4, 5)}), frozenset({(0, 1, 2, 3), (4, 5)})}
    assert found == rows | {frozenset({(0, 2, 4), (1, 3, 5)})}


@pytest.mark.parametrize("zones", [2, 3])
def test_every_block_is_in_one_of_as_many_parts_as_wanted(zones):
    for groups in across_gaps(GRID, zones):
        assert len(groups) == zones
        assert sorted(block for group in groups for block in group) == list(range(6))


def test_gaps_are_looked_for_along_the_garden_however_it_lies():
    turned = [(x * math.cos(0.4) - y * math.sin(0.4), x * math.sin(0.4) + y * math.cos(0.4)) for x, y in GRID]

    def alike(places):
        return {frozenset(map(frozenset, groups)) for groups in across_gaps(places, 3)}

    assert alike(turned) == alike(GRID)


def test_blocks_in_a_line_are_parted_along_it():
    assert ((0, 1), (2, 3)) in set(across_gaps([(5.0 * k, 0.0) for k in range(4)], 2))


# -------------------------------------------------------------------- zones given


def valued_in(held, combination: Combination, groups):
    nothing = Goals(0, 0, 0, 0, 0)
    return Valuer(held).value(combination, Look(0, groups), Low(nothing, nothing))


def test_zones_given_are_laid_as_given():
    held, combination, _ = at_left_ends([Plain((0.0, 0.0)), Plain((0.0, 3.0)), Plain((20.0, 0.0))], tap=(-1.0, 2.5))
    found = valued_in(held, combination, ((0, 1), (2,)))
    assert [tuple(member.header for member in zone) for zone in found.laying.zones] == [(0, 1), (2,)]
    assert len(found.laying.valves) == 2
    assert found.bound <= found.goals


def test_zones_given_do_not_mix_crops_that_may_not_share():
    alone = Plain((0.0, 3.0), crop="own_zone = true")
    held, combination, _ = at_left_ends([Plain((0.0, 0.0)), alone, Plain((20.0, 0.0))], tap=(-1.0, 2.5))
    with pytest.raises(RuledOutError, match="may not share"):
        valued_in(held, combination, ((0, 1), (2,)))
    assert len(valued_in(held, combination, ((0, 2), (1,))).laying.zones) == 2


def test_more_zones_than_a_stem_is_found_for_are_left_to_other_trees(monkeypatch):
    held, combination, _ = at_left_ends([Plain((0.0, 0.0)), Plain((0.0, 3.0)), Plain((20.0, 0.0))], tap=(-1.0, 2.5))
    monkeypatch.setattr("optimizer.choose.manybeds.garden.is_quick", lambda zones, places: False)
    found = valued_in(held, combination, ((0, 1), (2,)))
    assert len(found.laying.zones) == 2  # each on a tree of its own

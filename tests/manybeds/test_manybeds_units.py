"""Units that may run together and the ways to group them: counts are Bell and Stirling numbers."""

from __future__ import annotations

from dataclasses import dataclass

import pytest
from hand_plots import Plain, garden

from optimizer.choose.manybeds.combination import Combination
from optimizer.choose.manybeds.search import GardenSearch
from optimizer.choose.manybeds.units import partitions
from optimizer.choose.search import SearchLimits


@dataclass
class Some:
    """So many units, pairs of which are apart."""

    count: int
    apart: frozenset[tuple[int, int]] = frozenset()

    @property
    def units(self):
        return [None] * self.count

    def may_share(self, group, unit):
        return all((min(unit, other), max(unit, other)) not in self.apart for other in group)


def count(units: Some, most: int | None = None) -> int:
    found = list(partitions(units, most))
    assert len(set(found)) == len(found)
    for groups in found:
        assert sorted(unit for group in groups for unit in group) == list(range(units.count))
    return len(found)


@pytest.mark.parametrize(("units", "bell"), [(1, 1), (2, 2), (3, 5), (4, 15), (5, 52), (6, 203)])
def test_every_grouping_once(units, bell):
    assert count(Some(units)) == bell


@pytest.mark.parametrize(("most", "groupings"), [(1, 1), (2, 8), (3, 14), (4, 15), (9, 15)])
def test_no_more_zones_than_allowed(most, groupings):
    # Of four units 1, 7, 6 and 1 groupings have one to four groups (Stirling numbers).
    assert count(Some(4), most) == groupings


@pytest.mark.parametrize(
    ("units", "apart", "groupings"),
    [
        (2, {(0, 1)}, 1),
        (3, {(0, 1)}, 3),  # 5 less the 2 that hold 0 and 1 together
        (4, {(0, 1)}, 10),  # 15 less 5
        (4, {(0, 1), (2, 3)}, 7),  # 15 - 5 - 5 + 2
        (4, {(0, 1), (0, 2), (0, 3)}, 5),  # the first alone
        (3, {(0, 1), (0, 2), (1, 2)}, 1),
    ],
)
def test_pairs_apart_are_in_no_group(units, apart, groupings):
    assert count(Some(units, frozenset(apart))) == groupings


def apart(beds, layouts=None, kit=0, **kwargs):
    held = garden(beds, **kwargs)
    return held.units(Combination(0, kit, layouts or (0,) * len(beds))).apart


THREE = [Plain((0.0, 0.0)), Plain((5.0, 0.0)), Plain((10.0, 0.0))]


def test_beds_of_one_line_run_together():
    assert apart(THREE) == frozenset()


def test_a_crop_of_its_own_zone_is_apart_from_all_others():
    beds = [THREE[0], Plain((5.0, 0.0), crop="own_zone = true"), THREE[2]]
    assert apart(beds) == {(0, 1), (1, 2)}


def test_two_headers_of_a_crop_of_its_own_zone_may_run_together():
    beds = [Plain((0.0, 0.0), crop="own_zone = true"), THREE[1]]
    # The fourth layout is the first with two headers: units 0 and 1 are the two of the first bed.
    assert apart(beds, (3, 0), limits="headers_at_most = 2") == {(0, 2), (1, 2)}


def test_beds_of_other_lines_are_apart():
    beds = [THREE[0], Plain((5.0, 0.0), more='lines = ["b"]'), THREE[2]]
    assert apart(beds, lines=(("a", ""), ("b", ""))) == {(0, 1), (1, 2)}


def test_crops_whose_minutes_differ_too_much_are_apart():
    # Minutes go with the ground an emitter waters. Rows 0.6 m and 0.5 m apart differ by a sixth, 0.6 m and 0.4 m by a
    # third; a fifth is allowed.
    asked = '[climate]\nneed = "5 mm/day"'
    water = 'water = { planted = 2026-05-10, like = "bean, green" }'
    beds = [Plain(bed.at, more='soil = "sandy loam"', crop=water) for bed in THREE]
    text = [0.6, 0.5, 0.4]
    held = garden(beds, more=asked).scenario
    spaced = held.model_copy(
        update={
            "beds": tuple(
                bed.model_copy(update={"crops": (bed.crops[0].model_copy(update={"row_spacing": spacing}),)})
                for bed, spacing in zip(held.beds, text, strict=True)
            )
        }
    )
    assert apart_in(spaced) == {(0, 2)}


def apart_in(scenario):
    held = GardenSearch(scenario, SearchLimits()).garden
    return held.units(Combination(0, 0, (0,) * len(scenario.beds))).apart

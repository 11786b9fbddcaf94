"""Crops, soils, minutes, rain: small rules by hand and by enumeration."""

from __future__ import annotations

import ast
from dataclasses import replace
from itertools import combinations, pairwise
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import optimizer.need
from optimizer.errors import ScenarioError
from optimizer.need import built_in_crops, built_in_soils, crop, group_by_minutes, may_share, soil, stretched
from optimizer.need.coefficients import Mulch, MulchKind, canopy_factor, curve, root_depth
from optimizer.need.evapotranspiration import reference_need
from optimizer.need.minutes import application_rate_mm_h, gross_depth_mm
from optimizer.need.radiation import daylight_hours, extraterrestrial_radiation, relative_shortwave
from optimizer.need.rain import rain_rule
from optimizer.need.weather import Place, Weather

SOURCES = sorted(Path(optimizer.need.__file__).parent.glob("*.py"))


def test_names_are_found_whatever_their_capitals():
    assert crop(" Tomato ").name == "tomato"
    assert soil("LOAM").name == "loam"


@pytest.mark.parametrize(("find", "name"), [(crop, "tomatoe"), (soil, "mud")])
def test_unknown_names_list_those_there_are(find, name):
    with pytest.raises(ScenarioError, match=f"no built-in .* '{name}'; there are: "):
        find(name)


def test_every_built_in_has_a_name_of_its_own():
    assert len({each.name for each in built_in_crops()}) == len(built_in_crops()) >= 40
    assert len({each.name for each in built_in_soils()}) == len(built_in_soils()) == 11


@pytest.mark.parametrize(
    "change",
    [
        {"kc": (0.0, 1.0, 1.0)},
        {"stage_days": (-1, 5, 5, 5)},
        {"stage_days": (0, 0, 0, 0)},
        {"root_m": 2.0, "root_max_m": 1.0},
        {"depletion": 1.0},
        {"depletion": 0.0},
    ],
)
def test_crops_that_cannot_be_are_refused(change):
    with pytest.raises(ScenarioError, match="crop 'tomato'"):
        replace(crop("tomato"), **change)


@pytest.mark.parametrize("change", [{"wilting_point": 0.5}, {"field_capacity": 1.0}, {"run_depth_mm": 0.0}])
def test_soils_that_cannot_be_are_refused(change):
    with pytest.raises(ScenarioError, match="soil 'loam'"):
        replace(soil("loam"), **change)


@given(st.sampled_from(built_in_crops()), st.integers(4, 400))
@settings(derandomize=True, max_examples=100, deadline=None)
def test_a_stretched_season_has_the_days_asked_for(grown, days):
    assert stretched(grown, days).season_days == days


def test_a_season_stretched_by_hand():
    """Tomato 30/40/45/30 (145 days) to 290 days: every stage doubled."""
    assert stretched(crop("tomato"), 290).stage_days == (60, 80, 90, 60)


@given(st.sampled_from(built_in_crops()))
@settings(derandomize=True, max_examples=40, deadline=None)
def test_the_curve_stays_between_its_values_and_has_no_jumps_inside(grown):
    values = [curve(grown.kc, grown.stage_days, day) for day in range(1, grown.season_days + 1)]
    assert min(grown.kc) - 1e-9 <= min(values)
    assert max(values) <= max(grown.kc) + 1e-9
    steps = [abs(b - a) for a, b in pairwise(values)]
    shortest = min(length for length in (grown.stage_days[1], grown.stage_days[3]) if length)
    assert max(steps) <= 2.0 / shortest


def test_roots_grow_to_full_depth_at_mid_season_and_stop_at_the_floor_of_a_bed():
    """Tomato roots 0.7 m (table 22) after 70 days; half way 0.15 + 0.5 x 0.55 = 0.425; a bed 0.25 m deep stops them."""
    assert root_depth(crop("tomato"), 35) == pytest.approx(0.425)
    assert root_depth(crop("tomato"), 70) == pytest.approx(0.7)
    assert root_depth(crop("tomato"), 100, 0.25) == 0.25
    assert root_depth(crop("tomato"), 1, 0.10) == 0.10


def fewest_groups(minutes, tolerance):
    """Least number of groups by trying every partition into runs of every subset (independent of order)."""
    if not minutes:
        return 0
    first, rest = minutes[0], minutes[1:]
    best = len(minutes)
    for size in range(len(rest) + 1):
        for chosen in combinations(range(len(rest)), size):
            group = [first, *(rest[i] for i in chosen)]
            if max(group) - min(group) <= tolerance * max(group) * (1 + 1e-12):
                left = [value for i, value in enumerate(rest) if i not in chosen]
                best = min(best, 1 + fewest_groups(left, tolerance))
    return best


@given(st.lists(st.floats(1.0, 100.0), max_size=6), st.sampled_from([0.0, 0.1, 0.2, 0.5]))
@settings(derandomize=True, max_examples=80, deadline=None)
def test_groups_are_the_fewest_and_all_in_them_may_share(minutes, tolerance):
    groups = group_by_minutes(minutes, tolerance)
    assert sorted(i for group in groups for i in group) == list(range(len(minutes)))
    for group in groups:
        assert all(may_share(minutes[a], minutes[b], tolerance) for a, b in combinations(group, 2))
    assert len(groups) == fewest_groups(minutes, tolerance)


SHARING = (
    (46, 28, 0.2, False),
    (46, 37, 0.2, True),
    (50, 40, 0.2, True),
    (50, 39.9, 0.2, False),
    (0, 0, 0.0, True),
    (1, 0, 0.9, False),
)


@pytest.mark.parametrize(("a", "b", "tolerance", "expected"), SHARING)
def test_who_may_share_by_hand(a, b, tolerance, expected):
    assert may_share(a, b, tolerance) is expected
    assert may_share(b, a, tolerance) is expected


def test_gross_depth_by_hand():
    """18 mm net, EU 0.9, nothing else lost: 20 mm."""
    assert gross_depth_mm(18.0, 0.9, 1.0) == pytest.approx(20.0)


def test_rain_rule_by_hand():
    """Runs of 6 mm, ETo 5 mm (1 mm evaporates), room 20 mm: 7 mm for one; three runs are 18 + 1 = 19 mm."""
    rule = rain_rule(6.0, 5.0, 20.0, sheds_rain=False)
    assert (rule.one_run_mm, rule.most_runs) == (7, 3)
    assert rule.text == "If it rains 7 mm skip the next run; 19 mm or more, skip the next 3."
    assert rain_rule(6.0, 5.0, 5.0, sheds_rain=False).text == "If it rains 7 mm skip the next run."
    assert "under plastic" in rain_rule(6.0, 5.0, 20.0, sheds_rain=True).text


@pytest.mark.parametrize(
    "call",
    [
        lambda: may_share(-1.0, 1.0, 0.2),
        lambda: may_share(1.0, 1.0, 1.2),
        lambda: application_rate_mm_h(0.0, 0.3, 1.0),
        lambda: gross_depth_mm(1.0, 0.0, 1.0),
        lambda: canopy_factor(101.0),
        lambda: Mulch(MulchKind.ORGANIC, 1.5),
        lambda: stretched(crop("tomato"), 3),
        lambda: reference_need(Place(45.0, 0.0), 100, Weather(10.0, 20.0)),
        lambda: reference_need(Place(45.0, 0.0), 100, Weather(20.0, 10.0, rhmax_pct=120.0)),
        lambda: reference_need(Place(45.0, 0.0), 100, Weather(float("nan"), 10.0)),
    ],
)
def test_arguments_that_cannot_be_are_refused(call):
    with pytest.raises(ValueError, match=r"."):
        call()


def test_polar_night_and_day():
    """80 degrees north: no sun on 21 December, 24 h on 21 June; the need is finite and not negative."""
    assert daylight_hours(80.0, 355) == 0.0
    assert daylight_hours(80.0, 172) == pytest.approx(24.0)
    assert extraterrestrial_radiation(80.0, 355) == pytest.approx(0.0, abs=1e-9)
    assert relative_shortwave(0.0, 0.0) == 1.0
    assert reference_need(Place(80.0, 0.0), 355, Weather(-20.0, -28.0, sunshine_h=0.0)).eto_mm_day >= 0.0


@pytest.mark.parametrize("path", SOURCES, ids=lambda path: path.name)
def test_this_part_knows_only_numpy_the_standard_library_and_errors(path):
    allowed = {"optimizer.errors", "numpy"}
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        names = [alias.name for alias in node.names] if isinstance(node, ast.Import) else []
        names += [node.module or ""] if isinstance(node, ast.ImportFrom) else []
        for name in names:
            if name.split(".")[0] in ("optimizer", "pint", "pydantic", "shapely", "ortools", "numpy"):
                assert name in allowed or name.split(".")[:2] == ["optimizer", "need"], f"{path.name} imports {name}"

"""Bounds from the fewest zones against every split that holds; no published source, the referee splits and counts.

The referee solves every zone emitter by emitter, lays out, counts and cuts by itself.
"""

from __future__ import annotations

from functools import cache

import pytest
from enumeration import OPEN, Enumeration, splits
from referee_water import HOLDS, Water
from tiny_gardens import garden

from optimizer.choose.designs import choice_set
from optimizer.choose.evaluate import Evaluator, RuledOutError
from optimizer.choose.fewest import fewest_zones
from optimizer.choose.leastsplit import fewest_by_reach, least_split, one_zone_a_header

CASES = [
    ("small supply", 1),
    ("small supply", 2),
    ("few outlets", 3),
    ("own zone", 1),
    ("dear valve", 2),
    ("slope", 1),
    ("steep and small", 1),
    ("downhill header", 2),
    ("two headers", 1),
    ("two headers small supply", 1),
    ("pump band", 1),
    ("flow band", 1),
    ("lead-in", 1),
    ("tank", 1),
    ("tight variation", 2),
]
MOST_DESIGNS = 4
JOINING = ("take-off", "end closure", "line coupler", "bypass adapter")
"""fittings of laterals, which are the same for all splits"""


@cache
def compared(kind, seed):
    """Return designs of a garden with the referee's layout of each and the splits that hold there."""
    scenario = garden(kind, seed)
    choices = choice_set(scenario, scenario.beds[0])
    evaluator, referee = Evaluator(choices), Enumeration(scenario)
    found = []
    laid = {key(layout): layout for _, _, _, layout, _ in referee.heap}
    worked = []
    for design in choices.designs():
        if not design.shut_offs:
            try:
                worked.append((design, evaluator.worked_out(design)))
            except RuledOutError:
                continue
    for design, case in worked[:: max(len(worked) // MOST_DESIGNS, 1)]:
        layout = laid.get(key_of(case))
        if layout is not None:
            found.append((design, case, layout, holding(layout)))
    return evaluator, referee, found


def key(layout):
    """Return what tells layouts apart."""
    headers = tuple(tuple((round(x, 6), round(y, 6)) for x, y in header.points) for header in layout.headers)
    return headers, layout.line.name, layout.tube.name, layout.regulator.name if layout.regulator else ""


def key_of(case):
    """Return the same of a design."""
    headers = tuple(tuple((round(x, 6), round(y, 6)) for x, y in header.points) for header in case.layout.headers)
    return headers, case.line.name, case.tube.name, case.regulator.name if case.regulator else ""


def holding(layout):
    """Return the splits in which every zone holds every limit."""
    water = Water(layout)

    def holds(zones):
        runs = ((header, zone) for header, members in enumerate(zones) for zone in members)
        return all(water.judge(header, zone).verdict == HOLDS for header, zone in runs)

    return [zones for zones in splits(layout) if zones != OPEN and holds(zones)]


@pytest.mark.parametrize(("kind", "seed"), CASES)
def test_no_split_that_holds_has_fewer_zones_or_ends_nearer(kind, seed):
    evaluator, _, found = compared(kind, seed)
    assert found
    asked = [(case, evaluator.limits(case)) for _, case, _, _ in found]
    for (_, _, _, ways), known in zip(found, fewest_zones(evaluator.judge, asked), strict=True):
        for zones in ways:
            for item, runs in zip(known, zones, strict=True):
                assert item.zones is not None, item.why
                assert item.zones <= len(runs)
                assert item.nearest_last <= runs[-1][0]
                assert runs[0][1] <= item.farthest_first


@pytest.mark.parametrize(("kind", "seed"), CASES)
def test_no_split_that_holds_is_better_than_the_closer_bound(kind, seed):
    evaluator, referee, found = compared(kind, seed)
    bounds = evaluator.closer_bounds([(design, case) for design, case, _, _ in found])
    for (_, _, layout, ways), bound in zip(found, bounds, strict=True):
        values = [goals for zones in ways if (goals := referee.exact_goals(layout, zones)) is not None]
        assert not (values and isinstance(bound, RuledOutError)), bound
        for missing, money, waste, fittings in values:
            assert bound.missing_ppm == missing
            assert bound.money_ct <= money
            assert bound.fittings <= fittings
            assert bound[:4] <= (missing, money, waste, fittings)


@pytest.mark.parametrize(("kind", "seed"), CASES)
def test_no_split_has_less_than_the_least_of_its_number_of_zones(kind, seed):
    """Fittings without those of laterals, and tube in cutting units; the referee counts both piece by piece."""
    _, _, found = compared(kind, seed)
    for _, case, layout, ways in found:
        for zones in ways:
            fittings = layout.fittings(zones)
            joining = {key: number for key, number in fittings.items() if key[0] not in JOINING}
            pushed = sum(number for (name, _), number in joining.items() if name not in ("stake", "tube cover"))
            known = [fewest_by_reach(reaching(runs, case.row_count)) for runs in zones]
            for fewest in (one_zone_a_header(case), known):
                least = least_split(case, fewest, sum(map(len, zones)))
                assert least.units <= sum(layout.tube_pieces(zones))
                assert least.pushed <= pushed
                assert least.money_ct <= layout.fitting_money(joining)


def reaching(runs, rows):
    """Return how far each row reaches at least if these runs work: to the end of its run, whose parts work as well."""
    return [next(last for first, last in runs if first <= row <= last) for row in range(rows)]


def test_the_bounds_say_something():
    """Several zones are needed, rows cannot run, and splits are many, or all of the above would hold for zero."""
    more = ways = 0
    for kind, seed in CASES:
        evaluator, _, found = compared(kind, seed)
        asked = [(case, evaluator.limits(case)) for _, case, _, _ in found]
        for known in fewest_zones(evaluator.judge, asked):
            more += any(item.zones is None or item.zones > 1 for item in known)
        ways += sum(len(splits) for *_, splits in found)
    assert more > 10
    assert ways > 150

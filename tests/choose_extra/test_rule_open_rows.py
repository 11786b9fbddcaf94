"""Groups of rows with shut-offs against every grouping, or every cut of the order; no published source.

Rows are judged by a rule made up here, so that what is tested is the grouping alone: a group holds if its flow lies
within a band, and its unevenness is drawn.
"""

from __future__ import annotations

import random
import zlib
from itertools import pairwise, product
from types import SimpleNamespace

import numpy as np
import pytest

from optimizer import design
from optimizer.choose import openrows
from optimizer.choose.judge import RunFigures
from optimizer.choose.openrows import NoGroupsError, best_groups
from optimizer.scenario import parse_scenario
from tests.choose_levers.impossible_gardens import changed


class Rows:
    """Rows of some flow and crop, and the rule by which groups of them hold."""

    def __init__(self, seed, count):
        draw = random.Random(seed)
        self.flows = [draw.randint(1, 6) for _ in range(count)]
        self.crops = [draw.randint(0, 2) for _ in range(count)]
        self.most = draw.randint(7, 16)
        self.least = draw.choice((0, 0, 2, 5))
        self.apart = draw.choice((set(), {(0, 1), (1, 0)}, {(a, b) for a in range(3) for b in range(3) if a != b}))
        self.salt = seed

    @property
    def case(self):
        rows = [SimpleNamespace(crop=crop) for crop in self.crops]
        return SimpleNamespace(row_count=len(rows), layout=SimpleNamespace(plan=SimpleNamespace(rows=rows)))

    def flow(self, group):
        return sum(self.flows[row] for row in group)

    def unevenness(self, group):
        return zlib.crc32(f"{self.salt} {group}".encode()) % 10

    def may_share(self, group):
        return not any((self.crops[a], self.crops[b]) in self.apart for a in group for b in group)

    def holds(self, group):
        return self.least <= self.flow(group) <= self.most and self.may_share(group)

    # What the judge of zones offers.

    def take_offs(self, case, header):
        return None

    def judge_open(self, asked):
        flows = np.array([self.flow(group) for group in asked.groups])
        uneven = np.array([self.unevenness(group) for group in asked.groups])
        reasons = tuple("" if self.least <= flow <= self.most else "out of the band" for flow in flows)
        return RunFigures(flows.astype(float), uneven, flows > self.most, flows < self.least, reasons)

    def goals(self, groupings):
        """Return the fewest zones and their least worst unevenness; None if no grouping holds."""
        tries = [
            (len(groups), max(self.unevenness(group) for group in groups))
            for groups in groupings
            if all(self.holds(group) for group in groups)
        ]
        return min(tries, default=None)


def partitions(rows):
    """Yield every grouping of rows."""
    if not rows:
        yield []
        return
    for rest in partitions(rows[1:]):
        yield [(rows[0],), *rest]
        for index, group in enumerate(rest):
            yield [*rest[:index], (rows[0], *group), *rest[index + 1 :]]


def cuts(order):
    """Yield every way to cut an order into groups."""
    for marks in product((False, True), repeat=len(order) - 1):
        edges = [0, *(index + 1 for index, cut in enumerate(marks) if cut), len(order)]
        yield [tuple(sorted(order[a:b])) for a, b in pairwise(edges)]


def together(rows):
    """Return the rows, those of crops that may share a zone behind one another, in the order in which they begin."""
    return [row for kind in kinds_of(rows) for row in kind]


def unmixed(rows, groups):
    """Say whether no group has rows of two kinds, though some of their crops may share a zone."""
    return all(any(set(group) <= set(kind) for kind in kinds_of(rows)) for group in groups)


def kinds_of(rows):
    """Return the rows in kinds: each joins the first kind with whose crops its own may share a zone."""
    kinds = []
    for row in range(len(rows.crops)):
        home = next((kind for kind in kinds if rows.may_share((*kind, row))), None)
        if home is None:
            kinds.append([row])
        else:
            home.append(row)
    return kinds


@pytest.fixture
def grouped(monkeypatch):
    def groups_of(rows, most_free, failed=()):
        monkeypatch.setattr(openrows, "MOST_FREE", most_free)
        monkeypatch.setattr(openrows, "crops_apart", lambda case: frozenset(rows.apart))
        try:
            found = best_groups(rows.case, None, rows, failed)
        except NoGroupsError:
            return None, ()
        assert sorted(row for group in found.groups for row in group) == list(range(len(rows.flows)))
        assert all(rows.holds(group) for group in found.groups)
        assert found.unevenness == max(rows.unevenness(group) for group in found.groups)
        return (len(found.groups), found.unevenness), found.groups

    return groups_of


@pytest.mark.parametrize("seed", range(40))
def test_few_rows_are_grouped_as_well_as_by_every_grouping(seed, grouped):
    rows = Rows(seed, 7)
    assert grouped(rows, 12)[0] == rows.goals(partitions(tuple(range(7))))


@pytest.mark.parametrize("seed", range(40))
def test_many_rows_are_grouped_as_well_as_by_every_cut_of_their_order(seed, grouped):
    rows = Rows(seed, 10)
    order = together(rows)
    assert grouped(rows, 9)[0] == rows.goals(groups for groups in cuts(order) if unmixed(rows, groups))


def test_both_answers_occur():
    """Some rows cannot be grouped at all, some need several groups, or the comparisons would be hollow."""
    found = [Rows(seed, 7).goals(partitions(tuple(range(7)))) for seed in range(40)]
    assert 2 <= found.count(None) < 30
    assert len({goals[0] for goals in found if goals is not None}) >= 3


@pytest.mark.parametrize(("count", "most_free"), [(7, 12), (10, 9)])
def test_groups_found_to_fail_and_all_that_hold_them_are_left_out(count, most_free, grouped):
    changes = 0
    for seed in range(30):
        rows = Rows(seed, count)
        before, groups = grouped(rows, most_free)
        longest = max(groups, key=len, default=())
        if len(longest) < 2:
            continue
        after, now = grouped(rows, most_free, [longest])
        assert not any(set(longest) <= set(group) for group in now)
        assert after is None or after >= before
        changes += after != before
    assert changes > 5


def test_a_row_that_cannot_run_at_all_is_named(monkeypatch):
    rows = Rows(3, 13)
    rows.flows[5] = rows.most + 1
    monkeypatch.setattr(openrows, "crops_apart", lambda case: frozenset())
    with pytest.raises(NoGroupsError, match="out of the band"):
        best_groups(rows.case, None, rows)


def test_fourteen_rows_in_a_bed_share_the_fewest_zones():
    """The tap gives 0.75 x 6 sqrt(1.66 / 3) = 3.3 L/min to plan on, a row takes 0.6: five rows, so three zones."""
    text = changed(
        ("6 m x 2 m", "6 m x 6 m"), ("rows = 4", "rows = 14"), ("[limits]", '[limits]\nzoning = "row shut-offs"')
    ).replace('length = "50 m"', 'length = "100 m"')
    plan = design(parse_scenario(text, "fourteen rows")).plan
    assert plan is not None
    assert sum(len(zone.row_ids) for zone in plan.zones) == 14
    assert [len(zone.row_ids) <= 5 for zone in plan.zones] == [True] * 3

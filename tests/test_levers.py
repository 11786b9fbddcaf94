"""What is offered when nothing fits: clear words, and changes that work when they are made."""

from __future__ import annotations

import re
import tomllib

import pytest

from optimizer import design
from optimizer.choose import explain
from optimizer.choose.levers import working_levers
from optimizer.plan import Status
from optimizer.scenario import parse_scenario
from optimizer.scenario.schema import Scenario
from tests.choose_levers.impossible_gardens import CASES, TEXT

# Where fewer than three single changes can work, and why no other can.
FEWER = {
    # Nothing flows at the 1 bar the line is rated at, whatever is laid.
    "pressure below the regulator": 2,
    # Water stands at the regulator's pressure in all tubing, however it is laid.
    "tubing that would burst": 2,
    "no regulator before weak tape": 2,
    "two lines that would burst": 2,
    # What is spread in making comes before any of what is laid.
    "uniformity out of reach": 2,
    # 20 cm of height less 4 % of the way to the far end of a row: only height, or rows that do not climb.
    "tank below the end of the bed": 2,
    "tank too low": 2,
    # Margins of the edge are taken at the row ends as well, so no direction helps.
    "margins leave no room for double rows": 2,
    "row ends leave no room": 2,
    "wall around the tap": 1,
}
METRIC = re.compile(r"\d (m|mm|cm|bar|L/min|L/h|m/s)\b")
US = re.compile(r"\d (ft|in|psi|gal/min|gal/h|ft/s)\b")


@pytest.fixture
def tried(monkeypatch):
    """Return a list that fills with the levers found by a design run, each with the scenario it was tried on."""
    found = []

    def recorded(*given):
        for item in working_levers(*given):
            found.append(item)
            yield item

    monkeypatch.setattr(explain, "working_levers", recorded)
    return found


def written_into(text, path, value):
    """Return the scenario of a text with one field replaced, as a user would by hand."""
    values = tomllib.loads(text)
    *way, last = [int(key) if key.isdigit() else key for key in path.split(".")]
    place = values
    for key in way:
        place = place[key] if isinstance(key, int) else place.setdefault(key, {})
    place[last] = value
    return Scenario.model_validate(values)


def test_the_garden_changed_in_each_case_works():
    assert design(parse_scenario(TEXT, "garden")).status is Status.PROVEN_BEST


@pytest.mark.parametrize("name", sorted(CASES))
def test_levers_work_as_written(name, tried):
    scenario = parse_scenario(CASES[name], name)
    outcome = design(scenario)
    assert outcome.plan is None
    assert outcome.status is Status.IMPOSSIBLE
    assert outcome.levers == tuple(lever for lever, _ in tried)
    assert len({lever.field_path for lever in outcome.levers}) == len(outcome.levers) == FEWER.get(name, 3)
    for lever, relaxed in tried:
        (value,) = tomllib.loads(f"v = [{lever.new_value}]")["v"]
        assert written_into(CASES[name], lever.field_path, value).model_dump() == relaxed.model_dump()
    plan = design(tried[0][1]).plan
    assert plan is not None
    assert not plan.goal("requests missing")
    foreign = METRIC if scenario.units == "us" else US
    for text in (*outcome.reasons, *(f"{lever.change}: {lever.amount}" for lever in outcome.levers)):
        assert not foreign.search(text), text
    assert outcome.reasons
    assert all(reason.endswith(".") for reason in outcome.reasons)


def test_the_written_value_makes_the_zones_it_says():
    # 3 L/min open at 3 bar leave 0.75 x 3 sqrt((3 - 1.34) / 3) = 1.67 L/min to plan on: two zones of two rows.
    plan = design(parse_scenario(CASES["one zone allowed"].replace("zones_at_most = 1", "zones_at_most = 2"), "")).plan
    assert plan is not None
    assert len(plan.zones) == 2

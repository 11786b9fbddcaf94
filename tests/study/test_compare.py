"""Layouts side by side, held against costs added up by hand and against the search over all choices at once."""

from __future__ import annotations

import csv
import io
import json

import pytest
from compare_garden import ACROSS_AT_END_CT, ALONG_AT_END_CT, GARDEN

from optimizer import design
from optimizer.choose.goals import Goals
from optimizer.cli import main
from optimizer.errors import ScenarioError
from optimizer.plan import Outcome, Status
from optimizer.planfile import read_plan
from optimizer.scenario import parse_scenario
from optimizer.sheets.paper import A4
from optimizer.study import compare
from optimizer.study.compare import Compared, Figures, best_of_each, differences, plan_goals, ranked
from optimizer.study.compare_sheet import comparison_csv, comparison_sheets, comparison_text
from optimizer.study.kinds import AT_ENDS, BETWEEN, kinds
from optimizer.units import Display, System
from optimizer.verification import verify

METRIC = Display(System.METRIC)


@pytest.fixture(scope="module")
def garden():
    return parse_scenario(GARDEN, "garden")


@pytest.fixture(scope="module")
def four(garden):
    """Both directions, each with the header at the ends and between them."""
    return ranked(list(best_of_each(kinds(garden, ["direction", "header"]), garden)), METRIC)


def by_name(compared, name):
    return next(item for item in compared if item.name == name)


def test_row_across_beside_row_along_costs_what_is_added_up_by_hand(garden):
    found = dict(best_of_each(kinds(garden, ["direction"]), garden))
    assert found["rows along"].plan.goal("money") == ALONG_AT_END_CT
    assert found["rows across"].plan.goal("money") == ACROSS_AT_END_CT
    assert {name: outcome.plan.beds[0].row_angle_name for name, outcome in found.items()} == {
        "rows along": "along",
        "rows across": "across",
    }


def test_every_compared_plan_holds_and_the_first_is_the_plan_of_all_choices(garden, four):
    for item in four:
        assert verify(item.outcome.plan, garden).holds
        assert item.outcome.status is Status.PROVEN_BEST
    assert plan_goals(design(garden).plan) == four[0].figures.goals


def test_header_kinds_stand_where_they_say_and_cost_two_more_take_offs_and_closures(four):
    for direction in ("along", "across"):
        ends = by_name(four, f"rows {direction}, {AT_ENDS}")
        between = by_name(four, f"rows {direction}, {BETWEEN}")
        assert ends.outcome.plan.beds[0].header_places[0] in ("at the near row ends", "at the far row ends")
        assert "m along the rows" in between.outcome.plan.beds[0].header_places[0]
        assert len(between.outcome.plan.laterals) == 2 * len(ends.outcome.plan.laterals)
        assert dict(between.outcome.plan.certificate.choice_set)["header places"] == f"{BETWEEN} only"
    ends, between = (by_name(four, f"rows across, {kind}") for kind in (AT_ENDS, BETWEEN))
    assert between.figures.goals.money_ct - ends.figures.goals.money_ct == 2 * 100 + 2 * 50
    assert between.figures.goals.fittings - ends.figures.goals.fittings == 4


def test_order_and_sentences_follow_the_goals(four):
    assert [item.figures.goals for item in four] == sorted(item.figures.goals for item in four)
    assert four[0].name == f"rows across, {AT_ENDS}"
    assert four[0].verdict.startswith("wins: against layout 2, the next best, it ")
    along = by_name(four, f"rows along, {AT_ENDS}")
    assert along.verdict.startswith("loses to layout 1: it costs 5.00 EUR more")


def test_no_alternative_of_a_losing_plan_claims_to_equal_it_falsely(four):
    for item in four:
        own = item.figures.goals
        for other in item.outcome.plan.alternatives[1:]:
            if other.why.startswith("equal in every goal"):
                assert (other.money_ct, other.waste_um, other.fittings) == (own.money_ct, own.waste_um, own.fittings)


def test_zones_and_products_narrow_the_scenario(garden):
    asked = kinds(garden, ["product"], (2, 1))
    assert [kind.name for kind in asked] == ["dripline, at most 1 zone", "dripline, at most 2 zones"]
    found = ranked(list(best_of_each(asked, garden)), METRIC)
    assert found[1].verdict == "is the same as layout 1"


def test_what_cannot_be_laid_is_told_with_its_reason():
    # No take-off may stand nearer than half a metre to a row end, so a grid wider than the rows leaves none between.
    garden = parse_scenario(GARDEN.replace('header_step = "1 m"', 'header_step = "50 m"'), "garden")
    found = ranked(list(best_of_each(kinds(garden, ["header"]), garden)), METRIC)
    assert [item.name for item in found] == [AT_ENDS, BETWEEN]
    assert found[0].verdict == "wins: nothing else can be laid"
    assert found[1].verdict == f"cannot be laid: there is no place for a {BETWEEN}"


@pytest.mark.parametrize(
    ("by", "zones", "word"),
    [
        (["colour"], (), "not told apart by 'colour'"),
        (["product"], (), "only one layout"),
        ([], (0, 1), "0 zones cannot be laid"),
        ([], tuple(range(1, 14)), "13 layouts do not fit one sheet"),
    ],
)
def test_what_cannot_be_compared_is_refused_before_any_search(garden, by, zones, word):
    with pytest.raises(ScenarioError, match=word):
        kinds(garden, by, zones)


def test_more_zones_than_the_scenario_allows_are_refused(garden):
    limits = garden.limits.model_copy(update={"zones_at_most": 2})
    with pytest.raises(ScenarioError, match="3 zones are more than"):
        kinds(garden.model_copy(update={"limits": limits}), [], (1, 3))


def test_differences_name_every_figure_and_its_direction():
    one = Figures(Goals(0, 1230, 2_000_000, 10, 420), 0, 20, 2)
    other = Figures(Goals(0, 1000, 3_500_000, 12, 420), 0, 24, 1)
    found = differences(one, other, METRIC, "EUR")
    assert [(item.worse, item.words) for item in found] == [
        (True, "costs 2.30 EUR more"),
        (False, "spends 1.50 m less tubing"),
        (False, "needs 2 fewer fittings"),
        (True, "runs in 1 more zone"),
    ]
    assert differences(one, one, METRIC, "EUR") == ()


def test_table_fits_80_columns_and_csv_repeats_the_figures(four, garden):
    text = comparison_text(four, garden.title, garden.currency, METRIC)
    assert max(map(len, text.splitlines())) <= 80
    rows = list(csv.DictReader(io.StringIO(comparison_csv(four))))
    assert [row["layout"] for row in rows] == [item.name for item in four]
    for row, item in zip(rows, four, strict=True):
        assert int(row["money_ct"]) == item.outcome.plan.goal("money")
        assert int(row["spent_um"]) == item.outcome.plan.goal("waste")
        kept = [roll.leftover_um for roll in item.outcome.plan.rolls if roll.leftover_usable]
        assert int(row["left_over_um"]) == sum(kept)
        assert row["row_direction"] in row["layout"]


def test_the_sheet_holds_every_layout_and_more_go_on_further_pages(four):
    assert len(comparison_sheets(four, A4, "Garden", "EUR", METRIC)) == 1
    many = [Compared("a name that takes some room " * 3, i.outcome, i.figures, i.verdict * 6) for i in four * 3]
    sheets = comparison_sheets(many, A4, "Garden", "EUR", METRIC)
    assert len(sheets) > 1
    words = [text.get_text() for sheet in sheets for text in sheet.axes[0].texts]
    assert all(any(word.startswith(f"{rank}. a name") for word in words) for rank in range(1, len(many) + 1))


def test_a_plan_that_fails_its_check_is_left_out_and_said(garden, monkeypatch):
    checked = verify

    def fails_once(plan, scenario):
        check = checked(plan, scenario)
        if plan.beds[0].row_angle_name != "along":
            return check
        object.__setattr__(check, "findings", ("rows: not where they belong",))
        return check

    monkeypatch.setattr(compare, "verify", fails_once)
    found = ranked(list(best_of_each(kinds(garden, ["direction"]), garden)), METRIC)
    assert [item.name for item in found] == ["rows across", "rows along"]
    assert compare.failed(found[1].outcome)
    assert "not known whether it would win" in found[1].verdict


def test_nothing_found_is_not_called_impossible():
    found = ranked([("a", Outcome(Status.NOTHING_FOUND, None))], METRIC)
    assert found[0].verdict == "is not known: nothing was found within the limit"


def test_command_writes_sheet_table_csv_and_plans(tmp_path, capsys, garden):
    scenario, out = tmp_path / "garden.toml", tmp_path / "out"
    scenario.write_text(GARDEN, encoding="utf-8")
    assert main(["compare", str(scenario), "--out", str(out), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert [item["money_ct"] for item in told["layouts"]] == [ACROSS_AT_END_CT, ALONG_AT_END_CT]
    assert (out / "compare.pdf").read_bytes().startswith(b"%PDF")
    assert (out / "compare.png").read_bytes().startswith(b"\x89PNG")
    assert b"<svg" in (out / "compare.svg").read_bytes()
    for item in told["layouts"]:
        assert verify(read_plan(out / item["plan"]), garden).holds
    assert main(["compare", str(scenario), "--out", str(out), "--quiet"]) == 0
    assert capsys.readouterr().out == ""


def test_command_refuses_a_single_kind_and_writes_nothing(tmp_path, capsys):
    scenario, out = tmp_path / "garden.toml", tmp_path / "out"
    scenario.write_text(GARDEN, encoding="utf-8")
    assert main(["compare", str(scenario), "--by", "product", "--out", str(out)]) == 2
    assert "only one layout" in capsys.readouterr().err
    assert not out.exists()

"""What if: other values of a scenario's entries, held against costs by hand, and broken off and gone on with."""

from __future__ import annotations

import csv
import json
import os
import signal
import tomllib
from pathlib import Path

import pytest
from compare_garden import ACROSS_AT_END_CT, GARDEN

from optimizer.choose.search import SearchLimits
from optimizer.cli import main
from optimizer.errors import ScenarioError
from optimizer.scenario import parse_scenario
from optimizer.sheets.paper import A4
from optimizer.study import sweep
from optimizer.study.sweep import Parameter, Result, read_parameter, variants, with_value
from optimizer.study.sweep_plot import sweep_figures
from optimizer.study.sweep_sheet import best_text, sweep_csv, sweep_text
from optimizer.units import Display, System

VALUES = tomllib.loads(GARDEN)
METRIC = Display(System.METRIC)
PRICES = "emitter_lines.0.rolls.0.price=5.00,7.00"


def rows_of(path: Path) -> list[dict[str, str]]:
    return list(csv.DictReader(path.read_text(encoding="utf-8").splitlines()))


@pytest.fixture
def garden(tmp_path):
    path = tmp_path / "garden.toml"
    path.write_text(GARDEN, encoding="utf-8")
    return path


# ------------------------------------------------------------ reading


def test_values_are_parted_by_commas_or_where_they_have_commas_by_semicolons():
    assert read_parameter("limits.header_step=0.5 m, 1 m") == Parameter("limits.header_step", ("0.5 m", "1 m"))
    assert read_parameter("supply.at=0 m, 1 m; 2 m, 3 m").values == ("0 m, 1 m", "2 m, 3 m")


@pytest.mark.parametrize("text", ["limits.header_step", "=1 m", "limits.header_step=", "limits.header_step=1 m,,2 m"])
def test_half_a_parameter_is_refused(text):
    with pytest.raises(ScenarioError, match="PATH=VALUE"):
        read_parameter(text)


def test_a_value_given_twice_is_refused():
    with pytest.raises(ScenarioError, match="'1 m' is given twice"):
        read_parameter("limits.header_step=1 m,2 m,1 m")


def test_setting_a_value_leaves_the_rest_and_the_original_alone():
    changed = with_value(VALUES, "emitter_lines.0.rolls.0.length", "50 m")
    assert changed["emitter_lines"][0]["rolls"][0] == {"length": "50 m", "price": 5.0}
    assert VALUES["emitter_lines"][0]["rolls"][0]["length"] == "6 m"
    changed["emitter_lines"][0]["rolls"][0]["length"] = "6 m"
    assert changed == VALUES


@pytest.mark.parametrize(
    ("path", "text", "value"),
    [
        ("limits.zones_at_most", "3", 3),
        ("emitter_lines.0.exponent", "0.48", 0.48),
        ("beds.0.crops.0.tall", "true", True),
        ("limits.valves", "per row", "per row"),
        ("title", "3", "3"),
        ("beds.0.directions", '["along"]', ["along"]),
    ],
)
def test_text_stays_text_and_the_rest_is_read_as_toml(path, text, value):
    place = with_value(VALUES, path, text)
    for part in path.split("."):
        place = place[int(part) if part.isdecimal() else part]
    assert place == value
    assert type(place) is type(value)


def asked(*texts):
    return variants(VALUES, [read_parameter(text) for text in texts], "garden", Path(), SearchLimits())


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("limits.header_stp=1 m,2 m", ["limits.header_stp", "no such key"]),
        ("emitter_lines.3.rolls.0.length=1 m,2 m", ["'emitter_lines' is a list", "0 to 0"]),
        ("emitter_lines.name=a,b", ["'emitter_lines' is a list"]),
        ("title.deep=a,b", ["'title' is a single value"]),
        ("limits.header_step=1 m,2 furlong", ["limits.header_step", "furlong", "with limits.header_step = 2 furlong"]),
        ("emitter_lines.0.exponent=0.5,3", ["emitter_lines.0.exponent", "less than or equal to 1"]),
    ],
)
def test_unknown_paths_and_wrong_values_are_told_before_any_work(text, words):
    with pytest.raises(ScenarioError) as caught:
        asked(text)
    assert all(word in str(caught.value) for word in words)


def test_each_problem_is_told_once_and_values_that_clash_only_together_are_told_too():
    with pytest.raises(ScenarioError) as caught:
        asked("limits.header_stp=1 m,2 m", "limits.row_step=5 cm,6 cm,7 cm")
    assert len(caught.value.problems) == 2
    # Alone a row spacing of 0.5 m or two lines 0.6 m apart are fine; together the lines are wider than the row.
    with pytest.raises(ScenarioError, match="wider than row_spacing"):
        asked("beds.0.crops.0.row_spacing=0.5 m,1 m", "beds.0.crops.0.lines_per_row=1,3")


def test_one_or_two_parameters_each_once():
    with pytest.raises(ScenarioError, match="vary 1 to 2 entries, not 3"):
        asked("limits.header_step=1 m", "limits.row_step=1 m", "limits.velocity=1 m/s")
    with pytest.raises(ScenarioError, match="varied twice"):
        asked("limits.header_step=1 m", "limits.header_step=2 m")


def test_combinations_come_in_order_and_equal_scenarios_share_a_key():
    found = asked("limits.header_step=1 m,2 m", "limits.row_step=5 cm,0.05 m,10 cm")
    assert [item.values for item in found] == [(a, b) for a in ("1 m", "2 m") for b in ("5 cm", "0.05 m", "10 cm")]
    assert found[0].key == found[1].key
    assert len({item.key for item in found}) == 4
    other = variants(VALUES, [read_parameter("limits.header_step=1 m")], "garden", Path(), SearchLimits(seconds=1.0))
    assert other[0].key not in {item.key for item in found}


# ------------------------------------------------------------ planning


def test_money_follows_the_price_of_the_one_roll_that_is_bought(garden, tmp_path, capsys):
    out = tmp_path / "out"
    assert main(["sweep", str(garden), "--vary", PRICES, "--out", str(out)]) == 0
    rows = rows_of(out / "sweep.csv")
    assert [row["emitter_lines.0.rolls.0.price"] for row in rows] == ["5.00", "7.00"]
    assert [int(row["money_ct"]) for row in rows] == [ACROSS_AT_END_CT, ACROSS_AT_END_CT + 200]
    assert {row["row_direction"] for row in rows} == {"across"}
    assert {row["status"] for row in rows} == {"proven best among the stated choices"}
    printed = capsys.readouterr().out
    assert "Best: emitter_lines.0.rolls.0.price = 5.00, for 18.00 EUR." in printed
    assert max(map(len, printed.splitlines()[:-1])) <= 80
    assert {path.name for path in out.iterdir()} == {
        f"sweep.{end}" for end in ("csv", "json", "txt", "pdf", "svg", "png")
    }


def test_a_supply_too_small_for_a_row_is_an_answer_and_not_an_error(garden, tmp_path, capsys):
    vary = "supply.open_flow=10 L in 20 s,1 L in 100000 s"
    assert main(["sweep", str(garden), "--vary", vary, "--json", "--out", str(tmp_path / "out")]) == 0
    good, bad = json.loads(capsys.readouterr().out)["combinations"]
    assert good["money_ct"] == ACROSS_AT_END_CT
    assert bad["money_ct"] is None
    assert bad["status"] == "proven impossible among the stated choices"
    assert rows_of(tmp_path / "out" / "sweep.csv")[1]["money_ct"] == ""


class Counting:
    """Stands in for the planner: counts, and breaks off as told."""

    def __init__(self, stop_at: int = 0, swallow: bool = False) -> None:
        self.done: list[tuple[str, ...]] = []
        self.stop_at, self.swallow = stop_at, swallow

    def __call__(self, variant, limits=None, report=None):
        if len(self.done) + 1 == self.stop_at:
            try:
                os.kill(os.getpid(), signal.SIGINT)
            except KeyboardInterrupt:
                # A search answers Ctrl-C with the best it has.
                if not self.swallow:
                    raise
        self.done.append(variant.values)
        return Result("proven best among the stated choices", "", 0, 100, 0, 0, 1, 3, 0, 1, "along", "x", "y", "z")


@pytest.mark.parametrize("swallow", [False, True])
def test_what_is_finished_is_kept_and_not_planned_again(garden, tmp_path, capsys, monkeypatch, swallow):
    out = tmp_path / "out"
    command = ["sweep", str(garden), "--vary", "limits.header_step=1 m,2 m,3 m", "--out", str(out), "--quiet"]
    monkeypatch.setattr(sweep, "plan_variant", Counting(stop_at=2, swallow=swallow))
    assert main(command) == 7
    assert "1 of 3 combinations are finished" in capsys.readouterr().err
    assert [row["limits.header_step"] for row in rows_of(out / "sweep.csv")] == ["1 m"]
    assert sorted(path.name for path in out.iterdir()) == ["sweep.csv", "sweep.json"]
    again = Counting()
    monkeypatch.setattr(sweep, "plan_variant", again)
    assert main(command) == 0
    assert again.done == [("2 m",), ("3 m",)]
    assert [row["limits.header_step"] for row in rows_of(out / "sweep.csv")] == ["1 m", "2 m", "3 m"]
    assert main(command) == 0
    assert len(again.done) == 2


def test_a_changed_scenario_is_planned_anew(garden, tmp_path, monkeypatch):
    counting = Counting()
    monkeypatch.setattr(sweep, "plan_variant", counting)
    command = ["sweep", str(garden), "--vary", "limits.header_step=1 m,2 m", "--out", str(tmp_path / "out"), "--quiet"]
    assert main(command) == 0
    garden.write_text(GARDEN.replace("10 L in 20 s", "10 L in 21 s"), encoding="utf-8")
    assert main(command) == 0
    assert counting.done == [("1 m",), ("2 m",)] * 2


def test_a_combination_that_fails_is_told_and_tried_again(garden, tmp_path, monkeypatch):
    def fails(variant, limits=None, report=None):
        return Result("not planned", "the plan did not pass its check", failed=6)

    monkeypatch.setattr(sweep, "plan_variant", fails)
    out = tmp_path / "out"
    command = ["sweep", str(garden), "--vary", "limits.header_step=1 m,2 m", "--out", str(out), "--quiet"]
    assert main(command) == 6
    assert [row["reason"] for row in rows_of(out / "sweep.csv")] == ["the plan did not pass its check"] * 2
    counting = Counting()
    monkeypatch.setattr(sweep, "plan_variant", counting)
    assert main(command) == 0
    assert len(counting.done) == 2


def test_strange_results_beside_the_table_are_refused(garden, tmp_path, capsys):
    out = tmp_path / "out"
    out.mkdir()
    for text in ("{", "[]", '{"version": 99, "results": {}}', '{"version": 1, "results": {"a": {"colour": 1}}}'):
        (out / "sweep.json").write_text(text, encoding="utf-8")
        assert main(["sweep", str(garden), "--vary", PRICES, "--out", str(out)]) == 2
        assert "delete it to begin anew" in capsys.readouterr().err


# ------------------------------------------------------------ pictures and words


def result(money_ct, zones=1, direction="along"):
    if money_ct is None:
        return Result("proven impossible among the stated choices", "too little water")
    return Result("proven best among the stated choices", "", 0, money_ct, 1_000_000, 0, 9, 12, 30, zones, direction)


def test_curves_show_every_value_and_leave_gaps():
    parameter = read_parameter("limits.header_step=1 m,2 m,3 m")
    items = asked("limits.header_step=1 m,2 m,3 m")
    results = dict(zip((item.key for item in items), (result(1000), result(None), result(1200, 2)), strict=True))
    (figure,) = sweep_figures([parameter], items, results, A4, METRIC)
    money = figure.axes[0]
    drawn = money.lines[0].get_ydata()
    assert list(drawn[[0, 2]]) == [10.0, 12.0]
    assert drawn[1] != drawn[1]
    assert [text.get_text() for text in figure.axes[2].get_xticklabels()] == ["1 m", "2 m", "3 m"]
    text = sweep_text([parameter], items, results, METRIC)
    assert "- 2 m: too little water" in text
    assert "Best: limits.header_step = 1 m, for 10.00 EUR." in text


def test_grid_puts_every_combination_in_its_cell():
    texts = ("limits.header_step=1 m,2 m", "limits.row_step=5 cm,10 cm,20 cm")
    items = asked(*texts)
    results = {item.key: result(1000 + 100 * number) for number, item in enumerate(items)}
    (figure,) = sweep_figures([read_parameter(text) for text in texts], items, results, A4, METRIC)
    cells = {text.get_position(): text.get_text().split("\n")[0] for text in figure.axes[0].texts}
    assert cells[0.5, 0.5] == "10.00"
    assert cells[0.5, 2.5] == "12.00"
    assert cells[1.5, 1.5] == "14.00"


def test_large_grids_go_on_further_pages():
    across = "limits.header_step=" + ",".join(f"{n} m" for n in range(1, 10))
    down = "limits.row_step=" + ",".join(f"{n} cm" for n in range(5, 15))
    items = asked(across, down)
    results = {item.key: result(1000) for item in items}
    figures = sweep_figures([read_parameter(across), read_parameter(down)], items, results, A4, METRIC)
    assert sum(len(figure.axes[0].texts) for figure in figures) == 90


def test_equal_results_and_none_at_all_are_said():
    parameter, items = read_parameter("limits.header_step=1 m,2 m"), asked("limits.header_step=1 m,2 m")
    same = {item.key: result(1000) for item in items}
    assert best_text([parameter], items, same) == "Every combination comes to the same: 10.00 EUR."
    none = {item.key: result(None) for item in items}
    assert best_text([parameter], items, none) == "None of the combinations can be laid."
    assert len(sweep_csv([parameter], items, {items[0].key: result(1000)}).splitlines()) == 2


def test_a_garden_read_from_values_is_the_garden_read_from_text():
    assert asked("limits.header_step=1 m")[0].scenario == parse_scenario(GARDEN, "garden")

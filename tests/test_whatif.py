"""What a change saves, against prices added up by hand."""

from __future__ import annotations

import json

from optimizer.cli import main
from optimizer.scenario import parse_scenario
from optimizer.study.whatif import what_if
from tests.test_levers import TEXT

# Three rows of 19 spacings, 5.7 m each: one needs more than a roll of 10 m holds twice, so three rolls at 8.00.
ROLLS = (
    TEXT.replace('length = "50 m", price = 30', 'length = "10 m", price = 8')
    .replace("rows = 4", "rows = 3")
    .replace('header_step = "3 m"', 'header_step = "8 m"')
)


def answers(text: str):
    return {answer.question.field_path: answer for answer in what_if(parse_scenario(text, "garden"))}


def test_a_longer_roll_is_told_with_what_it_saves():
    # A roll of 12 m at 9.60 holds two rows of 5.7 m: two rolls for 19.20 instead of three for 24.00.
    found = answers(ROLLS)["emitter_lines.0.rolls.0.length"]
    assert found.saves_ct == 480
    assert found.proven


def test_a_joint_saves_a_roll():
    # 17.1 m out of two rolls of 10 m with one coupler at the rough price of 0.70: 16.70 instead of 24.00.
    assert answers(ROLLS)["limits.joints_per_lateral"].saves_ct == 730


def test_leftovers_are_worth_what_they_spare():
    # Two owned pieces of 5.8 m leave one row: one roll at 8.00 instead of three.
    text = ROLLS.replace("price = 8 }]", 'price = 8 }]\nowned = ["5.8 m", "5.8 m"]')
    assert answers(text)["emitter_lines.0.owned"].saves_ct == -1600


def test_the_command_prints_the_greatest_saving_first(tmp_path, capsys):
    path = tmp_path / "garden.toml"
    path.write_text(ROLLS, encoding="utf-8")
    assert main(["whatif", str(path), "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    savings = [item["saves_ct"] for item in found]
    assert savings == sorted(savings, reverse=True)
    assert main(["whatif", str(path)]) == 0
    assert "saves 7.30 EUR" in capsys.readouterr().out

"""The main command from a file to a directory: everything is written, repeats to the byte, and passes its check."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from optimizer.cli import main
from optimizer.commands.new_command import starter_text

SCENARIOS = Path(__file__).parents[1] / "scenarios"
FILES = {
    "plan.json", "plan.svg", "plan.png", "plan.pdf", "cut-list.csv", "cut-list.txt",
    "mark-out.csv", "mark-out.txt", "shopping.csv", "shopping.txt",
}  # fmt: skip


@pytest.fixture(scope="module")
def twice(tmp_path_factory):
    folders = [tmp_path_factory.mktemp("first"), tmp_path_factory.mktemp("second")]
    for folder in folders:
        assert main(["plan", str(SCENARIOS / "allotment.toml"), "--out", str(folder), "--quiet"]) == 0
    return folders


def test_every_file_is_written(twice):
    assert {path.name for path in twice[0].iterdir()} == FILES


def test_the_same_scenario_gives_the_same_bytes(twice):
    for name in sorted(FILES):
        assert (twice[0] / name).read_bytes() == (twice[1] / name).read_bytes(), name


def test_the_demo_is_proven_and_compared_across_and_along(twice):
    plan = json.loads((twice[0] / "plan.json").read_text(encoding="utf-8"))
    assert plan["certificate"]["status"] == "proven best among the stated choices"
    assert all(goal["proven"] for goal in plan["certificate"]["goals"])
    assert {"along", "across"} <= {item["row_angle"] for item in plan["alternatives"]}
    assert all(item["why"] for item in plan["alternatives"])


def test_the_plan_holds_against_its_scenario(twice, capsys):
    assert main(["verify", str(twice[0] / "plan.json"), str(SCENARIOS / "allotment.toml")]) == 0
    assert "nothing found" in capsys.readouterr().out


def test_a_changed_plan_does_not_hold(twice, tmp_path, capsys):
    plan = json.loads((twice[0] / "plan.json").read_text(encoding="utf-8"))
    plan["rolls"][0]["cuts"][0]["length_um"] += 1
    changed = tmp_path / "plan.json"
    changed.write_text(json.dumps(plan), encoding="utf-8")
    assert main(["verify", str(changed), str(SCENARIOS / "allotment.toml")]) == 6
    assert "roll" in capsys.readouterr().out


def test_the_starter_is_the_demo():
    assert starter_text() == (SCENARIOS / "allotment.toml").read_text(encoding="utf-8")


def test_the_header_of_the_long_bed_stands_in_the_middle(tmp_path, capsys):
    # From either end a row of 119 m of this tape varies by more than 10 %.
    assert main(["plan", str(SCENARIOS / "long-bed.toml"), "--out", str(tmp_path)]) == 0
    assert "header 60.00 m along the rows" in capsys.readouterr().out


def test_summary_fits_eighty_columns(tmp_path, capsys):
    assert main(["plan", str(SCENARIOS / "backyard.toml"), "--out", str(tmp_path)]) == 0
    assert max(len(line) for line in capsys.readouterr().out.splitlines()) <= 80


def test_the_readme_shows_what_the_demo_prints(tmp_path, capsys, monkeypatch):
    readme = (SCENARIOS.parent / "README.md").read_text(encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    assert main(["plan", str(SCENARIOS / "allotment.toml"), "--out", "out/allotment"]) == 0
    printed = capsys.readouterr().out.rstrip()
    assert "\n".join(f"    {line}".rstrip() for line in printed.splitlines()) in readme

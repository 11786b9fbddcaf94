"""What a mistaken user gets: one clear message with a path, the right exit code, and nothing half written."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from optimizer.cli import main
from optimizer.commands.new_command import starter_text

TEXT = starter_text()


def changed(old: str, new: str) -> str:
    assert old in TEXT
    return TEXT.replace(old, new, 1)


CASES = {
    "unknown key": (changed('name = "main bed"', 'name = "main bed"\ncolour = "green"'), 2, "beds.0.colour"),
    "wrong unit": (changed('static_pressure = "3.0 bar"', 'static_pressure = "3.0 m"'), 2, "supply.static_pressure"),
    "self-crossing outline": (
        changed('"13.1 m, 8.6 m", "0.6 m, 9.8 m"', '"0.6 m, 9.8 m", "13.1 m, 8.6 m"'),
        2,
        "crosses or touches itself",
    ),
    "crop wider than the bed": (
        changed('row_spacing = "80 cm"', 'row_spacing = "80 m"'),
        2,
        "wider than the whole bed",
    ),
    "not a number": (changed("exponent = 0.48", "exponent = nan"), 2, "emitter_lines.0.exponent"),
    "decimal comma": (changed('edge_margin = "0.3 m"', 'edge_margin = "0,3 m"'), 2, "point as decimal mark"),
    "broken TOML": (TEXT + "\n[[beds\n", 2, "not valid TOML"),
    "supply below one lateral": (
        changed('open_flow = "10 L in 30 s"', 'open_flow = "10 L in 4000 s"'),
        4,
        "supply gives",
    ),
}


def run(arguments, capsys):
    code = main(arguments)
    printed = capsys.readouterr()
    return code, printed.out, printed.err


@pytest.mark.parametrize("name", sorted(CASES))
def test_bad_scenarios_get_one_clear_message(name, tmp_path, capsys):
    text, code, word = CASES[name]
    scenario = tmp_path / "garden.toml"
    scenario.write_text(text, encoding="utf-8")
    out = tmp_path / "out"
    got, _, err = run(["plan", str(scenario), "--out", str(out)], capsys)
    assert got == code
    assert word in err
    assert "Traceback" not in err
    assert not out.exists() or not list(out.iterdir())


def test_rolls_shorter_than_a_row_without_joints(tmp_path, capsys):
    text = TEXT
    for old in (
        '{ length = "50 m", price = 34.00 }, { length = "100 m", price = 62.00 }',
        '{ length = "50 m", price = 31.00 }, { length = "100 m", price = 58.00 }',
    ):
        assert old in text
        text = text.replace(old, '{ length = "1 m", price = 2.00 }')
    text = text.replace('owned = ["13.5 m", "8 m"]\n', "")
    scenario = tmp_path / "garden.toml"
    scenario.write_text(text, encoding="utf-8")
    code, _, err = run(["plan", str(scenario), "--out", str(tmp_path / "out")], capsys)
    assert code == 4
    assert "joints_per_lateral" in err
    assert not list((tmp_path / "out").iterdir())


def test_missing_file(tmp_path, capsys):
    code, _, err = run(["plan", str(tmp_path / "none.toml"), "--out", str(tmp_path / "out")], capsys)
    assert code == 3
    assert "cannot read" in err
    assert not (tmp_path / "out").exists()


def test_results_cannot_go_where_a_file_stands(tmp_path, capsys):
    taken = tmp_path / "taken"
    taken.write_text("a file", encoding="utf-8")
    code, _, err = run(["plan", "--out", str(taken)], capsys)
    assert code == 3
    assert "cannot write" in err
    assert taken.read_text(encoding="utf-8") == "a file"


def test_a_directory_is_no_scenario(tmp_path, capsys):
    code, _, err = run(["plan", str(tmp_path), "--out", str(tmp_path / "out")], capsys)
    assert code == 3
    assert "cannot read" in err


def test_unreadable_directory(tmp_path, capsys):
    closed = tmp_path / "closed"
    closed.mkdir(mode=0o000)
    try:
        # For a user who may read everything the file is simply not there; both are said the same way.
        code, _, err = run(["plan", str(closed / "garden.toml"), "--out", str(tmp_path / "out")], capsys)
    finally:
        os.chmod(closed, 0o700)
    assert code == 3
    assert "cannot read" in err


def test_all_mistakes_are_told_at_once(tmp_path, capsys):
    text = changed('edge_margin = "0.3 m"', 'edge_margin = "0,3 m"').replace('units = "metric"', 'units = "cubits"')
    scenario = tmp_path / "garden.toml"
    scenario.write_text(text, encoding="utf-8")
    code, _, err = run(["plan", str(scenario)], capsys)
    assert code == 2
    assert "2 problems" in err
    assert err.index("beds.0.edge_margin") < err.index("units")


def test_new_does_not_overwrite(tmp_path, capsys):
    target = tmp_path / "garden.toml"
    assert run(["new", str(target)], capsys)[0] == 0
    assert target.read_text(encoding="utf-8") == TEXT
    code, _, err = run(["new", str(target)], capsys)
    assert code == 3
    assert "exists already" in err


def test_a_plan_is_no_scenario_and_the_other_way_round(tmp_path, capsys):
    target = tmp_path / "garden.toml"
    target.write_text(TEXT, encoding="utf-8")
    assert run(["verify", str(target), str(target)], capsys)[0] == 2
    assert Path(target).exists()

"""Cutting without a garden: the shelf on paper against lengths added up by hand."""

from __future__ import annotations

import csv
import json

from optimizer.cli import main

LIST = """
units = "metric"
step = "30 cm"
usable_offcut = "3 m"
pieces = ["2 x 14.4 m", "9 m", "6 m"]
owned = ["15.2 m"]
rolls = [{ length = "30 m", price = 20.00 }]
"""


def run(text, tmp_path, capsys, *more):
    path = tmp_path / "list.toml"
    path.write_text(text, encoding="utf-8")
    code = main(["cut", str(path), *more])
    return code, capsys.readouterr()


def test_owned_piece_saves_a_roll(tmp_path, capsys):
    # 14.4 m comes out of the owned 15.2 m; 14.4 + 9 + 6 = 29.4 m out of one roll of 30 m: 20.00, waste 0.8 + 0.6 m.
    code, printed = run(LIST, tmp_path, capsys, "--out", str(tmp_path / "out"))
    assert code == 0
    assert "money 20.00 EUR, waste 1.40 m, couplers 0" in printed.out
    rows = list(csv.DictReader((tmp_path / "out" / "cuts.csv").read_text(encoding="utf-8").splitlines()))
    assert sum(int(row["length_um"]) for row in rows) == 43_800_000


def test_a_piece_longer_than_every_roll_is_impossible(tmp_path, capsys):
    code, printed = run(LIST.replace('"9 m"', '"31 m"'), tmp_path, capsys, "--json")
    assert code == 4
    assert json.loads(printed.out)["status"] == "proven impossible"


def test_mistakes_are_told_with_their_place(tmp_path, capsys):
    code, printed = run(LIST.replace('"9 m"', '"9,5 m"').replace('"30 cm"', '"30"'), tmp_path, capsys)
    assert code == 2
    assert "pieces.1" in printed.err
    assert "step" in printed.err

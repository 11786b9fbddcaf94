"""The book of a plan as the command writes it, read back by other programs."""

from __future__ import annotations

import io
import json

import ezdxf
import pypdf
import pytest
from compare_garden import GARDEN

from optimizer import design
from optimizer.cli import main
from optimizer.planfile import plan_to_json
from optimizer.scenario import parse_scenario


@pytest.fixture(scope="module")
def plan():
    return design(parse_scenario(GARDEN, "garden")).plan


@pytest.fixture
def plan_path(plan, tmp_path):
    path = tmp_path / "plan.json"
    path.write_text(plan_to_json(plan), encoding="utf-8")
    return path


def test_book_holds_every_row_piece_and_drawing(plan, plan_path, tmp_path, capsys):
    out = tmp_path / "book"
    assert main(["book", str(plan_path), "--out", str(out), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert sorted(told["files"]) == sorted(path.name for path in out.iterdir())
    assert told["schedule"] is False
    text = (out / "field-book.txt").read_text(encoding="utf-8")
    assert all(row.id in text for row in plan.rows)
    assert all(cut.piece_id in text for roll in plan.rolls for cut in roll.cuts)
    for name in ("pressure-map", "rolls", "head", "plan"):
        assert (out / f"{name}.png").read_bytes().startswith(b"\x89PNG")
    drawing = ezdxf.readfile(out / "plan.dxf")
    laid = [entity for entity in drawing.modelspace() if entity.dxf.layer.startswith("LATERALS")]
    assert len(laid) >= len(plan.laterals)


def test_paper_is_the_one_asked_for(plan_path, tmp_path):
    # Letter is 8 1/2 in wide (ANSI Y14.1); a metric plan is printed on A4 unless asked otherwise.
    assert main(["book", str(plan_path), "--out", str(tmp_path), "--paper", "Letter", "--quiet"]) == 0
    page = pypdf.PdfReader(io.BytesIO((tmp_path / "field-book.pdf").read_bytes())).pages[0]
    assert min(page.mediabox.width, page.mediabox.height) == pytest.approx(8.5 * 72, abs=1.0)


def test_a_scenario_with_climate_fills_the_schedule_card(plan_path, tmp_path):
    scenario = tmp_path / "garden.toml"
    planting = '\nwater = { planted = "2026-05-15", like = "bean, green" }\n'
    text = GARDEN.replace('name = "bed"', 'name = "bed"\nsoil = "sandy loam"').replace(
        "rows = 2", f"rows = 2{planting}"
    )
    scenario.write_text(text + CLIMATE, encoding="utf-8")
    assert main(["book", str(plan_path), str(scenario), "--out", str(tmp_path), "--quiet"]) == 0
    book = (tmp_path / "field-book.txt").read_text(encoding="utf-8")
    assert "No watering times were worked out" not in book
    # The crop is planted in May, so that is the first month on the card.
    assert "\nMay 2026\n" in book.split("Schedule card")[1]
    assert "April 2026" not in book


CLIMATE = """
[climate]
need = "10 15 20 25 30 35 38 35 25 18 12 10 mm/week"
"""


def test_a_scenario_without_climate_is_told(plan_path, tmp_path, capsys):
    scenario = tmp_path / "garden.toml"
    scenario.write_text(GARDEN, encoding="utf-8")
    assert main(["book", str(plan_path), str(scenario), "--out", str(tmp_path / "out")]) == 2
    assert "climate" in capsys.readouterr().err
    assert not (tmp_path / "out").exists()


def test_no_plan_and_a_broken_plan_are_told(tmp_path, capsys):
    assert main(["book", str(tmp_path / "none.json"), "--out", str(tmp_path)]) == 3
    (tmp_path / "plan.json").write_text("{", encoding="utf-8")
    assert main(["book", str(tmp_path / "plan.json"), "--out", str(tmp_path)]) == 2
    assert "not JSON" in capsys.readouterr().err

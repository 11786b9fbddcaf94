"""The plan drawing: true to scale, readable, complete, and the same every time."""

from __future__ import annotations

import math
import re
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import matplotlib
import pytest
from drawing_checks import outside, overlaps, svg_points, texts_of, words
from drawing_plans import PLANS, allotment, backyard, field_two_headers, framed_beds
from matplotlib.figure import Figure
from pypdf import PdfReader

from optimizer.errors import DripLayoutError, FileError
from optimizer.plan import Plan
from optimizer.sheets.drawing_plan import draw_plan
from optimizer.sheets.paper import A3, A4, LETTER, TABLOID, Paper, save_drawing


def denominator(figure: Figure) -> float:
    """Read the scale off the sheet as a person would."""
    text = words(figure)
    found = re.search(r"Scale 1:([\d.]+) on", text) or re.search(r"Scale 1 in = [\d.]+ ft \(1:([\d.]+)\)", text)
    assert found
    return float(found[1])


def test_the_checks_themselves_find_faults() -> None:
    figure = Figure(figsize=(4.0, 4.0))
    figure.text(0.3, 0.5, "one word", rotation=30.0)
    figure.text(0.35, 0.53, "another")
    figure.text(0.3, 0.2, "alone")
    figure.text(0.9, 0.9, "over the edge")
    assert [pair[:2] for pair in overlaps(figure)] == [("one word", "another")]
    assert outside(figure) == ["over the edge"]


@pytest.mark.parametrize("paper", [A4, LETTER, A3, TABLOID], ids=lambda paper: paper.name)
@pytest.mark.parametrize("make", PLANS.values(), ids=PLANS)
def test_no_word_covers_another_or_leaves_the_page_or_is_small(make, paper: Paper) -> None:
    figure = draw_plan(make(), paper)
    assert overlaps(figure) == []
    assert outside(figure) == []
    assert min(text.get_fontsize() for text in texts_of(figure)) >= 10.0


def test_two_hundred_rows_are_grouped_and_stay_readable() -> None:
    figure = draw_plan(field_two_headers(200, "ABCDEFGH"), A3)
    assert overlaps(figure) == []
    assert outside(figure) == []
    assert expand(words(figure)) >= {f"R{k}" for k in range(1, 201)}


@pytest.mark.parametrize("paper", [A4, LETTER], ids=lambda paper: paper.name)
@pytest.mark.parametrize("make", PLANS.values(), ids=PLANS)
def test_distances_on_paper_are_those_on_the_ground_at_the_stated_scale(make, paper: Paper, tmp_path: Path) -> None:
    plan = make()
    figure = draw_plan(plan, paper)
    save_drawing(figure, tmp_path / "plan.svg")
    drawn = svg_points(tmp_path / "plan.svg", "outline")
    scale = 1000.0 / denominator(figure)
    corners = (*plan.site.outline, plan.site.outline[0])
    assert len(drawn) == len(corners)
    for a, b in zip(corners, drawn, strict=True):
        for c, d in zip(corners, drawn, strict=True):
            assert math.dist(b, d) == pytest.approx(math.dist(a, c) * scale, abs=0.1)
    # y grows up the page, so the drawing is not mirrored
    assert (drawn[2][1] - drawn[1][1]) * (corners[2][1] - corners[1][1]) > 0


def test_header_and_mainline_lie_where_the_plan_says(tmp_path: Path) -> None:
    plan = allotment()
    figure = draw_plan(plan, A4)
    save_drawing(figure, tmp_path / "plan.svg")
    base, scale = svg_points(tmp_path / "plan.svg", "outline")[0], 1000.0 / denominator(figure)
    for gid, line in (("header-H1", plan.headers[0].points), ("mainline-M2", plan.mainline[1].points)):
        for (x, y), (px, py) in zip(line, svg_points(tmp_path / "plan.svg", gid), strict=True):
            assert px - base[0] == pytest.approx(x * scale, abs=0.1)
            assert py - base[1] == pytest.approx(y * scale, abs=0.1)


@pytest.mark.parametrize(("make", "length_mm"), [(allotment, 100.0), (backyard, 101.6)])
def test_check_line_measures_what_it_says(make, length_mm: float, tmp_path: Path) -> None:
    figure = draw_plan(make(), A4)
    save_drawing(figure, tmp_path / "plan.svg")
    a, b = svg_points(tmp_path / "plan.svg", "check-line")
    assert math.dist(a, b) == pytest.approx(length_mm, abs=0.01)
    assert ("must measure 100 mm" if length_mm == 100.0 else "must measure 4 in") in words(figure)


@pytest.mark.parametrize("paper", [A4, LETTER], ids=lambda paper: paper.name)
def test_pdf_page_is_the_paper(paper: Paper, tmp_path: Path) -> None:
    # ISO 216: A4 is 210 mm by 297 mm; US letter is 8.5 in by 11 in (ANSI/ASME Y14.1).
    size = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}[paper.name]
    save_drawing(draw_plan(framed_beds(), paper), tmp_path / "plan.pdf")
    page = PdfReader(tmp_path / "plan.pdf").pages[0].mediabox
    got = sorted(float(side) * 25.4 / 72.0 for side in (page.width, page.height))
    assert got == pytest.approx(sorted(size), abs=0.1)


@pytest.mark.parametrize("ending", ["svg", "png", "pdf"])
def test_same_plan_gives_the_same_bytes(ending: str, tmp_path: Path) -> None:
    for name in ("first", "second"):
        save_drawing(draw_plan(allotment(), A4), tmp_path / f"{name}.{ending}")
    assert (tmp_path / f"first.{ending}").read_bytes() == (tmp_path / f"second.{ending}").read_bytes()


def expand(text: str) -> set[str]:
    """Ids in a text, with spans such as R3-R7 filled."""
    out = set(re.findall(r"\bR\d+\b", text))
    for low, high in re.findall(r"\bR(\d+)-R(\d+)\b", text):
        out |= {f"R{k}" for k in range(int(low), int(high) + 1)}
    return out


@pytest.mark.parametrize("make", PLANS.values(), ids=PLANS)
def test_everything_is_named_on_the_sheet(make) -> None:
    plan: Plan = make()
    text = words(draw_plan(plan, A4))
    zone_text = re.sub(r".*, rows .*", "", text)  # the zones' own list of rows does not count
    assert expand(zone_text) >= {row.id for row in plan.rows}
    for name in [row.crop for row in plan.rows] + [shape.name for shape in plan.site.shapes]:
        assert name in text
    for name in [line.id for line in (*plan.headers, *plan.mainline)] + [zone.id for zone in plan.zones]:
        assert re.search(rf"\b{name}\b", text)
    for name in [plan.title, plan.site.source_kind, *(unit.name for unit in plan.head_units)]:
        assert name in text


def test_every_row_carries_its_own_cut_length_where_rows_differ() -> None:
    plan = PLANS["slanted"]()
    lines = words(draw_plan(plan, A3)).splitlines()
    for lateral in plan.laterals:
        length = f"{lateral.length_um / 1e6:.2f} m"
        assert f"Onion {length}" in lines or f"{length}" in lines


def test_lengths_are_in_feet_and_inches_for_us_users() -> None:
    text = words(draw_plan(backyard(), LETTER))
    assert "17 ft" in text
    assert "40 ft" in text
    assert not re.search(r"\d m\b", text.replace("20 mm", "").replace("25 mm", ""))


def test_a_plan_without_outline_gets_bed_sizes() -> None:
    plan = framed_beds()
    plan = replace(plan, site=replace(plan.site, outline=()))
    figure = draw_plan(plan, A4)
    assert "1.20 m × 2.40 m" in words(figure)
    assert overlaps(figure) == []


def test_couplers_are_drawn_and_explained_only_where_there_are_any() -> None:
    plan = allotment()
    assert "coupler" not in words(draw_plan(plan, A4))
    roll = plan.rolls[-1]
    first = roll.cuts[0]
    parts = (
        replace(first, parts=2, length_um=6_000_000, mark_um=6_000_000),
        replace(first, part=2, parts=2, length_um=first.length_um - 6_000_000, mark_um=first.length_um),
    )
    joined = replace(plan, rolls=(*plan.rolls[:-1], replace(roll, cuts=(*parts, *roll.cuts[1:]))))
    assert "coupler" in words(draw_plan(joined, A4))


def test_drawing_changes_no_settings_and_needs_no_pyplot(tmp_path: Path) -> None:
    before = dict(matplotlib.rcParams)
    save_drawing(draw_plan(allotment(), A4), tmp_path / "plan.svg")
    assert dict(matplotlib.rcParams) == before
    code = "import sys, optimizer.sheets.drawing; print('matplotlib.pyplot' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"


def test_settings_of_the_user_do_not_spoil_the_scale(tmp_path: Path) -> None:
    figure = draw_plan(allotment(), A4)
    with matplotlib.rc_context({"savefig.bbox": "tight", "font.size": 20.0}):
        save_drawing(figure, tmp_path / "plan.pdf")
    page = PdfReader(tmp_path / "plan.pdf").pages[0].mediabox
    assert sorted((float(page.width), float(page.height))) == pytest.approx([595.28, 841.89], abs=0.1)


def test_title_with_signs_of_formulas_is_written_as_it_is() -> None:
    figure = draw_plan(replace(allotment(), title="Beds $5 _and_ $6 <west> & more"), A4)
    assert "$5 _and_ $6" in words(figure)
    assert overlaps(figure) == []


def test_paper_too_small_for_the_text_is_refused() -> None:
    with pytest.raises(DripLayoutError, match="does not fit card paper"):
        draw_plan(allotment(), Paper("card", 74.0, 105.0))


def test_unknown_ending_and_missing_directory_are_named(tmp_path: Path) -> None:
    figure = draw_plan(framed_beds(), A4)
    with pytest.raises(FileError, match=r"\.svg, \.png or \.pdf"):
        save_drawing(figure, tmp_path / "plan.gif")
    with pytest.raises(FileError, match="nowhere"):
        save_drawing(figure, tmp_path / "nowhere" / "plan.svg")

"""Pressure map, roll cutting, head assembly, small pictures."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest
from drawing_checks import outside, overlaps, texts_of, words
from drawing_plans import PLANS, allotment, backyard, field_two_headers, framed_beds
from matplotlib.figure import Figure

from optimizer.errors import DripLayoutError
from optimizer.plan import HeadUnit
from optimizer.sheets.drawing_head import draw_head
from optimizer.sheets.drawing_pressure import Quantity, draw_pressure_map, step_of
from optimizer.sheets.drawing_rolls import draw_rolls
from optimizer.sheets.drawing_thumbnail import draw_side_by_side, draw_thumbnail
from optimizer.sheets.paper import A3, A4, LETTER, save_drawing

BAR_PER_M = 0.0980665  # water of 1000 kg/m3 under standard gravity (ISO 80000-4)


def is_readable(figure: Figure) -> None:
    assert overlaps(figure) == []
    assert outside(figure) == []
    assert min(text.get_fontsize() for text in texts_of(figure)) >= 10.0


@pytest.mark.parametrize("quantity", Quantity)
@pytest.mark.parametrize("make", PLANS.values(), ids=PLANS)
def test_pressure_map_is_readable(make, quantity: Quantity) -> None:
    for paper in (A4, LETTER):
        is_readable(draw_pressure_map(make(), paper, quantity))


def test_pressure_map_writes_least_and_greatest_of_every_zone() -> None:
    plan = allotment()
    text = words(draw_pressure_map(plan, A4))
    for zone in plan.zones:
        heads = [zone.network.node_head_m[node] for node in zone.network.emitter_node]
        assert f"{zone.id} least {min(heads) * BAR_PER_M:.2f} bar" in text
        assert f"{zone.id} greatest {max(heads) * BAR_PER_M:.2f} bar" in text


def test_flow_map_writes_least_and_greatest_of_every_zone() -> None:
    plan = backyard()
    text = words(draw_pressure_map(plan, A4, Quantity.FLOW))
    flows = plan.zones[0].network.emitter_flow_m3_s
    litres_per_gallon = 3.785411784  # NIST SP 811
    for word, flow in (("least", min(flows)), ("greatest", max(flows))):
        assert f"A {word} {flow * 3.6e6 / litres_per_gallon:.3f} gal/h" in text


def test_steps_are_those_counted_by_hand() -> None:
    edges = np.array([0.0, 1.0, 2.0, 3.0])
    assert step_of(np.array([0.0, 0.99, 1.0, 2.5, 3.0]), edges).tolist() == [0, 0, 1, 2, 2]
    assert step_of(np.array([5.0, 5.0]), np.array([5.0, 5.0])).tolist() == [0, 0]


def test_equal_pressures_are_said_to_be_equal() -> None:
    plan = framed_beds()
    zones = tuple(
        replace(zone, network=replace(zone.network, node_head_m=(7.0,) * len(zone.network.node_head_m)))
        for zone in plan.zones
    )
    assert "0.69 bar everywhere" in words(draw_pressure_map(replace(plan, zones=zones), A4))


@pytest.mark.parametrize("make", PLANS.values(), ids=PLANS)
def test_rolls_show_every_cut_once_and_what_is_left(make) -> None:
    plan = make()
    for paper in (A4, LETTER):
        pages = draw_rolls(plan, paper)
        for page in pages:
            is_readable(page)
        lines = "\n".join(words(page) for page in pages).splitlines()
        for roll in plan.rolls:
            assert sum(line.startswith(f"Roll {roll.id}: {roll.product},") for line in lines) >= 1
            for cut in roll.cuts:
                assert lines.count(cut.piece_id) == 1
        kept = sum(line.startswith("keep ") for line in lines)
        wasted = sum(line.startswith("waste ") for line in lines)
        assert kept == sum(roll.leftover_usable and roll.leftover_um > 0 for roll in plan.rolls)
        assert wasted == sum(not roll.leftover_usable and roll.leftover_um > 0 for roll in plan.rolls)


def test_equal_cuts_in_a_row_share_their_measure() -> None:
    lines = words(draw_rolls(allotment(), A4)[0]).splitlines()
    assert "2 × 13.20 m" in lines
    assert "4 × 10.20 m" in lines


def test_a_piece_cut_from_two_rolls_says_which_part_it_is() -> None:
    plan = allotment()
    roll = plan.rolls[-1]
    split = replace(roll.cuts[0], part=2, parts=2)
    changed = replace(plan, rolls=(replace(roll, cuts=(split, *roll.cuts[1:])),))
    assert f"{split.piece_id} 2/2" in words(draw_rolls(changed, A4)[0]).splitlines()


def test_a_roll_with_more_cuts_than_a_page_goes_on_overleaf() -> None:
    plan = field_two_headers(400, "AB")
    one = plan.rolls[-1]
    cuts = tuple(cut for roll in plan.rolls for cut in roll.cuts)
    pages = draw_rolls(
        replace(plan, rolls=(replace(one, cuts=cuts, length_um=sum(cut.length_um for cut in cuts)),)), A4
    )
    assert len(pages) > 1
    lines = "\n".join(words(page) for page in pages).splitlines()
    assert all(lines.count(cut.piece_id) == 1 for cut in cuts)
    for page in pages:
        is_readable(page)


@pytest.mark.parametrize("make", PLANS.values(), ids=PLANS)
def test_head_names_all_parts_from_the_source_down(make) -> None:
    plan = make()
    figure = draw_head(plan, A4)
    is_readable(figure)
    heights = {text.get_text(): text.get_position()[1] for text in texts_of(figure)}
    order = [heights[plan.site.source_kind], *(heights[unit.name] for unit in plan.head_units)]
    assert order == sorted(order, reverse=True)
    assert "ask before you assemble" in words(figure).replace("\n", " ")


def test_head_with_long_notes_stays_readable_and_too_many_parts_are_refused() -> None:
    plan = allotment()
    note = "a long remark about where it stands, how it is turned, and which gasket belongs between the threads " * 2
    units = tuple(HeadUnit(f"part {k}", "other", note) for k in range(5))
    is_readable(draw_head(replace(plan, head_units=units), A4))
    with pytest.raises(DripLayoutError, match="40 head parts do not fit A4"):
        draw_head(replace(plan, head_units=units * 8), A4)


def test_thumbnail_shows_the_whole_plan_without_words_in_equal_steps() -> None:
    plan = backyard()
    axes = Figure(figsize=(2.0, 2.0)).add_subplot()
    draw_thumbnail(axes, plan)
    (x0, x1), (y0, y1) = axes.get_xlim(), axes.get_ylim()
    places = [*plan.site.outline, plan.site.source_at]
    assert all(x0 < x < x1 and y0 < y < y1 for x, y in places)
    assert axes.get_aspect() == 1.0
    assert not [text for text in axes.texts if text.get_text()]


def test_side_by_side_pictures_share_one_scale() -> None:
    named = [(f"{name} layout", ["58.20 EUR", "waste 1.20 m"], make()) for name, make in PLANS.items()]
    figure = draw_side_by_side(named, A3, "Layouts compared")
    is_readable(figure)
    drawn = {}
    for line in figure.axes[0].lines:
        xy = line.get_xydata()
        drawn[len(drawn)] = (np.ptp(xy[:, 0]), np.ptp(xy[:, 1]))
    ratios = []
    for _, _, plan in named:
        xs, ys = zip(*plan.site.outline, strict=True)
        w, h = max(xs) - min(xs), max(ys) - min(ys)
        fits = [a / w for a, b in drawn.values() if abs(a / w - b / h) < 1e-6 * a / w]
        ratios.append({round(fit, 6) for fit in fits})
    assert set.intersection(*ratios)
    with pytest.raises(DripLayoutError, match="no layout"):
        draw_side_by_side([], A4, "none")
    with pytest.raises(DripLayoutError, match="compare fewer"):
        draw_side_by_side(named * 10, A4, "too many")


def test_pages_repeat_byte_for_byte(tmp_path) -> None:
    for name in ("a", "b"):
        save_drawing(draw_pressure_map(allotment(), A4), tmp_path / f"{name}1.svg")
        save_drawing(draw_rolls(allotment(), A4)[0], tmp_path / f"{name}2.svg")
        save_drawing(draw_head(allotment(), A4), tmp_path / f"{name}3.svg")
    for k in (1, 2, 3):
        assert (tmp_path / f"a{k}.svg").read_bytes() == (tmp_path / f"b{k}.svg").read_bytes()
        assert not re.search(rb"<dc:date>", (tmp_path / f"a{k}.svg").read_bytes())

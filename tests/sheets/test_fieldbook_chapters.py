"""What the chapters of the field book say, checked against figures worked by hand or published."""

from __future__ import annotations

import dataclasses
import math
import re

import pytest
from lists_plans import PLANS, allotment, backyard, market_garden

from optimizer.errors import VerificationError
from optimizer.plan import GoalValue, HeadUnit, Plan, Status, Zone
from optimizer.sheets.blocks import Bullets, Fill, Paragraph, Steps, Table
from optimizer.sheets.cautions import caution_items
from optimizer.sheets.flushing import flush_flow, flush_groups, flush_table
from optimizer.sheets.headsketch import head_sketch
from optimizer.sheets.install import alongside, head_steps, install_blocks, install_steps, tap_step
from optimizer.sheets.lists import along_um
from optimizer.sheets.markout import marks
from optimizer.sheets.schedule import ScheduleCard, ZoneTimes, schedule_blocks
from optimizer.sheets.stripsketch import places, strip_sketches
from optimizer.sheets.testsheet import (
    catch_table,
    catches,
    lowest_cups,
    meter_text,
    running_minutes,
    sheet_blocks,
    spread,
)
from optimizer.sheets.watertree import Outlet, outlets
from optimizer.sheets.why import alternatives_table, cost_difference, goal_amount, goal_table, status_text, why_blocks
from optimizer.sheets.winter import drain_table, lateral_low, winter_blocks

GPM = 3.785411784e-3 / 60.0
LITRE_PER_HOUR = 1e-3 / 3600.0


@pytest.fixture(params=sorted(PLANS))
def plan(request: pytest.FixtureRequest) -> Plan:
    return PLANS[request.param]()


# ---------------------------------------------------------------- test sheet


def test_first_cup_by_hand() -> None:
    # 1.6 L/h for 5 minutes is 1600 / 12 = 133 mL; 15 per cent of it is 20 mL.
    first = catches(allotment().zones[0])[0]
    assert running_minutes(allotment().zones[0]) == 5
    assert first.expected_m3 == pytest.approx(1600e-6 / 12.0)
    row = catch_table(allotment(), allotment().zones[0]).rows[0]
    assert row[:5] == ("1", "R1, right", "1 of 29", "133 mL", "113 to 153 mL")


def test_cups_stand_near_middle_and_far(plan: Plan) -> None:
    for zone in plan.zones:
        found = catches(zone)
        assert len(found) == 9
        by_lateral: dict[str, list[int]] = {}
        for catch in found:
            by_lateral.setdefault(catch.outlet.lateral_id, []).append(catch.outlet.number)
        assert len(by_lateral) == 3
        counts = {lateral.id: lateral.emitters for lateral in plan.laterals}
        for lateral_id, numbers in by_lateral.items():
            assert (numbers[0], numbers[-1]) == (1, counts[lateral_id])


def test_cups_expect_the_flow_of_their_emitter(plan: Plan) -> None:
    for zone in plan.zones:
        flows = zone.network.emitter_flow_m3_s
        for catch in catches(zone):
            mine = [
                flow
                for flow, lateral in zip(flows, zone.network.emitter_lateral, strict=True)
                if lateral == catch.outlet.lateral_id
            ]
            assert catch.expected_m3 == pytest.approx(mine[catch.outlet.number - 1] * running_minutes(zone) * 60.0)


def test_emitters_are_counted_from_the_header_whatever_their_order_in_the_network() -> None:
    zone = allotment().zones[0]
    net = zone.network
    turned = dataclasses.replace(
        net,
        emitter_node=net.emitter_node[::-1],
        emitter_lateral=net.emitter_lateral[::-1],
        emitter_flow_m3_s=net.emitter_flow_m3_s[::-1],
    )
    assert outlets(dataclasses.replace(zone, network=turned)) == outlets(zone)


def test_an_emitter_cut_off_from_the_inlet_is_refused() -> None:
    zone = backyard().zones[0]
    cut_off = dataclasses.replace(zone.network, tube_to=(0, *zone.network.tube_to[1:]))
    with pytest.raises(VerificationError, match="hangs on no tube"):
        outlets(dataclasses.replace(zone, network=cut_off))


def test_meter_by_hand() -> None:
    # 2 gal/min for 3 minutes is 6 gal, good from 5.4 to 6.6.
    zone = backyard().zones[0]
    zone = dataclasses.replace(zone, water=dataclasses.replace(zone.water, flow_m3_s=2.0 * GPM))
    assert running_minutes(zone) == 3
    assert meter_text(backyard(), zone).endswith("must move on by 6.0 gal; good from 5.4 gal to 6.6 gal.")


def test_weak_emitters_run_longer() -> None:
    zone = market_garden().zones[0]
    weak = dataclasses.replace(zone.water, least_flow_m3_s=0.4 * LITRE_PER_HOUR)
    # 100 mL at 0.4 L/h take 15 minutes, at 0.94 L/h 6.4 minutes.
    assert running_minutes(dataclasses.replace(zone, water=weak)) == 15
    assert running_minutes(zone) == 10


def test_lowest_quarter_rounds_as_the_published_example() -> None:
    # North Carolina State Univ., function reference of G. Grabow: 15 cups, a quarter of them counted as 4.
    assert lowest_cups(15) == 4
    assert (lowest_cups(9), lowest_cups(1)) == (2, 1)


def test_spread_keeps_both_ends() -> None:
    assert spread(range(1, 30), 3) == (1, 15, 29)
    assert spread(range(2), 9) == (0, 1)
    assert spread(range(5), 1) == (0,)


def test_zone_of_one_lateral_still_gets_nine_cups() -> None:
    plan = backyard()
    zone = plan.zones[0]
    only = zone.lateral_ids[:1]
    keep = [index for index, lateral in enumerate(zone.network.emitter_lateral) if lateral in only]
    network = dataclasses.replace(
        zone.network,
        emitter_node=tuple(zone.network.emitter_node[index] for index in keep),
        emitter_lateral=tuple(zone.network.emitter_lateral[index] for index in keep),
        emitter_flow_m3_s=tuple(zone.network.emitter_flow_m3_s[index] for index in keep),
    )
    assert len(catches(dataclasses.replace(zone, lateral_ids=only, network=network))) == 9


def test_sheet_has_lines_to_write_on() -> None:
    fills = [block for block in sheet_blocks(backyard()) if isinstance(block, Fill)]
    assert len(fills) == 2
    assert all("Date" in block.prompts[0] for block in fills)


# ---------------------------------------------------------------- flushing and laying


@pytest.mark.parametrize(("bore_in", "gpm"), [(5 / 8, 1.0), (7 / 8, 2.0)])
def test_flushing_flow_of_tape(bore_in: float, gpm: float) -> None:
    # University of California ANR, maintenance of microirrigation systems: at 1 ft/s a 5/8 in line takes 1 gpm, a
    # 7/8 in line 2 gpm (both rounded there).
    assert flush_flow(bore_in * 0.0254) / GPM == pytest.approx(gpm, rel=0.07)


def _with_usable(plan: Plan, spare_ends: float) -> tuple[Plan, Zone]:
    zone = plan.zones[0]
    usable = zone.water.flow_m3_s + spare_ends * flush_flow(zone.network.tube_bore_m[0])
    zone = dataclasses.replace(zone, water=dataclasses.replace(zone.water, usable_flow_m3_s=usable))
    return dataclasses.replace(plan, zones=(zone, *plan.zones[1:])), zone


def test_ends_open_together_as_the_spare_flow_allows() -> None:
    plan, zone = _with_usable(allotment(), 2.5)
    groups = flush_groups(zone)
    assert [len(group.lateral_ids) for group in groups] == [2, 2, 2, 2, 1]
    assert [lateral for group in groups for lateral in group.lateral_ids] == list(zone.lateral_ids)
    assert all(group.enough for group in groups)
    assert "At most 2 ends open at once" in flush_table(plan, zone).notes[0]


def test_too_little_flow_for_flushing_is_said() -> None:
    plan, zone = _with_usable(allotment(), 0.5)
    groups = flush_groups(zone)
    assert [len(group.lateral_ids) for group in groups] == [1] * 9
    assert not any(group.enough for group in groups)
    assert "Open one end, wait for a clear cup, close it, go to the next." in flush_table(plan, zone).notes[0]
    assert "does not bring that speed" in flush_table(plan, zone).notes[1]


def test_groups_never_take_more_than_there_is(plan: Plan) -> None:
    for zone in plan.zones:
        groups = flush_groups(zone)
        spare = zone.water.usable_flow_m3_s - zone.water.flow_m3_s
        assert sorted(lateral for group in groups for lateral in group.lateral_ids) == sorted(zone.lateral_ids)
        for group in groups:
            assert group.flow_m3_s <= spare or (len(group.lateral_ids) == 1 and not group.enough)


def test_steps_carry_the_plans_numbers() -> None:
    steps = " ".join(install_steps(allotment()))
    # Nine rows fed from one end: nine holes; 9 + 2 + 2 line and bypass pieces, a header and a mainline: 15 pieces.
    assert "Cut all 15 pieces" in steps
    assert "make its 9 holes" in steps
    assert "6.80 m of blank tube 16 mm, piece P14" in steps
    assert "where it crosses: middle path (1 crossing)" in steps
    assert "36 x wire stake (any tube)" in steps
    assert "Lay the 9 emitter lines" in steps
    # The one zone valve that stands on the shopping list has its place.
    assert "Set the zone valve: zone A at the start of mainline M1." in steps
    assert steps.index("Peg headers and rows") < steps.index("Cut all")
    assert "short stubs of tube" in steps
    assert "round an obstacle" in steps
    assert "A timer at the tap only starts the water" in " ".join(install_steps(backyard()))
    assert "Set the 2 zone valves where the tube feeds one zone alone" in " ".join(install_steps(backyard()))


def test_bucket_by_hand() -> None:
    # 12 L/min fill 10 L in 50 s; 30 m of water are 2.94 bar. 4 gal/min fill 5 gal in 75 s.
    plan, zone = _with_usable(allotment(), 1.0)
    water = dataclasses.replace(zone.water, usable_flow_m3_s=12e-3 / 60.0)
    plan = dataclasses.replace(plan, zones=(dataclasses.replace(zone, water=water),))
    assert "counts on 12.0 L/min from it, and on 2.94 bar" in tap_step(plan)
    assert "fill 10 L in less than 50 s" in tap_step(plan)
    water = dataclasses.replace(water, usable_flow_m3_s=4.0 * GPM * 0.9999)
    plan = dataclasses.replace(plan, unit_system="us", zones=(dataclasses.replace(zone, water=water),))
    assert "fill 5.0 gal in less than 75 s" in tap_step(plan)


def test_stakes_stand_evenly() -> None:
    # 36 stakes hold all the tube that is laid.
    plan = allotment()
    laid = sum(piece.length_um for piece in plan.pieces) / 1e6
    assert f"about one every {laid / 36:.2f} m of any tube" in " ".join(install_steps(plan))


def test_mainline_beside_a_header_lies_off_it() -> None:
    plan = allotment()
    header = plan.headers[0]
    part = plan.mainline[0]
    beside = dataclasses.replace(part, points=header.points)
    assert alongside(beside, header)
    assert not alongside(part, header)
    words = " ".join(install_steps(dataclasses.replace(plan, mainline=(beside,))))
    assert "Alongside header HA lay it a hand's width off, on the side away from the rows." in words


def test_every_piece_has_its_place_in_the_laying_tables(plan: Plan) -> None:
    tables = [block for block in install_blocks(plan) if isinstance(block, Table)]
    steps = " ".join(item for block in install_blocks(plan) if isinstance(block, Steps) for item in block.items)
    words = set(
        re.findall(r"\bP\d+\b", steps + " ".join(cell for table in tables for row in table.rows for cell in row))
    )
    assert words == {piece.id for piece in plan.pieces}


def test_row_around_the_tree_is_laid_in_three_pieces() -> None:
    table = next(block for block in install_blocks(allotment()) if isinstance(block, Table))
    assert table.rows[4] == ("R5", "right: P5 2.40 m, then blank P6 2.60 m, then P7 3.90 m", "21")


def test_head_parts_stand_in_the_order_of_flow() -> None:
    assert head_steps(backyard()) == (
        "tap: start here",
        "battery timer (one outlet)",
        "hose breaker (never before a valve that holds pressure on it)",
        "screen filter 130 micron",
        "regulator 15 psi",
        "mainline to the garden",
    )
    assert "hose breaker" in head_sketch(backyard()).description
    # A plan may name the tap itself as the first part: it is not said twice.
    plan = backyard()
    named = dataclasses.replace(plan, head_units=(HeadUnit("tap", "tap", ""), *plan.head_units))
    assert head_steps(named) == head_steps(plan)


def test_place_along_a_bent_line() -> None:
    assert along_um(((0.0, 0.0), (3.0, 0.0), (3.0, 4.0)), (3.1, 1.0)) == 4_000_000


# ---------------------------------------------------------------- schedule, winter


def test_schedule_card_shows_what_it_is_given() -> None:
    card = ScheduleCard(
        times=(
            ZoneTimes("spring", "A", 25, ("06:00",), ("Tue", "Fri"), 0.31, "25 min, 2 days"),
            ZoneTimes("summer", "A", 42, ("06:00", "19:00"), ("Mon", "Wed", "Fri"), 0.62),
        ),
        rules=("If it rains 10 mm skip one run.",),
        assumptions=("need in July: 4.1 mm a day",),
    )
    spring, summer, rules, _, rests_on = schedule_blocks(allotment(), card)
    assert isinstance(spring, Table)
    assert spring.rows == (("A", "25", "06:00", "Tue, Fri", "310 L", "25 min, 2 days"),)
    assert isinstance(summer, Table)
    assert summer.rows[0][1:4] == ("42", "06:00, 19:00", "Mon, Wed, Fri")
    assert rules == Bullets(card.rules)
    assert rests_on == Bullets(card.assumptions)


def test_hand_valves_are_thought_of_where_there_are_several_zones() -> None:
    card = ScheduleCard(times=(ZoneTimes("spring", "A", 25, ("06:00",), ("Tue",), 0.31),))
    first = schedule_blocks(backyard(), card)[0]
    assert isinstance(first, Paragraph)
    assert first.text.startswith("With hand valves open only the zone whose start it is")
    assert isinstance(schedule_blocks(allotment(), card)[0], Table)


def test_without_times_the_card_is_empty_and_says_so() -> None:
    words, table = schedule_blocks(backyard(), None)
    assert isinstance(words, Paragraph)
    assert "No watering times were worked out" in words.text
    assert isinstance(table, Table)
    assert all(row[2:] == ("", "", "") for row in table.rows)


def _line(heights: list[float]) -> tuple[Outlet, ...]:
    return tuple(
        Outlet("L", number, 10.0 + 2 * number, (3.0, 5.0 + number), height, 1e-7, 0.0136)
        for number, height in enumerate(heights, start=1)
    )


@pytest.mark.parametrize(
    ("heights", "kind", "away"),
    [
        ([1.0, 1.004, 1.0], "level", 0.0),
        ([0.0, 0.5, 1.0], "header", 0.0),
        ([1.0, 0.5, 0.0], "end", 2.0),
        ([1.0, 0.0, 0.5, 1.0], "between", 1.0),
    ],
)
def test_where_a_lateral_drains(heights: list[float], kind: str, away: float) -> None:
    low = lateral_low(_line(heights))
    assert (low.kind, low.away_m) == (kind, pytest.approx(away))


def test_winter_card_names_every_header_and_zone(plan: Plan) -> None:
    first_column = " ".join(row[0] for row in drain_table(plan).rows)
    for header in plan.headers:
        assert f"Header {header.id}" in first_column
    for zone in plan.zones:
        assert f"Zone {zone.id}:" in first_column


def test_header_fed_at_its_low_end_is_pulled_off_the_elbow() -> None:
    plan = allotment()
    assert drain_table(plan).rows[0][1].endswith("pull the tube off the elbow there")
    far = dataclasses.replace(plan.headers[0], inlet_um=plan.headers[0].length_um, inlet_at=plan.headers[0].points[-1])
    assert drain_table(dataclasses.replace(plan, headers=(far,))).rows[0][1].endswith("open the header end there")


def test_sloping_rows_drain_back_to_the_header() -> None:
    # The allotment rises 1 cm a metre along its rows, and the header is at their low end.
    assert drain_table(allotment()).rows[-1] == (
        "Zone A: all rows",
        "falls to the header: open the end to let air in",
    )
    # The ground falls to the tap end, where the header has its zero.
    assert drain_table(allotment()).rows[0][1].startswith("lowest 0.00 m from its zero")
    kept = winter_blocks(allotment())[-1]
    assert isinstance(kept, Bullets)
    assert kept.items[0] == "OFF-T3: 5.20 m of dripline 16 mm, 30 cm, 1.6 L/h"


# ---------------------------------------------------------------- why, cautions


def _with_status(status: Status, proven: tuple[bool, ...]) -> Plan:
    plan = allotment()
    goals = tuple(
        dataclasses.replace(goal, proven=flag) for goal, flag in zip(plan.certificate.goals, proven, strict=True)
    )
    return dataclasses.replace(plan, certificate=dataclasses.replace(plan.certificate, status=status, goals=goals))


def test_words_of_the_certificate_claim_only_what_was_proven() -> None:
    all_proven = status_text(_with_status(Status.PROVEN_BEST, (True, True, True)))
    assert "no plan is better" in all_proven
    partly = status_text(_with_status(Status.PROVEN_BEST, (True, True, False)))
    assert "for: requests met, money" in partly
    assert "Not proven best: waste" in partly
    found = status_text(_with_status(Status.BEST_FOUND, (True, False, False)))
    assert "not proven that none is better" in found
    assert "Not proven best: money, waste" in found


def test_goals_are_written_in_the_users_units() -> None:
    # 600 000 um are 0.60 m or 23.6 in, to half an inch 1 ft 11 1/2 in.
    assert goal_table(allotment()).rows[2] == ("waste", "0.60 m", "0.40 m", "no")
    assert goal_table(backyard()).rows[2][1] == "1 ft 11 1/2 in"
    # A ppm is a ten-thousandth of a per cent.
    plan = allotment()
    for unit, words in (("ppm", "1.25 %"), ("0.01 %", "125.00 %"), ("count", "12500"), ("plants", "12500 plants")):
        assert goal_amount(plan, GoalValue("goal", 12_500, 0, unit, True), 12_500) == words


def test_goals_are_named_in_plain_words() -> None:
    plan = allotment()
    goal = dataclasses.replace(plan.certificate.goals[0], name="requests missing")
    certificate = dataclasses.replace(plan.certificate, goals=(goal, *plan.certificate.goals[1:]))
    assert goal_table(dataclasses.replace(plan, certificate=certificate)).rows[0][0] == "asked for and not given"
    assert "too short to use again and all blank tube that is laid" in goal_table(plan).notes[0]


def test_losers_are_told_apart_by_proof() -> None:
    plan = allotment()
    worked_out, ruled_out = plan.alternatives
    assert cost_difference(plan, worked_out) == "23.10 EUR more"
    assert cost_difference(plan, ruled_out) == "at least 9.00 EUR more"
    cheaper = dataclasses.replace(ruled_out, money_ct=plan.goal("money") - 100)
    assert cost_difference(plan, cheaper).startswith("at least 174.67 EUR in all")
    assert cost_difference(plan, dataclasses.replace(cheaper, exact=True)) == "1.00 EUR less"
    same = dataclasses.replace(worked_out, name="the plan", money_ct=plan.goal("money"))
    assert cost_difference(plan, same) == "175.67 EUR"
    assert "'At least'" in alternatives_table(plan).notes[0]


def test_why_page_lists_assumptions_and_search() -> None:
    plan = allotment()
    items = [item for block in why_blocks(plan) if isinstance(block, Bullets) for item in block.items]
    for assumption in plan.assumptions:
        assert assumption in items
    assert "61 designs ruled out: dearer than the plan by the bound on material" in items
    assert "84 designs in all, 7 worked out" in items


@pytest.mark.parametrize(
    "words",
    [
        "must never run back",
        "Do not drink",
        "Burst tube",
        "scald",
        "Mains electricity",
        "only a qualified person",
        "full one is very heavy",
        "Tripping",
        "Compressed air",
        "licensed trades",
    ],
)
def test_cautions_cover(words: str) -> None:
    assert words in " ".join(caution_items(backyard()))


def test_cautions_state_the_greatest_pressure() -> None:
    # 14 m of water are 14 x 9.80665 kPa = 1.37 bar.
    assert math.isclose(14.0 * 0.0980665, 1.37, abs_tol=0.005)
    assert "can see 1.37 bar" in " ".join(caution_items(allotment()))


# ---------------------------------------------------------------- mark-out strip


def test_strip_shows_every_place_in_order(plan: Plan) -> None:
    for header in plan.headers:
        found = places(plan, header)
        described = " ".join(sketch.description for sketch in strip_sketches(plan, header))
        assert len(found) == len({mark.distance_um for mark in marks(plan, header)})
        for row_id in {take_off.row_id for take_off in header.take_offs}:
            assert re.search(rf"\b{row_id}\b", described)
        assert (found[0].notes.split(", ")[0], found[-1].notes) == ("zero", "end")


def test_strip_by_hand() -> None:
    # The first row of the field runs 0.4 m from the zero, its two lines 0.15 m to either side of it.
    plan = market_garden()
    second = places(plan, plan.headers[0])[1]
    assert (second.distance, second.left, second.right, second.notes) == ("0.25 m", "R1-1L line 1", "R1-1R line 1", "")
    assert len(strip_sketches(plan, plan.headers[0])) == 1


def test_long_strips_go_on() -> None:
    plan = market_garden(120)
    sketches = strip_sketches(plan, plan.headers[0])
    assert [sketch.title.rpartition(" (")[2] for sketch in sketches] == ["1 of 3)", "2 of 3)", "3 of 3)"]
    assert max(sketch.height_mm for sketch in sketches) < 230.0

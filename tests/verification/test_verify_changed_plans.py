"""One thing changed in the plan that holds: the rule it breaks must say so."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from small_plan import LINE, TUBE, changed, small_plan, small_scenario

from optimizer.plan import BedMap, Crossing, HeadUnit, Plan, Status
from optimizer.verification import verify

Change = tuple[str, str, dict[str, Any]]

WAY = ((0.15, 1.0), (9.65, 1.0))

CHANGES: list[Change] = [
    # rule, what is changed, to what
    ("ids", "rows.1", {"id": "R1"}),
    ("references", "laterals.0", {"zone_id": "B"}),
    ("references", "laterals.0.stretches.0", {"piece_id": "R9"}),
    ("references", "rows.0", {"crop": "melon"}),
    ("references", "headers.0", {"tube": "blank tube 16 mm"}),
    ("references", "pieces.0", {"serves": "R9"}),
    ("references", "rolls.0.cuts.0", {"piece_id": "R9"}),
    ("shapes", "mainline.0", {"points": ((0.0, 0.0), (0.0, 0.0))}),
    ("shapes", "headers.0", {"take_offs": ()}),
    ("shapes", "headers.0", {"inlet_at": (0.15,)}),
    ("shapes", "laterals.0", {"stretches": ()}),
    ("shapes", "beds.0", {"row_angle_deg": float("inf")}),
    ("shapes", "rows.0", {"end": (float("nan"), 1.0)}),
    ("ground as in the scenario", "site", {"source_at": (-1.0, 1.1)}),
    ("ground as in the scenario", "beds.0", {"raised_m": 0.2}),
    ("labels", "", {"currency": "USD"}),
    ("labels", "", {"unit_system": "us"}),
    ("ground as in the scenario", "site", {"shapes": ()}),
    ("ground as in the scenario", "site", {"north_deg": 90.0}),
    ("row directions", "beds.0", {"row_angle_deg": 30.0}),
    ("rows along their direction", "rows.0", {"end": (9.85, 1.01)}),
    ("rows inside their bed", "rows.0", {"end": (9.852, 1.0)}),  # 0.15 m wanted at the end, 0.148 left
    ("rows inside their bed", "rows.0", {"start": (0.15, 0.14), "end": (9.85, 0.14)}),
    ("rows clear of obstacles", "laterals.2.stretches.0", {"points": ((0.15, 3.0), (4.46, 3.0))}),
    ("row spacing", "rows.1", {"start": (0.15, 2.002), "end": (9.85, 2.002)}),  # 0.998 m to the leek
    ("rows as their crop wants", "rows.0", {"lines": 2}),
    ("rows as their crop wants", "rows.0", {"spacing_m": 0.4}),
    ("planted rows", "rows.0", {"fixed": True}),
    ("lines in their row", "rows.0", {"start": (0.15, 1.002), "end": (9.85, 1.002)}),
    ("lines in their row", "rows.0", {"end": (9.6, 1.0)}),
    ("lines in their row", "laterals.0", {"line": 2}),
    ("lines in their row", "rows.0", {"lines": 2}),
    ("rows watered", "rows.0", {"lines": 2}),
    ("rows watered", "laterals.0.stretches.0", {"points": ((0.15, 1.0), (9.3, 1.0))}),
    ("planted length", "rows.0", {"planted_m": 10.1}),
    ("planted length", "rows.0", {"planted_m": 9.4}),
    ("whole emitter spacings", "laterals.0.stretches.0", {"emitters": 18}),
    ("whole emitter spacings", "laterals.0.stretches.0", {"length_um": 9_500_001}),
    ("whole emitter spacings", "laterals.2.stretches.1", {"emitters": 1}),
    ("lateral sums", "laterals.0", {"emitters": 18}),
    ("lateral sums", "laterals.2", {"length_um": 10_300_000}),
    ("lateral paths", "laterals.0.stretches.0", {"points": ((0.15, 1.0), (9.652, 1.0))}),
    ("lateral paths", "laterals.2.stretches.1", {"length_um": 2_290_000}),
    ("lateral paths", "laterals.2.stretches.2", {"points": ((5.552, 3.0), (9.552, 3.0))}),
    ("lateral paths", "laterals.0", {"take_off_at": (0.15, 1.01)}),
    ("stretch order", "laterals.0.stretches.0", {"kind": "bypass"}),
    ("bypasses", "laterals.2.stretches.1", {"points": ((4.15, 3.0), (5.55, 3.0))}),
    # turning 0.09 m above the post, 0.1 m is wanted
    ("bypasses", "laterals.2.stretches.1", {"points": ((4.15, 3.0), (4.6, 3.39), (5.4, 3.39), (5.55, 3.0))}),
    ("header lengths", "headers.0", {"length_um": 2_190_000}),
    ("header lengths", "headers.0.take_offs.0", {"distance_um": 90_000}),
    ("header tees", "headers.0", {"inlet_um": 1_100_000, "inlet_at": (0.15, 2.0)}),
    ("take-off places", "headers.0.take_offs.1", {"distance_um": 1_102_000}),
    ("take-off places", "headers.0", {"inlet_at": (0.15, 1.01)}),
    ("take-off places", "headers.0.take_offs.1", {"lateral_ids": ("R1",)}),
    ("one take-off each", "headers.0.take_offs.1", {"lateral_ids": ()}),
    ("one take-off each", "headers.0.take_offs.1", {"lateral_ids": ("R2", "R1")}),
    ("sides of the header", "laterals.0", {"side": "left"}),
    ("mainline lengths", "mainline.0", {"length_um": 1_140_000}),
    ("one valve on each way", "", {"valves": ()}),
    ("valve places", "valves.0", {"header_ids": ("HA",), "part_ids": ()}),
    ("valve places", "valves.0", {"at": (-1.0, 1.01)}),
    ("shapes", "valves.0", {"part_ids": ()}),
    ("references", "valves.0", {"zone_ids": ("B",)}),
    ("tube keep-outs", "mainline.0", {"points": ((-1.0, 1.0), (5.0, 3.0), (0.15, 1.0))}),
    ("barriers", "mainline.0", {"points": ((-1.0, 1.0), (13.0, 1.0), (0.15, 1.0))}),
    ("crossings", "mainline.0", {"crossings": ()}),
    ("crossings", "mainline.0", {"crossings": (Crossing("garden path", (-0.45, 1.01)),)}),
    ("crossings", "headers.0", {"crossings": (Crossing("garden path", (0.15, 1.0)),)}),
    ("fed from the supply", "mainline.0", {"points": ((-0.9, 1.0), (0.15, 1.0))}),
    ("fed from the supply", "mainline.0", {"points": ((-1.0, 1.0), (0.14, 1.0))}),
    ("fed from the supply", "mainline.0", {"zone_ids": ()}),
    ("one zone each", "zones.0", {"lateral_ids": ("R1", "R2")}),
    ("zone lists", "zones.0", {"row_ids": ("R1", "R2")}),
    ("zone lists", "zones.0", {"lateral_ids": ("R1", "R2", "R3", "R3")}),
    ("zone lists", "zones.0", {"header_ids": ()}),
    ("cut once", "rolls.0.cuts.0", {"part": 2}),
    ("cut once", "rolls.0.cuts.0", {"parts": 1}),
    ("cut once", "pieces.1", {"length_um": 9_000_000}),
    ("cut once", "rolls.0", {"product": TUBE}),
    ("roll sums", "rolls.1", {"leftover_um": 27_999_999}),
    ("roll sums", "rolls.1.cuts.0", {"length_um": 9_500_001}),
    ("running marks", "rolls.1.cuts.2", {"mark_um": 18_000_001}),
    ("stock", "rolls.1", {"length_um": 50_000_001}),
    ("stock", "rolls.1", {"price_ct": 1999}),
    ("owned pieces", "rolls.0", {"length_um": 6_000_000}),
    ("owned pieces", "rolls.1", {"owned": True}),
    ("owned pieces", "rolls.0", {"price_ct": 1}),
    ("leftovers", "rolls.2", {"leftover_usable": False}),
    ("leftovers", "rolls.0", {"leftover_usable": True}),
    ("joints", "rolls.0.cuts.0", {"length_um": 500_000}),
    ("cuts between emitters", "rolls.0.cuts.0", {"length_um": 5_100_000}),
    ("pieces serve", "pieces.0", {"serves": "R2"}),
    ("pieces serve", "pieces.4", {"purpose": "mainline", "serves": "M1"}),
    ("pieces serve", "pieces.4", {"product": LINE}),
    ("pieces serve", "headers.0", {"piece_ids": ("HA", "M1")}),
    ("pieces serve", "laterals.0.stretches.0", {"piece_id": "R2"}),
    ("fitting quantities", "bill.3", {"quantity": 4}),
    ("fitting quantities", "bill.11", {"quantity": 22}),
    ("fitting quantities", "bill.3", {"fits": TUBE}),
    ("fitting quantities", "bill.7", {"item": "row shut-off"}),
    ("fitting prices", "bill.3", {"unit_price_ct": 90}),
    ("line costs", "bill.3", {"cost_ct": 331}),
    ("line costs", "bill.3", {"spare": -1}),
    ("line costs", "bill.0", {"owned": 2}),
    ("line costs", "bill.0", {"item": "hose"}),
    ("tube quantities", "bill.1", {"quantity": 2}),
    ("tube quantities", "bill.0", {"owned": 0}),
    ("head parts", "bill.13", {"quantity": 2}),
    ("head parts", "bill.14", {"cost_ct": 0}),
    ("head parts", "head_units.1", {"name": "sieve"}),
    ("head parts", "", {"head_units": (HeadUnit("filter", "filter", ""),)}),
    ("requests goal", "certificate.goals.0", {"value": 500_000}),
    ("money goal", "certificate.goals.1", {"value": 8804}),
    ("waste goal", "certificate.goals.2", {"value": 5_699_999}),
    ("fittings goal", "certificate.goals.3", {"value": 13}),
    ("fittings goal", "certificate.goals.3", {"name": "joys"}),
    ("proofs", "certificate.goals.1", {"bound": 8800}),
    ("proofs", "certificate.goals.1", {"bound": 8806, "proven": False}),
    ("proofs", "certificate", {"status": Status.IMPOSSIBLE}),
    ("proofs", "certificate.goals.1", {"proven": False}),
    ("proofs", "certificate.goals.1", {"unit": "EUR"}),
    ("zones solved", "zones.0", {"header_ids": ()}),
    ("emitter flows", "zones.0.network", {"emitter_flow_m3_s": (5.57e-7, *(2e-3 / 3600.0,) * 53)}),
    ("emitter flows", "zones.0.network", {"emitter_lateral": ("R2",) * 54}),
    ("emitter places", "zones.0.network", {"node_z_m": (0.1,) * 60}),
    ("emitter places", "zones.0.network", {"node_x_m": ()}),
    ("stored network", "zones.0.network", {"emitter_k": (6e-7,) * 54}),
    ("stored network", "zones.0.network", {"node_head_m": (9.9,) * 60}),
    ("stored network", "zones.0.network", {"tube_bore_m": (0.0138,) * 59, "tube_to": (1,)}),
    ("zone figures", "zones.0.water", {"flow_m3_s": 3.01e-5}),
    ("zone figures", "zones.0.water", {"least_head_m": 9.9}),
    ("zone figures", "zones.0.water", {"static_head_m": 9.9}),
    ("zone figures", "zones.0.water", {"emission_uniformity": 0.95}),
    ("zone figures", "zones.0.water", {"usable_flow_m3_s": 5.3e-4}),
    ("zone figures", "zones.0.water", {"usable_flow_m3_s": 5.1e-4}),
    ("flow sums", "zones.0.water", {"flow_m3_s": 3.01e-5}),
    ("flow variation goal", "certificate.goals.4", {"value": 3, "bound": 3}),
]


def _named(change: Change) -> str:
    return f"{change[0]}: {change[1]} {', '.join(change[2])}"


@pytest.mark.parametrize("change", CHANGES, ids=_named)
def test_a_changed_plan_breaks_its_rule(change: Change):
    rule, path, values = change
    check = verify(changed(small_plan(), path, **values), small_scenario())
    assert not check.holds
    assert check.of_rule(rule), [str(finding) for finding in check.findings]


ALLOWED: list[tuple[str, dict[str, Any]]] = [
    ("rows.0", {"planted_m": 9.7}),  # the whole row, its last part less than a spacing
    ("laterals.0.stretches.0", {"points": ((0.15, 1.0), (9.6505, 1.0))}),  # half a millimetre
    ("zones.0.water", {"inlet_head_m": 10.01}),
    ("certificate.goals.4", {"value": 2, "bound": 2}),
    ("bill.3", {"spare": 5}),
]


@pytest.mark.parametrize(("path", "values"), ALLOWED, ids=[path for path, _ in ALLOWED])
def test_what_lies_within_the_tolerance_is_allowed(path: str, values: dict[str, Any]):
    assert verify(changed(small_plan(), path, **values), small_scenario()).findings == ()


def test_a_bed_left_out_is_found():
    plan = small_plan()
    other = BedMap("other bed", (), 0.0, 0.0, "along", ())
    check = verify(replace(plan, beds=(*plan.beds, other)), small_scenario())
    assert check.of_rule("ground as in the scenario")
    assert check.of_rule("row directions")


def test_broken_ids_stop_the_check_and_say_so():
    check = verify(changed(small_plan(), "laterals.0", row_id="R9"), small_scenario())
    assert [finding.rule for finding in check.findings] == ["references", "not checked"]
    assert check.zones == ()


def test_a_row_listed_as_left_out_may_stay_dry():
    plan = changed(small_plan(), "rows.0", end=(9.85, 1.0))
    short = changed(plan, "laterals.0.stretches.0", points=((0.15, 1.0), (9.3, 1.0)))
    assert verify(short, small_scenario()).of_rule("rows watered")
    listed: Plan = replace(short, not_watered=("R1: 0.55 m: too short",))
    assert not verify(listed, small_scenario()).of_rule("rows watered")


def test_a_piece_nobody_cuts_is_found():
    plan = small_plan()
    rolls = (plan.rolls[0], plan.rolls[1], replace(plan.rolls[2], cuts=plan.rolls[2].cuts[:2], leftover_um=5_500_000))
    check = verify(replace(plan, rolls=rolls), small_scenario())
    assert "piece M1" in [finding.path for finding in check.of_rule("cut once")]


def test_a_roll_beyond_what_can_be_had_is_found():
    plan = small_plan()
    more = replace(plan.rolls[1], id="L3", cuts=(), leftover_um=50_000_000)
    assert verify(replace(plan, rolls=(*plan.rolls, more)), small_scenario()).of_rule("stock")


def test_an_owned_piece_used_twice_is_found():
    plan = small_plan()
    again = replace(plan.rolls[0], id="L3", cuts=(), leftover_um=5_000_000, leftover_usable=True)
    assert verify(replace(plan, rolls=(*plan.rolls, again)), small_scenario()).of_rule("owned pieces")

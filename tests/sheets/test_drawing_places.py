"""What the drawings show: rows, places of fittings, and the DXF of them."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import ezdxf
import pytest
from drawing_plans import allotment, backyard, field_two_headers, framed_beds

from optimizer.errors import DripLayoutError, FileError
from optimizer.plan import Crossing, Stretch
from optimizer.sheets.drawing_places import along, couplers, crossings, ends, low_drains, take_offs, zone_valves
from optimizer.sheets.drawing_rows import group_rows, id_span, laterals_by_row, run_text, runs_of
from optimizer.sheets.dxf import lateral_layer, save_dxf
from optimizer.units import Display, System

METRIC = Display(System.METRIC)

# ---------------------------------------------------------------- rows and places


def test_ids_in_a_row_are_written_as_spans() -> None:
    assert id_span(["R1", "R2", "R3", "R7"]) == "R1-R3, R7"
    assert id_span(["R9", "R10", "S11"]) == "R9-R10, S11"
    assert id_span(["west", "east"]) == "west, east"


def test_a_row_with_a_bypass_has_three_runs() -> None:
    plan = allotment()
    row = plan.rows[4]
    runs = runs_of(row, laterals_by_row(plan)[row.id])
    assert [run.kind for run in runs] == ["emitter line", "bypass", "emitter line"]
    assert run_text(runs[1], METRIC) == "bypass 2.90 m"


def test_lines_of_a_row_share_a_run_and_others_do_not() -> None:
    plan = allotment()
    row = plan.rows[-1]
    both = laterals_by_row(plan)[row.id]
    assert [run_text(run, METRIC) for run in runs_of(row, both)] == ["2 × 9.00 m"]
    short = replace(both[1].stretches[0], length_um=8_700_000)
    assert [run_text(run, METRIC) for run in runs_of(row, [both[0], replace(both[1], stretches=(short,))])] == [
        "9.00 m / 8.70 m"
    ]
    cut = Stretch("x", "bypass", short.points, 500_000, 0)
    apart = runs_of(row, [both[0], replace(both[1], stretches=(short, cut))])
    assert [run_text(run, METRIC) for run in apart] == ["9.00 m", "8.70 m", "bypass 0.50 m"]


def test_rows_are_grouped_by_what_is_cut_for_them() -> None:
    groups = group_rows(allotment(), METRIC, by_length=True)
    spans = [id_span([row.id for row in group.rows]) for group in groups]
    assert spans == ["R1-R2", "R3-R4", "R5", "R6", "R7", "R8-R10", "R11"]
    wide = group_rows(allotment(), METRIC, by_length=False)
    assert [id_span([row.id for row in group.rows]) for group in wide] == ["R1-R4", "R5-R7", "R8-R11"]


def test_points_along_a_line() -> None:
    line = ((0.0, 0.0), (3.0, 0.0), (3.0, 4.0))
    assert along(line, 2.0) == ((2.0, 0.0), 0.0)
    assert along(line, 5.0) == ((3.0, 2.0), 90.0)
    assert along(line, 99.0) == ((3.0, 4.0), 90.0)


def test_couplers_sit_where_parts_meet() -> None:
    plan = allotment()
    assert couplers(plan) == []
    header = plan.headers[1]
    roll = next(roll for roll in plan.rolls if any(cut.piece_id == header.piece_ids[0] for cut in roll.cuts))
    cuts = []
    for cut in roll.cuts:
        if cut.piece_id == header.piece_ids[0]:
            cuts += [replace(cut, parts=2, length_um=1_000_000), replace(cut, part=2, parts=2, length_um=2_100_000)]
        else:
            cuts.append(cut)
    rolls = tuple(replace(item, cuts=tuple(cuts)) if item is roll else item for item in plan.rolls)
    (place,) = couplers(replace(plan, rolls=rolls))
    # H2 runs from (0.6, 5.9) upwards; the first part is 1 m long.
    assert place.at == pytest.approx((0.6, 6.9))
    assert abs(place.angle_deg) == pytest.approx(90.0)


def test_valves_stand_where_the_mainline_feeds_one_zone() -> None:
    places = {place.name: place.at for place in zone_valves(allotment())}
    assert places == {"A": (0.3, 5.2), "B": (0.3, 5.2)}
    apart = {place.name: place.at for place in zone_valves(allotment(), 0.2)}
    assert apart["A"] == pytest.approx((0.3, 5.0))
    assert apart["B"] == pytest.approx((0.3, 5.4))
    # The only valve of an only zone is bought and set too, so it is drawn.
    assert [place.name for place in zone_valves(backyard())] == ["A"]


def test_headers_drain_at_their_lowest_end_or_on_level_ground_at_the_far_one() -> None:
    # uphill is +x and +y: H1 from y 4.4 down to 0.4, H2 from 5.9 up to 9.0
    assert {place.name: place.at for place in low_drains(allotment())} == {"H1": (0.6, 0.4), "H2": (0.6, 5.9)}
    (level,) = low_drains(backyard())
    assert level.at == backyard().headers[0].points[-1]


def test_ends_crossings_and_take_offs_are_counted() -> None:
    plan = allotment()
    assert len(ends(plan)) == len(plan.laterals) + 2
    assert len(crossings(plan)) == 2
    crossed = replace(plan.headers[0], crossings=(Crossing("Middle path", (0.6, 3.0)),))
    (place,) = crossings(replace(plan, mainline=(), headers=(crossed,)))
    assert place.at == (0.6, 3.0)
    assert abs(place.angle_deg) == pytest.approx(90.0)
    assert len(take_offs(plan)) == len(plan.rows)
    field = field_two_headers()
    assert len(take_offs(field)) == 120


# ---------------------------------------------------------------- DXF


def test_dxf_holds_the_plan_in_metres(tmp_path: Path) -> None:
    plan = allotment()
    save_dxf(plan, tmp_path / "plan.dxf")
    document = ezdxf.readfile(tmp_path / "plan.dxf")
    assert document.header["$INSUNITS"] == 6  # metres (DXF reference, header variables)
    assert not document.audit().has_errors
    space = document.modelspace()

    def lines(layer: str) -> list[list[tuple[float, float]]]:
        return [[(x, y) for x, y in item.get_points("xy")] for item in space.query(f'LWPOLYLINE[layer=="{layer}"]')]

    assert lines("OUTLINE") == [[pytest.approx(corner) for corner in plan.site.outline]]
    assert lines("HEADERS") == [[pytest.approx(p) for p in header.points] for header in plan.headers]
    assert lines("MAINLINE") == [[pytest.approx(p) for p in part.points] for part in plan.mainline]
    for zone in plan.zones:
        mine = [s for item in plan.laterals if item.zone_id == zone.id for s in item.stretches if s.kind != "bypass"]
        assert lines(lateral_layer(zone.id)) == [[pytest.approx(p) for p in stretch.points] for stretch in mine]
    assert len(lines("BYPASSES")) == sum(s.kind == "bypass" for item in plan.laterals for s in item.stretches)
    rows = [(item.dxf.start.x, item.dxf.start.y) for item in space.query('LINE[layer=="ROWS"]')]
    assert rows == [pytest.approx(row.start) for row in plan.rows]
    (source,) = space.query('POINT[layer=="SOURCE"]')
    assert (source.dxf.location.x, source.dxf.location.y) == pytest.approx(plan.site.source_at)
    assert len(space.query('POINT[layer=="TAKE-OFFS"]')) == len(plan.rows)
    names = {item.dxf.text for item in space.query("TEXT")}
    assert {"Apple tree", "R1 Carrot", "H1", "M2"} <= names


def test_dxf_repeats_and_leaves_the_library_as_it_was(tmp_path: Path) -> None:
    before = ezdxf.options.write_fixed_meta_data_for_testing
    for name in ("a", "b"):
        save_dxf(framed_beds(), tmp_path / f"{name}.dxf")
    assert (tmp_path / "a.dxf").read_bytes() == (tmp_path / "b.dxf").read_bytes()
    assert ezdxf.options.write_fixed_meta_data_for_testing == before
    with pytest.raises(FileError, match="nowhere"):
        save_dxf(framed_beds(), tmp_path / "nowhere" / "a.dxf")
    assert issubclass(FileError, DripLayoutError)
    assert lateral_layer("A/1*") == "LATERALS-A-1-"

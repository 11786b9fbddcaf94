"""What the drawings stand on: colours, measured words, true scales, places of fittings, DXF."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import ezdxf
import numpy as np
import pytest
from drawing_plans import allotment, backyard, field_two_headers, framed_beds
from matplotlib.backends.backend_agg import FigureCanvasAgg
from shapely.geometry import Point, Polygon, box

from optimizer.errors import DripLayoutError, FileError
from optimizer.plan import Stretch
from optimizer.sheets.drawing_areas import fill_zone, hatch_lines
from optimizer.sheets.drawing_panel import Block, Entry, paired, panel_height
from optimizer.sheets.drawing_places import along, couplers, crossings, ends, low_drains, take_offs, zone_valves
from optimizer.sheets.drawing_rows import group_rows, id_span, laterals_by_row, run_text, runs_of
from optimizer.sheets.dxf import lateral_layer, save_dxf
from optimizer.sheets.labels import Board, Box, glued, near_edge, readable, text_size, wrap, write
from optimizer.sheets.palette import HATCHES, STEPS, lightness, linear_light, zone_look
from optimizer.sheets.paper import A4, Paper, Rect, drawing_scales, fit_view, new_page, nice_length, scale_text
from optimizer.units import Display, System

METRIC = Display(System.METRIC)

# ---------------------------------------------------------------- colours


def test_lightness_is_that_of_cie() -> None:
    # CIE 15: L* = 116 (Y/Yn)^(1/3) - 16; white 100, black 0; sRGB #808080 has L* 53.585 (from memory, many tables).
    assert lightness("#ffffff") == pytest.approx(100.0, abs=0.01)
    assert lightness("#000000") == pytest.approx(0.0, abs=1e-9)
    assert lightness("#808080") == pytest.approx(53.585, abs=0.01)


def test_zones_differ_in_grey_by_hatch_and_neighbours_by_lightness_too() -> None:
    looks = [zone_look(k) for k in range(64)]
    assert len({(look.fill, look.hatch.name) for look in looks}) == 64
    assert len({look.hatch.name for look in looks[:8]}) == 8
    for a, b in pairwise(looks[:8]):
        assert abs(lightness(a.fill) - lightness(b.fill)) >= 6.0


def contrast(a: str, b: str) -> float:
    """Contrast ratio of W3C WCAG 2.1, definition in section 1.4.3."""
    bright = sorted(0.2126 * r + 0.7152 * g + 0.0722 * bl + 0.05 for r, g, bl in (linear_light(a), linear_light(b)))
    return bright[1] / bright[0]


def test_ink_is_readable_on_its_fill_and_on_white() -> None:
    # WCAG 2.1, success criterion 1.4.3: at least 4.5 to 1 for ordinary text.
    for k in range(8):
        assert contrast(zone_look(k).ink, zone_look(k).fill) >= 4.5
        assert contrast(zone_look(k).ink, "#ffffff") >= 4.5


def grey_swatch(index: int) -> np.ndarray:
    """A zone's area as a grey copier sees it, 200 dpi, no letter on it."""
    figure, axes = new_page(Paper("swatch", 30.0, 30.0), lying=False)
    fill_zone(axes, box(-5.0, -5.0, 35.0, 35.0), zone_look(index), "z")
    figure.set_dpi(200)
    canvas = FigureCanvasAgg(figure)
    canvas.draw()
    rgb = np.asarray(canvas.buffer_rgba())[:, :, :3].astype(float) / 255.0
    return rgb @ np.array([0.299, 0.587, 0.114])  # ITU-R BT.601 luma


def test_any_two_zones_look_different_on_a_grey_copy() -> None:
    pictures = [grey_swatch(k) for k in range(8)]
    means = [picture.mean() for picture in pictures]
    # The size of the Fourier transform does not mind where a pattern begins.
    spectra = [np.abs(np.fft.rfft2(picture - picture.mean())).ravel() for picture in pictures]
    spectra = [spectrum / np.linalg.norm(spectrum) for spectrum in spectra]
    for i in range(8):
        for j in range(i):
            likeness = float(spectra[i] @ spectra[j])
            assert abs(means[i] - means[j]) > 0.05 or likeness < 0.9


def seen_without(colour: str, missing: str) -> np.ndarray:
    """Colour as a person without red or green cones sees it, in LMS (Vienot, Brettel and Mollon 1999, from memory)."""
    to_lms = np.array([[17.8824, 43.5161, 4.11935], [3.45565, 27.1554, 3.86714], [0.0299566, 0.184309, 1.46709]])
    long, medium, short = to_lms @ np.array(linear_light(colour))
    if missing == "red":
        return np.array([2.02344 * medium - 2.52581 * short, medium, short])
    return np.array([long, 0.494207 * long + 1.24827 * short, short])


@pytest.mark.parametrize("missing", ["red", "green"])
def test_neighbouring_fills_differ_for_the_colour_blind(missing: str) -> None:
    white = seen_without("#ffffff", missing)
    for k in range(7):
        a, b = (seen_without(zone_look(n).fill, missing) / white for n in (k, k + 1))
        assert np.abs(a - b).max() > 0.08


def test_steps_of_the_pressure_scale_rise_in_lightness() -> None:
    values = [lightness(step) for step in STEPS]
    assert all(b - a >= 8.0 for a, b in pairwise(values))


def test_hatches_stay_inside_and_cover_evenly() -> None:
    area = Polygon([(0, 0), (40, 0), (40, 25), (20, 10), (0, 25)])
    for hatch in HATCHES:
        lines = hatch_lines(area, hatch)
        assert lines
        grown = area.buffer(1e-6)
        assert all(grown.covers(Point(*end)) for line in lines for end in line)
    rising = hatch_lines(area, HATCHES[0])
    length = sum(math.dist(line[0], line[-1]) for line in rising)
    # Parallel lines g apart have area / g of length in an area, up to one line at the rim (Cavalieri).
    assert length == pytest.approx(area.area / HATCHES[0].gap_mm, rel=0.12)


# ---------------------------------------------------------------- words


@pytest.mark.parametrize("text", ["R12-R31", "each 14.40 m", "Wgjpq|", "2 × 3 ft 4 1/2 in"])
@pytest.mark.parametrize("bold", [False, True])
def test_measured_text_is_as_wide_as_its_ink(text: str, bold: bool) -> None:
    figure, axes = new_page(A4, lying=False)
    width, height = text_size(text, bold=bold)
    write(axes, Box(100.0, 150.0, width, height), text, bold=bold)
    figure.set_dpi(254)
    canvas = FigureCanvasAgg(figure)
    canvas.draw()
    ink = np.argwhere(np.asarray(canvas.buffer_rgba())[:, :, 0] < 200) / 10.0
    (top, left), (bottom, right) = ink.min(axis=0), ink.max(axis=0) + 0.1
    assert left >= 100.0 - width / 2 - 0.3
    assert right <= 100.0 + width / 2 + 0.3
    assert right - left >= 0.97 * width - 1.2
    assert bottom - top <= height + 0.3


def test_letters_are_ten_points_high() -> None:
    # A point is 1/72 in; letters from the top of "l" to the foot of "p" of a 10 pt font take about 10 pt.
    assert text_size("x")[1] == pytest.approx(10.0 * 25.4 / 72.0, rel=0.12)


def test_wrapped_lines_fit_and_lose_nothing() -> None:
    text = "From the tap, in order of flow: vacuum breaker, screen filter Donaudampfschifffahrtsgesellschaftskapitän"
    for width in (12.0, 20.0, 35.0, 80.0):
        lines = wrap(text, width)
        assert "".join(lines).replace(" ", "") == text.replace(" ", "")
        assert all(text_size(line)[0] <= width for line in lines)
    assert wrap("", 10.0) == []
    assert wrap(glued("14.40 m"), 1000.0) == ["14.40\u00a0m"]


def test_board_agrees_with_polygons() -> None:
    rng = np.random.default_rng(20240501)
    board, taken = Board(Rect(0.0, 0.0, 100.0, 100.0)), []
    for _ in range(150):
        x, y, w, h, turn = rng.uniform((5, 5, 2, 1, -90), (95, 95, 20, 5, 90))
        item = Box(x, y, w, h, turn if rng.random() < 0.5 else 0.0)
        # the board keeps 0.35 mm clear around what is asked for
        shape = Polygon(Box(x, y, w + 0.7, h + 0.7, item.angle_deg).corners())
        hits = [other for other in taken if shape.intersection(other).area > 1e-6]
        inside = box(0, 0, 100, 100).covers(Polygon(item.corners()))
        assert board.is_free(item) == (inside and not hits)
        if item.angle_deg == 0.0:
            assert board.free_among([item]) == [inside and not hits]
        if rng.random() < 0.3:
            board.block(item)
            taken.append(Polygon(item.corners()))


def test_board_prefers_what_covers_least() -> None:
    board = Board(Rect(0.0, 0.0, 50.0, 50.0))
    board.discourage_line([(0.0, 10.0), (50.0, 10.0)])
    board.discourage_line([(0.0, 20.0), (50.0, 20.0)], weight=5.0)
    on_one, on_other, free = Box(25.0, 10.0, 8.0, 3.0), Box(25.0, 20.0, 8.0, 3.0), Box(25.0, 30.0, 8.0, 3.0)
    assert board.first_free([on_other, on_one]) == on_one
    assert board.first_free([on_other, on_one, free]) == free
    board.block(free)
    assert board.first_free([on_other, free], bearable=5.0) == on_other
    assert board.first_free([free]) is None


def test_small_geometry_of_labels() -> None:
    assert [readable(angle) for angle in (0.0, 90.0, 100.0, 180.0, 270.0, -45.0)] == [
        0.0,
        90.0,
        -80.0,
        0.0,
        90.0,
        -45.0,
    ]
    assert near_edge(Box(10.0, 10.0, 4.0, 2.0), (0.0, 10.0)) == (8.0, 10.0)


# ---------------------------------------------------------------- paper


def test_scales_are_those_of_rulers() -> None:
    assert {20.0, 50.0, 100.0, 125.0, 200.0, 500.0, 1000.0} <= set(drawing_scales(System.METRIC))
    # Engineers' scale: 10, 20, 30, 40, 50 and 60 ft to the inch.
    assert {120.0, 240.0, 360.0, 480.0, 600.0, 720.0} <= set(drawing_scales(System.US))
    assert scale_text(120.0, System.US) == "1 in = 10 ft (1:120)"
    assert scale_text(100.0, System.METRIC) == "1:100"
    for system in System:
        assert list(drawing_scales(system)) == sorted(drawing_scales(system))


def test_the_finest_scale_that_fits_is_taken_and_centred() -> None:
    view = fit_view((0.0, 0.0), (10.0, 5.0), Rect(10.0, 10.0, 120.0, 80.0), (50.0, 100.0, 200.0))
    assert view is not None
    assert view.denominator == 100.0
    assert view.at((5.0, 2.5)) == pytest.approx((65.0, 45.0))
    assert view.at((6.0, 2.5))[0] - view.at((5.0, 2.5))[0] == pytest.approx(10.0)
    assert fit_view((0.0, 0.0), (100.0, 5.0), Rect(0.0, 0.0, 100.0, 80.0), (50.0,)) is None


def test_nice_lengths() -> None:
    assert [nice_length(value) for value in (0.7, 1.0, 3.9, 5.0, 49.0, 99.0, 200.0)] == [0.5, 1, 2, 5, 20, 50, 200]


def test_a_panel_that_cannot_fit_says_so() -> None:
    block = Block("Heading", tuple(Entry(f"line {k}") for k in range(30)))
    assert panel_height([block], 80.0, 1, 100.0) is None
    high = panel_height([block], 80.0, 1, 300.0)
    assert high is not None
    assert high >= 31 * 4.7
    two = panel_height([block], 164.0, 2, 300.0)
    assert two is not None
    assert two < 0.6 * high
    assert len(paired([Entry("a"), Entry("b"), Entry("c")])) == 2


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
    assert zone_valves(backyard()) == []


def test_headers_drain_at_their_lowest_end_or_on_level_ground_at_the_far_one() -> None:
    # uphill is +x and +y: H1 from y 4.4 down to 0.4, H2 from 5.9 up to 9.0
    assert {place.name: place.at for place in low_drains(allotment())} == {"H1": (0.6, 0.4), "H2": (0.6, 5.9)}
    (level,) = low_drains(backyard())
    assert level.at == backyard().headers[0].points[-1]


def test_ends_crossings_and_take_offs_are_counted() -> None:
    plan = allotment()
    assert len(ends(plan)) == len(plan.laterals) + 2
    assert len(crossings(plan)) == 2
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

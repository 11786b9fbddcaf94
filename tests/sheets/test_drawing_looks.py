"""What the drawings look like: colours, measured words, true scales."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from shapely.geometry import Point, Polygon, box

from optimizer.sheets.drawing_areas import fill_zone, hatch_lines
from optimizer.sheets.drawing_board import Board, Box, readable
from optimizer.sheets.drawing_panel import Block, Entry, paired, panel_height
from optimizer.sheets.labels import glued, near_edge, text_size, wrap, write
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

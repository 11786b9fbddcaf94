"""Reading and writing quantities; factors from NIST SP 811 (2008), appendix B, where not exact by definition."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optimizer.errors import QuantityError
from optimizer.units import (
    Dimension,
    Display,
    System,
    micrometres,
    money,
    parse,
    parse_bucket,
    parse_flow_per_length,
    parse_point,
)


@pytest.mark.parametrize(
    ("text", "dimension", "expected"),
    [
        ("1.5 m", Dimension.LENGTH, 1.5),
        ("12 ft 6 in", Dimension.LENGTH, 3.81),  # 150 in of 25.4 mm
        ("12 ft 6 1/2 in", Dimension.LENGTH, 3.8227),
        ("5/8 in", Dimension.LENGTH, 0.015875),
        ("1 1/2 in", Dimension.LENGTH, 0.0381),
        ("8 mil", Dimension.LENGTH, 0.0002032),
        ("-2 ft", Dimension.LENGTH, -0.6096),
        ("1 gal/min", Dimension.FLOW, 6.309020e-5),  # NIST SP 811
        ("1 gpm", Dimension.FLOW, 6.309020e-5),
        ("1 imp gal/min", Dimension.FLOW, 7.576817e-5),  # NIST SP 811
        ("2 L/h", Dimension.FLOW, 2e-3 / 3600),
        ("1 psi", Dimension.PRESSURE, 0.7030696),  # NIST SP 811: 6894.757 Pa over 9806.65 Pa/m
        ("1 bar", Dimension.PRESSURE, 10.19716),
        ("2.31 ft head", Dimension.PRESSURE, 0.704088),
        ("10 %", Dimension.FRACTION, 0.1),
        ("68 degF", Dimension.TEMPERATURE, 20.0),
        ("90 deg", Dimension.ANGLE, math.pi / 2),
    ],
)
def test_quantities_read_as_published(text, dimension, expected):
    assert parse(text, dimension) == pytest.approx(expected, rel=1e-6)


@pytest.mark.parametrize(
    ("text", "word"),
    [
        ("1,5 m", "point as decimal mark"),  # pint alone reads 15 m
        ("1 500 mm", "is not a length"),  # pint alone reads 500 mm
        ("1,500 mm", "point as decimal mark"),
        ("5", "has no unit"),
        ("nan m", "not a number that can be measured"),
        ("inf m", "not a number that can be measured"),
        ("3 furlong", "is not a length"),
        ("1e3 m", "is not a length"),
        ("2 bar", "is not a length"),
        ("3/0 in", "divides by zero"),
        ("3 ft 14 in", "below 12"),
        ("", "is not a length"),
        ("m", "is not a length"),
    ],
)
def test_what_is_not_a_length_is_refused(text, word):
    with pytest.raises(QuantityError, match=word):
        parse(text, Dimension.LENGTH)


def test_bucket_test_and_flow_per_length():
    # 5 gal in 38 s = 7.9 gpm; 0.22 gpm over 100 ft is 13.2 gal/h over 100 emitters a foot apart.
    assert parse_bucket("5 gal in 38 s") / 6.309020e-5 == pytest.approx(7.895, abs=5e-4)
    assert parse_flow_per_length("0.22 gal/min per 100 ft") * 0.3048 == pytest.approx(0.0022 * 6.309020e-5, rel=1e-6)
    with pytest.raises(QuantityError, match="above zero"):
        parse_bucket("5 gal in 0 s")


def test_points_need_all_their_lengths():
    assert parse_point("1 m, 50 cm") == (1.0, 0.5)
    with pytest.raises(QuantityError, match="write 2 lengths"):
        parse_point("1,5 m, 2 m")


@pytest.mark.parametrize(
    ("length", "text"),
    [
        (3.81, "12 ft 6 in"),
        (0.0127, "1/2 in"),
        (0.3048, "1 ft"),
        (0.3175, "1 ft 1/2 in"),
        (1.6383, "5 ft 4 1/2 in"),
        (0.3047, "1 ft"),
        (0.0, "0 in"),
    ],
)
def test_feet_and_inches_to_half_an_inch(length, text):
    assert Display(System.US).length(length) == text


@settings(derandomize=True)
@given(st.floats(0.0, 500.0))
def test_written_feet_are_never_more_than_a_quarter_inch_off(length):
    written = Display(System.US).length(length)
    parts = written.replace(" ft", "|").replace(" in", "").split("|")
    feet = float(parts[0]) if "ft" in written else 0.0
    inches = sum(eval_fraction(item) for item in parts[-1].split()) if "in" in written else 0.0
    assert abs(feet * 0.3048 + inches * 0.0254 - length) <= 0.00635 + 1e-9
    assert inches < 12


def eval_fraction(text: str) -> float:
    top, _, bottom = text.partition("/")
    return float(top) / float(bottom or 1)


def test_lengths_down_never_promise_more():
    assert Display(System.METRIC).length_down(2.999) == "2.99 m"
    assert Display(System.US).length_down(0.3048 * 3 - 0.001) == "2 ft 11 1/2 in"


def test_micrometres_hold_inches_exactly():
    assert micrometres(30 * 0.3048) == 30 * 304_800


def test_money_has_two_decimals():
    assert money(1205, "EUR") == "12.05 EUR"

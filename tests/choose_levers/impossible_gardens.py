"""Small gardens for which nothing works, each for another reason: one thing is changed in a garden that works.

No published source: the numbers are invented.
"""

from __future__ import annotations

TEXT = """
title = "Small bed"
units = "metric"

[supply]
kind = "tap"
at = "-1 m, 0 m"
static_pressure = "3 bar"
open_flow = "6 L/min"
regulators = [{ name = "regulator", holds = "1 bar", least_flow = "0.1 L/min" }]

[[beds]]
name = "bed"
rectangle = "6 m x 2 m"
directions = ["along"]

[[beds.crops]]
name = "bean"
row_spacing = "40 cm"
rows = 4

[[emitter_lines]]
name = "dripline"
bore = "13.8 mm"
spacing = "30 cm"
flow = "2 L/h"
at_pressure = "1 bar"
greatest_pressure = "3 bar"
rolls = [{ length = "50 m", price = 30 }]

[[blank_tubes]]
name = "tube"
bore = "13.6 mm"
greatest_pressure = "4 bar"
rolls = [{ length = "25 m", price = 15 }]

[limits]
header_step = "3 m"
"""
"""A garden that works. Its four rows are 5.70 m long: 19 spacings of 30 cm where the header lies at an end, or 10 and 9
to both sides of a header 3 m from an end. Each takes about 19 x 2 L/h = 0.63 L/min at 1 bar."""


def changed(*pairs: tuple[str, str]) -> str:
    """Return the garden with some of its text replaced."""
    text = TEXT
    for old, new in pairs:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    return text


_PLACE = 'at = "-1 m, 0 m"\n'
_STATIC = 'static_pressure = "3 bar"\n'
_TAP = f'kind = "tap"\n{_PLACE}{_STATIC}'
_OPEN = 'open_flow = "6 L/min"\n'
_REGULATOR = 'regulators = [{ name = "regulator", holds = "1 bar", least_flow = "0.1 L/min" }]\n'
_HOLDS = 'holds = "1 bar"'
_BEAN = 'name = "bean"\nrow_spacing = "40 cm"\nrows = 4\n'
_ALONG = 'directions = ["along"]\n'
_RATED = 'at_pressure = "1 bar"\n'
_LINE_ROLL = 'rolls = [{ length = "50 m", price = 30 }]'
_TUBE_ROLL = 'rolls = [{ length = "25 m", price = 15 }]'
_GRID = 'header_step = "3 m"\n'
_CROP = "\n[[beds.crops]]\n"
_LINE = "\n[[emitter_lines]]\n"
_WALL = "-0.5 m, -0.5 m to -0.5 m, 0.5 m to -1.5 m, 0.5 m to -1.5 m, -0.5 m to -0.5 m, -0.5 m"


def _opens(flow: str) -> tuple[str, str]:
    return _OPEN, f'open_flow = "{flow}"\n'


def _slope(percent: int) -> tuple[str, str]:
    return "[[beds]]", f'[site]\nslope = "{percent} %"\nrises_toward = "0 deg"\n\n[[beds]]'


def _limit(text: str) -> tuple[str, str]:
    return _GRID, f"{_GRID}{text}\n"


def _tank(height: str) -> tuple[str, str]:
    return (
        f"{_TAP}{_OPEN}{_REGULATOR}",
        f'kind = "tank"\n{_PLACE}outlet_height = "{height}"\nwater_depth = "50 cm"\nvolume = "200 L"\n',
    )


CASES = {
    "rolls shorter than every row": changed((_LINE_ROLL, 'rolls = [{ length = "2 m", price = 3 }]')),
    "few rolls to be had": changed((_LINE_ROLL, 'rolls = [{ length = "10 m", price = 8, available = 2 }]')),
    "owned pieces only": changed((_LINE_ROLL, 'owned = ["6 m", "6 m", "6 m"]')),
    "too little tube at hand": changed((_TUBE_ROLL, 'owned = ["2.2 m"]')),
    "one zone allowed": changed(_limit("zones_at_most = 1"), _opens("3 L/min")),
    "two outlets of the timer": changed((_GRID, f"{_GRID}\n[timer]\noutlets = 2\n"), _opens("1.5 L/min")),
    "crops apart and one outlet": changed(
        (_BEAN, _BEAN.replace("4", "2") + f'own_zone = true\n{_CROP}name = "leek"\nrow_spacing = "40 cm"\nrows = 2\n'),
        (_GRID, f"{_GRID}\n[timer]\noutlets = 1\n"),
    ),
    "tap below one row": changed(_opens("0.3 L/min")),
    "meter below one row": changed((_OPEN, f'{_OPEN}greatest_flow = "0.4 L/min"\n')),
    "double rows of a filling crop": changed(
        (_BEAN, 'name = "bean"\nrow_spacing = "40 cm"\nfill = true\nlines_per_row = 2\nline_spacing = "20 cm"\n'),
        _opens("2 L/min"),
    ),
    "narrow hose to the head parts": changed((_OPEN, f'{_OPEN}lead_in = {{ length = "20 m", bore = "3 mm" }}\n')),
    "pressure below the regulator": changed((_STATIC, 'static_pressure = "0.9 bar"\n')),
    "pressure the regulator needs in front": changed((_STATIC, 'static_pressure = "1.2 bar"\n'), _opens("20 L/min")),
    "emitters that open late": changed(
        (_RATED, 'at_pressure = "1.5 bar"\ncompensating = { opens = "1.3 bar", up_to = "3 bar" }\n')
    ),
    "tubing that would burst": changed(
        (f'{_RATED}greatest_pressure = "3 bar"\n', f'{_RATED}greatest_pressure = "0.8 bar"\n')
    ),
    "no regulator before weak tape": changed(
        (f'{_RATED}greatest_pressure = "3 bar"\n', f'{_RATED}greatest_pressure = "1.2 bar"\n'), (_REGULATOR, "")
    ),
    "label shorter than the rows": changed(
        (_RATED, f'{_RATED}longest_run = "1 m"\n'), (_GRID, 'header_step = "1 m"\n')
    ),
    "regulator that needs more flow": changed(
        (_REGULATOR, _REGULATOR.replace("0.1 L/min", "3 L/min")), _opens("10 L/min")
    ),
    "pump that needs more flow": changed(
        (
            f"{_TAP}{_OPEN}{_REGULATOR}",
            f'kind = "pump"\n{_PLACE}least_flow = "6 L/min"\ncurve = [{{ pressure = "3 bar", flow = "20 L/min" }}]\n'
            'regulators = [{ name = "regulator", holds = "1 bar" }]\n',
        )
    ),
    "tape up a slope": changed(_slope(12), (_HOLDS, 'holds = "0.3 bar"')),
    "long runs of thin line": changed(
        ("6 m x 2 m", "40 m x 2 m"),
        ('bore = "13.8 mm"', 'bore = "6 mm"'),
        (_GRID, 'header_step = "20 m"\nflow_variation = "8 %"\n'),
        (_LINE_ROLL, 'rolls = [{ length = "100 m", price = 30 }]'),
        _opens("40 L/min"),
    ),
    "uniformity out of reach": changed(_limit('emission_uniformity = "96 %"')),
    "thin mainline": changed(('bore = "13.6 mm"', 'bore = "6 mm"'), _limit('velocity = "0.3 m/s"')),
    "tank too low": changed(
        _tank("20 cm"), (_RATED, f'{_RATED}least_pressure = "0.2 bar"\n'), _limit('flow_variation = "20 %"')
    ),
    "tank below the end of the bed": changed(_tank("20 cm"), _slope(4), _limit('flow_variation = "20 %"')),
    "margins leave no room for double rows": changed(
        (_ALONG, f'{_ALONG}edge_margin = "90 cm"\n'),
        (_BEAN, _BEAN.replace("4\n", '1\nlines_per_row = 2\nline_spacing = "30 cm"\n')),
    ),
    "row ends leave no room": changed((_ALONG, f'{_ALONG}row_end_margin = "2.8 m"\n')),
    "wall around the tap": changed(("[[beds]]", f'[[barriers]]\nname = "wall"\nline = "{_WALL}"\n\n[[beds]]')),
    "two lines that would burst": changed(
        (f'{_RATED}greatest_pressure = "3 bar"\n', f'{_RATED}greatest_pressure = "0.5 bar"\n'),
        (
            "\n[[blank_tubes]]",
            f'{_LINE}name = "tape"\nbore = "16 mm"\nspacing = "30 cm"\nflow = "1 L/h"\nat_pressure = "1 bar"\n'
            'greatest_pressure = "0.9 bar"\nrolls = [{ length = "100 m", price = 20 }]\n\n[[blank_tubes]]',
        ),
    ),
    "feet and gallons": changed(
        ('units = "metric"', 'units = "us"'), (_STATIC, 'static_pressure = "40 psi"\n'), _opens("0.12 gal/min")
    ),
    "feet and short rolls": changed(
        ('units = "metric"', 'units = "us"'), (_LINE_ROLL, 'rolls = [{ length = "6 ft", price = 3 }]')
    ),
}

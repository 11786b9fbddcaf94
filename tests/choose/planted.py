"""Gardens drawn by hand in which one particular shortcut gives a wrong answer."""

from __future__ import annotations

from optimizer.scenario import Scenario, parse_scenario

LOW_REGULATOR = '[[supply.regulators]]\nname = "low regulator"\nholds = "0.12 bar"\nprice = 9'


def stairs(lengths: tuple[float, ...]) -> str:
    """Return an outline in which rows half a metre apart have the given lengths, the first nearest the tap."""
    corners, last = [], len(lengths) - 1
    for index, length in enumerate(lengths):
        middle = 0.1 + 0.5 * index
        corners.append((length, middle - 0.25 if index else 0.0))
        corners.append((length, middle + 0.25 if index < last else middle + 0.1))
    corners += [(0.0, corners[-1][1]), (0.0, 0.0)]
    return "[" + ", ".join(f'"{x:.3f} m, {y:.3f} m"' for x, y in corners) + "]"


def planted(
    supply: str,
    outline: str,
    *,
    site: str = "",
    limits: str = "",
    hold_bar: float = 1.0,
    tube_bore_mm: float = 13.0,
    rolls: str = '{ length = "10 m", price = 6.5 }',
    directions: str = '"0 deg"',
    crops: str = 'name = "bean"\nrow_spacing = "0.5 m"\nfill = true',
    fittings: str = "",
    spacing_m: float = 0.4,
) -> Scenario:
    """Return a garden with one bed fed from beside its first corner."""
    text = f"""
title = "planted"
units = "metric"
[site]
{site}
[supply]
at = "0.2 m, -0.5 m"
{supply}
[[beds]]
name = "bed"
outline = {outline}
directions = [{directions}]
edge_margin = "10 cm"
row_end_margin = "0 cm"
[[beds.crops]]
{crops}
[[emitter_lines]]
name = "line"
bore = "13 mm"
spacing = "{spacing_m} m"
flow = "4 L/h"
at_pressure = "{hold_bar} bar"
greatest_pressure = "4 bar"
rolls = [{rolls}]
[[blank_tubes]]
name = "tube"
bore = "{tube_bore_mm} mm"
greatest_pressure = "4 bar"
rolls = [{{ length = "5 m", price = 4.4 }}]
{fittings}
[limits]
header_step = "9 m"
tube_step = "50 cm"
row_step = "10 cm"
{limits}
"""
    return parse_scenario(text, "planted")


def tap(open_flow_l_h: float) -> str:
    """Return a tap of 3 bar with an open flow."""
    return f'kind = "tap"\nstatic_pressure = "3 bar"\nopen_flow = "{open_flow_l_h} L/h"'

"""A small garden whose costs can be added up by hand."""

from __future__ import annotations

# Bed 6 m x 3 m, row ends 0.25 m inside: rows along are 5.5 m (11 spacings of 0.5 m), rows across 2.5 m (5 spacings).
# Two rows in any direction, one line each. Everything that is not named costs nothing, so that only the named counts:
# rolls of 6 m emitter line at 5.00, one roll of blank tube at 10.00, take-offs at 1.00, end closures at 0.50.
GARDEN = """
title = "Two rows"
units = "metric"

[supply]
kind = "tap"
at = "0 m, -1 m"
static_pressure = "3 bar"
open_flow = "10 L in 20 s"
regulators = [{ name = "regulator", holds = "1 bar" }]

[[beds]]
name = "bed"
rectangle = "6 m x 3 m"
edge_margin = "0.25 m"
row_end_margin = "0.25 m"

[[beds.crops]]
name = "bean"
row_spacing = "1 m"
rows = 2

[[emitter_lines]]
name = "dripline"
bore = "13.8 mm"
spacing = "0.5 m"
flow = "2 L/h"
at_pressure = "1 bar"
greatest_pressure = "3 bar"
rolls = [{ length = "6 m", price = 5.00 }]

[[blank_tubes]]
name = "tube"
bore = "17.4 mm"
greatest_pressure = "4 bar"
rolls = [{ length = "25 m", price = 10.00 }]

[limits]
header_step = "1 m"
usable_offcut = "1 m"

[[fittings]]
kind = "take-off"
price = 1.00
[[fittings]]
kind = "end closure"
price = 0.50
""" + "".join(
    f'[[fittings]]\nkind = "{kind}"\nprice = 0\n'
    for kind in ("tee", "elbow", "header end", "zone valve", "stake", "plug", "line coupler", "tube coupler")
)

# Two rows along: each 5.5 m takes a roll of 6 m, so two rolls, 10.00. Two rows across: 2 x 2.5 m out of one roll, 5.00.
# Header at an end: 2 take-offs and 2 closures, 3.00; between the ends: 4 and 4, 6.00. Tube: 10.00.
ALONG_AT_END_CT = 1000 + 300 + 1000
ACROSS_AT_END_CT = 500 + 300 + 1000

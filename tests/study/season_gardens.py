"""Small gardens as scenario text, so plain that their run times can be worked out by hand.

The emitters compensate and do not vary (Cv 0), so each gives just its rated flow and EU is 100 %; what else is lost
is the 5 % that every season reckons with (common practice, no source): the gross depth is the net one over 0.95.
"""

from __future__ import annotations

from functools import cache

from optimizer.pipeline import design
from optimizer.plan import Plan
from optimizer.scenario import parse_scenario

HEAD = """
title = "Small garden"
units = "metric"

[supply]
kind = "tap"
at = "-1 m, 0 m"
static_pressure = "3 bar"
open_flow = "10 L in 15 s"
"""
BED = """
[[beds]]
name = "bed"
rectangle = "6.2 m x 4 m"
directions = ["along"]
row_end_margin = "10 cm"
edge_margin = "10 cm"
soil = "loam"
"""
STOCK = """
[[emitter_lines]]
name = "dripline"
bore = "13.8 mm"
spacing = "{spacing}"
flow = "{flow}"
at_pressure = "1 bar"
compensating = {{ opens = "{opens}", up_to = "4 bar" }}
cv = 0.0
greatest_pressure = "4 bar"
rolls = [{{ length = "50 m", price = 30.00 }}]

[[blank_tubes]]
name = "blank tube"
bore = "25 mm"
greatest_pressure = "4 bar"
rolls = [{{ length = "10 m", price = 9.00 }}]

[limits]
header_step = "6 m"
"""


def stock(flow: str, spacing: str, opens: str = "0.4 bar") -> str:
    return STOCK.format(flow=flow, spacing=spacing, opens=opens)


ALWAYS_GREEN = 'water = { like = "lettuce", planted = 2026-06-01, stage_days = [1, 0, 89, 0] }'
"""At full size from the second day on, so that hand computations stay short."""

# 1.2 L/h on 0.4 m by 0.5 m is 6 mm/h. 33.25 mm a week net are 35 gross, 5 a day: 50 min a day in each of two zones.
SHORT_WINDOW = f"""{HEAD}{BED}
[[beds.crops]]
name = "kale"
row_spacing = "50 cm"
rows = 2
own_zone = true
{ALWAYS_GREEN}

[[beds.crops]]
name = "lettuce"
row_spacing = "50 cm"
rows = 2
own_zone = true
{ALWAYS_GREEN}
{stock("1.2 L/h", "40 cm")}
[climate]
need = "33.25 mm/week"

[[hours]]
times = ["06:00-07:10"]
"""

# Tomato at 1 m: 2 L/h on 0.3 m by 1.0 m is 6.667 mm/h; lettuce at 0.5 m gets 13.333 mm/h.
TWO_THIRSTS = f"""{HEAD}{BED}
[[beds.crops]]
name = "tomato"
row_spacing = "1 m"
rows = 2
water = {{ planted = 2026-04-20 }}

[[beds.crops]]
name = "lettuce"
row_spacing = "50 cm"
rows = 3
{ALWAYS_GREEN}
{stock("2 L/h", "30 cm")}
[climate]
eto = "5 5 5 5 5 5 5 5 5 5 5 5 mm/day"

[[hours]]
times = ["05:00-09:00"]
"""

# 2 L/h on 0.2 m by 0.5 m is 20 mm/h; 25.65 mm a week net are 27 gross: 81 min a week, 27 on each of three days.
THREE_DAYS = f"""{HEAD}{BED.replace("6.2 m x 4 m", "10.2 m x 4 m")}
[[beds.crops]]
name = "lettuce"
row_spacing = "50 cm"
rows = 4
{ALWAYS_GREEN}
{stock("2 L/h", "20 cm")}
[climate]
need = "25.65 mm/week"

[[hours]]
days = "Mon Wed Fri"
times = ["06:00-08:00"]
"""


def on_a_tank(text: str) -> str:
    """The same garden behind a tank of 200 L."""
    tank = 'kind = "tank"\noutlet_height = "6 m"\nwater_depth = "1 m"\nvolume = "200 L"'
    tap = 'static_pressure = "3 bar"\nopen_flow = "10 L in 15 s"\n'
    return text.replace('kind = "tap"', tank).replace(tap, "")


@cache
def planned(text: str) -> Plan:
    plan = design(parse_scenario(text, "test")).plan
    assert plan is not None
    return plan

"""Small gardens of several beds, and their plans as the program makes them."""

from __future__ import annotations

from optimizer.pipeline import design
from optimizer.plan import Plan
from optimizer.scenario import Scenario, parse_scenario

LINE, COARSE, TUBE, WIDE = "dripline 30 cm", "dripline 50 cm", "tube 16 mm", "tube 20 mm"

HEAD = """
title = "Two beds and a path"
units = "metric"

[supply]
kind = "tap"
at = "{at}"
static_pressure = "30 m head"
open_flow = "1 L/s"

[[supply.regulators]]
name = "regulator"
holds = "10 m head"
price = 12.00

[[emitter_lines]]
name = "dripline 30 cm"
bore = "13.8 mm"
spacing = "30 cm"
flow = "{emitter}"
at_pressure = "10 m head"
greatest_pressure = "25 m head"
rolls = [{{ length = "50 m", price = 20.00 }}]

[[blank_tubes]]
name = "tube 16 mm"
bore = "13.6 mm"
greatest_pressure = "40 m head"
rolls = [{{ length = "10 m", price = 6.00 }}]
"""

COARSE_LINE = """
[[emitter_lines]]
name = "dripline 50 cm"
bore = "13.8 mm"
spacing = "50 cm"
flow = "2 L/h"
at_pressure = "10 m head"
greatest_pressure = "25 m head"
rolls = [{ length = "50 m", price = 25.00 }]
"""

WIDE_TUBE = """
[[blank_tubes]]
name = "tube 20 mm"
bore = "17.4 mm"
greatest_pressure = "40 m head"
rolls = [{ length = "10 m", price = 9.00 }]
"""

PATH = """
[[paths]]
name = "garden path"
rectangle = "20 m x 0.6 m"
at = "-4 m, 2.2 m"
"""

SITE = """
[site]
rectangle = "14 m x 8 m"
at = "-2 m, -2 m"
"""


def bed(name: str, at: str, crop: str = "bean", size: str = "4 m x 2 m", more: str = "", crop_more: str = "") -> str:
    """Return the text of a bed with two rows along it."""
    return (
        f'\n[[beds]]\nname = "{name}"\nrectangle = "{size}"\nat = "{at}"\ndirections = ["along"]\n{more}\n'
        f'[[beds.crops]]\nname = "{crop}"\nrow_spacing = "50 cm"\nrows = 2\n{crop_more}\n'
    )


SOUTH, NORTH = bed("south", "0 m, 0 m"), bed("north", "0 m, 3 m", "leek")
ALONE = bed("south", "0 m, 0 m", crop_more="own_zone = true")
EAST = bed("east", "6 m, 0 m", "kale")


def garden(*parts: str, limits: str = "", at: str = "-1 m, -1 m", emitter: str = "2 L/h") -> Scenario:
    """Return a scenario of parts of text."""
    text = "".join((HEAD.format(at=at, emitter=emitter), *parts, f"\n[limits]\n{limits}\n"))
    return parse_scenario(text, "beds")


_PLANS: dict[str, Plan] = {}


def planned(scenario: Scenario) -> Plan:
    """Return the plan for a scenario."""
    key = scenario.model_dump_json()
    if key not in _PLANS:
        plan = design(scenario).plan
        assert plan is not None
        _PLANS[key] = plan
    return _PLANS[key]

"""Plain gardens of several beds for tests with figures worked out by hand.

Unless stated a bed is 4 m x 2 m, with rows along x at 0.1, 0.7, 1.3 and 1.9 m above its lower edge, from 0.1 m to
3.9 m: 3.8 m of row hold nine emitters 0.4 m apart, half of it four.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from optimizer.choose.manybeds.garden import Garden
from optimizer.choose.manybeds.search import GardenSearch
from optimizer.choose.search import SearchLimits
from optimizer.scenario import Scenario, parse_scenario


@dataclass(frozen=True)
class Plain:
    """A bed: its first corner, width and depth [m], and more of what a scenario says of it."""

    at: tuple[float, float]
    width: float = 4.0
    depth: float = 2.0
    more: str = ""
    crop: str = ""
    directions: str = '"along"'


LINE = """
[[emitter_lines]]
name = "{name}"
bore = "13 mm"
spacing = "0.4 m"
flow = "2 L/h"
at_pressure = "1 bar"
greatest_pressure = "4 bar"
rolls = [{{ length = "50 m", price = 30 }}]
{more}
"""

TUBE = """
[[blank_tubes]]
name = "{name}"
bore = "{bore} mm"
greatest_pressure = "4 bar"
rolls = [{{ length = "10 m", price = 8 }}]
"""


def scenario(
    beds: Sequence[Plain],
    tap: tuple[float, float] = (-1.0, 0.0),
    limits: str = "",
    more: str = "",
    lines: Sequence[tuple[str, str]] = (("line", ""),),
    tubes: Sequence[tuple[str, float]] = (("tube", 16.0),),
) -> Scenario:
    """Return a garden."""
    text = [
        'title = "by hand"\nunits = "metric"',
        more,
        f'[supply]\nkind = "tap"\nat = "{tap[0]} m, {tap[1]} m"\nstatic_pressure = "3 bar"\nopen_flow = "1500 L/h"',
        *(_bed(number, bed) for number, bed in enumerate(beds)),
        *(LINE.format(name=name, more=extra) for name, extra in lines),
        *(TUBE.format(name=name, bore=bore) for name, bore in tubes),
        f'[limits]\nrow_step = "10 cm"\n{limits}',
    ]
    return parse_scenario("\n".join(text), "by hand")


def _bed(number: int, bed: Plain) -> str:
    return f"""
[[beds]]
name = "bed {number}"
rectangle = "{bed.width} m x {bed.depth} m"
at = "{bed.at[0]} m, {bed.at[1]} m"
directions = [{bed.directions}]
edge_margin = "10 cm"
row_end_margin = "10 cm"
{bed.more}
[[beds.crops]]
name = "bean {number}"
row_spacing = "0.6 m"
fill = true
{bed.crop}
"""


def garden(*args, **kwargs) -> Garden:
    """Return the same with what is worked out of it."""
    return GardenSearch(scenario(*args, **kwargs), SearchLimits()).garden

"""Header tubes side by side: what each does with the rows of one zone."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from optimizer.choose.tubebound import tube_bound
from optimizer.cutting import Stock
from optimizer.errors import HydraulicError
from optimizer.hydraulics import EmitterLine, Fluid, Network, solve_network
from optimizer.hydraulics.build import NetworkBuilder
from optimizer.hydraulics.friction import POLYETHYLENE_ROUGHNESS_M, velocity
from optimizer.problem.water import scenario_fluid, water_line
from optimizer.scenario.schema import BlankTube, Scenario
from optimizer.study.limits_beds import TypicalRow
from optimizer.study.limits_heads import Working
from optimizer.units import System, micrometres

_COMMON_MM: dict[System, tuple[tuple[str, float], ...]] = {
    System.METRIC: (("13 mm", 13.0), ("16 mm", 13.8), ("20 mm", 17.4), ("25 mm", 21.8), ("32 mm", 28.0)),
    System.US: (("1/4 in", 4.318), ("1/2 in", 15.24), ("3/4 in", 20.78), ("1 in", 26.64)),
}
"""sizes common in the trade and their usual bores (common practice, no source)"""

_ALIKE = 0.04


@dataclass(frozen=True)
class HeaderTask:
    """The rows of one zone on a straight header, fed at the end nearest the supply."""

    row: TypicalRow
    working: Working
    rows: int

    @property
    def length_m(self) -> float:
        """From the first row to the last [m]."""
        gaps = self.row.rows - 1
        return self.row.header_m * (self.rows - 1) / gaps if gaps else 0.0


@dataclass(frozen=True)
class HeaderSize:
    """One tube as header of a zone."""

    tube: str
    in_stock: bool
    bore_m: float
    velocity_m_s: float
    """where all the flow still runs in it"""
    too_fast: bool
    lost_m: float
    """head lost by friction from the first row to the last"""
    last_row: float
    """flow of the last row over that of the first"""
    fill_m3: float
    price_ct: int | None
    """cheapest whole rolls for its length; None for a size without price or with too little in stock"""


@dataclass(frozen=True)
class HeaderSizes:
    """All tubes side by side for the same zone."""

    bed: str
    direction: str
    line: str
    head_m: float
    rows: int
    length_m: float
    sizes: tuple[HeaderSize, ...]


def _sizes(scenario: Scenario) -> Iterator[tuple[str, float, float, BlankTube | None]]:
    """Yield name, bore, roughness and stock of every tube: those of the scenario, then common ones unlike them."""
    for tube in scenario.blank_tubes:
        yield tube.name, tube.bore, tube.roughness, tube
    for name, bore_mm in _COMMON_MM[scenario.units]:
        bore = bore_mm / 1000.0
        if all(abs(tube.bore / bore - 1.0) > _ALIKE for tube in scenario.blank_tubes):
            yield f"common {name}", bore, POLYETHYLENE_ROUGHNESS_M, None


def header_network(
    task: HeaderTask, line: EmitterLine, bore_m: float, roughness_m: float, take_off_loss: float
) -> tuple[Network, list[int]]:
    """Return the network of a zone with its rows alike, and the header node of every row.

    Args:
        task: the zone [-]
        line: the emitter line [-]
        bore_m: bore of the header [m]
        roughness_m: its roughness [m]
        take_off_loss: loss of a take-off, in velocity heads of the line [-]
    """
    row, build = task.row, NetworkBuilder()
    count, gap = row.emitters(task.working.line), task.length_m / max(task.rows - 1, 1)
    along = row.rise * line.spacing_m * (np.arange(count) + 0.5)
    places: list[int] = []
    for number in range(task.rows):
        z = row.header_rise * gap * number
        places.append(build.node(z))
        if number:
            build.tube(places[-2], places[-1], gap, bore_m, roughness_m)
        for _ in range(row.lines):
            build.lateral(places[-1], line, z + along, line.spacing_m / 2.0, take_off_loss)
    return build.network(places[0]), places


def _size(
    scenario: Scenario, task: HeaderTask, fluid: Fluid, name: str, bore: float, roughness: float, tube: BlankTube | None
) -> HeaderSize:
    limits = scenario.limits
    network, places = header_network(task, water_line(task.working.line), bore, roughness, limits.take_off_loss)
    solution = solve_network(network, task.working.head_m, fluid)
    rows = solution.emitter_flow_m3_s.reshape(task.rows, -1).sum(axis=1)
    speed = float(velocity(solution.inlet_flow_m3_s - rows[0], bore)) if task.rows > 1 else 0.0
    rise = task.row.header_rise * task.length_m
    lost = float(solution.head_m[places[0]] - solution.head_m[places[-1]]) - rise
    last = float(rows[-1] / rows[0]) if rows[0] > 0.0 else 0.0
    volume = 0.25 * math.pi * bore**2 * task.length_m
    price = _price(scenario, tube, task.length_m)
    return HeaderSize(name, tube is not None, bore, speed, speed > limits.velocity, lost, last, volume, price)


def _price(scenario: Scenario, tube: BlankTube | None, length_m: float) -> int | None:
    """Return what whole rolls for a length cost at least, owned pieces used first [ct]."""
    if tube is None:
        return None
    stocks = [
        Stock(f"roll {index}", micrometres(roll.length), roll.price, roll.available, False)
        for index, roll in enumerate(tube.rolls)
    ]
    stocks += [Stock(f"owned {index}", micrometres(piece), 0, 1, True) for index, piece in enumerate(tube.owned)]
    need = max(micrometres(length_m + 2.0 * scenario.limits.header_tail), 1)
    found = tube_bound(stocks, micrometres(scenario.limits.usable_offcut), need)
    return None if found is None else found.money_ct


def header_sizes(scenario: Scenario, task: HeaderTask) -> HeaderSizes:
    """Return every tube as the header of a zone, widest last.

    The first row gets the working pressure; friction, slope and take-offs do the rest.

    Args:
        scenario: the scenario.
        task: the zone.

    Raises:
        HydraulicError: the water of a zone cannot be solved.
    """
    fluid = scenario_fluid(scenario)
    sizes = []
    for name, bore, roughness, tube in _sizes(scenario):
        try:
            sizes.append(_size(scenario, task, fluid, name, bore, roughness, tube))
        except HydraulicError as error:
            raise HydraulicError(f"{name} as header of {task.rows} rows: {error}") from None
    return HeaderSizes(
        task.row.bed,
        task.row.direction,
        task.working.line.name,
        task.working.head_m,
        task.rows,
        task.length_m,
        tuple(sorted(sizes, key=lambda size: (size.bore_m, size.tube))),
    )

"""What a tank can do for a bed: pressure, flow, time to empty, how level the ground must be and how high the tank."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from optimizer.errors import HydraulicError
from optimizer.hydraulics import LateralTable, build_lateral_table
from optimizer.hydraulics.assembly import HeadAssembly
from optimizer.hydraulics.roots import falling_root
from optimizer.hydraulics.supply import TankCurve
from optimizer.problem.water import TankAssembly, head_assembly, scenario_fluid, water_line
from optimizer.scenario.schema import EmitterLine, Scenario, TankSupply
from optimizer.study.limits_beds import TypicalRow
from optimizer.study.limits_heads import least_head, tank_heads

LEVEL_SHARE = 0.10
"""flow an emitter may lose to a high spot of the ground"""


@dataclass(frozen=True)
class TankAnswer:
    """A tank feeding all rows of a bed at once; header friction left out."""

    bed: str
    direction: str
    line: str
    rows: int
    full_head_m: float
    empty_head_m: float
    full_flow_m3_s: float
    empty_flow_m3_s: float
    needed_m: float
    """least pressure the emitters need; 0 where the scenario states none"""
    enough: bool
    """pressure at the rows of the nearly empty tank is at least what the emitters need"""
    raise_by_m: float
    """how much higher the tank would have to stand; 0 if it is enough"""
    raise_for_rating_m: float
    """how much higher it would have to stand for the rated flow when nearly empty; 0 if it already gives it"""
    empties_s: float
    volume_m3: float
    level_m: float
    """height difference of the ground that costs an emitter a tenth of its flow when nearly empty"""


@dataclass(frozen=True)
class _Rows:
    """All rows of a bed behind a tank, alike."""

    table: LateralTable
    count: int
    laterals: int
    fall_m: float
    assembly: HeadAssembly
    tank: TankCurve

    def at(self, tank: TankCurve) -> HeadAssembly:
        """Return the head assembly behind the tank at some level."""
        return HeadAssembly(tank, self.assembly.parts)

    def inlet_head(self, tank: TankCurve) -> float:
        """Return the pressure at the rows with the tank at some level [m]."""
        head = self.at(tank)
        standing = head.outlet_head(0.0) + self.fall_m
        if standing <= 0.0:
            return 0.0

        def surplus(inlet: float) -> float:
            return head.outlet_head(self.flow(inlet)) + self.fall_m - inlet

        return falling_root(surplus, 0.0, standing, 1e-7, 1e-9)

    def flow(self, inlet_m: float) -> float:
        """Return the flow of all rows at a pressure [m3/s]."""
        return self.laterals * float(self.table.inflow(self.count, 0.0, np.array(inlet_m)))

    def drawn(self, tank: TankCurve) -> float:
        """Return the flow taken from the tank at some level [m3/s]."""
        return self.flow(self.inlet_head(tank))


def _rows(scenario: Scenario, line: EmitterLine, row: TypicalRow) -> _Rows:
    assembly = head_assembly(scenario, None)
    tank = assembly.full().source if isinstance(assembly, TankAssembly) else None
    if not isinstance(tank, TankCurve):
        raise TypeError("the supply is no tank")
    count = row.emitters(line)
    most = max(tank_heads(scenario, row)[0], 0.1) + 0.1
    fluid = scenario_fluid(scenario)
    table = build_lateral_table(water_line(line), [count], [0.0], most, fluid, line.spacing / 2.0)
    return _Rows(table, count, row.rows * row.lines, row.fall_m, assembly, tank)


def _raise_by(rows: _Rows, head_m: float) -> float:
    """Return how much higher the empty tank must stand to leave a head at the rows [m]."""
    flow = rows.flow(min(head_m, rows.table.greatest_inlet_head_m))
    empty = rows.at(rows.tank.at(rows.tank.empty_depth_m))
    return max(head_m - empty.outlet_head(flow) - rows.fall_m, 0.0)


def _for_rating(rows: _Rows, line: EmitterLine) -> float:
    """Return how much higher the empty tank must stand for the rated pressure, all emitters at their rated flow [m]."""
    flow = rows.laterals * rows.count * line.emitter_flow
    empty = rows.at(rows.tank.at(rows.tank.empty_depth_m))
    return max(line.at_pressure - empty.outlet_head(flow) - rows.fall_m, 0.0)


def _level(line: EmitterLine, head_m: float) -> float:
    """Return the head a line may lose before its emitters lose a tenth of their flow [m]."""
    if line.compensating is not None:
        return max(head_m - line.compensating.opens, 0.0)
    return head_m * (1.0 - (1.0 - LEVEL_SHARE) ** (1.0 / line.exponent)) if line.exponent > 0.0 else head_m


def tank_answer(scenario: Scenario, line: EmitterLine, row: TypicalRow) -> TankAnswer:
    """Return what the scenario's tank does for all rows of a bed at once.

    Args:
        scenario: a scenario with a tank.
        line: one of its emitter lines.
        row: the typical row of the bed.

    Raises:
        HydraulicError: the rows are too long for the little pressure.
    """
    supply = scenario.supply
    if not isinstance(supply, TankSupply):
        raise HydraulicError("the supply is no tank")
    rows, needed = _rows(scenario, line, row), least_head(line)
    low = rows.tank.at(rows.tank.empty_depth_m)
    full, empty = rows.inlet_head(rows.tank), rows.inlet_head(low)
    return TankAnswer(
        row.bed,
        row.direction,
        line.name,
        row.rows,
        full,
        empty,
        rows.flow(full),
        rows.flow(empty),
        needed,
        empty > 0.0 and empty >= needed - 1e-6,
        _raise_by(rows, needed) if needed > 0.0 else 0.0,
        _for_rating(rows, line),
        rows.tank.time_to_empty(rows.drawn) if empty > 0.0 else math.inf,
        supply.volume,
        _level(line, empty),
    )

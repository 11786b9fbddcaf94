"""How long a lateral may be."""

from __future__ import annotations

import numpy as np

from optimizer.errors import HydraulicError
from optimizer.hydraulics.fluid import Fluid
from optimizer.hydraulics.lateral import EmitterLine, solve_lateral
from optimizer.hydraulics.tables import build_lateral_table
from optimizer.hydraulics.uniformity import flow_variation

MOST_EMITTERS = 20000
"""Searches for longer laterals end here with an error."""


def lateral_variation(
    line: EmitterLine,
    count: int,
    inlet_head: float,
    fluid: Fluid,
    first_spacing: float | None = None,
    slope: float = 0.0,
) -> float:
    """Flow variation along one lateral; 1 when no emitter runs.

    Args:
        line: the emitter line [-]
        count: number of emitters [-]
        inlet_head: pressure head at the inlet [m]
        fluid: the water [-]
        first_spacing: distance from the inlet to the first emitter; a full spacing if not given [m]
        slope: rise along the lateral away from the inlet [m/m]
    """
    flows = solve_lateral(line, count, inlet_head, fluid, first_spacing, slope).emitter_flow_m3_s
    return flow_variation(flows) if np.any(flows > 0.0) else 1.0


def _table_guess(
    line: EmitterLine, slope: float, inlet_head: float, variation: float, fluid: Fluid, first_spacing: float
) -> int:
    """Greatest count up to which the tables keep the variation; read at the tables' last head, where they are exact."""
    most = 64
    while most <= MOST_EMITTERS:
        table = build_lateral_table(line, np.arange(1, most + 1), [slope], inlet_head, fluid, first_spacing, 3)
        least = line.law.flow(table.least_head_m[:, 0, -1])
        greatest = line.law.flow(table.greatest_head_m[:, 0, -1])
        with np.errstate(invalid="ignore", divide="ignore"):
            bad = np.flatnonzero(~(1.0 - least / greatest <= variation))
        if bad.size:
            return int(bad[0])
        most *= 4
    raise HydraulicError(f"laterals of {MOST_EMITTERS} emitters still keep the flow variation; state a length limit")


def longest_run(
    line: EmitterLine,
    inlet_head: float,
    variation: float,
    fluid: Fluid,
    slope: float = 0.0,
    first_spacing: float | None = None,
) -> int:
    """Greatest emitter count whose flow variation, and that of every shorter lateral, is within a wanted one.

    The tables give the count and the lateral solved emitter by emitter confirms it. 0 when not even one emitter runs.
    Example: bore 0.536 in, 12 in, 0.9 gal/h, 20 psi, level, 10 %: 186 ft.

    Args:
        line: the emitter line [-]
        inlet_head: pressure head at the inlet [m]
        variation: greatest flow variation wanted [-]
        fluid: the water [-]
        slope: rise along the lateral away from the inlet [m/m]
        first_spacing: distance from the inlet to the first emitter; a full spacing if not given [m]

    Raises:
        HydraulicError: when the variation is out of range, or even 20000 emitters keep it.
    """
    if not 0.0 <= variation < 1.0:
        raise HydraulicError(f"a flow variation lies from 0 to below 1, got {variation}")
    first = line.spacing_m if first_spacing is None else first_spacing
    count = _table_guess(line, slope, inlet_head, variation, fluid, first)

    def holds(number: int) -> bool:
        # Rounding must not decide: laterals of compensating emitters have no variation at all.
        return lateral_variation(line, number, inlet_head, fluid, first, slope) <= variation + 1e-12

    while count > 0 and not holds(count):
        count -= 1
    while count < MOST_EMITTERS and holds(count + 1):
        count += 1
    return count

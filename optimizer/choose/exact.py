"""Runs of rows solved emitter by emitter, where lateral tables with one slope and no bypass would mislead."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence

import numpy as np
from numpy.typing import NDArray

from optimizer.errors import HydraulicError
from optimizer.hydraulics import Fluid, HeadAssembly, NetworkSolution, solve_network
from optimizer.hydraulics.batch import BatchSolution
from optimizer.hydraulics.friction import velocity
from optimizer.problem.case import Case, Run
from optimizer.problem.networks import PlacedNetwork, zone_network

STRAIGHT_WITHIN_M = 0.003
"""laterals whose emitters lie this close to the straight line between their ends count as evenly sloping [m]"""

_NUMBERS = 12


def tables_mislead(case: Case) -> bool:
    """Say whether laterals of a design bend with the ground, or pass a bypass narrower than themselves."""
    narrow = case.tube.bore < case.line.bore and any(lateral.bypass_lengths_m for lateral in case.feed.laterals)
    return narrow or (bool(case.shapes.ground.spots) and _bend_m(case) > STRAIGHT_WITHIN_M)


def _bend_m(case: Case) -> float:
    """Return how far an emitter of a design lies off the straight line between the ends of its lateral [m]."""
    frame, rows, spacing = case.layout.frame, case.layout.plan.rows, case.line.spacing
    worst = 0.0
    for lateral in case.feed.laterals:
        v = rows[lateral.row].lines[lateral.line].v
        u = np.concatenate([part.u + lateral.side * spacing * np.arange(part.spacings + 1) for part in lateral.parts])
        heights = case.shapes.ground.heights(np.array([frame.to_plan((float(at), v)) for at in u]))
        straight = heights[0] + (heights[-1] - heights[0]) * (u - u[0]) / (u[-1] - u[0])
        worst = max(worst, float(np.max(np.abs(heights - straight))))
    return worst


def solve_exactly(
    case: Case, runs: Sequence[Run], assembly: HeadAssembly, opened: Sequence[Collection[int]] | None = None
) -> BatchSolution:
    """Return what runs do as zones, each solved as a whole network.

    Args:
        case: the design.
        runs: the runs.
        assembly: source and head parts.
        opened: the rows of each run that are open; all of them unless given.
    """
    rows = opened if opened is not None else [None] * len(runs)
    networks = (zone_network(case, run, some) for run, some in zip(runs, rows, strict=True))
    return solved_networks(networks, assembly, case.fluid)


def solved_networks(networks: Iterable[PlacedNetwork], assembly: HeadAssembly, fluid: Fluid) -> BatchSolution:
    """Return what zones do, each solved as a whole network; all blank tube counts as header.

    Args:
        networks: the zones.
        assembly: source and head parts.
        fluid: the water.
    """
    return stacked(np.array([_numbers(placed, assembly, fluid) for placed in networks]))


def stacked(figures: NDArray[np.float64]) -> BatchSolution:
    """Return figures of zones as one solution, those with a nan marked as not solved.

    Args:
        figures: as `figures_of` gives them, shape (zones, 12).
    """
    solved = np.asarray(~np.isnan(figures).any(axis=1), dtype=np.bool_)
    return BatchSolution(solved, solved, *(np.where(solved, column, np.nan) for column in figures.T))


def _numbers(placed: PlacedNetwork, assembly: HeadAssembly, fluid: Fluid) -> NDArray[np.float64]:
    """Return the figures of one zone in the order of `BatchSolution`; nan where an emitter stays dry."""
    try:
        solution = solve_network(placed.network, assembly, fluid)
    except HydraulicError:
        return np.full(_NUMBERS, np.nan)
    return figures_of(placed, solution)


def figures_of(placed: PlacedNetwork, solution: NetworkSolution) -> NDArray[np.float64]:
    """Return the figures of a solved zone in the order of `BatchSolution`; nan where an emitter stays dry."""
    network = placed.network
    q, h = solution.emitter_flow_m3_s, solution.emitter_head_m
    if float(q.min()) <= 0.0:
        return np.full(_NUMBERS, np.nan)
    speed = np.abs(velocity(solution.tube_flow_m3_s, network.tube_bore_m))
    in_blank = float(speed[placed.blank].max(initial=0.0))
    in_laterals = float(speed[~placed.blank].max(initial=0.0))
    on_header = solution.head_m[list(placed.take_offs)]
    heads = solution.inlet_head_m, float(on_header.max()), float(h.min()), float(h.max())
    flows = float(q.min()), float(q.max()), float(q.mean())
    return np.array([solution.inlet_flow_m3_s, *heads, *flows, in_blank, 0.0, in_laterals, float(on_header.max())])

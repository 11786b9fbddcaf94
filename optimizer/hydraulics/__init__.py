"""The water side: friction, emitters, laterals, networks and supplies as pure functions of SI arrays."""

from optimizer.hydraulics.emitter import EmitterLaw
from optimizer.hydraulics.fluid import Fluid, water
from optimizer.hydraulics.lateral import EmitterLine, lateral_network, solve_lateral
from optimizer.hydraulics.network import Network, NetworkSolution
from optimizer.hydraulics.solver import HeadCurve, solve_network
from optimizer.hydraulics.tables import LateralTable, build_lateral_table

__all__ = [
    "EmitterLaw",
    "EmitterLine",
    "Fluid",
    "HeadCurve",
    "LateralTable",
    "Network",
    "NetworkSolution",
    "build_lateral_table",
    "lateral_network",
    "solve_lateral",
    "solve_network",
    "water",
]

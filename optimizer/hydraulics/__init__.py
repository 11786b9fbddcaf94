"""The water side: friction, emitters, laterals, networks and supplies as pure functions of SI arrays."""

from optimizer.hydraulics.assembly import Flag, HeadAssembly, HeadPart, LeadIn, Regulator, UsableFlow, usable_flow
from optimizer.hydraulics.emitter import EmitterLaw
from optimizer.hydraulics.fluid import Fluid, water
from optimizer.hydraulics.lateral import EmitterLine, lateral_network, solve_lateral
from optimizer.hydraulics.network import Network, NetworkSolution
from optimizer.hydraulics.solver import HeadCurve, solve_network
from optimizer.hydraulics.supply import PumpCurve, RatedPump, TankCurve, TapCurve
from optimizer.hydraulics.tables import LateralTable, build_lateral_table

__all__ = [
    "EmitterLaw",
    "EmitterLine",
    "Flag",
    "Fluid",
    "HeadAssembly",
    "HeadCurve",
    "HeadPart",
    "LateralTable",
    "LeadIn",
    "Network",
    "NetworkSolution",
    "PumpCurve",
    "RatedPump",
    "Regulator",
    "TankCurve",
    "TapCurve",
    "UsableFlow",
    "build_lateral_table",
    "lateral_network",
    "solve_lateral",
    "solve_network",
    "usable_flow",
    "water",
]

"""The EPANET 2.2 engine (through wntr's toolkit) as an independent solver of our networks.

EPANET knows one emitter exponent per network and no compensating emitters; networks given to it must keep to that.
The inlet becomes a reservoir with a fixed head, so it must carry no emitter.
"""

from __future__ import annotations

import warnings
from pathlib import Path

import numpy as np

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    import wntr
    from wntr.epanet import toolkit

EPANET_BASE_VISCOSITY_M2_S = 1.1e-5 * 0.3048**2
EPANET_GRAVITY_M_S2 = 32.2 * 0.3048
"""EPANET rounds gravity to 32.2 ft/s2, 0.08 % above the standard value; tubes are given longer by as much."""
EN_DEMAND, EN_HEAD = 9, 10
VERSION = f"EPANET 2.2 through wntr {wntr.__version__}"

_OPTIONS = """[OPTIONS]
UNITS LPS
HEADLOSS D-W
VISCOSITY {viscosity!r}
EMITTER EXPONENT {exponent!r}
ACCURACY 0.0000001
TRIALS 500
UNBALANCED STOP
[TIMES]
DURATION 0
[REPORT]
STATUS NO
SUMMARY NO
MESSAGES NO
[END]
"""


def inp_text(network, inlet_head, fluid):
    """The network as an EPANET input file; L/s, m, mm."""
    exponents = np.unique(network.emitter_exponent)
    assert exponents.size == 1
    assert not np.any(network.emitter_opening_head_m > 0.0)
    assert network.inlet_node not in network.emitter_node
    inlet = network.inlet_node
    coefficient = 1e3 * np.bincount(network.emitter_node, network.emitter_k, network.node_count)
    lines = ["[TITLE]", "reference", "[JUNCTIONS]"]
    lines += [f"N{i} {z!r} 0" for i, z in enumerate(network.z_m.tolist()) if i != inlet]
    lines += ["[RESERVOIRS]", f"N{inlet} {float(network.z_m[inlet] + inlet_head)!r}", "[PIPES]"]
    longer = EPANET_GRAVITY_M_S2 / 9.80665
    columns = (
        network.tube_from,
        network.tube_to,
        longer * network.tube_length_m,
        1e3 * network.tube_bore_m,
        1e3 * network.tube_roughness_m,
        longer * network.tube_loss_k,
    )
    tubes = zip(*(column.tolist() for column in columns), strict=True)
    lines += [f"T{i} N{a} N{b} {le!r} {d!r} {r!r} {k!r} OPEN" for i, (a, b, le, d, r, k) in enumerate(tubes)]
    lines += ["[EMITTERS]", *(f"N{i} {c!r}" for i, c in enumerate(coefficient.tolist()) if c > 0.0)]
    viscosity = fluid.viscosity_m2_s / EPANET_BASE_VISCOSITY_M2_S
    return "\n".join(lines) + "\n" + _OPTIONS.format(viscosity=viscosity, exponent=float(exponents[0]))


def solve(network, inlet_head, fluid, folder: Path):
    """Pressure head [m] and outflow [m3/s] at every node of the network, by EPANET."""
    path = Path(folder) / "network.inp"
    path.write_text(inp_text(network, inlet_head, fluid))
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        engine = toolkit.ENepanet(version=2.2)
        engine.ENopen(str(path), str(path.with_suffix(".rpt")), str(path.with_suffix(".bin")))
        try:
            engine.ENopenH()
            engine.ENinitH(0)
            engine.ENrunH()
            index = [engine.ENgetnodeindex(f"N{i}") for i in range(network.node_count)]
            head = np.array([engine.ENgetnodevalue(i, EN_HEAD) for i in index])
            flow = 1e-3 * np.array([engine.ENgetnodevalue(i, EN_DEMAND) for i in index])
            engine.ENcloseH()
        finally:
            engine.ENclose()
    flow[network.inlet_node] = 0.0
    return head - network.z_m, flow

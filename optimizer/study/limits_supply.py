"""How many rows the supply feeds at once, which part limits them, and where the next limit lies."""

from __future__ import annotations

import math
from dataclasses import dataclass

from optimizer.hydraulics.assembly import GREATEST_SEARCH_FLOW_M3_S, HeadAssembly, Part, usable_flow
from optimizer.problem.water import TankAssembly, head_assembly
from optimizer.scenario.schema import Scenario, TankSupply
from optimizer.study.limits_beds import TypicalRow
from optimizer.study.limits_heads import Working, emitter_flow, least_head

TANK_SHARE = 0.10
"""share of its flow a line below a tank may lose to hose and filter before more rows count as too many"""

_AGREED = "agreed flow"
NOTHING = "nothing"


@dataclass(frozen=True)
class Rung:
    """What the supply feeds with some of its limits taken away."""

    without: tuple[str, ...]
    """limits taken away"""
    flow_m3_s: float
    rows: int | None
    """None where nothing limits them"""
    limited_by: str
    """what limits then: the supply, a head part, the agreed flow, or nothing"""


@dataclass(frozen=True)
class RowsFed:
    """How many typical rows run at once, and what would have to change for more."""

    bed: str
    direction: str
    line: str
    source: str
    head_m: float
    row_flow_m3_s: float
    rows_wanted: int
    rungs: tuple[Rung, ...]

    @property
    def now(self) -> Rung:
        """With everything as it is."""
        return self.rungs[0]


@dataclass(frozen=True)
class _Head:
    """Source and parts, and an agreed greatest flow, from which limits can be taken away."""

    assembly: HeadAssembly
    wanted_m: float
    margin: float
    agreed_m3_s: float

    def without(self, name: str) -> _Head:
        """Return the same with one limit taken away."""
        if name == _AGREED:
            return _Head(self.assembly, self.wanted_m, self.margin, math.inf)
        parts: tuple[Part, ...] = tuple(part for part in self.assembly.parts if part.name != name)
        return _Head(HeadAssembly(self.assembly.source, parts), self.wanted_m, self.margin, self.agreed_m3_s)

    def limits(self) -> list[str]:
        """Return the names of the limits that can be taken away."""
        names = [part.name for part in self.assembly.parts]
        return names + ([_AGREED] if math.isfinite(self.agreed_m3_s) else [])

    def flow(self) -> tuple[float, str]:
        """Return the flow to plan on and what ends it by its own account; infinite where nothing does."""
        bands = [part.greatest_flow_m3_s for part in self.assembly.parts]
        held = self.assembly.outlet_head(GREATEST_SEARCH_FLOW_M3_S) >= self.wanted_m
        if held and math.isinf(min(bands, default=math.inf)):
            return self.agreed_m3_s, _AGREED
        found = usable_flow(self.assembly, self.wanted_m, self.margin)
        if self.agreed_m3_s < found.flow_m3_s:
            return self.agreed_m3_s, _AGREED
        return found.flow_m3_s, found.limited_by


def _limiter(head: _Head, kind: str) -> str:
    """Return the limit whose loss would gain the most flow; the supply itself where none gains anything."""
    flow, named = head.flow()
    gains = {name: head.without(name).flow()[0] - flow for name in head.limits()}
    best = max(gains, key=lambda name: gains[name], default=None)
    if best is not None and gains[best] > 1e-6 * max(flow, 1e-9):
        return best
    # Two parts of the same greatest flow: neither gains alone, still they limit.
    return named if named in gains else kind


def wanted_head(scenario: Scenario, working: Working, row: TypicalRow) -> float:
    """Return the pressure that must be left behind the head parts [m].

    Behind a tap or pump it is the working pressure. A tank has none to spare: its parts may take so much of the
    nearly empty tank's head that the emitters lose a tenth of their flow, but must leave what the emitters need.
    """
    if not isinstance(scenario.supply, TankSupply) or working.regulator is not None:
        return working.head_m
    exponent = working.line.exponent if working.line.compensating is None else 0.0
    empty = scenario.supply.outlet_height + row.fall_m
    spared = empty * (1.0 - TANK_SHARE) ** (1.0 / exponent) if exponent > 0.0 else 0.0
    return max(spared, least_head(working.line)) - row.fall_m


def _head(scenario: Scenario, working: Working, row: TypicalRow) -> _Head:
    supply = scenario.supply
    assembly = head_assembly(scenario, working.regulator)
    agreed = supply.greatest_flow if supply.greatest_flow is not None else math.inf
    margin = 1.0 if isinstance(assembly, TankAssembly) else supply.margin
    return _Head(assembly, wanted_head(scenario, working, row), margin, agreed)


def supply_limiter(scenario: Scenario, working: Working) -> str:
    """Return what limits the flow to plan on: the supply, a head part, or the agreed flow.

    Args:
        scenario: a scenario with a tap or pump.
        working: product and pressure.
    """
    assembly = head_assembly(scenario, working.regulator)
    agreed = scenario.supply.greatest_flow if scenario.supply.greatest_flow is not None else math.inf
    return _limiter(_Head(assembly, working.head_m, scenario.supply.margin, agreed), scenario.supply.kind)


def rows_fed(scenario: Scenario, working: Working, row: TypicalRow) -> RowsFed:
    """Return how many typical rows run at once, limit by limit.

    The first rung is the garden as it is; each further one takes away the limit that holds the most flow back.

    Args:
        scenario: the scenario.
        working: product and pressure.
        row: the typical row.
    """
    kind = scenario.supply.kind
    emitter = emitter_flow(working.line, working.head_m)
    row_flow = row.nominal_flow(working.line, emitter)
    head = _head(scenario, working, row)
    rungs: list[Rung] = []
    gone: tuple[str, ...] = ()
    while True:
        flow, _ = head.flow()
        if math.isinf(flow):
            # A tank gives any flow; only what stands behind it sets an end.
            rungs += [] if rungs else [Rung(gone, flow, None, NOTHING)]
            break
        limiter = _limiter(head, kind)
        rungs.append(Rung(gone, flow, math.floor(flow / row_flow + 1e-9), limiter))
        if limiter == kind:
            break
        head, gone = head.without(limiter), (*gone, limiter)
    return RowsFed(
        row.bed, row.direction, working.line.name, working.source, working.head_m, row_flow, row.rows, tuple(rungs)
    )

"""Water in the mainline of several beds: what is lost on the way, and what the connection at the supply passes."""

from __future__ import annotations

import math

from optimizer.verification.facts import TOLERANCE_M
from optimizer.verification.findings import Verdicts, judged
from optimizer.verification.water import SLACK, ZoneRun

_LOSS_M = 1e-3
"""pressures lost on the way are compared to this [m]"""


def losses(run: ZoneRun) -> Verdicts:
    """Friction on the way to a header takes no more than its share of the pressure behind the head parts."""
    if len(run.facts.scenario.beds) < 2:
        return
    show, limits = run.facts.show, run.facts.scenario.limits
    total_m = run.solution.head_m + run.pipes.network.z_m
    behind_m = float(run.solution.inlet_head_m)
    most_m = limits.mainline_loss * behind_m
    for name, node in run.pipes.header_inlets.items():
        lost_m = float(total_m[run.pipes.network.inlet_node] - total_m[node])
        message = (
            f"mainline takes {show.pressure(lost_m)} on the way to it, at most "
            f"{show.percent(limits.mainline_loss)} of {show.pressure(behind_m)} is wanted"
        )
        yield judged(f"header {name}{run.level}", lost_m <= most_m + _LOSS_M, message)


def connection(run: ZoneRun) -> Verdicts:
    """The widest tube that leaves the supply passes the whole flow of a zone within the velocity allowed."""
    if len(run.facts.scenario.beds) < 2:
        return
    facts, limit, flow = run.facts, run.facts.scenario.limits.velocity, run.figures.flow_m3_s
    leaving = [
        facts.tubes[part.tube]
        for part in facts.plan.mainline
        if run.zone.id in part.zone_ids and math.dist(part.points[0], facts.scenario.supply.at) <= TOLERANCE_M
    ]
    widest = max((tube.bore for tube in leaving), default=0.0)
    passes = limit * math.pi / 4.0 * widest**2
    message = (
        f"its flow of {facts.show.flow(flow)} is more than the {facts.show.flow(passes)} that the widest tube "
        f"leaving the supply passes at {facts.show.velocity(limit)}"
    )
    yield judged(run.path, flow <= passes * SLACK, message)

"""Valves: each zone is shut off by exactly one valve on the way to each of its headers, and opens nothing else."""

from __future__ import annotations

import math
from collections.abc import Iterator

from optimizer.plan import Header, MainlinePart, Valve
from optimizer.verification.facts import TOLERANCE_M, Facts
from optimizer.verification.findings import Verdicts, judged
from optimizer.verification.zones import by_hand


def _way(facts: Facts, header: Header) -> Iterator[MainlinePart]:
    """Yield the mainline that leads to a header, from its inlet back to the supply; parts name the zones they feed."""
    at, seen = header.inlet_at, set()
    while True:
        before = [
            part
            for part in facts.plan.mainline
            if math.dist(part.points[-1], at) <= TOLERANCE_M
            and set(header.zone_ids) <= set(part.zone_ids)
            and part.id not in seen
        ]
        if not before:
            return
        yield before[0]
        seen.add(before[0].id)
        at = before[0].points[0]


def one_on_each_way(facts: Facts) -> Verdicts:
    """On the way from the supply to every header there is one valve, and it names the zones of the header."""
    for header in facts.plan.headers:
        ways = {part.id for part in _way(facts, header)}
        mine = [valve for valve in facts.plan.valves if header.id in valve.header_ids or ways & set(valve.part_ids)]
        names = ", ".join(valve.id for valve in mine)
        yield judged(f"header {header.id}", len(mine) == 1, f"{len(mine)} valves are on the way to it: {names}")
        for valve in mine:
            right = set(header.zone_ids) <= set(valve.zone_ids)
            yield judged(f"valve {valve.id}", right, f"it shuts header {header.id} of another zone")


def opens_own_zones(facts: Facts) -> Verdicts:
    """A valve opens one zone alone, unless the rows behind it are opened by hand."""
    parts = {part.id: part for part in facts.plan.mainline}
    for valve in facts.plan.valves:
        fed = {zone for name in valve.part_ids for zone in parts[name].zone_ids}
        fed |= {zone for name in valve.header_ids for zone in facts.headers[name].zone_ids}
        message = f"it names the zones {', '.join(valve.zone_ids)} and opens {', '.join(sorted(fed))}"
        yield judged(f"valve {valve.id}", fed <= set(valve.zone_ids), message)
        yield judged(f"valve {valve.id}", len(fed) == 1 or by_hand(facts), "it opens more than one zone")


def at_its_tube(facts: Facts) -> Verdicts:
    """A valve stands where the tube begins that it opens, on tube of that kind."""
    parts = {part.id: part for part in facts.plan.mainline}
    for valve in facts.plan.valves:
        gap = max(math.dist(valve.at, place) for place in _starts(facts, valve, parts))
        yield judged(f"valve {valve.id}", gap <= TOLERANCE_M, f"it stands {gap:.3f} m from the tube it opens")
        tubes = {parts[name].tube for name in valve.part_ids} | {facts.headers[name].tube for name in valve.header_ids}
        yield judged(f"valve {valve.id}", valve.tube in tubes, f"it fits {valve.tube}, the tube is {sorted(tubes)}")


def _starts(facts: Facts, valve: Valve, parts: dict[str, MainlinePart]) -> Iterator[tuple[float, float]]:
    yield from (parts[name].points[0] for name in valve.part_ids)
    yield from (facts.headers[name].inlet_at for name in valve.header_ids)

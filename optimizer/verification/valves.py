"""Valves: each zone is shut off by exactly one valve on the way to each of its headers, and opens nothing else."""

from __future__ import annotations

import math
from collections.abc import Iterator

from optimizer.plan import Header, MainlinePart, Valve
from optimizer.verification.facts import TOLERANCE_M, Facts
from optimizer.verification.findings import Verdicts, judged
from optimizer.verification.ways import way_to
from optimizer.verification.zones import by_hand


def one_on_each_way(facts: Facts) -> Verdicts:
    """On the way from the supply to every header there is one valve, and it names the zones of the header."""
    for header in facts.plan.headers:
        mine = _before(facts, header)
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


def opened_alone(facts: Facts) -> Verdicts:
    """With only the valves open that name a zone, water comes out of its laterals and of no others."""
    if by_hand(facts):
        return
    for zone in facts.plan.zones:
        opened = {valve.id for valve in facts.plan.valves if zone.id in valve.zone_ids}
        wet = {
            name
            for header in facts.plan.headers
            if {valve.id for valve in _before(facts, header)} <= opened
            for off in header.take_offs
            for name in off.lateral_ids
        }
        dry, more = set(zone.lateral_ids) - wet, wet - set(zone.lateral_ids)
        message = f"opened alone it leaves {', '.join(sorted(dry))} dry"
        yield judged(f"zone {zone.id}", not dry, message)
        yield judged(f"zone {zone.id}", not more, f"opened alone it also waters {', '.join(sorted(more))}")


def _before(facts: Facts, header: Header) -> list[Valve]:
    """Return the valves on the way to a header."""
    ways = {part.id for part in way_to(facts, header)}
    return [valve for valve in facts.plan.valves if header.id in valve.header_ids or ways & set(valve.part_ids)]


def one_per_bed(facts: Facts) -> Verdicts:
    """Where each bed is to rest by itself, every header of several beds has a valve of its own at its inlet."""
    if not facts.scenario.limits.valve_per_bed or len(facts.scenario.beds) < 2:
        return
    for header in facts.plan.headers:
        own = [valve for valve in facts.plan.valves if (valve.header_ids, valve.part_ids) == ((header.id,), ())]
        yield judged(f"header {header.id}", len(own) == 1, f"{len(own)} valves stand at its inlet for it alone")


def stand_where_wished(facts: Facts) -> Verdicts:
    """With several beds, valves stand at the tap, each zone on a tube of its own, or in the field, as wished."""
    limits = facts.scenario.limits
    if len(facts.scenario.beds) < 2 or limits.valve_per_bed:
        return
    if limits.valves == "at the tap":
        for valve in facts.plan.valves:
            yield judged(f"valve {valve.id}", _at_supply(facts, valve), "it does not stand at the tap, as is wanted")
        for part in facts.plan.mainline:
            message = f"it feeds the zones {', '.join(part.zone_ids)}, and each is to have a tube of its own"
            yield judged(f"mainline {part.id}", len(part.zone_ids) < 2, message)
    # A garden of one zone has its valve at the tap, wherever valves are wanted: nothing lies before it.
    if limits.valves == "in the field" and len(facts.plan.zones) > 1:
        for valve in facts.plan.valves:
            message = "it stands at the tap, and valves are wanted in the field"
            yield judged(f"valve {valve.id}", not _at_supply(facts, valve), message)


def _at_supply(facts: Facts, valve: Valve) -> bool:
    return math.dist(valve.at, facts.scenario.supply.at) <= TOLERANCE_M

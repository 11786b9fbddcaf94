"""Ways of the water: which part of the mainline feeds what begins at a place, and from there back to the supply."""

from __future__ import annotations

import math
from collections.abc import Iterator

from optimizer.plan import Header, MainlinePart, Point
from optimizer.verification.facts import TOLERANCE_M, Facts
from optimizer.verification.findings import Verdicts, judged


def feeding_part(facts: Facts, at: Point, zones: tuple[str, ...]) -> MainlinePart | None:
    """Return the mainline that ends at a place and feeds these zones, None at the supply.

    Tubes of different zones may lie beside each other and end at one place without being joined there.
    """
    for part in facts.plan.mainline:
        if math.dist(part.points[-1], at) <= TOLERANCE_M and set(zones) <= set(part.zone_ids):
            return part
    return None


def way_to(facts: Facts, header: Header) -> Iterator[MainlinePart]:
    """Yield the mainline that leads to a header, from its inlet back to the supply."""
    seen: set[str] = set()
    part = feeding_part(facts, header.inlet_at, header.zone_ids)
    while part is not None and part.id not in seen:
        yield part
        seen.add(part.id)
        part = feeding_part(facts, part.points[0], header.zone_ids)


def leads_on(facts: Facts) -> Verdicts:
    """Mainline ends where other mainline or a header of every zone it names begins."""
    for part in facts.plan.mainline:
        fed = set(_fed_at(facts, part.points[-1]))
        dead = [zone for zone in part.zone_ids if zone not in fed]
        message = f"it names zone {', '.join(dead)} and leads to nothing of it"
        yield judged(f"mainline {part.id}", not dead, message)


def _fed_at(facts: Facts, at: Point) -> Iterator[str]:
    """Yield the zones of all tube that begins at a place."""
    for part in facts.plan.mainline:
        if math.dist(part.points[0], at) <= TOLERANCE_M:
            yield from part.zone_ids
    for header in facts.plan.headers:
        if math.dist(header.inlet_at, at) <= TOLERANCE_M:
            yield from header.zone_ids

"""Zones: every lateral in one of them, no more than the timer has outlets, crops alone that want to be."""

from __future__ import annotations

from itertools import groupby

from optimizer.verification.facts import Facts
from optimizer.verification.findings import Verdicts, judged


def one_zone(facts: Facts) -> Verdicts:
    """Every lateral runs in exactly the zone it names."""
    for lateral in facts.plan.laterals:
        found = [zone.id for zone in facts.plan.zones if lateral.id in zone.lateral_ids]
        message = f"it names zone {lateral.zone_id} and is listed in {', '.join(found) or 'none'}"
        yield judged(f"lateral {lateral.id}", found == [lateral.zone_id], message)


def zone_lists(facts: Facts) -> Verdicts:
    """A zone lists the rows and headers of its laterals and lays one product."""
    for zone in facts.plan.zones:
        laterals = [facts.laterals[name] for name in zone.lateral_ids]
        path = f"zone {zone.id}"
        yield judged(path, len(set(zone.lateral_ids)) == len(laterals), "it lists a lateral twice")
        rows = {lateral.row_id for lateral in laterals}
        yield judged(
            path, rows == set(zone.row_ids), f"it lists rows {zone.row_ids}, its laterals lie in {sorted(rows)}"
        )
        headers = {lateral.header_id for lateral in laterals}
        message = f"it lists headers {zone.header_ids}, its laterals leave {sorted(headers)}"
        yield judged(path, headers == set(zone.header_ids), message)
        products = {lateral.product for lateral in laterals}
        yield judged(path, products == {zone.product}, f"it says {zone.product} and lays {sorted(products)}")


def header_zones(facts: Facts) -> Verdicts:
    """A header feeds the zones it names; several only where every lateral can be shut off."""
    for header in facts.plan.headers:
        fed = {facts.laterals[name].zone_id for off in header.take_offs for name in off.lateral_ids}
        message = f"it names the zones {', '.join(header.zone_ids)} and feeds {', '.join(sorted(fed))}"
        yield judged(f"header {header.id}", sorted(fed) == sorted(header.zone_ids), message)
        shut = len(fed) < 2 or all(off.shut_offs for off in header.take_offs)
        yield judged(f"header {header.id}", shut, "it feeds several zones and not all its laterals can be shut off")
        fed_beds = {facts.rows[off.row_id].bed for off in header.take_offs}
        message = f"it names the beds {', '.join(header.beds)} and feeds {', '.join(sorted(fed_beds))}"
        yield judged(f"header {header.id}", sorted(fed_beds) == sorted(header.beds), message)
        heights = {facts.beds[bed].raised for bed in fed_beds}
        yield judged(f"header {header.id}", len(heights) == 1, "its beds do not have one height")


def by_hand(facts: Facts) -> bool:
    """Return whether zones are made by opening shut-offs of rows, and so need no outlet of a timer each."""
    return any(off.shut_offs for header in facts.plan.headers for off in header.take_offs)


def zone_count(facts: Facts) -> Verdicts:
    """There are no more zones than the timer has outlets, or than are wanted where rows are opened by hand."""
    limits, count = facts.scenario.limits, len(facts.plan.zones)
    most = limits.zones_at_most if by_hand(facts) else facts.scenario.most_zones
    if most is not None:
        yield judged("zones", count <= most, f"{count} zones, at most {most} are possible")


def own_zone(facts: Facts) -> Verdicts:
    """A crop that wants a zone of its own shares none."""
    for zone in facts.plan.zones:
        crops = {(row.bed, row.crop): facts.crop(row) for row in (facts.rows[name] for name in zone.row_ids)}
        alone = sorted(crop.name for crop in crops.values() if crop.own_zone)
        names = {crop.name for crop in crops.values()}
        message = f"{', '.join(alone)} must run alone and shares it with {', '.join(sorted(names - set(alone[:1])))}"
        yield judged(f"zone {zone.id}", not alone or len(names) == 1, message)


def neighbours(facts: Facts) -> Verdicts:
    """The rows of a header lie next to each other in their bed."""
    for header in facts.plan.headers:
        fed = {off.row_id for off in header.take_offs}
        for bed in header.beds:
            runs = _runs(facts, fed, bed)
            message = f"its rows in '{bed}' lie in {runs} groups with rows of other headers between"
            yield judged(f"header {header.id}", runs <= 1, message)


def _runs(facts: Facts, fed: set[str], bed: str) -> int:
    """Return the number of groups some rows form among the watered rows of a bed."""
    watered = {lateral.row_id for lateral in facts.plan.laterals}
    marks = [row.id in fed for row in facts.rows_of(bed) if row.id in watered]
    return sum(1 for mark, _ in groupby(marks) if mark)

"""Every id names one thing that exists, and every shape can be measured; without that nothing else can be checked."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from itertools import pairwise

from optimizer.plan import Point
from optimizer.verification.facts import BYPASS, EMITTER_LINE, Facts, repeated
from optimizer.verification.findings import Verdict, Verdicts, judged


def ids_once(facts: Facts) -> Verdicts:
    """Every id is given to one thing only."""
    plan = facts.plan
    groups: list[tuple[str, Iterable[str]]] = [
        ("bed", (bed.name for bed in plan.beds)),
        ("row", (row.id for row in plan.rows)),
        ("lateral", (lateral.id for lateral in plan.laterals)),
        ("header", (header.id for header in plan.headers)),
        ("mainline", (part.id for part in plan.mainline)),
        ("valve", (valve.id for valve in plan.valves)),
        ("zone", (zone.id for zone in plan.zones)),
        ("piece", (piece.id for piece in plan.pieces)),
        ("roll", (roll.id for roll in plan.rolls)),
        ("goal", (goal.name for goal in plan.certificate.goals)),
    ]
    for word, ids in groups:
        twice = repeated(ids)
        yield judged(f"{word}s", not twice, f"these ids are given twice: {', '.join(twice)}")


Reference = tuple[str, str, str]
"""path, kind of thing meant, its id"""


def references(facts: Facts) -> Verdicts:
    """Everything that is named exists, in the plan or in the scenario."""
    known = _known(facts)
    for path, kind, name in _all_references(facts):
        yield judged(path, name in known[kind], f"there is no {kind} '{name}'")
    for row in facts.plan.rows:
        names = [crop.name for crop in facts.beds[row.bed].crops] if row.bed in facts.beds else []
        yield judged(f"row {row.id}", row.crop in names, f"bed '{row.bed}' has no crop '{row.crop}'")


def _known(facts: Facts) -> dict[str, set[str]]:
    return {
        "bed": set(facts.beds) & set(facts.bed_maps),
        "row": set(facts.rows),
        "lateral": set(facts.laterals),
        "header": set(facts.headers),
        "mainline part": {part.id for part in facts.plan.mainline},
        "zone": set(facts.zones),
        "piece": set(facts.pieces),
        "emitter line": set(facts.lines),
        "blank tube": set(facts.tubes),
        "tubing": set(facts.products),
        "path": {path.name for path in facts.scenario.paths},
        "stretch kind": {EMITTER_LINE, BYPASS},
        "purpose": {"lateral", "bypass", "header", "mainline"},
    }


def _all_references(facts: Facts) -> Iterator[Reference]:
    yield from _of_laterals(facts)
    yield from _of_headers(facts)
    yield from _of_mainline(facts)
    yield from _of_valves(facts)
    yield from _of_zones(facts)
    yield from _of_cutting(facts)
    for row in facts.plan.rows:
        yield f"row {row.id}", "bed", row.bed


def _of_laterals(facts: Facts) -> Iterator[Reference]:
    for lateral in facts.plan.laterals:
        path = f"lateral {lateral.id}"
        yield path, "row", lateral.row_id
        yield path, "zone", lateral.zone_id
        yield path, "header", lateral.header_id
        yield path, "emitter line", lateral.product
        for part in lateral.stretches:
            yield path, "piece", part.piece_id
            yield path, "stretch kind", part.kind


def _of_headers(facts: Facts) -> Iterator[Reference]:
    for header in facts.plan.headers:
        path = f"header {header.id}"
        yield from ((path, "zone", zone) for zone in header.zone_ids)
        yield from ((path, "bed", bed) for bed in header.beds)
        yield path, "blank tube", header.tube
        yield from ((path, "piece", piece) for piece in header.piece_ids)
        for off in header.take_offs:
            yield path, "row", off.row_id
            yield from ((path, "lateral", lateral) for lateral in off.lateral_ids)


def _of_mainline(facts: Facts) -> Iterator[Reference]:
    for part in facts.plan.mainline:
        path = f"mainline {part.id}"
        yield path, "blank tube", part.tube
        yield from ((path, "piece", piece) for piece in part.piece_ids)
        yield from ((path, "zone", zone) for zone in part.zone_ids)
        yield from ((path, "path", crossing.path) for crossing in part.crossings)


def _of_valves(facts: Facts) -> Iterator[Reference]:
    for valve in facts.plan.valves:
        path = f"valve {valve.id}"
        yield path, "blank tube", valve.tube
        yield from ((path, "zone", zone) for zone in valve.zone_ids)
        yield from ((path, "mainline part", part) for part in valve.part_ids)
        yield from ((path, "header", header) for header in valve.header_ids)


def _of_zones(facts: Facts) -> Iterator[Reference]:
    for zone in facts.plan.zones:
        path = f"zone {zone.id}"
        yield path, "emitter line", zone.product
        yield from ((path, "row", row) for row in zone.row_ids)
        yield from ((path, "lateral", lateral) for lateral in zone.lateral_ids)
        yield from ((path, "header", header) for header in zone.header_ids)


_SERVED = {"lateral": "row", "bypass": "row", "header": "header", "mainline": "mainline part"}


def _of_cutting(facts: Facts) -> Iterator[Reference]:
    for piece in facts.plan.pieces:
        path = f"piece {piece.id}"
        yield path, "tubing", piece.product
        yield path, "purpose", piece.purpose
        if piece.purpose in _SERVED:
            yield path, _SERVED[piece.purpose], piece.serves
    for roll in facts.plan.rolls:
        yield f"roll {roll.id}", "tubing", roll.product
        yield from ((f"roll {roll.id}", "piece", cut.piece_id) for cut in roll.cuts)


def shapes(facts: Facts) -> Verdicts:
    """Every tube and row is a line of some length between finite places, and nothing is empty."""
    yield from (_line(path, points) for path, points in facts.tube_paths())
    yield from (_line(f"row {row.id}", (row.start, row.end)) for row in facts.plan.rows)
    yield from (judged(path, _is_place(at), f"{at} is no place on the plan") for path, at in _places(facts))
    for bed in facts.plan.beds:
        yield judged(f"bed {bed.name}", math.isfinite(bed.row_angle_deg), "its rows have no direction")
    yield judged("site", math.isfinite(facts.plan.site.north_deg), "north has no direction")
    yield from _not_empty(facts)


def _not_empty(facts: Facts) -> Verdicts:
    for header in facts.plan.headers:
        filled = bool(header.take_offs and header.zone_ids and header.beds)
        yield judged(f"header {header.id}", filled, "it has no take-off, no zone or no bed")
    for valve in facts.plan.valves:
        opens = bool(valve.zone_ids) and bool(valve.part_ids or valve.header_ids)
        yield judged(f"valve {valve.id}", opens, "it opens nothing")
    for lateral in facts.plan.laterals:
        filled = lateral.emitters > 0 and bool(lateral.stretches)
        yield judged(f"lateral {lateral.id}", filled, "it has no stretch or no emitter")
    for zone in facts.plan.zones:
        yield judged(f"zone {zone.id}", bool(zone.lateral_ids), "it waters nothing")
    yield judged("zones", bool(facts.plan.zones), "the plan has no zone")


def _places(facts: Facts) -> Iterator[tuple[str, Point]]:
    """Yield every single place of the plan with what it belongs to."""
    yield "supply", facts.plan.site.source_at
    yield from ((f"bed {bed.name}", at) for bed in facts.plan.beds for at in bed.outline)
    yield from ((f"{shape.kind} {shape.name}", at) for shape in facts.plan.site.shapes for at in shape.points)
    yield from (("site", at) for at in facts.plan.site.outline)
    yield from ((f"lateral {lateral.id}", lateral.take_off_at) for lateral in facts.plan.laterals)
    for header in facts.plan.headers:
        yield f"header {header.id}", header.inlet_at
        yield from ((f"header {header.id}", off.at) for off in header.take_offs)
        yield from ((f"header {header.id}", crossing.at) for crossing in header.crossings)
    for part in facts.plan.mainline:
        yield from ((f"mainline {part.id}", crossing.at) for crossing in part.crossings)
    yield from ((f"valve {valve.id}", valve.at) for valve in facts.plan.valves)


def _is_place(at: Point) -> bool:
    return len(at) == 2 and all(math.isfinite(value) for value in at)


def _line(path: str, points: tuple[Point, ...]) -> Verdict:
    placed = all(_is_place(point) for point in points)
    long = len(points) > 1 and any(a != b for a, b in pairwise(points))
    return judged(path, placed and long, "its places make no line that could be measured")

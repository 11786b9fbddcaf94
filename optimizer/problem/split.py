"""One bed split into zones along its headers, as it is laid: tube to each header, then alongside it."""

from __future__ import annotations

from collections.abc import Sequence

from optimizer.problem.case import Case, Run
from optimizer.problem.laying import SUPPLY, LaidHeader, Laying, MainPart, ZoneRows, whole_run
from optimizer.problem.tubing import mainline_spans


def open_rows_laying(case: Case, groups: Sequence[tuple[int, ...]], shut_offs: bool) -> Laying:
    """Return a design with one whole header as it is laid, its rows opened by hand.

    Args:
        case: the design.
        groups: rows that run together, zone by zone.
        shut_offs: whether every lateral has a shut-off.
    """
    way = case.layout.headers[0].approach
    part = MainPart(way.points, way.length_um, SUPPLY, case.tube, way.rise_um)
    header = LaidHeader(0, Run(0, 0, case.row_count - 1), 0, way.vertex)
    return Laying((case,), (header,), (part,), tuple((ZoneRows(0, group),) for group in groups), shut_offs)


def split_laying(case: Case, split: Sequence[Run]) -> Laying:
    """Return a design as it is laid with each run of a split a zone of its own.

    Args:
        case: the design.
        split: runs that together hold every row of every header once.
    """
    parts: list[MainPart] = []
    ends: dict[tuple[int, int], int] = {}
    for header, line in enumerate(case.layout.headers):
        for start, end in mainline_spans(case, [run for run in split if run.header == header]):
            above = SUPPLY if start < 0 else ends[header, start]
            ends[header, end] = len(parts)
            if start < 0:
                way = line.approach
                parts.append(MainPart(way.points, way.length_um, above, case.tube, way.rise_um))
            else:
                parts.append(MainPart(line.between(start, end), line.span_um(start, end), above, case.tube))
    fed = [case.layout.headers[run.header].inlet(run) for run in split]
    headers = tuple(
        LaidHeader(0, run, ends[run.header, vertex], vertex) for run, vertex in zip(split, fed, strict=True)
    )
    zones = tuple((whole_run(number, run),) for number, run in enumerate(split))
    return Laying((case,), headers, tuple(parts), zones)

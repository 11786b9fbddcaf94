"""What lies in the garden: rows, laterals, headers and mainline with their places and pieces."""

from __future__ import annotations

from dataclasses import dataclass

from optimizer.build.naming import lateral_ids, row_id, zone_letter
from optimizer.choose.evaluate import Evaluated
from optimizer.feeds import LateralShape
from optimizer.geometry import Point
from optimizer.plan import Crossing, Header, Lateral, MainlinePart, Piece, Row, Stretch, TakeOff
from optimizer.problem.case import Case, Run, with_tails
from optimizer.problem.tubing import TubePiece
from optimizer.units import micrometres


@dataclass(frozen=True)
class Laid:
    """Everything laid, before it is cut from rolls."""

    rows: tuple[Row, ...]
    laterals: tuple[Lateral, ...]
    headers: tuple[Header, ...]
    mainline: tuple[MainlinePart, ...]
    line_pieces: tuple[Piece, ...]
    tube_pieces: tuple[Piece, ...]
    zone_runs: tuple[tuple[str, Run], ...]


def _rows(case: Case) -> tuple[Row, ...]:
    frame, crops = case.layout.field.frame, case.layout.bed.crops
    found = []
    for index, row in enumerate(case.layout.plan.rows):
        low, high = row.stretches[0][0], row.stretches[-1][1]
        crop = crops[row.crop]
        ends = frame.to_plan((low, row.v)), frame.to_plan((high, row.v))
        found.append(
            Row(
                row_id(index),
                case.layout.bed.name,
                crop.name,
                *ends,
                len(row.lines),
                crop.row_spacing,
                row.planted_m - sum(lost for at, lost, _ in case.feed.dropped if at == index) / len(row.lines),
                row.fixed,
            )
        )
    return tuple(found)


class _Layer:
    """Lays one evaluated design."""

    def __init__(self, found: Evaluated) -> None:
        self.case = found.case
        self.frame = self.case.layout.field.frame
        self.pieces = found.split.pieces
        self.zone_runs = tuple((zone_letter(index), run) for index, run in enumerate(found.split.split))
        self.ids = lateral_ids(self.case)
        self.line_pieces: list[Piece] = []
        self.tube_pieces: list[Piece] = []

    def zone_of(self, lateral: LateralShape) -> str:
        """Return the zone a lateral belongs to."""
        return next(
            zone
            for zone, run in self.zone_runs
            if run.header == lateral.header and run.first <= lateral.row <= run.last
        )

    def tube_units(self, purpose: str, span: tuple[int, int], header: int) -> int:
        """Return the length in cutting units of a piece the split counted."""
        return next(
            piece.units
            for piece in self.pieces
            if piece.purpose == purpose and piece.span == span and (purpose == "bypass" or piece.header == header)
        )

    def tube_piece(self, piece_id: str, purpose: str, serves: str, units: int) -> Piece:
        """Add a piece of blank tube."""
        piece = Piece(piece_id, self.case.tube.name, purpose, serves, units * self.case.tube_step_um)
        self.tube_pieces.append(piece)
        return piece

    # ------------------------------------------------------------ laterals

    def lateral(self, index: int, shape: LateralShape) -> Lateral:
        """Return one lateral, adding its pieces."""
        case, lateral_id = self.case, self.ids[index]
        line = case.layout.headers[shape.header]
        zone = self.zone_of(shape)
        stretches: list[Stretch] = []
        several = len(shape.parts) > 1
        for number, part in enumerate(shape.parts):
            if part.bypass is not None:
                units = self.tube_units("bypass", (index, number), 0)
                piece = self.tube_piece(f"{lateral_id}-by{number}", "bypass", row_id(shape.row), units)
                stretches.append(Stretch(piece.id, "bypass", part.bypass.points, piece.length_um, 0))
            length_um = part.spacings * micrometres(case.line.spacing)
            name = f"{lateral_id}-{number + 1}" if several else lateral_id
            self.line_pieces.append(Piece(name, case.line.name, "lateral", row_id(shape.row), length_um))
            ends = self._stretch_ends(shape, part.u, part.spacings)
            stretches.append(Stretch(name, "emitter line", ends, length_um, part.spacings))
        return Lateral(
            lateral_id,
            row_id(shape.row),
            shape.line + 1,
            zone,
            f"H{zone}",
            "right" if shape.side > 0 else "left",
            case.line.name,
            line.points[line.keys.index((shape.row, shape.line))],
            tuple(stretches),
            shape.spacings * micrometres(case.line.spacing),
            shape.spacings,
        )

    def _stretch_ends(self, shape: LateralShape, u: float, spacings: int) -> tuple[Point, Point]:
        v = self.case.layout.plan.rows[shape.row].lines[shape.line].v
        end = u + shape.side * spacings * self.case.line.spacing
        return self.frame.to_plan((u, v)), self.frame.to_plan((end, v))

    # ------------------------------------------------------------ headers

    def header(self, zone: str, run: Run) -> Header:
        """Return the header of a zone, adding its pieces."""
        case, line = self.case, self.case.layout.headers[run.header]
        first, last = line.vertices(run)
        inlet, tail_um = line.inlet(run), micrometres(case.scenario.limits.header_tail)
        spans = ((first, inlet), (inlet, last)) if first < inlet < last else ((first, last),)
        pieces = [
            self.tube_piece(
                f"H{zone}" if len(spans) == 1 else f"H{zone}-{number + 1}",
                "header",
                f"H{zone}",
                self.tube_units("header", span, run.header),
            )
            for number, span in enumerate(spans)
        ]
        points = with_tails(line.points[first : last + 1], tail_um / 1e6, line.points)
        return Header(
            f"H{zone}",
            zone,
            case.layout.bed.name,
            case.tube.name,
            points,
            sum(piece.length_um for piece in pieces),
            tuple(piece.id for piece in pieces),
            tail_um + line.distance_um[inlet] - line.distance_um[first],
            line.points[inlet],
            tuple(self.take_off(run.header, vertex, first, tail_um) for vertex in range(first, last + 1)),
            tuple(Crossing(*item) for item in case.shapes.crossings(points)),
        )

    def take_off(self, header: int, vertex: int, first: int, tail_um: int) -> TakeOff:
        """Return the take-off at a vertex."""
        line = self.case.layout.headers[header]
        row, number = line.keys[vertex]
        fed = [
            self.ids[index]
            for index, shape in enumerate(self.case.feed.laterals)
            if (shape.header, shape.row, shape.line) == (header, row, number)
        ]
        distance = tail_um + line.distance_um[vertex] - line.distance_um[first]
        return TakeOff(distance, line.points[vertex], row_id(row), tuple(fed))

    # ------------------------------------------------------------ mainline

    def mainline(self) -> tuple[MainlinePart, ...]:
        """Return the mainline, part by part in the direction of flow, adding its pieces."""
        parts = []
        for number, piece in enumerate(piece for piece in self.pieces if piece.purpose == "mainline"):
            part_id = f"M{number + 1}"
            cut = self.tube_piece(part_id, "mainline", part_id, piece.units)
            points = self._way(piece)
            parts.append(
                MainlinePart(
                    part_id,
                    self.case.tube.name,
                    points,
                    cut.length_um,
                    (cut.id,),
                    self._fed_through(piece),
                    tuple(Crossing(*item) for item in self.case.shapes.crossings(points)),
                )
            )
        return tuple(parts)

    def _way(self, piece: TubePiece) -> tuple[Point, ...]:
        line = self.case.layout.headers[piece.header]
        start, end = piece.span
        if start < 0:
            return line.approach.points
        step = 1 if end > start else -1
        return tuple(line.points[vertex] for vertex in range(start, end + step, step))

    def _fed_through(self, piece: TubePiece) -> tuple[str, ...]:
        line = self.case.layout.headers[piece.header]
        start, end = piece.span
        inlets = [(zone, line.inlet(run)) for zone, run in self.zone_runs if run.header == piece.header]
        if start < 0:
            return tuple(zone for zone, _ in inlets)
        return tuple(zone for zone, inlet in inlets if (inlet >= end if end > start else inlet <= end))


def lay(found: Evaluated) -> Laid:
    """Return everything an evaluated design lays."""
    layer = _Layer(found)
    laterals = tuple(layer.lateral(index, shape) for index, shape in enumerate(found.case.feed.laterals))
    headers = tuple(layer.header(zone, run) for zone, run in layer.zone_runs)
    mainline = layer.mainline()
    return Laid(
        _rows(found.case),
        laterals,
        headers,
        mainline,
        tuple(layer.line_pieces),
        tuple(layer.tube_pieces),
        layer.zone_runs,
    )

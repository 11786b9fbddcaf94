"""What lies in the garden: rows, laterals, headers, mainline and valves with their places and pieces."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from optimizer.build.naming import header_ids, lateral_ids, row_ids, zone_letter
from optimizer.feeds import LateralShape
from optimizer.geometry import Point
from optimizer.plan import Crossing, Header, Lateral, MainlinePart, Piece, Row, Stretch, TakeOff, Valve
from optimizer.problem.bill import LaidTube, header_points, tube_pieces
from optimizer.problem.case import Case
from optimizer.problem.laying import LaidHeader, Laying, ValvePlace
from optimizer.units import micrometres


@dataclass(frozen=True)
class Laid:
    """Everything laid, before it is cut from rolls."""

    rows: tuple[Row, ...]
    laterals: tuple[Lateral, ...]
    headers: tuple[Header, ...]
    mainline: tuple[MainlinePart, ...]
    valves: tuple[Valve, ...]
    pieces: tuple[Piece, ...]


class _Layer:
    """Lays a garden."""

    def __init__(self, laying: Laying) -> None:
        self.laying = laying
        self.rows = row_ids(laying)
        self.laterals = lateral_ids(laying)
        self.headers = header_ids(laying)
        self.zones = tuple(zone_letter(index) for index in range(len(laying.zones)))
        self.tubes = tube_pieces(laying)
        self.line_pieces: list[Piece] = []
        self.tube_pieces: list[Piece] = []
        self.zone_of = {
            (header.block, index): zone
            for zone, _ in enumerate(laying.zones)
            for header, index in ((laying.headers[at], index) for at, index in laying.zone_laterals(zone))
        }

    def tube_piece(self, piece_id: str, serves: str, tube: LaidTube) -> Piece:
        """Add a piece of blank tube."""
        length = tube.units * self.laying.cases[0].tube_step_um
        piece = Piece(piece_id, tube.tube.name, tube.purpose, serves, length)
        self.tube_pieces.append(piece)
        return piece

    # ------------------------------------------------------------ rows and laterals

    def block_rows(self, block: int) -> Iterator[Row]:
        """Yield the rows of a block."""
        case = self.laying.cases[block]
        for index, row in enumerate(case.layout.plan.rows):
            low, high = row.stretches[0][0], row.stretches[-1][1]
            crop = case.layout.crops[row.crop]
            dry = sum(lost for at, lost, _ in case.feed.dropped if at == index) / len(row.lines)
            yield Row(
                self.rows[block][index],
                case.layout.beds[case.layout.bed_of(index)].name,
                crop.name,
                case.layout.frame.to_plan((low, row.v)),
                case.layout.frame.to_plan((high, row.v)),
                len(row.lines),
                crop.row_spacing,
                row.planted_m - dry,
                row.fixed,
            )

    def lateral(self, block: int, index: int, shape: LateralShape) -> Lateral:
        """Return one lateral, adding its pieces."""
        case, lateral_id, row_id = self.laying.cases[block], self.laterals[block][index], self.rows[block][shape.row]
        line = case.layout.headers[shape.header]
        stretches: list[Stretch] = []
        several = len(shape.parts) > 1
        for number, part in enumerate(shape.parts):
            if part.bypass is not None:
                tube = self.own_tube("bypass", block, (index, number))
                piece = self.tube_piece(f"{lateral_id}-by{number}", row_id, tube)
                stretches.append(Stretch(piece.id, "bypass", part.bypass.points, piece.length_um, 0))
            length_um = part.spacings * micrometres(case.line.spacing)
            name = f"{lateral_id}-{number + 1}" if several else lateral_id
            self.line_pieces.append(Piece(name, case.line.name, "lateral", row_id, length_um))
            ends = _stretch_ends(case, shape, part.u, part.spacings)
            stretches.append(Stretch(name, "emitter line", ends, length_um, part.spacings))
        return Lateral(
            lateral_id,
            row_id,
            shape.line + 1,
            self.zones[self.zone_of[block, index]],
            self.headers[self.header_of(block, shape)],
            "right" if shape.side > 0 else "left",
            case.line.name,
            line.points[line.keys.index((shape.row, shape.line))],
            tuple(stretches),
            shape.spacings * micrometres(case.line.spacing),
            shape.spacings,
        )

    def header_of(self, block: int, shape: LateralShape) -> int:
        """Return the number of the stretch of header a lateral leaves."""
        return next(
            number
            for number, header in enumerate(self.laying.headers)
            if (header.block, header.run.header) == (block, shape.header)
            and header.run.first <= shape.row <= header.run.last
        )

    def own_tube(self, purpose: str, owner: int, span: tuple[int, int]) -> LaidTube:
        """Return the piece of blank tube with this purpose, owner and span."""
        return next(tube for tube in self.tubes if (tube.purpose, tube.owner, tube.span) == (purpose, owner, span))

    # ------------------------------------------------------------ headers

    def header(self, number: int, header: LaidHeader) -> Header:
        """Return a stretch of header, adding its pieces."""
        name, case = self.headers[number], self.laying.cases[header.block]
        line = case.layout.headers[header.run.header]
        first, last = line.vertices(header.run)
        inlet, tail_um = header.inlet, micrometres(case.scenario.limits.header_tail)
        tubes = [tube for tube in self.tubes if (tube.purpose, tube.owner) == ("header", number)]
        pieces = [
            self.tube_piece(name if len(tubes) == 1 else f"{name}-{count}", name, tube)
            for count, tube in enumerate(tubes, start=1)
        ]
        points = header_points(self.laying, header)
        beds = [case.layout.beds[case.layout.bed_of(row)].name for row in range(header.run.first, header.run.last + 1)]
        return Header(
            name,
            tuple(self.zones[zone] for zone in self.laying.header_zones[number]),
            tuple(dict.fromkeys(beds)),
            case.tube.name,
            points,
            sum(piece.length_um for piece in pieces),
            tuple(piece.id for piece in pieces),
            tail_um + line.distance_um[inlet] - line.distance_um[first],
            line.points[inlet],
            tuple(self.take_off(header, vertex, first, tail_um) for vertex in range(first, last + 1)),
            tuple(Crossing(*item) for item in case.shapes.crossings(points)),
        )

    def take_off(self, header: LaidHeader, vertex: int, first: int, tail_um: int) -> TakeOff:
        """Return the take-off at a vertex."""
        case = self.laying.cases[header.block]
        line = case.layout.headers[header.run.header]
        row, number = line.keys[vertex]
        fed = [
            self.laterals[header.block][index]
            for index, shape in enumerate(case.feed.laterals)
            if (shape.header, shape.row, shape.line) == (header.run.header, row, number)
        ]
        distance = tail_um + line.distance_um[vertex] - line.distance_um[first]
        row_id = self.rows[header.block][row]
        return TakeOff(distance, line.points[vertex], row_id, tuple(fed), self.laying.shut_offs)

    # ------------------------------------------------------------ mainline

    def mainline(self) -> tuple[MainlinePart, ...]:
        """Return the mainline, part by part in the direction of flow, adding its pieces."""
        parts = []
        for number, part in enumerate(self.laying.mainline):
            part_id = f"M{number + 1}"
            piece = self.tube_piece(part_id, part_id, self.own_tube("mainline", number, (0, 0)))
            parts.append(
                MainlinePart(
                    part_id,
                    part.tube.name,
                    part.points,
                    piece.length_um,
                    (piece.id,),
                    tuple(self.zones[zone] for zone in self.laying.part_zones[number]),
                    tuple(Crossing(*item) for item in self.laying.shapes.crossings(part.points)),
                )
            )
        return tuple(parts)

    def valve(self, number: int, valve: ValvePlace) -> Valve:
        """Return a valve."""
        part = self.laying.mainline[valve.parts[0]] if valve.parts else None
        header = self.laying.headers[valve.headers[0]] if valve.headers else None
        tube = part.tube if part is not None else self.laying.cases[header.block].tube if header is not None else None
        assert tube is not None
        return Valve(
            f"V{number + 1}",
            tuple(self.zones[zone] for zone in valve.zones),
            self.valve_at(valve),
            tuple(f"M{index + 1}" for index in valve.parts),
            tuple(self.headers[index] for index in valve.headers),
            tube.name,
        )

    def valve_at(self, valve: ValvePlace) -> Point:
        """Return where the tube begins that a valve opens."""
        if valve.parts:
            return self.laying.mainline[valve.parts[0]].points[0]
        return self.laying.mainline[self.laying.headers[valve.headers[0]].part].points[-1]


def _stretch_ends(case: Case, shape: LateralShape, u: float, spacings: int) -> tuple[Point, Point]:
    v = case.layout.plan.rows[shape.row].lines[shape.line].v
    end = u + shape.side * spacings * case.line.spacing
    return case.layout.frame.to_plan((u, v)), case.layout.frame.to_plan((end, v))


def lay(laying: Laying) -> Laid:
    """Return everything a garden lays."""
    layer = _Layer(laying)
    blocks = range(len(laying.cases))
    laterals = tuple(
        layer.lateral(block, index, shape)
        for block in blocks
        for index, shape in enumerate(laying.cases[block].feed.laterals)
    )
    headers = tuple(layer.header(number, header) for number, header in enumerate(laying.headers))
    mainline = layer.mainline()
    return Laid(
        tuple(row for block in blocks for row in layer.block_rows(block)),
        laterals,
        headers,
        mainline,
        tuple(layer.valve(number, valve) for number, valve in enumerate(laying.valves)),
        (*layer.line_pieces, *layer.tube_pieces),
    )

"""The finished plan: everything laid, cut and bought, with ids, and the certificate of how it was chosen.

Values only; whoever draws, prints or checks a plan needs nothing else. Coordinates are plan metres (x, y),
lengths of cut tubing whole micrometres, money hundredths of the currency.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

Point = tuple[float, float]

PLAN_VERSION = 2


class Status(StrEnum):
    """What was proven about an outcome."""

    PROVEN_BEST = "proven best among the stated choices"
    BEST_FOUND = "best found, gap to the proven bound stated"
    IMPOSSIBLE = "proven impossible among the stated choices"
    NOTHING_FOUND = "nothing found within the limit"


# ---------------------------------------------------------------- the ground


@dataclass(frozen=True)
class MapShape:
    """A named polygon (closed without repeating the first corner) or line on the plan."""

    name: str
    kind: str
    """obstacle, path, barrier"""
    points: tuple[Point, ...]
    note: str = ""
    """for obstacles what must keep out: rows, tube or both"""


@dataclass(frozen=True)
class SiteMap:
    """What is there before anything is laid."""

    outline: tuple[Point, ...]
    """corners of the plot; empty if only beds are given"""
    shapes: tuple[MapShape, ...]
    source_at: Point
    source_kind: str
    north_deg: float
    """direction of north, clockwise from the plan's y axis"""
    uphill: Point
    """mean rise of the ground per metre along x and y"""


@dataclass(frozen=True)
class BedMap:
    """A bed and the row direction chosen for it."""

    name: str
    outline: tuple[Point, ...]
    raised_m: float
    row_angle_deg: float
    """direction of the rows, anticlockwise from the plan's x axis"""
    row_angle_name: str
    header_places: tuple[str, ...]


@dataclass(frozen=True)
class Row:
    """One row of plants; rows are numbered from the tap end."""

    id: str
    bed: str
    crop: str
    start: Point
    end: Point
    lines: int
    """emitter lines in the row"""
    spacing_m: float
    """row spacing the crop asks for"""
    planted_m: float
    """length of row that is watered"""
    fixed: bool
    """already planted at this place"""


# ---------------------------------------------------------------- the tubing


@dataclass(frozen=True)
class Stretch:
    """A part of a lateral: emitter line, or blank tube led around an obstacle."""

    piece_id: str
    kind: str
    """emitter line, bypass"""
    points: tuple[Point, ...]
    length_um: int
    emitters: int


@dataclass(frozen=True)
class Lateral:
    """From its take-off to its closed end."""

    id: str
    row_id: str
    line: int
    """1 for the first line of the row"""
    zone_id: str
    header_id: str
    side: str
    """left or right of the header, looking along it from its zero"""
    product: str
    take_off_at: Point
    stretches: tuple[Stretch, ...]
    length_um: int
    """emitter line in it"""
    emitters: int


@dataclass(frozen=True)
class TakeOff:
    """A place on a header where laterals leave."""

    distance_um: int
    """running distance along the header from its zero"""
    at: Point
    row_id: str
    lateral_ids: tuple[str, ...]
    shut_offs: bool = False
    """whether each lateral has a shut-off here"""


@dataclass(frozen=True)
class Crossing:
    """A tube crosses a path here and wants a sleeve or cover."""

    path: str
    at: Point


@dataclass(frozen=True)
class Header:
    """A stretch of header tube, from its zero (the end nearest the tap) to its other end."""

    id: str
    zone_ids: tuple[str, ...]
    """its zone; several where the rows have shut-offs"""
    beds: tuple[str, ...]
    """the bed it lies in, or those in a line that share it"""
    tube: str
    points: tuple[Point, ...]
    length_um: int
    piece_ids: tuple[str, ...]
    inlet_um: int
    """running distance of the inlet"""
    inlet_at: Point
    take_offs: tuple[TakeOff, ...]
    crossings: tuple[Crossing, ...] = ()


@dataclass(frozen=True)
class MainlinePart:
    """Mainline between two branching places, in the direction of flow."""

    id: str
    tube: str
    points: tuple[Point, ...]
    length_um: int
    piece_ids: tuple[str, ...]
    zone_ids: tuple[str, ...]
    """zones that are fed through it"""
    crossings: tuple[Crossing, ...]


@dataclass(frozen=True)
class Valve:
    """A zone valve, or the valve of a header; it stands where the tube begins that it opens."""

    id: str
    zone_ids: tuple[str, ...]
    """zones that run through it; several where the rows have shut-offs"""
    at: Point
    part_ids: tuple[str, ...]
    """mainline parts that start behind it"""
    header_ids: tuple[str, ...]
    """headers whose inlet is right behind it"""
    tube: str


@dataclass(frozen=True)
class Piece:
    """A length of tubing that is cut; made of several parts only if joined by couplers."""

    id: str
    product: str
    purpose: str
    """lateral, bypass, header, mainline"""
    serves: str
    """id of the row, header or mainline part it belongs to"""
    length_um: int


@dataclass(frozen=True)
class Cut:
    """One cut from a roll, in cutting order."""

    piece_id: str
    part: int
    parts: int
    length_um: int
    mark_um: int
    """running mark on the roll at the far end of the cut"""


@dataclass(frozen=True)
class RollCuts:
    """One roll or owned piece and what is cut from it."""

    id: str
    product: str
    stock: str
    owned: bool
    length_um: int
    price_ct: int
    cuts: tuple[Cut, ...]
    leftover_um: int
    leftover_usable: bool


@dataclass(frozen=True)
class BillLine:
    """One line of the shopping list."""

    shelf: str
    """tube, take-offs, ends, joints, valves, head parts, stakes and plugs"""
    item: str
    size: str
    """what to measure or read on the packet"""
    fits: str
    quantity: int
    owned: int
    """of these, already there"""
    spare: int
    """on top of the quantity, not counted in the cost"""
    unit: str
    unit_price_ct: int
    cost_ct: int


# ---------------------------------------------------------------- the water


@dataclass(frozen=True)
class ZoneNetwork:
    """The complete pipe network of a zone and its solution, for any solver to check.

    Emitter flow is k h^x for a plain emitter; a compensating one (opening head above zero) holds its rated flow
    from the opening head to the upper head.
    """

    node_x_m: tuple[float, ...]
    node_y_m: tuple[float, ...]
    node_z_m: tuple[float, ...]
    tube_from: tuple[int, ...]
    tube_to: tuple[int, ...]
    tube_length_m: tuple[float, ...]
    """with the equivalent length of barbs and emitters in it"""
    tube_bore_m: tuple[float, ...]
    tube_roughness_m: tuple[float, ...]
    tube_loss_k: tuple[float, ...]
    emitter_node: tuple[int, ...]
    emitter_lateral: tuple[str, ...]
    emitter_k: tuple[float, ...]
    emitter_exponent: tuple[float, ...]
    emitter_opening_m: tuple[float, ...]
    """0 for a plain emitter"""
    emitter_upper_m: tuple[float, ...]
    """0 for a plain emitter"""
    inlet_node: int
    inlet_head_m: float
    viscosity_m2_s: float
    node_head_m: tuple[float, ...]
    """solution: pressure head at every node"""
    emitter_flow_m3_s: tuple[float, ...]
    """solution"""


@dataclass(frozen=True)
class ZoneWater:
    """What a zone does when it runs."""

    flow_m3_s: float
    usable_flow_m3_s: float
    """0 where nothing limits it"""
    source_head_m: float
    """pressure at the tap, pump or tank while the zone runs"""
    inlet_head_m: float
    """pressure behind the head parts"""
    least_flow_m3_s: float
    greatest_flow_m3_s: float
    least_head_m: float
    greatest_head_m: float
    flow_variation: float
    emission_uniformity: float
    greatest_velocity_m_s: float
    static_head_m: float
    """greatest pressure in the tubing with all valves shut behind the head parts"""
    fill_volume_m3: float
    binds: str
    """the limit nearest to binding, in words"""


@dataclass(frozen=True)
class Zone:
    """Laterals that run at the same time."""

    id: str
    row_ids: tuple[str, ...]
    lateral_ids: tuple[str, ...]
    header_ids: tuple[str, ...]
    product: str
    water: ZoneWater
    network: ZoneNetwork


@dataclass(frozen=True)
class HeadUnit:
    """A part between the tap and the mainline, in the order of flow."""

    name: str
    kind: str
    note: str


# ---------------------------------------------------------------- the proof


@dataclass(frozen=True)
class GoalValue:
    """One goal of the ordered list: what the plan reaches and what nothing can beat."""

    name: str
    value: int
    bound: int
    unit: str
    proven: bool


@dataclass(frozen=True)
class Certificate:
    """What was chosen among, and what was proven."""

    status: Status
    goals: tuple[GoalValue, ...]
    choice_set: tuple[tuple[str, str], ...]
    """what was open and over which values"""
    designs: int
    solved: int
    ruled_out: tuple[tuple[str, int], ...]
    """why designs fell out, and how many"""
    seed: int
    limits: tuple[tuple[str, str], ...]
    versions: tuple[tuple[str, str], ...]
    reproducible: bool


@dataclass(frozen=True)
class Alternative:
    """A different layout, what it costs and why it is not the plan."""

    name: str
    row_angle: str
    header_places: tuple[str, ...]
    product: str
    tube: str
    zones: int
    rows: int
    laterals: int
    planted_m: float
    line_used_m: float
    money_ct: int
    leftover_um: int
    waste_um: int
    fittings: int
    flow_variation: float
    shortfall: str
    exact: bool
    """False where the figures are bounds that already rule it out"""
    why: str


@dataclass(frozen=True)
class Plan:
    """A layout that was verified against its scenario."""

    version: int
    title: str
    unit_system: str
    currency: str
    site: SiteMap
    beds: tuple[BedMap, ...]
    rows: tuple[Row, ...]
    laterals: tuple[Lateral, ...]
    headers: tuple[Header, ...]
    mainline: tuple[MainlinePart, ...]
    valves: tuple[Valve, ...]
    zones: tuple[Zone, ...]
    pieces: tuple[Piece, ...]
    rolls: tuple[RollCuts, ...]
    bill: tuple[BillLine, ...]
    head_units: tuple[HeadUnit, ...]
    not_watered: tuple[str, ...]
    """stretches of row left out, and why"""
    warnings: tuple[str, ...]
    assumptions: tuple[str, ...]
    """values the scenario left open"""
    alternatives: tuple[Alternative, ...]
    certificate: Certificate

    def goal(self, name: str) -> int:
        """Return the value reached for the goal of this name.

        Raises:
            KeyError: no goal has this name.
        """
        return {goal.name: goal.value for goal in self.certificate.goals}[name]


@dataclass(frozen=True)
class Lever:
    """A change that would make the impossible possible."""

    change: str
    amount: str
    field_path: str
    """where in the scenario"""
    new_value: str


@dataclass(frozen=True)
class Outcome:
    """What a design run came to."""

    status: Status
    plan: Plan | None
    reasons: tuple[str, ...] = ()
    """why nothing fits, in the user's units"""
    levers: tuple[Lever, ...] = ()
    ruled_out: tuple[tuple[str, int], ...] = field(default=())

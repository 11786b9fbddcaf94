"""Everything a scenario file can say; the text under a field is its documentation.

Quantities are texts with a unit in the file and SI numbers here: lengths [m], flows [m3/s], pressures as head of
water [m], angles [rad], shares [1]; prices are hundredths of the currency [ct].
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BeforeValidator, Field, model_validator

from optimizer import units
from optimizer.errors import QuantityError
from optimizer.scenario.part import Name, Part, Positive
from optimizer.scenario.quantities import (
    Angle,
    Circle,
    Flow,
    FlowOrBucket,
    FlowOrZero,
    Height,
    Length,
    LengthOrZero,
    Line,
    Place,
    Pressure,
    PressureOrZero,
    Price,
    Share,
    Size,
    Spot,
    Temperature,
    Velocity,
    Volume,
)
from optimizer.scenario.water_schema import Climate, CropWater, Hours, Timer
from optimizer.units import Dimension, System


class Outlined(Part):
    """A shape on the plan, given in one of the ways people measure one."""

    outline: tuple[Place, ...] | None = None
    """corners in order around the edge, each "x, y" """
    rectangle: Size | None = None
    """width x depth"""
    sides: tuple[Length, ...] | None = None
    """side lengths in order anticlockwise, with `diagonals`"""
    diagonals: tuple[Length, ...] = ()
    """distances from the first corner to the third, fourth ... but not the last corner"""
    at: Place = (0.0, 0.0)
    """first corner of a `rectangle` or of `sides`"""
    turned: Angle = 0.0
    """anticlockwise turn of a `rectangle` or of the first of the `sides`"""

    @model_validator(mode="after")
    def _one_shape(self) -> Outlined:
        given = [key for key in ("outline", "rectangle", "sides", "circle") if getattr(self, key, None) is not None]
        if len(given) != 1 and (given or self._needs_shape()):
            raise ValueError(f"give one of {', '.join(self._shape_keys())}; found {', '.join(given) or 'none'}")
        return self

    def _needs_shape(self) -> bool:
        return True

    @classmethod
    def _shape_keys(cls) -> list[str]:
        return [key for key in ("outline", "rectangle", "sides", "circle") if key in cls.model_fields]


class Site(Outlined):
    """The plot the beds lie on; its shape may be left out."""

    north: Angle = 0.0
    """direction of north on the plan, clockwise from the y axis"""
    slope: Share = 0.0
    """rise of the ground in its steepest direction"""
    rises_toward: Angle = 0.0
    """direction in which the ground rises, anticlockwise from the x axis"""
    spot_heights: tuple[Spot, ...] = ()
    """measured heights "x, y, z": a plane through three, a smooth surface through more"""

    def _needs_shape(self) -> bool:
        return False

    @model_validator(mode="after")
    def _one_ground(self) -> Site:
        if self.slope and self.spot_heights:
            raise ValueError("give either slope and rises_toward or spot_heights, not both")
        return self


class Obstacle(Outlined):
    """Something in the way."""

    name: Name
    circle: Circle | None = None
    """centre and radius "x, y, r" """
    keeps_out: Literal["rows", "tube", "both"] = "both"
    """what must keep out of it"""


class Path(Outlined):
    """Ground that is walked on: tube may cross it, and each crossing gets a cover."""

    name: Name


class Barrier(Part):
    """A line no tube can cross, such as a wall."""

    name: Name
    line: Line
    """places "x, y to x, y to ..." """


class Reading(Part):
    """Pressure at the tap while a known flow runs."""

    pressure: PressureOrZero
    flow: Flow


class HeadPart(Part):
    """A part between tap and mainline, in the order of flow."""

    name: Name
    kind: Literal["backflow device", "timer valve", "filter", "meter", "hose", "other"]
    loss: PressureOrZero
    """pressure lost in it at the flow `at_flow`; it grows with the square of the flow"""
    at_flow: Flow
    least_flow: FlowOrZero = 0.0
    """it does not work below this flow"""
    greatest_flow: Flow | None = None
    """it must not run above this flow"""
    rated_pressure: Pressure | None = None
    """it must not see more pressure"""
    price: Price = 0


class LeadIn(Part):
    """Hose or pipe from the tap to the head parts."""

    length: Length
    bore: Length
    roughness: LengthOrZero = 0.0000015
    """wall roughness; smooth plastic unless stated"""


class Regulator(Part):
    """Holds the pressure behind it while it gets enough in front."""

    name: Name
    holds: Pressure
    needs_above: PressureOrZero = 3.5
    """pressure it needs in front above the one it holds"""
    least_flow: FlowOrZero = 0.0
    greatest_flow: Flow | None = None
    price: Price = 0
    owned: bool = False
    """already there, so it costs nothing"""


class Supply(Part):
    """What all kinds of supply have in common."""

    at: Place
    """where the tap, pump or tank stands"""
    height: Height | None = None
    """height of the outlet on the same scale as the ground heights; the ground's height unless stated"""
    lead_in: LeadIn | None = None
    head_parts: tuple[HeadPart, ...] = ()
    regulators: tuple[Regulator, ...] = ()
    """to choose one from; none means none is fitted"""
    margin: Share = 0.75
    """share of the flow at working pressure that zones may use"""
    greatest_flow: Flow | None = None
    """limit of a meter or agreement"""
    volume_per_day: Volume | None = None
    """most water a day"""


class TapSupply(Supply):
    """A tap on a mains supply."""

    kind: Literal["tap"]
    static_pressure: Pressure
    """pressure with no water running"""
    open_flow: FlowOrBucket | None = None
    """flow of the open tap: a bucket test like "10 L in 24 s" or a flow"""
    readings: tuple[Reading, ...] = ()
    """pressures while known flows run, instead of a bucket test"""

    @model_validator(mode="after")
    def _one_measurement(self) -> TapSupply:
        if (self.open_flow is None) == (not self.readings):
            raise ValueError("give either open_flow (a bucket test) or readings")
        for reading in self.readings:
            if reading.pressure >= self.static_pressure:
                raise ValueError("a reading's pressure must be below static_pressure")
        return self


class PumpSupply(Supply):
    """A pump with points of its curve."""

    kind: Literal["pump"]
    curve: tuple[Reading, ...] = Field(min_length=1)
    """flows and pressures; a single point is held up to that flow"""
    least_flow: FlowOrZero = 0.0
    """a smaller flow makes the pump switch on and off"""


class TankSupply(Supply):
    """A tank that feeds by its height."""

    kind: Literal["tank"]
    outlet_height: Height
    """height of the outlet above the ground beside the tank"""
    water_depth: Length
    """depth of water above the outlet when full"""
    volume: Volume


AnySupply = Annotated[TapSupply | PumpSupply | TankSupply, Field(discriminator="kind")]


class Crop(Part):
    """Rows of one crop."""

    name: Name
    row_spacing: Length
    """least distance to the neighbouring row; beside another crop the larger of both counts"""
    rows: Positive | None = None
    """number of rows wanted"""
    row_length: Length | None = None
    """metres of row wanted, in as few rows as possible"""
    plants: Positive | None = None
    """number of plants wanted, with plant_spacing"""
    plant_spacing: Length | None = None
    fill: bool = False
    """as many rows as fit in what the other crops leave"""
    lines_per_row: Annotated[int, Field(strict=True, ge=1, le=4)] = 1
    """emitter lines in each row"""
    line_spacing: Length = 0.3
    """distance between the lines of one row"""
    beside: tuple[Name, ...] = ()
    """crops whose blocks must be next to this one"""
    apart_from: tuple[Name, ...] = ()
    """crops with at least one other crop between"""
    tall: bool = False
    """stands on the pole side of the others, so that it does not shade them, unless rows run exactly north-south"""
    planted_rows: tuple[Line, ...] = ()
    """rows that already stand: "x, y to x, y"; they count toward what is wanted"""
    own_zone: bool = False
    """does not share a zone with other crops"""
    direct_seeded: bool = False
    """sown in place, so the surface between emitters must get wet"""
    water: CropWater | None = None
    """when it grows and what it asks of the water; needed with [climate]"""

    @model_validator(mode="after")
    def _one_request(self) -> Crop:
        wanted = [key for key in ("rows", "row_length", "plants") if getattr(self, key) is not None]
        wanted += ["fill"] if self.fill else []
        if len(wanted) != 1 and not (self.planted_rows and not wanted):
            raise ValueError(f"give one of rows, row_length, plants, fill = true; found {', '.join(wanted) or 'none'}")
        if self.plants is not None and self.plant_spacing is None:
            raise ValueError("plants needs plant_spacing")
        if (self.lines_per_row - 1) * self.line_spacing >= self.row_spacing:
            raise ValueError("the lines of a row are wider than row_spacing")
        return self


def _read_direction(value: object) -> object:
    if value in ("along", "across"):
        return value
    if isinstance(value, str):
        try:
            return units.parse(value, Dimension.ANGLE)
        except QuantityError as error:
            raise ValueError(f"{error}, or the words along, across") from None
    raise ValueError("write along, across or an angle like '30 deg'")


Direction = Annotated[Literal["along", "across"] | float, BeforeValidator(_read_direction)]


class Bed(Outlined):
    """A planted area with parallel rows."""

    name: Name
    directions: tuple[Direction, ...] = Field(default=("along", "across"), min_length=1)
    """row directions to choose from: along or across the longest side, or an angle anticlockwise from the x axis"""
    edge_margin: LengthOrZero = 0.15
    """least distance of a row from the outline"""
    row_end_margin: LengthOrZero = 0.15
    """distance of row ends from the outline, measured along the row"""
    raised: LengthOrZero = 0.0
    """height of the bed above the ground"""
    soil: Name | None = None
    """texture such as "sandy loam", or "raised-bed mix"; needed with [climate]"""
    root_limit: Length | None = None
    """depth roots cannot pass, as under a framed bed"""
    lines: tuple[Name, ...] = ()
    """emitter lines that may be laid in it; all unless stated"""
    crops: tuple[Crop, ...] = Field(min_length=1)


class Roll(Part):
    """A roll as it is sold."""

    length: Length
    price: Price
    available: Positive | None = None
    """how many can be had; no limit unless stated"""


class Tubing(Part):
    """What emitter lines and blank tubes have in common."""

    name: Name
    bore: Length
    """inside diameter"""
    outside: Length | None = None
    """outside diameter, printed on the shopping list"""
    roughness: LengthOrZero = 0.0000015
    """wall roughness; smooth polyethylene unless stated"""
    greatest_pressure: Pressure
    """rated pressure of the wall and its fittings"""
    rolls: tuple[Roll, ...] = ()
    owned: tuple[Length, ...] = ()
    """pieces already there"""

    @model_validator(mode="after")
    def _some_stock(self) -> Tubing:
        if not self.rolls and not self.owned:
            raise ValueError("give rolls to buy or owned pieces")
        return self


class Compensating(Part):
    """Range over which an emitter holds its flow."""

    opens: Pressure
    up_to: Pressure

    @model_validator(mode="after")
    def _in_order(self) -> Compensating:
        if self.opens >= self.up_to:
            raise ValueError("opens must be below up_to")
        return self


class EmitterLine(Tubing):
    """Tubing with built-in emitters: tape or dripline."""

    spacing: Length
    """distance between emitters"""
    flow: str
    """of one emitter like "2 L/h", or of the line like "0.22 gal/min per 100 ft" """
    at_pressure: Pressure
    """pressure at which it gives that flow"""
    exponent: Annotated[float, Field(ge=0.0, le=1.0, allow_inf_nan=False)] = 0.5
    """x of the emitter law q = k h^x; about 0.5 for turbulent emitters, 1 for porous ones; 0 within the range of a
    compensating one, unless stated"""
    cv: Annotated[float, Field(ge=0.0, le=0.5, allow_inf_nan=False)] = 0.05
    """manufacturer's coefficient of variation"""
    compensating: Compensating | None = None
    least_pressure: PressureOrZero = 0.0
    """every emitter must get at least this"""
    longest_run: Length | None = None
    """limit on the label, if there is one"""
    emitter_loss: LengthOrZero = 0.0
    """loss of one built-in emitter, as length of plain tube"""

    @property
    def law_exponent(self) -> float:
        """Exponent x of the emitter law, for compensating emitters within their range."""
        flat = self.compensating is not None and "exponent" not in self.model_fields_set
        return 0.0 if flat else self.exponent

    @property
    def emitter_flow(self) -> float:
        """Flow of one emitter at `at_pressure` [m3/s]."""
        if " per " in self.flow:
            return units.parse_flow_per_length(self.flow) * self.spacing
        return units.parse(self.flow, Dimension.FLOW)

    @model_validator(mode="after")
    def _flow_reads(self) -> EmitterLine:
        try:
            flow = self.emitter_flow
        except QuantityError as error:
            raise ValueError(f"flow: {error}") from None
        if flow <= 0.0:
            raise ValueError("flow: must be above zero")
        return self


class BlankTube(Tubing):
    """Tubing without emitters, for headers and mainline."""


FittingKind = Literal[
    "take-off",
    "end closure",
    "line coupler",
    "bypass adapter",
    "tube coupler",
    "tee",
    "elbow",
    "header end",
    "zone valve",
    "row shut-off",
    "tube cover",
    "stake",
    "plug",
]


class Fitting(Part):
    """A fitting and what it costs."""

    kind: FittingKind
    price: Price
    fits: tuple[Name, ...] = ()
    """names of emitter lines or blank tubes; all unless stated"""
    size: str = ""
    """what to measure or read on the packet"""


class Limits(Part):
    """What every plan must hold."""

    flow_variation: Share | None = None
    """(greatest - least) / greatest emitter flow within a zone; 10 % unless stated here or as emission_uniformity"""
    emission_uniformity: Share | None = None
    """design emission uniformity wanted in each zone"""
    velocity: Velocity = 1.5
    """greatest velocity in blank tube"""
    shortest_row: LengthOrZero = 0.5
    """shorter stretches of row get no lateral and are listed"""
    usable_offcut: Length = 3.0
    """leftovers of at least this length are kept, shorter ones are waste"""
    joints_per_lateral: Annotated[int, Field(strict=True, ge=0, le=5)] = 0
    """couplers allowed within one lateral"""
    shortest_joined_part: Length = 1.0
    """shortest part of a joined lateral or tube"""
    zones_at_most: Positive | None = None
    """greatest number of zones; the outlets of a timer count as well"""
    zoning: Literal["split headers", "row shut-offs", "either"] = "split headers"
    """how rows are parted into zones: headers split into stretches with a valve each; or whole headers with a shut-off
    on every lateral, opened by hand, so that any rows may run together; or whichever is better. With several
    beds headers are split"""
    valves: Literal["either", "at the tap", "in the field"] = "either"
    """with several beds: where zone valves stand; at the tap each zone has a tube of its own, in the field one tube
    leads to all of them; or whichever is better"""
    valve_per_bed: bool = False
    """with several beds: a valve at the inlet of every header, so that each bed can rest"""
    share_headers: bool = True
    """with several beds: whether level beds in a line may share one header where that is better"""
    beds_alike: bool = False
    """with several beds: beds of one size are laid out alike, so that any line fits any of them"""
    mainline_loss: Share = 0.2
    """with several beds: greatest share of the pressure behind the head parts that mainline may lose"""
    minutes_tolerance: Share = 0.2
    """crops whose run times differ by more than this share of the longer one do not share a zone; with [climate]"""
    share_zones_anyway: bool = False
    """let crops share a zone however much their run times differ"""
    row_step: Length = 0.05
    """grid on which rows are placed"""
    header_step: Length = 1.0
    """grid of header places along the rows"""
    headers_at_most: Annotated[int, Field(strict=True, ge=1, le=4)] = 1
    """headers side by side in one bed"""
    take_off_loss: Annotated[float, Field(ge=0.0, le=50.0, allow_inf_nan=False)] = 1.0
    """loss of a take-off, in velocity heads of the emitter line"""
    header_tail: LengthOrZero = 0.1
    """tube left beyond the last take-off at each end of a header, for its fitting"""
    tube_step: Length | None = None
    """blank tube is cut on multiples of this; 10 cm or 6 in unless stated"""
    fitting_clearance: LengthOrZero = 0.1
    """distance kept from obstacles by blank tube led around them"""
    water_temperature: Temperature = 20.0


class Scenario(Part):
    """A garden to plan: what is there, what is wanted, what can be had."""

    title: Name
    units: System
    """metric or us: how results are written"""
    currency: Annotated[str, Field(min_length=1, max_length=4)] = "EUR"
    site: Site = Site()
    obstacles: tuple[Obstacle, ...] = ()
    paths: tuple[Path, ...] = ()
    barriers: tuple[Barrier, ...] = ()
    supply: AnySupply
    beds: tuple[Bed, ...] = Field(min_length=1)
    emitter_lines: tuple[EmitterLine, ...] = Field(min_length=1)
    blank_tubes: tuple[BlankTube, ...] = Field(min_length=1)
    fittings: tuple[Fitting, ...] = ()
    limits: Limits = Limits()
    climate: Climate | None = None
    """for how long to run it; crops that need different minutes then get zones of their own"""
    timer: Timer | None = None
    hours: tuple[Hours, ...] = ()
    """when water may run; any time unless stated"""

    @property
    def most_zones(self) -> int | None:
        """Greatest number of zones: the stated limit and the outlets of the timer, whichever is less."""
        outlets = self.timer.outlets if self.timer is not None else None
        stated = [most for most in (self.limits.zones_at_most, outlets) if most is not None]
        return min(stated, default=None)

"""What a cutting task and its answer consist of: whole units, micrometres, cents and ids; nothing about gardens."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from enum import Enum


def _require(true: bool, message: str) -> None:
    if not true:
        raise ValueError(message)


@dataclass(frozen=True)
class Stock:
    """A roll as sold, or an owned piece.

    Args:
        id: Name, unique within the task.
        length_um: Length of one roll or piece [um].
        price_ct: Price of one roll; 0 for owned pieces [ct].
        available: How many can be had; None for as many as wanted [-].
        owned: True for a piece that need not be bought [-].
    """

    id: str
    length_um: int
    price_ct: int
    available: int | None
    owned: bool = False

    def __post_init__(self) -> None:
        _require(self.length_um > 0, f"stock {self.id}: length must be positive, not {self.length_um} um")
        _require(self.price_ct >= 0, f"stock {self.id}: price must not be negative, not {self.price_ct} ct")
        _require(self.available is None or self.available >= 0, f"stock {self.id}: count must not be negative")
        _require(not self.owned or self.price_ct == 0, f"stock {self.id}: an owned piece has no price")
        _require(not self.owned or self.available is not None, f"stock {self.id}: owned pieces are counted")


@dataclass(frozen=True)
class Demand:
    """Equal pieces wanted.

    Args:
        id: Name, unique within the task.
        units: Length of each piece in whole units [-].
        count: How many are wanted [-].
    """

    id: str
    units: int
    count: int

    def __post_init__(self) -> None:
        _require(self.units > 0, f"demand {self.id}: length must be at least one unit, not {self.units}")
        _require(self.count >= 0, f"demand {self.id}: count must not be negative, not {self.count}")


@dataclass(frozen=True)
class CuttingTask:
    """Pieces to be cut out of stock.

    Args:
        unit_um: Every cut and joint sits on whole multiples of this from the roll's start [um].
        stocks: Rolls and owned pieces to cut from.
        demands: Pieces wanted.
        usable_um: A leftover at least this long is a usable offcut, a shorter one is waste [um].
        coupler_ct: Price of one coupler [ct].
        joints_per_piece: Most couplers within one piece; 0 forbids joints [-].
        least_part_units: Shortest part of a jointed piece, in units [-].
    """

    unit_um: int
    stocks: tuple[Stock, ...]
    demands: tuple[Demand, ...]
    usable_um: int
    coupler_ct: int = 0
    joints_per_piece: int = 0
    least_part_units: int = 1

    def __post_init__(self) -> None:
        _require(self.unit_um > 0, f"the unit must be positive, not {self.unit_um} um")
        _require(self.usable_um >= 0, f"the usable length must not be negative, not {self.usable_um} um")
        _require(self.coupler_ct >= 0, f"the coupler price must not be negative, not {self.coupler_ct} ct")
        _require(self.joints_per_piece >= 0, f"joints per piece must not be negative, not {self.joints_per_piece}")
        _require(self.least_part_units >= 1, f"the least part must be one unit or more, not {self.least_part_units}")
        for kind, ids in (("stock", [s.id for s in self.stocks]), ("demand", [d.id for d in self.demands])):
            twice = sorted(name for name, count in Counter(ids).items() if count > 1)
            _require(not twice, f"{kind} named twice: {', '.join(twice)}")


@dataclass(frozen=True, order=True)
class Cut:
    """One part of one wanted piece, cut from a roll.

    Args:
        demand: Id of the demand.
        copy: Which of its equal pieces, from 0 [-].
        part: Which part of that piece, from 0; a piece without joints is part 0 alone [-].
        units: Length in units [-].
    """

    demand: str
    copy: int
    part: int
    units: int


@dataclass(frozen=True)
class RollUse:
    """One roll or owned piece that is cut, with its cuts from the start of the roll on.

    Args:
        stock: Id of the stock.
        copy: Which of its equal rolls, from 0 [-].
        cuts: Parts in cutting order.
        leftover_um: What remains at the end of the roll [um].
    """

    stock: str
    copy: int
    cuts: tuple[Cut, ...]
    leftover_um: int


@dataclass(frozen=True)
class CuttingPlan:
    """Rolls to use and what they cost.

    Args:
        uses: Rolls cut, owned pieces first.
        money_ct: Rolls bought and couplers, at their prices [ct].
        waste_um: Sum of leftovers too short to be usable [um].
        couplers: Joints made [-].
    """

    uses: tuple[RollUse, ...]
    money_ct: int
    waste_um: int
    couplers: int

    @property
    def goals(self) -> tuple[int, int, int]:
        """Money, waste and couplers in the order they are compared."""
        return self.money_ct, self.waste_um, self.couplers

    def bought(self, stock: str) -> int:
        """How many rolls of this stock the plan cuts.

        Args:
            stock: Id of the stock.
        """
        return sum(use.stock == stock for use in self.uses)


class CuttingStatus(Enum):
    """What is known about an outcome; each word claims only what was proven."""

    PROVEN_BEST = "proven best"
    BEST_FOUND = "best found"
    IMPOSSIBLE = "proven impossible"
    NOTHING_FOUND = "nothing found"


@dataclass(frozen=True)
class Limits:
    """How much may be spent on one task.

    Args:
        seconds: Wall-clock limit; None for none. With one, an outcome may depend on the machine [s].
        work: Repeatable limit: one is about one second of one core, counted in solver steps [-].
        seed: Seed of every solver run [-].
    """

    seconds: float | None = None
    work: float = 60.0
    seed: int = 1

    def __post_init__(self) -> None:
        _require(self.seconds is None or self.seconds > 0, f"seconds must be positive, not {self.seconds}")
        _require(self.work >= 0, f"work must not be negative, not {self.work}")
        _require(0 <= self.seed < 2**31, f"the seed must lie in 0 .. 2^31 - 1, not {self.seed}")


@dataclass(frozen=True)
class CuttingOutcome:
    """Answer to a task: a plan if one was found, and what was proven about it.

    Args:
        status: What is known.
        plan: Best plan found; None without one.
        money_bound_ct: No plan costs less; None if the task is impossible [ct].
        waste_bound_um: No plan of the least money wastes less; None while the least money is unproven [um].
        couplers_bound: No plan of least money and waste has fewer; None while either is unproven [-].
        method: What proved the goals, in order, for the report.
        limits: Limits the search ran under.
        nodes: Branch-and-bound nodes used [-].
        repeatable: False if a wall-clock limit ended the search.
    """

    status: CuttingStatus
    plan: CuttingPlan | None
    money_bound_ct: int | None
    waste_bound_um: int | None
    couplers_bound: int | None
    method: str
    limits: Limits
    nodes: int
    repeatable: bool

    @property
    def uses(self) -> tuple[RollUse, ...]:
        """Rolls of the plan; none without a plan."""
        return self.plan.uses if self.plan else ()

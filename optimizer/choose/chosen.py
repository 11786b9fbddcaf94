"""What a search hands to the building of the plan: the garden as it is laid, how it is cut, and what was proven."""

from __future__ import annotations

from dataclasses import dataclass

from optimizer.choose.evaluate import Evaluated
from optimizer.choose.goals import Goals
from optimizer.cutting import CuttingOutcome
from optimizer.plan import Status
from optimizer.problem.bill import laid_fittings
from optimizer.problem.counts import FittingCount, added, gathered
from optimizer.problem.laying import Laying
from optimizer.scenario.schema import BlankTube, EmitterLine
from optimizer.units import micrometres


@dataclass(frozen=True)
class ProductCut:
    """How one product is cut.

    Args:
        product: emitter line or blank tube.
        unit_um: cutting unit [um].
        outcome: rolls, cuts and what was proven of them.
    """

    product: EmitterLine | BlankTube
    unit_um: int
    outcome: CuttingOutcome

    @property
    def couplers(self) -> int:
        """Couplers in all pieces."""
        return self.outcome.plan.couplers if self.outcome.plan is not None else 0


@dataclass(frozen=True, eq=False)
class Chosen:
    """The layout a search settled on."""

    laying: Laying
    goals: Goals
    cuts: tuple[ProductCut, ...]
    """emitter lines, then blank tubes"""

    @property
    def fittings(self) -> FittingCount:
        """Every fitting, couplers included."""
        joints = [
            (
                "line coupler" if isinstance(cut.product, EmitterLine) else "tube coupler",
                cut.product.name,
                cut.couplers,
            )
            for cut in self.cuts
        ]
        return added(laid_fittings(self.laying), gathered(joints))  # type: ignore[arg-type]


@dataclass(frozen=True)
class Proof:
    """What was compared, and what was proven about the layout chosen.

    Args:
        status: in words.
        bound: nothing among the choices is better than this.
        choice_set: what was open and over which values.
        designs: how many designs there were.
        solved: how many were worked out to the last cut.
        ruled_out: why designs fell out, and how many.
        seed: of every solver run.
        seconds: limit of the search; None for none [s].
        repeatable: whether the same scenario gives the same plan.
    """

    status: Status
    bound: Goals
    choice_set: tuple[tuple[str, str], ...]
    designs: int
    solved: int
    ruled_out: tuple[tuple[str, int], ...]
    seed: int
    seconds: float | None
    repeatable: bool


def chosen_design(found: Evaluated) -> Chosen:
    """Return the evaluated design of one bed as it is laid and cut."""
    case = found.case
    cuts = (
        ProductCut(case.line, micrometres(case.line.spacing), found.line),
        ProductCut(case.tube, case.tube_step_um, found.tube),
    )
    return Chosen(found.laying, found.goals, cuts)

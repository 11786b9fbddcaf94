"""The whole choice of a tiny bed as one CP-SAT model: designs, zones, mainline and cutting at once.

Designs are literals; a zone is a column whose feasibility comes from the exact network; neighbouring zones are joined
by arcs that carry the mainline between their inlets; rolls of all products give units to all pieces. The goals are
minimised one after another. One worker, a fixed seed and no wall clock, so that a run repeats.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field
from itertools import pairwise

from enumeration import layouts
from ortools.sat.python import cp_model
from referee_cuts import Shelf
from referee_layout import Layout
from referee_water import EDGE, HOLDS, Water, assembly, stands

from optimizer.scenario.schema import Scenario

STAKE_UM = 1_500_000


class OnEdgeError(Exception):
    """A figure lies so close to its limit that readings of it may differ."""


@dataclass
class Model:
    """Terms of the goals, and how many pieces of each product and length are cut when which literal is true."""

    cp: cp_model.CpModel = field(default_factory=cp_model.CpModel)
    missing: list = field(default_factory=list)
    money: list = field(default_factory=list)
    waste: list = field(default_factory=list)
    fittings: list = field(default_factory=list)
    columns: list[tuple[object, float]] = field(default_factory=list)
    """zone literals with their flow variation in hundredths of a per cent"""
    pieces: dict[tuple[str, Shelf], dict[int, list]] = field(
        default_factory=lambda: defaultdict(lambda: defaultdict(list))
    )

    def cut(self, which: str, shelf: Shelf, units: int, literal) -> None:
        """Cut one piece if a literal is true."""
        self.pieces[which, shelf][units].append(literal)
        if which != "line":
            self.waste.append(shelf.unit_um * units * literal)


def build(scenario: Scenario) -> Model:
    """Return the model of a scenario with one bed and no paths."""
    model, chosen = Model(), []
    for layout in layouts(scenario):
        longest = layout.line.longest_run
        metres = max(sum(part.spacings for part in item.parts) for item in layout.laterals) * layout.line.spacing
        stand = stands(layout, assembly(scenario, layout.regulator))
        if stand == EDGE:
            raise OnEdgeError
        if stand == HOLDS and (longest is None or metres <= longest + 1e-6):
            chosen.append(_design(model, layout, len(chosen)))
    model.cp.add_exactly_one(chosen)
    for (which, shelf), pieces in model.pieces.items():
        _cutting(model, which, shelf, pieces)
    return model


def _design(model: Model, layout: Layout, number: int):
    """Add a design: what it needs whatever its zones, its columns and the arcs between them."""
    on = model.cp.new_bool_var(f"design {number}")
    line_shelf, tube_shelf = layout.shelf("line"), layout.shelf("tube")
    for units in layout.line_pieces():
        model.cut("line", line_shelf, units, on)
    for length in layout.bypasses_um():
        model.cut(layout.tube.name, tube_shelf, layout.units(length), on)
    # Fittings of one zone a header, less what the zones and the mainline add, are those of the laterals.
    whole = tuple(((0, len(layout.plan.rows) - 1),) for _ in layout.headers)
    laterals = layout.fittings(whole)
    for header in range(len(layout.headers)):
        for kind, count in _zone_fittings(layout, header, whole[header][0]):
            laterals[kind, layout.tube.name] -= count
    laterals["tee", layout.tube.name] -= len(layout.headers) - 1
    laterals["stake", layout.tube.name] -= -(-sum(layout.mainline_units(whole)) * layout.step_um // STAKE_UM) + 1
    model.money.append((layout.fitting_money(laterals) + layout.head_money()) * on)
    model.fittings.append(sum(count for (kind, _), count in laterals.items() if kind != "stake") * on)
    model.missing.append(layout.missing_ppm() * on)
    zones, mainline = [], []
    for header in range(len(layout.headers)):
        _header(model, layout, header, on, zones, mainline)
    tee = layout.price("tee", layout.tube.name)
    model.money.append(tee * (sum(zones) - on))
    model.fittings.append(sum(zones) - on)
    _mainline_stakes(model, layout, on, mainline)
    if layout.scenario.limits.zones_at_most is not None:
        model.cp.add(sum(zones) <= layout.scenario.limits.zones_at_most)
    return on


def _zone_fittings(layout: Layout, header: int, zone: tuple[int, int]) -> list[tuple[str, int]]:
    way = layout.headers[header]
    first, last, fed = way.ends(zone)
    inside = first < fed < last
    span_um = way.at_um[last] - way.at_um[first]
    ends = [("tee", 1), ("header end", 2)] if inside else [("elbow", 1), ("header end", 1)]
    turns = ("elbow", layout.header_elbows(header, zone))
    return [("zone valve", 1), *ends, turns, ("stake", -(-span_um // STAKE_UM) + 1)]


def _header(model: Model, layout: Layout, header: int, on, zones: list, mainline: list) -> None:
    """Add the zones of one header as a path of columns from its first row to its last."""
    water, way, rows = Water(layout), layout.headers[header], len(layout.plan.rows)
    crops = layout.bed.crops
    alone = [row.crop if crops[row.crop].own_zone else -1 for row in layout.plan.rows]
    shelf, tube = layout.shelf("tube"), layout.tube.name
    columns = {}
    for zone in ((a, b) for a in range(rows) for b in range(a, rows) if len(set(alone[a : b + 1])) == 1):
        judged = water.judge(header, zone)
        if judged.verdict == EDGE:
            raise OnEdgeError
        if judged.verdict != HOLDS:
            continue
        column = columns[zone] = model.cp.new_bool_var("")
        zones.append(column)
        model.columns.append((column, judged.unevenness))
        for units in layout.header_units(header, zone):
            model.cut(tube, shelf, units, column)
        for kind, count in _zone_fittings(layout, header, zone):
            model.money.append(count * layout.price(kind, tube) * column)
            model.fittings.append(count * column if kind != "stake" else 0)
    for row in range(rows):
        model.cp.add(sum(column for (a, b), column in columns.items() if a <= row <= b) == on)
    approach = layout.units(layout.approach_um(header))
    model.cut(tube, shelf, approach, on)
    mainline.append((approach, on))
    for one, two in ((one, two) for one in columns for two in columns if one[1] + 1 == two[0]):
        arc = model.cp.new_bool_var("")
        model.cp.add_implication(arc, columns[one])
        model.cp.add_implication(arc, columns[two])
        model.cp.add(arc >= columns[one] + columns[two] - 1)
        inlets = way.ends(one)[2], way.ends(two)[2]
        turns = layout.turns_between(header, *inlets)
        model.money.append(turns * layout.price("elbow", tube) * arc)
        model.fittings.append(turns * arc)
        units = layout.units(abs(way.at_um[inlets[1]] - way.at_um[inlets[0]]))
        model.cut(tube, shelf, units, arc)
        mainline.append((units, arc))


def _mainline_stakes(model: Model, layout: Layout, on, mainline: list) -> None:
    stakes = model.cp.new_int_var(0, 1000, "")
    model.cp.add(STAKE_UM * stakes >= layout.step_um * sum(units * literal for units, literal in mainline))
    model.money.append(layout.price("stake", layout.tube.name) * (stakes + on))


def _cutting(model: Model, which: str, shelf: Shelf, pieces: dict[int, list]) -> None:
    """Cut pieces that are there only when their literals are: every roll gives units to every copy of a piece."""
    cp, copies = model.cp, []
    for units, literals in pieces.items():
        slots = [cp.new_bool_var("") for _ in range(_most_at_once(model, literals))]
        cp.add(sum(slots) == sum(literals))
        for one, two in pairwise(slots):
            cp.add_implication(two, one)
        copies += [(units, slot) for slot in slots]
    total = _most_at_once(model, [units * literal for units, literals in pieces.items() for literal in literals])
    bins = [(length, 0) for length in shelf.owned]
    for length, price, available in shelf.rolls:
        # Rolls of one kind more than half of which are not half full could be packed into fewer.
        enough = min(2 * total * shelf.unit_um // length + 1, len(copies) * (shelf.joints + 1))
        bins += [(length, price)] * min(enough if available is None else available, enough)
    parts = [[cp.new_int_var(0, units, "") for units, _ in copies] for _ in bins]
    gives = [[cp.new_bool_var("") for _ in copies] for _ in bins]
    for r, _ in enumerate(bins):
        for i, (units, _) in enumerate(copies):
            least = min(shelf.least_part, units) if shelf.joints else units
            cp.add(parts[r][i] >= least).only_enforce_if(gives[r][i])
            cp.add(parts[r][i] == 0).only_enforce_if(~gives[r][i])
    for i, (units, slot) in enumerate(copies):
        cp.add(sum(parts[r][i] for r in range(len(bins))) == units * slot)
        cp.add(sum(gives[r][i] for r in range(len(bins))) <= shelf.joints + 1)
    for r, (length, price) in enumerate(bins):
        use, short, waste = cp.new_bool_var(""), cp.new_bool_var(""), cp.new_int_var(0, length, "")
        cp.add_max_equality(use, gives[r])
        left = length - shelf.unit_um * sum(parts[r])
        cp.add(left >= 0)
        cp.add(left >= shelf.usable_um).only_enforce_if(~short)
        cp.add(waste >= left).only_enforce_if([use, short])
        model.money.append(price * use)
        model.waste.append(waste)
        if r and bins[r - 1] == bins[r]:
            cp.add(sum(parts[r - 1]) >= sum(parts[r]))
    couplers = sum(give for row in gives for give in row) - sum(slot for _, slot in copies)
    model.money.append(shelf.coupler_ct * couplers)
    model.fittings.append(couplers)


def _most_at_once(model: Model, literals: list) -> int:
    """Return how many of some literals can be true together: a design's, its columns' and its arcs'."""
    probe = model.cp.clone()
    probe.maximize(sum(literals))
    return round(_solved(probe).objective_value)


def _solved(cp: cp_model.CpModel) -> cp_model.CpSolver:
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = 1
    solver.parameters.presolve_inclusion_work_limit = 0
    solver.parameters.max_deterministic_time = 60.0
    status = solver.solve(cp)
    if status == cp_model.INFEASIBLE:
        raise NothingFitsError
    if status != cp_model.OPTIMAL:
        raise AssertionError(f"the second solver ended as {solver.status_name(status)}")
    return solver


class NothingFitsError(Exception):
    """The model has no solution."""


def best_goals(scenario: Scenario) -> tuple[int, int, int, int, float] | None:
    """Return the lexicographic optimum; None if nothing fits.

    Raises:
        OnEdgeError: a zone's figure lies on the edge of a limit.
    """
    reached = []
    try:
        model = build(scenario)
        for terms in (model.missing, model.money, model.waste, model.fittings):
            model.cp.minimize(sum(terms))
            reached.append(round(_solved(model.cp).objective_value))
            model.cp.add(sum(terms) <= reached[-1])
        worst = model.cp.new_int_var(0, 10**7, "")
        for column, unevenness in model.columns:
            model.cp.add(worst >= round(100 * unevenness)).only_enforce_if(column)
        model.cp.minimize(worst)
        return (*reached, _solved(model.cp).objective_value / 100)
    except NothingFitsError:
        return None

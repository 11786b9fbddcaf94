"""All rules in order, and the one function that applies them."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from optimizer.errors import HydraulicError
from optimizer.plan import Plan
from optimizer.scenario import Scenario
from optimizer.verification import (
    beds,
    bill,
    cuts,
    grounds,
    laterals,
    mainwater,
    maps,
    references,
    rows,
    thirst,
    tubes,
    valves,
    water,
    ways,
    zones,
)
from optimizer.verification.facts import Facts
from optimizer.verification.findings import Finding, Verdict, Verdicts, Verification, ZoneFigures, findings_of

Rule = tuple[str, Callable[[Facts], Verdicts]]

FIRST: tuple[Rule, ...] = (
    ("ids", references.ids_once),
    ("references", references.references),
    ("shapes", references.shapes),
)
"""What all other rules rely on."""

RULES: tuple[Rule, ...] = (
    ("labels", maps.labels),
    ("ground as in the scenario", maps.ground_maps),
    ("all beds", maps.all_beds),
    ("row directions", maps.directions),
    ("rows along their direction", rows.row_direction),
    ("rows inside their bed", rows.inside_bed),
    ("rows clear of obstacles", rows.clear_of_obstacles),
    ("row spacing", rows.row_spacing),
    ("rows as their crop wants", rows.crop_words),
    ("planted rows", rows.planted_rows),
    ("lines in their row", rows.in_their_row),
    ("rows watered", rows.all_watered),
    ("planted length", rows.planted_length),
    ("neighbours wished", rows.wishes),
    ("whole emitter spacings", laterals.whole_spacings),
    ("lateral sums", laterals.lateral_sums),
    ("lateral paths", laterals.lateral_paths),
    ("stretch order", laterals.stretch_order),
    ("longest run", laterals.longest_run),
    ("lines the bed allows", beds.lines_allowed),
    ("beds alike", beds.alike),
    ("bypasses", laterals.bypasses),
    ("header lengths", tubes.header_lengths),
    ("header tees", tubes.header_tees),
    ("take-off places", tubes.take_off_places),
    ("one take-off each", tubes.one_take_off),
    ("sides of the header", tubes.sides),
    ("headers shared", beds.headers_shared),
    ("headers in their beds", grounds.headers_in_their_beds),
    ("mainline lengths", tubes.mainline_lengths),
    ("never wider downstream", tubes.never_wider_downstream),
    ("mainline leads on", ways.leads_on),
    ("mainline off beds", grounds.mainline_off_beds),
    ("on the site", grounds.on_the_site),
    ("tube keep-outs", tubes.off_keep_outs),
    ("barriers", tubes.off_barriers),
    ("crossings", tubes.crossings_listed),
    ("fed from the supply", tubes.fed_from_source),
    ("one zone each", zones.one_zone),
    ("zone lists", zones.zone_lists),
    ("header zones", zones.header_zones),
    ("one valve on each way", valves.one_on_each_way),
    ("valves open their zone", valves.opens_own_zones),
    ("zones opened alone", valves.opened_alone),
    ("valve places", valves.at_its_tube),
    ("valve for each bed", valves.one_per_bed),
    ("valves where wished", valves.stand_where_wished),
    ("zone count", zones.zone_count),
    ("own zone", zones.own_zone),
    ("minutes alike", thirst.minutes_alike),
    ("rows of a header together", zones.neighbours),
    ("cut once", cuts.cut_once),
    ("roll sums", cuts.roll_sums),
    ("running marks", cuts.running_marks),
    ("stock", cuts.stock),
    ("owned pieces", cuts.owned_pieces),
    ("leftovers", cuts.leftovers),
    ("joints", cuts.joints),
    ("cuts between emitters", cuts.between_emitters),
    ("pieces serve", cuts.serves),
    ("fitting quantities", bill.fitting_quantities),
    ("fitting prices", bill.fitting_prices),
    ("line costs", bill.line_costs),
    ("tube quantities", bill.tube_quantities),
    ("head parts", bill.head_parts),
    ("requests goal", bill.requests_goal),
    ("money goal", bill.money_goal),
    ("waste goal", bill.waste_goal),
    ("fittings goal", bill.fittings_goal),
    ("proofs", bill.proofs),
)

WATER_RULES: tuple[tuple[str, Callable[[water.ZoneRun], Verdicts]], ...] = (
    ("emitter flows", water.emitter_flows),
    ("emitter places", water.emitter_places),
    ("stored network", water.stored_network),
    ("zone figures", water.zone_figures),
    ("flow sums", water.flow_sums),
)
"""What the plan says of a zone."""

LIMIT_RULES: tuple[tuple[str, Callable[[water.ZoneRun], Verdicts]], ...] = (
    ("usable flow", water.usable_flows),
    ("flow bands", water.flow_bands),
    ("emitter pressures", water.emitter_pressures),
    ("evenness", water.evenness),
    ("velocity", water.velocities),
    ("connection at the supply", mainwater.connection),
    ("mainline loss", mainwater.losses),
    ("standing pressure", water.standing_pressure),
)

SOLVED = "zones solved"
VARIATION = "flow variation goal"


class _Ledger:
    """Findings and counts, rule by rule."""

    def __init__(self) -> None:
        self.findings: list[Finding] = []
        self.counts: dict[str, int] = {}

    def add(self, rule: str, verdicts: Sequence[Verdict]) -> None:
        self.findings += findings_of(rule, verdicts)
        self.counts[rule] = self.counts.get(rule, 0) + len(verdicts)

    def closed(self, figures: Sequence[ZoneFigures]) -> Verification:
        return Verification(tuple(self.findings), tuple(self.counts.items()), tuple(figures))


def verify(plan: Plan, scenario: Scenario) -> Verification:
    """Check a finished plan against its scenario, everything computed again from the two alone.

    Where ids or shapes are broken nothing else can be compared; the findings then say so and stop there.

    Args:
        plan: the plan to check.
        scenario: the scenario it was made for.

    Returns:
        Every finding, how many things each rule looked at, and the water figures found.
    """
    facts, ledger = Facts(plan, scenario), _Ledger()
    for name, rule in FIRST:
        ledger.add(name, list(rule(facts)))
    if ledger.findings:
        ledger.add("not checked", [Verdict("", "all other rules: ids or shapes are broken")])
        return ledger.closed(())
    for name, rule in RULES:
        ledger.add(name, list(rule(facts)))
    return ledger.closed(_check_water(facts, ledger))


def _check_water(facts: Facts, ledger: _Ledger) -> list[ZoneFigures]:
    figures = []
    for zone in facts.plan.zones:
        try:
            runs = water.zone_runs(facts, zone)
        except HydraulicError as error:
            ledger.add(SOLVED, [Verdict(f"zone {zone.id}", f"its water cannot be computed: {error}")])
            continue
        ledger.add(SOLVED, [Verdict(run.path) for run in runs])
        told = water.nearest_run(runs)
        for name, rule in WATER_RULES:
            ledger.add(name, list(rule(told)))
        for name, rule in LIMIT_RULES:
            ledger.add(name, [verdict for run in runs for verdict in rule(run)])
        figures.append(told.figures)
    if len(figures) == len(facts.plan.zones):
        worst = max(zone.flow_variation for zone in figures)
        ledger.add(VARIATION, [bill.variation_goal(facts, worst)])
    return figures

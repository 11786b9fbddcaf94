"""One thing changed in a good plan of several beds, or in what was wanted: the rule it breaks must say so, alone."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from bed_gardens import (
    ALONE,
    COARSE,
    COARSE_LINE,
    EAST,
    LINE,
    NORTH,
    PATH,
    SITE,
    SOUTH,
    WIDE,
    WIDE_TUBE,
    bed,
    garden,
    planned,
)
from small_plan import changed

from optimizer.plan import Plan
from optimizer.scenario import Scenario
from optimizer.verification import verify

OWN = "share_headers = false"
FIELD = f'{OWN}\nvalves = "in the field"'
TAP = f'{OWN}\nvalves = "at the tap"'

POST = '\n[[obstacles]]\nname = "post"\nrectangle = "0.3 m x 0.1 m"\nat = "{at}"\n'
END_POST = '\n[[obstacles]]\nname = "post"\nrectangle = "0.4 m x 2 m"\nat = "3.5 m, 3 m"\nkeeps_out = "rows"\n'
LANE = PATH.replace("garden path", "lane").replace("2.2 m", "2.1 m")
# The plot has a slot between the supply and the beds, which mainline that goes straight lies across.
NOTCHED = """
[site]
outline = ["-2 m, -2 m", "-0.6 m, -2 m", "-0.6 m, 0.5 m", "-0.4 m, 0.5 m", "-0.4 m, -2 m", "12 m, -2 m", "12 m, 6 m",
           "-2 m, 6 m"]
"""


def _level(*more: str, limits: str = OWN) -> Scenario:
    return garden(PATH, SITE, SOUTH, NORTH, *more, limits=limits)


# One zone, each bed with a header of its own, mainline from bed to bed across the path.
LEVEL = _level()
# Two zones, one for each bed.
ZONES = garden(ALONE, NORTH, limits=FIELD)
SHARED = garden(SOUTH, NORTH)
BETWEEN = garden(SOUTH, EAST, at="5 m, 1 m")
REST = garden(SOUTH, NORTH, limits=f"{OWN}\nvalve_per_bed = true")
LIFTED = garden(
    *(bed(name, at, more='raised = "30 cm"') for name, at in (("south", "0 m, 0 m"), ("north", "0 m, 3 m")))
)
WIDER = garden(PATH, SITE, WIDE_TUBE, SOUTH, NORTH, limits=OWN)


def _rules(plan: Plan, scenario: Scenario) -> set[str]:
    return {finding.rule for finding in verify(plan, scenario).findings}


# ---------------------------------------------------------------- the plan stays, something else is wanted

WISHES: list[tuple[str, Scenario, Scenario]] = [
    # rule, what the plan is made for, what is wanted instead
    (
        "lines the bed allows",
        garden(COARSE_LINE, bed("south", "0 m, 0 m", more=f'lines = ["{LINE}"]'), NORTH, limits=OWN),
        garden(COARSE_LINE, bed("south", "0 m, 0 m", more=f'lines = ["{COARSE}"]'), NORTH, limits=OWN),
    ),
    ("headers shared", SHARED, garden(SOUTH, NORTH, limits=OWN)),
    ("own zone", LEVEL, garden(PATH, SITE, ALONE, NORTH, limits=OWN)),
    ("zone count", ZONES, garden(ALONE, NORTH, "\n[timer]\noutlets = 1\n", limits=FIELD)),
    ("zone count", ZONES, garden(ALONE, NORTH, limits=f"{FIELD}\nzones_at_most = 1")),
    ("valve for each bed", LEVEL, _level(limits=f"{OWN}\nvalve_per_bed = true")),
    ("valves where wished", ZONES, garden(ALONE, NORTH, limits=TAP)),
    ("valves where wished", garden(ALONE, NORTH, limits=TAP), ZONES),
    ("mainline loss", LEVEL, _level(limits=f'{OWN}\nmainline_loss = "0.1 %"')),
    # 48 emitters of about 2 L/h are 2.7e-5 m3/s, in a bore of 13.6 mm 0.18 m/s
    ("velocity", LEVEL, _level(limits=f'{OWN}\nvelocity = "0.1 m/s"')),
    ("on the site", LEVEL, garden(PATH, NOTCHED, SOUTH, NORTH, limits=OWN)),
    ("crossings", LEVEL, garden(PATH, LANE, SITE, SOUTH, NORTH, limits=OWN)),
    ("barriers", LEVEL, _level('\n[[barriers]]\nname = "wall"\nline = "-3 m, 2.5 m to 2 m, 2.5 m"\n')),
    ("tube keep-outs", LEVEL, _level(POST.format(at="0 m, 2.9 m"))),
    # 48 emitters of 2 L/h are 2.7e-5 m3/s, in a bore of 13.6 mm 0.18 m/s; two tubes leave the supply
    ("connection at the supply", BETWEEN, garden(SOUTH, EAST, at="5 m, 1 m", limits='velocity = "0.12 m/s"')),
    # a post at the end of one bed makes its lines shorter
    ("beds alike", garden(SOUTH, NORTH, END_POST, limits=OWN),
     garden(SOUTH, NORTH, END_POST, limits=f"{OWN}\nbeds_alike = true")),
]  # fmt: skip

ALSO: dict[str, set[str]] = {
    "velocity": {"connection at the supply"},
    "on the site": {"ground as in the scenario"},
    "crossings": {"ground as in the scenario", "fitting quantities"},
    "barriers": {"ground as in the scenario"},
    "tube keep-outs": {"ground as in the scenario"},
}
"""What else says so, for what is wanted is drawn in the plan too."""


@pytest.mark.parametrize(("rule", "made_for", "wanted"), WISHES, ids=[rule for rule, *_ in WISHES])
def test_another_wish_breaks_its_rule(rule: str, made_for: Scenario, wanted: Scenario):
    plan = planned(made_for)
    assert _rules(plan, made_for) == set()
    found = _rules(plan, wanted)
    assert rule in found
    assert found <= {rule} | ALSO.get(rule, set())


# ---------------------------------------------------------------- the wish stays, the plan is changed


def _set(kind: str, values: dict[str, Any], at: Callable[[Plan], int]) -> Callable[[Plan], Plan]:
    """Return a change of one thing in a plan: the kind of thing, its new values and how its number is found."""
    return lambda plan: changed(plan, f"{kind}.{at(plan)}", **values)


def _cross(plan: Plan) -> int:
    """Return the number of the mainline that crosses the path."""
    return next(number for number, part in enumerate(plan.mainline) if part.crossings)


def _last(zone: str) -> Callable[[Plan], int]:
    """Return how to find the mainline that feeds one zone alone."""
    return lambda plan: [part.zone_ids for part in plan.mainline].index((zone,))


def _first(plan: Plan) -> int:
    return 0


def _strayed(plan: Plan) -> Plan:
    """Let mainline swing 2 cm into the southern bed on its way along the bed's edge."""
    at = _cross(plan)
    first, *rest = plan.mainline[at].points
    return changed(plan, f"mainline.{at}", points=(first, (0.02, 1.8), *rest))


def _valve_before_the_way(plan: Plan) -> Plan:
    """Put the valve of one bed where the mainline to it branches off."""
    (header,) = (header for header in plan.headers if header.beds == ("north",))
    (valve,) = (number for number, item in enumerate(plan.valves) if item.header_ids == (header.id,))
    (part,) = (item for item in plan.mainline if item.points[-1] == header.inlet_at)
    values: dict[str, Any] = {"at": part.points[0], "part_ids": (part.id,), "header_ids": ()}
    return changed(plan, f"valves.{valve}", **values)


def _one_cover_more(plan: Plan) -> Plan:
    """List a cover that is already there beside the one to buy."""
    at = [line.item for line in plan.bill].index("tube cover")
    return changed(plan, f"bill.{at}", quantity=2, owned=1)


def _no_climb(plan: Plan) -> Plan:
    """Cut the mainline into a raised bed as if it lay on the ground."""
    (at,) = (number for number, part in enumerate(plan.mainline) if part.points[-1] == plan.headers[0].inlet_at)
    return changed(plan, f"mainline.{at}", length_um=plan.mainline[at].length_um - 300_000)


CHANGES: list[tuple[str, Scenario, Callable[[Plan], Plan], set[str]]] = [
    # rule, what is planned, what is changed, what else says so
    ("mainline off beds", LEVEL, _strayed, set()),
    ("crossings", LEVEL, _set("mainline", {"crossings": ()}, _cross), {"fitting quantities"}),
    ("fitting quantities", LEVEL, _one_cover_more, set()),
    ("mainline lengths", LIFTED, _no_climb, {"pieces serve"}),
    ("headers in their beds", SHARED, _set("headers", {"beds": ("south",)}, _first), {"header zones"}),
    ("zones opened alone", ZONES, _set("valves", {"zone_ids": ("A", "B")}, _first), set()),
    ("mainline leads on", ZONES, _set("mainline", {"zone_ids": ("A", "B")}, _last("B")),
     {"valves open their zone", "zone figures"}),
    ("valve for each bed", REST, _valve_before_the_way, set()),
    ("never wider downstream", WIDER, _set("mainline", {"tube": WIDE}, _cross), {"pieces serve", "zone figures"}),
    ("never wider downstream", WIDER, _set("headers", {"tube": WIDE}, _first), {"pieces serve", "zone figures"}),
]  # fmt: skip


@pytest.mark.parametrize(("rule", "scenario", "change", "also"), CHANGES, ids=[rule for rule, *_ in CHANGES])
def test_a_changed_plan_breaks_its_rule(rule: str, scenario: Scenario, change: Callable[[Plan], Plan], also: set[str]):
    plan = planned(scenario)
    assert _rules(plan, scenario) == set()
    found = _rules(change(plan), scenario)
    assert rule in found
    assert found <= {rule} | also

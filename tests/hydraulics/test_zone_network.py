"""Networks: balance, closed forms, symmetries, monotonicity, dry emitters, operating points."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optimizer.errors import HydraulicError
from optimizer.hydraulics import (
    EmitterLaw,
    EmitterLine,
    Fluid,
    HeadAssembly,
    Network,
    RatedPump,
    Regulator,
    TapCurve,
    lateral_network,
    solve_lateral,
    solve_network,
)
from optimizer.hydraulics.build import NetworkBuilder
from optimizer.hydraulics.friction import head_loss
from optimizer.hydraulics.roots import falling_root

FLUID = Fluid()
TAPE = EmitterLaw.from_rating(1.0 / 3.6e6, 7.0, 0.5)
HELD = EmitterLaw.from_rating(2.0 / 3.6e6, 10.0, 0.0, opening_head=5.0, upper_head=30.0)
LINE = EmitterLine(0.0136, 0.3, TAPE)


def comb(laterals, emitters, law=TAPE, grade=0.0, header=0.0152, looped=False):
    """A header with laterals on one side, the inlet at its start."""
    build = NetworkBuilder()
    inlet = before = build.node(0.0)
    line, ends = EmitterLine(0.0136, 0.3, law), []
    for row in range(laterals):
        here = build.node(grade * (row + 1))
        build.tube(before, here, 0.9, header)
        ends.append(build.lateral(here, line, np.full(emitters, grade * (row + 1)))[-1])
        before = here
    for a, b in pairwise(ends) if looped else ():
        build.tube(a, b, 0.9, 0.0136)
    return build.network(inlet)


combs = st.builds(
    comb,
    laterals=st.integers(1, 8),
    emitters=st.integers(1, 40),
    law=st.sampled_from([TAPE, HELD, EmitterLaw.from_rating(1e-6, 10.0, 1.0)]),
    grade=st.floats(-0.5, 0.5),
    looped=st.booleans(),
)


def imbalance(network, solution):
    """Net flow into every node but the inlet [m3/s], from the reported flows alone."""
    net = np.zeros(network.node_count)
    np.add.at(net, network.tube_to, solution.tube_flow_m3_s)
    np.add.at(net, network.tube_from, -solution.tube_flow_m3_s)
    np.add.at(net, network.emitter_node, -solution.emitter_flow_m3_s)
    net[network.inlet_node] += solution.inlet_flow_m3_s
    return net


@settings(max_examples=40, deadline=None, derandomize=True)
@given(combs, st.floats(0.5, 40.0))
def test_flows_add_up_and_heads_follow_the_friction_law(network, inlet):
    solution = solve_network(network, inlet, FLUID)
    total = max(solution.inlet_flow_m3_s, 1e-12)
    assert np.max(np.abs(imbalance(network, solution))) <= 1e-6 * total
    assert solution.emitter_flow_m3_s.sum() == pytest.approx(solution.inlet_flow_m3_s, rel=1e-6, abs=1e-15)
    lost = head_loss(
        solution.tube_flow_m3_s,
        network.tube_length_m,
        network.tube_bore_m,
        network.tube_roughness_m,
        FLUID,
        network.tube_loss_k,
    )
    grade = solution.head_m + network.z_m
    assert grade[network.tube_from] - grade[network.tube_to] == pytest.approx(lost, abs=1e-8)


@settings(max_examples=25, deadline=None, derandomize=True)
@given(combs, st.floats(2.0, 30.0), st.floats(0.2, 5.0))
def test_froude_scaling(network, inlet, scale):
    """With gravity fixed: lengths times s, flows times s^2.5, viscosity times s^1.5 leave all ratios as they are."""
    scaled = Network(
        z_m=scale * network.z_m,
        tube_from=network.tube_from,
        tube_to=network.tube_to,
        tube_length_m=scale * network.tube_length_m,
        tube_bore_m=scale * network.tube_bore_m,
        tube_roughness_m=scale * network.tube_roughness_m,
        tube_loss_k=network.tube_loss_k,
        emitter_node=network.emitter_node,
        emitter_k=scale ** (2.5 - network.emitter_exponent) * network.emitter_k,
        emitter_exponent=network.emitter_exponent,
        emitter_opening_head_m=scale * network.emitter_opening_head_m,
        emitter_upper_head_m=scale * network.emitter_upper_head_m,
        inlet_node=network.inlet_node,
    )
    one = solve_network(network, inlet, FLUID)
    other = solve_network(scaled, scale * inlet, Fluid(scale**1.5 * FLUID.viscosity_m2_s))
    # Dry emitters keep the 1 mm straight start of their law, which does not scale.
    assert other.head_m / scale == pytest.approx(one.head_m, abs=5e-3)
    if one.head_m.min() > 0.1:
        assert other.emitter_flow_m3_s / scale**2.5 == pytest.approx(one.emitter_flow_m3_s, rel=1e-6)


@settings(max_examples=25, deadline=None, derandomize=True)
@given(combs, st.floats(2.0, 30.0), st.integers(0, 1000))
def test_names_of_nodes_and_directions_of_tubes_do_not_matter(network, inlet, seed):
    rng = np.random.default_rng(seed)
    order = rng.permutation(network.node_count)
    turned = rng.random(network.tube_count) < 0.5
    z = np.empty(network.node_count)
    z[order] = network.z_m
    start, end = order[network.tube_from], order[network.tube_to]
    other = replace(
        network,
        z_m=z,
        tube_from=np.where(turned, end, start),
        tube_to=np.where(turned, start, end),
        emitter_node=order[network.emitter_node],
        inlet_node=int(order[network.inlet_node]),
    )
    one, two = solve_network(network, inlet, FLUID), solve_network(other, inlet, FLUID)
    assert two.head_m[order] == pytest.approx(one.head_m, abs=1e-7)
    assert np.where(turned, -1, 1) * two.tube_flow_m3_s == pytest.approx(one.tube_flow_m3_s, abs=1e-12)


@settings(max_examples=25, deadline=None, derandomize=True)
@given(st.integers(1, 7), st.integers(2, 40), st.sampled_from([TAPE, HELD]), st.floats(-0.2, 0.2))
def test_one_more_lateral_never_raises_a_head(laterals, emitters, law, grade):
    tap = HeadAssembly(TapCurve.from_bucket(25.0, 3e-4))
    fewer = solve_network(comb(laterals, emitters, law, grade), tap, FLUID)
    more = solve_network(comb(laterals + 1, emitters, law, grade), tap, FLUID)
    assert np.all(more.head_m[: fewer.head_m.size] <= fewer.head_m + 1e-7)
    assert more.inlet_flow_m3_s >= fewer.inlet_flow_m3_s - 1e-12


@settings(max_examples=25, deadline=None, derandomize=True)
@given(combs, st.floats(0.5, 20.0), st.floats(0.0, 10.0))
def test_more_inlet_head_never_lowers_a_flow(network, inlet, more):
    low, high = solve_network(network, inlet, FLUID), solve_network(network, inlet + more, FLUID)
    assert np.all(high.emitter_flow_m3_s >= low.emitter_flow_m3_s - 1e-15)


def test_mirrored_laterals_are_equal():
    build = NetworkBuilder()
    inlet = build.node(0.0)
    arms = [build.lateral(inlet, LINE, np.linspace(0.01, 0.5, 50)) for _ in range(2)]
    solution = solve_network(build.network(inlet), 8.0, FLUID)
    assert solution.head_m[arms[0]] == pytest.approx(solution.head_m[arms[1]], abs=1e-12)


def stepped(line, count, inlet, slope):
    """A lateral by shooting on its end head: step upstream with the friction law, bisect. [m]"""

    def heads_from(end):
        heads, flow = [end], float(line.law.flow(end))
        for i in range(count):
            lost = float(head_loss(flow, line.spacing_m, line.bore_m, line.roughness_m, FLUID))
            heads.append(heads[-1] + lost + slope * line.spacing_m)
            flow += float(line.law.flow(heads[-1])) if i < count - 1 else 0.0
        return heads[::-1]

    low, high = inlet - abs(slope) * count * line.spacing_m - 50.0, inlet + abs(slope) * count * line.spacing_m
    for _ in range(48):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if heads_from(middle)[0] < inlet else (low, middle)
    return np.array(heads_from(low))


@pytest.mark.parametrize("law", [TAPE, HELD, EmitterLaw.from_rating(1e-6, 10.0, 1.0)])
@pytest.mark.parametrize(("inlet", "slope"), [(8.0, 0.0), (8.0, 0.02), (3.0, -0.02), (1.0, 0.05)])
def test_lateral_matches_a_stepping_solution(law, inlet, slope):
    line = EmitterLine(0.0136, 0.3, law)
    solution = solve_lateral(line, 80, inlet, FLUID, slope=slope)
    assert solution.head_m == pytest.approx(stepped(line, 80, inlet, slope), abs=1e-6)


def test_uneven_ground_is_taken_emitter_by_emitter():
    line = EmitterLine(0.05, 0.3, EmitterLaw(1e-12, 0.5))
    z = np.array([0.0, 1.0, -2.0, 0.5])
    # hardly any flow: heads are those of standing water
    assert solve_lateral(line, 3, 10.0, FLUID, elevations=z).head_m == pytest.approx(10.0 - z, abs=1e-6)


def test_emitters_above_the_water_stay_dry():
    solution = solve_network(comb(4, 5, grade=1.0), 2.5, FLUID)
    dry = solution.emitter_head_m <= 0.0
    assert 0 < dry.sum() < dry.size
    assert np.all(solution.emitter_flow_m3_s[dry] == 0.0)
    assert np.all(solution.emitter_flow_m3_s[~dry] > 0.0)


def test_all_dry_network_stands_still():
    solution = solve_network(comb(2, 5, grade=1.0), -1.0, FLUID)
    assert solution.inlet_flow_m3_s == pytest.approx(0.0, abs=1e-15)


@pytest.mark.parametrize(
    "source",
    [
        TapCurve.from_bucket(30.0, 2e-4),
        RatedPump(2e-4, 15.0),
        HeadAssembly(TapCurve.from_bucket(30.0, 5e-4), (Regulator("r", 10.0, 3.0),)),
        HeadAssembly(TapCurve.from_bucket(12.0, 1e-4), (Regulator("r", 10.0, 3.0),)),
        HeadAssembly(TapCurve.from_bucket(5.0, 1e-6)),
    ],
)
@pytest.mark.parametrize("looped", [False, True])
def test_operating_point_lies_on_the_source(source, looped):
    solution = solve_network(comb(8, 40, looped=looped), source, FLUID)
    assert source.head(solution.inlet_flow_m3_s) == pytest.approx(solution.inlet_head_m, abs=1e-6)
    assert solution.inlet_flow_m3_s > 0.0


def test_short_wide_tubes_keep_the_balance():
    # A stub whose loss is under the rounding of the heads: 1 mm of 60 mm bore.
    build = NetworkBuilder()
    inlet, stub = build.node(0.0), build.node(0.0)
    build.tube(inlet, stub, 1e-3, 0.06)
    build.lateral(stub, LINE, np.zeros(3))
    network = build.network(inlet)
    solution = solve_network(network, 100.0, FLUID)
    assert solution.balance <= 1e-6
    assert solution.tube_flow_m3_s[0] == pytest.approx(3 * float(TAPE.flow(100.0)), rel=1e-3)


def good():
    return lateral_network(LINE, 3)


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"tube_length_m": np.array([1.0, 0.0, 1.0])}, "tube 1: its length"),
        ({"tube_bore_m": np.array([0.01, 0.01, np.nan])}, "tube 2: its bore"),
        ({"tube_roughness_m": np.array([0.01, 0.0, 0.0])}, "tube 0: its roughness"),
        ({"tube_loss_k": np.array([0.0, -1.0, 0.0])}, "tube 1: its loss_k"),
        ({"tube_to": np.array([1, 2, 4])}, "no such node"),
        ({"tube_to": np.array([1, 2, 1])}, "node 3: no tube joins"),
        ({"tube_to": np.array([1, 1, 3])}, "same node"),
        ({"z_m": np.array([0.0, np.nan, 0.0, 0.0])}, "node 1: its elevation"),
        ({"emitter_k": np.array([1e-6, 0.0, 1e-6])}, "emitter 1: its coefficient"),
        ({"emitter_exponent": np.array([0.5, 0.5, 1.5])}, "emitter 2: its exponent"),
        ({"emitter_upper_head_m": np.zeros(3)}, "compensating range"),
        ({"inlet_node": 9}, "inlet node 9"),
        ({"tube_length_m": np.ones(2)}, "shape"),
    ],
)
def test_what_makes_no_network_is_refused(change, message):
    with pytest.raises(HydraulicError, match=message):
        replace(good(), **change)


def test_heads_that_are_no_numbers_are_refused():
    with pytest.raises(HydraulicError, match="not a finite number"):
        solve_network(good(), float("nan"), FLUID)


def test_network_arrays_cannot_be_changed():
    with pytest.raises(ValueError, match="read-only"):
        good().z_m[0] = 1.0


def test_falling_root():
    assert falling_root(lambda x: 2.0 - x**3, 0.0, 3.0, 1e-14, 1e-15) == pytest.approx(2.0 ** (1 / 3), rel=1e-12)
    with pytest.raises(HydraulicError, match="sign change"):
        falling_root(lambda x: 1.0, 0.0, 1.0, 1e-9, 1e-9)

"""Whole networks against the EPANET 2.2 engine, emitter by emitter."""

from __future__ import annotations

import warnings

import epanet_engine
import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from random_networks import random_network

from optimizer.hydraulics import EmitterLaw, EmitterLine, Fluid, lateral_network, solve_network
from optimizer.hydraulics.build import NetworkBuilder

FLUID = Fluid()
FLOW_SHARE = 1e-3
HEAD_M = 0.01


def compare(network, inlet_head, folder):
    """Greatest relative flow difference at a node with emitters, and greatest head difference [m]."""
    ours = solve_network(network, inlet_head, FLUID)
    head, outflow = epanet_engine.solve(network, inlet_head, FLUID, folder)
    emitted = np.bincount(network.emitter_node, ours.emitter_flow_m3_s, network.node_count)
    wet = np.unique(network.emitter_node)
    return np.max(np.abs(emitted[wet] / outflow[wet] - 1)), np.max(np.abs(ours.head_m - head))


@settings(max_examples=25, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(seed=st.integers(0, 2**31), emitters=st.integers(10, 700))
def test_random_networks(tmp_path, seed, emitters):
    network, inlet_head, _ = random_network(seed, emitters)
    flow, head = compare(network, inlet_head, tmp_path)
    assert flow <= FLOW_SHARE
    assert head <= HEAD_M


def test_three_thousand_emitters(tmp_path):
    network, inlet_head, _ = random_network(7, 3000)
    flow, head = compare(network, inlet_head, tmp_path)
    assert flow <= FLOW_SHARE
    assert head <= HEAD_M


@pytest.mark.parametrize("exponent", [0.4, 0.5, 0.7, 1.0])
def test_loop_fed_from_both_ends(tmp_path, exponent):
    build = NetworkBuilder()
    inlet = build.node(0.0)
    first = build.node(0.5)
    build.tube(inlet, first, 5.0, 0.0208)
    line = EmitterLine(0.0136, 0.3, EmitterLaw.from_rating(1.6 / 3.6e6, 10.0, exponent))
    nodes = build.lateral(first, line, np.linspace(0.5, 1.0, 60))
    back = build.node(0.8)
    build.tube(first, back, 18.0, 0.0208)
    build.tube(back, nodes[-1], 0.3, 0.0136)
    flow, head = compare(build.network(inlet), 12.0, tmp_path)
    assert flow <= 1e-5
    assert head <= 1e-4


@pytest.mark.parametrize("reynolds", [500, 1900, 2200, 2600, 3000, 3400, 3900, 6000, 40000])
def test_friction_law_is_the_engines(tmp_path, reynolds):
    """One emitter behind 100 m of tube, in every regime: the engine's own head loss."""
    bore = 0.0136
    flow = reynolds * np.pi * bore * FLUID.viscosity_m2_s / 4
    line = EmitterLine(bore, 100.0, EmitterLaw.from_rating(flow, 20.0, 0.5))
    network = lateral_network(line, 1)
    ours = solve_network(network, 60.0, FLUID)
    head, _ = epanet_engine.solve(network, 60.0, FLUID, tmp_path)
    assert 60.0 - ours.head_m[1] == pytest.approx(60.0 - head[1], rel=2e-5)


def test_the_engine_gives_the_same_through_wntrs_simulator(tmp_path):
    network, inlet_head, _ = random_network(3, 200)
    path = tmp_path / "zone.inp"
    path.write_text(epanet_engine.inp_text(network, inlet_head, FLUID))
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import wntr

        model = wntr.network.WaterNetworkModel(str(path))
        results = wntr.sim.EpanetSimulator(model).run_sim(file_prefix=str(tmp_path / "zone"), version=2.2)
    total = results.node["head"].iloc[0]
    head = np.array([total[f"N{i}"] for i in range(network.node_count)]) - network.z_m
    ours = solve_network(network, inlet_head, FLUID)
    assert np.max(np.abs(head - ours.head_m)) <= HEAD_M
    demand = results.node["demand"].iloc[0]
    emitted = np.bincount(network.emitter_node, ours.emitter_flow_m3_s, network.node_count)
    for node in np.unique(network.emitter_node):
        assert emitted[node] == pytest.approx(demand[f"N{node}"], rel=FLOW_SHARE)

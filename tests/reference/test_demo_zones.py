"""Every zone of every scenario against EPANET 2.2 (engine in the library wntr), read back from the plan's own file."""

from __future__ import annotations

import json
import warnings
from pathlib import Path

import numpy as np
import pytest

from optimizer import design, load_scenario
from optimizer.planfile import plan_to_json

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    import wntr

SCENARIOS = Path(__file__).parents[2] / "scenarios"
NAMES = ["allotment", "backyard", "long-bed"]
GRAVITY_RATIO = 32.2 * 0.3048 / 9.80665  # EPANET counts gravity as 32.2 ft/s2
EPANET_VISCOSITY_M2_S = 1.1e-5 * 0.3048**2  # its unit of viscosity, 1.1e-5 ft2/s


@pytest.fixture(scope="module", params=NAMES)
def plan_file(request):
    outcome = design(load_scenario(SCENARIOS / f"{request.param}.toml"))
    return json.loads(plan_to_json(outcome.plan))


def epanet_model(net):
    """The stored network as a general purpose model; compensating emitters by their solved flow are left as demands."""
    model = wntr.network.WaterNetworkModel()
    options = model.options.hydraulic
    options.headloss, options.inpfile_units = "D-W", "LPS"
    options.viscosity = net["viscosity_m2_s"] / EPANET_VISCOSITY_M2_S
    options.accuracy, options.trials = 1e-7, 500
    options.emitter_exponent = net["emitter_exponent"][0]
    inlet = net["inlet_node"]
    for node, z in enumerate(net["node_z_m"]):
        if node == inlet:
            model.add_reservoir(f"n{node}", base_head=z + net["inlet_head_m"])
        else:
            model.add_junction(f"n{node}", base_demand=0.0, elevation=z)
    columns = ("tube_from", "tube_to", "tube_length_m", "tube_bore_m", "tube_roughness_m", "tube_loss_k")
    for index, (start, end, length, bore, rough, loss) in enumerate(zip(*(net[c] for c in columns), strict=True)):
        model.add_pipe(f"p{index}", f"n{start}", f"n{end}", length * GRAVITY_RATIO, bore, rough, loss * GRAVITY_RATIO)
    for node, k in zip(net["emitter_node"], net["emitter_k"], strict=True):
        model.get_node(f"n{node}").emitter_coefficient = k
    return model


def epanet_flows(net, folder):
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        model = epanet_model(net)
        results = wntr.sim.EpanetSimulator(model).run_sim(file_prefix=str(folder / "zone"))
    demand = results.node["demand"].iloc[0]
    return np.array([demand[f"n{node}"] for node in net["emitter_node"]])


def test_every_emitter_within_two_per_mille_of_epanet(plan_file, tmp_path):
    for zone in plan_file["zones"]:
        net = zone["network"]
        assert not any(net["emitter_opening_m"]), "the chosen line is not compensating"
        flows = epanet_flows(net, tmp_path)
        ours = np.array(net["emitter_flow_m3_s"])
        assert np.max(np.abs(flows / ours - 1.0)) < 0.002
        assert np.sum(flows) == pytest.approx(zone["water"]["flow_m3_s"], rel=0.002)

"""Volumes, flushing and limits of a solved zone, by hand and by published values."""

from __future__ import annotations

import numpy as np
import pytest

from optimizer.errors import HydraulicError
from optimizer.hydraulics import (
    EmitterLaw,
    EmitterLine,
    Fluid,
    HeadAssembly,
    HeadPart,
    LeadIn,
    Regulator,
    TapCurve,
    lateral_network,
    solve_network,
    usable_flow,
)
from optimizer.hydraulics.build import NetworkBuilder
from optimizer.hydraulics.report import (
    assembly_limits,
    at_least,
    at_most,
    binding_first,
    drain_down_volume,
    evenness,
    fill_volume,
    flushing,
    flushing_flow,
    tube_velocities,
    with_open_ends,
)

FLUID = Fluid()
LINE = EmitterLine(0.0159, 0.5, EmitterLaw.from_rating(1.0 / 3.6e6, 7.0, 0.5))
AREA = np.pi / 4 * 0.0159**2
GPM = 3.785411784e-3 / 60


@pytest.mark.parametrize(("inches", "exact", "rule"), [(5 / 8, 0.956, 1.0), (7 / 8, 1.874, 2.0)])
def test_flushing_flow_at_one_foot_a_second(inches, exact, rule):
    # Univ. of California ANR, maintenance of microirrigation systems: 1 and 2 gpm
    flow = float(flushing_flow(inches * 0.0254)) / GPM
    assert flow == pytest.approx(exact, abs=6e-4)
    assert flow == pytest.approx(rule, rel=0.07)


def test_fill_volume_is_that_of_the_bores():
    network = lateral_network(LINE, 10)
    assert fill_volume(network) == pytest.approx(AREA * 5.0)
    assert fill_volume(network, np.full(10, 0.4)) == pytest.approx(AREA * 4.0)


def test_laid_lengths_of_another_shape_are_refused():
    with pytest.raises(HydraulicError, match="laid lengths"):
        fill_volume(lateral_network(LINE, 10), np.ones(3))


@pytest.mark.parametrize(("slope", "drained"), [(0.0, 0.0), (0.02, 4.5), (-0.02, 5.0)])
def test_drain_down_of_a_sloping_line(slope, drained):
    # uphill the first emitter is the lowest, half a metre of line lies below it; downhill the last; level keeps all
    assert drain_down_volume(lateral_network(LINE, 10, slope=slope)) == pytest.approx(AREA * drained)


def test_drain_down_cuts_a_tube_at_the_outlet():
    network = lateral_network(LINE, 1, slope=1.0)
    assert drain_down_volume(network, outlet_z=0.2) == pytest.approx(AREA * 0.3)


def test_evenness_by_hand():
    network = lateral_network(EmitterLine(0.1, 0.5, LINE.law), 2, elevations=[0.0, 0.0, 1.9])
    found = evenness(solve_network(network, 10.0, FLUID), cv=0.05)
    # hardly any friction: heads 10 and 8.1, flows as 1 to 0.9
    assert (found.greatest_emitter, found.least_emitter) == (0, 1)
    assert found.flow_variation == pytest.approx(0.1, abs=1e-5)
    assert found.emission_uniformity == pytest.approx(100 * (1 - 1.27 * 0.05) * 0.9 / 0.95, abs=1e-3)
    assert found.least_head_m == pytest.approx(8.1, abs=1e-4)


def test_velocities_are_flow_over_area():
    network = lateral_network(LINE, 4)
    solution = solve_network(network, 7.0, FLUID)
    assert tube_velocities(network, solution)[0] == pytest.approx(solution.inlet_flow_m3_s / AREA)


def rows(count):
    build = NetworkBuilder()
    inlet, ends = build.node(0.0), []
    for _ in range(count):
        ends.append(build.lateral(inlet, LINE, np.zeros(40))[-1])
    return build.network(inlet), ends


def test_ends_flushed_at_once_are_as_many_as_the_tap_allows():
    network, ends = rows(6)
    bores = np.full(6, 0.0159)
    tap = TapCurve.from_bucket(20.0, 3e-4)
    found = flushing(network, ends, bores, tap, FLUID)
    assert 0 < found.ends_at_once < 6
    assert np.all(found.end_velocity_m_s >= 0.3048)
    assert found.end_flow_m3_s.sum() < found.zone_flow_m3_s <= 3e-4
    # one more end opened by hand falls short
    more = found.ends_at_once + 1
    solution = solve_network(with_open_ends(network, ends[:more], bores[:more]), tap, FLUID)
    assert solution.emitter_flow_m3_s[network.emitter_count :].min() / AREA < 0.3048


def test_ends_that_never_reach_the_velocity():
    network, ends = rows(2)
    assert flushing(network, ends, np.full(2, 0.0159), TapCurve.from_bucket(20.0, 3e-5), FLUID).ends_at_once == 0


def test_most_used_limit_comes_first():
    parts = (
        LeadIn("hose", 20.0, 0.0127, rating_m=60.0),
        HeadPart("filter", 4e-4, 1.0, greatest_flow_m3_s=5e-4),
        Regulator("regulator", 10.0, 3.5, creep_m=2.0, rating_m=70.0),
    )
    assembly = HeadAssembly(TapCurve.from_bucket(40.0, 5e-4), parts)
    usable = usable_flow(assembly, 10.0, 0.75)
    limits = binding_first(usable, 1.5e-4, assembly_limits(assembly, 1.5e-4, 1.5), [at_most("tube rating", 12.0, 14.0)])
    used = [limit.used for limit in limits]
    assert used == sorted(used, reverse=True)
    shares = {limit.name: limit.used for limit in limits}
    assert shares["tube rating"] == pytest.approx(12 / 14)
    assert shares["filter: greatest flow"] == pytest.approx(0.3)
    assert shares["hose: rating"] == pytest.approx(40 / 60)
    assert shares["hose: velocity"] == pytest.approx(1.5e-4 / (np.pi / 4 * 0.0127**2) / 1.5)


def test_shares_at_the_edges():
    assert at_most("a", 1.0, np.inf).used == 0.0
    assert at_most("a", 1.0, 0.0).used == np.inf
    assert at_least("a", 0.0, 1.0).used == np.inf
    assert at_least("a", 2.0, 1.0).used == 0.5

"""The batch solver against the whole network of each candidate, its symmetries, and its honesty."""

from __future__ import annotations

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
    LeadIn,
    Regulator,
    TapCurve,
    build_lateral_table,
    solve_network,
)
from optimizer.hydraulics.batch import FixedHead, HeaderRuns, solve_batch
from optimizer.hydraulics.build import NetworkBuilder
from optimizer.hydraulics.friction import velocity
from optimizer.hydraulics.takeoffs import LateralAt, take_offs

FLUID = Fluid()
FIRST = 0.2
SLOPES = [-0.02, 0.0, 0.02]
COUNTS = np.arange(5, 61)
TAPE = EmitterLine(0.0159, 0.2, EmitterLaw.from_rating(1.0 / 3.6e6, 7.0, 0.5))
HELD = EmitterLine(0.0136, 0.3, EmitterLaw.from_rating(2.0 / 3.6e6, 10.0, 0.0, opening_head=5.0, upper_head=40.0))
TABLES = {line: build_lateral_table(line, COUNTS, SLOPES, 30.0, FLUID, FIRST) for line in (TAPE, HELD)}
SOURCES = (
    FixedHead(12.0),
    HeadAssembly(TapCurve.from_bucket(30.0, 6e-4), (Regulator("r", 11.0, 3.0),)),
    HeadAssembly(TapCurve.from_bucket(25.0, 3e-4), (LeadIn("hose", 15.0, 0.019),)),
)


class Case:
    """Random take-offs with laterals left and right, and random runs on them."""

    def __init__(self, seed, line=TAPE, connection_loss=0.0, candidates=6):
        rng = np.random.default_rng(seed)
        n = 14
        self.line, self.connection_loss = line, connection_loss
        self.place = np.cumsum(rng.uniform(0.3, 1.2, n))
        self.z = rng.uniform(-0.4, 0.4, n)
        self.sides = [
            [(int(rng.choice(COUNTS)), float(rng.choice(SLOPES))) for _ in range(int(rng.integers(1, 3)))]
            for _ in range(n)
        ]
        first = rng.integers(0, n, candidates)
        last = np.minimum(first + rng.integers(0, n, candidates), n - 1)
        inlet = rng.uniform(self.place[first] - 1.0, self.place[last] + 1.0)
        ones = np.ones(candidates)
        self.runs = HeaderRuns(
            first=first,
            last=last,
            inlet_position_m=inlet,
            inlet_z_m=rng.uniform(-0.3, 0.3, candidates),
            header_bore_m=rng.choice([0.0152, 0.0208], candidates),
            header_roughness_m=1.5e-6 * ones,
            feed_length_m=rng.choice([0.0, 5.0, 20.0], candidates),
            feed_bore_m=0.0208 * ones,
            feed_roughness_m=1.5e-6 * ones,
            source=rng.integers(0, len(SOURCES), candidates),
            source_z_m=rng.uniform(-0.5, 0.5, candidates),
        )

    def take_offs(self, flipped=False):
        def hung(side):
            return [LateralAt(TABLES[self.line], n, s, self.connection_loss) for n, s in side]

        laterals = [hung(side) for side in self.sides]
        if flipped:
            return take_offs(-self.place[::-1], self.z[::-1], laterals[::-1])
        return take_offs(self.place, self.z, laterals)

    def solve(self):
        return solve_batch(self.runs, self.take_offs(), SOURCES, FLUID)

    def network(self, c):
        runs, build = self.runs, NetworkBuilder()
        source, inlet = build.node(runs.source_z_m[c]), build.node(runs.inlet_z_m[c])
        # No feed: a stub too short to matter.
        build.tube(source, inlet, max(runs.feed_length_m[c], 1e-6), runs.feed_bore_m[c])
        # K of a connection that loses `connection_loss` Q^2, on the velocity head in the lateral.
        k = self.connection_loss * 2 * 9.80665 * (np.pi / 4 * self.line.bore_m**2) ** 2
        run, at = range(runs.first[c], runs.last[c] + 1), runs.inlet_position_m[c]
        for arm in ([i for i in run if self.place[i] >= at], [i for i in run if self.place[i] < at][::-1]):
            before, where = inlet, at
            for i in arm:
                here = build.node(self.z[i])
                build.tube(before, here, abs(self.place[i] - where), runs.header_bore_m[c])
                for count, slope in self.sides[i]:
                    along = FIRST + self.line.spacing_m * np.arange(count)
                    build.lateral(here, self.line, self.z[i] + slope * along, FIRST, k)
                before, where = here, self.place[i]
        return build.network(source)


@settings(max_examples=12, deadline=None, derandomize=True)
@given(st.integers(0, 10**6), st.sampled_from([TAPE, HELD]), st.sampled_from([0.0, 4e7]))
def test_candidates_match_their_networks(seed, line, connection_loss):
    case = Case(seed, line, connection_loss)
    batch = case.solve()
    assert np.all(batch.solved)
    for c in range(case.runs.count):
        source = SOURCES[case.runs.source[c]]
        fixed = source.head_m if isinstance(source, FixedHead) else source
        network = case.network(c)
        exact = solve_network(network, fixed, FLUID)
        flow, head = exact.emitter_flow_m3_s, exact.emitter_head_m
        assert batch.flow_m3_s[c] == pytest.approx(exact.inlet_flow_m3_s, rel=3e-4)
        assert batch.source_head_m[c] == pytest.approx(exact.inlet_head_m, abs=0.01)
        assert batch.inlet_head_m[c] == pytest.approx(exact.head_m[1], abs=0.01)
        assert batch.least_head_m[c] == pytest.approx(head.min(), abs=0.015)
        assert batch.greatest_head_m[c] == pytest.approx(head.max(), abs=0.015)
        assert batch.least_flow_m3_s[c] == pytest.approx(flow.min(), rel=1e-3)
        assert batch.greatest_flow_m3_s[c] == pytest.approx(flow.max(), rel=1e-3)
        assert batch.mean_flow_m3_s[c] == pytest.approx(flow.mean(), rel=3e-4)
        speed = np.abs(velocity(exact.tube_flow_m3_s, network.tube_bore_m))
        wanted = speed[1:] if case.runs.feed_length_m[c] == 0.0 else speed
        assert batch.greatest_velocity_m_s[c] == pytest.approx(wanted.max(), rel=1e-3)


@settings(max_examples=15, deadline=None, derandomize=True)
@given(st.integers(0, 10**6))
def test_mirrored_headers_are_equal(seed):
    case = Case(seed)
    runs, last = case.runs, len(case.place) - 1
    flipped = HeaderRuns(
        last - runs.last, last - runs.first, -runs.inlet_position_m, *(getattr(runs, name) for name in REST)
    )
    one, two = case.solve(), solve_batch(flipped, case.take_offs(flipped=True), SOURCES, FLUID)
    assert two.flow_m3_s == pytest.approx(one.flow_m3_s, rel=1e-7)
    assert two.least_head_m == pytest.approx(one.least_head_m, abs=1e-5)


REST = (
    "inlet_z_m",
    "header_bore_m",
    "header_roughness_m",
    "feed_length_m",
    "feed_bore_m",
    "feed_roughness_m",
    "source",
    "source_z_m",
)


def grown(case, more):
    """The candidates with up to `more` take-offs added at the end."""
    runs = case.runs
    last = np.minimum(runs.last + more, len(case.place) - 1)
    return HeaderRuns(runs.first, last, runs.inlet_position_m, *(getattr(runs, name) for name in REST))


@settings(max_examples=15, deadline=None, derandomize=True)
@given(st.integers(0, 10**6), st.integers(1, 5))
def test_a_longer_run_never_raises_the_least_head(seed, more):
    case = Case(seed)
    one = case.solve()
    two = solve_batch(grown(case, more), case.take_offs(), SOURCES, FLUID)
    assert np.all(two.flow_m3_s >= one.flow_m3_s * (1 - 1e-6))
    assert np.all(two.inlet_head_m <= one.inlet_head_m + 1e-5)
    assert np.all(two.least_head_m <= one.least_head_m + 1e-5)


def test_the_company_of_a_candidate_does_not_matter():
    case = Case(5, candidates=900)
    alone = [3, 511, 512, 899]
    together = case.solve()
    for c in alone:
        one = solve_batch(case.runs.take(np.array([c])), case.take_offs(), SOURCES, FLUID)
        assert one.flow_m3_s[0] == pytest.approx(together.flow_m3_s[c], rel=1e-7)


def starved():
    """A feed so thin that the far take-offs get nothing."""
    case = Case(1, candidates=1)
    runs = case.runs
    values = {name: getattr(runs, name) for name in REST}
    values |= {"feed_length_m": np.array([200.0]), "feed_bore_m": np.array([0.004]), "source": np.array([0])}
    return case, HeaderRuns(np.array([0]), np.array([13]), np.array([0.0]), *(values[name] for name in REST))


def test_what_leaves_the_tables_carries_no_numbers():
    case, runs = starved()
    raised = HeaderRuns(
        runs.first, runs.last, runs.inlet_position_m, runs.inlet_z_m + 30.0, *(getattr(runs, name) for name in REST[1:])
    )
    batch = solve_batch(raised, case.take_offs(), SOURCES, FLUID)
    assert not batch.solved[0]
    assert np.isnan(batch.flow_m3_s[0])
    assert not bool(batch.flow_variation[0] <= 1.0)


@pytest.mark.parametrize(("first", "last", "source"), [(0, 14, 0), (-1, 2, 0), (3, 2, 0), (0, 3, 9)])
def test_candidates_that_do_not_exist_are_refused(first, last, source):
    case = Case(1, candidates=1)
    values = {name: getattr(case.runs, name) for name in REST} | {"source": np.array([source])}
    runs = HeaderRuns(np.array([first]), np.array([last]), np.array([0.0]), *(values[name] for name in REST))
    with pytest.raises(HydraulicError):
        solve_batch(runs, case.take_offs(), SOURCES, FLUID)


def test_take_offs_must_rise_along_the_header():
    with pytest.raises(HydraulicError, match="rise"):
        take_offs([1.0, 1.0], [0.0, 0.0], [[LateralAt(TABLES[TAPE], 10)]] * 2)


def test_tables_on_different_grids_are_refused():
    other = build_lateral_table(TAPE, [10], [0.0], 20.0, FLUID)
    with pytest.raises(HydraulicError, match="one grid"):
        take_offs([1.0, 2.0], [0.0, 0.0], [[LateralAt(TABLES[TAPE], 10)], [LateralAt(other, 10)]])

"""Emitter laws: the power law, compensation, the straight start, slopes."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optimizer.errors import HydraulicError
from optimizer.hydraulics import EmitterLaw

PLAIN = EmitterLaw(1e-6, 0.5)
HELD = EmitterLaw(1e-6, 0.0, opening_head_m=5.0, upper_head_m=30.0)

laws = st.builds(
    lambda k, x, low, width: EmitterLaw(k, x, 0.0, low, low + width if low else np.inf),
    st.floats(1e-8, 1e-5),
    st.floats(0.0, 1.0),
    st.sampled_from([0.0, 0.5, 5.0]),
    st.floats(1.0, 50.0),
)


def test_plain_law_by_hand():
    assert PLAIN.flow([4.0, 9.0]) == pytest.approx([2e-6, 3e-6])


def test_held_flow_by_hand():
    # flat from 5 to 30 m, fixed orifice below and above
    heads = [1.25, 5.0, 17.0, 30.0, 120.0]
    assert HELD.flow(heads) == pytest.approx([0.5e-6, 1e-6, 1e-6, 1e-6, 2e-6])


@pytest.mark.parametrize("law", [PLAIN, HELD, EmitterLaw(1e-6, 0.0), EmitterLaw(1e-6, 1.0)])
def test_no_flow_without_head(law):
    assert list(law.flow([0.0, -1.0, -100.0])) == [0.0, 0.0, 0.0]


def test_rating_is_met():
    law = EmitterLaw.from_rating(2e-6, 10.0, 0.6)
    assert law.flow(10.0) == pytest.approx(2e-6, rel=1e-12)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(laws)
def test_flow_never_falls_with_head(law):
    heads = np.concatenate([np.linspace(-1, 0.01, 50), np.geomspace(0.01, 200, 200)])
    assert np.all(np.diff(law.flow(heads)) >= -1e-18)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(laws, st.floats(1e-5, 100.0))
def test_slope_is_the_derivative(law, head):
    bends = np.array([0.0, 1e-3, law.opening_head_m, law.upper_head_m])
    step = 1e-6 * head
    if np.any(np.abs(bends - head) <= 2 * step):
        head *= 1.0 + 1e-4
    _, slope = law.flow_and_slope(head)
    numeric = (law.flow(head + step) - law.flow(head - step)) / (2 * step)
    assert slope == pytest.approx(numeric, rel=1e-4, abs=1e-9 * law.k)


@pytest.mark.parametrize("flow", [0.5e-6, 1e-6])
def test_head_for_a_flow(flow):
    assert HELD.flow(HELD.head_for(flow)) == pytest.approx(flow)
    assert PLAIN.flow(PLAIN.head_for(flow)) == pytest.approx(flow)


@pytest.mark.parametrize(
    "values",
    [
        {"k": 0.0, "exponent": 0.5},
        {"k": float("nan"), "exponent": 0.5},
        {"k": 1e-6, "exponent": 1.1},
        {"k": 1e-6, "exponent": -0.1},
        {"k": 1e-6, "exponent": 0.5, "cv": -0.1},
        {"k": 1e-6, "exponent": 0.0, "opening_head_m": 5.0, "upper_head_m": 5.0},
    ],
)
def test_impossible_laws_are_refused(values):
    with pytest.raises(HydraulicError):
        EmitterLaw(**values)


def test_rating_outside_the_compensating_range_is_refused():
    with pytest.raises(HydraulicError, match="outside"):
        EmitterLaw.from_rating(1e-6, 3.0, 0.0, opening_head=5.0, upper_head=30.0)


def test_flow_no_head_gives_is_refused():
    with pytest.raises(HydraulicError, match="no head"):
        HELD.head_for(1.1e-6)

"""Lines with many outlets against closed forms and published factors."""

from __future__ import annotations

import numpy as np
import pytest

from optimizer.hydraulics import EmitterLaw, EmitterLine, Fluid, solve_lateral
from optimizer.hydraulics.correlations import christiansen_factor, outlets_factor

COUNTS = (2, 5, 10, 20, 50, 100)


@pytest.mark.parametrize(
    ("count", "factor"), list(zip(COUNTS, (0.649, 0.469, 0.415, 0.389, 0.374, 0.369), strict=True))
)
def test_factor_for_plastic(count, factor):
    assert outlets_factor(count, 1.75) == pytest.approx(factor, abs=5.1e-4)  # Christiansen 1942, m 1.75
    assert christiansen_factor(count, 1.75) == pytest.approx(factor, abs=1.2e-3)


@pytest.mark.parametrize(
    ("count", "factor"), list(zip(COUNTS, (0.532, 0.410, 0.384, 0.373, 0.367, 0.366), strict=True))
)
def test_factor_with_the_first_outlet_at_half_a_spacing(count, factor):
    # Jensen and Fratini 1957, m 1.75; the last is printed 0.366 where their formula gives 0.36548
    assert outlets_factor(count, 1.75, 0.5) == pytest.approx(factor, abs=5.3e-4)


@pytest.mark.parametrize(("m", "whole", "half"), [(1.852, 0.402, 0.371), (2.0, 0.385, 0.353)])
def test_factor_of_ten_outlets_for_other_laws(m, whole, half):
    # Christiansen 1942; Jensen and Fratini 1957
    assert outlets_factor(10, m) == pytest.approx(whole, abs=5.1e-4)
    assert outlets_factor(10, m, 0.5) == pytest.approx(half, abs=5.1e-4)


@pytest.mark.parametrize(("x", "share"), [(0.5, 0.190), (0.7, 0.140), (0.3, 0.296)])
def test_head_change_for_a_tenth_of_the_flow(x, share):
    # closed form 1 - 0.9^(1/x)
    law = EmitterLaw.from_rating(1e-6, 10.0, x)
    assert 1 - law.head_for(0.9e-6) / 10.0 == pytest.approx(share, abs=5.1e-4)


@pytest.fixture(scope="module")
def equal_outlets():
    """A long level line of 800 equal outlets, turbulent over nearly all its length."""
    line = EmitterLine(0.0136, 0.3, EmitterLaw.from_rating(4 / 3.6e6, 20.0, 0.0, opening_head=1.0))

    def losses(count):
        solution = solve_lateral(line, count, 5000.0, Fluid())
        assert np.all(solution.emitter_head_m > 1.0)
        return 5000.0 - solution.emitter_head_m

    return losses


def test_mean_head_of_equal_outlets(equal_outlets):
    # closed form for m 1.75: the mean lies (m+1)/(m+2) = 0.733 of the loss down, met 38 % down the line
    lost = equal_outlets(800)
    assert lost.mean() / lost[-1] == pytest.approx(0.733, abs=0.01)
    place = np.interp(lost.mean(), lost, np.arange(1, 801) / 800)
    assert place == pytest.approx(0.38, abs=0.01)


def test_feeding_at_the_middle_leaves_fifteen_percent(equal_outlets):
    assert equal_outlets(400)[-1] / equal_outlets(800)[-1] == pytest.approx(0.15, abs=0.01)  # 0.5^2.75

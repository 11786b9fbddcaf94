"""Measures of evenness against published values."""

from __future__ import annotations

import numpy as np
import pytest

from optimizer.errors import HydraulicError
from optimizer.hydraulics.uniformity import (
    christiansen_uniformity,
    distribution_uniformity,
    emission_uniformity,
    flow_variation,
    statistical_uniformity,
    total_variation,
)

CATCH_ML = (47, 42, 45, 24, 13, 26, 33, 34, 27, 30, 40, 44, 32, 12, 12)


@pytest.mark.parametrize(("cv", "n", "least", "mean", "eu"), [(0.07, 4, 3.6, 4.0, 86.00), (0.05, 1, 3.8, 4.0, 88.97)])
def test_emission_uniformity(cv, n, least, mean, eu):
    # Keller and Karmeli 1974
    assert emission_uniformity(cv, n, least, mean) == pytest.approx(eu, abs=0.0051)


def test_the_factor_is_the_mean_of_the_lowest_quarter_of_a_normal_variate():
    # closed form: density at the quartile over a quarter
    quartile = 0.6744897501960817
    assert np.exp(-(quartile**2) / 2) / np.sqrt(2 * np.pi) / 0.25 == pytest.approx(1.27, abs=0.002)
    assert emission_uniformity(0.1, 1, 1.0, 1.0) == pytest.approx(100 * (1 - 0.127), rel=1e-12)


def test_distribution_uniformity():
    # North Carolina State Univ., function reference of G. Grabow: n/4 = 3.75 rounded to 4
    assert distribution_uniformity(CATCH_ML) == pytest.approx(49.62, abs=0.0051)


@pytest.mark.parametrize(("count", "quarter"), [(1, 1), (5, 1), (6, 2), (9, 2), (10, 3), (12, 3)])
def test_quarter_is_rounded_halves_up(count, quarter):
    # by hand: `quarter` zeros leave 0, one zero fewer does not
    flows = np.ones(count + quarter)[:count] if quarter == count else np.r_[np.zeros(quarter), np.ones(count - quarter)]
    if quarter < count:
        assert distribution_uniformity(flows) == 0.0
        flows[0] = 1.0
    assert distribution_uniformity(flows) > 0.0


def test_flow_variation_by_hand():
    assert flow_variation([3.6, 4.0, 3.9]) == pytest.approx(0.1)


def test_christiansen_by_hand():
    assert christiansen_uniformity([9.0, 11.0]) == pytest.approx(90.0)


def test_statistical_uniformity_by_hand():
    assert statistical_uniformity([9.0, 10.0, 11.0]) == pytest.approx(90.0)


def test_variations_add_in_squares():
    assert total_variation(0.03, 0.04) == pytest.approx(0.05)


@pytest.mark.parametrize("measure", [flow_variation, distribution_uniformity, christiansen_uniformity])
@pytest.mark.parametrize("flows", [[], [0.0, 0.0], [1.0, -1.0], [1.0, np.nan], [[1.0]]])
def test_flows_that_say_nothing_are_refused(measure, flows):
    with pytest.raises(HydraulicError, match="row of flows"):
        measure(flows)


def test_emission_uniformity_refuses_least_above_mean():
    with pytest.raises(HydraulicError, match="least"):
        emission_uniformity(0.05, 1, 4.1, 4.0)

"""Friction against published values, reference correlations and the EPANET engine."""

from __future__ import annotations

import warnings

import numpy as np
import pytest

from optimizer.errors import HydraulicError
from optimizer.hydraulics.correlations import (
    blasius_factor,
    hazen_williams_flow,
    hazen_williams_loss,
    plastic_pipe_loss,
)
from optimizer.hydraulics.fluid import EPANET_VISCOSITY_M2_S, Fluid, water
from optimizer.hydraulics.friction import (
    equivalent_length,
    friction_factor,
    head_loss,
    head_loss_and_slope,
    reynolds_number,
    velocity,
)
from optimizer.hydraulics.invert import tube_flow_and_slope

PSI_M = 0.70307
GPM = 3.785411784e-3 / 60.0


def test_swamee_jain_matches_the_documentation_of_fluids():
    # documentation of `fluids`: Swamee-Jain 1976 at Re 1e5, eps/D 1e-4; it writes 6.97^0.9 = 5.7403 for EPANET's 5.74
    assert friction_factor(1e5, 1e-4) == pytest.approx(0.018452424432, rel=2e-6)


def test_swamee_jain_is_near_colebrook():
    # Colebrook's exact value, documentation of `fluids`; Swamee and Jain claim 1 %
    assert friction_factor(1e5, 1e-4) == pytest.approx(0.018513866077, rel=0.01)


@pytest.mark.parametrize("reynolds", [4e3, 1e4, 5e4, 2e5])
def test_turbulent_factor_is_within_three_percent_of_colebrook_in_fluids(reynolds):
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from fluids.friction import Colebrook
    # Swamee and Jain 1976: 1 % from Re 5000; at 4000 and smooth walls up to 3 %
    assert friction_factor(reynolds, 1e-4) == pytest.approx(Colebrook(reynolds, 1e-4), rel=0.03)


def test_blasius():
    assert blasius_factor(1e4) == pytest.approx(0.03164, abs=5e-6)  # documentation of `fluids`


@pytest.mark.parametrize("reynolds", [1.0, 100.0, 1999.0, 2000.0])
def test_laminar_factor(reynolds):
    assert friction_factor(reynolds, 1e-4) == pytest.approx(64.0 / reynolds, rel=1e-12)  # Hagen-Poiseuille


@pytest.mark.parametrize(("reynolds", "factor"), [(2000, 0.0320), (4000, 0.04068)])
def test_ends_of_the_middle_regime(reynolds, factor):
    # EPANET 2 Users Manual (Rossman 2000), app. D, 0.0015 mm in 13.6 mm
    assert friction_factor(reynolds, 0.0015 / 13.6) == pytest.approx(factor, abs=6e-6)


@pytest.mark.parametrize(("reynolds", "printed"), [(2500, 0.02905), (3000, 0.03295), (3500, 0.03862)])
def test_middle_regime_differs_from_the_printed_manual_as_the_engine_does(reynolds, printed):
    """EPANET 2 Users Manual (Rossman 2000), app. D, prints Y2 with the running Reynolds number; the EPANET engine
    uses 4000 there, which alone makes the slope continuous at 4000. We follow the engine: `test_network_epanet`
    holds single tubes in this regime against it. As printed, the formula gives the digits of this table.
    """
    e = 0.0015 / 13.6 / 3.7
    y2, y3 = e + 5.74 / reynolds**0.9, -0.86859 * np.log(e + 5.74 / 4000**0.9)
    fa = y3**-2
    fb, r = fa * (2 - 0.00514215 / (y2 * y3)), reynolds / 2000
    x = 0.032 - 3 * fa + 0.5 * fb
    as_printed = 7 * fa - fb + r * (0.128 - 17 * fa + 2.5 * fb + r * (-0.128 + 13 * fa - 2 * fb + r * x))
    assert as_printed == pytest.approx(printed, abs=6e-6)
    assert friction_factor(reynolds, 0.0015 / 13.6) == pytest.approx(printed, rel=6e-3)


@pytest.mark.parametrize("edge", [2000.0, 4000.0])
def test_factor_is_continuous(edge):
    below, above = friction_factor(np.array([edge * (1 - 1e-9), edge * (1 + 1e-9)]), 1.1e-4)
    assert below == pytest.approx(above, rel=1e-7)


def test_loss_slope_is_the_derivative_everywhere():
    reynolds = np.array([10.0, 1500.0, 2100.0, 2500.0, 3300.0, 3999.0, 4001.0, 2e4])
    bore, fluid = 0.0136, Fluid()
    flow = reynolds * np.pi * bore * fluid.viscosity_m2_s / 4
    _, slope = head_loss_and_slope(flow, 10.0, bore, 1.5e-6, fluid, 0.7)
    up, down = (head_loss(flow * (1 + s), 10.0, bore, 1.5e-6, fluid, 0.7) for s in (1e-6, -1e-6))
    assert slope == pytest.approx((up - down) / (2e-6 * flow), rel=1e-6)


def test_loss_is_odd_in_flow_and_zero_at_rest():
    assert head_loss(-1e-4, 5.0, 0.016, 1.5e-6, Fluid()) == -head_loss(1e-4, 5.0, 0.016, 1.5e-6, Fluid())
    loss, slope = head_loss_and_slope(0.0, 5.0, 0.016, 1.5e-6, Fluid())
    # Hagen-Poiseuille: h = 128 nu L Q / (pi g D^4)
    assert (loss, slope) == (0.0, pytest.approx(128 * 1.0219e-6 * 5 / (np.pi * 9.80665 * 0.016**4), rel=1e-12))


def test_minor_loss_is_velocity_heads():
    flow, bore = 2e-4, 0.016
    extra = head_loss(flow, 1.0, bore, 1.5e-6, Fluid(), 3.0) - head_loss(flow, 1.0, bore, 1.5e-6, Fluid())
    assert extra == pytest.approx(3.0 * velocity(flow, bore) ** 2 / (2 * 9.80665), rel=1e-9)


def test_equivalent_length_loses_as_much_as_the_fitting():
    flow, bore, fluid = 2e-4, 0.016, Fluid()
    factor = friction_factor(reynolds_number(flow, bore, fluid), 1.5e-6 / bore)
    longer = 1.0 + equivalent_length(3.0, bore, factor)
    assert head_loss(flow, longer, bore, 1.5e-6, fluid) == pytest.approx(head_loss(flow, 1.0, bore, 1.5e-6, fluid, 3.0))


def test_flow_from_drop_is_the_inverse_of_loss():
    flow = np.concatenate([-np.geomspace(1e-12, 1e-3, 60), [0.0], np.geomspace(1e-12, 1e-3, 60)])
    ones = np.ones_like(flow)
    for k in (0.0, 2.0):
        loss, slope = head_loss_and_slope(flow, 3.0, 0.0136, 1.5e-6, Fluid(), k)
        found, rate = tube_flow_and_slope(loss, 0 * ones, 3.0 * ones, 0.0136 * ones, 1.5e-6 * ones, k * ones, Fluid())
        assert found == pytest.approx(flow, rel=1e-10, abs=1e-30)
        assert rate * slope == pytest.approx(ones, rel=1e-6)


def test_plastic_pipe_formula():
    # Keller and Bliesner 1990, eq. 8.7a, from memory: 0.1 L/s in 16 mm
    assert plastic_pipe_loss(1e-4, 100.0, 0.016) == pytest.approx(2.676, abs=5e-4)


def test_plastic_pipe_formula_in_us_units():
    # K 0.133 for ft per 100 ft, gpm, inches (same source, from memory)
    flow, bore = 1.7, 0.536
    feet = 0.133 * flow**1.75 / bore**4.75
    assert plastic_pipe_loss(flow * GPM, 100 * 0.3048, bore * 0.0254) / 0.3048 == pytest.approx(feet, rel=0.005)


def test_plastic_pipe_formula_follows_from_a_blasius_like_factor():
    # f = 0.32 Re^-0.25 at 20 C, nu 1.003e-6
    flow, bore = 1e-4, 0.016
    f = 0.32 * reynolds_number(flow, bore, Fluid(1.003e-6)) ** -0.25
    loss = f * 100 / bore * velocity(flow, bore) ** 2 / (2 * 9.80665)
    assert plastic_pipe_loss(flow, 100.0, bore) == pytest.approx(loss, rel=0.003)


@pytest.mark.parametrize("reynolds", [5e3, 1e4, 3e4])
def test_our_law_is_near_the_plastic_pipe_formula(reynolds):
    fluid, bore = water(20.0), 0.016
    flow = reynolds * np.pi * bore * fluid.viscosity_m2_s / 4
    assert head_loss(flow, 100, bore, 1.5e-6, fluid) == pytest.approx(plastic_pipe_loss(flow, 100, bore), rel=0.05)


@pytest.mark.parametrize(("flow_l_h", "bore_mm"), [(200, 13.6), (300, 13.6), (300, 15.9), (500, 15.9)])
def test_hazen_williams_with_150_is_under_the_plastic_formula_in_drip_tubes(flow_l_h, bore_mm):
    flow, bore = flow_l_h / 3.6e6, bore_mm / 1e3
    ratio = hazen_williams_loss(flow, 1.0, bore, 150.0) / plastic_pipe_loss(flow, 1.0, bore)
    assert 0.75 <= ratio <= 0.92  # 8 to 25 % under


HOSE = {0.5: (4, 5, 6, 7, 8), 0.75: (12, 15, 18, 20, 22), 1.0: (26, 32, 38, 43, 47)}


@pytest.mark.parametrize("inches", sorted(HOSE))
@pytest.mark.parametrize(("column", "psi"), list(enumerate((20, 30, 40, 50, 60))))
def test_garden_hose_table(inches, column, psi):
    # Iowa State Univ. Extension, Horticulture & Home Pest News, 28 Jun 1996: 100 ft, free discharge, gpm
    flow = hazen_williams_flow(psi * PSI_M, 100 * 0.3048, inches * 0.0254, 140.0) / GPM
    assert int(np.floor(flow + 0.5)) == HOSE[inches][column]


@pytest.mark.parametrize(
    ("celsius", "viscosity"), [(0.01, 1.791e-6), (10, 1.306e-6), (20, 1.003e-6), (30, 0.801e-6), (40, 0.658e-6)]
)
def test_viscosity_of_water(celsius, viscosity):
    # IAPWS R12-08 at 0.1 MPa, the first at the triple point
    assert water(celsius).viscosity_m2_s == pytest.approx(viscosity, abs=6e-10)


@pytest.mark.parametrize("celsius", [5.0, 15.0, 25.0, 45.0, 60.0])
def test_water_matches_the_formulation_in_iapws(celsius):
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from iapws import IAPWS95

        state = IAPWS95(T=celsius + 273.15, P=0.101325)
    assert water(celsius).viscosity_m2_s == pytest.approx(state.nu, rel=1e-4)
    assert water(celsius).density_kg_m3 == pytest.approx(state.rho, rel=1e-5)


def test_default_viscosity_is_epanets():
    # EPANET 2 Users Manual: 1.1e-5 ft2/s
    assert pytest.approx(1.1e-5 * 0.3048**2, rel=1e-4) == EPANET_VISCOSITY_M2_S
    assert Fluid().viscosity_m2_s == EPANET_VISCOSITY_M2_S


@pytest.mark.parametrize("celsius", [-0.1, 61.0, float("nan")])
def test_water_outside_its_range_is_refused(celsius):
    with pytest.raises(HydraulicError, match="properties are known"):
        water(celsius)

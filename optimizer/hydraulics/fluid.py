"""Viscosity and density of water."""

from __future__ import annotations

from dataclasses import dataclass

from optimizer.errors import HydraulicError

GRAVITY_M_S2 = 9.80665
"""Standard acceleration of gravity, exact by definition (3rd CGPM 1901, NIST SP 330)."""

EPANET_VISCOSITY_M2_S = 1.0219e-6
"""Kinematic viscosity EPANET takes when none is given, 1.1e-5 ft2/s at 20 C (EPANET 2 Users Manual, Rossman 2000)."""

COLDEST_C = 0.0
WARMEST_C = 60.0


@dataclass(frozen=True)
class Fluid:
    """What friction needs to know about the water.

    Args:
        viscosity_m2_s: kinematic viscosity [m2/s]
        density_kg_m3: density [kg/m3]
    """

    viscosity_m2_s: float = EPANET_VISCOSITY_M2_S
    density_kg_m3: float = 998.2

    def __post_init__(self) -> None:
        if not (0.0 < self.viscosity_m2_s < 1.0 and 0.0 < self.density_kg_m3 < 1e5):
            raise HydraulicError(
                f"water needs a positive viscosity and density, "
                f"got {self.viscosity_m2_s} m2/s, {self.density_kg_m3} kg/m3"
            )


def _check_temperature(temperature_c: float) -> None:
    if not COLDEST_C <= temperature_c <= WARMEST_C:
        raise HydraulicError(f"water at {temperature_c} C: properties are known from {COLDEST_C} to {WARMEST_C} C")


def water_density(temperature_c: float) -> float:
    """Density of air-free water at atmospheric pressure.

    Source: Kell 1975, J. Chem. Eng. Data 20(1), 97-105, from memory; 0 to 60 C. Example: 20 C -> 998.2.

    Args:
        temperature_c: water temperature [C]

    Returns:
        Density [kg/m3].

    Raises:
        HydraulicError: outside 0 to 60 C.
    """
    _check_temperature(temperature_c)
    t = temperature_c
    polynomial = -280.54253e-12
    for coefficient in (105.56302e-9, -46.170461e-6, -7.9870401e-3, 16.945176, 999.83952):
        polynomial = polynomial * t + coefficient
    return polynomial / (1.0 + 16.879850e-3 * t)


def water_dynamic_viscosity(temperature_c: float) -> float:
    """Dynamic viscosity of water at 0.1 MPa.

    Source: Huber et al. 2009 (the paper behind IAPWS R12-08), J. Phys. Chem. Ref. Data 38(2), correlation at
    0.1 MPa: sum of four powers of T/300 K, from memory. Example: 20 C -> 1.0016e-3.

    Args:
        temperature_c: water temperature [C]

    Returns:
        Dynamic viscosity [Pa s].

    Raises:
        HydraulicError: outside 0 to 60 C.
    """
    _check_temperature(temperature_c)
    reduced = (temperature_c + 273.15) / 300.0
    terms = ((280.68, -1.9), (511.45, -7.7), (61.131, -19.6), (0.45903, -40.0))
    return 1e-6 * float(sum(factor * reduced**power for factor, power in terms))


def water(temperature_c: float) -> Fluid:
    """Water at a temperature.

    Source: `water_density`, `water_dynamic_viscosity`. Example: 20 C -> 1.003e-6 m2/s.

    Args:
        temperature_c: water temperature [C]

    Raises:
        HydraulicError: outside 0 to 60 C.
    """
    density = water_density(temperature_c)
    return Fluid(water_dynamic_viscosity(temperature_c) / density, density)

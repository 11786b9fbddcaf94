"""Sun and radiation of one day, FAO Irrigation and Drainage Paper 56 (Allen, Pereira, Raes & Smith 1998), chapter 3.

One formula is one function and names its equation there. Radiation is in MJ per m2 and day, angles are in radians
unless the name says otherwise.
"""

from __future__ import annotations

import math

SOLAR_CONSTANT = 0.0820
"""MJ per m2 and minute (FAO-56, below equation 21)."""
STEFAN_BOLTZMANN = 4.903e-9
"""MJ per K4, m2 and day (FAO-56, below equation 39)."""
ALBEDO = 0.23
"""Share of short-wave radiation reflected by the reference grass (FAO-56, equation 38)."""
KELVIN = 273.16
"""Zero of the Celsius scale as FAO-56 rounds it in equation 39 [K]."""
DARKEST_RATIO = 0.3
"""Least Rs/Rso used: FAO-56 names about 0.33 for dense cloud; 0.3 is the limit of ASCE-EWRI (2005), equation 18."""


def inverse_distance(day_of_year: int) -> float:
    """Inverse relative distance of earth and sun, FAO-56 equation 23.

    Args:
        day_of_year: 1 (1 January) to 366 [day]
    """
    return 1.0 + 0.033 * math.cos(2.0 * math.pi * day_of_year / 365.0)


def declination(day_of_year: int) -> float:
    """Solar declination [rad], FAO-56 equation 24.

    Args:
        day_of_year: 1 (1 January) to 366 [day]
    """
    return 0.409 * math.sin(2.0 * math.pi * day_of_year / 365.0 - 1.39)


def sunset_hour_angle(latitude: float, solar_declination: float) -> float:
    """Hour angle of sunset [rad], FAO-56 equation 25; 0 in the polar night and pi in the polar day.

    Args:
        latitude: north positive [rad]
        solar_declination: from `declination` [rad]
    """
    cosine = -math.tan(latitude) * math.tan(solar_declination)
    return math.acos(min(1.0, max(-1.0, cosine)))


def extraterrestrial_radiation(latitude_deg: float, day_of_year: int) -> float:
    """Radiation above the atmosphere Ra [MJ/(m2 day)], FAO-56 equation 21 (and 22 for the angle).

    Example 8 there: 20 degrees south on 3 September gives 32.2.

    Args:
        latitude_deg: north positive [deg]
        day_of_year: 1 (1 January) to 366 [day]
    """
    phi = math.radians(latitude_deg)
    delta = declination(day_of_year)
    omega = sunset_hour_angle(phi, delta)
    height = omega * math.sin(phi) * math.sin(delta) + math.cos(phi) * math.cos(delta) * math.sin(omega)
    return 24.0 * 60.0 / math.pi * SOLAR_CONSTANT * inverse_distance(day_of_year) * height


def daylight_hours(latitude_deg: float, day_of_year: int) -> float:
    """Longest possible sunshine N [h], FAO-56 equation 34.

    Args:
        latitude_deg: north positive [deg]
        day_of_year: 1 (1 January) to 366 [day]
    """
    return 24.0 / math.pi * sunset_hour_angle(math.radians(latitude_deg), declination(day_of_year))


def radiation_from_sunshine(sunshine_h: float, longest_h: float, extraterrestrial: float) -> float:
    """Solar radiation Rs [MJ/(m2 day)] from hours of sunshine, FAO-56 equation 35 with as 0.25 and bs 0.50.

    Args:
        sunshine_h: bright sunshine of the day [h]
        longest_h: daylight hours N; in the polar night (0) the ratio counts as 0 [h]
        extraterrestrial: Ra [MJ/(m2 day)]
    """
    ratio = sunshine_h / longest_h if longest_h > 0.0 else 0.0
    return (0.25 + 0.50 * ratio) * extraterrestrial


def radiation_from_temperature(tmax_c: float, tmin_c: float, extraterrestrial: float, krs: float) -> float:
    """Solar radiation Rs [MJ/(m2 day)] from the range of temperature (Hargreaves), FAO-56 equation 50.

    Args:
        tmax_c: warmest air temperature of the day [deg C]
        tmin_c: coldest air temperature of the day [deg C]
        extraterrestrial: Ra [MJ/(m2 day)]
        krs: 0.16 inland, 0.19 near a coast [1/K^0.5]
    """
    return krs * math.sqrt(tmax_c - tmin_c) * extraterrestrial


def clear_sky_radiation(altitude_m: float, extraterrestrial: float) -> float:
    """Radiation of a cloudless day Rso [MJ/(m2 day)], FAO-56 equation 37.

    Args:
        altitude_m: height above the sea [m]
        extraterrestrial: Ra [MJ/(m2 day)]
    """
    return (0.75 + 2.0e-5 * altitude_m) * extraterrestrial


def net_shortwave(solar: float) -> float:
    """Net short-wave radiation Rns [MJ/(m2 day)], FAO-56 equation 38.

    Args:
        solar: Rs [MJ/(m2 day)]
    """
    return (1.0 - ALBEDO) * solar


def relative_shortwave(solar: float, clear_sky: float) -> float:
    """Rs/Rso kept between `DARKEST_RATIO` and 1, as FAO-56 asks below equation 39; 1 in the polar night.

    Args:
        solar: Rs [MJ/(m2 day)]
        clear_sky: Rso [MJ/(m2 day)]
    """
    if clear_sky <= 0.0:
        return 1.0
    return min(1.0, max(DARKEST_RATIO, solar / clear_sky))


def net_longwave(tmax_c: float, tmin_c: float, vapour_pressure: float, relative: float) -> float:
    """Net outgoing long-wave radiation Rnl [MJ/(m2 day)], FAO-56 equation 39.

    Args:
        tmax_c: warmest air temperature of the day [deg C]
        tmin_c: coldest air temperature of the day [deg C]
        vapour_pressure: actual vapour pressure ea [kPa]
        relative: Rs/Rso from `relative_shortwave` [1]
    """
    fourth = ((tmax_c + KELVIN) ** 4 + (tmin_c + KELVIN) ** 4) / 2.0
    return STEFAN_BOLTZMANN * fourth * (0.34 - 0.14 * math.sqrt(vapour_pressure)) * (1.35 * relative - 0.35)


def monthly_soil_heat(previous_mean_c: float, next_mean_c: float) -> float:
    """Soil heat flux of a month G [MJ/(m2 day)], FAO-56 equation 43; a single day takes 0 (equation 42).

    Args:
        previous_mean_c: mean air temperature of the month before [deg C]
        next_mean_c: mean air temperature of the month after [deg C]
    """
    return 0.07 * (next_mean_c - previous_mean_c)

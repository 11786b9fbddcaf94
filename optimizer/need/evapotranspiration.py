"""Reference evapotranspiration ETo: FAO-56 Penman-Monteith with its rules for missing data, and Hargreaves.

Source: FAO Irrigation and Drainage Paper 56 (Allen, Pereira, Raes & Smith 1998), chapters 2 to 4. One formula is one
function; temperatures are in deg C, pressures in kPa, radiation in MJ per m2 and day, depths in mm.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from optimizer.need import radiation
from optimizer.need.weather import Place, Weather, check_weather

MM_PER_MJ = 0.408
"""Water evaporated by 1 MJ per m2 (FAO-56, equation 20) [mm]."""
KRS_INLAND, KRS_COAST = 0.16, 0.19
WORLD_WIND_M_S = 2.0
"""Wind taken where none was measured: mean of over 2000 weather stations (FAO-56, chapter 3)."""


@dataclass(frozen=True)
class Reference:
    """Reference evapotranspiration of a day with what had to be assumed for it."""

    eto_mm_day: float
    assumptions: tuple[str, ...]


def atmospheric_pressure(altitude_m: float) -> float:
    """Air pressure [kPa], FAO-56 equation 7.

    Args:
        altitude_m: height above the sea [m]
    """
    return 101.3 * math.pow((293.0 - 0.0065 * altitude_m) / 293.0, 5.26)


def psychrometric_constant(pressure: float) -> float:
    """Psychrometric constant [kPa/K], FAO-56 equation 8.

    Args:
        pressure: air pressure [kPa]
    """
    return 0.665e-3 * pressure


def saturation_pressure(temperature_c: float) -> float:
    """Saturation vapour pressure e0(T) [kPa], FAO-56 equation 11.

    Args:
        temperature_c: air temperature [deg C]
    """
    return 0.6108 * math.exp(17.27 * temperature_c / (temperature_c + 237.3))


def mean_saturation_pressure(tmax_c: float, tmin_c: float) -> float:
    """Saturation vapour pressure of a day es [kPa], FAO-56 equation 12.

    Args:
        tmax_c: warmest air temperature [deg C]
        tmin_c: coldest air temperature [deg C]
    """
    return (saturation_pressure(tmax_c) + saturation_pressure(tmin_c)) / 2.0


def saturation_slope(temperature_c: float) -> float:
    """Slope of the saturation vapour pressure curve [kPa/K], FAO-56 equation 13.

    Args:
        temperature_c: air temperature [deg C]
    """
    return 4098.0 * saturation_pressure(temperature_c) / (temperature_c + 237.3) ** 2


def vapour_pressure_from_extremes(weather: Weather, rhmax_pct: float, rhmin_pct: float) -> float:
    """Actual vapour pressure ea [kPa] from highest and lowest humidity, FAO-56 equation 17.

    Args:
        weather: gives the extremes of temperature
        rhmax_pct: highest relative humidity [%]
        rhmin_pct: lowest relative humidity [%]
    """
    coldest, warmest = saturation_pressure(weather.tmin_c), saturation_pressure(weather.tmax_c)
    return (coldest * rhmax_pct + warmest * rhmin_pct) / 200.0


def wind_at_two_metres(wind_m_s: float, height_m: float) -> float:
    """Wind 2 m above the ground [m/s], FAO-56 equation 47; measured there it stays as it is.

    Args:
        wind_m_s: wind at `height_m` [m/s]
        height_m: height of the gauge, above 0.1 m [m]
    """
    return wind_m_s if height_m == 2.0 else wind_m_s * 4.87 / math.log(67.8 * height_m - 5.42)


def penman_monteith(mean_c: float, slope: float, gamma: float, energy: float, deficit: float, wind_2m: float) -> float:
    """Reference evapotranspiration ETo [mm/day], FAO-56 equation 6.

    Args:
        mean_c: mean air temperature [deg C]
        slope: slope of the saturation curve [kPa/K]
        gamma: psychrometric constant [kPa/K]
        energy: net radiation less soil heat flux, Rn - G [MJ/(m2 day)]
        deficit: saturation deficit es - ea [kPa]
        wind_2m: wind 2 m above the ground [m/s]
    """
    drying = gamma * 900.0 / (mean_c + 273.0) * wind_2m * deficit
    return (MM_PER_MJ * slope * energy + drying) / (slope + gamma * (1.0 + 0.34 * wind_2m))


def hargreaves(tmax_c: float, tmin_c: float, extraterrestrial: float) -> float:
    """Reference evapotranspiration ETo [mm/day] from temperature alone, FAO-56 equation 52.

    Args:
        tmax_c: warmest air temperature [deg C]
        tmin_c: coldest air temperature [deg C]
        extraterrestrial: Ra [MJ/(m2 day)]
    """
    mean = (tmax_c + tmin_c) / 2.0
    return 0.0023 * (mean + 17.8) * math.sqrt(tmax_c - tmin_c) * MM_PER_MJ * extraterrestrial


def vapour_pressure(weather: Weather) -> tuple[float, tuple[str, ...]]:
    """Actual vapour pressure ea [kPa] from the best datum there is, and what was assumed.

    Order of FAO-56 chapter 3: dew point (equation 14), both humidities (17), the highest alone (18), the mean (19);
    with none of them the dew point is taken as the coldest temperature (equation 48).

    Args:
        weather: the day
    """
    if weather.tdew_c is not None:
        return saturation_pressure(weather.tdew_c), ()
    if weather.rhmax_pct is not None and weather.rhmin_pct is not None:
        return vapour_pressure_from_extremes(weather, weather.rhmax_pct, weather.rhmin_pct), ()
    if weather.rhmax_pct is not None:
        pressure = saturation_pressure(weather.tmin_c) * weather.rhmax_pct / 100.0
        return pressure, ("humidity: from the daily maximum alone (FAO-56 eq. 18)",)
    if weather.rhmean_pct is not None:
        pressure = weather.rhmean_pct / 100.0 * mean_saturation_pressure(weather.tmax_c, weather.tmin_c)
        return pressure, ("humidity: from the daily mean (FAO-56 eq. 19)",)
    return saturation_pressure(weather.tmin_c), ("humidity: dew point taken as Tmin (FAO-56 eq. 48)",)


def solar_radiation(place: Place, day_of_year: int, weather: Weather) -> tuple[float, tuple[str, ...]]:
    """Solar radiation Rs [MJ/(m2 day)]: measured, else from sunshine (35), else from temperature (50).

    Radiation estimated from temperature is held to the clear-sky value (FAO-56, below equation 50).

    Args:
        place: latitude, height, coast
        day_of_year: 1 to 366 [day]
        weather: the day
    """
    if weather.solar_mj_m2 is not None:
        return weather.solar_mj_m2, ()
    extraterrestrial = radiation.extraterrestrial_radiation(place.latitude_deg, day_of_year)
    if weather.sunshine_h is not None:
        longest = radiation.daylight_hours(place.latitude_deg, day_of_year)
        solar = radiation.radiation_from_sunshine(weather.sunshine_h, longest, extraterrestrial)
        return solar, ("radiation: from sunshine hours (FAO-56 eq. 35)",)
    krs = KRS_COAST if place.coastal else KRS_INLAND
    solar = radiation.radiation_from_temperature(weather.tmax_c, weather.tmin_c, extraterrestrial, krs)
    clear = radiation.clear_sky_radiation(place.altitude_m, extraterrestrial)
    where = "coast" if place.coastal else "inland"
    return min(solar, clear), (f"radiation: from the temperature range, kRs {krs} {where} (FAO-56 eq. 50)",)


def wind(weather: Weather) -> tuple[float, tuple[str, ...]]:
    """Wind 2 m above the ground [m/s] and what was assumed.

    Args:
        weather: the day
    """
    if weather.wind_m_s is None:
        return WORLD_WIND_M_S, (f"wind: {WORLD_WIND_M_S:g} m/s, the mean of weather stations (FAO-56 chapter 3)",)
    return wind_at_two_metres(weather.wind_m_s, weather.wind_height_m), ()


def reference_need(place: Place, day_of_year: int, weather: Weather, soil_heat: float = 0.0) -> Reference:
    """Reference evapotranspiration of a day by FAO-56 Penman-Monteith, missing data filled by its own rules.

    A negative result (cold, wet winter days) is given as 0. Example 18 there (Uccle, 6 July): 3.88 mm.

    Args:
        place: latitude, height, coast
        day_of_year: 1 to 366 [day]
        weather: the day
        soil_heat: soil heat flux G, 0 for single days [MJ/(m2 day)]

    Raises:
        ValueError: a value is out of its physical range
    """
    check_weather(weather)
    vapour, vapour_note = vapour_pressure(weather)
    solar, solar_note = solar_radiation(place, day_of_year, weather)
    wind_2m, wind_note = wind(weather)
    extraterrestrial = radiation.extraterrestrial_radiation(place.latitude_deg, day_of_year)
    relative = radiation.relative_shortwave(solar, radiation.clear_sky_radiation(place.altitude_m, extraterrestrial))
    longwave = radiation.net_longwave(weather.tmax_c, weather.tmin_c, vapour, relative)
    mean = (weather.tmax_c + weather.tmin_c) / 2.0
    eto = penman_monteith(
        mean_c=mean,
        slope=saturation_slope(mean),
        gamma=psychrometric_constant(atmospheric_pressure(place.altitude_m)),
        energy=radiation.net_shortwave(solar) - longwave - soil_heat,
        deficit=max(0.0, mean_saturation_pressure(weather.tmax_c, weather.tmin_c) - vapour),
        wind_2m=wind_2m,
    )
    return Reference(max(0.0, eto), (*vapour_note, *solar_note, *wind_note))

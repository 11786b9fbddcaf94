"""Where weather is measured, what was measured, and what cannot be true."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Place:
    """Where the weather is measured.

    Args:
        latitude_deg: north positive, -90 to 90 [deg]
        altitude_m: height above the sea [m]
        coastal: within the influence of a large water body, for radiation from temperature
    """

    latitude_deg: float
    altitude_m: float
    coastal: bool = False

    def __post_init__(self) -> None:
        """Refuse places that are not on earth."""
        if not -90.0 <= self.latitude_deg <= 90.0:
            raise ValueError(f"latitude {self.latitude_deg} deg is not between -90 and 90")
        if not -500.0 <= self.altitude_m <= 9000.0:
            raise ValueError(f"altitude {self.altitude_m} m is not between -500 and 9000")


@dataclass(frozen=True)
class Weather:
    """What was measured on a day (or is the mean of a month); None where it was not.

    Args:
        tmax_c: warmest air temperature [deg C]
        tmin_c: coldest air temperature [deg C]
        tdew_c: dew point [deg C]
        rhmax_pct: highest relative humidity [%]
        rhmin_pct: lowest relative humidity [%]
        rhmean_pct: mean relative humidity [%]
        wind_m_s: mean wind at `wind_height_m` [m/s]
        wind_height_m: height of the wind gauge above the ground [m]
        sunshine_h: bright sunshine [h]
        solar_mj_m2: solar radiation Rs [MJ/(m2 day)]
    """

    tmax_c: float
    tmin_c: float
    tdew_c: float | None = None
    rhmax_pct: float | None = None
    rhmin_pct: float | None = None
    rhmean_pct: float | None = None
    wind_m_s: float | None = None
    wind_height_m: float = 2.0
    sunshine_h: float | None = None
    solar_mj_m2: float | None = None


LIMITS = {
    "tmax_c": (-60.0, 60.0),
    "tmin_c": (-60.0, 60.0),
    "tdew_c": (-70.0, 40.0),
    "rhmax_pct": (0.0, 100.0),
    "rhmin_pct": (0.0, 100.0),
    "rhmean_pct": (0.0, 100.0),
    "wind_m_s": (0.0, 60.0),
    "wind_height_m": (0.5, 100.0),
    "sunshine_h": (0.0, 24.0),
    "solar_mj_m2": (0.0, 50.0),
    "rain_mm": (0.0, 2000.0),
    "eto_mm": (0.0, 25.0),
}
"""Range of each datum beyond which it can only be a slip (wrong unit, wrong column)."""


def weather_faults(weather: Weather) -> tuple[str, ...]:
    """Everything that cannot be true of a day's weather, in words.

    Args:
        weather: the day
    """
    faults = []
    for name in sorted(vars(weather)):
        value, (low, high) = getattr(weather, name), LIMITS[name]
        if value is not None and not low <= value <= high:
            faults.append(f"{name} is {value:g}, must be {low:g} to {high:g}")
    if weather.tmax_c < weather.tmin_c:
        faults.append(f"tmax_c {weather.tmax_c:g} is below tmin_c {weather.tmin_c:g}")
    return tuple(faults)


def check_weather(weather: Weather) -> None:
    """Refuse weather that cannot be.

    Args:
        weather: the day

    Raises:
        ValueError: with every fault
    """
    faults = weather_faults(weather)
    if faults:
        raise ValueError("; ".join(faults))

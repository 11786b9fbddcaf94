"""What a scenario can say about weather, crops and timer; the text under a field is its documentation.

Depths are metres, needs metres a second, temperatures deg C, as everywhere in a scenario; clock times are minutes of
the day and weekdays run from 0 (Monday) to 6 (Sunday).
"""

from __future__ import annotations

import math
from functools import cached_property
from typing import Annotated, Literal

from pydantic import Field, model_validator

from optimizer.need import Climate as DailyClimate
from optimizer.need import (
    Place,
    Weather,
    from_daily_weather,
    from_monthly_eto,
    from_monthly_weather,
    from_weekly_depth,
    radiation,
)
from optimizer.need.calendar_days import middle_day
from optimizer.need.evapotranspiration import hargreaves
from optimizer.scenario.part import Name, Part, Positive
from optimizer.scenario.quantities import Angle, Height, Length, Share
from optimizer.scenario.water_quantities import (
    ClockSpan,
    Date,
    Minutes,
    MinutesOrZero,
    MonthlyNeed,
    MonthlyRain,
    MonthlyShare,
    MonthlySunshine,
    MonthlyTemperature,
    MonthlyWind,
    NeedOrMonthly,
    WeatherFile,
    Weekdays,
)

MM = 1000.0
DAY_S = 86_400.0
HOUR_S = 3600.0
Coefficient = Annotated[float, Field(gt=0.0, le=2.0, allow_inf_nan=False)]
BasalCoefficient = Annotated[float, Field(ge=0.0, le=2.0, allow_inf_nan=False)]
Days = Annotated[int, Field(strict=True, ge=0, le=730)]


class MonthlyWeather(Part):
    """Twelve monthly means for the Penman-Monteith equation; what is left out is estimated and said so."""

    tmax: MonthlyTemperature
    """mean of the daily warmest air temperature"""
    tmin: MonthlyTemperature
    """mean of the daily coldest air temperature"""
    tdew: MonthlyTemperature | None = None
    """dew point"""
    humidity: MonthlyShare | None = None
    """mean relative humidity"""
    wind: MonthlyWind | None = None
    sunshine: MonthlySunshine | None = None
    """bright sunshine a day"""

    def months(self, wind_height: float) -> tuple[Weather, ...]:
        """Weather of each month.

        Args:
            wind_height: height of the wind gauge [m]
        """
        return tuple(
            Weather(
                tmax_c=self.tmax[month],
                tmin_c=self.tmin[month],
                tdew_c=self.tdew[month] if self.tdew else None,
                rhmean_pct=100.0 * self.humidity[month] if self.humidity else None,
                wind_m_s=self.wind[month] if self.wind else None,
                wind_height_m=wind_height,
                sunshine_h=self.sunshine[month] / HOUR_S if self.sunshine else None,
            )
            for month in range(12)
        )


class Temperatures(Part):
    """Twelve monthly means for the Hargreaves equation, which needs no more than temperatures."""

    tmax: MonthlyTemperature
    tmin: MonthlyTemperature

    def eto(self, latitude_deg: float) -> tuple[float, ...]:
        """Reference need of each month [mm/day], FAO-56 equation 52 at its middle day.

        Args:
            latitude_deg: north positive [deg]

        Raises:
            ValueError: a coldest temperature is above the warmest
        """
        found = []
        for month, (warm, cold) in enumerate(zip(self.tmax, self.tmin, strict=True)):
            if cold > warm:
                raise ValueError(f"hargreaves: tmin of month {month + 1} is above tmax")
            extraterrestrial = radiation.extraterrestrial_radiation(latitude_deg, middle_day(month))
            # Below -17.8 deg C the equation turns negative; nothing grows then.
            found.append(max(0.0, hargreaves(warm, cold, extraterrestrial)))
        return tuple(found)


_SOURCES = ("need", "eto", "penman_monteith", "hargreaves", "weather_file")


class Climate(Part):
    """How much water the weather asks for: one of `need`, `eto`, `penman_monteith`, `hargreaves`, `weather_file`."""

    latitude: Angle | None = None
    """north positive"""
    altitude: Height | None = None
    """height above the sea"""
    coastal: bool = False
    """within the influence of a large water body"""
    wind_height: Length = 2.0
    """height of the wind gauge above the ground"""
    need: NeedOrMonthly | None = None
    """depth the crops are to get, for the whole year or for each month: "1.25 in/week" """
    eto: MonthlyNeed | None = None
    """reference evapotranspiration of each month; the crop coefficients come on top"""
    penman_monteith: MonthlyWeather | None = None
    """weather of each month"""
    hargreaves: Temperatures | None = None
    """temperatures of each month"""
    weather_file: WeatherFile | None = None
    """name of a file of daily weather beside the scenario: date, then eto_mm or tmax_c, tmin_c and others, rain_mm"""
    rain: MonthlyRain | None = None
    """rain of each month"""
    count_rain: bool = False
    """take the useful part of the mean rain off the schedule, instead of giving a rule for rainy days"""

    @model_validator(mode="after")
    def _one_source(self) -> Climate:
        given = [key for key in _SOURCES if getattr(self, key) is not None]
        if len(given) != 1:
            raise ValueError(f"give one of {', '.join(_SOURCES)}; found {', '.join(given) or 'none'}")
        if self.weather_file is not None and self.rain is not None:
            raise ValueError("rain: the weather file has the rain in it; leave one of them out")
        self._place_given(given[0])
        # Worked out once here, so that weather that cannot be is told while the file is read.
        if not any(self.daily.rain_mm) and self.count_rain:
            raise ValueError("count_rain: there is no rain in the climate that could be counted")
        return self

    def _place_given(self, source: str) -> None:
        from_weather = self.weather_file is not None and any(day.eto_mm is None for day in self.weather_file)
        needs_place = source in ("penman_monteith", "hargreaves") or from_weather
        if needs_place and self.latitude is None:
            raise ValueError(f"{source} needs the latitude")
        if needs_place and source != "hargreaves" and self.altitude is None:
            raise ValueError(f"{source} needs the altitude")

    @property
    def southern(self) -> bool:
        """South of the equator."""
        return self.latitude is not None and self.latitude < 0.0

    @property
    def _place(self) -> Place:
        return Place(math.degrees(self.latitude or 0.0), self.altitude or 0.0, self.coastal)

    @cached_property
    def daily(self) -> DailyClimate:
        """Need and useful rain day by day."""
        rain = None if self.rain is None else [MM * depth for depth in self.rain]
        if self.need is not None:
            return from_weekly_depth([7.0 * DAY_S * MM * rate for rate in self.need], rain)
        if self.eto is not None:
            return from_monthly_eto([DAY_S * MM * rate for rate in self.eto], rain)
        if self.hargreaves is not None:
            return from_monthly_eto(self.hargreaves.eto(self._place.latitude_deg), rain)
        if self.penman_monteith is not None:
            return from_monthly_weather(self._place, self.penman_monteith.months(self.wind_height), rain)
        return from_daily_weather(self._place, self.weather_file or ())


class CropWater(Part):
    """When a crop grows and what it asks of the water; a built-in crop unless given here."""

    planted: Date
    """day of sowing or planting out (first leaves of what stays in the ground)"""
    like: Name | None = None
    """built-in crop whose values are taken; the crop's own name unless stated"""
    season_days: Annotated[int, Field(strict=True, ge=4, le=730)] | None = None
    """days from planting to the last harvest; the built-in stages are stretched to it"""
    stage_days: tuple[Days, Days, Days, Days] | None = None
    """lengths of the four stages: start, growing, full size, ripening"""
    kc: tuple[Coefficient, Coefficient, Coefficient] | None = None
    """crop coefficients at the start, at full size and at the end"""
    kcb: tuple[BasalCoefficient, BasalCoefficient, BasalCoefficient] | None = None
    """the same without evaporation from bare soil, to be given with `kc` if there is mulch"""
    root_depth: Length | None = None
    """depth that is to be kept moist"""
    depletion: Share | None = None
    """share of the soil's water used before the crop suffers"""
    canopy_cover: Share | None = None
    """ground shaded at noon by the full-grown crop, if it never closes"""
    mulch: Literal["none", "organic", "plastic"] = "none"
    mulch_cover: Share = 1.0
    """share of the soil under the mulch"""

    @model_validator(mode="after")
    def _sound(self) -> CropWater:
        if self.season_days is not None and self.stage_days is not None:
            raise ValueError("give either season_days or stage_days")
        if self.stage_days is not None and not any(self.stage_days):
            raise ValueError("stage_days: at least one stage needs a day")
        if self.kcb is not None and self.kc is None:
            raise ValueError("kcb needs kc beside it")
        if self.kc is not None and self.kcb is None and self.mulch != "none":
            raise ValueError("kc with mulch needs kcb, for what the mulch saves")
        for key in ("canopy_cover", "mulch_cover"):
            share = getattr(self, key)
            if share is not None and not 0.0 < share <= 1.0:
                raise ValueError(f"{key}: must be above 0 % and at most 100 %")
        if self.depletion is not None and not 0.0 < self.depletion < 1.0:
            raise ValueError("depletion: must be between 0 % and 100 %")
        return self


class Timer(Part):
    """What the timer can do."""

    outlets: Positive | None = None
    """zones it can switch; a plan never has more; limits.zones_at_most unless stated"""
    step: Minutes = 1
    """minutes come in multiples of this"""
    longest_run: Minutes = 240
    starts_per_day: Positive = 4
    """for each outlet"""
    soak: MinutesOrZero = 30
    """least pause between two runs of a zone on one day"""

    @model_validator(mode="after")
    def _runs(self) -> Timer:
        if self.longest_run < self.step:
            raise ValueError("longest_run must be at least one step")
        return self


class Hours(Part):
    """When water may run."""

    days: Weekdays = (0, 1, 2, 3, 4, 5, 6)
    """ "every day" or some days: "Mon Wed Fri" """
    times: tuple[ClockSpan, ...] = Field(min_length=1)
    """hours of these days: "06:00-08:00"; a night such as "22:00-05:00" ends on the next day"""

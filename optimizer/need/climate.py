"""Climate reduced to a daily need of water and a daily useful rain, whatever it was given as.

Ways in: monthly means of ETo, monthly means of the weather, a daily weather file, or a plain depth a week.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from optimizer.need import radiation
from optimizer.need.calendar_days import DAYS_IN_YEAR, MONTH_DAYS, MONTH_NAMES, day_of_year, middle_day, month_of
from optimizer.need.evapotranspiration import hargreaves, reference_need
from optimizer.need.weather import LIMITS, Place, Weather
from optimizer.need.weather_file import WeatherDay

NO_RAIN = "rain: none given, none counted"


@dataclass(frozen=True)
class Climate:
    """Need and useful rain of each day of a year of 365 days; index 0 is 1 January.

    Args:
        need_mm: reference need (ETo), or the crops' own need if `crop_coefficients_apply` is false; None on days
            that no weather was given for [mm/day]
        rain_mm: rain that reaches the roots [mm/day]
        crop_coefficients_apply: false when the grower stated the depth the crops are to get
        assumptions: what was assumed, to be printed
    """

    need_mm: tuple[float | None, ...]
    rain_mm: tuple[float, ...]
    crop_coefficients_apply: bool
    assumptions: tuple[str, ...]

    def __post_init__(self) -> None:
        """Hold both series to one value a day."""
        if len(self.need_mm) != DAYS_IN_YEAR or len(self.rain_mm) != DAYS_IN_YEAR:
            raise ValueError("a climate has 365 daily needs and 365 daily rains")


def monthly_effective_rain(rain_mm_month: float) -> float:
    """Rain of a month that the crop can use [mm].

    0.8 P - 25 from 75 mm on, 0.6 P - 10 below, never negative: Brouwer & Heibloem (1986), Irrigation water needs,
    FAO Irrigation Water Management Training Manual 3 (for slopes under 4-5 %).

    Args:
        rain_mm_month: rain of the month [mm]
    """
    return max(0.0, 0.8 * rain_mm_month - 25.0 if rain_mm_month > 75.0 else 0.6 * rain_mm_month - 10.0)


def daily_effective_rain(rain_mm: float, eto_mm: float) -> float:
    """Rain of a day that reaches the roots [mm]: rain under 0.2 ETo evaporates and is left out (FAO-56 chapter 8).

    Args:
        rain_mm: rain of the day [mm]
        eto_mm: reference need of the day [mm]
    """
    return rain_mm if rain_mm >= 0.2 * eto_mm else 0.0


def twelve(
    name: str, values: Sequence[float], limits: tuple[float, float]
) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """Twelve monthly values as an array of shape (12,).

    Args:
        name: what they are, for the message
        values: January to December
        limits: least and most that can be

    Raises:
        ValueError: not twelve, or one out of its limits
    """
    if len(values) != 12:
        raise ValueError(f"{name}: {len(values)} values, must be 12 (January to December)")
    for month, value in zip(MONTH_NAMES, values, strict=True):
        if not limits[0] <= value <= limits[1]:
            raise ValueError(f"{name}: {month} is {value:g}, must be {limits[0]:g} to {limits[1]:g}")
    return np.asarray(values, dtype=np.float64)


def interpolation_weights() -> np.ndarray[tuple[int, int], np.dtype[np.float64]]:
    """Weights of shape (365, 12): each day lies on the line between the two nearest mid-months, round the year."""
    middles = np.array([middle_day(month) for month in range(12)], dtype=np.float64)
    nodes = np.concatenate([[middles[-1] - DAYS_IN_YEAR], middles, [middles[0] + DAYS_IN_YEAR]])
    days = np.arange(1.0, DAYS_IN_YEAR + 1.0)
    hats = [np.interp(days, nodes, np.eye(14)[column]) for column in range(14)]
    return np.stack([hats[m + 1] + (hats[0] if m == 11 else 0.0) + (hats[13] if m == 0 else 0.0) for m in range(12)], 1)


def months_to_days(values: Sequence[float]) -> tuple[tuple[float, ...], str]:
    """Twelve monthly means as 365 daily values, and the rule that was used.

    Straight lines between mid-months, their corners chosen (a 12 by 12 linear system) so that the days of each month
    average to exactly the mean given. Where that would need a negative corner (a nearly waterless month beside a
    strong one) the corners are the means themselves.

    Args:
        values: January to December, of shape (12,)
    """
    weights = interpolation_weights()
    month = np.repeat(np.arange(12), MONTH_DAYS)
    averages = np.stack([weights[month == m].mean(axis=0) for m in range(12)])
    means = np.asarray(values, dtype=np.float64)
    corners = np.linalg.solve(averages, means)
    rule = "days: straight lines between mid-months that keep each month's mean"
    if corners.min() < 0.0:
        corners, rule = means, "days: straight lines between mid-months through the monthly means"
    return tuple(float(value) for value in weights @ corners), rule


def monthly_rain_by_day(rain_mm_month: Sequence[float] | None) -> tuple[tuple[float, ...], str]:
    """Useful rain of each day, a month's spread evenly over its days, and the rule that was used.

    Args:
        rain_mm_month: January to December, or None [mm]
    """
    if rain_mm_month is None:
        return (0.0,) * DAYS_IN_YEAR, NO_RAIN
    rain = twelve("rain_mm_month", rain_mm_month, LIMITS["rain_mm"])
    useful = [monthly_effective_rain(float(value)) for value in rain]
    daily = tuple(useful[month_of(day)] / MONTH_DAYS[month_of(day)] for day in range(1, DAYS_IN_YEAR + 1))
    return daily, "rain: useful part of the month (FAO Training Manual 3), spread evenly over its days"


def from_monthly_eto(eto_mm_day: Sequence[float], rain_mm_month: Sequence[float] | None = None) -> Climate:
    """Climate from twelve monthly means of reference evapotranspiration.

    Args:
        eto_mm_day: January to December [mm/day]
        rain_mm_month: January to December, or None [mm]

    Raises:
        ValueError: not twelve values, or one that cannot be
    """
    need, rule = months_to_days([float(v) for v in twelve("eto_mm_day", eto_mm_day, LIMITS["eto_mm"])])
    rain, rain_rule = monthly_rain_by_day(rain_mm_month)
    return Climate(need, rain, True, (rule, rain_rule))


def from_monthly_weather(
    place: Place, weather: Sequence[Weather], rain_mm_month: Sequence[float] | None = None
) -> Climate:
    """Climate from twelve months of mean weather: ETo at the middle day of each month, with monthly soil heat (eq. 43).

    Args:
        place: latitude, height, coast
        weather: mean weather, January to December
        rain_mm_month: January to December, or None [mm]

    Raises:
        ValueError: not twelve months, or a value that cannot be
    """
    if len(weather) != 12:
        raise ValueError(f"weather: {len(weather)} months, must be 12 (January to December)")
    means = [(month.tmax_c + month.tmin_c) / 2.0 for month in weather]
    results = [
        reference_need(place, middle_day(m), weather[m], radiation.monthly_soil_heat(means[m - 1], means[(m + 1) % 12]))
        for m in range(12)
    ]
    climate = from_monthly_eto([result.eto_mm_day for result in results], rain_mm_month)
    notes = in_order(note for result in results for note in result.assumptions)
    if notes:
        notes = (*notes, hargreaves_note(place, weather, [result.eto_mm_day for result in results]))
    return Climate(climate.need_mm, climate.rain_mm, True, (*notes, *climate.assumptions))


def hargreaves_note(place: Place, weather: Sequence[Weather], eto_mm_day: Sequence[float]) -> str:
    """A second opinion where data were missing: Hargreaves (eq. 52) beside Penman-Monteith in the thirstiest month.

    Args:
        place: latitude, height, coast
        weather: mean weather, January to December
        eto_mm_day: Penman-Monteith, January to December [mm/day]
    """
    month = max(range(12), key=lambda m: eto_mm_day[m])
    extraterrestrial = radiation.extraterrestrial_radiation(place.latitude_deg, middle_day(month))
    other = hargreaves(weather[month].tmax_c, weather[month].tmin_c, extraterrestrial)
    return (
        f"check: in {MONTH_NAMES[month]} Penman-Monteith gives {eto_mm_day[month]:.1f} mm/day, "
        f"Hargreaves (FAO-56 eq. 52) {other:.1f}"
    )


def in_order(notes: Iterable[str]) -> tuple[str, ...]:
    """The notes without repeats, in the order they first come.

    Args:
        notes: lines of text
    """
    return tuple(dict.fromkeys(notes))


def day_need(place: Place, day: WeatherDay) -> tuple[float, tuple[str, ...]]:
    """Reference need of a day of a weather file [mm] and what was assumed for it; a stated ETo goes before weather.

    Args:
        place: latitude, height, coast
        day: given with its ETo or with its weather

    Raises:
        ValueError: it has neither
    """
    if day.eto_mm is not None:
        return day.eto_mm, ()
    if day.weather is None:
        raise ValueError(f"{day.date}: neither weather nor eto_mm")
    result = reference_need(place, day_of_year(day.date), day.weather)
    return result.eto_mm_day, result.assumptions


def from_daily_weather(place: Place, days: Sequence[WeatherDay]) -> Climate:
    """Climate from daily weather of one or more years, years averaged by calendar day (29 February left out).

    Args:
        place: latitude, height, coast
        days: what the weather file holds
    """
    need: list[list[float]] = [[] for _ in range(DAYS_IN_YEAR)]
    rain: list[list[float]] = [[] for _ in range(DAYS_IN_YEAR)]
    notes: dict[str, int] = {}
    for day in days:
        if (day.date.month, day.date.day) == (2, 29):
            continue
        index = day_of_year(day.date) - 1
        eto, assumed = day_need(place, day)
        need[index].append(eto)
        rain[index].append(daily_effective_rain(day.rain_mm or 0.0, eto))
        for note in assumed:
            notes[note] = notes.get(note, 0) + 1
    rained = any(day.rain_mm is not None for day in days)
    rule = "rain: days under 0.2 ETo left out (FAO-56 chapter 8)" if rained else NO_RAIN
    return Climate(
        need_mm=tuple(sum(values) / len(values) if values else None for values in need),
        rain_mm=tuple(sum(values) / len(values) if values else 0.0 for values in rain),
        crop_coefficients_apply=True,
        assumptions=(*(f"{note}, on {count} days" for note, count in sorted(notes.items())), rule),
    )


def from_weekly_depth(depth_mm_week: Sequence[float], rain_mm_month: Sequence[float] | None = None) -> Climate:
    """Climate from a plain depth a week: what the crops are to get, so crop coefficients are not applied again.

    Args:
        depth_mm_week: one value for the whole year or twelve, January to December [mm/week]
        rain_mm_month: January to December, or None [mm]

    Raises:
        ValueError: neither one nor twelve values, or one that cannot be
    """
    months = list(depth_mm_week) * 12 if len(depth_mm_week) == 1 else depth_mm_week
    depth = twelve("depth_mm_week", months, (0.0, 7.0 * LIMITS["eto_mm"][1]))
    need = tuple(float(depth[month_of(day)]) / 7.0 for day in range(1, DAYS_IN_YEAR + 1))
    rain, rule = monthly_rain_by_day(rain_mm_month)
    return Climate(need, rain, False, ("need: the depth a week as stated, the same for every crop", rule))

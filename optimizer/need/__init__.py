"""How long to run it: crop water need, soil water and the schedule of the timer.

Depths are in mm, need in mm a day, temperatures in deg C, as in FAO Irrigation and Drainage Paper 56; all else is SI.
`season` turns zones, climate and allowance into a `SeasonPlan`; `calendar_text` writes that as a calendar file.
"""

from optimizer.need.calendar_file import calendar_text
from optimizer.need.climate import (
    Climate,
    from_daily_weather,
    from_monthly_eto,
    from_monthly_weather,
    from_weekly_depth,
)
from optimizer.need.coefficients import Mulch, MulchKind, climate_adjusted
from optimizer.need.crops import Crop, built_in_crops, crop, stretched
from optimizer.need.evapotranspiration import reference_need
from optimizer.need.growing import Row
from optimizer.need.levers import Lever
from optimizer.need.minutes import application_rate_mm_h, group_by_minutes, may_share, strip_hours
from optimizer.need.periods import Period, PeriodKind
from optimizer.need.rain import RainRule
from optimizer.need.season import season
from optimizer.need.season_plan import PeriodPlan, RowAccount, SeasonPlan, ZonePeriod
from optimizer.need.sharing import may_share_season, peak_minutes, row_minutes, rows_apart
from optimizer.need.shortage import Shortage
from optimizer.need.soils import Soil, built_in_soils, soil
from optimizer.need.timer import Allowance, Timer, Window
from optimizer.need.weather import Place, Weather
from optimizer.need.weather_file import WeatherDay, load_weather, parse_weather
from optimizer.need.zone_period import RowPeriod, Zone

__all__ = [
    "Allowance",
    "Climate",
    "Crop",
    "Lever",
    "Mulch",
    "MulchKind",
    "Period",
    "PeriodKind",
    "PeriodPlan",
    "Place",
    "RainRule",
    "Row",
    "RowAccount",
    "RowPeriod",
    "SeasonPlan",
    "Shortage",
    "Soil",
    "Timer",
    "Weather",
    "WeatherDay",
    "Window",
    "Zone",
    "ZonePeriod",
    "application_rate_mm_h",
    "built_in_crops",
    "built_in_soils",
    "calendar_text",
    "climate_adjusted",
    "crop",
    "from_daily_weather",
    "from_monthly_eto",
    "from_monthly_weather",
    "from_weekly_depth",
    "group_by_minutes",
    "load_weather",
    "may_share",
    "may_share_season",
    "parse_weather",
    "peak_minutes",
    "reference_need",
    "row_minutes",
    "rows_apart",
    "season",
    "soil",
    "stretched",
    "strip_hours",
]

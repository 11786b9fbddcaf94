"""When it rains: how much rain replaces how many runs."""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True)
class RainRule:
    """Rain that replaces runs.

    Args:
        one_run_mm: rain that replaces one run [mm]
        most_runs: runs that can be skipped at most, however much it rains
        text: the rule in words, metric
    """

    one_run_mm: int
    most_runs: int
    text: str


def rain_for_runs(runs: int, net_run_mm: float, eto_mm_day: float) -> int:
    """Rain that replaces so many runs [whole mm]: their net depths, and the 0.2 ETo that evaporates at once.

    FAO-56 chapter 8: rain under about 0.2 ETo a day is normally all evaporated.

    Args:
        runs: runs to skip
        net_run_mm: depth of one run that reaches the roots [mm]
        eto_mm_day: reference need of the day [mm]
    """
    return math.ceil(runs * net_run_mm + 0.2 * eto_mm_day - 1e-9)


def rain_rule(net_run_mm: float, eto_mm_day: float, room_mm: float, sheds_rain: bool) -> RainRule:
    """Rule "if it rains X mm skip Y runs" from the depth of a run and the room in the soil.

    More rain than the roots' readily available water (dx) drains away, so the runs to skip end there.

    Args:
        net_run_mm: depth of one run that reaches the roots, above 0 [mm]
        eto_mm_day: reference need of the day [mm]
        room_mm: most net depth the soil stores for the crop, dx [mm]
        sheds_rain: plastic mulch keeps the rain off (Penn State Extension, 26 June 2013: water it as if dry)
    """
    if sheds_rain:
        return RainRule(0, 0, "Rain does not reach the roots under plastic: run as planned.")
    most = max(1, math.floor(room_mm / net_run_mm + 1e-9))
    one = rain_for_runs(1, net_run_mm, eto_mm_day)
    text = f"If it rains {one} mm skip the next run"
    if most > 1:
        text += f"; {rain_for_runs(most, net_run_mm, eto_mm_day)} mm or more, skip the next {most}"
    return RainRule(one, most, f"{text}.")

"""From depth to minutes, and which crops may run together."""

from __future__ import annotations

from collections.abc import Sequence

MM_PER_HOUR = 3.6e6
"""1 m/s as mm/h."""
INCH_MM = 25.4


def application_rate_mm_h(emitter_flow_m3_s: float, emitter_spacing_m: float, line_pitch_m: float) -> float:
    """Depth given in an hour [mm/h]: emitter flow over the ground it serves. 2 L/h on 0.3 m by 1.0 m: 6.67.

    Args:
        emitter_flow_m3_s: flow of one emitter [m3/s]
        emitter_spacing_m: distance of emitters along the line [m]
        line_pitch_m: width of ground one line serves (row spacing over lines a row) [m]

    Raises:
        ValueError: a value is not above 0
    """
    if min(emitter_flow_m3_s, emitter_spacing_m, line_pitch_m) <= 0.0:
        raise ValueError("emitter flow, emitter spacing and line pitch must be above 0")
    return MM_PER_HOUR * emitter_flow_m3_s / (emitter_spacing_m * line_pitch_m)


def strip_hours(depth_mm: float, strip_width_m: float, flow_m3_s_per_m: float) -> float:
    """Hours to put a depth on a strip watered by one line [h].

    Penn State Extension (26 June 2013), how long to run drip irrigation systems for vegetables: 1 inch on 30 inches
    at 0.45 gpm per 100 ft takes 5.8 h.

    Args:
        depth_mm: depth over the strip [mm]
        strip_width_m: width of the strip [m]
        flow_m3_s_per_m: flow of the line per metre [m3/(s m)]
    """
    return depth_mm / (MM_PER_HOUR * flow_m3_s_per_m / strip_width_m)


def gross_depth_mm(net_mm: float, evenness: float, efficiency: float) -> float:
    """Depth to give so that the drier part of the row gets the net depth [mm]: net / (EU x efficiency).

    Keller & Bliesner (1990) chapter 19 divide by EU; `efficiency` holds what else is lost (leaks, drainage of tubes).

    Args:
        net_mm: depth the crop is to get [mm]
        evenness: emission uniformity EU as a share, above 0 and up to 1 [1]
        efficiency: share of the water that is not lost, above 0 and up to 1 [1]

    Raises:
        ValueError: a share is not above 0 and up to 1
    """
    if not (0.0 < evenness <= 1.0 and 0.0 < efficiency <= 1.0):
        raise ValueError(f"evenness {evenness} and efficiency {efficiency} must lie above 0 and up to 1")
    return net_mm / (evenness * efficiency)


def run_minutes(depth_mm: float, rate_mm_h: float) -> float:
    """Minutes to give a depth [min].

    Args:
        depth_mm: gross depth [mm]
        rate_mm_h: application rate, above 0 [mm/h]
    """
    return 60.0 * depth_mm / rate_mm_h


def may_share(minutes_a: float, minutes_b: float, tolerance: float) -> bool:
    """Whether two rows may run together: they differ by no more than the tolerance times the longer time.

    Run for the longer time, nobody is short. With tolerance 0.2, 46 and 28 minutes may not share, 46 and 37 may.

    Args:
        minutes_a: time the one needs [min]
        minutes_b: time the other needs [min]
        tolerance: share of the longer time, 0 to 1 [1]

    Raises:
        ValueError: negative minutes, or a tolerance that is no share
    """
    if min(minutes_a, minutes_b) < 0.0 or not 0.0 <= tolerance <= 1.0:
        raise ValueError("minutes must not be negative and the tolerance must lie between 0 and 1")
    return abs(minutes_a - minutes_b) <= tolerance * max(minutes_a, minutes_b) * (1.0 + 1e-12)


def group_by_minutes(minutes: Sequence[float], tolerance: float) -> tuple[tuple[int, ...], ...]:
    """Fewest groups of rows that may run together, longest times first; each group holds indices into `minutes`.

    Rows are taken from the longest time down and a new group begins where `may_share` with the first of the group
    fails; since sharing depends on the two extremes alone, no partition has fewer groups.

    Args:
        minutes: time each row needs, of shape (n,) [min]
        tolerance: share of the longer time, 0 to 1 [1]
    """
    groups: list[list[int]] = []
    for index in sorted(range(len(minutes)), key=lambda i: (-minutes[i], i)):
        if groups and may_share(minutes[groups[-1][0]], minutes[index], tolerance):
            groups[-1].append(index)
        else:
            groups.append([index])
    return tuple(tuple(group) for group in groups)

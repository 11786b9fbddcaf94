"""Ways to ask for less: of the beds, of the crops and of the limits every plan must hold."""

from __future__ import annotations

import math
from collections.abc import Callable

from optimizer.choose.relax_values import grown, lowered, raised, replaced, shrunk
from optimizer.choose.waterlimits import DEFAULT_VARIATION
from optimizer.scenario.outlines import corners
from optimizer.scenario.schema import Bed, Crop, Limits, Scenario

_MOST_ZONES_MORE = 40
_MOST_JOINTS = 5
_MOST_HEADERS = 4
_LEAST_SPACINGS = 3
"""emitter spacings that make a row worth planting"""
_EVEN_ENOUGH = 0.6
"""flow variation beyond which evenness means nothing"""


def _limited(scenario: Scenario, **values: object) -> Scenario:
    return replaced(scenario, limits=replaced(scenario.limits, **values))


def _in_beds(scenario: Scenario, change: Callable[[Bed], Bed]) -> Scenario:
    return replaced(scenario, beds=tuple(change(bed) for bed in scenario.beds))


def _in_crops(scenario: Scenario, change: Callable[[Crop], Crop]) -> Scenario:
    return _in_beds(scenario, lambda bed: replaced(bed, crops=tuple(change(crop) for crop in bed.crops)))


# ---------------------------------------------------------------- zones


def with_zones(scenario: Scenario, most: int) -> Scenario:
    """Return the scenario with at most so many zones and a timer with as many outlets."""
    timer = scenario.timer
    if timer is not None and timer.outlets is not None:
        timer = replaced(timer, outlets=most)
    return replaced(scenario, timer=timer, limits=replaced(scenario.limits, zones_at_most=most))


def more_zones(scenario: Scenario, share: float) -> Scenario:
    """Allow more zones and take a timer with as many outlets; what is not stated or already enough stays."""
    if scenario.most_zones is None:
        return scenario
    wanted = scenario.most_zones + math.ceil(share * _MOST_ZONES_MORE)
    limits, timer = scenario.limits, scenario.timer
    if limits.zones_at_most is not None:
        limits = replaced(limits, zones_at_most=max(limits.zones_at_most, wanted))
    if timer is not None and timer.outlets is not None:
        timer = replaced(timer, outlets=max(timer.outlets, wanted))
    return replaced(scenario, limits=limits, timer=timer)


def shared_zones(scenario: Scenario, share: float) -> Scenario:
    """Let crops share a zone that wanted their own, or whose run times differ."""
    if share <= 0.0:
        return scenario
    together = _in_crops(scenario, lambda crop: replaced(crop, own_zone=False))
    return _limited(together, share_zones_anyway=True) if scenario.climate is not None else together


def row_shut_offs(scenario: Scenario, share: float) -> Scenario:
    """Let rows be opened by hand, so that any of them may run together."""
    closed = scenario.limits.zoning == "split headers"
    return _limited(scenario, zoning="either") if share > 0.0 and closed else scenario


# ---------------------------------------------------------------- limits


def more_joints(scenario: Scenario, share: float) -> Scenario:
    """Allow couplers within a lateral."""
    before = scenario.limits.joints_per_lateral
    return _limited(scenario, joints_per_lateral=min(before + math.ceil(_MOST_JOINTS * share), _MOST_JOINTS))


def more_headers(scenario: Scenario, share: float) -> Scenario:
    """Allow more headers side by side."""
    before = scenario.limits.headers_at_most
    return _limited(scenario, headers_at_most=min(before + math.ceil(3 * share), _MOST_HEADERS))


def looser_evenness(scenario: Scenario, share: float) -> Scenario:
    """Accept less even emitter flows, by whichever measures are limited."""
    return _limited(scenario, **_looser(scenario, scenario.limits, share)) if share > 0.0 else scenario


def _looser(scenario: Scenario, limits: Limits, share: float) -> dict[str, object]:
    found: dict[str, object] = {}
    if limits.emission_uniformity is not None:
        least = 0.1 * limits.emission_uniformity
        found["emission_uniformity"] = lowered(scenario.units, "percent", limits.emission_uniformity, share, least)
    if limits.flow_variation is not None or limits.emission_uniformity is None:
        before = limits.flow_variation if limits.flow_variation is not None else DEFAULT_VARIATION
        most = max(_EVEN_ENOUGH, before)
        found["flow_variation"] = raised(scenario.units, "percent", before, share, most)
    return found


def faster_water(scenario: Scenario, share: float) -> Scenario:
    """Allow water to run faster in blank tube, at most twice as fast."""
    return _limited(scenario, velocity=grown(scenario.units, "velocity", scenario.limits.velocity, share, 2.0))


def shorter_stretches(scenario: Scenario, share: float) -> Scenario:
    """Water shorter stretches of row."""
    return _limited(scenario, shortest_row=lowered(scenario.units, "length", scenario.limits.shortest_row, share))


def finer_header_places(scenario: Scenario, share: float) -> Scenario:
    """Compare header places closer together."""
    return _limited(scenario, header_step=shrunk(scenario.units, "length", scenario.limits.header_step, share, 10.0))


# ---------------------------------------------------------------- beds


def smaller_edges(scenario: Scenario, share: float) -> Scenario:
    """Let rows stand nearer to the edge of the bed."""
    return _in_beds(
        scenario, lambda bed: replaced(bed, edge_margin=lowered(scenario.units, "length", bed.edge_margin, share))
    )


def smaller_row_ends(scenario: Scenario, share: float) -> Scenario:
    """Let rows end nearer to the edge of the bed."""
    return _in_beds(
        scenario, lambda bed: replaced(bed, row_end_margin=lowered(scenario.units, "length", bed.row_end_margin, share))
    )


def shorter_rows(scenario: Scenario, share: float) -> Scenario:
    """Leave the ends of the rows unplanted, at most so much that a short stretch is left in the longest bed."""
    spacing = max(line.spacing for line in scenario.emitter_lines)
    left = max(scenario.limits.shortest_row, _LEAST_SPACINGS * spacing)

    def less(bed: Bed) -> Bed:
        most = max((_reach(bed) - left) / 2.0, bed.row_end_margin)
        return replaced(bed, row_end_margin=raised(scenario.units, "length", bed.row_end_margin, share, most))

    return _in_beds(scenario, less)


def _reach(bed: Bed) -> float:
    """Return the greatest extent of a bed along x or y [m]."""
    return float(max(max(axis) - min(axis) for axis in zip(*corners(bed), strict=True)))


def other_directions(scenario: Scenario, share: float) -> Scenario:
    """Let rows run along and across the bed."""

    def free(bed: Bed) -> Bed:
        missing = [name for name in ("along", "across") if name not in bed.directions]
        return replaced(bed, directions=(*bed.directions, *missing)) if missing else bed

    return _in_beds(scenario, free) if share > 0.0 else scenario


def any_line(scenario: Scenario, share: float) -> Scenario:
    """Let every emitter line lie in every bed."""
    every = tuple(line.name for line in scenario.emitter_lines)

    def free(bed: Bed) -> Bed:
        return replaced(bed, lines=every) if bed.lines and set(bed.lines) != set(every) else bed

    return _in_beds(scenario, free) if share > 0.0 else scenario


def through_barriers(scenario: Scenario, share: float) -> Scenario:
    """Let tube pass where barriers are."""
    return replaced(scenario, barriers=()) if share > 0.0 else scenario


# ---------------------------------------------------------------- crops


def fewer_rows(scenario: Scenario, share: float) -> Scenario:
    """Leave out rows: every request shrinks; a crop that fills keeps its share of the bed by wider spacing."""
    keep = 1.0 - 0.95 * share

    def less(crop: Crop) -> Crop:
        if crop.fill:
            return replaced(crop, row_spacing=grown(scenario.units, "length", crop.row_spacing, share, 20.0))
        if crop.rows is not None:
            return replaced(crop, rows=max(math.floor(crop.rows * keep + 1e-9), 1))
        if crop.plants is not None:
            return replaced(crop, plants=max(math.floor(crop.plants * keep + 1e-9), 1))
        if crop.row_length is not None:
            return replaced(crop, row_length=shrunk(scenario.units, "length", crop.row_length, share, 20.0))
        return crop

    return _in_crops(scenario, less)


def closer_rows(scenario: Scenario, share: float) -> Scenario:
    """Let rows stand closer together, at most twice as close, and not so close that the lines of two rows meet."""

    def closer(crop: Crop) -> Crop:
        least = crop.lines_per_row * crop.line_spacing if crop.lines_per_row > 1 else 0.0
        spacing = max(shrunk(scenario.units, "length", crop.row_spacing, share, 2.0), least)
        return replaced(crop, row_spacing=min(spacing, crop.row_spacing))

    return _in_crops(scenario, closer)


def fewer_lines(scenario: Scenario, share: float) -> Scenario:
    """Lay fewer emitter lines in each row, at least one."""
    fewer = math.ceil(3 * share)
    return _in_crops(scenario, lambda crop: replaced(crop, lines_per_row=max(crop.lines_per_row - fewer, 1)))

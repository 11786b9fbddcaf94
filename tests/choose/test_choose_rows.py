"""Row plans against every placing of rows on the grid; no published source, the referee is brute force."""

from __future__ import annotations

import random

import pytest
from planted import planted, stairs, tap
from rows_by_hand import best_goals, goals

from optimizer.rows import row_field, row_plans
from optimizer.site import row_angles, site_shapes

OUTLINES = (
    '["0 m, 0 m", "3 m, 0 m", "0.5 m, 2 m"]',
    '["0 m, 0 m", "3 m, 0 m", "3 m, 1.4 m", "0 m, 1.4 m"]',
)


def drawn(seed):
    """Return a bed of one to three crops that may not all fit."""
    draw = random.Random(seed)
    crops = []
    for number in range(draw.choice((1, 2, 2, 3))):
        lines = [f'name = "crop {number}"', f'row_spacing = "{draw.choice((0.3, 0.4, 0.5, 0.7))} m"']
        lines += [f"rows = {draw.choice((1, 2, 3, 4))}" if draw.random() < 0.6 else "fill = true"]
        lines += ["lines_per_row = 2", 'line_spacing = "0.2 m"'] if draw.random() < 0.2 else []
        crops.append("\n".join(lines))
    outline = draw.choice((*OUTLINES, stairs(tuple(draw.choice((0.8, 2, 3)) for _ in range(draw.choice((2, 3, 4)))))))
    return on_coarse_grid(planted(tap(500), outline, crops="\n[[beds.crops]]\n".join(crops)))


def on_coarse_grid(scenario):
    """Return a scenario with row places 20 cm apart, so that brute force ends."""
    return scenario.model_copy(update={"limits": scenario.limits.model_copy(update={"row_step": 0.2})})


def placed(scenario):
    """Return bed, row field and row plans."""
    bed = scenario.beds[0]
    ((name, angle),) = row_angles(bed)
    field = row_field(bed, name, angle, site_shapes(scenario), scenario.limits)
    return bed, field, row_plans(bed, field, scenario.site.north, 24)[0]


@pytest.mark.parametrize("seed", range(60))
def test_row_plans_are_as_good_as_every_placing(seed):
    bed, field, plans = placed(drawn(seed))
    best = best_goals(bed, field)
    assert min(goals(bed, field, tuple((row.crop, row.v) for row in plan.rows)) for plan in plans) == best
    assert {plan.missing_ppm for plan in plans} == {best[0]}


def test_a_filling_crop_is_not_crowded_out_by_another():
    """Two crops that fill 1.2 m of a triangle: once all rows went to one of them, which met half of what was asked."""
    crops = (
        'name = "a"\nrow_spacing = "0.5 m"\nfill = true\n[[beds.crops]]\nname = "b"\nrow_spacing = "0.5 m"\nfill = true'
    )
    _, _, plans = placed(on_coarse_grid(planted(tap(500), OUTLINES[0], crops=crops)))
    for plan in plans:
        assert plan.missing_ppm == 0
        assert {row.crop for row in plan.rows} == {0, 1}


def test_shares_of_requests_count_not_rows():
    """Room for three rows, asked for are one of a and four of b: without a 1 + 1/4 is missing, with it only 1/2."""
    crops = 'name = "a"\nrow_spacing = "0.5 m"\nrows = 1\n[[beds.crops]]\nname = "b"\nrow_spacing = "0.4 m"\nrows = 4'
    bed, field, plans = placed(on_coarse_grid(planted(tap(500), OUTLINES[1], crops=crops)))
    assert best_goals(bed, field)[0] == 500_000
    assert [plan.missing_ppm for plan in plans] == [500_000] * len(plans)

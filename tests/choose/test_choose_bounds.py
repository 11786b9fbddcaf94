"""Bounds of designs against their exact values: a bound above a value would rule out the best unseen."""

from __future__ import annotations

import pytest
from tiny_gardens import KINDS, garden

from optimizer.choose.designs import choice_set
from optimizer.choose.evaluate import EFFORTS, Evaluator, RuledOutError


@pytest.mark.parametrize("kind", KINDS)
def test_a_bound_is_never_above_the_value(kind):
    scenario = garden(kind, 3)
    choices = choice_set(scenario, scenario.beds[0])
    evaluator = Evaluator(choices)
    for design in list(choices.designs())[::3]:
        try:
            case, bound = evaluator.bound(design)
            item = evaluator.evaluate(design, case, len(EFFORTS) - 1)
        except RuledOutError:
            continue
        # Every goal by itself, not only in order: a later goal's bound counts once the earlier ones tie.
        assert bound <= item.goals
        assert bound.missing_ppm == item.goals.missing_ppm
        assert bound.money_ct <= item.goals.money_ct
        assert bound.fittings <= item.goals.fittings
        assert item.bound == item.goals

"""Random drip networks for comparison with other solvers: slopes, loops, mixed bores, one emitter exponent each."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from optimizer.hydraulics import EmitterLaw, EmitterLine, Fluid, solve_network
from optimizer.hydraulics.build import NetworkBuilder

LATERAL_BORES_M = (0.0136, 0.0146, 0.0159, 0.0174, 0.0222)
HEADER_BORES_M = (0.0152, 0.0208, 0.0266, 0.035, 0.051)
LEAST_SHARE = 0.2
"""Least emitter head kept, as a share of the inlet head: EPANET lets water in at negative heads."""


def _split(total, parts, rng):
    """Emitters of each lateral, at least one, summing to the total."""
    cuts = np.sort(rng.choice(np.arange(1, total), parts - 1, replace=False)) if parts > 1 else np.array([], dtype=int)
    return np.diff(np.concatenate([[0], cuts, [total]]))


def _draft(seed, emitters, flow, tilt):
    rng = np.random.default_rng(seed)
    x = float(rng.uniform(0.4, 1.0))
    laterals = int(rng.integers(max(1, emitters // 120), max(2, min(40, emitters // 3 + 1))))
    slope_x, slope_y = tilt * rng.uniform(-0.03, 0.03, 2)
    rough = tilt * 0.02
    build = NetworkBuilder()

    def ground(px, py):
        return slope_x * px + slope_y * py + rough * rng.uniform(-1, 1)

    inlet = build.node(ground(0.0, -10.0))
    before = build.node(ground(0.0, 0.0))
    header_bore = float(rng.choice(HEADER_BORES_M))
    build.tube(inlet, before, float(rng.uniform(1, 40)), float(rng.choice(HEADER_BORES_M[1:])), loss_k=2.0)
    spacing = float(rng.choice([0.1, 0.15, 0.2, 0.3, 0.5]))
    kinds = int(rng.integers(1, 4))
    bores = rng.choice(LATERAL_BORES_M, kinds)
    rates = flow * rng.uniform(0.5, 1.5, kinds)
    looped = bool(rng.random() < 0.5) and laterals > 1
    ends, place = [], 0.0
    for count in _split(emitters, laterals, rng):
        place += float(rng.uniform(0.3, 1.5))
        here = build.node(ground(place, 0.0))
        build.tube(before, here, float(rng.uniform(0.3, 1.5)), header_bore, loss_k=float(rng.choice([0.0, 0.5])))
        kind = int(rng.integers(kinds))
        line = EmitterLine(float(bores[kind]), spacing, EmitterLaw.from_rating(float(rates[kind]), 10.0, x))
        z = [ground(place, spacing * i) for i in range(1, count + 1)]
        ends.append(build.lateral(here, line, z, 0.5 * spacing, float(rng.choice([0.0, 1.0]))))
        before = here
    if looped:
        # A flushing header joins the ends, and here and there a cross tube joins the middles.
        for left, right in pairwise(ends):
            build.tube(left[-1], right[-1], float(rng.uniform(0.3, 3.0)), float(rng.choice(HEADER_BORES_M)))
            if rng.random() < 0.2:
                build.tube(left[len(left) // 2], right[len(right) // 2], 1.0, 0.0136)
    return build.network(inlet), float(rng.uniform(5.0, 30.0)), looped


def random_network(seed, emitters):
    """A network, its inlet head [m] and whether it has loops; emitters are scaled down until none runs dry."""
    flow, tilt = 1.5 / 3.6e6, 1.0
    for _ in range(40):
        network, inlet_head, looped = _draft(seed, emitters, flow, tilt)
        heads = solve_network(network, inlet_head, Fluid()).emitter_head_m
        if heads.min() >= LEAST_SHARE * inlet_head:
            return network, inlet_head, looped
        flow, tilt = 0.7 * flow, 0.8 * tilt
    raise AssertionError(f"seed {seed}: no wet network of {emitters} emitters found")

"""Random small cutting tasks: few rolls and pieces, every rule switched on in some of them."""

from __future__ import annotations

import random

from optimizer.cutting import CuttingTask, Demand, Stock


def tiny_task(seed: int) -> CuttingTask:
    """So small that every plan can be enumerated."""
    rng = random.Random(seed)
    unit = rng.choice([1, 10, 7])
    stocks = [
        Stock(f"roll{k}", rng.randint(3, 9) * unit + rng.randrange(unit), rng.choice([3, 5, 8, 10]), rng.randint(1, 3))
        for k in range(rng.randint(1, 2))
    ]
    stocks += _owned(rng, unit, 2, 9)
    demands = [Demand(f"piece{k}", rng.randint(1, 8), rng.randint(1, 2)) for k in range(rng.randint(1, 2))]
    return _task(rng, unit, stocks, demands, (0, 1, 3, 7, 20), rng.choice([1, 1, 2, 3]))


def small_task(seed: int) -> CuttingTask:
    """For a second solver: longer rolls, a few more pieces."""
    rng = random.Random(seed)
    unit = rng.choice([1, 10, 300])
    stocks = [
        Stock(
            f"roll{k}",
            rng.randint(12, 40) * unit + rng.randrange(unit),
            rng.choice([300, 500, 800, 999]),
            rng.randint(1, 2),
        )
        for k in range(rng.randint(1, 2))
    ]
    stocks += _owned(rng, unit, 4, 25)
    demands = [Demand(f"piece{k}", rng.randint(3, 20), rng.randint(1, 2)) for k in range(rng.randint(1, 3))]
    return _task(rng, unit, stocks, demands, (0, 10, 100, 700), rng.choice([1, 1, 2, 4]))


def _owned(rng: random.Random, unit: int, least: int, most: int) -> list[Stock]:
    lengths = [rng.randint(least, most) * unit + rng.randrange(unit) for _ in range(rng.randint(0, 2))]
    return [Stock(f"owned{k}", length, 0, 1, owned=True) for k, length in enumerate(lengths)]


def _task(rng, unit, stocks, demands, coupler_prices, least_part) -> CuttingTask:
    return CuttingTask(
        unit,
        tuple(stocks),
        tuple(demands),
        usable_um=rng.randint(0, 5 * unit),
        coupler_ct=rng.choice(coupler_prices),
        joints_per_piece=rng.choice([0, 0, 1, 1, 2]),
        least_part_units=least_part,
    )


def garden_task(seed: int, joints: int) -> CuttingTask:
    """Rolls of 50 and 100 m, an owned piece, up to ten kinds of laterals."""
    rng = random.Random(seed)
    unit = rng.choice([300_000, 10_000])
    stocks = [Stock("r50", 50_000_000, 2500, None), Stock("r100", 100_000_000, rng.choice([4500, 4999]), 2)]
    stocks += [Stock("own", rng.randint(5_000, 40_000) * 1000, 0, 1, owned=True)]
    demands = [
        Demand(f"row{k}", rng.randint(2_000_000, 30_000_000) // unit, rng.randint(1, 6))
        for k in range(rng.randint(1, 6))
    ]
    return CuttingTask(unit, tuple(stocks), tuple(demands), 1_000_000, rng.choice([0, 80, 600]), joints)

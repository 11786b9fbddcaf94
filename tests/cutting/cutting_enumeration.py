"""Full enumeration of tiny cutting tasks: every way to put units on rolls. Shares no code with the product."""

from __future__ import annotations

from itertools import combinations

from optimizer.cutting import CuttingTask


def best_goals(task: CuttingTask) -> tuple[int, int, int] | None:
    """Money, waste and couplers of the best plan; None if there is none."""
    pieces = sorted((d.units for d in task.demands for _ in range(d.count)), reverse=True)
    rolls = []
    for stock in task.stocks:
        most = sum(pieces) if stock.available is None else stock.available
        rolls += [stock] * min(most, len(pieces) * (task.joints_per_piece + 1))
    splits = {units: list(_splits(task, units, len(rolls))) for units in set(pieces)}
    best = None
    states = {((0,) * len(rolls), 0)}
    for units in pieces:
        states = {
            (used, joints + len(split) - 1)
            for before, joints in states
            for split in splits[units]
            if (used := _added(task, rolls, before, split)) is not None
        }
    for used, joints in states:
        goals = _goals(task, rolls, used, joints)
        best = goals if best is None else min(best, goals)
    return best


def _splits(task, units, rolls):
    """Every way to divide a piece among different rolls: {roll: units}."""
    for parts in range(1, task.joints_per_piece + 2):
        least = task.least_part_units if parts > 1 else 1
        for chosen in combinations(range(rolls), parts):
            for sizes in _compositions(units, parts, least):
                yield dict(zip(chosen, sizes, strict=True))


def _compositions(units, parts, least):
    if parts == 1:
        if units >= least:
            yield (units,)
        return
    for first in range(least, units + 1):
        for rest in _compositions(units - first, parts - 1, least):
            yield (first, *rest)


def _added(task, rolls, before, split):
    used = list(before)
    for r, units in split.items():
        used[r] += units
        if used[r] * task.unit_um > rolls[r].length_um:
            return None
    start = 0
    while start < len(rolls):  # equal rolls are interchangeable
        stop = start + sum(roll is rolls[start] for roll in rolls)
        used[start:stop] = sorted(used[start:stop], reverse=True)
        start = stop
    return tuple(used)


def _goals(task, rolls, used, joints):
    cut = [(stock, units) for stock, units in zip(rolls, used, strict=True) if units]
    money = sum(stock.price_ct for stock, _ in cut) + joints * task.coupler_ct
    left = [stock.length_um - units * task.unit_um for stock, units in cut]
    return money, sum(x for x in left if x < task.usable_um), joints

"""Real plans with joints where chains fail: rolls filled one after another, keeping the rules of parts and joints."""

from __future__ import annotations

from collections.abc import Iterator

from optimizer.cutting.assemble import Laid
from optimizer.cutting.core import Core
from optimizer.cutting.greedy import purchases
from optimizer.cutting.model import CuttingTask


def loose_layouts(task: CuttingTask, core: Core) -> Iterator[tuple[list[Laid], list[int]]]:
    """Yield layouts of the cheapest stock that is long enough, and of a little more.

    Args:
        task: Rules of joints.
        core: Pieces and stock in the task's units.
    """
    for counts in purchases(core):
        for longest_first in (True, False):
            rolls = [k for k, n in enumerate(counts) for _ in range(n)]
            rolls.sort(key=lambda k: core.stock[k].capacity, reverse=longest_first)
            layout = _lay(task, core, rolls)
            if layout is not None:
                yield layout


def _lay(task: CuttingTask, core: Core, rolls: list[int]) -> tuple[list[Laid], list[int]] | None:
    lengths = [size for size, count in zip(core.sizes, core.counts, strict=True) for _ in range(count)]
    waiting = list(range(len(lengths)))
    rest, joints = 0, 0  # of the piece that has been begun: units still to cut, joints it has
    laid: list[Laid] = []
    for position, stock in enumerate(rolls):
        room, parts = core.stock[stock].capacity, []
        if rest:
            part = _next_part(task, rest, room, joints)
            if part <= 0:
                return None
            parts.append((waiting[0], part))
            rest, room, joints = rest - part, room - part, joints + 1
            if rest == 0:
                waiting.pop(0)
        while room and waiting and not rest:
            whole = next((i for i in waiting if lengths[i] <= room), None)
            if whole is not None:
                waiting.remove(whole)
                parts.append((whole, lengths[whole]))
                room -= lengths[whole]
                continue
            part = _next_part(task, lengths[waiting[0]], room, 0)
            if part <= 0 or position + 1 == len(rolls):
                break
            parts.append((waiting[0], part))
            rest, joints, room = lengths[waiting[0]] - part, 1, 0
        if parts:
            laid.append(Laid(stock, tuple(parts)))
        if not waiting:
            return sorted(laid, key=lambda roll: roll.stock), lengths
    return None


def _next_part(task: CuttingTask, rest: int, room: int, joints: int) -> int:
    """Units to cut now so that both this part and what remains are long enough; 0 if that cannot be."""
    if rest <= room:
        return rest
    part = min(room, rest - task.least_part_units)
    return part if part >= task.least_part_units and joints < task.joints_per_piece else 0

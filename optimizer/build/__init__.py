"""From the chosen design to the plan a grower can lay: ids, places, cuts, bill and water."""

from optimizer.build.assemble import build_plan

__all__ = ["build_plan"]

"""Cutting pieces out of rolls and owned pieces, with or without joints, to proven least money, waste and couplers."""

from optimizer.cutting.check import check_cutting
from optimizer.cutting.model import (
    Cut,
    CuttingOutcome,
    CuttingPlan,
    CuttingStatus,
    CuttingTask,
    Demand,
    Limits,
    RollUse,
    Stock,
)
from optimizer.cutting.solve import money_bound, solve_cutting

__all__ = [
    "Cut",
    "CuttingOutcome",
    "CuttingPlan",
    "CuttingStatus",
    "CuttingTask",
    "Demand",
    "Limits",
    "RollUse",
    "Stock",
    "check_cutting",
    "money_bound",
    "solve_cutting",
]

"""Row plans: which crop stands where, for a bed and a row direction."""

from optimizer.rows.field import RowField, frame_away_from, row_field
from optimizer.rows.place import (
    CropOrderError,
    PlacedRow,
    RowLine,
    RowPlan,
    joined_plans,
    metres_wanted,
    row_plans,
)

__all__ = [
    "CropOrderError",
    "PlacedRow",
    "RowField",
    "RowLine",
    "RowPlan",
    "frame_away_from",
    "joined_plans",
    "metres_wanted",
    "row_field",
    "row_plans",
]

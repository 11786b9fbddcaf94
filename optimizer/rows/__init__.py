"""Row plans: which crop stands where, for a bed and a row direction."""

from optimizer.rows.field import RowField, row_field
from optimizer.rows.place import CropOrderError, PlacedRow, RowLine, RowPlan, metres_wanted, row_plans

__all__ = ["CropOrderError", "PlacedRow", "RowField", "RowLine", "RowPlan", "metres_wanted", "row_field", "row_plans"]

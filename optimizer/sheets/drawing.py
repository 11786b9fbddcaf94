"""All drawings of a plan in one place: each function takes a plan and paper and returns figures to save."""

from optimizer.sheets.drawing_head import draw_head
from optimizer.sheets.drawing_plan import draw_plan
from optimizer.sheets.drawing_pressure import Quantity, draw_pressure_map
from optimizer.sheets.drawing_rolls import draw_rolls
from optimizer.sheets.drawing_thumbnail import draw_side_by_side, draw_thumbnail
from optimizer.sheets.dxf import save_dxf
from optimizer.sheets.paper import A3, A4, LETTER, PAPERS, TABLOID, Paper, save_drawing

__all__ = [
    "A3",
    "A4",
    "LETTER",
    "PAPERS",
    "TABLOID",
    "Paper",
    "Quantity",
    "draw_head",
    "draw_plan",
    "draw_pressure_map",
    "draw_rolls",
    "draw_side_by_side",
    "draw_thumbnail",
    "save_drawing",
    "save_dxf",
]

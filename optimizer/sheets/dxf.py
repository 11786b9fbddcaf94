"""The plan as DXF in metres, one layer a kind of thing, for whoever draws on."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from optimizer.errors import FileError
from optimizer.plan import Plan, Point
from optimizer.sheets.drawing_places import couplers, crossings, ends, is_area, low_drains, take_offs, zone_valves

_METRES = 6
"""$INSUNITS of the DXF reference"""
_TEXT_M = 0.15

# Layer and colour index (7 is black on white paper).
_LAYERS = {
    "OUTLINE": 7,
    "BEDS": 30,
    "OBSTACLES": 8,
    "PATHS": 9,
    "BARRIERS": 1,
    "ROWS": 3,
    "BYPASSES": 6,
    "HEADERS": 5,
    "MAINLINE": 4,
    "TAKE-OFFS": 5,
    "END-CLOSURES": 7,
    "COUPLERS": 2,
    "VALVES": 1,
    "LOW-DRAINS": 4,
    "CROSSINGS": 30,
    "SOURCE": 1,
    "NAMES": 7,
}
_SHAPE_LAYERS = {"obstacle": "OBSTACLES", "path": "PATHS", "barrier": "BARRIERS"}
_PLACE_LAYERS = {
    "take-off": "TAKE-OFFS",
    "end closure": "END-CLOSURES",
    "coupler": "COUPLERS",
    "zone valve": "VALVES",
    "low drain": "LOW-DRAINS",
    "crossing": "CROSSINGS",
}


def _library() -> Any:
    # Imported when needed: it costs time, and nothing else uses it.
    import ezdxf

    return ezdxf


def lateral_layer(zone_id: str) -> str:
    """Return the layer of a zone's laterals; characters DXF forbids in names become hyphens."""
    return "LATERALS-" + re.sub(r"[^A-Za-z0-9_$-]", "-", zone_id)


def plan_to_dxf(plan: Plan) -> Any:
    """Build the DXF document of a plan, in metres with the plan's own coordinates.

    Args:
        plan: what is drawn.

    Returns:
        An ezdxf document (R2010).
    """
    document: Any = _library().new("R2010")
    # Otherwise the hour of making it would stand here.
    document.ezdxf_metadata()["CREATED_BY_EZDXF"] = "drip layout"
    document.header["$INSUNITS"] = _METRES
    document.header["$MEASUREMENT"] = 1
    layers = _LAYERS | {lateral_layer(zone.id): (k % 6) + 1 for k, zone in enumerate(plan.zones)}
    for name, colour in layers.items():
        document.layers.add(name, color=colour)
    space = document.modelspace()
    _add_ground(space, plan)
    _add_tubes(space, plan)
    _add_fittings(space, plan)
    return document


def _line(space: Any, points: Sequence[Point], layer: str, *, closed: bool = False) -> None:
    space.add_lwpolyline(points, close=closed, dxfattribs={"layer": layer})


def _name(space: Any, text: str, at: Point) -> None:
    space.add_text(text, height=_TEXT_M, dxfattribs={"layer": "NAMES"}).set_placement(at)


def _add_ground(space: Any, plan: Plan) -> None:
    if plan.site.outline:
        _line(space, plan.site.outline, "OUTLINE", closed=True)
    for bed in plan.beds:
        _line(space, bed.outline, "BEDS", closed=True)
        _name(space, bed.name, bed.outline[0])
    for shape in plan.site.shapes:
        _line(space, shape.points, _SHAPE_LAYERS[shape.kind], closed=is_area(shape))
        _name(space, shape.name, shape.points[0])
    space.add_point(plan.site.source_at, dxfattribs={"layer": "SOURCE"})
    _name(space, plan.site.source_kind, plan.site.source_at)
    for row in plan.rows:
        space.add_line(row.start, row.end, dxfattribs={"layer": "ROWS"})
        _name(space, f"{row.id} {row.crop}", row.start)


def _add_tubes(space: Any, plan: Plan) -> None:
    for lateral in plan.laterals:
        for stretch in lateral.stretches:
            layer = "BYPASSES" if stretch.kind == "bypass" else lateral_layer(lateral.zone_id)
            _line(space, stretch.points, layer)
    for header in plan.headers:
        _line(space, header.points, "HEADERS")
        _name(space, header.id, header.points[0])
    for part in plan.mainline:
        _line(space, part.points, "MAINLINE")
        _name(space, part.id, part.points[0])


def _add_fittings(space: Any, plan: Plan) -> None:
    places = take_offs(plan) + ends(plan) + couplers(plan) + zone_valves(plan) + low_drains(plan) + crossings(plan)
    for place in places:
        space.add_point(place.at, dxfattribs={"layer": _PLACE_LAYERS[place.kind]})


def save_dxf(plan: Plan, path: Path) -> None:
    """Write a plan as DXF; the same plan gives the same bytes.

    Args:
        plan: what is drawn.
        path: where to.

    Raises:
        FileError: the file cannot be written.
    """
    document, options = plan_to_dxf(plan), _library().options
    before = options.write_fixed_meta_data_for_testing
    # The only way the library offers to leave out the hour and a random number.
    options.write_fixed_meta_data_for_testing = True
    try:
        document.saveas(path)
    except OSError as error:
        raise FileError(f"{path}: {error.strerror or error}") from error
    finally:
        options.write_fixed_meta_data_for_testing = before

"""What is taken where a scenario says nothing: rough prices and which values were assumed.

Prices are orders of magnitude in the small-garden trade (common practice, no source); every plan lists those it used.
"""

from __future__ import annotations

from collections.abc import Iterator

from optimizer.scenario.part import Part
from optimizer.scenario.schema import Fitting, FittingKind, Scenario

GENERIC_PRICE_CT: dict[FittingKind, int] = {
    "take-off": 90,
    "end closure": 50,
    "line coupler": 70,
    "bypass adapter": 80,
    "tube coupler": 100,
    "tee": 150,
    "elbow": 120,
    "header end": 150,
    "zone valve": 900,
    "row shut-off": 180,
    "tube cover": 600,
    "stake": 25,
    "plug": 10,
}

# Fields whose default matters to a grower's money or summer, with how to say it.
_TELLING = {
    "exponent": "emitter exponent",
    "cv": "emitter variation from manufacture (Cv)",
    "roughness": "wall roughness [m]",
    "margin": "share of the working-pressure flow that zones may use",
    "velocity": "greatest velocity [m/s]",
    "usable_offcut": "shortest offcut worth keeping [m]",
    "take_off_loss": "loss where a line leaves the header, as multiples of v2/2g in the line",
    "water_temperature": "water temperature [deg C]",
    "needs_above": "pressure a regulator needs above the one it holds [m]",
    "edge_margin": "distance of rows from the bed edge [m]",
    "row_end_margin": "distance of row ends from the bed edge [m]",
    "row_step": "grid of row places [m]",
    "header_step": "grid of header places [m]",
}


def fitting_price(scenario: Scenario, kind: FittingKind, product: str) -> tuple[int, bool]:
    """Return the price of a fitting for a product and whether it was stated.

    Args:
        scenario: the scenario.
        kind: which fitting.
        product: name of the emitter line or blank tube it sits on.

    Returns:
        price [ct] and True if the scenario states it; the dearer generic table otherwise.
    """
    found = _stated(scenario, kind, product)
    return (found.price, True) if found else (GENERIC_PRICE_CT[kind], False)


def fitting_size(scenario: Scenario, kind: FittingKind, product: str) -> str:
    """Return what the scenario says to measure on a fitting, or nothing."""
    found = _stated(scenario, kind, product)
    return found.size if found else ""


def _stated(scenario: Scenario, kind: FittingKind, product: str) -> Fitting | None:
    exact = [item for item in scenario.fittings if item.kind == kind and product in item.fits]
    general = [item for item in scenario.fittings if item.kind == kind and not item.fits]
    return next(iter([*exact, *general]), None)


def _walk(part: Part, path: str) -> Iterator[tuple[str, Part]]:
    yield path, part
    for name in type(part).model_fields:
        value = getattr(part, name)
        items = value if isinstance(value, tuple) else (value,)
        for item in items:
            if isinstance(item, Part):
                label = getattr(item, "name", name)
                yield from _walk(item, f"{path}, {label}" if path else str(label))


def assumed_values(scenario: Scenario) -> tuple[str, ...]:
    """Return a line for every telling value the scenario left to its default."""
    lines = []
    for path, part in _walk(scenario, ""):
        for name in type(part).model_fields:
            if name in _TELLING and name not in part.model_fields_set:
                lines.append(f"{path}: {_TELLING[name]} taken as {getattr(part, name):g}")
    if scenario.limits.flow_variation is None and scenario.limits.emission_uniformity is None:
        lines.append("limits: flow variation within a zone at most 10 %")
    return tuple(lines)

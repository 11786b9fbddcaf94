"""What a sweep is handed out as: CSV and a table."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from optimizer.sheets.blocks import Column, Table
from optimizer.sheets.textual import bullets, csv_text, paragraphs, table_text, title_text
from optimizer.study.sweep import Parameter, Result, Variant
from optimizer.units import Display, money

_FIGURES = (
    "requests_missing_ppm",
    "money_ct",
    "currency",
    "spent_um",
    "left_over_um",
    "fittings",
    "pushes",
    "flow_variation_percent",
    "zones",
)
_CHOSEN = ("row_direction", "header_places", "product", "tube")


def sweep_csv(parameters: Sequence[Parameter], asked: Sequence[Variant], results: Mapping[str, Result]) -> str:
    """Write a sweep as CSV: one row for each combination that is finished, in the order asked for."""
    header = ("number", *(parameter.path for parameter in parameters), "status", *_FIGURES, *_CHOSEN, "reason")
    rows = [
        (number, *variant.values, result.status, *_figures(result, variant), *_chosen(result), result.reason)
        for number, variant in enumerate(asked, start=1)
        if (result := results.get(variant.key)) is not None
    ]
    return csv_text(header, rows)


def _figures(result: Result, variant: Variant) -> tuple[object, ...]:
    if result.unevenness is None:
        return ("",) * len(_FIGURES)
    spent = (result.missing_ppm, result.money_ct, variant.scenario.currency, result.waste_um, result.kept_um)
    return (*spent, result.fittings, result.pushes, f"{result.unevenness / 100:.2f}", result.zones)


def _chosen(result: Result) -> tuple[str, ...]:
    return result.row_direction, result.header_places, result.product, result.tube


def _row(variant: Variant, result: Result, display: Display, product: str) -> tuple[str, ...]:
    if result.money_ct is None or result.waste_um is None or result.unevenness is None:
        return (*variant.values, "-", "-", "-", "-", "-", result.status)
    return (
        *variant.values,
        money(result.money_ct, "").strip(),
        display.length(result.waste_um / 1e6),
        str(result.fittings),
        f"{result.unevenness / 100:.1f} %",
        str(result.zones),
        f"rows {result.row_direction}, header {result.header_places}{product}",
    )


def sweep_text(
    parameters: Sequence[Parameter], asked: Sequence[Variant], results: Mapping[str, Result], display: Display
) -> str:
    """Write a sweep as text of at most 80 columns.

    Args:
        parameters: what is varied.
        asked: every combination, with a result each.
        results: under the keys of the combinations.
        display: writes lengths.
    """
    scenario = asked[0].scenario
    titles = ("Money", "Spent", "Fittings", "Varies", "Zones")
    columns = (
        *(Column(parameter.path.rsplit(".", 1)[-1]) for parameter in parameters),
        *(Column(title, right=True) for title in titles),
        Column("Chosen"),
    )
    products = list(dict.fromkeys(found.product for variant in asked if (found := results[variant.key]).product))
    rows = tuple(
        _row(variant, result, display, f", {result.product}" if len(products) > 1 else "")
        for variant in asked
        if (result := results[variant.key])
    )
    varied = " and ".join(parameter.path for parameter in parameters)
    notes = (
        "Spent: offcuts too short to keep, and blank tube laid. Varies: greatest difference between emitter flows.",
    )
    table = Table(f"Best layout for each value of {varied}; money in {scenario.currency}", columns, rows, notes=notes)
    reasons = [f"{', '.join(item.values)}: {found.reason}" for item in asked if (found := results[item.key]).reason]
    told = [best_text(parameters, asked, results), *_open_text(asked, results)]
    ends = "\n".join([*paragraphs(told), *bullets(reasons)])
    return "\n".join([title_text(f"{scenario.title}: what if"), table_text(table), ends + "\n"])


def best_text(parameters: Sequence[Parameter], asked: Sequence[Variant], results: Mapping[str, Result]) -> str:
    """Return in a sentence which combination is best by the goals in their order."""
    planned = [variant for variant in asked if results[variant.key].money_ct is not None]
    if not planned:
        return "None of the combinations can be laid."
    best = min(planned, key=lambda variant: _goals(results[variant.key]))
    equal = [variant for variant in planned if _goals(results[variant.key]) == _goals(results[best.key])]
    told = ", ".join(f"{parameter.path} = {text}" for parameter, text in zip(parameters, best.values, strict=True))
    cost = money(results[best.key].money_ct or 0, best.scenario.currency)
    if len(equal) == len(asked):
        return f"Every combination comes to the same: {cost}."
    others = f"; {len(equal) - 1} more come{'s' * (len(equal) == 2)} to the same" if len(equal) > 1 else ""
    return f"Best: {told}, for {cost}{others}."


def _goals(result: Result) -> tuple[int, ...]:
    """Return the goals of a planned result in their order."""
    found = (result.missing_ppm, result.money_ct, result.waste_um, result.fittings, result.unevenness)
    return tuple(value for value in found if value is not None)


def _open_text(asked: Sequence[Variant], results: Mapping[str, Result]) -> list[str]:
    """Say how many plans are not proven best, if any."""
    statuses = [results[variant.key].status for variant in asked if results[variant.key].money_ct is not None]
    kinds = [status for status in dict.fromkeys(statuses) if not status.startswith("proven best")]
    return [f"{statuses.count(kind)} of {len(statuses)} plans: {kind}." for kind in kinds]

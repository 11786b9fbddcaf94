"""What a comparison is handed out as: one sheet of small drawings, a table, and CSV."""

from __future__ import annotations

from collections.abc import Sequence

from matplotlib.figure import Figure

from optimizer.errors import DripLayoutError
from optimizer.plan import Plan
from optimizer.sheets.blocks import Column, Table
from optimizer.sheets.drawing import Paper, draw_side_by_side
from optimizer.sheets.labels import glued
from optimizer.sheets.textual import bullets, csv_text, paragraphs, table_text, title_text
from optimizer.study.compare import Compared, Figures
from optimizer.units import Display, money

CSV_HEADER = (
    "rank",
    "layout",
    "status",
    "requests_missing_ppm",
    "money_ct",
    "currency",
    "spent_um",
    "left_over_um",
    "fittings",
    "pushes",
    "flow_variation_percent",
    "zones",
    "rows",
    "laterals",
    "row_direction",
    "header_places",
    "product",
    "tube",
    "verdict",
)

_COLUMNS = (
    Column(""),
    Column("Layout"),
    Column("Money", right=True),
    Column("Spent", right=True),
    Column("Left over", right=True),
    Column("Fittings", right=True),
    Column("Pushes", right=True),
    Column("Varies", right=True),
    Column("Zones", right=True),
)

_NOTES = (
    "Spent: offcuts too short to keep, and blank tube laid. Left over: pieces long enough to keep. Pushes: tube ends "
    "and take-offs pushed on by hand, at least. Varies: greatest difference between emitter flows of one zone.",
)


def _row(rank: int, item: Compared, display: Display) -> tuple[str, ...]:
    figures = item.figures
    if figures is None:
        return (str(rank), item.name, *("-" for _ in _COLUMNS[2:]))
    goals = figures.goals
    return (
        str(rank),
        item.name,
        money(goals.money_ct, "").strip(),
        display.length(goals.waste_um / 1e6),
        display.length(figures.kept_um / 1e6),
        str(goals.fittings),
        str(figures.pushes),
        f"{goals.unevenness / 100:.1f} %",
        str(figures.zones),
    )


def comparison_text(compared: Sequence[Compared], title: str, currency: str, display: Display) -> str:
    """Write a comparison as text of at most 80 columns.

    Args:
        compared: layouts, best first.
        title: of the garden.
        currency: of the money.
        display: writes lengths.
    """
    rows = tuple(_row(rank, item, display) for rank, item in enumerate(compared, start=1))
    table = Table(f"Best layout of each kind, best first; money in {currency}", _COLUMNS, rows, notes=_NOTES)
    told = [f"{item.name}: {item.verdict.rstrip('.')}." for item in compared]
    verdicts = [line for rank, text in enumerate(told, start=1) for line in bullets([text], f"{rank}.")]
    parts = [title_text(f"{title}: layouts side by side"), table_text(table), "\n".join(verdicts) + "\n"]
    return "\n".join([*parts, "\n".join(paragraphs(_proofs(compared))) + "\n"])


def _proofs(compared: Sequence[Compared]) -> list[str]:
    """Say what was proven about which layouts, within the kind of each."""
    statuses = dict.fromkeys(item.outcome.status for item in compared)
    found = []
    for status in statuses:
        ranks = [str(rank) for rank, item in enumerate(compared, start=1) if item.outcome.status is status]
        which = f"Layout {ranks[0]}" if len(ranks) == 1 else f"Layouts {', '.join(ranks)}, each"
        found.append(f"{which} within its kind: {status}.")
    return found


def _places(plan: Plan) -> tuple[str, str, str, str]:
    angles = " / ".join(dict.fromkeys(bed.row_angle_name for bed in plan.beds))
    headers = " / ".join(dict.fromkeys(place for bed in plan.beds for place in bed.header_places))
    products = " / ".join(dict.fromkeys(zone.product for zone in plan.zones))
    return angles, headers, products, " / ".join(dict.fromkeys(header.tube for header in plan.headers))


def _cells(figures: Figures, plan: Plan) -> tuple[object, ...]:
    goals = figures.goals
    measured = (goals.missing_ppm, goals.money_ct, plan.currency, goals.waste_um, figures.kept_um, goals.fittings)
    counted = (figures.pushes, f"{goals.unevenness / 100:.2f}", figures.zones, len(plan.rows), len(plan.laterals))
    return (*measured, *counted, *_places(plan))


def comparison_csv(compared: Sequence[Compared]) -> str:
    """Write a comparison as CSV, one row for each layout, best first."""
    rows: list[tuple[object, ...]] = []
    for rank, item in enumerate(compared, start=1):
        plan, figures = item.outcome.plan, item.figures
        empty = ("",) * (len(CSV_HEADER) - 4)
        cells = _cells(figures, plan) if plan is not None and figures is not None else empty
        rows.append((rank, item.name, str(item.outcome.status), *cells, item.verdict))
    return csv_text(CSV_HEADER, rows)


def _lines(item: Compared, figures: Figures, currency: str, display: Display) -> tuple[str, ...]:
    goals = figures.goals
    zones = f"{figures.zones} zone{'s' * (figures.zones != 1)}"
    return (
        f"{money(goals.money_ct, currency)}, {zones}",
        f"{display.length(goals.waste_um / 1e6)} spent, {display.length(figures.kept_um / 1e6)} left over",
        f"{goals.fittings} fittings, {figures.pushes} pushes, varies {goals.unevenness / 100:.1f} %",
        f"{item.verdict[:1].upper()}{item.verdict[1:]}.".replace(" %", glued(" %")),
    )


def comparison_sheets(
    compared: Sequence[Compared], paper: Paper, title: str, currency: str, display: Display
) -> tuple[Figure, ...]:
    """Draw the layouts that can be laid side by side, on one sheet if the names leave room for it.

    Args:
        compared: layouts, best first.
        paper: the page.
        title: of the garden.
        currency: of the money.
        display: writes lengths.

    Raises:
        DripLayoutError: not even one layout fits the paper.
    """
    named = [
        (f"{rank}. {item.name}", _lines(item, item.figures, currency, display), item.outcome.plan)
        for rank, item in enumerate(compared, start=1)
        if item.figures is not None and item.outcome.plan is not None
    ]
    return _sheets(named, paper, f"{title}: layouts side by side")


def _sheets(named: Sequence[tuple[str, Sequence[str], Plan]], paper: Paper, title: str) -> tuple[Figure, ...]:
    try:
        return (draw_side_by_side(named, paper, title),)
    except DripLayoutError:
        if len(named) < 2:
            raise
    half = (len(named) + 1) // 2
    return (*_sheets(named[:half], paper, title), *_sheets(named[half:], paper, title))

"""Shopping list: by shelf, what it is, what to measure, how many to buy, spares apart, price."""

from __future__ import annotations

from itertools import groupby

from optimizer.plan import BillLine, Plan
from optimizer.sheets.blocks import Column, Table
from optimizer.sheets.lists import counted
from optimizer.sheets.textual import bullets, csv_text, paragraphs, table_text, title_text
from optimizer.units import money

RULES = (
    "Take a scrap of every tube to the shop and push the fitting on before you pay: what counts is the size you "
    "measure, not the name on the packet. Spares are not in the cost.",
)

TOOLS = (
    "hole punch that matches the take-offs",
    "tube cutter or sharp secateurs",
    "long tape measure, string and pins",
    "flour or chalk, marker pen, masking tape for tags",
    "flask of hot water to soften tube ends (careful: scald), gloves",
    "bucket and watch, measuring jug, nine equal cups",
    "pressure gauge that fits the tap",
    "thread tape for threads without a washer",
)

CSV_HEADER = (
    "shelf",
    "item",
    "size",
    "fits",
    "unit",
    "needed",
    "already_have",
    "to_buy",
    "spare",
    "unit_price_ct",
    "cost_ct",
    "unit_price",
    "cost",
    "currency",
)

_COUNTABLE = ("roll", "piece", "pack", "set")
_SHELVES = ("tube", "take-offs", "ends", "joints", "valves", "head parts", "stakes and plugs", "tools and covers")


def to_buy(line: BillLine) -> int:
    """Return how many must be bought, spares not counted."""
    return max(line.quantity - line.owned, 0)


def _shelf_order(line: BillLine) -> tuple[int, str]:
    place = _SHELVES.index(line.shelf) if line.shelf in _SHELVES else len(_SHELVES)
    return place, line.shelf


def by_shelf(plan: Plan) -> tuple[BillLine, ...]:
    """Return the bill in the order of the shelves; within a shelf as in the plan."""
    return tuple(sorted(plan.bill, key=_shelf_order))


def total_ct(plan: Plan) -> int:
    """Return what all that must be bought costs, spares not counted [ct]."""
    return sum(line.cost_ct for line in plan.bill)


def shopping_list_csv(plan: Plan) -> str:
    """Write the shopping list as CSV, money exact in hundredths and readable."""
    return csv_text(
        CSV_HEADER,
        (
            (
                line.shelf,
                line.item,
                line.size,
                line.fits,
                line.unit,
                line.quantity,
                line.owned,
                to_buy(line),
                line.spare,
                line.unit_price_ct,
                line.cost_ct,
                f"{line.unit_price_ct / 100:.2f}",
                f"{line.cost_ct / 100:.2f}",
                plan.currency,
            )
            for line in by_shelf(plan)
        ),
    )


_BETWEEN = ("take-off", "bypass adapter")
"""fittings with emitter line on one side and blank tube on the other"""


def _description(line: BillLine, tubes: tuple[str, ...]) -> str:
    joined = f"{line.fits}, on {' or '.join(tubes)}" if line.item in _BETWEEN and tubes else line.fits
    return f"{line.item} ({joined})" if joined else line.item


def _blank_tubes(plan: Plan) -> tuple[str, ...]:
    return tuple(dict.fromkeys(header.tube for header in plan.headers))


def _with_unit(number: int, unit: str) -> str:
    return counted(number, unit) if unit in _COUNTABLE else f"{number} {unit}".rstrip()


def _price(price_ct: int) -> str:
    """Write a price; one that is not known is left blank to be filled in."""
    return f"{price_ct / 100:.2f}" if price_ct else ""


def _cells(line: BillLine, tubes: tuple[str, ...]) -> tuple[str, ...]:
    return (
        _description(line, tubes),
        line.size,
        _with_unit(to_buy(line), line.unit),
        f"+{line.spare}" if line.spare else "",
        str(line.owned) if line.owned else "",
        _price(line.unit_price_ct),
        _price(line.cost_ct) if line.unit_price_ct else "",
    )


def shopping_tables(plan: Plan) -> tuple[Table, ...]:
    """Return the shopping list: one table for each shelf."""
    columns = (
        Column("What"),
        Column("Measure"),
        Column("Buy", right=True),
        Column("Spare", right=True),
        Column("Have", right=True),
        Column("Each", right=True),
        Column("Cost", right=True),
    )
    shelves = groupby(by_shelf(plan), key=lambda line: line.shelf)
    return tuple(
        Table(
            f"Shelf: {shelf} (prices in {plan.currency})",
            columns,
            tuple(_cells(line, _blank_tubes(plan)) for line in lines),
            ticks=True,
        )
        for shelf, lines in shelves
    )


def total_text(plan: Plan) -> str:
    """Say what all of it costs."""
    unpriced = [line.item for line in plan.bill if to_buy(line) and not line.unit_price_ct]
    without = f" No price was given for: {', '.join(unpriced)}; add it if you must buy it." if unpriced else ""
    return f"Total to buy, spares not counted: {money(total_ct(plan), plan.currency)}.{without}"


def shopping_list_text(plan: Plan) -> str:
    """Write the shopping list as text of at most 80 columns."""
    head = title_text(f"Shopping list: {plan.title}") + "\n" + "\n".join(paragraphs(RULES)) + "\n"
    tools = "\n".join(["Tools to have at hand (not in the price)", *bullets(TOOLS, "[ ]")]) + "\n"
    tables = [table_text(table) for table in shopping_tables(plan)]
    return "\n".join([head, *tables, "\n".join(paragraphs([total_text(plan)])) + "\n", tools])

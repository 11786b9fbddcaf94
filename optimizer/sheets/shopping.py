"""Shopping list: by shelf, what it is, what to measure, how many to buy, spares apart, price."""

from __future__ import annotations

from itertools import groupby

from optimizer.plan import BillLine, Plan
from optimizer.sheets.blocks import Column, Table
from optimizer.sheets.lists import counted, shut_offs_text
from optimizer.sheets.textual import bullets, csv_text, paragraphs, table_text, title_text
from optimizer.units import money

RULES = (
    "Take a scrap of every tube to the shop and push the fitting on before you pay: what counts is the size you "
    "measure, not the name on the packet. Costs are without spares.",
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
    """Return how many must be bought, without spares."""
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


VALVES = (
    "A timer at the tap only starts the water; it does not choose a zone. Zone valves in the field are either hand "
    "valves (then open one zone only at a time: the start times are for the person who changes over) or electric "
    "valves wired to a controller (then one zone after the other by itself). Buy the kind that your timer can switch."
)


def valve_text(plan: Plan) -> str:
    """Say what switches the zones; nothing if there is one zone, or nothing in the field that switches them."""
    if shut_offs_text(plan):
        return f"A timer at the tap only starts the water; it does not choose rows. {shut_offs_text(plan)}"
    return VALVES if len(plan.zones) > 1 and any(line.item == "zone valve" for line in plan.bill) else ""


def adapter_text(plan: Plan) -> str:
    """Name what the bill cannot know: the fitting from the head parts to the first tube."""
    tube = plan.mainline[0].tube if plan.mainline else plan.headers[0].tube
    parts = [unit for unit in plan.head_units if unit.kind != plan.site.source_kind]
    last = f"the last head part ({parts[-1].name})" if parts else f"the {plan.site.source_kind}"
    between = " Check every thread between the head parts too: size, and inside or outside." if parts else ""
    return f"Not on this list: the adapter from the thread of {last} to {tube}.{between}"


def notes(plan: Plan) -> tuple[str, ...]:
    """Return what to think of beside the tables."""
    return tuple(text for text in (adapter_text(plan), valve_text(plan)) if text)


def _measure(line: BillLine, plan: Plan) -> str:
    """Say what to measure; of a fitting between two tubes, on both sides."""
    if line.item not in _BETWEEN or not line.size:
        return line.size
    tubes = _blank_tubes(plan)
    other = {sold.size for sold in plan.bill if sold.item in tubes} - {line.size, ""}
    advice = " - measure yours"
    sides = [size.removesuffix(advice) for size in (line.size, *sorted(other))]
    return "; other side ".join(sides) + (advice if advice in line.size else "")


def _amount(line: BillLine) -> str:
    """Write how many to take from the shelf, spares included and told."""
    if not line.spare:
        return _with_unit(to_buy(line), line.unit)
    return f"{_with_unit(to_buy(line) + line.spare, line.unit)} ({to_buy(line)} + {line.spare} spare)"


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


def _cells(plan: Plan, line: BillLine) -> tuple[str, ...]:
    return (
        _description(line, _blank_tubes(plan)),
        _measure(line, plan),
        _amount(line),
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
        Column("Have", right=True),
        Column("Each", right=True),
        Column("Cost", right=True),
    )
    shelves = groupby(by_shelf(plan), key=lambda line: line.shelf)
    return tuple(
        Table(
            f"Shelf: {shelf} (prices in {plan.currency})",
            columns,
            tuple(_cells(plan, line) for line in lines),
            ticks=True,
        )
        for shelf, lines in shelves
    )


def total_text(plan: Plan) -> str:
    """Say what all of it costs."""
    unpriced = [line.item for line in plan.bill if to_buy(line) and not line.unit_price_ct]
    without = f" No price was given for: {', '.join(unpriced)}; add it if you must buy it." if unpriced else ""
    return f"Total to buy, without spares: {money(total_ct(plan), plan.currency)}.{without}"


def shopping_list_text(plan: Plan) -> str:
    """Write the shopping list as text of at most 80 columns."""
    head = title_text(f"Shopping list: {plan.title}") + "\n" + "\n".join(paragraphs(RULES)) + "\n"
    tools = "\n".join(["Tools to have at hand (not in the price)", *bullets(TOOLS, "[ ]")]) + "\n"
    tables = [table_text(table) for table in shopping_tables(plan)]
    return "\n".join([head, *tables, "\n".join(paragraphs([total_text(plan), *notes(plan)])) + "\n", tools])

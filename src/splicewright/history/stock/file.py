"""Stock items from a table (CSV): how often they are used, how long an order takes."""

from __future__ import annotations

import math

from splicewright.files.table import read_table
from splicewright.files.typed_file import Readable
from splicewright.history.stock.study import Item
from splicewright.quantities import Kind

MUST = ("item", "per year", "lead time")
MAY = ("each", "planned", "shelf life", "on shelf", "joints", "price", "waiting cost", "note")
_TEN_YEARS = 3653 * 86400.0


def load_items(path: Readable) -> tuple[tuple[Item, ...], bool]:
    """Read what is kept in stock.

    path : CSV with the columns of docs/history-files.md
    Returns the items, and whether they are invented. Raises InputError: anything wrong in the file;
    each fault with line and column.
    """
    table = read_table(path, MUST, MAY)
    items: dict[str, Item] = {}
    for row in table.rows:
        name = row.text("item")
        if not name or name in items:
            table.fault(row.line, "item", f'"{name}" stands twice' if name else "is empty")
        rate = row.number("per year", Kind.RATIO, most=1e5)
        lead = row.number("lead time", Kind.TIME, most=_TEN_YEARS)
        shelf = row.number("shelf life", Kind.TIME, least=86400.0, most=10 * _TEN_YEARS)
        price, waits = (
            row.number(c, Kind.RATIO, most=1e12) if row.text(c) else math.nan
            for c in ("price", "waiting cost")
        )
        for column in MUST[1:]:
            if not row.text(column):
                table.fault(row.line, column, "is empty; it must be given")
        item = Item(
            name,
            rate or 0.0,
            lead or 0.0,
            row.whole("each", 1, least=1),
            row.whole("planned", 0),
            shelf or math.inf,
            row.whole("on shelf", 0),
            row.yes("joints"),
            price=math.nan if price is None else price,
            wait_cost=math.nan if waits is None else waits,
        )
        items[name] = item
    table.settle()
    return tuple(items.values()), table.invented

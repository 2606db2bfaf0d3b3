"""Size the stock: from a table of items, and the joints that use them, to what to hold."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from splicewright.errors import Fault, InputError

if TYPE_CHECKING:
    from splicewright.history.stock_study import ItemAdvice


def size_stock(
    items: Path, service: float, *, lives: Path | None = None, use_a_day: str = ""
) -> tuple[ItemAdvice, ...]:
    """Advise the stock of every item in a table.

    Parameters
    ----------
    items : CSV file
    service : chance that nobody waits [0..1]
    lives : CSV file of the joints that use items
    use_a_day : how fast the joints age, with unit

    Raises
    ------
    InputError
        Anything wrong in the files or the values.
    """
    from splicewright.history import load_lives
    from splicewright.history.lives import read_use
    from splicewright.history.stock_file import load_items
    from splicewright.history.stock_study import study_stock

    kept, _ = load_items(items)
    records = load_lives(lives)[0] if lives is not None else ()
    rate = 0.0
    if use_a_day:
        rate, measure = read_use(use_a_day, "use a day")
        if records and measure is not records[0].life.measure:
            said = f'"{use_a_day}" counts {measure}, the lives {records[0].life.measure}'
            raise InputError(Fault("use a day", f"{said}; give both in one"))
    return study_stock(kept, service, records=records, use_per_day=rate)

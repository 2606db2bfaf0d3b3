"""What to order: a site's stock held against how fast it was used and how long an order takes."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from splicewright.actions.stock.movements import Movement
    from splicewright.history.stock.study import ItemAdvice

SERVICE = 0.95
"""Chance that the next one to need a part finds it; assumption of this tool [1]."""
LEAD = 6 * 7 * 86400.0
"""From order to shelf where nobody says; assumption of this tool, no source [s]."""
LEAST_USES, LEAST_TIME = 3, 90 * 86400.0
"""Uses and time watched below which nothing is said [1], [s]."""
_YEAR = 365.25 * 86400.0


@dataclass(frozen=True, slots=True)
class StockNote:
    """What is known of one item.

    uses : times it was taken out; each : mean count of one, rounded up; watched : time since its
        first movement [s]; per_year : uses a year
    hold, order : how many to hold, and to order now; None while there are too few data, as is
        `advice`, that they come from
    """

    item: str
    uses: int
    each: int
    watched: float
    per_year: float
    hold: int | None
    order: int | None
    advice: ItemAdvice | None


def stock_notes(
    moved: Sequence[Movement], there: Mapping[str, float], now: datetime, *, lead: float = LEAD
) -> dict[str, StockNote]:
    """Advise each item that was used often enough and watched long enough.

    Uses are taken as coming at random, at the rate of the time watched; counting corrections are
    no uses.

    moved : movements of a site, the oldest first
    now : end of the time watched
    lead : from order to shelf [s]
    """
    from splicewright.history.stock.study import Item, study_stock

    notes: dict[str, StockNote] = {}
    each_own: dict[str, list[Movement]] = {name: [] for name in there}
    for move in moved:
        each_own.setdefault(move.item, []).append(move)
    for name, own in sorted(each_own.items()):
        taken = [-m.count for m in own if m.count < 0 and not m.why.startswith("counted ")]
        watched = (now - own[0].when).total_seconds() if own else 0.0
        each = math.ceil(sum(taken) / len(taken)) if taken else 1
        per_year = len(taken) * _YEAR / watched if watched > 0 else 0.0
        hold = order = advice = None
        if len(taken) >= LEAST_USES and watched >= LEAST_TIME:
            shelf = max(0, math.floor(there.get(name, 0.0)))
            item = Item(name, per_year, lead, each, on_shelf=shelf, watched=watched)
            (advice,) = study_stock([item], SERVICE)
            hold, order = advice.advice.service.stock, advice.order_now
        notes[name] = StockNote(name, len(taken), each, watched, per_year, hold, order, advice)
    return notes

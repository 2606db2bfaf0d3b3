"""The words of the stock to hold; paper and screen alike."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import date, timedelta

from splicewright.history.stock.levels import Shortage, share_words
from splicewright.history.stock.study import ItemAdvice
from splicewright.sheets.words.fleet import money


def stock_words(one: ItemAdvice, today: date | None = None) -> tuple[str, str]:
    """What to hold of an item, and why so many; with a day, when an order made on it comes."""
    there = today + timedelta(seconds=one.item.lead) if today is not None else None
    until = f" (today to {there})" if there is not None else ""
    ahead = f"{one.expected:.2g} used on average while an order is under way{until}"
    ahead += f", {one.used.low:.0f} to {one.used.high:.0f} nine times in ten"
    if one.from_joints:
        ahead += f", {one.from_joints:.2g} of them by the joints now running"
    have = f"{one.item.on_shelf} on shelf or on order"
    order = f"order {one.order_now} now" if one.order_now else "order none now"
    return f"{one.item.name}: {one.advice.sentence}", f"{ahead}; {have}: {order}"


RISK_HEAD = (
    "item",
    "hold",
    "next one finds it",
    "nobody waits",
    "waited for",
    "spoil a year",
    "cost a year",
)


def risk_rows(one: ItemAdvice) -> list[tuple[str, ...]]:
    """Stock against risk; the stock advised is marked."""
    return [
        (
            one.item.name,
            f"{r.service.stock}{' (advised)' if r.service == one.advice.service else ''}",
            share_words(r.service.fill),
            share_words(r.service.ready),
            _few(r.service.waiting),
            _few(r.spoilt) if math.isfinite(one.item.shelf_life) else "none",
            money(r.cost) if math.isfinite(r.cost) else "not known",
        )
        for r in one.advice.risks
    ]


def stock_lines(
    items: Sequence[ItemAdvice], missing: Sequence[Shortage] | None, today: date | None = None
) -> list[str]:
    """Every item, then what a job's kit lacks; `missing` is None when no job was asked about."""
    lines = []
    for one in items:
        first, second = stock_words(one, today)
        lines += [first, f"  {second}"]
        rows = [RISK_HEAD[1:], *(row[1:] for row in risk_rows(one))]
        wide = [max(len(row[k]) for row in rows) for k in range(len(rows[0]))]
        for row in rows:
            cells = (cell.ljust(width) for cell, width in zip(row, wide, strict=True))
            lines.append(f"  {'  '.join(cells).rstrip()}")
    lines += [
        f"The job's kit lacks {m.missing:g} {m.item}: {m.there:g} there, {m.needed:g} needed"
        for m in missing or ()
    ]
    if missing is not None and not missing:
        lines.append("The job's kit is in the store, spares included.")
    return lines


def _few(number: float) -> str:
    """A mean number to two digits."""
    return "under 0.001" if 0 < number < 0.001 else f"{number:.2g}"

"""What to hold so that the next job finds its parts, and what to order now."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import date, timedelta

from splicewright.history.stock.levels import Shortage, share_words
from splicewright.history.stock.study import ItemAdvice
from splicewright.quantities import percent, show_time
from splicewright.sheets.pages.document import Document, KeyNumber, Point, Section
from splicewright.sheets.reports.life import LIFE_CAUTION
from splicewright.sheets.words.amounts import money

_CAUTIONS = (
    "Orders are taken to arrive after their lead time, whatever its scatter; what is ordered and "
    "not yet there counts as on the shelf.",
    LIFE_CAUTION,
)
_ITEMS = (
    "item",
    "hold",
    "reorder at",
    "there",
    "order now",
    "next one finds it",
    "nobody waits",
    "lead time",
)
_RISK = (
    "hold",
    "next one finds it",
    "nobody waits",
    "waited for",
    "spoil a year",
    "cost a year",
)


def stock_report(
    items: Sequence[ItemAdvice],
    missing: Sequence[Shortage] | None = None,
    *,
    service: float,
    name: str = "",
    notes: Sequence[str] = (),
    invented: bool = False,
    today: date | None = None,
) -> Document:
    """Every item, then what a job's kit lacks.

    Parameters
    ----------
    missing : parts of a job that the store does not cover; None when no job was asked about
    service : chance that the next one to need an item finds it [0..1]
    notes : what was assumed or left out on the way
    today : day on which an order would be made; None where that is not known
    """
    rows = tuple(
        (
            one.item.name,
            str(one.advice.service.stock),
            str(one.advice.service.reorder_at),
            str(one.item.on_shelf),
            str(one.order_now),
            share_words(one.advice.service.fill),
            share_words(one.advice.service.ready),
            show_time(one.item.lead),
        )
        for one in items
    )
    sections = [
        Section("Items", head=_ITEMS, table=rows),
        Section("Why so many", listed=tuple(_why(one, today) for one in items)),
    ]
    sections += [
        Section(f"Stock against risk: {one.item.name}", head=_RISK, table=_risks(one))
        for one in items
    ]
    if missing is not None:
        sections.append(_kit(missing))
    order = [one for one in items if one.order_now]
    now = ", ".join(f"{one.order_now} {one.item.name}" for one in order)
    answer = [f"Order now: {now}." if order else "Nothing needs to be ordered now."]
    if missing:
        answer.append(f"The job's kit lacks {len(missing)} items.")
    elif missing is not None:
        answer.append("The job's kit is there.")
    return Document(
        "Stock",
        name,
        "What to hold so that the next job finds its parts.",
        tuple(answer),
        (
            KeyNumber("service", percent(service, 1), "chance that the next one finds it"),
            KeyNumber("items", str(len(items)), f"{len(order)} to order now"),
        ),
        tuple(sections),
        tuple(notes),
        _CAUTIONS,
        invented,
    )


def _why(one: ItemAdvice, today: date | None) -> Point:
    """What to hold of an item, and why so many; with a day, when an order made on it comes."""
    there = today + timedelta(seconds=one.item.lead) if today is not None else None
    until = f" (today to {there})" if there is not None else ""
    ahead = f"{one.expected:.2g} used on average while an order is under way{until}"
    ahead += f", {one.used.low:.0f} to {one.used.high:.0f} nine times in ten"
    if one.from_joints:
        ahead += f", {one.from_joints:.2g} of them by the joints now running"
    have = f"{one.item.on_shelf} on shelf or on order"
    order = f"order {one.order_now} now" if one.order_now else "order none now"
    return Point(f"{one.item.name}: {one.advice.sentence}", f"{ahead}; {have}: {order}")


def _risks(one: ItemAdvice) -> tuple[tuple[str, ...], ...]:
    """Stock against risk; the stock advised is marked."""
    return tuple(
        (
            f"{r.service.stock}{' (advised)' if r.service == one.advice.service else ''}",
            share_words(r.service.fill),
            share_words(r.service.ready),
            _few(r.service.waiting),
            _few(r.spoilt) if math.isfinite(one.item.shelf_life) else "none",
            money(r.cost) if math.isfinite(r.cost) else "not known",
        )
        for r in one.advice.risks
    )


def _kit(missing: Sequence[Shortage]) -> Section:
    rows = tuple((m.item, f"{m.needed:g}", f"{m.there:g}", f"{m.missing:g}") for m in missing)
    if not rows:
        return Section("The job's kit", ("All of it is in the store, spares included.",))
    return Section("The job's kit lacks", head=("item", "needed", "there", "missing"), table=rows)


def _few(number: float) -> str:
    """A mean number to two digits."""
    return "under 0.001" if 0 < number < 0.001 else f"{number:.2g}"

"""The stock to hold, as PDF."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import date

from splicewright.history.stock.levels import Shortage, share_words
from splicewright.history.stock.study import ItemAdvice
from splicewright.quantities import percent, show_time
from splicewright.sheets.canvas.paper import A4, Paper
from splicewright.sheets.pages.drawings import Drawings
from splicewright.sheets.pages.report import LIFE_CAUTION, key_number, report, rests_section
from splicewright.sheets.pages.section import Section, as_sentence
from splicewright.sheets.words.stock import RISK_HEAD, risk_rows, stock_words

_STOCK_CAUTIONS = (
    "Orders are taken to arrive after their lead time, whatever its scatter; what is ordered and "
    "not yet there counts as on the shelf.",
    LIFE_CAUTION,
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
    paper: Paper = A4,
) -> bytes:
    """Return what to hold and order as PDF.

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
        Section(
            "Items",
            (),
            head=(
                "item",
                "hold",
                "reorder at",
                "there",
                "order now",
                "next one finds it",
                "nobody waits",
                "lead time",
            ),
            table=rows,
        ),
        Section(
            "Why so many",
            tuple(
                as_sentence(stock_words(one, today)[1])
                if len(items) == 1
                else f"{one.item.name}: {stock_words(one, today)[1]}."
                for one in items
            ),
        ),
    ]
    sections += [
        Section(
            f"Stock against risk: {one.item.name}",
            (),
            head=RISK_HEAD[1:],
            table=tuple(row[1:] for row in risk_rows(one)),
        )
        for one in items
    ]
    if missing is not None:
        sections.append(_kit(missing))
    if notes:
        sections.append(rests_section(notes))
    order = [one for one in items if one.order_now]
    answer = [
        "Order now: " + ", ".join(f"{o.order_now} {o.item.name}" for o in order) + "."
        if order
        else "Nothing needs to be ordered now."
    ]
    if missing:
        answer.append(f"The job's kit lacks {len(missing)} items.")
    elif missing is not None:
        answer.append("The job's kit is there.")
    numbers = [
        key_number("service", percent(service, 1), "chance that the next one finds it"),
        key_number("items", str(len(items)), f"{len(order)} to order now"),
        key_number(
            "used during lead time",
            f"{math.fsum(o.expected for o in items):.2g}",
            "on average, all items",
        ),
    ]
    return report(
        "Stock",
        name,
        invented,
        "What to hold so that the next job finds its parts.",
        answer,
        numbers,
        sections,
        _STOCK_CAUTIONS,
        Drawings({}, {}),
        paper,
    )


def _kit(missing: Sequence[Shortage]) -> Section:
    rows = tuple((m.item, f"{m.needed:g}", f"{m.there:g}", f"{m.missing:g}") for m in missing)
    if not rows:
        return Section("The job's kit", ("All of it is in the store, spares included.",))
    return Section(
        "The job's kit lacks", (), head=("item", "needed", "there", "missing"), table=rows
    )

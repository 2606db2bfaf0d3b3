"""The stock to hold, number by number: the worksheet that explains it."""

from __future__ import annotations

import math
from collections.abc import Sequence

from splicewright.history.stock.study import ItemAdvice
from splicewright.plant.conveyor import slug
from splicewright.quantities import Figure, Kind, Record, Worksheet, joined, measured, stated

_LAW = (
    "probability of each demand while an order is under way: planned work for sure, events at "
    "random Poisson (negative binomial where their rate was counted), joints by their age under "
    "each law that the records leave open; {what}"
)


def record_of_stock(items: Sequence[ItemAdvice], service: float) -> Record:
    """Explain every number of the advice on all items.

    Returns a worksheet under the keys of `record_of_item`; of several items with their name,
    second.
    """
    return joined([(slug(one.item.name), record_of_item(one, service)) for one in items])


def record_of_item(one: ItemAdvice, service: float) -> Record:
    """Explain every number of the advice on one item.

    one : the advice
    service : that was asked for [0..1]
    Returns a worksheet under the keys ``item.*``, ``demand.*`` and ``stock.*``.
    """
    sheet, item, held = Worksheet(), one.item, one.advice.service
    reason = "from the table of items or the register"
    rate = (measured if math.isfinite(item.watched) else stated)(
        "item.rate", "events a year that use it", item.per_year, Kind.RATIO, reason
    )
    lead = stated("item.lead", "from order to shelf", item.lead, Kind.TIME, reason)
    each = stated("item.each", "taken at each event", item.each, Kind.COUNT, reason)
    planned = stated("item.planned", "planned events meanwhile", item.planned, Kind.COUNT, reason)
    asked = stated(
        "stock.asked", "chance asked for that the next one finds it", service, Kind.SHARE
    )
    rests: list[Figure] = [rate, lead, each, planned]

    def law(key: str, label: str, value: float, kind: Kind, meaning: str, *more: Figure) -> Figure:
        return sheet.found(
            key, label, value, kind, _LAW.format(what=meaning), [*rests, *more], "palm"
        )

    if one.from_joints:
        rests.append(
            law(
                "demand.joints",
                "of these, by joints now running",
                one.from_joints,
                Kind.RATIO,
                "the mean of the joints' part",
            )
        )
    mean = law("demand.mean", "used meanwhile, on average", one.expected, Kind.RATIO, "its mean")
    law("demand.low", "used meanwhile, at least", one.used.low, Kind.COUNT, "nine times in ten")
    law("demand.high", "used meanwhile, at most", one.used.high, Kind.COUNT, "nine times in ten")
    wanted = sheet.found(
        "stock.wanted",
        "smallest stock with that chance",
        one.advice.wanted,
        Kind.COUNT,
        "smallest s with Σ x p(x) over x ≤ s of the mean as large as asked for",
        [asked, mean],
        "palm",
    )
    parts: list[Figure] = [wanted]
    shelf, price, waits = (
        stated(f"item.{key}", label, value, kind, reason)
        for key, label, value, kind in (
            ("shelf_life", "keeps for", item.shelf_life, Kind.TIME),
            ("price", "price of one", item.price, Kind.RATIO),
            ("wait_cost", "cost of a job that waits", item.wait_cost, Kind.RATIO),
        )
    )
    perishable = math.isfinite(item.shelf_life)
    weighed = perishable and math.isfinite(item.price + item.wait_cost)
    text = "the stock that service asks for"
    if weighed:
        parts += [shelf, price, waits]
        text = "cheapest of what spoils a year x price + jobs that wait a year x their cost"
    stock = sheet.found("stock.hold", "hold", held.stock, Kind.COUNT, text, parts, "expectation")
    text = "s - 1: one is ordered for each used"
    reorder = held.reorder_at
    sheet.found("stock.reorder", "reorder at", reorder, Kind.COUNT, text, [stock], "expectation")
    law(
        "stock.fill",
        "chance that the next one finds it",
        held.fill,
        Kind.SHARE,
        "Σ x p(x) over x ≤ s, of its mean",
        stock,
    )
    law("stock.ready", "chance that nobody waits", held.ready, Kind.SHARE, "P(X ≤ s)", stock)
    law(
        "stock.waiting",
        "items waited for, on average",
        held.waiting,
        Kind.RATIO,
        "Σ (x - s) p(x) over x > s",
        stock,
    )
    if perishable:
        risk = next(r for r in one.advice.risks if r.service == held)
        sheet.found(
            "stock.spoilt",
            "spoil a year",
            risk.spoilt,
            Kind.RATIO,
            "min(λ p/(1 - p), s/τ - λ max(0, 1 - 2/s)), p the chance that fewer than s are "
            "wanted in the shelf life τ",
            [stock, shelf, mean],
            "palm",
        )
    for risk in one.advice.risks:
        key, at = f"stock.if_{risk.service.stock}", f"holding {risk.service.stock}"
        for name, label, value, kind, meaning in (
            ("fill", "the next one finds it", risk.service.fill, Kind.SHARE, "Σ x p(x), x ≤ s"),
            ("ready", "nobody waits", risk.service.ready, Kind.SHARE, "P(X ≤ s)"),
            ("waiting", "waited for", risk.service.waiting, Kind.RATIO, "Σ (x - s) p(x), x > s"),
            ("spoilt", "spoil a year", risk.spoilt, Kind.RATIO, "fewer wanted in its shelf life"),
            ("cost", "cost a year", risk.cost, Kind.RATIO, "spoilt x price + waiting x its cost"),
        ):
            if math.isfinite(value):
                law(f"{key}.{name}", f"{at}: {label}", value, kind, meaning)
    there = measured("stock.there", "on shelf or on order", item.on_shelf, Kind.COUNT, reason)
    sheet.found(
        "stock.order",
        "order now",
        one.order_now,
        Kind.COUNT,
        "s less what is there",
        [stock, there],
    )
    return sheet.finish()

"""The quotation sheet: what a planned job costs at the user's own prices."""

from __future__ import annotations

from splicewright.job.quotation import Quotation
from splicewright.quantities import System
from splicewright.sheets.crew_pack.answer import invented
from splicewright.sheets.pages.document import Document, Section


def quotation_sheet(quotation: Quotation, system: System = "metric") -> Document:
    """What a planned job costs: the sum, its parts and hours, what it rests on and covers."""
    plan = quotation.plan
    return Document(
        "Quotation",
        plan.work.name,
        f"{plan.conveyor.name}; {plan.mark}",
        (*_answer(quotation), *_parties(quotation)),
        sections=(
            Section(
                "Parts and extras",
                head=("what", "count", "each", "together"),
                table=tuple(_row(quotation, n, system) for n in range(len(quotation.lines))),
            ),
            Section(
                "Hours",
                head=("hours", "people", "hours of all", "rate", "together"),
                table=_hours(quotation),
            ),
            Section("What it covers", _covers(quotation)),
        ),
        rests=_rests(quotation, system),
        cautions=("Prices are those of the prices file; none is made up.",),
        invented=invented(plan),
    )


def _answer(quotation: Quotation) -> list[str]:
    """The sum in words: likely, up to, tax, and whether it is whole."""
    quote, (low, high) = quotation.prices.quote, quotation.sums
    name = "Sum" if quotation.whole else "Sum of what is priced"
    lines = [f"{name}: {_money(low)} {quote.currency}, up to {_money(high)} {quote.currency}"]
    if quote.tax is not None:
        share = f"{100 * quote.tax:g} % {quote.tax_name}"
        taxed = [_money(value * (1 + quote.tax)) for value in (low, high)]
        lines.append(
            f"With {share}: {taxed[0]} {quote.currency}, up to {taxed[1]} {quote.currency}"
        )
    if not quotation.whole:
        lines.append(f"Not whole: no price for {', '.join(quotation.unpriced)}.")
    return lines


def _parties(quotation: Quotation) -> list[str]:
    quote = quotation.prices.quote
    rows = (
        ("Number", quote.number),
        ("For", quote.customer),
        ("By", quote.contractor),
        ("Valid until", quote.valid_until or "not stated"),
        ("Note", quote.note),
    )
    return [f"{name}: {words}" for name, words in rows if words]


def _row(quotation: Quotation, number: int, system: System) -> tuple[str, ...]:
    line = quotation.lines[number]
    size = line.size.say(system)
    each = "no price" if line.each is None else _money(line.each)
    return (
        line.what + (f", {size}" if size else ""),
        f"{line.count:g}",
        each,
        "no price" if line.all is None else _money(line.all),
    )


def _hours(quotation: Quotation) -> tuple[tuple[str, ...], ...]:
    """Hours of all, likely and up to: name, people, hours, rate, sum."""
    rate = quotation.prices.hours.rate
    spans = [("likely", quotation.hours[0]), ("up to", quotation.hours[1])]
    if quotation.before[1]:
        spans += [
            ("before the stop, likely", quotation.before[0]),
            ("before the stop, up to", quotation.before[1]),
        ]
    return tuple(
        (
            name,
            str(quotation.people) if "stop" not in name else "",
            f"{hours:.1f}",
            _money(rate),
            _money(hours * rate),
        )
        for name, hours in spans
    )


def _covers(quotation: Quotation) -> tuple[str, ...]:
    """What is not in the price, and who gives what: said even where nobody stated it."""
    quote = quotation.prices.quote
    rows = (("Not included", quote.excluded), ("The site provides", quote.site_provides))
    return tuple(f"{name}: {words or 'not stated'}" for name, words in rows)


def _rests(quotation: Quotation, system: System) -> tuple[str, ...]:
    points = [f"Parts with their spares, as {quotation.plan.mark} lists them."]
    timed, man_hours = quotation.plan.timing.learnt, quotation.plan.timing.man_hours
    if man_hours:
        points.append(f"Everybody is there from the first step to the last; at work {man_hours}.")
    points.append(
        f"Times of {timed} of {len(quotation.plan.steps)} steps are those of past jobs; the others "
        "are assumed."
        if timed
        else "Times are assumed, no source: replace them by your own records."
    )
    if quotation.prices.quote.assumed:
        points.append(f"Assumed: {quotation.prices.quote.assumed}")
    points += [f"To be settled before work: {ask.say(system)}" for ask in quotation.plan.questions]
    if quotation.plan.fastener is None:
        points.append("No fastener was chosen: the plan lists no parts.")
    if quotation.unused:
        points.append(f"Priced but not needed here: {', '.join(quotation.unused)}.")
    return tuple(points)


def _money(amount: float) -> str:
    """An amount as everywhere else."""
    return f"{amount:,.2f}".replace(",", " ")

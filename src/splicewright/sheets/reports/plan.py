"""The quotation sheet: what a planned job costs at the user's own prices."""

from __future__ import annotations

from splicewright.job.quotation import Quotation
from splicewright.quantities import System
from splicewright.sheets.canvas.paper import A4, Paper
from splicewright.sheets.crew_pack.answer import invented
from splicewright.sheets.pages.drawings import Drawings
from splicewright.sheets.pages.report import report
from splicewright.sheets.pages.section import Section


def quotation_sheet(told: Quotation, system: System = "metric", paper: Paper = A4) -> bytes:
    """Return the quotation as PDF; the same plan and prices give the same bytes.

    Raises
    ------
    OutputError
        The document cannot be made.
    """
    plan = told.plan
    return report(
        "Quotation",
        plan.work.name,
        invented(plan),
        f"{plan.conveyor.name}; {plan.mark}",
        [*answer_lines(told), *_parties(told)],
        (),
        (
            Section(
                "Parts and extras",
                head=("", "count", "each", "together"),
                table=tuple(_row(told, n, system) for n in range(len(told.lines))),
            ),
            Section(
                "Hours",
                head=("", "people", "hours of all", "rate", "together"),
                table=hours_rows(told),
            ),
            Section("What this rests on", points=_rests(told, system)),
            Section("What it covers", points=_covers(told)),
        ),
        ("Prices are those of the prices file; none is made up.",),
        Drawings({}, {}),
        paper,
    )


def answer_lines(told: Quotation) -> list[str]:
    """The sum in words: likely, up to, tax, and whether it is whole."""
    quote, (low, high) = told.prices.quote, told.sums
    name = "Sum" if told.whole else "Sum of what is priced"
    said = [f"{name}: {money(low)} {quote.currency}, up to {money(high)} {quote.currency}"]
    if quote.tax is not None:
        share = f"{100 * quote.tax:g} % {quote.tax_name}"
        taxed = [money(value * (1 + quote.tax)) for value in (low, high)]
        said.append(f"With {share}: {taxed[0]} {quote.currency}, up to {taxed[1]} {quote.currency}")
    if not told.whole:
        said.append(f"Not whole: no price for {', '.join(told.unpriced)}.")
    return said


def _parties(told: Quotation) -> list[str]:
    quote = told.prices.quote
    said = (
        ("Number", quote.number),
        ("For", quote.customer),
        ("By", quote.contractor),
        ("Valid until", quote.valid_until or "not stated"),
        ("Note", quote.note),
    )
    return [f"{name}: {words}" for name, words in said if words]


def _row(told: Quotation, number: int, system: System) -> tuple[str, ...]:
    line = told.lines[number]
    size = line.size.say(system)
    each = "no price" if line.each is None else money(line.each)
    return (
        line.what + (f", {size}" if size else ""),
        f"{line.count:g}",
        each,
        "no price" if line.all is None else money(line.all),
    )


def hours_rows(told: Quotation) -> tuple[tuple[str, ...], ...]:
    """Hours of all, likely and up to: name, people, hours, rate, sum."""
    rate = told.prices.hours.rate
    spans = [("likely", told.hours[0]), ("up to", told.hours[1])]
    if told.before[1]:
        spans += [
            ("before the stop, likely", told.before[0]),
            ("before the stop, up to", told.before[1]),
        ]
    return tuple(
        (
            name,
            str(told.people) if "stop" not in name else "",
            f"{hours:.1f}",
            money(rate),
            money(hours * rate),
        )
        for name, hours in spans
    )


def _covers(told: Quotation) -> tuple[str, ...]:
    """What is not in the price, and who gives what: said even where nobody stated it."""
    quote = told.prices.quote
    said = (("Not included", quote.excluded), ("The site provides", quote.site_provides))
    return tuple(f"{name}: {words or 'not stated'}" for name, words in said)


def _rests(told: Quotation, system: System) -> tuple[str, ...]:
    said = [f"Parts with their spares, as {told.plan.mark} lists them."]
    learnt, man_hours = told.plan.timing.learnt, told.plan.timing.man_hours
    if man_hours:
        said.append(f"Everybody is there from the first step to the last; at work {man_hours}.")
    said.append(
        f"Times of {learnt} of {len(told.plan.steps)} steps are those of past jobs; the others "
        "are assumed."
        if learnt
        else "Times are assumed, no source: replace them by your own records."
    )
    if told.prices.quote.assumed:
        said.append(f"Assumed: {told.prices.quote.assumed}")
    said += [f"To be settled before work: {ask.say(system)}" for ask in told.plan.questions]
    if told.plan.fastener is None:
        said.append("No fastener was chosen: the plan lists no parts.")
    if told.unused:
        said.append(f"Priced but not needed here: {', '.join(told.unused)}.")
    return tuple(said)


def money(amount: float) -> str:
    """An amount as people write it."""
    return f"{amount:,.2f}"

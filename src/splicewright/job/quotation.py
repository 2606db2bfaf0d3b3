"""A quotation for a planned job: its parts, hours and extras at the user's own prices.

No price is known here and none is made up: what the prices file does not name is listed without a
price, and the sum says that it is not whole.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated

from pydantic import Field

from splicewright.files.answers import Money, Number, Whole, Words
from splicewright.files.fields import Table
from splicewright.files.question import Ask
from splicewright.files.toml import check, load
from splicewright.files.typed_file import Readable
from splicewright.job.plan import JointPlan
from splicewright.job.steps.timing import SPAN
from splicewright.plant.conveyor_file import Name
from splicewright.quantities import Kind, Sentence, sentence

Price = Annotated[float, Money()]


class QuoteTable(Table):
    """[quote]: who asks and who offers, and in what currency."""

    currency: Annotated[Name, Ask("Currency", example="EUR")]
    contractor: Annotated[str, Words(200), Ask("Contractor", example="Example Belt Works")] = ""
    customer: Annotated[str, Words(200), Ask("Customer", example="Example quarry")] = ""
    number: Annotated[str, Words(60), Ask("Number of the quotation", example="Q-017")] = ""
    valid_until: Annotated[str, Words(60), Ask("Valid until", example="2026-12-31")] = ""
    tax: Annotated[
        float | None, Number(0.0, 1.0, Kind.SHARE), Ask("Tax, blank for none", example="20 %")
    ] = None
    tax_name: Annotated[str, Words(40), Ask("Name of the tax", example="VAT")] = "tax"
    note: Annotated[str, Words(400), Ask("Note", example="travel of one day included")] = ""
    excluded: Annotated[
        str, Words(400), Ask("Not included", example="scaffolding; disposal of old belt")
    ] = ""
    site_provides: Annotated[
        str, Words(400), Ask("The site provides", example="crane, power, light")
    ] = ""
    assumed: Annotated[str, Words(400), Ask("Assumed", example="belt run empty")] = ""


class HoursTable(Table):
    """[hours]: what a person costs for an hour, and how many people when not the plan's."""

    rate: Annotated[float, Money(), Ask("Rate of one person for an hour", example="62")]
    people: Annotated[
        int | None, Whole(1, 40), Ask("People, blank for the plan's crew", example="3")
    ] = None


class ExtraTable(Table):
    """[[extra]]: anything else, at a fixed price for each."""

    name: Name
    price: Price
    count: Annotated[float, Number(0.0, 1e6)] = 1.0


class PricesFile(Table):
    """A prices file: parts by the name the parts list gives them."""

    quote: QuoteTable
    hours: HoursTable
    parts: dict[str, Price] = {}
    extra: list[ExtraTable] = Field(default=[], max_length=50)


@dataclass(frozen=True, slots=True)
class QuoteLine:
    """One line: what, size, how many, price of each and of all; None where no price is known."""

    what: str
    size: Sentence
    count: float
    each: float | None

    @property
    def all(self) -> float | None:
        """Price of the line in the file's currency."""
        return None if self.each is None else self.count * self.each


@dataclass(frozen=True, slots=True)
class Quotation:
    """A quotation of one plan.

    lines : parts and extras; hours : likely hours of all people together, and up to so many [h]:
    all are there for the whole job
    before : the same of what is done before the stop; zero where nothing is
    unpriced : parts without a price; unused : prices for parts that this job does not need
    """

    plan: JointPlan
    prices: PricesFile
    lines: tuple[QuoteLine, ...]
    people: int
    hours: tuple[float, float]
    before: tuple[float, float]
    unpriced: tuple[str, ...]
    unused: tuple[str, ...]

    @property
    def sums(self) -> tuple[float, float]:
        """What is priced, with the likely hours and with the most [currency], before tax."""
        priced = sum(line.all or 0.0 for line in self.lines)
        low, high = (
            priced + (h + ahead) * self.prices.hours.rate
            for h, ahead in zip(self.hours, self.before, strict=True)
        )
        return low, high

    @property
    def whole(self) -> bool:
        """Whether every part has a price."""
        return not self.unpriced


def quotation(plan: JointPlan, prices: PricesFile) -> Quotation:
    """Price a plan.

    plan : any plan; without a joint it has no parts
    prices : from `load_prices`
    """
    plain = sentence("")
    parts = [
        QuoteLine(part.name, part.size, float(part.total), prices.parts.get(part.name))
        for part in plan.parts
    ]
    extras = [QuoteLine(x.name, plain, x.count, x.price) for x in prices.extra]
    people = prices.hours.people or plan.work.crew
    likely, high = (people * t.value / 3600.0 for t in (plan.timing.likely, plan.timing.high))
    ahead = plan.timing.before.value / 3600.0 if plan.timing.before is not None else 0.0
    names = {part.name for part in plan.parts}
    return Quotation(
        plan,
        prices,
        (*parts, *extras),
        people,
        (likely, high),
        (ahead, SPAN[1] * ahead),
        tuple(line.what for line in parts if line.each is None),
        tuple(sorted(set(prices.parts) - names)),
    )


def load_prices(path: Readable) -> PricesFile:
    """Read a prices file.

    Raises InputError: anything wrong in the file; each fault with line and key.
    """
    return load(path, PricesFile)


def prices_typed(tables: Mapping[str, object]) -> PricesFile:
    """The prices of the same tables as they were typed.

    Raises InputError: anything wrong; keys are those of a prices file.
    """
    return check(dict(tables), PricesFile, "")

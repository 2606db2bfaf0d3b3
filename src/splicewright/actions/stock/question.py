"""The question of stock: how many of each item to hold, and how many to order now."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Annotated

from splicewright.actions.question import ByRegister, Inquiry, Source, plain
from splicewright.actions.stock.order_notes import SERVICE
from splicewright.errors import Fault, InputError
from splicewright.files.answers import FileOf, Number, Typed, TypedUse
from splicewright.files.question import Ask
from splicewright.files.typed_file import Readable
from splicewright.quantities import Kind

if TYPE_CHECKING:
    from splicewright.actions.stock.size import StockSized
    from splicewright.quantities import Record, System
    from splicewright.sheets.pages.document import Document


class StockAsked(ByRegister):
    """Say how many of each item in ITEMS (CSV) to hold, and how many to order now.

    With --register (or without ITEMS) what lies there, what was taken out and the joints that use
    it come from the register.
    """

    items: Annotated[
        Readable | None,
        FileOf("csv"),
        Ask("Table of items (CSV)", option="ITEMS", doors=("command", "program")),
    ] = None
    service: Annotated[
        float,
        Number(0.5, 0.9999, Kind.SHARE),
        Ask("Service", "Chance that the next job finds the item.", "95 %"),
    ] = SERVICE
    lives: Annotated[
        Readable | None,
        FileOf("csv"),
        Ask(
            "Lives",
            "Lives of the joints that use items marked `joints` (CSV).",
            doors=("command", "program"),
        ),
    ] = None
    use_a_day: Annotated[
        str, TypedUse(), Ask("Use a day", 'How fast those joints age, such as "16 h".', "16 h")
    ] = ""
    lead_time: Annotated[
        str,
        Typed(Kind.TIME),
        Ask(
            "Lead time",
            "Of items that only the register names; they are left out without it.",
            "6 weeks",
        ),
    ] = ""
    plan: Annotated[
        Readable | None,
        FileOf("json"),
        Ask(
            "Plan",
            "Job folder or plan.json: which parts of its kit does the store lack, by name?",
            doors=("command",),
        ),
    ] = None


def answer_stock(asked: StockAsked, source: Source) -> StockSized:
    """Size the stock of a table, or of a site by its register.

    Raises InputError: nothing to size, or anything wrong in the files or the values.
    """
    from splicewright.actions.plan.plan import read_plan
    from splicewright.actions.stock.size import kit_against_stock, size_recorded_stock, size_stock

    recorded = asked.items is None or source.recorded(asked)
    if asked.lives is not None and asked.items is None:
        wording = "goes with a table of items; by the register its own joints count"
        raise InputError(Fault("lives", wording))
    if asked.items is not None and (not recorded or asked.lives is not None):
        if asked.plan is not None:
            wording = "its kit is held against the register's store; give a register, and no lives"
            raise InputError(Fault("plan", wording))
        sized = size_stock(asked.items, asked.service, lives=asked.lives, use_a_day=asked.use_a_day)
        return replace(sized, today=source.now(asked).date())
    with source.open() as register:
        now = source.now(asked)
        sized = size_recorded_stock(
            register,
            now,
            asked.service,
            items=asked.items,
            lead=asked.lead_time,
            conveyor=asked.conveyor,
            use=asked.use,
        )
        sized = replace(sized, today=now.date())
        if asked.plan is None:
            return sized
        lacks = kit_against_stock(read_plan(asked.plan), register, now, asked.conveyor)
        return replace(sized, missing=lacks)


def _document(sized: StockSized, units: System) -> Document:
    from splicewright.sheets.reports.stock import stock_report

    return stock_report(
        sized.items,
        sized.missing,
        service=sized.service,
        name=sized.name,
        notes=sized.notes,
        invented=sized.invented,
        today=sized.today,
    )


def _record(sized: StockSized) -> Record:
    from splicewright.history.stock.worksheet import record_of_stock

    return record_of_stock(sized.items, sized.service)


STOCK: Inquiry[StockAsked, StockSized] = Inquiry(
    "stock",
    StockAsked,
    answer_stock,
    _document,
    lambda s: {"stock": plain(s.items), "kit lacks": plain(s.missing)},
    "stock",
    "stock",
    record=_record,
    in_units=False,
)

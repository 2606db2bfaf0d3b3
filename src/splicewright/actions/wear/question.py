"""The question of wear: when each place is worn out."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

from splicewright.actions.question import ByRegister, Confidence, Inquiry, Source, plain
from splicewright.files.answers import FileOf, Typed
from splicewright.files.question import Ask
from splicewright.files.typed_file import Readable
from splicewright.quantities import Kind

if TYPE_CHECKING:
    from splicewright.history.wear.study import WearStudy
    from splicewright.quantities import Record, System
    from splicewright.sheets.pages.document import Document


class WearAsked(ByRegister):
    """Say when each place in READINGS (CSV) is worn out, and which goes first.

    Without READINGS the readings are those of the register.
    """

    readings: Annotated[
        Readable | None,
        FileOf("csv"),
        Ask("Table of readings (CSV)", option="READINGS", doors=("command", "program")),
    ] = None
    limit: Annotated[
        str,
        Typed(Kind.LENGTH),
        Ask(
            "Places without a limit are worn out at",
            'Value worn out, such as "3 mm", where the file has none.',
            "3 mm",
            "1/8 in",
        ),
    ] = ""
    new: Annotated[
        str,
        Typed(Kind.LENGTH),
        Ask(
            "Read when new",
            "Value at use 0, known for sure, where the file has none.",
            "12 mm",
            "1/2 in",
        ),
    ] = ""
    gauge: Annotated[
        str,
        Typed(Kind.LENGTH),
        Ask(
            "Gauge",
            "Standard deviation of the gauge; the band is never narrower.",
            "0.1 mm",
            "1/256 in",
        ),
    ] = ""
    confidence: Confidence = 0.9


def answer_wear(asked: WearAsked, source: Source) -> WearStudy:
    """Forecast the wear of every place of a table, or of one conveyor of the register.

    Raises InputError: no readings, several conveyors that have some, or anything wrong in them.
    """
    from splicewright.actions.wear.forecast import forecast_recorded_wear, forecast_wear

    given = asked.model_dump(include={"limit", "new", "gauge", "confidence"})
    source.refuse_beside("readings", asked.readings)
    if asked.readings is not None:
        today = asked.today or source.now().date()
        return forecast_wear(asked.readings, today, **given)
    with source.open() as register:
        return forecast_recorded_wear(
            register, source.now(asked), conveyor=asked.conveyor, use=asked.use, **given
        )


def _document(study: WearStudy, units: System) -> Document:
    from splicewright.sheets.reports.wear import wear_report

    return wear_report(study, units)


def _record(study: WearStudy) -> Record:
    from splicewright.history.wear.worksheet import record_of_wear

    return record_of_wear(study)


WEAR: Inquiry[WearAsked, WearStudy] = Inquiry(
    "wear",
    WearAsked,
    answer_wear,
    _document,
    lambda s: {"wear": plain(s)},
    "wear",
    "wear",
    record=_record,
)

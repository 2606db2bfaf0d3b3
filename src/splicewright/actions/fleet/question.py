"""The question of the fleet: what is due, worst first, and why."""

from __future__ import annotations

import math
from collections.abc import Mapping
from datetime import date
from typing import TYPE_CHECKING, Annotated

from splicewright.actions.question import ByRegister, Inquiry, Source, plain
from splicewright.files.answers import Day, Money, Typed
from splicewright.files.question import Ask
from splicewright.quantities import Kind

if TYPE_CHECKING:
    from splicewright.history.fleet.study import FleetStudy
    from splicewright.quantities import Record, System
    from splicewright.sheets.pages.document import Document


class FleetAsked(ByRegister):
    """List what is due at all joints and belts of the register, worst first, and why."""

    until: Annotated[
        date | None,
        Day(),
        Ask("Next planned stop", "Day of the next planned stop. Without it: four weeks ahead."),
    ] = None
    limit: Annotated[
        str,
        Typed(Kind.LENGTH),
        Ask(
            "Places without a limit are worn out at",
            "Value worn out, for places without one.",
            "3 mm",
            "1/8 in",
            doors=("command", "program"),
        ),
    ] = ""
    stop_cost: Annotated[float | None, Money(), Ask("Cost of one hour stopped", example="1500")] = (
        None
    )
    failure_cost: Annotated[
        float | None, Money(), Ask("Cost of a failure, apart from the stop", example="8000")
    ] = None

    @property
    def reads_all(self) -> bool:
        """Only in a use of its own, or with a limit of wear: else it is answered from counts."""
        return super().reads_all and bool(self.use or self.limit)


def answer_fleet(asked: FleetAsked, source: Source) -> FleetStudy:
    """Put all joints, worn places and damages of the register in order.

    Raises InputError: the register holds no conveyor, or a day that has passed.
    """
    from splicewright.actions.fleet.fleet import see_fleet

    with source.open() as register:
        return see_fleet(
            register,
            source.now(asked),
            until=asked.until,
            conveyor=asked.conveyor,
            use=asked.use,
            limit=asked.limit,
            stop_cost=math.nan if asked.stop_cost is None else asked.stop_cost,
            failure_cost=math.nan if asked.failure_cost is None else asked.failure_cost,
        )


def _document(study: FleetStudy, units: System) -> Document:
    from splicewright.sheets.reports.fleet import fleet_report

    return fleet_report(study, units)


def _more(study: FleetStudy, units: System) -> Mapping[str, bytes]:
    from splicewright.actions.fleet.fleet import fleet_table

    return {"fleet.xlsx": fleet_table(study, units)}


def _record(study: FleetStudy) -> Record:
    from splicewright.history.fleet.worksheet import record_of_fleet

    return record_of_fleet(study)


FLEET: Inquiry[FleetAsked, FleetStudy] = Inquiry(
    "fleet",
    FleetAsked,
    answer_fleet,
    _document,
    lambda s: {"fleet": plain(s)},
    "fleet",
    "fleet",
    _more,
    record=_record,
)

"""See the fleet: what is due, worst first, and why; and its folder of tables, drawings, report."""

from __future__ import annotations

import math
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from splicewright.errors import Fault, InputError
from splicewright.quantities import Kind, read

if TYPE_CHECKING:
    from uuid import UUID

    from splicewright.actions.register.use import UseName
    from splicewright.history.fleet.study import FleetStudy
    from splicewright.quantities import System
    from splicewright.store import Register

DAYS_TO_STOP = 28
"""Days to the next planned stop where none is given (assumption of this tool)."""


def see_fleet(
    register: Register,
    now: datetime,
    *,
    until: date | None = None,
    conveyor: str | UUID = "",
    use: UseName = "",
    limit: str = "",
    stop_cost: float = math.nan,
    failure_cost: float = math.nan,
) -> FleetStudy:
    """Put all joints, worn places and damages of a register in order.

    until : the next planned stop; four weeks ahead where left out, and said so
    conveyor : the only one to look at; empty takes all
    use : what lives are counted in; empty chooses
    limit : value worn out, for places that have none in the register, with unit
    stop_cost, failure_cost : of one hour stopped, and of a failure apart from the stop
    Raises InputError: the register holds no conveyor, or values out of range.
    """
    from splicewright.actions.fleet.counted import ONE_BY_ONE, see_counted_fleet
    from splicewright.actions.fleet.from_register import matters_of_register
    from splicewright.actions.life.from_register import lives_of_register
    from splicewright.actions.register.use import look_into
    from splicewright.history.fleet.study import study_fleet

    today = now.date()
    stop = until or today + timedelta(days=DAYS_TO_STOP)
    four_weeks = f"the next planned stop is not given: taken to be in {DAYS_TO_STOP} days, {stop}"
    guessed = [four_weeks] if until is None else []
    counts = register.life_counts() if not conveyor and not use and not limit else ()
    if sum(c.count for c in counts) > ONE_BY_ONE:
        return see_counted_fleet(
            register, counts, now, stop, failure_cost=failure_cost, assumed=guessed
        )
    if not register.conveyors():
        wording = "holds no conveyor; record one first (splicewright register add-conveyor FILE)"
        raise InputError(Fault("register", wording))
    looked = look_into(register, now, conveyor=conveyor, use=use)
    looked.assumed.extend(guessed)
    worn = read(limit, Kind.LENGTH, "limit") if limit else None
    matters = matters_of_register(looked, stop, worn)
    read_ = lives_of_register(looked, kinds=False)
    return study_fleet(
        read_.joints,
        matters,
        read_.stops,
        today=looked.today,
        until=stop,
        measure=looked.measure,
        name=looked.name,
        stop_cost=stop_cost / 3600.0,
        failure_cost=failure_cost,
        assumed=looked.assumed,
        left_out=looked.left_out,
        invented=looked.invented,
    )


def fleet_table(study: FleetStudy, system: System) -> bytes:
    """The whole list as XLSX."""
    from splicewright.files.spreadsheets import write_table
    from splicewright.sheets.reports.fleet import FLEET_HEAD, fleet_rows

    return write_table(Path("fleet.xlsx"), FLEET_HEAD, fleet_rows(study, system))

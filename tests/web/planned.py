"""A joint planned on the invented incline, for pages that begin where a plan stands."""

from __future__ import annotations

from uuid import UUID

from planned import SITE, planned
from splicewright.actions.fasteners import record_fasteners
from splicewright.actions.plan.record import RecordedPlan, record_plan
from splicewright.store.sql.register import SqlRegister
from web.conftest import START


def plan_on_incline(register: SqlRegister, label: str = "J1") -> RecordedPlan:
    """The example's worn joint on the incline, recorded: 22 plates on each end."""
    conveyor = next(c for c in register.conveyors() if "incline" in c.name)
    plan = planned("incline", "incline-worn-joint")
    return record_plan(
        register, plan, conveyor=conveyor.conveyor, label=label, by="Ada Example", now=START
    )


def keep_ranges(register: SqlRegister, site: UUID) -> None:
    """The invented fastener ranges, kept for a site."""
    for file in sorted((SITE / "fasteners").glob("*.toml")):
        record_fasteners(register, site, file.read_bytes(), file.name, by="Ada Example", now=START)

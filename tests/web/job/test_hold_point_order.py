"""The page, the phone and the report tell the same of hold points signed out of order."""

from __future__ import annotations

from collections.abc import Callable
from uuid import uuid4

from fastapi.testclient import TestClient

from planned import planned
from splicewright.actions.job.customer_report import told_of
from splicewright.actions.plan.record import RecordedPlan
from splicewright.job import lines_to_tick
from splicewright.store import CONSOLE, Fact
from splicewright.store.facts.job_facts import HoldPointSigned, StepTicked
from splicewright.store.present.job_sheet import job_sheet
from splicewright.store.present.job_view import gaps
from splicewright.store.sql.register import SqlRegister
from web.conftest import START, Clock


def test_a_cut_signed_before_the_lock_is_told_everywhere(
    register: SqlRegister, job: RecordedPlan, clock: Clock, signed_in: Callable[[str], TestClient]
) -> None:
    plan = planned("incline", "incline-worn-joint")
    holds = [s for s in plan.steps if s.hold_point is not None]
    later = holds[1]
    told = register.said_by(CONSOLE)
    clock.pass_(hours=1)
    ticks = [
        StepTicked(job.job, later.key, True, n) for n in range(1, lines_to_tick(plan, later) + 1)
    ]
    missing = gaps(plan, later, job_sheet(()))
    why = "read on paper" if missing else ""
    for what in (*ticks, HoldPointSigned(job.job, later.key, later.hold_point or "", why, missing)):
        told.append(Fact(uuid4(), clock(), "Ada Example", what))
    said = f"the hold point of step {later.number}, {later.title}, was signed before that of"
    client = signed_in("crew")
    page = client.get(f"/jobs/{job.job}").text
    assert "Signed out of order, by the clocks of the phones" in page and said in page
    state = client.get(f"/jobs/{job.job}/state").json()
    assert len(state["outOfOrder"]) == 1 and state["outOfOrder"][0].startswith(said)
    assert said in told_of(told, job.job, START, "metric").standing

"""Home is today's work: what must not run first, then what is overdue, jobs in hand, the round.

In a trial a joint that must not run stood fifth in the due list, in green.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from uuid import UUID, uuid4

import pytest
from fastapi.testclient import TestClient
from playwright.sync_api import Page, expect

from splicewright.actions.plan.record import RecordedPlan
from splicewright.store import Fact, State
from splicewright.store.authority import is_barred
from splicewright.store.facts.joint_facts import (
    DueSet,
    InspectionClosed,
    JointBuilt,
    JointPutToWork,
    JointRemoved,
    JointSuspended,
    Mode,
    Task,
)
from splicewright.store.sql.register import SqlRegister
from web.conftest import Clock, enter
from web.looking import axe, fits, picture, small_targets
from web.working import open_job, tick, wait_sent

Enter = Callable[[str], TestClient]


def _say(register: SqlRegister, clock: Clock, *whats: object) -> None:
    for what in whats:
        register.append(Fact(uuid4(), clock(), "Ada Example", what))  # type: ignore[arg-type]


@pytest.fixture
def barred(register: SqlRegister, clock: Clock, job: RecordedPlan) -> UUID:
    """A running joint of which an inspection found that it must not run."""
    clock.pass_(hours=1)
    _say(register, clock, JointBuilt(job.joint), JointPutToWork(job.joint),
         InspectionClosed(job.joint, uuid4(), False, note="cracked"))  # fmt: skip
    return job.joint


def test_every_barred_joint_is_listed_and_no_other(
    example_register: SqlRegister, clock: Clock
) -> None:
    """Brute force: the rule of `authority.is_barred` over every joint of the example's past."""
    joints = example_register.joints(limit=5000)
    _say(example_register, clock, JointSuspended(joints[0].joint, "belt stands"),
         JointSuspended(joints[1].joint, "torn"), JointRemoved(joints[1].joint, Mode.OTHER),
         InspectionClosed(joints[2].joint, uuid4(), False))  # fmt: skip
    rows = example_register.joints(limit=5000)
    expected = {j.joint for j in rows if is_barred(j)}
    assert joints[0].joint in expected and joints[1].joint not in expected
    assert {j.joint for j in example_register.barred()} == expected
    sites = {c.conveyor: c.site for c in example_register.conveyors()}
    for site in example_register.sites():
        here = {j.joint for j in rows if is_barred(j) and sites[j.conveyor] == site.site}
        assert {j.joint for j in example_register.barred(site=site.site)} == here


def test_must_not_run_is_first_everywhere(
    signed_in: Enter, register: SqlRegister, clock: Clock, job: RecordedPlan, barred: UUID
) -> None:
    crew, lead = signed_in("crew"), signed_in("lead")
    others = [j.joint for j in register.joints() if j.joint != barred]
    _say(register, clock, *(DueSet(j, Task.INSPECT, clock() - timedelta(days=90)) for j in others))
    for path in ("/", "/due", "/due?ahead=now"):
        page = crew.get(path).text
        assert 'class="stop"' in page, path
        first = page.index("/joints/", page.index("<main"))
        assert page[first:].startswith(f"/joints/{barred}"), path
    assert "must not run" in crew.get("/due").text.casefold()
    (line, *_) = crew.get("/api/1/due", params={"days": 1}).json()
    assert line["joint"] == str(barred)
    # Taken off the due list by a lead, it still must not run, and still stands there.
    register.append(Fact(uuid4(), clock(), "Lead Example", DueSet(barred, Task.RENEW, None, "so")))
    assert 'class="stop"' in crew.get("/").text
    # Until an inspection says with the reason that it may run: then it is gone from there.
    clock.pass_(hours=1)
    may = InspectionClosed(
        barred, uuid4(), True, note="plates renewed, walked it", not_seen="under the belt"
    )
    _say(register, clock, may)
    now = register.joint(barred)
    assert now is not None and now.state is State.RUNNING
    assert 'class="stop"' not in lead.get("/").text
    assert 'class="stop"' not in lead.get("/due").text


def test_home_on_a_phone_shows_the_next_hold_point(
    phone: Page, job: RecordedPlan, register: SqlRegister, barred: UUID
) -> None:
    open_job(phone, job)
    tick(phone, "isolate", 1)
    wait_sent(phone)
    phone.goto("/")
    expect(phone.get_by_role("heading", name="Today", exact=True)).to_be_visible()
    expect(phone.locator("#main section.stop")).to_contain_text("Must not run: 1")
    card = phone.locator(".cards li", has_text="worn joint, long return")
    expect(card).to_contain_text("Next hold point: step 1, Run empty")
    expect(card).to_contain_text("you have written on it")
    fits(phone)
    axe(phone)
    assert small_targets(phone) == []
    picture(phone, "home-phone")
    # In sunlight it is black on white, and stays so on this phone.
    phone.locator(".menu summary").click()
    phone.get_by_role("button", name="Sunlight: black on white").click()
    axe(phone)
    phone.reload()
    assert phone.evaluate("document.documentElement.dataset.light") == "sun"
    picture(phone, "home-sunlight-phone")


def test_home_on_a_desk(desk: Page, barred: UUID) -> None:
    enter(desk, "lead")
    desk.goto("/")
    fits(desk)
    axe(desk)
    picture(desk, "home-desk")

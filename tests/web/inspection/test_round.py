"""A round of many joints: one route in walking order, walked without signal."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from uuid import UUID, uuid4

import pytest
from fastapi.testclient import TestClient
from playwright.sync_api import Page, expect

from splicewright.actions.plan.record import RecordedPlan
from splicewright.store import Fact
from splicewright.store.facts.joint_facts import DueSet, JointBuilt, JointPutToWork, Task
from splicewright.store.present.job_sheet import inspections
from splicewright.store.sql.register import SqlRegister
from web.conftest import Clock, enter
from web.looking import axe, fits, picture, small_targets
from web.planned import plan_on_incline
from web.working import on_the_phone, wait_sent


@pytest.fixture
def joints(register: SqlRegister, clock: Clock) -> list[RecordedPlan]:
    """Three running joints of one conveyor; the inspection of two is due."""
    made = [plan_on_incline(register, label) for label in ("J1", "J2", "J3")]
    for one in made:
        for what in (JointBuilt(one.joint), JointPutToWork(one.joint)):
            register.append(Fact(uuid4(), clock(), "Ada Example", what))
    for one in made[:2]:
        due = DueSet(one.joint, Task.INSPECT, clock() - timedelta(days=1), "as agreed")
        register.append(Fact(uuid4(), clock(), "Ada Example", due))
    return made


def test_what_a_round_holds(
    signed_in: Callable[[str], TestClient], joints: list[RecordedPlan], register: SqlRegister
) -> None:
    crew = signed_in("crew")
    due = crew.get("/rounds/due").text
    assert [label in due for label in ("J1", "J2", "J3")] == [True, True, False]
    there = register.joint(joints[0].joint)
    assert there is not None
    page = crew.get(f"/rounds/{there.conveyor}").text
    assert all(label in page for label in ("J1", "J2", "J3"))
    assert f"/rounds/{there.conveyor}" in crew.get(f"/conveyors/{there.conveyor}").text
    assert "/rounds/due" in crew.get("/").text
    assert crew.get(f"/rounds/{uuid4()}").status_code == 404
    assert signed_in("viewer").get("/rounds/due").status_code == 403


def test_a_round_is_walked_without_signal(
    phone: Page, joints: list[RecordedPlan], register: SqlRegister
) -> None:
    enter(phone, "crew")
    phone.goto("/rounds/due")
    on_the_phone(phone)
    expect(phone.locator("#kept")).to_contain_text("The whole round is on the phone")
    axe(phone)
    fits(phone)
    assert not small_targets(phone)
    picture(phone, "round-phone")
    phone.context.set_offline(True)
    phone.get_by_role("link", name="J1").click()
    for word in ("J1", "J2"):
        expect(phone.get_by_role("heading", name=f"Inspect {word}")).to_be_visible()
        phone.wait_for_selector("#inspection[data-works-here=yes]")
        for end in ("leading", "trailing"):
            phone.get_by_label(f"all others of the {end} end").check()
        phone.get_by_role("button", name="Record the inspection").click()
        expect(phone.locator("#offline")).to_contain_text("waits on this device")
        if word == "J1":
            expect(phone.locator("#round")).to_contain_text("1 left")
            phone.get_by_role("link", name="Next: J2").click()
    expect(phone.locator("#round")).to_contain_text("all done")
    phone.locator("#round a").first.click()
    expect(phone.locator(".done:visible")).to_have_count(2)
    phone.context.set_offline(False)
    wait_sent(phone)
    assert [_rounds(register, one.joint) for one in joints] == [1, 1, 0]


def _rounds(register: SqlRegister, joint: UUID) -> int:
    return len(inspections(register.facts_about(joint)))

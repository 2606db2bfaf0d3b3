"""What the phone shows of the belt at rest: questions first, stages and single failures."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect

from planned import planned
from splicewright.actions.plan.record import RecordedPlan, record_plan
from splicewright.job import JointPlan
from splicewright.store.sql.register import SqlRegister
from web.conftest import Begun, Clock, enter
from web.looking import SCREENSHOTS, axe, fits
from web.working import open_job, step


@pytest.fixture
def plan() -> JointPlan:
    """A job on a screw take-up whose pull nobody stated."""
    return planned("flat", "flat-torn-belt")


@pytest.fixture
def begun(begin: Callable[[bool, bool], Begun]) -> Begun:
    return begin(False, True)  # the job here is another


@pytest.fixture
def job(register: SqlRegister, clock: Clock, plan: JointPlan) -> RecordedPlan:
    (conveyor,) = (c.conveyor for c in register.conveyors() if c.name == plan.conveyor.name)
    return record_plan(
        register, plan, conveyor=conveyor, label="J1", by="Lead Example", now=clock()
    )


def test_questions_stages_and_failures_on_a_phone(
    phone: Page, job: RecordedPlan, plan: JointPlan
) -> None:
    open_job(phone, job)
    stopped = plan.at_rest
    # Friction moves the hoists' rating: 37.0 kN with what is likely, by a plan in which it is
    # stated, 48.1 kN at its bad end.
    asked = [doubt.key for doubt in stopped.doubts]
    # What load is left was not stated either: all of it is taken, and asked about.
    assert asked == ["take_up.force", "resistance.standing_friction", "work.load_left"]
    boxes = phone.locator(".settle")
    expect(boxes.first).to_be_visible()
    expect(boxes.first).to_contain_text(stopped.doubts[0].ask.say())
    top = boxes.first.bounding_box()
    assert top is not None and top["y"] + top["height"] < 844  # seen without scrolling
    # Not a second time among the warnings.
    expect(
        phone.locator("main > .note.warn").get_by_text(stopped.doubts[0].ask.say())
    ).to_have_count(1)
    isolate = step(phone, "isolate")
    expect(isolate.locator(".settle")).to_contain_text(stopped.doubts[0].ask.say())
    rows = isolate.locator(".stages tbody")
    expect(rows).to_have_count(len(stopped.stages))
    for n, stage in enumerate(stopped.stages):
        expect(rows.nth(n)).to_contain_text(f"{n + 1} {stage.name}")
        for force in stage.forces:
            if force.largest.value > 0:
                expect(rows.nth(n)).to_contain_text(force.largest.show())
    failures = isolate.locator(".failures > li")
    expect(failures).to_have_count(len(stopped.lets_go))
    for n, row in enumerate(stopped.lets_go):
        expect(failures.nth(n)).to_contain_text(row.name)
        expect(failures.nth(n)).to_contain_text(row.says.say())
        for other in row.others:
            expect(failures.nth(n)).to_contain_text(other.force.show())
    axe(phone)
    fits(phone)
    for name in ("settle", "stages", "failures"):
        phone.locator(f".{name}").last.scroll_into_view_if_needed()
        phone.evaluate(f"document.querySelector('#step-isolate .{name}').scrollIntoView()")
        SCREENSHOTS.mkdir(parents=True, exist_ok=True)
        phone.screenshot(path=SCREENSHOTS / f"at-rest-{name}-phone.png")
    phone.set_viewport_size({"width": 360, "height": 740})
    fits(phone)


def test_questions_on_the_page_of_the_plan(phone: Page, job: RecordedPlan, plan: JointPlan) -> None:
    enter(phone, "lead")
    phone.goto(f"/joints/{job.joint}/plan")
    expect(phone.locator(".settle")).to_contain_text(plan.at_rest.doubts[0].ask.say())
    phone.get_by_text("The belt at rest: forces").click()
    expect(phone.locator(".stages tbody")).to_have_count(len(plan.at_rest.stages))
    expect(phone.locator(".failures > li")).to_have_count(len(plan.at_rest.lets_go))
    axe(phone)
    fits(phone)

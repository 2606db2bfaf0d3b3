"""The pictures that the lessons show, on the invented site with a clock that stands still.

`make docs-site` runs this file; the suite does not: the pages have tests of their own. Names are
those of docs/*.md, held together by tests/test_docs_commands.py.
"""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from playwright.sync_api import Locator, Page, expect

from splicewright.actions.plan.record import RecordedPlan
from splicewright.store.sql.register import SqlRegister
from web.conftest import START, enter
from web.looking import SCREENSHOTS
from web.planned import keep_ranges
from web.working import THICKNESS, bar, open_job, sign_hold, step, tick, wait_sent, write

FOLDER = Path(os.environ.get("SPLICEWRIGHT_LESSON_PICTURES", SCREENSHOTS))


@pytest.fixture(autouse=True)
def still(request: pytest.FixtureRequest) -> None:
    """The browser's own clock stands where the server's does."""
    for name in ("phone", "desk"):
        if name in request.fixturenames:
            page: Page = request.getfixturevalue(name)
            page.clock.set_fixed_time(START)


def keep(page: Page, name: str, at: Locator | None = None) -> None:
    """What the screen shows, from `at` down where it is given."""
    if at is not None:
        at.evaluate("e => window.scrollTo(0, e.getBoundingClientRect().top + scrollY - 12)")
    expect(page.locator(".htmx-request")).to_have_count(0)
    page.wait_for_timeout(150)
    FOLDER.mkdir(parents=True, exist_ok=True)
    page.screenshot(path=FOLDER / f"{name}.png", scale="css")


def test_a_job_with_no_signal(phone: Page, job: RecordedPlan) -> None:
    open_job(phone, job)
    tick(phone, "isolate", 1)
    wait_sent(phone)
    phone.goto("/")
    expect(phone.get_by_role("heading", name="Today", exact=True)).to_be_visible()
    keep(phone, "lesson-today")
    phone.goto(f"/jobs/{job.job}")
    expect(phone.locator("html[data-ready=job]")).to_have_count(1)
    keep(phone, "lesson-job")
    phone.context.set_offline(True)
    tick(phone, "isolate", 2)
    write(phone, "measure", THICKNESS, "12.5")
    expect(bar(phone)).to_contain_text("2 entries wait for signal")
    keep(phone, "lesson-no-signal", step(phone, "measure"))
    for key in ("park", "permit"):
        sign_hold(phone, key)
    tick(phone, "isolate", 3)
    for key in ("isolate", "place"):
        sign_hold(phone, key)
    write(phone, "whole", "Belt thickness at the left and right edge", "12", 1)
    step(phone, "whole").locator("[data-sign]").click()
    expect(phone.get_by_role("dialog")).to_be_visible()
    keep(phone, "lesson-hold-point")
    phone.keyboard.press("Escape")
    phone.goto("/")
    expect(phone.get_by_role("heading", name="No signal")).to_be_visible()
    keep(phone, "lesson-jobs-on-the-phone")


def test_plates_on_a_phone(phone: Page, job: RecordedPlan, register: SqlRegister) -> None:
    enter(phone, "lead")
    phone.goto(f"/joints/{job.joint}/inspect")
    expect(phone.locator("#verdict")).to_contain_text("This is a calculation")
    for plate, taps in ((2, 2), (3, 4)):  # worn, lost
        for _ in range(taps):
            phone.get_by_role("button", name=f"Plate {plate}, leading end").tap()
    expect(phone.locator("#count")).to_contain_text("1 worn, 1 lost")
    keep(phone, "lesson-plates", phone.locator(".joint").first)


def test_the_form_of_a_plan(desk: Page, register: SqlRegister, people: object) -> None:
    incline = next(c for c in register.conveyors() if "incline" in c.name)
    enter(desk, "lead")
    keep_ranges(register, incline.site)
    desk.goto(f"/conveyors/{incline.conveyor}/plan")
    desk.get_by_label("Thickness, place 3 from the left").fill("11.2 mm")
    expect(desk.locator("#answer")).to_contain_text("11.2 mm")
    keep(desk, "lesson-plan", desk.locator("h1"))

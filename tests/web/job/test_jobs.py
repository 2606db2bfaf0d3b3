"""A job filled in on a phone, with signal."""

from __future__ import annotations

import re

from playwright.sync_api import Page, expect

from splicewright.actions.plan.record import RecordedPlan
from splicewright.store import Account, State
from splicewright.store.accounts.sql import SqlAccounts
from splicewright.store.facts.job_facts import JobHandedOver, SignedOff, StepTimed
from splicewright.store.sql.register import SqlRegister
from web.conftest import enter
from web.looking import SCREENSHOTS, axe, fits, picture, small_targets
from web.working import (
    THICKNESS,
    box,
    facts_of_job,
    kept,
    open_job,
    ready,
    sign_hold,
    step,
    tick,
    until,
    wait_kept,
    wait_sent,
    write,
)

DIAGONALS = "Diagonals after the cut, leading end"


def _open_all(page: Page) -> None:
    page.evaluate("document.querySelectorAll('details').forEach(d => d.open = true)")
    # Drawings load when they are looked at.
    page.evaluate("document.querySelectorAll('img').forEach(i => i.loading = 'eager')")
    until(page, "[...document.images].every(i => i.complete)")


def _glance(page: Page, key: str, name: str) -> None:
    """A picture of what is seen of a step; the whole page is many screens long."""
    page.evaluate(f"document.querySelector('#step-{key}').scrollIntoView()")
    SCREENSHOTS.mkdir(parents=True, exist_ok=True)
    page.screenshot(path=SCREENSHOTS / f"{name}.png")


def test_a_job_on_a_phone(phone: Page, job: RecordedPlan) -> None:
    open_job(phone, job)
    axe(phone)
    fits(phone)
    assert not small_targets(phone)
    picture(phone, "job-phone")
    phone.set_viewport_size({"width": 360, "height": 740})
    _open_all(phone)
    axe(phone)
    fits(phone)
    assert not small_targets(phone)
    _glance(phone, "measure", "job-360-measure")
    phone.emulate_media(color_scheme="dark")
    axe(phone)
    _glance(phone, "measure", "job-dark-measure")


def test_a_job_on_a_desk(desk: Page, job: RecordedPlan) -> None:
    enter(desk, "lead")
    desk.goto("/")
    desk.get_by_role("navigation", name="Pages").get_by_role("link", name="Jobs").click()
    axe(desk)
    fits(desk)
    picture(desk, "jobs-desk")
    desk.get_by_role("link", name="K2: worn joint, long return").click()
    ready(desk)
    _open_all(desk)
    axe(desk)
    fits(desk)
    assert not small_targets(desk)
    picture(desk, "job-desk-open")
    desk.emulate_media(media="print")
    fits(desk)
    _glance(desk, "isolate", "job-print")


def test_values_are_judged_while_they_are_typed(
    phone: Page, job: RecordedPlan, register: SqlRegister
) -> None:
    open_job(phone, job)
    place = box(phone, "measure", THICKNESS)
    typing, verdict = place.locator("input"), place.locator(".verdict")
    assert typing.get_attribute("inputmode") == "decimal"
    typing.press_sequentially("1")
    expect(verdict).to_have_text("too small")
    typing.press_sequentially("2.5")
    expect(verdict).to_have_text("within its limits")
    typing.press_sequentially("kg")
    expect(verdict).to_contain_text('has the unit "kg"; accepted is a length such as 11.5 mm')
    expect(typing).to_have_attribute("aria-invalid", "true")
    typing.press("Enter")
    phone.wait_for_timeout(200)
    assert facts_of_job(register, job.job) == [("job opened", "")]  # nothing written down
    expect(typing).to_have_value("12.5kg")
    write(phone, "measure", THICKNESS, "12.5")
    write(phone, "measure", THICKNESS, "1/2 in", 2)
    expect(box(phone, "measure", THICKNESS, 2).locator("input")).to_have_value("1/2 in")
    write(phone, "measure", THICKNESS, "17", 3)
    expect(box(phone, "measure", THICKNESS, 3).locator(".verdict")).to_have_text("too large")
    expect(phone.locator("#step-measure [data-state]")).to_have_text("outside its limits")
    wait_sent(phone)
    # The difference of the diagonals is worked from the two, against the limit as printed.
    write(phone, "cut", DIAGONALS, "1414")
    write(phone, "cut", DIAGONALS, "1416.6", 2)
    pair = phone.locator(f'[data-pair="{DIAGONALS}"]')
    expect(pair).to_have_text("Difference 2.6 mm: within its limits")
    write(phone, "cut", DIAGONALS, "1419", 2)
    expect(pair).to_have_text("Difference 5 mm: too large")
    wait_sent(phone)
    until(phone, "document.querySelector('html').dataset.ready === 'job'")
    state = phone.evaluate(f"fetch('/jobs/{job.job}/state').then(a => a.json())")
    assert [(j["what"], j["box"], j["verdict"]) for j in state["judged"]] == [
        (DIAGONALS, 0, "too large"), (THICKNESS, 3, "too large"),
    ]  # fmt: skip


def test_an_inch_crew(
    phone: Page,
    job: RecordedPlan,
    register: SqlRegister,
    accounts: SqlAccounts,
    people: dict[str, Account],
) -> None:
    accounts.set_units(people["crew"].account, "inch")
    open_job(phone, job)
    section = step(phone, "measure")
    expect(section).to_contain_text("0.433 in to 0.63 in")
    # The keypad has no stroke: it stands under the boxes.
    before = kept(phone)
    box(phone, "measure", THICKNESS).locator("input").tap()
    phone.keyboard.type("1")
    phone.get_by_role("button", name="/", exact=True).tap()
    phone.keyboard.type("2")
    phone.keyboard.press("Enter")
    wait_kept(phone, before + 1)
    expect(box(phone, "measure", THICKNESS).locator(".also")).to_have_text("= 12.7 mm")
    expect(box(phone, "measure", THICKNESS).locator(".verdict")).to_have_text("within its limits")
    write(phone, "measure", THICKNESS, "12,5 mm", 2)
    wait_sent(phone)
    assert [word for _, word in facts_of_job(register, job.job)][1:] == ["1/2 in", "12.5 mm"]
    fits(phone)


def test_timer_hand_over_and_sign_off(
    phone: Page, job: RecordedPlan, register: SqlRegister
) -> None:
    phone.clock.install()
    open_job(phone, job)
    timer = step(phone, "isolate").locator("[data-timer]")
    timer.click()
    expect(timer).to_have_text(re.compile("Stop the timer"))
    phone.clock.fast_forward(24 * 60 * 1000)
    phone.reload()  # it runs on
    ready(phone)
    timer = step(phone, "isolate").locator("[data-timer]")
    expect(timer).to_have_text("Stop the timer: 24 min")
    timer.click()
    expect(phone.locator("#step-isolate [data-took]")).to_have_text("; took 24 min")
    wait_sent(phone)
    (timed,) = [
        s.fact.what for s in register.facts_about(job.job) if isinstance(s.fact.what, StepTimed)
    ]
    assert 24 * 60 <= timed.took < 25 * 60 and timed.planned == 30 * 60

    phone.get_by_label("To whom, and which shift").fill("Ben, night shift")
    phone.get_by_label("What they must know").fill("clamps stand, belt not cut")
    phone.get_by_role("button", name="Hand over").click()
    expect(phone.locator("#handed")).to_contain_text("To Ben, night shift: clamps stand")

    phone.get_by_label("I built it").check()
    phone.get_by_label("The job is over").check()
    expect(phone.locator("#keeps-open")).to_contain_text("the hold point of step 1")
    signs = phone.get_by_role("button", name="Crew Example signs")
    expect(signs).to_be_disabled()
    picture(phone, "sign-off-refused-phone")
    phone.get_by_label("The job is over").uncheck()
    # What is signed stands above the button that names the signer.
    expect(phone.locator("#statement")).to_contain_text("I built this joint by this plan")
    axe(phone)
    picture(phone, "sign-off-phone")
    signs.click()
    expect(phone.locator("#signed")).to_contain_text("I built it")
    wait_sent(phone)
    whats = [s.fact.what for s in register.facts_about(job.job)]
    assert any(isinstance(w, JobHandedOver) for w in whats)
    (signed,) = [w for w in whats if isinstance(w, SignedOff)]
    assert not signed.closes and signed.statement.startswith("I built this joint")
    now = register.job(job.job)
    assert now is not None and not now.changed


def test_the_whole_job_to_its_end(phone: Page, job: RecordedPlan, register: SqlRegister) -> None:
    """As in a trial where 67 taps closed a job with nothing measured: now only a lead can."""
    open_job(phone, job, "lead")
    sections = phone.locator("details.step")
    keys = [sections.nth(n).get_attribute("data-step") or "" for n in range(sections.count())]
    for key in keys:
        section = step(phone, key)
        lines = section.locator("[data-tick]")
        for n in range(lines.count()):
            tick(phone, key, int(lines.nth(n).get_attribute("data-line") or 0))
        sign = section.locator("[data-sign]")
        if sign.count():
            expect(sign).to_be_enabled()
            sign_hold(phone, key, "read on paper, the phone was in the car")
    expect(phone.locator("#next-hold")).to_have_text("Every hold point is signed.")
    before = len(facts_of_job(register, job.job))
    phone.get_by_label("I answer for the job").check()
    phone.get_by_label("The joint now").select_option("joint put to work")
    phone.get_by_label("The job is over").check()
    expect(phone.locator("#for-lead")).to_contain_text(
        '"Belt thickness, leading end" missing (5 boxes)'
    )
    # Over what was never measured it is asked once more, and can be left.
    phone.locator("#sign-off-form button").click()
    dialog = phone.get_by_role("dialog")
    expect(dialog).to_contain_text("never measured in full: the joint will say so for good")
    axe(phone)
    dialog.get_by_role("button", name="Not yet").click()
    assert not [1 for kind, _ in facts_of_job(register, job.job) if kind == "signed off"]
    phone.locator("#sign-off-form button").click()
    dialog.get_by_role("button", name="Lead Example signs").click()
    wait_kept(phone, before + 2)
    wait_sent(phone)
    now, joint = register.job(job.job), register.joint(job.joint)
    assert now is not None and now.closed is not None and not now.changed
    assert joint is not None and joint.state is State.RUNNING
    phone.goto("/jobs")
    expect(phone.get_by_role("heading", name="Closed")).to_be_visible()


def test_a_viewer_reads_and_writes_nothing(phone: Page, job: RecordedPlan) -> None:
    open_job(phone, job, "viewer")
    section = step(phone, "isolate")
    expect(section.locator('[data-line="1"]')).to_be_disabled()
    expect(phone.get_by_role("button", name="Sign this hold point")).to_have_count(0)
    expect(phone.locator("#hand-over-form")).to_be_hidden()
    assert box(phone, "measure", THICKNESS).locator("input").get_attribute("readonly") is not None
    axe(phone)

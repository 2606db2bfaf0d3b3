"""A job in hand: done steps fold and the next opens; undo, comments; taps counted; no script."""

from __future__ import annotations

from playwright.sync_api import Page, expect

from splicewright.actions.plan.record import RecordedPlan
from splicewright.store.facts.job_facts import JobCommented
from splicewright.store.present.job_sheet import job_sheet
from splicewright.store.sql.register import SqlRegister
from web.conftest import enter
from web.looking import axe, fits, picture
from web.working import THICKNESS, box, kept, open_job, tick, wait_kept, wait_sent, write

MOST_TAPS = 80


def test_the_plain_job_with_everything_entered_takes_few_taps(
    phone: Page, job: RecordedPlan, register: SqlRegister
) -> None:
    """Taps counted as a person makes them: Enter on the keypad goes on to the next box."""
    open_job(phone, job)
    taps = 0
    steps = phone.evaluate(
        """JSON.parse(document.getElementById("job-data").textContent).steps.map((s) => ({
             key: s.key, hold: Boolean(s.hold), lines: s.lines,
             boxes: s.boxes.map((b) => [b.what, b.box, b.low, b.high, b.unit, b.kind]) }))"""
    )
    in_unit = {"mm": 1e3, "m": 1.0, "N m": 1.0}
    for step in steps:
        section = phone.locator(f"#step-{step['key']}")
        expect(section).to_have_attribute("open", "")  # the one before opened it
        for line in range(1, step["lines"] + 1):
            tick(phone, step["key"], line)
            taps += 1
        if step["boxes"]:
            taps += 1
            section.locator(".box input").first.click()
        for _, _, low, high, unit, _ in step["boxes"]:
            before = kept(phone)
            value = 0.5 if high is None else ((low or 0.0) + high) / 2
            phone.keyboard.type(f"{value * in_unit[unit]:.6g} {unit}")
            phone.keyboard.press("Enter")
            wait_kept(phone, before + 1)
        before = kept(phone)
        if step["hold"]:
            section.locator("[data-sign]").click()
            expect(phone.locator("#ask-reasons")).to_be_hidden()
            phone.locator("#ask-yes").click()
            taps += 2
        else:
            section.locator('[data-tick][data-line="0"]').check()
            taps += 1
        wait_kept(phone, before + 1)
        expect(section).not_to_have_attribute("open", "")
    phone.get_by_label("I answer for the job").check()
    phone.get_by_label("The job is over").check()
    expect(phone.locator("#for-lead")).to_be_hidden()
    phone.get_by_role("button", name="Sign", exact=True).click()
    before = kept(phone)
    phone.locator("#ask-yes").click()
    taps += 4
    wait_kept(phone, before + 1)
    wait_sent(phone)
    now = register.job(job.job)
    assert now is not None and now.closed is not None
    assert taps < MOST_TAPS, taps
    high = phone.evaluate("document.documentElement.scrollHeight")
    assert high < 9000, high


def test_the_last_entry_is_undone_and_comments_are_kept(
    phone: Page, job: RecordedPlan, register: SqlRegister
) -> None:
    open_job(phone, job)
    phone.context.set_offline(True)
    write(phone, "measure", THICKNESS, "15.5 mm")
    undo = phone.locator("#undo")
    expect(undo).to_have_text(f"Undo: {THICKNESS}, box 1: 15.5 mm")
    fits(phone)
    axe(phone)
    picture(phone, "undo-phone")
    undo.click()
    expect(undo).to_be_hidden()
    expect(box(phone, "measure", THICKNESS).locator("input")).to_have_value("")
    before = kept(phone)
    phone.get_by_label("What no box asks for").fill("wind from the west, sheet up")
    phone.get_by_role("button", name="Write it down").click()
    wait_kept(phone, before + 1)
    expect(phone.locator("#comments")).to_contain_text("wind from the west")
    phone.context.set_offline(False)
    wait_sent(phone)
    facts = register.facts_about(job.job)
    assert [s.fact.kind for s in facts][-3:] == ["value recorded", "correction", "job commented"]
    sheet = job_sheet(facts)
    assert sheet.values == {}
    (said,) = sheet.comments
    assert isinstance(said.what, JobCommented)
    phone.reload()
    expect(phone.locator("#comments")).to_contain_text("wind from the west")


def test_steps_are_read_without_script(desk: Page, job: RecordedPlan, site: str) -> None:
    enter(desk, "crew")
    browser = desk.context.browser
    assert browser is not None
    bare = browser.new_context(java_script_enabled=False, base_url=site)
    bare.add_cookies(desk.context.cookies())  # type: ignore[arg-type]
    page = bare.new_page()
    page.goto(f"/jobs/{job.job}")
    page.locator("#step-measure summary").click()
    read = page.locator("#step-measure .unscripted")
    expect(read).to_be_visible()
    assert THICKNESS in read.inner_text() and "Hold point:" in read.inner_text()
    fits(page)
    picture(page, "job-without-script")
    bare.close()

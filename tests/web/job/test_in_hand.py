"""A job in hand: done steps fold and the next opens; undo, comments; taps counted; no script."""

from __future__ import annotations

from pathlib import Path
from uuid import uuid4

from playwright.sync_api import Page, expect

from splicewright.actions.job.read import read_job
from splicewright.actions.plan.record import RecordedPlan
from splicewright.quantities import Kind
from splicewright.store import Account, Fact
from splicewright.store.facts.job_facts import Gap, JobCommented, ValueRecorded
from splicewright.store.present.job_sheet import job_sheet
from splicewright.store.present.job_view import gaps
from splicewright.store.sql.register import SqlRegister
from web.conftest import Clock, enter
from web.looking import axe, fits, picture, small_targets
from web.working import (
    THICKNESS,
    box,
    in_good_faith,
    kept,
    open_job,
    tick,
    until,
    wait_kept,
    wait_sent,
    write,
)
from web.working import (
    step as opened_step,
)

MOST_TAPS = 80
_MOMENTS = """[...["2026-01-02T03:04:05Z", "2025-10-31T23:59:59Z"].map((at) => [
    splicewright.step.clock(at),
    new Date(at).toLocaleString("sv-SE", { dateStyle: "short", timeStyle: "short" }),
  ]), [
    splicewright.step.clock(new Date().setHours(9, 5)),
    new Date(new Date().setHours(9, 5)).toLocaleString("sv-SE", { timeStyle: "short" }),
  ]]"""
"""Moments as a job's page writes them, beside how the browser writes them for Sweden (ISO 8601)."""
ROOT = Path(__file__).parents[3]


def test_the_plain_job_with_everything_entered_takes_few_taps(
    phone: Page, job: RecordedPlan, register: SqlRegister
) -> None:
    """Taps counted as a person makes them: Enter on the keypad goes on to the next box."""
    open_job(phone, job)
    taps = 0
    steps = phone.evaluate(
        """JSON.parse(document.getElementById("job-data").textContent).steps.map((s) => ({
             key: s.key, hold: Boolean(s.hold), lines: s.lines,
             boxes: s.boxes }))"""
    )
    in_unit = {"mm": 1e3, "m": 1.0, "N m": 1.0}
    for step in steps:
        section = phone.locator(f"#step-{step['key']}")
        expect(section).to_have_attribute("open", "")  # the one before opened it
        for line in range(1, step["lines"] + 1):
            tick(phone, step["key"], line)
            taps += 1
        if step["boxes"] and step["lines"]:  # the last line ticked leads to the first box
            expect(section.locator(".box input").first).to_be_focused()
        elif step["boxes"]:
            taps += 1
            section.locator(".box input").first.click()
        for one in step["boxes"]:
            before = kept(phone)
            phone.keyboard.type(f"{in_good_faith(one) * in_unit[one['unit']]:.6g}")
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
    before = kept(phone)
    phone.get_by_role("button", name="Crew Example signs").click()
    taps += 3
    wait_kept(phone, before + 1)
    wait_sent(phone)
    now = register.job(job.job)
    assert now is not None and now.closed is not None
    # docs/offline.md says the figure.
    assert f"takes {taps} taps" in " ".join((ROOT / "docs/offline.md").read_text("utf-8").split())
    assert taps < MOST_TAPS, taps
    high = phone.evaluate("document.documentElement.scrollHeight")
    assert high < 9000, high


def test_the_last_entry_is_undone_and_comments_are_kept(
    phone: Page, job: RecordedPlan, register: SqlRegister
) -> None:
    open_job(phone, job)
    for said, swedish in phone.evaluate(_MOMENTS):
        assert said == swedish
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


def test_a_slip_of_unit_or_digit_is_asked_about(
    phone: Page, job: RecordedPlan, register: SqlRegister
) -> None:
    """Nothing is written down before the answer; what is true can be said, and is kept as said."""
    open_job(phone, job)
    asks, first = phone.locator("#step-check .asks"), "Set-back left, leading end"
    typed = box(phone, "check", first).locator("input")
    typed.fill("178")
    typed.press("Enter")
    ask = asks.filter(has_text="far from what is expected")
    expect(ask).to_contain_text("178 mm (7.01 in)")
    axe(phone)
    fits(phone)
    assert not small_targets(phone)
    picture(phone, "slip-asked-phone")
    assert kept(phone) == 0
    before = kept(phone)
    ask.get_by_role("button", name="It is 17.8 mm").tap()
    wait_kept(phone, before + 1)
    expect(typed).to_have_value("17.8")
    expect(box(phone, "check", first).locator(".also")).to_have_text("= 0.701 in")
    # True all the same: said so, it counts.
    typed.fill("178 mm")
    typed.press("Enter")
    ask.get_by_role("button", name="178 mm is right").tap()
    wait_kept(phone, before + 2)
    # A fraction alone is inches to most hands, and millimetres on this page.
    other = "Set-back right, trailing end"
    box(phone, "check", other).locator("input").fill("23/32")
    box(phone, "check", other).locator("input").press("Enter")
    expect(asks.filter(has_text="23/32 of what?")).to_be_visible()
    picture(phone, "fraction-asked-phone")
    phone.get_by_role("button", name="23/32 in (18.3 mm)").tap()
    wait_kept(phone, before + 3)
    wait_sent(phone)
    told = [s.what for s in register.facts_about(job.job) if isinstance(s.what, ValueRecorded)]
    assert [(v.typed, v.sure) for v in told] == [
        ("17.8 mm", False), ("178 mm", True), ("23/32 in", False),
    ]  # fmt: skip


def test_a_value_from_another_door_is_asked_about_on_the_page(
    phone: Page, job: RecordedPlan, register: SqlRegister, people: dict[str, Account], clock: Clock
) -> None:
    """The register counts it as not as asked until somebody says that it is right."""
    what, id_ = "Set-back left, leading end", uuid4()
    value = ValueRecorded(job.job, "check", what, Kind.LENGTH, 0.178, "178 mm")
    register.append(Fact(id_, clock(), "Crew Example", value, people["crew"].account, "a program"))
    view = read_job(register, job.job)
    assert view is not None and view.plan is not None
    check = next(s for s in view.plan.steps if s.key == "check")
    far = Gap(what, 1, "far from what is expected")
    assert far in gaps(view.plan, check, view.sheet)
    assert any("far from what is expected" in said for said in view.keeps_open())
    open_job(phone, job)
    opened_step(phone, "check")
    phone.get_by_role("button", name="178 mm is right").tap()
    wait_kept(phone, 1)
    wait_sent(phone)
    view = read_job(register, job.job)
    assert view is not None and view.plan is not None
    assert far not in gaps(view.plan, check, view.sheet)
    assert not any("far from what is expected" in said for said in view.keeps_open())


def test_a_slow_phone_moves_nothing_under_who_went_on(phone: Page, job: RecordedPlan) -> None:
    """The step that is done folds and the next opens while nobody has touched the page since: it
    was seen to move away a button that a finger was already on its way to."""
    open_job(phone, job)
    phone.evaluate(
        """() => {
          const { outbox } = splicewright, { record } = outbox;
          outbox.record = async (...given) => {
            const kept = await record(...given);
            await new Promise((go) => { window.goOn = go; });
            return kept;
          };
        }"""
    )
    done = opened_step(phone, "survey").locator('[data-line="0"]')
    done.check()
    measure = opened_step(phone, "measure")
    measure.locator(".box input").first.scroll_into_view_if_needed()
    place = "document.querySelector('#step-measure .box input').getBoundingClientRect().top"
    before = phone.evaluate(place)
    until(phone, "Boolean(window.goOn)")
    phone.evaluate("window.goOn()")
    expect(phone.locator("#step-survey [data-state]")).to_have_text("done")
    assert abs(phone.evaluate(place) - before) < 5
    expect(phone.locator("#step-survey")).to_have_attribute("open", "")

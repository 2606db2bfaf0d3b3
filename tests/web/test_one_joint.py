"""One joint from plan to finding, as its people live it: read it from top to bottom.

Source of what is expected: the rules of docs/register.md. The lead plans at a desk; two people work
on two phones without signal; the cut shows a thinner belt than was planned with, so the lead plans
again in the middle; what holds stays done, the rest is done anew; builder, checker and lead sign;
a month later an inspection finds a plate gone, and the joint must not run.
"""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page, expect

from depth import PATIENCE
from splicewright.actions.job.read import read_job
from splicewright.store import Account, PersonRole, State
from splicewright.store.accounts.sql import SqlAccounts
from splicewright.store.facts.job_facts import BUILT, CHECKED
from splicewright.store.present.job_view import JobView
from splicewright.store.sql.register import SqlRegister
from web.conftest import Clock, People, enter
from web.looking import picture
from web.planned import keep_ranges
from web.working import (
    box,
    on_the_phone,
    ready,
    see_new_plan,
    sign_hold,
    step,
    tick,
    wait_sent,
    write,
)

LEADING, TRAILING = "Belt thickness, leading end", "Belt thickness, trailing end"
ON_PAPER = "measured, and written on the printed sheet"


@pytest.fixture
def bens_phone(browser: Browser, site: str, accounts: SqlAccounts) -> Iterator[Page]:
    """The second phone, of Ben, who is crew as well."""
    People(accounts).add(PersonRole.CREW, "Ben Example")
    context = browser.new_context(
        base_url=site, viewport={"width": 390, "height": 844}, has_touch=True, is_mobile=True
    )
    context.set_default_timeout(PATIENCE * 1000)
    yield context.new_page()
    context.close()


def test_one_joint(
    desk: Page, phone: Page, bens_phone: Page, register: SqlRegister, clock: Clock,
    people: dict[str, Account],
) -> None:  # fmt: skip
    incline = next(c for c in register.conveyors() if "incline" in c.name)
    keep_ranges(register, incline.site)

    # The lead plans the joint at a desk.
    enter(desk, "lead")
    desk.goto(f"/conveyors/{incline.conveyor}/plan")
    desk.locator("#f-label").fill("J7")
    desk.locator("#f-run").select_option("long return")
    desk.locator("#f-distance").fill("20 m")
    for place in range(1, 6):
        desk.locator(f"#f-thickness-{place}").fill("14.5 mm")
    desk.locator("#f-load_left").fill("0 %")
    desk.locator("#f-window").fill("12 h")
    desk.get_by_role("button", name="Make the plan").click()
    expect(desk.get_by_role("heading", name="Plan of J7")).to_be_visible()
    (job,) = register.jobs(incline.conveyor)
    where = f"/jobs/{job.job}"

    def view() -> JobView:
        found = read_job(register, job.job)
        assert found is not None
        return found

    # Two people take it into the pit, and lose the signal.
    for page, login in ((phone, "crew"), (bens_phone, "ben")):
        enter(page, login)
        page.goto(where)
        on_the_phone(page)
        page.context.set_offline(True)
    plan = view().plan
    assert plan is not None
    holds = [s.key for s in plan.steps if s.hold_point is not None]
    before, after = holds[: holds.index("measure")], holds[holds.index("measure") :]
    for line in range(1, _lines(phone, "isolate") + 1):
        tick(phone, "isolate", line)
    for key in before:
        sign_hold(phone, key, ON_PAPER)
    for end in (LEADING, TRAILING):
        for number in range(1, 6):
            write(bens_phone, "measure", end, "12.1", number)
    expect(step(bens_phone, "measure").locator("[data-feeds]")).to_contain_text("ask a lead")
    tick(bens_phone, "seat")  # too early: by a plan for a thicker belt
    assert view().sheet.hold_points == {}  # nothing has left the pit

    # At the gate the phones send; the lead sees thinner belt and plans again with it.
    for page in (phone, bens_phone):
        page.context.set_offline(False)
        wait_sent(page)
    assert set(view().sheet.hold_points) == set(before)
    desk.goto(where)
    ready(desk)
    step(desk, "measure").get_by_role("link", name="plan again with these").click()
    expect(desk.locator("#answer")).to_contain_text("Set plates and bolts: changed")
    desk.get_by_role("button", name="Make version 2").click()
    desk.wait_for_url(lambda url: "plan-again" not in url)
    see_new_plan(desk)
    kept = view()
    assert set(kept.sheet.hold_points) == set(before)  # all that holds stays done
    assert [e.by for e in kept.sheet.overtaken] == ["Ben Example"]  # the plates set too early

    # The phones are told, and work goes on by version 2; the rest is done without signal again.
    for page in (phone, bens_phone):
        page.reload()
        see_new_plan(page)
    expect(bens_phone.locator("#step-seat [data-state]")).to_have_text("open")
    expect(bens_phone.locator("#strays")).to_contain_text("Set plates and bolts: done")
    on_the_phone(phone)
    phone.context.set_offline(True)
    tick(phone, "seat")
    for line in range(1, _lines(phone, "check") + 1):
        tick(phone, "check", line)
    for key in after:
        sign_hold(phone, key, ON_PAPER)
    assert box(phone, "measure", LEADING).locator("input").input_value() == "12.1"
    phone.context.set_offline(False)
    wait_sent(phone)
    picture(phone, "one-joint-done-phone")

    # Builder and checker are two people; the lead closes what was measured on paper.
    _sign(phone, where, BUILT)
    _sign(bens_phone, where, CHECKED)
    _sign(desk, where, "I answer for the job", closes=True)
    joint = view().joint
    assert view().job.closed is not None and joint is not None
    assert joint.state is State.RUNNING

    # A month later somebody looks, and finds a plate gone.
    clock.pass_(days=31)
    enter(phone, "crew")  # sessions end before that
    phone.goto("/")
    expect(phone.get_by_role("main")).to_contain_text("Inspect J7")
    _find_a_plate_gone(phone, f"/joints/{joint.joint}/inspect")
    found = register.joint(joint.joint)
    assert found is not None and found.can_run is False
    phone.goto("/")
    expect(phone.get_by_role("main")).to_contain_text("Must not run: 1")
    picture(phone, "one-joint-must-not-run-phone")


def _lines(page: Page, key: str) -> int:
    """How many lines of a step are to be ticked."""
    return step(page, key).locator(".to-tick [data-tick]").count()


def _sign(page: Page, where: str, role: str, *, closes: bool = False) -> None:
    """Sign the job off; with `closes` it is over, and the belt runs on the joint."""
    page.goto(where)
    ready(page)
    page.locator(f'input[name="role"][value="{role}"]').check()
    if closes:
        page.locator("#joint-now").select_option("joint put to work")
        page.locator("#closes").check()
    page.locator("#sign-off-form button").click()
    if closes:  # over values that nobody measured: asked once more
        page.locator("#ask-yes").click()
    expect(page.locator("#signed")).to_contain_text(role)
    wait_sent(page)


def _find_a_plate_gone(page: Page, where: str) -> None:
    page.goto(where)
    page.get_by_text("The same plates as a list").click()
    page.locator('select[name="leading.1"]').select_option("lost")
    for end in ("leading", "trailing"):
        page.get_by_label(f"all others of the {end} end").check()
    page.get_by_label("it must not run").check()
    page.get_by_role("button", name="Record the inspection").click()
    page.wait_for_url("**/inspections/*")

"""One joint from plan to finding, as its people live it: read it from top to bottom.

Source of what is expected: the rules of docs/register.md. The lead plans at a desk; two people work
on two phones without signal; the cut shows a thinner belt than was planned with, so the lead plans
again in the middle; what holds stays done, the rest is done anew; builder, checker and lead sign;
a month later an inspection finds a plate gone, and the joint must not run.

Told here to Chromium, and by `make test-deep` to other browsers (`other_engines.py`).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import TypeVar

import pytest
from playwright.sync_api import Browser, Page

from depth import PATIENCE
from splicewright.actions.job.read import read_job
from splicewright.store import Account, PersonRole, State
from splicewright.store.accounts.sql import SqlAccounts
from splicewright.store.facts.job_facts import BUILT, CHECKED
from splicewright.store.present.job_view import JobView
from splicewright.store.sql.register import SqlRegister
from web.conftest import PASSWORD, Clock, People
from web.looking import picture
from web.planned import keep_ranges
from web.working import (
    Screen,
    box_at,
    has_worker,
    on_the_phone,
    open_step,
    ready,
    see_new_plan,
    sees,
    sign_hold,
    tick,
    wait_sent,
    write,
)

LEADING, TRAILING = "Belt thickness, leading end", "Belt thickness, trailing end"
ON_PAPER = "measured, and written on the printed sheet"


S = TypeVar("S", bound=Screen)


@pytest.fixture
def ben(accounts: SqlAccounts) -> Account:
    """Of the crew as well."""
    return People(accounts).add(PersonRole.CREW, "Ben Example")


@pytest.fixture
def bens_phone(browser: Browser, site: str) -> Iterator[Page]:
    """The second phone."""
    context = browser.new_context(
        base_url=site, viewport={"width": 390, "height": 844}, has_touch=True, is_mobile=True
    )
    context.set_default_timeout(PATIENCE * 1000)
    yield context.new_page()
    context.close()


@pytest.mark.usefixtures("people", "ben")
def test_one_joint(
    desk: Page, phone: Page, bens_phone: Page, register: SqlRegister, clock: Clock
) -> None:
    one_joint(desk, phone, bens_phone, register, clock, picture)


def one_joint(
    desk: S, phone: S, bens_phone: S, register: SqlRegister, clock: Clock,
    picture: Callable[[S, str], None],
) -> None:  # fmt: skip
    """The story, on a desk and two phones of any browser."""
    incline = next(c for c in register.conveyors() if "incline" in c.name)
    keep_ranges(register, incline.site)

    # The lead plans the joint at a desk.
    enter_by_form(desk, "lead")
    desk.goto(f"/conveyors/{incline.conveyor}/plan")
    desk.fill("#f-label", "J7")
    desk.select_option("#f-run", "long return")
    desk.fill("#f-distance", "20 m")
    for place in range(1, 6):
        desk.fill(f"#f-thickness-{place}", "14.5 mm")
    desk.fill("#f-load_left", "0 %")
    desk.fill("#f-window", "12 h")
    desk.click('button:has-text("Make the plan")')
    sees(desk, "h1", "Plan of J7")
    (job,) = register.jobs(incline.conveyor)
    where = f"/jobs/{job.job}"

    def view() -> JobView:
        found = read_job(register, job.job)
        assert found is not None
        return found

    # Two people take it into the pit, and lose the signal.
    for page, login in ((phone, "crew"), (bens_phone, "ben")):
        enter_by_form(page, login)
        has_worker(page)
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
    sees(bens_phone, "#step-measure [data-feeds]", "ask a lead")
    tick(bens_phone, "seat")  # too early: by a plan for a thicker belt
    assert view().sheet.hold_points == {}  # nothing has left the pit

    # At the gate the phones send; the lead sees thinner belt and plans again with it.
    for page in (phone, bens_phone):
        page.context.set_offline(False)
        wait_sent(page)
    assert set(view().sheet.hold_points) == set(before)
    desk.goto(where)
    ready(desk)
    open_step(desk, "measure")
    desk.click('#step-measure a:has-text("plan again with these")')
    sees(desk, "#answer", "Set plates and bolts: changed")
    desk.click('button:has-text("Make version 2")')
    see_new_plan(desk)
    kept = view()
    assert set(kept.sheet.hold_points) == set(before)  # all that holds stays done
    assert [e.by for e in kept.sheet.overtaken] == ["Ben Example"]  # the plates set too early

    # The phones are told, and work goes on by version 2; the rest is done without signal again.
    for page in (phone, bens_phone):
        page.reload()
        see_new_plan(page)
    sees(bens_phone, "#step-seat [data-state]", "open")
    sees(bens_phone, "#strays", "Set plates and bolts: done")
    on_the_phone(phone)
    phone.context.set_offline(True)
    tick(phone, "seat")
    for line in range(1, _lines(phone, "check") + 1):
        tick(phone, "check", line)
    for key in after:
        sign_hold(phone, key, ON_PAPER)
    input = f"{box_at('measure', LEADING)} input"
    assert phone.evaluate(f"document.querySelector('{input}').value") == "12.1"
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
    enter_by_form(phone, "crew")  # sessions end before that
    sees(phone, "main", "Inspect J7")
    _find_a_plate_gone(phone, f"/joints/{joint.joint}/inspect")
    found = register.joint(joint.joint)
    assert found is not None and found.can_run is False
    phone.goto("/")
    sees(phone, "main", "Must not run: 1")
    picture(phone, "one-joint-must-not-run-phone")


def enter_by_form(page: Screen, login: str) -> None:
    page.goto("/sign-in")
    page.fill("#login", login)
    page.fill("#password", PASSWORD)
    page.click('button:has-text("Sign in")')
    page.wait_for_selector("header summary")


def _lines(page: Screen, key: str) -> int:
    """How many lines of a step are to be ticked."""
    open_step(page, key)
    found: int = page.evaluate(
        f"document.querySelectorAll('#step-{key} .to-tick [data-tick]').length"
    )
    return found


def _sign(page: Screen, where: str, role: str, *, closes: bool = False) -> None:
    """Sign the job off; with `closes` it is over, and the belt runs on the joint."""
    page.goto(where)
    ready(page)
    page.check(f'input[name="role"][value="{role}"]')
    if closes:
        page.select_option("#joint-now", "joint put to work")
        page.check("#closes")
    page.click("#sign-off-form button")
    if closes:  # over values that nobody measured: asked once more
        page.click("#ask-yes")
    sees(page, "#signed", role)
    wait_sent(page)


def _find_a_plate_gone(page: Screen, where: str) -> None:
    page.goto(where)
    page.click('summary:has-text("The same plates as a list")')
    page.select_option('select[name="leading.1"]', "lost")
    for end in ("leading", "trailing"):
        page.check(f'input[name="looked"][value="{end}"]')
    page.check('input[name="decision"][value="stop"]')
    page.click('button:has-text("Record the inspection")')
    sees(page, "h1", "Inspection of J7")

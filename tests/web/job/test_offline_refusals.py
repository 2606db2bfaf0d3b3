"""Answers that are no receipt, in the middle of sending: nothing is lost, nothing is doubled."""

from __future__ import annotations

import time

import pytest
from playwright.sync_api import Page, expect

from depth import PATIENCE
from splicewright.actions.plan.record import RecordedPlan
from splicewright.store import Account
from splicewright.store.accounts.sql import SqlAccounts
from splicewright.store.sql.register import SqlRegister
from web.between import CUT, Ask, Between, Facts, outcomes
from web.conftest import PASSWORD, enter
from web.looking import axe, fits, picture
from web.working import (
    THICKNESS,
    bar,
    facts_of_job,
    kept,
    open_job,
    ready,
    sign_hold,
    step,
    tick,
    until,
    wait_sent,
    waiting,
    write,
)


def _three_ticks_without_signal(page: Page, job: RecordedPlan) -> None:
    open_job(page, job)
    page.context.set_offline(True)
    for line in (1, 2, 3):
        tick(page, "isolate", line)


def test_server_failure_keeps_all_and_tries_again(
    phone: Page, job: RecordedPlan, register: SqlRegister, between: Between
) -> None:
    _three_ticks_without_signal(phone, job)

    async def fail(facts: Facts, ask: Ask) -> tuple[int, str]:
        return 500, "<h1>Internal error</h1>"

    between.answer = fail
    phone.context.set_offline(False)
    expect(bar(phone)).to_contain_text("the server does not answer as it should")
    assert len(waiting(phone)) == 3
    between.answer = None
    phone.get_by_role("button", name="Send now").click()
    wait_sent(phone)
    assert len(facts_of_job(register, job.job)) == 1 + 3


def test_answer_lost_on_the_way_doubles_nothing(
    phone: Page, job: RecordedPlan, register: SqlRegister, between: Between
) -> None:
    _three_ticks_without_signal(phone, job)
    lost: list[int] = []
    through: list[bool] = []

    async def swallow(facts: Facts, ask: Ask) -> tuple[int, str] | None:
        if through:
            return None
        told = await ask(facts)  # the server records, the phone never hears of it
        if not lost:  # it may ask again by itself, before the test has looked
            lost.extend(o["status"] for o in told)
        return CUT

    between.answer = swallow
    phone.context.set_offline(False)
    end = time.monotonic() + PATIENCE
    while not lost:
        bar_says = bar(phone).inner_text()
        assert time.monotonic() < end, f"the entries were never sent; the page says: {bar_says}"
        phone.wait_for_timeout(50)
    expect(phone.get_by_role("button", name="Send now")).to_be_visible()
    assert lost == [200] * 3 and len(facts_of_job(register, job.job)) == 1 + 3
    assert len(waiting(phone)) == 3
    through.append(True)
    phone.evaluate("splicewright.outbox.flush()")  # or by itself: the button may be gone again
    wait_sent(phone)
    assert len(facts_of_job(register, job.job)) == 1 + 3


def test_an_answer_cut_off_or_of_somebody_else_is_no_receipt(
    phone: Page, job: RecordedPlan, register: SqlRegister, between: Between
) -> None:
    _three_ticks_without_signal(phone, job)
    told: list[str] = []
    given: set[str] = set()

    async def odd(facts: Facts, ask: Ask) -> tuple[int, str] | None:
        given.update(told[-1:])  # whoever asks, and however often: the phone may ask by itself
        return (200, told[-1]) if told else None

    between.answer = odd
    for body, trouble in (
        ('{"outcomes": [{"id": "', "signal"),
        ("<html>Welcome to the canteen's network</html>", "signal"),
        ("{}", "server"),
    ):
        told.append(body)
        phone.context.set_offline(False)
        end = time.monotonic() + PATIENCE
        while body not in given:
            assert time.monotonic() < end, f"the entries were never sent for {body}"
            phone.evaluate("void splicewright.outbox.flush()")
            phone.wait_for_timeout(50)
        until(phone, f"splicewright.outbox.state.trouble === '{trouble}'")
        assert len(waiting(phone)) == 3
    told.clear()
    phone.evaluate("void splicewright.outbox.flush()")
    wait_sent(phone)
    assert len(facts_of_job(register, job.job)) == 1 + 3


@pytest.mark.parametrize("status", [409, 422])
def test_one_refused_entry_waits_for_a_person_and_holds_up_no_other(
    phone: Page, job: RecordedPlan, register: SqlRegister, between: Between, status: int
) -> None:
    open_job(phone, job)
    phone.context.set_offline(True)
    for key in ("park", "permit"):
        sign_hold(phone, key)
    for line in range(1, 5):
        tick(phone, "isolate", line)
    bad = waiting(phone)[5]["id"]  # after two hold points, each with its step
    sign_hold(phone, "isolate")  # speaks of the refused entry: stays
    write(phone, "measure", THICKNESS, "12.5")  # speaks of another step: goes

    async def refuse(facts: Facts, ask: Ask) -> tuple[int, str]:
        good = [f for f in facts if f["id"] != bad]
        told = await ask(good)
        if len(good) < len(facts):
            why = [{"key": "what.step", "sentence": "made up for this test"}]
            told.append({"id": bad, "status": status, "seq": None, "faults": why})
        return outcomes(told)

    between.answer = refuse
    phone.context.set_offline(False)
    until(phone, "(async () => (await splicewright.outbox.db.outbox.count()) === 2)()")
    expect(bar(phone)).to_contain_text("1 entry needs a person")
    expect(phone.locator(".outbox-stuck")).to_contain_text("made up for this test")
    left = {r["kind"]: r["state"] for r in waiting(phone)}
    assert left == {"step ticked": "person", "hold point signed": "waits"}
    kinds = [kind for kind, _ in facts_of_job(register, job.job)]
    # Two hold points before it, its lines, and the step itself, which its signature says is done.
    both = ["step ticked", "hold point signed"]
    assert kinds == ["job opened", *both * 2, *["step ticked"] * 4, "value recorded"]
    axe(phone)
    fits(phone)
    phone.evaluate("scrollTo(0, 0)")
    picture(phone, f"needs-a-person-{status}-phone")

    phone.reload()  # it is still there, and still told
    ready(phone)
    expect(bar(phone)).to_contain_text("1 entry needs a person")
    between.answer = None
    phone.get_by_role("button", name="Send again").click()
    wait_sent(phone)
    assert [kind for kind, _ in facts_of_job(register, job.job)][-2:] == [
        "step ticked",
        "hold point signed",
    ]


def test_an_entry_set_aside_stays_on_the_phone(
    phone: Page, job: RecordedPlan, register: SqlRegister, between: Between
) -> None:
    open_job(phone, job)
    refused = [{"key": "", "sentence": "not wanted"}]

    async def refuse(facts: Facts, ask: Ask) -> tuple[int, str]:
        ids = [f["id"] for f in facts]
        return outcomes([{"id": i, "status": 422, "seq": None, "faults": refused} for i in ids])

    between.answer = refuse
    tick(phone, "isolate", 1)
    phone.once("dialog", lambda dialog: dialog.accept())
    phone.get_by_role("button", name="Set aside").click()
    wait_sent(phone)
    assert kept(phone) == 1
    aside = phone.evaluate("splicewright.outbox.db.aside.toArray()")
    assert [a["what"]["line"] for a in aside] == [1]
    assert len(facts_of_job(register, job.job)) == 1


def test_a_refused_request_is_halved_until_the_one_is_found(
    phone: Page, job: RecordedPlan, register: SqlRegister, between: Between
) -> None:
    _three_ticks_without_signal(phone, job)
    bad = waiting(phone)[1]["id"]

    async def too_large(facts: Facts, ask: Ask) -> tuple[int, str] | None:
        return (413, "Too large") if any(f["id"] == bad for f in facts) else None

    between.answer = too_large
    phone.context.set_offline(False)
    until(phone, "(async () => (await splicewright.outbox.db.outbox.count()) === 1)()")
    assert between.sizes[0] == 3 and between.sizes[-1] == 1
    assert [r["id"] for r in waiting(phone)] == [bad]
    assert len(facts_of_job(register, job.job)) == 1 + 2


def test_signed_out_keeps_all_and_asks_to_sign_in(
    phone: Page,
    job: RecordedPlan,
    register: SqlRegister,
    accounts: SqlAccounts,
    people: dict[str, Account],
) -> None:
    _three_ticks_without_signal(phone, job)
    accounts.sign_out_everywhere(people["crew"].account, None)
    phone.context.set_offline(False)
    expect(bar(phone)).to_contain_text("3 entries wait: sign in again to send")
    assert len(waiting(phone)) == 3
    # The copies went when the phone met the server; what waits stays.
    until(phone, "caches.keys().then(k => !k.some(n => n.startsWith('jobs-') || n === 'whose'))")
    phone.locator(".outbox").get_by_role("link", name="Sign in again").click()
    phone.get_by_label("Name", exact=True).fill("crew")
    phone.get_by_label("Password").fill(PASSWORD)
    phone.get_by_role("button", name="Sign in").click()
    phone.wait_for_url(f"**/jobs/{job.job}")  # back where they were
    wait_sent(phone)
    assert len(facts_of_job(register, job.job)) == 1 + 3


def test_entries_of_one_account_are_never_sent_by_another(
    phone: Page, job: RecordedPlan, register: SqlRegister, between: Between
) -> None:
    _three_ticks_without_signal(phone, job)

    async def cut(facts: Facts, ask: Ask) -> tuple[int, str]:
        return CUT

    between.answer = cut
    phone.context.set_offline(False)
    phone.goto("/")
    phone.locator(".menu summary").click()
    phone.locator(".menu").get_by_role("button", name="Sign out").click()
    expect(phone.get_by_role("alert")).to_contain_text("3 entries of yours have not been sent")
    phone.get_by_role("button", name="Hand over and sign out").click()
    phone.wait_for_url("**/sign-in")
    caches = phone.evaluate("caches.keys()")
    assert not [name for name in caches if name.startswith("jobs-")]
    between.answer = None
    enter(phone, "lead")
    phone.goto("/")
    expect(bar(phone)).to_contain_text("3 entries of Crew Example on this phone")
    phone.evaluate("splicewright.outbox.flush()")
    phone.wait_for_timeout(500)
    assert len(waiting(phone)) == 3 and len(facts_of_job(register, job.job)) == 1
    # Without signal nothing of the crew's pages is shown to the lead.
    phone.context.set_offline(True)
    phone.goto(f"/jobs/{job.job}")
    expect(phone.get_by_text("No job is on this phone")).to_be_visible()
    phone.context.set_offline(False)
    phone.goto("/")
    phone.locator(".menu summary").click()
    phone.locator(".menu").get_by_role("button", name="Sign out").click()
    phone.wait_for_url("**/sign-in")
    enter(phone, "crew")
    phone.goto("/")
    wait_sent(phone)
    facts = register.facts_about(job.job)[1:]
    assert [s.fact.by for s in facts] == ["Crew Example"] * 3


def test_sign_out_without_signal_is_refused_while_entries_wait(
    phone: Page, job: RecordedPlan, register: SqlRegister
) -> None:
    """It threw the copies away that the entries belong to."""
    _three_ticks_without_signal(phone, job)
    phone.locator(".menu summary").click()
    phone.locator(".menu").get_by_role("button", name="Sign out").click()
    alert = phone.get_by_role("alert")
    expect(alert).to_contain_text("Not signed out: 3 entries of yours have not been sent")
    expect(alert.get_by_role("listitem")).to_have_count(3)
    expect(phone.get_by_role("button", name="Hand over and sign out")).to_have_count(0)
    axe(phone)
    fits(phone)
    picture(phone, "sign-out-refused-phone")
    # The worker refuses as well: a page of an earlier version does not ask.
    status = phone.evaluate(
        """async () => (await fetch("/sign-out", { method: "POST", redirect: "manual" })).status"""
    )
    assert status == 409
    assert [n for n in phone.evaluate("caches.keys()") if n.startswith("jobs-")]
    phone.get_by_role("button", name="Stay signed in").click()
    phone.reload()
    ready(phone)  # the copy is still there, and so is what waits
    assert len(waiting(phone)) == 3
    phone.context.set_offline(False)
    wait_sent(phone)
    assert len(facts_of_job(register, job.job)) == 1 + 3
    phone.locator(".menu summary").click()
    phone.locator(".menu").get_by_role("button", name="Sign out").click()
    phone.wait_for_url("**/sign-in")


def test_no_room_on_the_phone_is_said_and_nothing_is_claimed(
    phone: Page, job: RecordedPlan, register: SqlRegister
) -> None:
    open_job(phone, job)
    phone.context.set_offline(True)
    phone.evaluate(
        """() => {
          const { outbox } = splicewright.outbox.db;
          outbox.bulkAdd = () => Promise.reject(
            new DOMException("the quota has been exceeded", "QuotaExceededError"));
        }"""
    )
    box = step(phone, "isolate").locator('[data-line="1"]')
    box.click()
    alert = phone.get_by_role("alert")
    expect(alert).to_contain_text("NOT saved: this phone has no room left")
    expect(alert).to_be_in_viewport()  # wherever on a long page it was tapped
    expect(box).not_to_be_checked()
    axe(phone)
    assert waiting(phone) == []
    alert.get_by_role("button", name="I have read it").click()
    expect(alert).to_be_hidden()

"""Answers that are no receipt, in the middle of sending: nothing is lost, nothing is doubled."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import Page, Route, expect

from splicewright.actions.record_plan import RecordedPlan
from splicewright.store import Account
from splicewright.store.sql import SqlRegister
from splicewright.store.sql_accounts import SqlAccounts
from web.conftest import PASSWORD, enter
from web.looking import axe, fits, picture
from web.working import (
    THICKNESS,
    bar,
    kept,
    open_job,
    ready,
    said,
    sign_hold,
    tick,
    until,
    wait_sent,
    waiting,
    write,
)


@pytest.fixture(autouse=True)
def _watched(phone: Page) -> None:
    """Chromium watches the requests of a page from its start: told so later, it may let the very
    next one pass."""
    phone.context.route("**/asked-by-nobody", lambda route: route.abort())


def _answering(page: Page, answer: Callable[[Route, list[Any]], bool]) -> list[int]:
    """Put something between phone and server; gives the sizes of the requests seen.

    answer : fulfils the route and gives True, or lets it through
    """
    seen: list[int] = []

    def on_the_way(route: Route) -> None:
        facts = json.loads(route.request.post_data or "{}").get("facts", [])
        seen.append(len(facts))
        if not answer(route, facts):
            route.continue_()

    page.context.route("**/sync", on_the_way)
    return seen


def _three_ticks_without_signal(page: Page, job: RecordedPlan) -> None:
    open_job(page, job)
    page.context.set_offline(True)
    for line in (1, 2, 3):
        tick(page, "isolate", line)


def test_server_failure_keeps_all_and_tries_again(
    phone: Page, job: RecordedPlan, register: SqlRegister
) -> None:
    _three_ticks_without_signal(phone, job)
    broken = True

    def fail(route: Route, facts: list[Any]) -> bool:
        if broken:
            route.fulfill(status=500, body="<h1>Internal error</h1>", content_type="text/html")
        return broken

    _answering(phone, fail)
    phone.context.set_offline(False)
    expect(bar(phone)).to_contain_text("the server does not answer as it should")
    assert len(waiting(phone)) == 3
    broken = False
    phone.get_by_role("button", name="Send now").click()
    wait_sent(phone)
    assert len(said(register, job.job)) == 1 + 3


def test_answer_lost_on_the_way_doubles_nothing(
    phone: Page, job: RecordedPlan, register: SqlRegister
) -> None:
    _three_ticks_without_signal(phone, job)
    lost: list[int] = []

    def swallow(route: Route, facts: list[Any]) -> bool:
        if lost:
            return False
        lost.append(route.fetch().status)  # the server records, the phone never hears of it
        route.abort("connectionreset")
        return True

    _answering(phone, swallow)
    phone.context.set_offline(False)
    while not lost:
        phone.wait_for_timeout(50)
    expect(phone.get_by_role("button", name="Send now")).to_be_visible()
    assert lost == [200] and len(said(register, job.job)) == 1 + 3
    assert len(waiting(phone)) == 3
    phone.get_by_role("button", name="Send now").click()
    wait_sent(phone)
    assert len(said(register, job.job)) == 1 + 3


def test_an_answer_cut_off_or_of_somebody_else_is_no_receipt(
    phone: Page, job: RecordedPlan, register: SqlRegister
) -> None:
    _three_ticks_without_signal(phone, job)
    answers = iter(
        ['{"outcomes": [{"id": "', "<html>Welcome to the canteen's network</html>", "{}"]
    )

    def odd(route: Route, facts: list[Any]) -> bool:
        body = next(answers, None)
        if body is not None:
            route.fulfill(status=200, body=body, content_type="application/json")
        return body is not None

    _answering(phone, odd)
    phone.context.set_offline(False)
    for trouble in ("signal", "signal", "server"):
        until(phone, f"splicewright.outbox.state.trouble === '{trouble}'")
        assert len(waiting(phone)) == 3
        phone.evaluate("splicewright.outbox.state.trouble = ''")
        phone.evaluate("splicewright.outbox.flush()")
    wait_sent(phone)
    assert len(said(register, job.job)) == 1 + 3


@pytest.mark.parametrize("status", [409, 422])
def test_one_refused_entry_waits_for_a_person_and_holds_up_no_other(
    phone: Page, job: RecordedPlan, register: SqlRegister, status: int
) -> None:
    open_job(phone, job)
    phone.context.set_offline(True)
    for line in range(1, 7):
        tick(phone, "isolate", line)
    bad = waiting(phone)[2]["id"]
    sign_hold(phone, "isolate")  # speaks of the refused entry: stays
    write(phone, "measure", THICKNESS, "12.5")  # speaks of another step: goes

    def refuse(route: Route, facts: list[Any]) -> bool:
        good = [f for f in facts if f["id"] != bad]
        sent = json.dumps({"account": facts[0]["person"], "facts": good})
        answer = route.fetch(post_data=sent)
        outcomes = answer.json()["outcomes"]
        if len(good) < len(facts):
            why = [{"key": "what.step", "sentence": "made up for this test"}]
            outcomes.append({"id": bad, "status": status, "seq": None, "faults": why})
        route.fulfill(status=200, json={"outcomes": outcomes})
        return True

    _answering(phone, refuse)
    phone.context.set_offline(False)
    until(phone, "(async () => (await splicewright.outbox.db.outbox.count()) === 2)()")
    expect(bar(phone)).to_contain_text("1 entry needs a person")
    expect(phone.locator(".outbox-stuck")).to_contain_text("made up for this test")
    left = {r["kind"]: r["state"] for r in waiting(phone)}
    assert left == {"step ticked": "person", "hold point signed": "waits"}
    kinds = [kind for kind, _ in said(register, job.job)]
    assert kinds == ["job opened", *["step ticked"] * 5, "value recorded"]
    axe(phone)
    fits(phone)
    phone.evaluate("scrollTo(0, 0)")
    picture(phone, f"needs-a-person-{status}-phone")

    phone.reload()  # it is still there, and still told
    ready(phone)
    expect(bar(phone)).to_contain_text("1 entry needs a person")
    phone.context.unroute("**/sync")
    phone.get_by_role("button", name="Send again").click()
    wait_sent(phone)
    assert [kind for kind, _ in said(register, job.job)][-2:] == [
        "step ticked",
        "hold point signed",
    ]


def test_an_entry_set_aside_stays_on_the_phone(
    phone: Page, job: RecordedPlan, register: SqlRegister
) -> None:
    open_job(phone, job)
    refused = [{"key": "", "sentence": "not wanted"}]

    def refuse(route: Route, facts: list[Any]) -> bool:
        outcomes = [{"id": f["id"], "status": 422, "seq": None, "faults": refused} for f in facts]
        route.fulfill(status=200, json={"outcomes": outcomes})
        return True

    _answering(phone, refuse)
    tick(phone, "isolate", 1)
    phone.once("dialog", lambda dialog: dialog.accept())
    phone.get_by_role("button", name="Set aside").click()
    wait_sent(phone)
    assert kept(phone) == 1
    aside = phone.evaluate("splicewright.outbox.db.aside.toArray()")
    assert [a["what"]["line"] for a in aside] == [1]
    assert len(said(register, job.job)) == 1


def test_a_refused_request_is_halved_until_the_one_is_found(
    phone: Page, job: RecordedPlan, register: SqlRegister
) -> None:
    _three_ticks_without_signal(phone, job)
    bad = waiting(phone)[1]["id"]

    def too_large(route: Route, facts: list[Any]) -> bool:
        refused = any(f["id"] == bad for f in facts)
        if refused:
            route.fulfill(status=413, body="Too large")
        return refused

    sizes = _answering(phone, too_large)
    phone.context.set_offline(False)
    until(phone, "(async () => (await splicewright.outbox.db.outbox.count()) === 1)()")
    assert sizes[0] == 3 and sizes[-1] == 1
    assert [r["id"] for r in waiting(phone)] == [bad]
    assert len(said(register, job.job)) == 1 + 2


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
    phone.locator(".outbox").get_by_role("link", name="Sign in again").click()
    phone.get_by_label("Name", exact=True).fill("crew")
    phone.get_by_label("Password").fill(PASSWORD)
    phone.get_by_role("button", name="Sign in").click()
    phone.wait_for_url(f"**/jobs/{job.job}")  # back where they were
    wait_sent(phone)
    assert len(said(register, job.job)) == 1 + 3


def test_entries_of_one_account_are_never_sent_by_another(
    phone: Page, job: RecordedPlan, register: SqlRegister
) -> None:
    _three_ticks_without_signal(phone, job)
    phone.context.route("**/sync", lambda route: route.abort())
    phone.context.set_offline(False)
    phone.goto("/")
    phone.locator(".menu summary").click()
    phone.locator(".menu").get_by_role("button", name="Sign out").click()
    phone.wait_for_url("**/sign-in")
    caches = phone.evaluate("caches.keys()")
    assert not [name for name in caches if name.startswith("jobs-")]
    phone.context.unroute("**/sync")
    enter(phone, "lead")
    phone.goto("/")
    expect(bar(phone)).to_contain_text("3 entries of Crew Example on this phone")
    phone.evaluate("splicewright.outbox.flush()")
    phone.wait_for_timeout(500)
    assert len(waiting(phone)) == 3 and len(said(register, job.job)) == 1
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
    box = phone.locator('#step-isolate [data-line="1"]')
    box.click()
    alert = phone.get_by_role("alert")
    expect(alert).to_contain_text("NOT saved: this phone has no room left")
    expect(box).not_to_be_checked()
    axe(phone)
    assert waiting(phone) == []
    alert.get_by_role("button", name="I have read it").click()
    expect(alert).to_be_hidden()

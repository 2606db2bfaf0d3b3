"""Whatever a phone misses, it sends at last: nothing waits for a word that never comes again."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page, expect

from splicewright.actions.plan.record import RecordedPlan
from splicewright.store.sql.register import SqlRegister
from web.between import Between
from web.conftest import enter
from web.working import facts_of_job, open_job, ready, tick, until, wait_sent, waiting


def _deaf(event: str) -> str:
    """A browser that never tells a page of this."""
    return f"addEventListener('{event}', (told) => told.stopImmediatePropagation(), true);"


def test_the_return_of_the_network_is_missed(
    phone: Page, job: RecordedPlan, register: SqlRegister
) -> None:
    """What the register answers to the page's own question tells of the signal as well."""
    quick = "const every = setInterval; window.setInterval = (f, t) => every(f, t && 200);"
    slow = """const after = setTimeout;
      window.setTimeout = (f, t, ...more) => after(f, f.name === "flush" ? 1e8 : t, ...more);"""
    phone.add_init_script(_deaf("online") + quick + slow)
    open_job(phone, job)
    phone.context.set_offline(True)
    tick(phone, "isolate", 1)
    until(phone, "splicewright.outbox.state.trouble === 'signal'")
    phone.context.set_offline(False)
    wait_sent(phone)
    assert len(facts_of_job(register, job.job)) == 1 + 1


@pytest.mark.parametrize("at", ["locks", "listener"])
def test_a_browser_that_fails_in_the_middle_of_sending(
    phone: Page, job: RecordedPlan, register: SqlRegister, at: str
) -> None:
    open_job(phone, job)
    phone.context.set_offline(True)
    tick(phone, "isolate", 1)
    assert len(waiting(phone)) == 1
    phone.evaluate({
        "locks": """() => { const { locks } = navigator, { request } = locks;
          locks.request = () => { delete locks.request; throw new Error("once"); }; }""",
        "listener": """() => splicewright.outbox.onChange(() => {
          if (!window.thrown) { window.thrown = true; throw "once"; } })""",
    }[at])  # fmt: skip
    phone.evaluate("splicewright.outbox.flush().catch(() => {})")
    phone.evaluate("addEventListener('online', (e) => e.stopImmediatePropagation(), true)")
    phone.context.set_offline(False)
    wait_sent(phone)
    assert len(facts_of_job(register, job.job)) == 1 + 1


def test_the_service_worker_breaks_off_while_it_comes(
    phone: Page, job: RecordedPlan, between: Between
) -> None:
    """A weak signal: it is fetched again, and the job is then on the phone."""
    enter(phone, "crew")
    between.broken = "/static/icon.svg"
    phone.goto(f"/jobs/{job.job}")
    ready(phone)
    gone = "navigator.serviceWorker.getRegistration().then((r) => !r?.active && !r?.installing)"
    until(phone, gone)
    assert phone.locator("html").get_attribute("data-kept") is None
    between.broken = ""
    expect(phone.locator("html")).to_have_attribute("data-kept", "true")
    expect(phone.locator("#kept")).to_contain_text("This job is on the phone")

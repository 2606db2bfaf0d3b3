"""What a crew does on the page of a job, for the browser tests."""

from __future__ import annotations

import time
from typing import Any
from uuid import UUID

from playwright.sync_api import Locator, Page

from depth import PATIENCE
from splicewright.actions.plan.record import RecordedPlan
from splicewright.store.sql.register import SqlRegister
from web.conftest import enter

THICKNESS = "Belt thickness, leading end"


def open_job(page: Page, job: RecordedPlan, login: str = "crew") -> None:
    """Sign in, open the job, and wait until it is on the phone."""
    enter(page, login)
    page.goto(f"/jobs/{job.job}")
    on_the_phone(page)


def until(page: Page, true: str) -> None:
    """Wait until an expression is true; the page's policy forbids Playwright's own way."""
    end, pause = time.monotonic() + PATIENCE, 5.0
    # What a page waits for itself may never come either.
    asked = f"Promise.race([{true}, new Promise((none) => setTimeout(none, 60_000))])"
    while not page.evaluate(asked):
        assert time.monotonic() < end, f"never came true: {true}"
        page.wait_for_timeout(pause)  # short at first: most of it is true in a few milliseconds
        pause = min(50.0, 2 * pause)


def on_the_phone(page: Page) -> None:
    page.wait_for_selector("html[data-kept=true]")
    # From now on the service worker answers, as on every later visit.
    until(page, "navigator.serviceWorker.controller !== null")


def ready(page: Page) -> None:
    page.wait_for_selector("html[data-ready=job]")


def see_new_plan(page: Page) -> None:
    """Until the page is that of a job planned again.

    Where the server is slow a device opens its copy first, which tells of the new plan.
    """
    ready(page)
    page.locator("#moved, #copy a").first.wait_for()
    end = time.monotonic() + PATIENCE
    while not page.locator("#moved").count():
        assert time.monotonic() < end, "the new plan never came: each time the copy"
        page.get_by_role("link", name="Load the new plan").click()
        ready(page)
        page.locator("#moved, #copy a").first.wait_for()


def step(page: Page, key: str) -> Locator:
    """A step, opened."""
    section = page.locator(f"#step-{key}")
    if section.get_attribute("open") is None:
        section.locator("summary").click()
    return section


def box(page: Page, key: str, what: str, number: int = 1) -> Locator:
    """The box of a value."""
    return step(page, key).locator(f'.box[data-what="{what}"][data-box="{number}"]')


def write(page: Page, key: str, what: str, typed: str, number: int = 1) -> None:
    """Type a value and leave the box; it is then on the phone or on the register."""
    before = kept(page)
    box(page, key, what, number).locator("input").fill(typed)
    box(page, key, what, number).locator("input").press("Enter")
    wait_kept(page, before + 1)


def tick(page: Page, key: str, line: int = 0) -> None:
    before = kept(page)
    step(page, key).locator(f'[data-tick][data-line="{line}"]').check()
    wait_kept(page, before + 1)


def sign_hold(page: Page, key: str, why: str = "") -> None:
    """Sign a hold point; with a reason where values are missing."""
    before = kept(page)
    step(page, key).locator("[data-sign]").click()
    if why and page.locator("#ask-reason").is_visible():
        page.locator("#ask-reason").fill(why)
    page.locator("#ask-yes").click()
    wait_kept(page, before + 1)


_KEPT = """() => {
  const { db } = splicewright.outbox;
  // In one transaction: an entry on its way is never counted twice.
  return db.transaction("r", db.outbox, db.receipts, db.aside, async () =>
    (await db.outbox.count()) + (await db.receipts.count()) + (await db.aside.count()));
}"""


def kept(page: Page) -> int:
    """Records that the phone made and still knows: waiting, or with their receipt."""
    found: int = page.evaluate(_KEPT)
    return found


def wait_kept(page: Page, count: int) -> None:
    until(page, f"(async () => (await ({_KEPT})()) >= {count})()")


def waiting(page: Page) -> list[dict[str, Any]]:
    """What lies in the outbox, in order."""
    found: list[dict[str, Any]] = page.evaluate(
        """async () => (await splicewright.outbox.db.outbox.orderBy("seq").toArray())
           .map(({blob, ...rest}) => ({...rest, bytes: blob ? blob.size : 0}))"""
    )
    return found


def wait_sent(page: Page) -> None:
    """Until the outbox is empty."""
    until(page, "(async () => (await splicewright.outbox.db.outbox.count()) === 0)()")


def bar(page: Page) -> Locator:
    """The bar that says what waits."""
    return page.locator(".outbox-words")


def said(register: SqlRegister, job: UUID) -> list[tuple[str, str]]:
    """Kind and a word or two of every fact about a job, in the order of arrival."""
    found = []
    for stored in register.facts_about(job):
        what = stored.fact.what
        word = getattr(what, "typed", None) or getattr(what, "step", "")
        found.append((stored.fact.kind, str(word)))
    return found


def in_good_faith(box: dict[str, Any]) -> float:
    """A value [SI] for a box of a job's page: within its limits and where it is expected."""
    low, high = box["low"], box["high"]
    if high is not None:
        return float(((low or 0.0) + high) / 2)
    least, most = box["likely"]
    if most is None:
        return float(1.01 * low if low is not None else 0.5)
    return float(max(low or 0.0, 0.4 * ((least or 0.0) + most)))

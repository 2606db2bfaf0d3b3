"""What a crew does on the page of a job, for the browser tests.

What is asked of a `Screen` alone is done in any browser: see `web.engines`.
"""

from __future__ import annotations

import time
from typing import Any, Protocol
from uuid import UUID

from playwright.sync_api import Locator, Page

from depth import PATIENCE
from splicewright.actions.plan.record import RecordedPlan
from splicewright.store.sql.register import SqlRegister
from web.conftest import enter

THICKNESS = "Belt thickness, leading end"


class Signal(Protocol):
    """Whether a device reaches the server."""

    def set_offline(self, offline: bool, /) -> None:
        """It goes, or is there again."""


class Screen(Protocol):
    """A page in a browser, as far as stories told in any of them need it.

    Playwright's page is one, and its words are taken: selectors are CSS, at the end of which
    `:has-text("...")` may stand; whoever clicks, types or chooses waits until it can be done.
    """

    @property
    def context(self) -> Signal: ...
    def goto(self, url: str, /) -> object: ...
    def reload(self) -> object: ...
    def evaluate(self, expression: str, /) -> Any: ...
    def click(self, selector: str, /) -> None: ...
    def check(self, selector: str, /) -> None: ...
    def fill(self, selector: str, value: str, /) -> None: ...
    def press(self, selector: str, key: str, /) -> None: ...
    def select_option(self, selector: str, value: str, /) -> object: ...
    def is_visible(self, selector: str, /) -> bool: ...
    def wait_for_selector(self, selector: str, /) -> object: ...
    def wait_for_timeout(self, timeout: float, /) -> None: ...


def sees(page: Screen, where: str, words: str) -> None:
    """Until these words stand there, where somebody sees them."""
    page.wait_for_selector(f'{where}:has-text("{words}")')


def open_job(page: Page, job: RecordedPlan, login: str = "crew") -> None:
    """Sign in, open the job, and wait until it is on the phone."""
    enter(page, login)
    page.goto(f"/jobs/{job.job}")
    on_the_phone(page)


def until(page: Screen, true: str) -> None:
    """Wait until an expression is true; the page's policy forbids Playwright's own way."""
    end, pause = time.monotonic() + PATIENCE, 5.0
    # What a page waits for itself may never come either.
    asked = f"Promise.race([{true}, new Promise((none) => setTimeout(none, 60_000))])"
    while not page.evaluate(asked):
        assert time.monotonic() < end, f"never came true: {true}"
        page.wait_for_timeout(pause)  # short at first: most of it is true in a few milliseconds
        pause = min(50.0, 2 * pause)


def on_the_phone(page: Screen) -> None:
    page.wait_for_selector("html[data-kept=true]")
    has_worker(page)


def has_worker(page: Screen) -> None:
    """Until the service worker answers, as on every later visit."""
    until(page, "navigator.serviceWorker.controller !== null")


def ready(page: Screen) -> None:
    page.wait_for_selector("html[data-ready=job]")


def see_new_plan(page: Screen) -> None:
    """Until the page is that of a job planned again.

    Where the server is slow a device opens its copy first, which tells of the new plan.
    """
    ready(page)
    page.wait_for_selector("#moved, #copy a")
    end = time.monotonic() + PATIENCE
    while not page.is_visible("#moved"):
        assert time.monotonic() < end, "the new plan never came: each time the copy"
        page.click('a:has-text("Load the new plan")')
        ready(page)
        page.wait_for_selector("#moved, #copy a")


def open_step(page: Screen, key: str) -> None:
    if not page.is_visible(f"#step-{key}[open]"):
        page.click(f"#step-{key} summary")


def step(page: Page, key: str) -> Locator:
    """A step, opened."""
    open_step(page, key)
    return page.locator(f"#step-{key}")


def box_at(key: str, what: str, number: int = 1) -> str:
    """Where the box of a value is."""
    return f'#step-{key} .box[data-what="{what}"][data-box="{number}"]'


def box(page: Page, key: str, what: str, number: int = 1) -> Locator:
    """The box of a value."""
    open_step(page, key)
    return page.locator(box_at(key, what, number))


def write(page: Screen, key: str, what: str, typed: str, number: int = 1) -> None:
    """Type a value and leave the box; it is then on the phone or on the register."""
    before = kept(page)
    open_step(page, key)
    there = f"{box_at(key, what, number)} input"
    page.fill(there, typed)
    page.press(there, "Enter")
    wait_kept(page, before + 1)


def tick(page: Screen, key: str, line: int = 0) -> None:
    before = kept(page)
    open_step(page, key)
    page.check(f'#step-{key} [data-tick][data-line="{line}"]')
    wait_kept(page, before + 1)


def sign_hold(page: Screen, key: str, why: str = "") -> None:
    """Sign a hold point; with a reason where values are missing."""
    before = kept(page)
    open_step(page, key)
    page.click(f"#step-{key} [data-sign]")
    page.wait_for_selector("#ask-yes")
    if why and page.is_visible("#ask-reason"):
        page.fill("#ask-reason", why)
    page.click("#ask-yes")
    wait_kept(page, before + 1)


_KEPT = """() => {
  const { db } = splicewright.outbox;
  // In one transaction: an entry on its way is never counted twice.
  return db.transaction("r", db.outbox, db.receipts, db.aside, async () =>
    (await db.outbox.count()) + (await db.receipts.count()) + (await db.aside.count()));
}"""


def kept(page: Screen) -> int:
    """Records that the phone made and still knows: waiting, or with their receipt."""
    found: int = page.evaluate(_KEPT)
    return found


def wait_kept(page: Screen, count: int) -> None:
    until(page, f"(async () => (await ({_KEPT})()) >= {count})()")
    # Who works sees a step fold before going on: till then the page may move under a finger.
    page.wait_for_selector("html:not([data-acting])")


def waiting(page: Page) -> list[dict[str, Any]]:
    """What lies in the outbox, in order."""
    found: list[dict[str, Any]] = page.evaluate(
        """async () => (await splicewright.outbox.db.outbox.orderBy("seq").toArray())
           .map(({blob, ...rest}) => ({...rest, bytes: blob ? blob.size : 0}))"""
    )
    return found


def wait_sent(page: Screen) -> None:
    """Until the outbox is empty."""
    until(page, "(async () => (await splicewright.outbox.db.outbox.count()) === 0)()")


def bar(page: Page) -> Locator:
    """The bar that says what waits."""
    return page.locator(".outbox-words")


def facts_of_job(register: SqlRegister, job: UUID) -> list[tuple[str, str]]:
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

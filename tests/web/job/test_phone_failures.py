"""Ten failures a phone meets, each alone: nothing is lost unsaid, nothing arrives twice.

The quick run tries those that lost or hid entries without a word, or told of a loss that was none,
when they were first tried.
The sequences of them are simulated in test_phone_sequences.py.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from io import BytesIO
from pathlib import Path
from uuid import uuid4

import pytest
from fastapi import FastAPI
from PIL import Image
from playwright.sync_api import Page, expect

from depth import sized
from splicewright.actions.plan.record import RecordedPlan
from splicewright.store import Account, PersonRole
from splicewright.store.accounts.sql import SqlAccounts
from splicewright.store.facts.facts import Correction, Fact
from splicewright.store.facts.joint_facts import PhotoAdded
from splicewright.store.facts.kinds import Stream, What
from splicewright.store.sql.register import SqlRegister
from web.between import CUT, Ask, Between, Facts
from web.conftest import Clock, enter
from web.looking import axe, fits, picture
from web.set_back import set_back
from web.simulated_phone import VERSION_1, is_colour, photograph
from web.working import (
    THICKNESS,
    bar,
    facts_of_job,
    open_job,
    ready,
    sign_hold,
    step,
    tick,
    until,
    wait_kept,
    wait_sent,
    waiting,
    write,
)

STORE = "indexeddb,cache_storage,service_workers,local_storage"
"""What a browser short of room deletes; cookies it leaves."""


@dataclass
class Scene:
    """A phone, the register, and whoever stands between them."""

    phone: Page
    job: RecordedPlan
    register: SqlRegister
    between: Between
    app: FastAPI
    accounts: SqlAccounts
    people: dict[str, Account]
    clock: Clock
    site: str
    folder: Path

    def delete(self, what: str) -> None:
        """As the browser does it when the phone has no room left, with no page of ours open."""
        self.phone.goto("about:blank")
        tools = self.phone.context.new_cdp_session(self.phone)
        tools.send("Storage.clearDataForOrigin", {"origin": self.site, "storageTypes": what})

    def offline(self, yes: bool) -> None:
        """With or without signal."""
        self.phone.context.set_offline(yes)

    def heard(self) -> None:
        """Until the register has heard of this phone, as it does once a page is there."""
        until(self.phone, "splicewright.outbox.known.now() !== null")

    def open_again(self) -> None:
        """The job's page anew."""
        self.phone.goto(f"/jobs/{self.job.job}")
        ready(self.phone)

    def facts(self) -> list[tuple[str, str]]:
        """What the register holds of the job, besides that it was opened."""
        return facts_of_job(self.register, self.job.job)[1:]


@pytest.fixture
def scene(
    phone: Page, job: RecordedPlan, register: SqlRegister, between: Between, app: FastAPI,
    accounts: SqlAccounts, people: dict[str, Account], clock: Clock, site: str, tmp_path: Path,
) -> Scene:  # fmt: skip
    return Scene(
        phone, job, register, between, app, accounts, people, clock, site, tmp_path
    )  # fmt: skip


def the_browser_deletes_all(scene: Scene) -> None:
    """Its store is gone, entries that wait with it: the register's count tells."""
    phone = scene.phone
    open_job(phone, scene.job)
    tick(phone, "isolate", 1)
    wait_sent(phone)
    scene.heard()
    scene.offline(True)
    tick(phone, "isolate", 2)
    tick(phone, "isolate", 3)
    scene.delete(STORE)
    scene.offline(False)
    scene.open_again()
    alert = phone.locator(".outbox-told")
    expect(alert).to_contain_text("The browser has deleted what was kept on this phone")
    expect(alert).to_contain_text("what was written down without signal since then is gone too")
    axe(phone)
    fits(phone)
    picture(phone, "store-deleted-phone")
    phone.reload()  # it stays until somebody has read it
    ready(phone)
    alert.get_by_role("button", name="I have read it").click()
    expect(alert).to_be_hidden()
    tick(phone, "isolate", 2)
    wait_sent(phone)
    phone.reload()
    ready(phone)
    scene.heard()
    expect(alert).to_be_hidden()
    assert scene.facts() == [("step ticked", "isolate")] * 2


def a_portal_answers_200(scene: Scene) -> None:
    """A network that asks people to sign in is not the register, whatever it answers."""
    phone = scene.phone
    open_job(phone, scene.job)
    tick(phone, "isolate", 1)
    wait_sent(phone)
    page = '<!doctype html><html lang="en"><title>Canteen</title><h1>Sign in</h1></html>'
    for status, kind, body in (
        (200, "text/html", page), (200, "application/json", "{}"), (204, "text/html", ""),
        (401, "text/html", page), (403, "application/json", "{}"), (422, "application/json", "{}"),
    ):  # fmt: skip
        scene.between.portal = (status, kind, body)
        phone.evaluate("splicewright.outbox.state.trouble = ''")
        if not waiting(phone):
            tick(phone, "isolate", 2)
        phone.evaluate("splicewright.outbox.flush()")
        until(phone, "splicewright.outbox.state.trouble === 'between'")
        expect(bar(phone)).to_contain_text("something between this phone and the register")
        # The page never calls itself as the register has it.
        phone.evaluate("window.dispatchEvent(new Event('online'))")
        expect(phone.locator("#copy")).to_contain_text("Something between this phone")
        assert [r["state"] for r in waiting(phone)] == ["waits"]
    fits(phone)
    picture(phone, "portal-phone")
    # Nor is its page kept in place of ours.
    scene.between.portal = (200, "text/html", page)
    phone.reload()
    ready(phone)
    until(phone, "document.documentElement.dataset.kept !== undefined")
    scene.offline(True)
    scene.between.portal = None
    phone.reload()
    ready(phone)
    assert step(phone, "isolate").locator('[data-line="2"]').is_checked()
    scene.offline(False)
    wait_sent(phone)
    assert scene.facts() == [("step ticked", "isolate")] * 2


def test_a_page_left_before_the_answer_came_has_lost_nothing(scene: Scene) -> None:
    """Its cookie is there and its id is not: seen where pages were left within a blink."""
    phone = scene.phone
    open_job(phone, scene.job)
    scene.heard()
    until(phone, "splicewright.outbox.db.meta.get('phone').then(Boolean)")
    phone.evaluate("splicewright.outbox.db.meta.delete('phone')")
    phone.reload()
    ready(phone)
    scene.heard()
    until(phone, "splicewright.outbox.db.meta.get('phone').then(Boolean)")
    assert phone.evaluate("splicewright.outbox.known.notices()") == []


PHOTOGRAPH_KEPT = """(async () => {
  const name = (await caches.keys()).find((n) => n.startsWith("jobs-"));
  return (await (await caches.open(name)).keys()).some((r) => r.url.includes("/photographs/"));
})()"""


def the_register_is_set_back(scene: Scene) -> None:
    """From an older copy: the phone offers again what that lacks, and shows what it holds."""
    phone = scene.phone
    open_job(phone, scene.job)
    tick(phone, "isolate", 1)
    wait_sent(phone)
    copy = scene.folder / "copy.sqlite"
    scene.register.back_up(copy)
    tick(phone, "isolate", 2)
    write(phone, "measure", THICKNESS, "12.5")
    step(phone, "punch").locator(".take input").set_input_files(
        {"name": "a.jpg", "mimeType": "image/jpeg", "buffer": photograph(400, 300)}
    )
    wait_kept(phone, 4)
    wait_sent(phone)
    until(phone, PHOTOGRAPH_KEPT)
    ticked = scene.facts()
    assert len(ticked) == 4
    with set_back(scene.app, copy) as register:
        assert len(facts_of_job(register, scene.job.job)) == 2
        phone.reload()
        ready(phone)
        alert = phone.locator(".outbox-told")
        expect(alert).to_contain_text("set back to an older copy")
        expect(alert).to_contain_text("sent again (3 entries)")
        wait_sent(phone)
        fits(phone)
        picture(phone, "set-back-phone")
        assert facts_of_job(register, scene.job.job)[1:] == ticked  # in its order
        (photo,) = [
            s.fact.what
            for s in register.facts_about(scene.job.job)
            if isinstance(s.fact.what, PhotoAdded)
        ]
        assert register.content(photo.photo).data
        phone.reload()
        ready(phone)
        scene.heard()
        assert len(facts_of_job(register, scene.job.job)) == 5


def ten_photographs_and_a_signature(scene: Scene) -> None:
    """Quickly: the signature comes after them, and one is made smaller after the other."""
    phone = scene.phone
    open_job(phone, scene.job)
    scene.offline(True)
    shot = photograph(1600, 1200)
    take = step(phone, "park").locator(".take input")
    for number in range(10):
        take.set_input_files(
            {"name": f"{number}.jpg", "mimeType": "image/jpeg", "buffer": shot + bytes([number])}
        )
    sign_hold(phone, "park")
    wait_kept(phone, 12)
    # Signed after them, so that the signature speaks of them too.
    order = [*["photograph added"] * 10, "step ticked", "hold point signed"]
    assert [r["kind"] for r in waiting(phone)] == order
    scene.offline(False)
    wait_sent(phone)
    assert sorted(kind for kind, _ in scene.facts()) == sorted(order)


def the_new_phone_of_somebody(scene: Scene) -> None:
    """All is deleted, cookies too: the register knows which phones of theirs had entries."""
    phone = scene.phone
    open_job(phone, scene.job)
    scene.offline(True)
    # The second was never in the plan: it is refused, and waits for a person.
    tick(phone, "isolate", 1)
    phone.evaluate(
        """() => splicewright.outbox.record([{ kind: "value recorded", what: {
             job: location.pathname.split("/").pop(), step: "measure", what: "made up",
             measure: "length", value: 0.01, typed: "10 mm", box: 1 } }],
           { job: location.pathname.split("/").pop(), words: "made up" })"""
    )
    scene.offline(False)
    expect(bar(phone)).to_contain_text("1 entry needs a person")
    scene.delete("all")
    phone.context.clear_cookies()
    enter(phone, "crew")
    scene.open_again()
    alert = phone.locator(".outbox-told")
    expect(alert).to_contain_text("of yours last said on")
    expect(alert).to_contain_text("1 entry had not been sent")
    fits(phone)


def only_the_database_is_deleted(scene: Scene) -> None:
    """Pages are there, entries are not: told without signal, by what stands beside them."""
    phone = scene.phone
    open_job(phone, scene.job)
    scene.offline(True)
    tick(phone, "isolate", 1)
    tick(phone, "isolate", 2)
    until(phone, """Object.values(localStorage).some((kept) => kept.includes('"waits":2'))""")
    scene.delete("indexeddb")
    scene.open_again()
    alert = phone.locator(".outbox-told")
    expect(alert).to_contain_text("2 entries had not been sent and must be taken as lost")
    assert not step(phone, "isolate").locator('[data-line="1"]').is_checked()
    scene.offline(False)
    tick(phone, "isolate", 1)
    wait_sent(phone)
    assert len(scene.facts()) == 1


def only_the_pages_are_deleted(scene: Scene) -> None:
    """Entries are there, pages are not: what can be shown says how many wait."""
    phone = scene.phone
    open_job(phone, scene.job)
    scene.offline(True)
    tick(phone, "isolate", 1)
    tick(phone, "isolate", 2)
    scene.delete("cache_storage")
    phone.goto(f"/jobs/{scene.job.job}")
    expect(phone.get_by_text("2 entries wait on this phone")).to_be_visible()
    scene.offline(False)
    scene.open_again()
    wait_sent(phone)
    assert len(scene.facts()) == 2


def the_clock_jumps(scene: Scene) -> None:
    """400 days back, then right: what was written meanwhile is marked, nothing is let go."""
    phone, now = scene.phone, datetime.now(UTC).replace(microsecond=0)
    scene.clock.now = now
    phone.clock.install(time=now - timedelta(days=400))
    open_job(phone, scene.job)
    expect(phone.locator(".outbox-told")).to_contain_text("clock is 400 days behind")
    fits(phone)
    picture(phone, "clock-off-phone")
    tick(phone, "isolate", 1)
    step(phone, "isolate").locator("[data-timer]").click()
    wait_sent(phone)
    (fact,) = scene.register.facts_about(scene.job.job)[1:]
    assert fact.odd_date and fact.fact.at < now - timedelta(days=399)
    phone.clock.set_system_time(now)
    phone.locator("#step-isolate [data-timer]").click()
    expect(phone.locator(".outbox").get_by_text("the clock was set meanwhile")).to_be_visible()
    phone.clock.set_system_time(now + timedelta(days=400))
    phone.reload()
    ready(phone)
    scene.heard()
    expect(phone.locator(".outbox-told")).to_contain_text("400 days ahead")
    phone.wait_for_timeout(300)
    assert phone.evaluate("splicewright.outbox.db.receipts.count()") == 1  # none forgotten
    scene.offline(True)
    phone.reload()
    ready(phone)  # nor is its copy
    assert step(phone, "isolate").locator('[data-line="1"]').is_checked()
    scene.offline(False)
    phone.goto(f"/jobs/{scene.job.job}/recorded")
    expect(phone.get_by_text("date in doubt").first).to_be_visible()


def the_store_is_upgraded_with_an_old_tab_open(scene: Scene) -> None:
    """The new page takes over what the old one wrote, and what it goes on writing."""
    phone = scene.phone
    old = phone.context.new_page()
    old.goto("/sign-in")
    old.add_script_tag(url="/static/vendor/dexie-4.4.7.min.js")
    account = str(scene.people["crew"].account)
    made = old.evaluate(VERSION_1, [account, str(scene.job.job), "entry", 300])
    assert made["version"] == 1
    scene.between.broken = "/sync"
    enter(phone, "crew")
    scene.open_again()
    expect(bar(phone)).to_contain_text("300 entries wait")
    assert phone.evaluate("splicewright.outbox.db.verno") == 2
    old.evaluate("window.write(300, 5)")
    scene.between.broken = ""
    tick(phone, "isolate", 1)
    phone.evaluate("splicewright.outbox.flush()")
    wait_sent(phone)
    facts = [s.fact.what for s in scene.register.facts_about(scene.job.job)]
    told = sorted(int(what.text.split()[1]) for what in facts if hasattr(what, "text"))
    assert told == list(range(305))
    assert len(facts) == 1 + 305 + 1


def a_photograph_of_48_megapixels(scene: Scene) -> None:
    """Made smaller, upright and in its colours; where the phone cannot, never black."""
    phone = scene.phone
    open_job(phone, scene.job)
    take = step(phone, "punch").locator(".take input")
    large = photograph(8000, 6000, turned=True)
    take.set_input_files({"name": "a.jpg", "mimeType": "image/jpeg", "buffer": large})
    wait_kept(phone, 1)
    wait_sent(phone)
    (first,) = photographs_of(scene)
    # Turned a quarter by its camera's note: upright it is 6000 x 8000, and red is at the top right.
    assert first.size == (1920, 2560)
    assert is_colour(first.getpixel((1700, 200)), "red")
    assert is_colour(first.getpixel((200, 200)), "blue")
    # A phone without memory for the canvas draws nothing, which would be written as black.
    phone.evaluate("CanvasRenderingContext2D.prototype.drawImage = () => {}")
    take.set_input_files(
        {"name": "b.jpg", "mimeType": "image/jpeg", "buffer": photograph(4000, 3000)}
    )
    wait_kept(phone, 2)
    wait_sent(phone)
    second = photographs_of(scene)[1]
    assert is_colour(second.getpixel((200, 200)), "red")
    # And what is too large for the server is refused at once, not after the way there.
    noise = b"\xff\xd8" + bytes(range(256)) * 90_000
    take.set_input_files({"name": "c.jpg", "mimeType": "image/jpeg", "buffer": noise})
    expect(phone.locator(".outbox")).to_contain_text("The photograph was NOT kept: it has 23 MB")
    assert waiting(phone) == []


def no_database_in_the_browser(scene: Scene) -> None:
    """It keeps nothing: with signal what is written is sent at once, without it is said to be."""
    phone = scene.phone
    phone.add_init_script(
        "Object.defineProperty(window, 'indexedDB', { value: undefined, configurable: true })"
    )
    enter(phone, "crew")
    scene.open_again()
    expect(phone.locator(".outbox")).to_contain_text("This browser keeps nothing")
    line = step(phone, "isolate").locator('[data-line="1"]')
    line.check()
    until(phone, "document.querySelector('#step-isolate [data-line=\"1\"]').checked")
    expect(step(phone, "isolate").get_by_text("Crew Example").first).to_be_visible()
    take = step(phone, "punch").locator(".take input")
    take.set_input_files(
        {"name": "a.jpg", "mimeType": "image/jpeg", "buffer": photograph(400, 300)}
    )
    expect(step(phone, "punch").locator(".photos img")).to_have_count(1)
    assert [kind for kind, _ in scene.facts()] == ["step ticked", "photograph added"]
    scene.offline(True)
    step(phone, "isolate").locator('[data-line="2"]').click()
    expect(phone.locator(".outbox")).to_contain_text("NOT saved (there is no signal). Write it on")
    expect(step(phone, "isolate").locator('[data-line="2"]')).not_to_be_checked()
    fits(phone)
    picture(phone, "keeps-nothing-phone")
    # An answer that is lost is asked for once more; twice lost, nobody knows, and that is said.
    scene.offline(False)
    cuts = [CUT, None, CUT, CUT]

    async def cut(facts: Facts, ask: Ask) -> tuple[int, str] | None:
        answer = cuts.pop(0)
        if answer is not None:
            await ask(facts)
        return answer

    scene.between.answer = cut
    step(phone, "isolate").locator('[data-line="2"]').check()
    until(phone, "document.querySelector('#step-isolate [data-line=\"2\"]').checked")
    assert [kind for kind, _ in scene.facts()].count("step ticked") == 2
    step(phone, "isolate").locator('[data-line="3"]').click()
    expect(phone.locator(".outbox")).to_contain_text("no answer came; the register may have it")
    assert [kind for kind, _ in scene.facts()].count("step ticked") == 3
    assert cuts == []


def rights_are_withdrawn_while_away(scene: Scene) -> None:
    """What was written stays on the phone, with the reason, and goes when they come back."""
    phone, crew = scene.phone, scene.people["crew"].account
    open_job(phone, scene.job)
    scene.offline(True)
    tick(phone, "isolate", 1)
    scene.accounts.change_role(crew, PersonRole.VIEWER, None)
    scene.offline(False)
    expect(bar(phone)).to_contain_text("1 entry waits: your role may not record")
    assert scene.facts() == []
    scene.accounts.change_role(crew, PersonRole.CREW, None)
    phone.get_by_role("button", name="Send now").click()
    wait_sent(phone)
    assert len(scene.facts()) == 1


def the_job_is_withdrawn_while_away(scene: Scene) -> None:
    """A lead says that it should not have been opened: told on the phone, and nothing is gone."""
    phone, register = scene.phone, scene.register
    open_job(phone, scene.job)
    scene.offline(True)
    tick(phone, "isolate", 1)
    (opened,) = register.facts_about(scene.job.job)

    def correct(instead: What | None) -> None:
        said = Correction(Stream.JOB, scene.job.job, opened.fact.id, instead, "whose job it is")
        register.append(Fact(uuid4(), scene.clock(), "Lead Example", said))

    correct(None)
    scene.offline(False)
    expect(bar(phone)).to_contain_text("1 entry needs a person")
    expect(phone.locator(".outbox")).to_contain_text("the job was withdrawn: nothing more")
    fits(phone)
    picture(phone, "job-withdrawn-phone")
    assert [kind for kind, _ in scene.facts()] == ["correction"]
    # Who opens it is told what became of it, not that the address is wrong.
    told = phone.context.request.get(f"/jobs/{scene.job.job}")
    assert told.status == 410 and "The job was withdrawn: nothing more is recorded" in told.text()
    correct(opened.fact.what)  # and the lead opens it again
    phone.get_by_role("button", name="Send again").click()
    wait_sent(phone)
    assert [kind for kind, _ in scene.facts()] == ["correction"] * 2 + ["step ticked"]


def the_page_is_left_while_it_is_greeted(scene: Scene) -> None:
    """The register gave the phone an id, which the page could keep no more: nothing is lost."""
    phone = scene.phone
    phone.add_init_script(
        """addEventListener("DOMContentLoaded", () => {
          const { meta } = splicewright.outbox.db, put = meta.put;
          meta.put = (kept) => kept.name === "phone" && !localStorage.left
            ? new Promise(() => { localStorage.left = "yes"; }) : put.call(meta, kept);
        });"""
    )
    enter(phone, "crew")
    phone.goto("/")
    until(phone, "localStorage.left === 'yes'")
    scene.open_again()
    scene.heard()
    assert phone.evaluate("splicewright.outbox.db.meta.get('phone').then(Boolean)")
    expect(phone.locator(".outbox-told")).to_be_hidden()
    tick(phone, "isolate", 1)
    wait_sent(phone)


def the_first_answer_to_a_store_begun_anew_is_lost(scene: Scene) -> None:
    """All was deleted, and as much is written anew before the register answers: still told."""
    phone = scene.phone
    open_job(phone, scene.job)
    tick(phone, "isolate", 1)
    wait_sent(phone)
    scene.heard()
    scene.delete(STORE)
    scene.between.broken = "/sync"
    scene.open_again()
    tick(phone, "isolate", 2)
    expect(bar(phone)).to_contain_text("1 entry waits")
    until(phone, "splicewright.outbox.state.trouble !== ''")  # it asked, and nobody heard it
    scene.between.broken = ""
    phone.get_by_role("button", name="Send now").click()
    wait_sent(phone)
    alert = phone.locator(".outbox-told")
    expect(alert).to_contain_text("The browser has deleted what was kept on this phone")


Failure = Callable[[Scene], None]
FAILURES: tuple[Failure, ...] = (
    the_browser_deletes_all,
    the_page_is_left_while_it_is_greeted,
    the_first_answer_to_a_store_begun_anew_is_lost,
    a_portal_answers_200,
    the_register_is_set_back,
    ten_photographs_and_a_signature,
    the_new_phone_of_somebody,
    only_the_database_is_deleted,
    only_the_pages_are_deleted,
    the_clock_jumps,
    the_store_is_upgraded_with_an_old_tab_open,
    a_photograph_of_48_megapixels,
    no_database_in_the_browser,
    rights_are_withdrawn_while_away,
    the_job_is_withdrawn_while_away,
)


@pytest.mark.parametrize(
    "failure", FAILURES[: sized(6, deep=len(FAILURES))], ids=lambda failure: failure.__name__
)
def test_a_failure(scene: Scene, failure: Failure) -> None:
    failure(scene)


def photographs_of(scene: Scene) -> list[Image.Image]:
    """Those that the register has of the job, in the order of arrival."""
    found = []
    for stored in scene.register.facts_about(scene.job.job):
        if isinstance(stored.fact.what, PhotoAdded):
            data = scene.register.content(stored.fact.what.photo).data
            found.append(Image.open(BytesIO(data)).convert("RGB"))
    return found

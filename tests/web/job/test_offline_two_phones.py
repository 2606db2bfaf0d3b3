"""Two phones on one job, photographs without signal, a week in the pit, a phone killed outright."""

from __future__ import annotations

import contextlib
import os
import signal
import subprocess
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from PIL import Image
from playwright.sync_api import Browser, Page, expect

from depth import PATIENCE
from splicewright.actions.plan.record import RecordedPlan
from splicewright.store.facts.job_facts import ValueRecorded
from splicewright.store.facts.joint_facts import PhotoAdded
from splicewright.store.sql.register import SqlRegister
from web.between import Between
from web.conftest import Clock, enter
from web.looking import axe, chromium, fits, picture
from web.working import (
    THICKNESS,
    bar,
    box,
    facts_of_job,
    on_the_phone,
    open_job,
    ready,
    step,
    tick,
    until,
    wait_kept,
    wait_sent,
    waiting,
    write,
)


@pytest.fixture
def other_phone(browser: Browser, site: str) -> Iterator[Page]:
    """A second phone, with cookies and a store of its own."""
    context = browser.new_context(
        base_url=site, viewport={"width": 390, "height": 844}, has_touch=True, is_mobile=True
    )
    context.set_default_timeout(PATIENCE * 1000)
    yield context.new_page()
    context.close()


def test_two_phones_that_disagree(
    phone: Page, other_phone: Page, job: RecordedPlan, register: SqlRegister
) -> None:
    open_job(phone, job)
    open_job(other_phone, job, "lead")
    phone.context.set_offline(True)
    other_phone.context.set_offline(True)
    write(phone, "measure", THICKNESS, "12.5")
    write(phone, "measure", THICKNESS, "12.7", 2)
    write(other_phone, "measure", THICKNESS, "13.5")
    other_phone.context.set_offline(False)
    wait_sent(other_phone)
    phone.context.set_offline(False)
    wait_sent(phone)
    # Both are in the register, and both phones show both.
    values = [
        (s.fact.what.typed, s.fact.by)
        for s in register.facts_about(job.job)
        if isinstance(s.fact.what, ValueRecorded)
    ]
    assert values == [
        ("13.5 mm", "Lead Example"), ("12.5 mm", "Crew Example"), ("12.7 mm", "Crew Example"),
    ]  # fmt: skip
    conflicts = phone.locator("#conflicts")
    expect(conflicts).to_contain_text("13.5 mm")
    expect(conflicts).to_contain_text("12.5 mm")
    expect(phone.locator("#step-measure [data-state]")).to_have_text("two answers")
    expect(phone.locator("#news")).to_contain_text("13.5 mm")
    axe(phone)
    fits(phone)
    picture(phone, "two-answers-phone")
    other_phone.reload()
    ready(other_phone)
    expect(other_phone.locator("#conflicts")).to_contain_text("12.5 mm")
    # Somebody says which counts; the other stays in the register, withdrawn.
    conflicts.get_by_role("button", name="13.5 mm counts").click()
    expect(conflicts).to_be_hidden()
    wait_sent(phone)
    until(phone, "document.querySelector('#conflicts').hidden")
    assert box(phone, "measure", THICKNESS).locator("input").input_value() == "13.5"
    facts = register.facts_about(job.job)
    assert [s.withdrawn for s in facts] == [False, False, True, False, False]
    other_phone.evaluate("window.dispatchEvent(new Event('online'))")
    expect(other_phone.locator("#conflicts")).to_be_hidden()


def _photograph() -> bytes:
    made = BytesIO()
    exif = Image.Exif()
    exif[0x010F] = "Camera of Ada"
    exif.get_ifd(0x8825).update({1: "N", 2: (50.0, 30.0, 0.0)})
    Image.effect_noise((3000, 2000), 60).convert("RGB").save(made, "JPEG", exif=exif, quality=80)
    return made.getvalue()


def test_a_photograph_taken_without_signal(
    phone: Page, job: RecordedPlan, register: SqlRegister
) -> None:
    open_job(phone, job)
    phone.context.set_offline(True)
    take = step(phone, "punch").locator(".take input")
    take.set_input_files({"name": "IMG_1.jpg", "mimeType": "image/jpeg", "buffer": _photograph()})
    shown = step(phone, "punch").locator(".photos img")
    expect(shown).to_have_count(1)
    wait_kept(phone, 1)
    tick(phone, "punch")
    phone.reload()
    ready(phone)
    shown = step(phone, "punch").locator(".photos img")
    until(phone, "[...document.querySelectorAll('#step-punch .photos img')]"
                 ".every(i => i.complete && i.naturalWidth === 2560)")  # fmt: skip
    assert [(r["kind"], r["bytes"] > 0) for r in waiting(phone)] == [
        ("photograph added", True), ("step ticked", False),
    ]  # fmt: skip
    picture(phone, "photograph-offline-phone")
    phone.context.set_offline(False)
    wait_sent(phone)
    # What is small goes first.
    assert [k for k, _ in facts_of_job(register, job.job)][1:] == [
        "step ticked",
        "photograph added",
    ]
    (photo,) = [
        s.fact.what for s in register.facts_about(job.job) if isinstance(s.fact.what, PhotoAdded)
    ]
    assert photo.step == "punch"
    content = register.content(photo.photo).data
    assert b"Camera of Ada" not in content and b"Exif" not in content
    with Image.open(BytesIO(content)) as kept:
        assert kept.size == (2560, 1707) and not kept.getexif()
    # It is shown from the register, and again without signal.
    until(phone, "document.querySelector('#step-punch .photos img').src.includes('/photographs/')")
    until(
        phone,
        "(async () => Boolean(await caches.match("
        "document.querySelector('#step-punch .photos img').src)))()",
    )
    phone.context.set_offline(True)
    phone.reload()
    ready(phone)
    step(phone, "punch")
    until(phone, "document.querySelector('#step-punch .photos img')?.naturalWidth === 2560")


def test_what_is_no_photograph_waits_for_a_person(
    phone: Page, job: RecordedPlan, register: SqlRegister
) -> None:
    open_job(phone, job)
    step(phone, "punch").locator(".take input").set_input_files(
        {"name": "IMG_1.jpg", "mimeType": "image/jpeg", "buffer": b"not a picture"}
    )
    expect(phone.locator(".outbox-stuck")).to_contain_text("cannot be decoded")
    tick(phone, "punch")
    until(phone, "(async () => (await splicewright.outbox.db.outbox.count()) === 1)()")
    assert [k for k, _ in facts_of_job(register, job.job)][1:] == ["step ticked"]


def test_a_week_without_signal(
    phone: Page, job: RecordedPlan, register: SqlRegister, clock: Clock
) -> None:
    began = datetime.now(UTC).replace(microsecond=0)
    clock.now = began
    phone.clock.install(time=began)
    open_job(phone, job)
    phone.context.set_offline(True)
    for day in range(7):
        phone.clock.set_system_time(began + timedelta(days=day, hours=1))
        write(phone, "measure", THICKNESS, f"12.{day}")
    phone.clock.set_system_time(began + timedelta(days=8))
    phone.reload()
    ready(phone)
    expect(phone.locator("#copy")).to_contain_text("8 days old")
    expect(bar(phone)).to_contain_text("7 entries wait for signal")
    clock.pass_(days=8)
    phone.context.set_offline(False)
    phone.evaluate("splicewright.outbox.flush()")
    wait_sent(phone)
    facts = register.facts_about(job.job)[1:]
    assert [s.fact.at - began for s in facts] == pytest.approx(
        [timedelta(days=d, hours=1) for d in range(7)], abs=timedelta(minutes=2)
    )
    assert {s.received for s in facts} == {clock.now}
    on_the_phone(phone)


def test_a_browser_killed_in_the_middle(
    browser: Browser, tmp_path: Path, site: str, job: RecordedPlan, register: SqlRegister,
    between: Between,
) -> None:  # fmt: skip
    folder = tmp_path / "phone"
    how: dict[str, Any] = {
        "executable_path": chromium(), "args": ["--no-sandbox"], "base_url": site,
        "viewport": {"width": 390, "height": 844},
    }  # fmt: skip
    context = browser.browser_type.launch_persistent_context(folder, **how)
    page = context.pages[0]
    open_job(page, job)
    # A worker that has just been started is for a moment not told that there is no signal, and
    # it is the worker that sends: so nothing is taken on the other side either.
    between.broken = "/sync"
    context.set_offline(True)
    for line in range(1, 4):
        tick(page, "isolate", line)
    # Not closed: killed, with all its processes, as by a battery that falls out.
    with context.expect_event("close"):
        listed = subprocess.run(
            ["pgrep", "-f", f"user-data-dir={folder}"], capture_output=True, text=True, check=True
        )
        for process in listed.stdout.split():
            with contextlib.suppress(ProcessLookupError):
                os.kill(int(process), signal.SIGKILL)
    (folder / "SingletonLock").unlink(missing_ok=True)
    context = browser.browser_type.launch_persistent_context(folder, **how)
    context.set_offline(True)
    page = context.pages[0]
    page.goto(f"/jobs/{job.job}")
    ready(page)
    expect(bar(page)).to_contain_text("3 entries wait")
    context.set_offline(False)
    between.broken = ""
    page.goto("/")
    if "/sign-in" in page.url:
        enter(page, "crew")  # the browser had not yet written its cookie down
        page.goto("/")
    wait_sent(page)
    assert len(facts_of_job(register, job.job)) == 1 + 3
    context.close()


def test_disk_quota_of_the_browser(phone: Page, job: RecordedPlan, site: str) -> None:
    keeper = phone.context.new_page()  # the quota holds as long as the page that set it
    keeper.goto("/static/job.css")
    devtools = phone.context.new_cdp_session(keeper)
    # Less than the photograph alone: the browser counts from what was free a moment ago.
    devtools.send("Storage.overrideQuotaForOrigin", {"origin": site, "quotaSize": 2_000_000})
    open_job(phone, job)
    phone.context.set_offline(True)
    tick(phone, "isolate", 1)
    take = step(phone, "punch").locator(".take input")
    take.set_input_files({"name": "IMG_1.jpg", "mimeType": "image/jpeg", "buffer": _photograph()})
    expect(phone.get_by_role("alert")).to_contain_text("no room left")
    expect(step(phone, "punch").locator(".photos img")).to_have_count(0)
    fits(phone)
    picture(phone, "no-room-phone")
    assert [r["kind"] for r in waiting(phone)] == ["step ticked"]

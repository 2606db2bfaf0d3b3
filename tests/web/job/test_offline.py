"""The phone without signal: everything works, nothing is lost, all arrives once and in order."""

from __future__ import annotations

from playwright.sync_api import Page, expect

from splicewright.actions.plan.record import RecordedPlan
from splicewright.store.sql.register import SqlRegister
from web.between import Between
from web.conftest import enter
from web.looking import axe, fits, picture
from web.working import (
    THICKNESS,
    bar,
    box,
    facts_of_job,
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

ISOLATION = range(1, 5)


def test_network_cut_reload_kill_and_replay(
    phone: Page, job: RecordedPlan, register: SqlRegister
) -> None:
    open_job(phone, job)
    tick(phone, "isolate", 1)
    wait_sent(phone)
    context = phone.context
    context.set_offline(True)
    tick(phone, "isolate", 2)
    write(phone, "measure", THICKNESS, "12.5")
    expect(bar(phone)).to_contain_text("2 entries wait for signal")
    assert "waits for signal" in box(phone, "measure", THICKNESS).inner_text()
    axe(phone)
    fits(phone)
    picture(phone, "job-offline-phone")

    phone.reload()
    ready(phone)
    expect(phone.locator("#copy")).to_contain_text("No signal. This is the copy on the phone")
    assert box(phone, "measure", THICKNESS).locator("input").input_value() == "12.5"
    tick(phone, "isolate", 3)

    # The page is killed; the next one is opened by its address, still without signal.
    phone.close()
    anew = context.new_page()
    anew.goto(f"/jobs/{job.job}")
    ready(anew)
    expect(bar(anew)).to_contain_text("3 entries wait for signal")
    assert step(anew, "isolate").locator('[data-line="2"]').is_checked()
    write(anew, "measure", THICKNESS, "12.6")
    assert facts_of_job(register, job.job)[1:] == [("step ticked", "isolate")]

    context.set_offline(False)
    wait_sent(anew)
    expect(bar(anew)).to_contain_text("Everything is sent")
    told = [
        ("step ticked", "isolate"), ("value recorded", "12.5 mm"), ("step ticked", "isolate"),
        ("value recorded", "12.6 mm"),
    ]  # fmt: skip
    assert facts_of_job(register, job.job)[2:] == told  # in the order of the phone
    for _ in range(3):
        anew.evaluate("splicewright.outbox.flush()")
        anew.reload()
        ready(anew)
    assert facts_of_job(register, job.job)[2:] == told  # and once
    expect(anew.locator("#copy")).to_be_hidden()
    assert box(anew, "measure", THICKNESS).locator("input").input_value() == "12.6"


def test_first_page_without_signal_lists_the_jobs_on_the_phone(
    phone: Page, job: RecordedPlan
) -> None:
    open_job(phone, job)
    phone.context.set_offline(True)
    phone.goto("/")
    expect(phone.get_by_role("heading", name="No signal")).to_be_visible()
    fits(phone)
    picture(phone, "no-signal-phone")
    phone.get_by_role("link", name="K2: worn joint, long return").click()
    ready(phone)
    phone.locator(".drawing summary").get_by_text("Marking out and cutting").click()
    phone.get_by_role("img", name="Marking out and cutting").scroll_into_view_if_needed()
    until(
        phone,
        "[...document.querySelectorAll('.drawing img')]"
        ".some(i => i.alt.startsWith('Marking out') && i.complete && i.naturalWidth > 0)",
    )


def test_a_job_that_came_in_part_is_not_called_kept(
    phone: Page, job: RecordedPlan, between: Between
) -> None:
    enter(phone, "crew")
    between.broken = "/drawings/"
    phone.goto(f"/jobs/{job.job}")
    expect(phone.locator("#kept")).to_contain_text("not wholly on the phone yet")
    assert phone.locator("html").get_attribute("data-kept") == "false"
    between.broken = ""
    phone.reload()
    expect(phone.locator("#kept")).to_contain_text("it opens without signal")


NO_WORKER = """Object.defineProperty(ServiceWorkerContainer.prototype, "controller",
  { configurable: true, get: () => window.worker ?? null });"""


def test_a_page_without_a_worker_is_not_called_kept(phone: Page, job: RecordedPlan) -> None:
    """As WebKit leaves one that was on its way while the worker started: no copies come to it."""
    enter(phone, "crew")
    phone.add_init_script(NO_WORKER)
    phone.goto(f"/jobs/{job.job}")
    expect(phone.locator("#kept")).to_contain_text("open it again with signal")
    expect(phone.locator("html")).to_have_attribute("data-kept", "false")
    phone.evaluate("window.worker = {}")
    phone.evaluate("navigator.serviceWorker.dispatchEvent(new Event('controllerchange'))")
    expect(phone.locator("#kept")).to_contain_text("it opens without signal")


LEFT = """async (stores) => {
  const left = splicewright.outbox.db.backendDB().transaction(stores, "readwrite");
  const ended = new Promise((told) => {
    for (const how of ["abort", "complete"]) left.addEventListener(how, () => told(how));
  });
  left.objectStore("meta").put({ name: "left", value: 1 });
  dispatchEvent(new Event("pagehide"));
  return ended;
}"""


def test_a_page_that_is_left_ends_what_it_was_writing(phone: Page, job: RecordedPlan) -> None:
    """WebKit does not, and then no later page can write; entries are written to their end."""
    open_job(phone, job)
    assert phone.evaluate(LEFT, ["meta"]) == "abort"
    assert phone.evaluate(LEFT, ["meta", "outbox"]) == "complete"
    tick(phone, "isolate", 1)
    wait_sent(phone)


def test_a_copy_outlives_the_version_of_the_app_it_was_made_with(
    phone: Page, job: RecordedPlan
) -> None:
    open_job(phone, job)
    # What the next version of the service worker does: the files of this one are gone.
    phone.evaluate(
        """(async () => {
          for (const name of await caches.keys()) {
            if (name.startsWith("shell-")) await caches.delete(name);
          }
        })()"""
    )
    phone.context.set_offline(True)
    phone.reload()
    ready(phone)
    tick(phone, "isolate", 1)
    expect(bar(phone)).to_contain_text("1 entry waits for signal")


def test_hold_points_in_order_without_signal(
    phone: Page, job: RecordedPlan, register: SqlRegister
) -> None:
    open_job(phone, job)
    phone.context.set_offline(True)
    clamp = step(phone, "clamp")
    expect(clamp.locator("[data-sign]")).to_be_disabled()
    expect(clamp.locator("[data-why]")).to_contain_text("First the hold point of step 1")
    for key in ("park", "permit"):
        sign_hold(phone, key)
    expect(step(phone, "isolate").locator("[data-sign]")).to_be_disabled()
    for line in ISOLATION:
        tick(phone, "isolate", line)
    for key in ("isolate", "place", "whole", "mark"):
        sign_hold(phone, key, "written on paper, the phone was in the car")
    expect(clamp.locator("[data-sign]")).to_be_enabled()
    sign_hold(phone, "clamp")
    # Who signs that a step is right says with it that it is done.
    both = ["step ticked", "hold point signed"]
    assert [r["kind"] for r in waiting(phone)][-4:] == both * 2
    phone.context.set_offline(False)
    wait_sent(phone)
    kinds = [kind for kind, _ in facts_of_job(register, job.job)]
    assert kinds == ["job opened", *both * 2, *["step ticked"] * len(ISOLATION), *both * 5]

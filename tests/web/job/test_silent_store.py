"""A browser's store that never answers: the page says so, can be read, loses nothing typed.

Seen once in WebKit, whose transactions of a page that was left went on for ever (see
test_a_page_that_is_left_ends_what_it_was_writing); any tab that hangs does the same to all others.
"""

from __future__ import annotations

from playwright.sync_api import Dialog, Page, expect

from splicewright.actions.plan.record import RecordedPlan
from splicewright.store.sql.register import SqlRegister
from web.conftest import enter
from web.looking import axe, fits, picture
from web.working import facts_of_job, has_worker, on_the_phone, ready, step, until, wait_sent

NEVER_OPENS = "IDBFactory.prototype.open = () => new EventTarget();"
HOLDS_IT = """async () => {
  const db = await new Promise((there) => {
    indexedDB.open("splicewright").onsuccess = ({ target }) => there(target.result);
  });
  const held = db.transaction([...db.objectStoreNames], "readwrite");
  const more = () => { if (!window.letGo) held.objectStore("meta").get(1).onsuccess = more; };
  more();
}"""
"""A tab whose transaction does not end before it is told to."""


def test_without_an_answer_the_job_is_read_and_nothing_is_called_saved(
    phone: Page, job: RecordedPlan
) -> None:
    phone.add_init_script(NEVER_OPENS)
    enter(phone, "crew")
    phone.goto(f"/jobs/{job.job}")
    alert = phone.locator(".outbox").get_by_role("alert").filter(visible=True)
    expect(alert).to_contain_text(
        "The phone's storage does not answer. Close other tabs of this app."
    )
    ready(phone)
    line = step(phone, "isolate").locator('[data-line="1"]')
    line.check()
    expect(alert).to_contain_text("1 entry is on this page only: leave it open")
    expect(alert).to_be_in_viewport()  # wherever on a long page it was tapped
    axe(phone)
    fits(phone)
    picture(phone, "silent-store-phone")
    # Leaving the page would lose it: the browser asks.
    asked: list[str] = []

    def stay(dialog: Dialog) -> None:
        asked.append(dialog.type)
        dialog.dismiss()

    phone.on("dialog", stay)
    phone.evaluate("location.href = '/'")
    until(phone, "new Promise((later) => setTimeout(later, 300, true))")
    assert asked == ["beforeunload"]
    # Nobody can say whether entries wait, so signing out is not silent either.
    phone.locator(".menu summary").click()
    phone.locator(".menu").get_by_role("button", name="Sign out").click()
    expect(phone.locator(".outbox")).to_contain_text(
        "Not signed out: the phone's storage does not answer, so nobody can say"
    )


def test_what_was_typed_meanwhile_is_kept_when_it_answers(
    phone: Page, job: RecordedPlan, register: SqlRegister
) -> None:
    enter(phone, "crew")
    phone.goto(f"/jobs/{job.job}")
    on_the_phone(phone)
    has_worker(phone)
    other = phone.context.new_page()
    other.goto("/me")
    other.evaluate(HOLDS_IT)
    line = step(phone, "isolate").locator('[data-line="1"]')
    line.check()
    alert = phone.locator(".outbox").get_by_role("alert").filter(visible=True)
    expect(alert).to_contain_text("1 entry is on this page only")
    assert facts_of_job(register, job.job)[1:] == []
    other.evaluate("window.letGo = true")
    expect(alert).to_have_count(0)  # nothing waits to be sent before it is on the phone
    wait_sent(phone)
    expect(line).to_be_checked()
    assert facts_of_job(register, job.job)[1:] == [("step ticked", "isolate")]

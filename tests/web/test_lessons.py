"""The lessons followed by their text alone, and the pictures that docs/ shows of them.

Every label that the crew's lesson puts in code type must have stood on a page on the way: what is
followed is the text of docs/tutorial-no-signal.md. Pictures are kept where somebody asks for them
(`make docs-site`), with a clock that stands still; their names are held against docs/*.md by
tests/test_docs_commands.py. Left out of the suite, they once could not be taken.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from email.utils import format_datetime
from pathlib import Path

import pytest
from fastapi.testclient import TestClient
from PIL import Image
from playwright.sync_api import Locator, Page, expect

from depth import PICTURES
from splicewright.actions.plan.record import RecordedPlan
from splicewright.store import Account, PersonRole
from splicewright.store.accounts.sql import SqlAccounts
from splicewright.store.sql.register import SqlRegister
from web.between import Between
from web.conftest import PASSWORD, START, csrf_of, enter, sign_in
from web.looking import SCREENSHOTS
from web.planned import keep_ranges
from web.serving import served
from web.working import bar, kept, on_the_phone, sign_hold, step, tick, wait_kept, wait_sent, write

ROOT = Path(__file__).parents[2]
LESSON = ROOT / "docs" / "tutorial-no-signal.md"
THICKNESS = "Belt thickness at the left and right edge"


@pytest.fixture
def site(between: Between, people: dict[str, Account]) -> Iterator[str]:
    """Served by a server whose clock stands still as well."""
    with served(between, date=format_datetime(START, usegmt=True)) as address:
        yield address


@pytest.fixture(autouse=True)
def still(request: pytest.FixtureRequest) -> None:
    """The browser's own clock stands where the server's does."""
    for name in ("phone", "desk"):
        if name in request.fixturenames:
            page: Page = request.getfixturevalue(name)
            page.clock.set_fixed_time(START)


def keep(page: Page, name: str, at: Locator | None = None) -> None:
    """What the screen shows, from `at` down where it is given."""
    if at is not None:
        at.evaluate("e => window.scrollTo(0, e.getBoundingClientRect().top + scrollY - 12)")
    expect(page.locator(".htmx-request")).to_have_count(0)
    if PICTURES:
        page.wait_for_timeout(150)
        SCREENSHOTS.mkdir(parents=True, exist_ok=True)
        page.screenshot(path=SCREENSHOTS / f"{name}.png", scale="css")


def quoted(text: str) -> list[str]:
    """Labels: what stands in code type within a line and is no command."""
    return [q for q in re.findall(r"`([^`\n]+)`", text) if not q.startswith("splicewright ")]


def test_a_job_with_no_signal(
    phone: Page, job: RecordedPlan, accounts: SqlAccounts, tmp_path: Path
) -> None:
    seen: list[str] = []

    def look() -> None:
        seen.append(" ".join(phone.locator("body").inner_text().split()))

    phone.goto(f"/join/{accounts.invite('Admin', PersonRole.ADMIN, None)}")
    look()
    phone.get_by_label("Name to sign in with").fill("newcomer")
    phone.get_by_label("New password").fill(PASSWORD)
    phone.get_by_role("button", name="Join").click()
    expect(phone.get_by_role("heading", name="Today", exact=True)).to_be_visible()
    _work_up_to_measuring(phone, job)
    phone.goto("/")
    expect(phone.get_by_role("heading", name="Today", exact=True)).to_be_visible()
    look()
    keep(phone, "lesson-today")
    phone.locator(f"main a[href='/jobs/{job.job}']").first.click()
    on_the_phone(phone)
    expect(phone.get_by_text("This job is on the phone")).to_be_visible()
    look()
    keep(phone, "lesson-job")
    phone.context.set_offline(True)
    phone.reload()
    phone.wait_for_selector("html[data-ready=job]")
    whole, before = step(phone, "whole"), kept(phone)
    tick(phone, "whole", 0)
    write(phone, "whole", THICKNESS, "12", 1)
    Image.new("RGB", (320, 240), "grey").save(tmp_path / "any.jpg")
    look()
    whole.get_by_label("Take a photograph").set_input_files(tmp_path / "any.jpg")
    wait_kept(phone, before + 3)
    whole.get_by_role("button", name="Start the timer").click()
    expect(bar(phone)).to_contain_text("3 entries wait for signal")
    look()
    keep(phone, "lesson-no-signal", whole)
    phone.goto("/fleet")
    expect(phone.get_by_role("heading", name="No signal")).to_be_visible()
    look()
    keep(phone, "lesson-jobs-on-the-phone")
    phone.goto(f"/jobs/{job.job}")
    phone.wait_for_selector("html[data-ready=job]")
    expect(bar(phone)).to_contain_text("3 entries wait for signal")
    step(phone, "whole").get_by_role("button", name="Sign this hold point").click()
    expect(phone.get_by_role("dialog")).to_be_visible()
    look()
    keep(phone, "lesson-hold-point")
    phone.get_by_role("button", name="Not yet").click()
    phone.context.set_offline(False)
    wait_sent(phone)
    expect(bar(phone)).to_contain_text("Everything is sent")
    look()
    assert not any("clock is" in text for text in seen), (
        "a picture would show a warning of the tests"
    )
    labels = quoted(LESSON.read_text("utf-8"))
    assert len(labels) > 10
    # Refused entries are no part of the lesson; tests/web/job/test_offline.py has them.
    missing = [s for s in labels if s != "needs a person" and not any(s in text for text in seen)]
    assert not missing, f"the lesson names what no page on the way says: {missing}"


def _work_up_to_measuring(phone: Page, job: RecordedPlan) -> None:
    phone.goto(f"/jobs/{job.job}")
    on_the_phone(phone)
    for key in ("park", "permit", "isolate", "place"):
        section = step(phone, key)
        for line in section.locator("[data-tick]").evaluate_all(
            "es => es.map(e => e.dataset.line)"
        ):
            tick(phone, key, int(line))
        sign_hold(phone, key)
    wait_sent(phone)


def test_plates_on_a_phone(phone: Page, job: RecordedPlan, register: SqlRegister) -> None:
    enter(phone, "lead")
    phone.goto(f"/joints/{job.joint}/inspect")
    expect(phone.locator("#verdict")).to_contain_text("This is a calculation")
    for plate, taps in ((2, 2), (3, 4)):  # worn, lost
        for _ in range(taps):
            phone.get_by_role("button", name=f"Plate {plate}, leading end").tap()
    expect(phone.locator("#count")).to_contain_text("1 worn, 1 lost")
    keep(phone, "lesson-plates", phone.locator(".joint").first)


def test_the_form_of_a_plan(desk: Page, register: SqlRegister, people: object) -> None:
    incline = next(c for c in register.conveyors() if "incline" in c.name)
    enter(desk, "lead")
    keep_ranges(register, incline.site)
    desk.goto(f"/conveyors/{incline.conveyor}/plan")
    desk.get_by_label("Thickness, place 3 from the left").fill("11.2 mm")
    expect(desk.locator("#answer")).to_contain_text("11.2 mm")
    keep(desk, "lesson-plan", desk.locator("h1"))


def test_whoever_made_a_link_is_told_that_it_waits(
    client: TestClient, register: SqlRegister, accounts: SqlAccounts
) -> None:
    """By the guide's text alone "Let people in" stayed open after it was done."""
    secret = accounts.invite("Admin", PersonRole.ADMIN, None)
    accounts.accept(secret, "newcomer", PASSWORD)
    assert sign_in(client, "newcomer").status_code == 303
    guide = client.get("/").text.partition("Set up your site")[2].partition("</section>")[0]
    assert guide and "link made" not in guide
    data = {"name": "Kim Example", "role": "crew", "all_sites": "true", "csrf": csrf_of(client)}
    link = re.search(r"/join/([\w-]+)", client.post("/people/invite", data=data).text)
    assert link is not None
    assert "link made, not used yet" in client.get("/").text
    accounts.accept(link[1], "kim", PASSWORD)
    assert "link made" not in client.get("/").text

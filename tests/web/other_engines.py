"""Stories of a joint in Firefox ESR and in WebKit; run by `make test-deep` alone.

Chromium has the whole one in test_one_joint.py, where it is told, and that without signal in
job/test_offline.py. Without signal means here that nothing listens at the server's address.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager
from pathlib import Path

import pytest
from fastapi import FastAPI
from starlette.types import ASGIApp

from depth import PICTURES
from splicewright.actions.plan.record import RecordedPlan
from splicewright.store import PersonRole
from splicewright.store.accounts.sql import SqlAccounts
from splicewright.store.sql.register import SqlRegister
from web.conftest import Clock, People
from web.engines import DESK, PHONE, Engine, Open, firefox, webkit
from web.looking import SCREENSHOTS
from web.test_one_joint import enter_by_form, one_joint
from web.working import (
    THICKNESS,
    box_at,
    facts_of_job,
    on_the_phone,
    open_step,
    ready,
    sees,
    tick,
    until,
    wait_sent,
    write,
)

Start = Callable[[ASGIApp, Path], AbstractContextManager[Open]]


@pytest.fixture(params=[firefox, webkit], ids=["firefox", "webkit"])
def opened(
    request: pytest.FixtureRequest, app: FastAPI, people: object, tmp_path: Path
) -> Iterator[Open]:
    """Opens pages in one of them."""
    start: Start = request.param
    with start(app, tmp_path / "browser") as opens:
        yield opens


def test_one_joint(
    opened: Open, register: SqlRegister, accounts: SqlAccounts, clock: Clock,
    request: pytest.FixtureRequest,
) -> None:  # fmt: skip
    People(accounts).add(PersonRole.CREW, "Ben Example")
    engine = request.node.callspec.id

    def picture(page: Engine, name: str) -> None:
        if PICTURES:
            page.picture(SCREENSHOTS / f"{name}-{engine}.png")

    one_joint(opened(DESK), opened(PHONE), opened(PHONE), register, clock, picture)


def test_a_job_without_signal(opened: Open, job: RecordedPlan, register: SqlRegister) -> None:
    phone, where = opened(PHONE), f"/jobs/{job.job}"
    enter_by_form(phone, "crew")
    phone.goto(where)  # at once: WebKit hands no worker to a page on its way while that starts
    phone.wait_for_selector("html[data-kept]")
    says = "document.documentElement.dataset.kept === 'true'"
    assert phone.evaluate(f"{says} === (navigator.serviceWorker.controller !== null)")
    phone.reload()
    on_the_phone(phone)
    tick(phone, "isolate", 1)
    wait_sent(phone)

    phone.context.set_offline(True)
    tick(phone, "isolate", 2)
    write(phone, "measure", THICKNESS, "12.5")
    sees(phone, ".outbox-words", "2 entries wait")
    phone.goto(where)
    ready(phone)
    sees(phone, "#copy", "copy on the phone")
    tick(phone, "isolate", 3)
    open_step(phone, "measure")
    there = f"{box_at('measure', THICKNESS)} input"
    assert phone.evaluate(f"document.querySelector('{there}').value") == "12.5"
    assert facts_of_job(register, job.job)[1:] == [("step ticked", "isolate")]

    phone.context.set_offline(False)
    wait_sent(phone)
    phone.goto(where)
    ready(phone)
    # All of it, in the order of the phone, and once.
    assert facts_of_job(register, job.job)[1:] == [
        ("step ticked", "isolate"), ("step ticked", "isolate"), ("value recorded", "12.5 mm"),
        ("step ticked", "isolate"),
    ]  # fmt: skip


def test_what_comes_from_others_moves_nothing_under_a_finger(
    opened: Open, job: RecordedPlan
) -> None:
    """A tap went beside the button that signs: news had come to stand above it meanwhile."""
    others, pages = opened(PHONE), (opened(PHONE), opened(DESK))
    for page, login in ((others, "lead"), (pages[0], "crew"), (pages[1], "crew")):
        enter_by_form(page, login)
        page.goto(f"/jobs/{job.job}")
        ready(page)
    button = "document.querySelector('#sign-off-form button')"
    where, before = f"{button}.getBoundingClientRect().top", []
    for page in pages:
        page.reload()
        ready(page)
        page.evaluate(f"{button}.scrollIntoView({{ block: 'center' }})")
        before.append(page.evaluate(where))
    tick(others, "isolate", 1)
    wait_sent(others)
    for page, there in zip(pages, before, strict=True):
        page.evaluate("dispatchEvent(new Event('online'))")
        until(page, "!document.querySelector('#news').hidden")
        assert page.evaluate("document.querySelector('#news').getBoundingClientRect().height") > 50
        assert abs(page.evaluate(where) - there) < 2

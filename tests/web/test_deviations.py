"""A value that stays outside its limits: who may sign for it, where it shows, when it counts."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from uuid import UUID

from fastapi.testclient import TestClient
from playwright.sync_api import Page, expect

from splicewright.actions.record_plan import RecordedPlan
from splicewright.store import Account, Fact
from splicewright.store.job_facts import DeviationSigned
from splicewright.store.sql import SqlRegister
from web.conftest import Clock, csrf_of, enter
from web.looking import SCREENSHOTS, axe, fits, picture, small_targets
from web.test_job_sync import MakePhone, make_phone
from web.working import THICKNESS, open_job, ready, wait_sent, write

__all__ = ["make_phone"]
STEPS = ("isolate", "clamp", "release", "slack", "measure", "mark", "cut", "punch", "tighten",
         "couple", "check", "run")  # fmt: skip
WHY = "the end was vulcanised thicker years ago"
TO_DO = "longer bolts; measured again at the next stop"


def _form(client: TestClient, job: UUID) -> dict[str, str]:
    """What the page's first form would send, untouched."""
    page = client.get(f"/jobs/{job}/deviations").text
    hidden = re.findall(r'type="hidden" name="(\w+)" value="([^"]*)"', page)
    return dict(reversed(hidden))


def test_a_lead_signs_for_a_value_and_the_job_can_be_closed(
    make_phone: MakePhone, job: RecordedPlan, register: SqlRegister, clock: Clock
) -> None:
    crew, lead = make_phone("crew"), make_phone("lead", "phone 2")
    where = f"/jobs/{job.job}/deviations"
    holds = (crew.sign_hold(job.job, s) for s in STEPS)
    crew.outcomes(crew.value(job.job, 17.0), *holds)
    said = {"why": WHY, "to_do": TO_DO, "until": "2026-06-01"}
    assert crew.client.get(where).status_code == 403
    form = _form(lead.client, job.job) | said
    own = form | {"csrf": csrf_of(crew.client)}
    assert crew.client.post(where, data=own).status_code == 403
    for wrong, told in (
        ({"why": " "}, "is empty; say why"),
        ({"to_do": ""}, "is empty; say what is done"),
        ({"until": "2026-05-03"}, "accepted is from today"),
        ({"until": "soon"}, "is no date"),
        ({"value": "0.0169"}, "was measured anew"),
        ({"sent": ""}, "load it anew"),
    ):
        refused = lead.client.post(where, data=form | wrong)
        assert refused.status_code == 422, wrong
        assert told in refused.text
    for _ in range(2):  # a double tap signs once
        assert lead.client.post(where, data=form).status_code == 303
    (signed,) = [s for s in register.facts_about(job.job) if s.fact.kind == "deviation signed"]
    what = signed.fact.what
    assert isinstance(what, DeviationSigned)
    assert (what.value, what.why, what.to_do) == (0.017, WHY, TO_DO)
    assert what.until == datetime(2026, 6, 1, tzinfo=UTC)
    assert signed.fact.by == "Lead Example"
    state = crew.client.get(f"/jobs/{job.job}/state").json()
    assert state["keepsOpen"] == []
    assert state["judged"][0]["verdict"] == "too large"  # it is called what it is
    # It counts for this value only: measured anew, the limit judges anew.
    crew.outcomes(crew.value(job.job, 17.5))
    assert len(crew.client.get(f"/jobs/{job.job}/state").json()["keepsOpen"]) == 1
    crew.outcomes(crew.value(job.job, 17.0))
    (closed,) = crew.outcomes(crew.sign_off(job.job, 0, closes=True))
    assert closed["status"] == 200
    # For ever on the joint and in the history, and nowhere called safe.
    joint = crew.client.get(f"/joints/{job.joint}").text
    assert "Left outside limits when it was made" in joint and WHY in joint
    history = crew.client.get("/history").text
    assert f"outside {what.limit}, because {WHY}; to do: {TO_DO}, by 2026-06-01" in history
    assert "safe" not in what.statement.casefold()
    assert register.verify().faults == ()


def test_neither_phones_nor_crews_sign_one(
    make_phone: MakePhone, job: RecordedPlan, register: SqlRegister, people: dict[str, Account]
) -> None:
    crew, lead = make_phone("crew"), make_phone("lead", "phone 2")
    crew.outcomes(crew.value(job.job, 17.0))
    lead.client.post(
        f"/jobs/{job.job}/deviations",
        data=_form(lead.client, job.job) | {"why": WHY, "to_do": TO_DO},
    )
    (signed,) = [s for s in register.facts_about(job.job) if s.fact.kind == "deviation signed"]
    what = {
        "job": str(job.job), "step": "measure", "what": THICKNESS, "box": 1, "measure": "length",
        "value": 0.018, "limit": "", "why": "so", "to_do": "nothing", "statement": "",
        "until": None,
    }  # fmt: skip
    undo = {"of": "job", "about": str(job.job), "corrects": str(signed.fact.id), "kind": None,
            "instead": None, "why": "no"}  # fmt: skip
    for phone in (crew, lead):
        sent = phone.outcomes(
            phone.fact("deviation signed") | {"what": what},
            phone.fact("correction") | {"what": undo},
        )
        assert [o["status"] for o in sent] == [422, 422], sent  # a signature is never corrected
    headers = {"X-CSRF": csrf_of(crew.client)}
    item = {"format": 1, "id": str(job.job), "at": "2026-05-04T06:00:00Z", "device": "",
            "kind": "deviation signed", "what": what}  # fmt: skip
    (outcome,) = crew.client.post("/api/1/facts", json={"facts": [item]}, headers=headers).json()[
        "outcomes"
    ]
    assert outcome["faults"][0]["sentence"].startswith("a deviation is for leads and admins")


def test_a_deviation_on_a_phone(phone: Page, job: RecordedPlan, register: SqlRegister) -> None:
    open_job(phone, job, "lead")
    write(phone, "measure", THICKNESS, "17")
    wait_sent(phone)
    expect(phone.locator("#deviation-for")).to_contain_text("cannot be closed until it is right")
    bad = phone.locator("#step-measure [data-state]")
    expect(bad).to_have_text("outside its limits")
    phone.get_by_role("link", name="Sign a deviation").click()
    axe(phone)
    fits(phone)
    assert not small_targets(phone)
    picture(phone, "deviation-phone")
    phone.set_viewport_size({"width": 360, "height": 740})
    fits(phone)
    phone.get_by_label("Why it stays").fill(WHY)
    phone.get_by_label("What is done about it").fill(TO_DO)
    phone.get_by_label("By which day").fill("2026-06-01")
    phone.get_by_role("button", name="Lead Example signs this deviation").click()
    expect(phone.get_by_role("heading", name="Signed")).to_be_visible()
    axe(phone)
    phone.goto(f"/jobs/{job.job}")
    ready(phone)
    expect(phone.locator("#step-measure [data-state]")).to_contain_text("deviation signed")
    expect(phone.locator("#deviations")).to_contain_text("stays at 17 mm, outside")
    expect(phone.locator("#deviations")).to_contain_text("by 2026-06-01. Signed: Lead Example")
    expect(phone.locator("#deviation-for")).to_be_hidden()
    axe(phone)
    fits(phone)
    phone.locator("#deviations").screenshot(path=SCREENSHOTS / "job-deviation-phone.png")
    # On paper, too.
    phone.emulate_media(media="print")
    expect(phone.locator("#deviations")).to_be_visible()
    phone.emulate_media(media="screen")
    write(phone, "measure", THICKNESS, "17.5")
    expect(phone.locator("#deviations")).to_contain_text("Counts no more")
    expect(phone.locator("#deviation-for")).to_be_visible()


def test_a_deviation_on_a_desk(
    desk: Page, job: RecordedPlan, register: SqlRegister, clock: Clock
) -> None:
    from splicewright.quantities import Kind
    from splicewright.store.job_facts import ValueRecorded

    value = ValueRecorded(job.job, "measure", THICKNESS, Kind.LENGTH, 0.017, "17 mm")
    register.append(Fact(job.joint, clock(), "Crew Example", value))
    enter(desk, "lead")
    desk.goto(f"/jobs/{job.job}/deviations")
    axe(desk)
    fits(desk)
    picture(desk, "deviation-desk")

"""What a signature needs: every value or a reason, a lead where values are missing, two people.

Source of what is expected: the rules as stated in docs/register.md; a trial in which 67 taps signed
13 hold points over 37 empty boxes, and one account signed as builder and as checker.
"""

from __future__ import annotations

from collections.abc import Iterator
from uuid import UUID

import pytest
from fastapi import FastAPI
from hypothesis import given, settings
from hypothesis import strategies as st
from playwright.sync_api import Page, expect

from depth import sized
from planned import planned
from splicewright.actions.plan.record import RecordedPlan
from splicewright.job import acceptance, lines_to_tick
from splicewright.store import Account
from splicewright.store.accounts.sql import SqlAccounts
from splicewright.store.facts.job_facts import (
    BUILT,
    CHECKED,
    SIGN_OFFS,
    Gap,
    HoldPointSigned,
    OnePersonAllowed,
    SignedOff,
    StepTicked,
    ValueRecorded,
)
from splicewright.store.present.job_sheet import Answer, Entry, JobSheet, job_sheet
from splicewright.store.present.job_view import for_lead, gaps
from splicewright.store.sql.register import SqlRegister
from web.authority_doors import Doors, opened
from web.conftest import PASSWORD, START, Clock, csrf_of
from web.job.test_sync import STEPS, MakePhone, make_phone
from web.looking import axe, fits, picture, small_targets
from web.people.test_second_factor import App
from web.working import (
    kept,
    open_job,
    ready,
    sign_hold,
    step,
    tick,
    wait_kept,
    wait_sent,
    waiting,
    write,
)

__all__ = ["make_phone"]
WHY = "read on paper, the phone was in the car"
BOXES = 44
"""Of the example job, counted by hand on its printed sheets."""


@pytest.fixture
def doors(
    app: FastAPI, register: SqlRegister, accounts: SqlAccounts, clock: Clock,
    people: dict[str, Account],
) -> Iterator[Doors]:  # fmt: skip
    with opened(app, register, accounts, clock, people, {}) as made:
        yield made


def _off(job: UUID, role: str, *, closes: bool = False) -> SignedOff:
    return SignedOff(job, role, SIGN_OFFS[role], 0, closes)


def test_no_door_signs_a_hold_point_over_empty_boxes(doors: Doors, job: RecordedPlan) -> None:
    plan = planned("incline", "incline-worn-joint")
    measure = next(s for s in plan.steps if s.key == "measure")
    assert measure.hold_point is not None
    empty = gaps(plan, measure, job_sheet(()))
    assert len(empty) == 10 and {g.how for g in empty} == {"missing"}
    crew, lead = doors.people["crew"], doors.people["lead"]
    bare = HoldPointSigned(job.job, "measure", measure.hold_point)
    silent = HoldPointSigned(job.job, "measure", measure.hold_point, " ", empty)
    part = HoldPointSigned(job.job, "measure", measure.hold_point, WHY, empty[:-1])
    for send in doors.all_of(signed=True).values():
        for who in (crew, lead):
            (said,) = send(who, bare)
            assert said.startswith('"Belt thickness, leading end", box 1, is missing, and 9 more')
            (said,) = send(who, silent)
            assert "say why it is signed" in said
            (said,) = send(who, part)
            assert said.startswith('"Belt thickness, trailing end", box 5, is missing: measure it')
        assert send(crew, HoldPointSigned(job.job, "measure", measure.hold_point, WHY, empty)) == ()


def test_no_door_signs_over_a_lock_that_is_not_ticked(doors: Doors, job: RecordedPlan) -> None:
    plan = planned("incline", "incline-worn-joint")
    crew = doors.people["crew"]
    for key in ("isolate", "check"):
        step = next(s for s in plan.steps if s.key == key)
        assert step.hold_point is not None
        over = gaps(plan, step, job_sheet(()))
        signed = HoldPointSigned(job.job, key, step.hold_point, WHY, over)
        lines = lines_to_tick(plan, step)
        assert lines == {"isolate": 4, "check": 10}[key]  # counted on the printed sheets
        for line in range(1, lines + 1):
            for send in doors.all_of(signed=True).values():
                (said,) = send(crew, signed)  # no reason stands in for a lock
                assert said.startswith(f"has {lines - line + 1} line")
            assert doors.sync(crew, StepTicked(job.job, key, line=line)) == ()
        assert doors.sync(crew, StepTicked(job.job, key, False, line)) == ()
        (said,) = doors.sync(crew, signed)
        assert said.startswith("has 1 line not ticked")
        assert doors.sync(crew, StepTicked(job.job, key, line=line)) == ()
        assert doors.sync(crew, signed) == ()


def test_a_value_outside_its_limits_needs_a_reason_too(
    make_phone: MakePhone, job: RecordedPlan
) -> None:
    crew = make_phone("crew")
    crew.outcomes(*crew.fill(job.job), crew.value(job.job, 17.0))
    (refused,) = crew.outcomes(crew.sign_hold(job.job, "measure"))
    assert "box 1, is too large" in refused["faults"][0]["sentence"]
    over = [{"what": "Belt thickness, leading end", "box": 1, "how": "too large"}]
    (taken,) = crew.outcomes(crew.sign_hold(job.job, "measure", WHY, over))
    assert taken["status"] == 200
    state = crew.client.get(f"/jobs/{job.job}/state").json()
    (signed,) = state["holds"]
    assert (signed["why"], signed["gaps"]) == (WHY, over)
    joint = crew.client.get(f"/joints/{job.joint}").text
    assert "Signed without every value" in joint and WHY in joint and "too large" in joint


def test_a_job_with_values_missing_is_closed_by_leads_only_and_the_joint_says_so(
    doors: Doors, make_phone: MakePhone, job: RecordedPlan, register: SqlRegister
) -> None:
    crew, lead = make_phone("crew"), make_phone("lead", "phone 2")
    holds = [crew.sign_hold(job.job, s, WHY) for s in STEPS]
    crew.outcomes(*crew.tick_lines(job.job), *holds)
    state = crew.client.get(f"/jobs/{job.job}/state").json()
    assert state["keepsOpen"] == []
    told = " ".join(state["forLead"])
    assert "Belt thickness, leading end" in told and "Take-up travel used, after" in told
    off = _off(job.job, "I answer for the job", closes=True)
    for send in doors.all_of(signed=True).values():
        (said,) = send(doors.people["crew"], off)
        assert "for leads and admins to close" in said
    # Filled in by crew, it is theirs to close.
    values = crew.fill(job.job)
    crew.outcomes(*values[:-1])
    (said,) = doors.page(doors.people["crew"], off)
    assert said.startswith('"Take-up travel used, after" missing')
    (closed,) = lead.outcomes(
        lead.fact("signed off", job=str(job.job), role="I answer for the job",
                  statement=SIGN_OFFS["I answer for the job"], seen=0, closes=True)
    )  # fmt: skip
    assert closed["status"] == 200
    joint = lead.client.get(f"/joints/{job.joint}").text
    assert "&#34;Belt thickness, leading end&#34; missing (5 boxes)" in joint
    assert "with " in lead.client.get("/history").text
    assert register.verify().faults == ()


@settings(max_examples=sized(15, deep=300))
@given(st.data())
def test_what_is_missing_is_what_was_not_written(data: st.DataObject) -> None:
    """Brute force over any filling: a box is a gap when nothing was written, or it is outside."""
    plan = planned("incline", "incline-worn-joint")
    job, expected = UUID(int=1), set()
    sheet_asked = acceptance(plan)
    assert sheet_asked is not None
    asked = {s.key: list(s.readings) for s in plan.steps}
    asked["check"] += sheet_asked.measured
    places = [
        (key, r, box) for key, found in asked.items() for r in found if not r.of_pair
        for box in range(1, r.boxes + 1)
    ]  # fmt: skip
    assert len(places) == BOXES
    filled = data.draw(st.sets(st.integers(0, len(places) - 1)))
    values = {}
    for n, (key, r, box) in enumerate(places):
        if n not in filled:
            expected.add((key, r.what, box))
            continue
        what = ValueRecorded(job, key, r.what, r.kind, 0.5, "0.5", box)
        entry = Entry(UUID(int=n), n, "Eve", START, "phone", what)
        values[key, r.what, box] = Answer((entry,), conflict=False)
    sheet = JobSheet({}, values, {}, (), {}, (), (), ())
    found = {
        (s.key, g.what, g.box) for s in plan.steps for g in gaps(plan, s, sheet)
        if g.how == "missing"
    }  # fmt: skip
    assert found == expected
    assert bool(for_lead(plan, sheet)) == bool(expected)


def test_builder_and_checker_are_two_people_at_every_door(doors: Doors, job: RecordedPlan) -> None:
    crew, lead = doors.people["crew"], doors.people["lead"]
    sends = list(doors.all_of(signed=True).values())
    assert sends[0](crew, _off(job.job, BUILT)) == ()
    for send in sends:
        (said,) = send(crew, _off(job.job, CHECKED))
        assert "another person must check" in said
    assert sends[0](lead, _off(job.job, CHECKED)) == ()
    for send in sends:
        (said,) = send(lead, _off(job.job, BUILT))
        assert "another person must sign as builder" in said
    # As crew they cannot allow themselves; a lead can, with the reason.
    for send in doors.all_of().values():
        (said,) = send(crew, OnePersonAllowed(job.job, "nobody else is here"))
        assert "leads and admins" in said or "at the desk" in said
    assert doors.page(lead, OnePersonAllowed(job.job, "site rule 12: night shift of one")) == ()
    assert doors.sync(crew, _off(job.job, CHECKED)) == ()
    page = doors._client(crew).get(f"/joints/{job.joint}").text
    assert "One person was allowed to build and check it" in page
    assert "site rule 12: night shift of one" in page


def test_a_second_person_signs_on_the_same_phone_with_their_own_password(
    make_phone: MakePhone, job: RecordedPlan, register: SqlRegister
) -> None:
    crew = make_phone("crew")
    crew.outcomes(crew.fact("signed off", job=str(job.job), role=BUILT, statement=SIGN_OFFS[BUILT],
                            seen=0, closes=False))  # fmt: skip
    where = f"/jobs/{job.job}/second-person"
    form = {"csrf": csrf_of(crew.client), "role": CHECKED, "seen": "3"}
    for login, password, told in (
        ("lead", "wrong words here", "do not belong together"),
        ("crew", PASSWORD, "another person must check"),
        ("viewer", PASSWORD, "is for crew, leads and admins"),
    ):
        refused = crew.client.post(where, data=form | {"login": login, "password": password})
        assert refused.status_code == 422 and told in refused.text, login
        assert PASSWORD not in refused.text
    assert crew.client.post(where, data=form | {"login": "lead", "password": PASSWORD, "seen": ""}
                            ).status_code == 422  # fmt: skip
    done = crew.client.post(where, data=form | {"login": "lead", "password": PASSWORD})
    assert done.status_code == 303
    signed = job_sheet(register.facts_about(job.job)).signatures
    assert [(e.by, e.what.role) for e in signed if isinstance(e.what, SignedOff)] == [
        ("Crew Example", BUILT), ("Lead Example", CHECKED),
    ]  # fmt: skip
    assert "Crew Example, crew" in crew.client.get(where).text  # the phone is still theirs


def test_a_second_person_with_a_second_factor_gives_its_code(
    make_phone: MakePhone, job: RecordedPlan, accounts: SqlAccounts, clock: Clock,
    people: dict[str, Account], register: SqlRegister,
) -> None:  # fmt: skip
    crew, app = make_phone("crew"), App(accounts, clock, people["lead"])
    app.set()
    clock.pass_(minutes=1)  # a code counts once
    where = f"/jobs/{job.job}/second-person"
    form = {"csrf": csrf_of(crew.client), "login": "lead", "password": PASSWORD,
            "role": CHECKED, "seen": str(register.version(job.job))}  # fmt: skip
    for code in ("", "000000"):
        page = crew.client.post(where, data=form | {"code": code})
        assert page.status_code == 422 and "recovery code" in page.text
    assert job_sheet(register.facts_about(job.job)).signatures == ()
    assert crew.client.post(where, data=form | {"code": app.code()}).status_code == 303
    (signed,) = job_sheet(register.facts_about(job.job)).signatures
    assert signed.by == "Lead Example"


def test_hold_points_over_empty_boxes_on_a_phone(
    phone: Page, job: RecordedPlan, register: SqlRegister
) -> None:
    open_job(phone, job)
    phone.context.set_offline(True)
    for key in ("park", "permit"):
        sign_hold(phone, key)
    for line in range(1, 5):
        tick(phone, "isolate", line)
    for key in ("isolate", "place"):
        sign_hold(phone, key)
    edges, width = "Belt thickness at the left and right edge", "Belt width, both ends"
    for number in (1, 2):
        write(phone, "whole", edges, "12", number)
    write(phone, "whole", width, "1000")
    whole = step(phone, "whole")
    expect(whole.locator("[data-gaps]")).to_contain_text(f'"{width}"')
    before = kept(phone)
    whole.locator("[data-sign]").click()
    dialog = phone.get_by_role("dialog")
    expect(dialog).to_contain_text("It stays on the joint for good")
    phone.locator("#ask-yes").click()
    expect(dialog).to_be_visible()  # no reason, no signature
    picture(phone, "hold-point-with-a-gap-phone")
    axe(phone)
    phone.locator("#ask-reason").fill(WHY)
    phone.locator("#ask-yes").click()
    wait_kept(phone, before + 2)
    expect(whole).to_contain_text(f"Why: {WHY}")
    expect(whole.locator("[data-state]")).to_have_text("signed with gaps")
    assert waiting(phone)[-1]["what"]["gaps"] == [{"what": width, "box": 2, "how": "missing"}]
    phone.context.set_offline(False)
    wait_sent(phone)
    (signed,) = job_sheet(register.facts_about(job.job)).hold_points["whole"]
    assert isinstance(signed.what, HoldPointSigned)
    assert signed.what.gaps == (Gap(width, 2, "missing"),)
    phone.locator('input[name="role"][value="I answer for the job"]').check()
    phone.get_by_label("The job is over").check()
    expect(phone.locator("#for-lead")).to_contain_text("only a lead can close the job")
    expect(phone.locator("#sign-off-form button")).to_be_disabled()


def test_the_checker_signs_on_the_builders_phone(phone: Page, job: RecordedPlan) -> None:
    open_job(phone, job)
    phone.locator(f'input[name="role"][value="{BUILT}"]').check()
    phone.locator("#sign-off-form button").click()
    expect(phone.locator("#signed")).to_contain_text(BUILT)
    phone.locator(f'input[name="role"][value="{CHECKED}"]').check()
    expect(phone.locator("#same-person")).to_contain_text("Builder and checker are two people")
    expect(phone.locator("#sign-off-form button")).to_be_disabled()
    picture(phone, "builder-cannot-check-phone")
    wait_sent(phone)
    phone.locator("#same-person a").click()
    expect(phone.get_by_role("heading", name="Another person signs")).to_be_visible()
    fits(phone)
    assert small_targets(phone) == []
    axe(phone)
    picture(phone, "second-person-phone")
    phone.locator(f'input[name="role"][value="{CHECKED}"]').check()
    phone.get_by_label("Name you sign in with").fill("lead")
    phone.get_by_label("Your password").fill(PASSWORD)
    phone.get_by_role("button", name="Sign", exact=True).click()
    ready(phone)
    expect(phone.locator("#signed")).to_contain_text("Lead Example")

"""A job planned again while it is in hand: what moved, what stays done, what arrives late.

Source of what is expected: the two printed crew packs (a belt of 12.1 mm instead of 14.5 mm takes
shorter bolts of the same size: no hole moves, the steps from setting on do), and the rule that a
hold point whose values moved is signed anew, while nothing that a crew wrote is ever lost.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any
from uuid import uuid4

import pytest
from fastapi.testclient import TestClient
from playwright.sync_api import Page, expect

from planned import SITE, planned
from splicewright.actions.job.read import read_job
from splicewright.actions.plan.again import answers_of, draft_again, record_again
from splicewright.actions.plan.record import RecordedPlan, record_job
from splicewright.actions.shutdown.plan import Hands, open_jobs, plan_shutdown
from splicewright.errors import InputError
from splicewright.job import JointPlan, asked_of, lines_to_tick, printed_limits
from splicewright.joint import load_ranges
from splicewright.quantities import Kind
from splicewright.store import Account, Actor, Fact
from splicewright.store.facts.job_facts import (
    DEVIATION,
    DeviationSigned,
    HoldPointSigned,
    JobOpened,
    StepTicked,
    ValueRecorded,
)
from splicewright.store.facts.joint_facts import JointPutToWork
from splicewright.store.present.job_view import JobView, gaps
from splicewright.store.sql.register import SqlRegister
from web.conftest import START, Clock, csrf_of, enter
from web.looking import axe, fits, picture, small_targets
from web.planned import keep_ranges
from web.working import open_job, ready, see_new_plan, sign_hold, step, tick, wait_sent, write

RANGES = load_ranges((SITE / "fasteners",))
WHY = "the cut showed a thinner belt"
LEADING = "Belt thickness, leading end"


def thinner(before: JointPlan, thickness: str = "12.1 mm") -> JointPlan:
    answers = answers_of(before.work, "metric") | {"thickness": [thickness] * 5}
    draft = draft_again(before, before.conveyor, answers, "metric", RANGES)
    assert draft.plan is not None
    return draft.plan


class Crew:
    """Somebody who writes on a job, by whichever plan lies before them."""

    def __init__(self, register: SqlRegister, who: Account, job: RecordedPlan, plan: JointPlan):
        self.register, self.who, self.job, self.plan = register, who, job, plan

    def own_register(self) -> SqlRegister:
        who = self.who
        return self.register.said_by(
            Actor(who.account, who.name, who.role, phone=True, sites=who.sites)
        )

    def append(self, *what: Any) -> None:
        for one in what:
            self.own_register().append(
                Fact(
                    uuid4(),
                    START,
                    self.who.name,
                    one,
                    self.who.account,
                    "phone of " + self.who.login,
                )
            )

    def tick(self, key: str, *, named: bool = True) -> None:
        step = next(s for s in self.plan.steps if s.key == key)
        by = self.plan.id if named else ""
        for line in range(1, lines_to_tick(self.plan, step) + 1):
            self.append(StepTicked(self.job.job, key, line=line, plan=by))
        self.append(StepTicked(self.job.job, key, plan=by))

    def sign(self, key: str, *, named: bool = True) -> None:
        self.tick(key, named=named)
        view = read_job(self.register, self.job.job)
        assert view is not None
        step = next(s for s in self.plan.steps if s.key == key)
        found = gaps(self.plan, step, view.sheet)
        self.append(
            HoldPointSigned(
                self.job.job, key, step.hold_point or "", "on paper" if found else "", found,
                self.plan.id if named else "",
            )
        )  # fmt: skip


@pytest.fixture
def first() -> JointPlan:
    return planned("incline", "incline-worn-joint")


@pytest.fixture
def crew(
    register: SqlRegister, people: dict[str, Account], job: RecordedPlan, first: JointPlan
) -> Crew:
    return Crew(register, people["crew"], job, first)


def _again(register: SqlRegister, job: RecordedPlan, plan: JointPlan, seen: int = 1) -> int:
    return record_again(register, job.job, plan, WHY, seen=seen, by="Lead Example", now=START)


def _view(register: SqlRegister, job: RecordedPlan) -> JobView:
    view = read_job(register, job.job)
    assert view is not None
    return view


def test_steps_stay_done_where_they_hold_and_are_signed_anew_where_they_moved(
    register: SqlRegister, job: RecordedPlan, crew: Crew, first: JointPlan
) -> None:
    for key in ("park", "permit", "isolate", "cut", "measure", "tighten"):
        crew.sign(key)
    crew.tick("seat")
    second = thinner(first)
    assert _again(register, job, second) == 2
    view = _view(register, job)
    assert view.plan is not None and view.plan.id == second.id and len(view.versions) == 2
    assert set(view.sheet.hold_points) == {"park", "permit", "isolate", "cut"}
    assert ("seat", 0) not in view.sheet.ticks and ("cut", 0) in view.sheet.ticks
    assert {("isolate", line) for line in (1, 2, 3)} <= set(view.sheet.ticks)
    told = {(e.what.step, type(e.what).__name__) for e in view.sheet.overtaken}  # type: ignore[attr-defined]
    assert told == {
        ("measure", "HoldPointSigned"), ("measure", "StepTicked"), ("seat", "StepTicked"),
        ("tighten", "HoldPointSigned"), ("tighten", "StepTicked"),
    }  # fmt: skip
    open_ = " ".join(view.keeps_open())
    assert "Measure across the fresh cut" in open_ and "Cut the ends" not in open_
    anew = Crew(register, crew.who, job, second)
    anew.sign("measure")
    assert "measure" in _view(register, job).sheet.hold_points
    assert register.verify().faults == ()


def test_what_was_done_by_the_first_version_and_arrives_after_the_second_is_kept_and_shown(
    register: SqlRegister, job: RecordedPlan, crew: Crew, first: JointPlan
) -> None:
    """The phone was in the pit when the job was planned again at the desk."""
    _again(register, job, thinner(first))
    crew.sign("park")
    crew.append(ValueRecorded(job.job, "measure", LEADING, Kind.LENGTH, 0.0121, "12.1 mm"))
    crew.sign("measure")
    crew.tick("seat")
    view = _view(register, job)
    assert "park" in view.sheet.hold_points  # the same in both
    assert "measure" not in view.sheet.hold_points and ("seat", 0) not in view.sheet.ticks
    assert ("measure", LEADING, 1) in view.sheet.values  # what was measured is measured
    kinds = [type(e.what).__name__ for e in view.sheet.overtaken]
    assert kinds == ["StepTicked", "HoldPointSigned", "StepTicked"]


def test_an_entry_that_names_no_plan_counts_only_where_every_version_asks_the_same(
    register: SqlRegister, job: RecordedPlan, crew: Crew, first: JointPlan
) -> None:
    crew.sign("park", named=False)
    second = thinner(first)
    _again(register, job, second)
    anew = Crew(register, crew.who, job, second)
    anew.tick("seat", named=False)
    anew.tick("open", named=False)
    view = _view(register, job)
    assert ("seat", 0) not in view.sheet.ticks and ("open", 0) in view.sheet.ticks
    anew.tick("seat")
    assert ("seat", 0) in _view(register, job).sheet.ticks


def test_locks_of_the_first_version_do_not_let_the_isolation_of_the_second_be_signed(
    register: SqlRegister, job: RecordedPlan, crew: Crew, first: JointPlan
) -> None:
    crew.sign("isolate")
    answers = answers_of(first.work, "metric") | {"people": ["4"]}  # a fourth lock
    second = draft_again(first, first.conveyor, answers, "metric", RANGES).plan
    assert second is not None
    _again(register, job, second)
    assert "isolate" not in _view(register, job).sheet.hold_points
    step = next(s for s in second.steps if s.key == "isolate")
    bare = HoldPointSigned(job.job, "isolate", step.hold_point or "", plan=second.id)
    with pytest.raises(InputError, match="4 lines not ticked"):
        crew.append(bare)
    Crew(register, crew.who, job, second).sign("isolate")
    assert "isolate" in _view(register, job).sheet.hold_points


def test_a_deviation_holds_under_the_limits_that_its_signer_read(
    register: SqlRegister, job: RecordedPlan, crew: Crew, first: JointPlan
) -> None:
    ends = "Belt thickness, one end against the other"
    crew.append(ValueRecorded(job.job, "check", ends, Kind.LENGTH, 0.0045, "4.5 mm"))
    step = next(s for s in first.steps if s.key == "check")
    reading = next(r for r in asked_of(first, step) if r.what == ends)
    signed = DeviationSigned(
        job.job, "check", ends, 1, Kind.LENGTH, 0.0045, "at most 3.1 mm", "skived", "look again",
        DEVIATION, None, *printed_limits(reading),
    )  # fmt: skip
    register.append(_console(signed))
    assert len(_view(register, job).sheet.deviations) == 1
    _again(register, job, thinner(first))  # 2.7 mm now
    view = _view(register, job)
    assert view.sheet.deviations == ()
    assert any(isinstance(e.what, DeviationSigned) for e in view.sheet.overtaken)
    assert any("too large" in said for said in view.keeps_open())


def _console(what: Any) -> Any:
    return Fact(uuid4(), START, "Lead Example", what, None, "desk")


def test_who_may_and_when(
    register: SqlRegister, job: RecordedPlan, people: dict[str, Account], first: JointPlan,
    clock: Clock,
) -> None:  # fmt: skip
    second = thinner(first)
    crew = people["crew"]
    theirs = register.said_by(Actor(crew.account, crew.name, crew.role, sites=crew.sites))
    with pytest.raises(InputError, match="leads and admins"):
        record_again(
            theirs, job.job, second, WHY, seen=1, by=crew.name, now=clock(), person=crew.account
        )
    with pytest.raises(InputError, match="nothing is changed"):
        _again(register, job, first)
    with pytest.raises(InputError, match="why"):
        record_again(register, job.job, second, " ", seen=1, by="Lead Example", now=START)
    _again(register, job, second)
    with pytest.raises(InputError, match="meanwhile: version 2"):
        _again(register, job, thinner(first, "13.2 mm"))
    assert _again(register, job, first, seen=2) == 3  # back to what it was: a version, too
    register.append(_console(JointPutToWork(job.joint)))
    with pytest.raises(InputError, match="running; plan a new joint"):
        _again(register, job, second, seen=3)


def test_the_page_shows_what_moves_and_a_double_tap_records_one(
    register: SqlRegister, job: RecordedPlan, signed_in: Callable[[str], TestClient],
    first: JointPlan,
) -> None:  # fmt: skip
    conveyor = register.conveyor(register.job(job.job).conveyor)  # type: ignore[union-attr]
    assert conveyor is not None
    keep_ranges(register, conveyor.site)
    lead, crew = signed_in("lead"), signed_in("crew")
    where = f"/jobs/{job.job}/plan-again"
    assert crew.get(where).status_code == 403
    page = lead.get(where).text
    assert 'value="14.5 mm"' in page and "version 2 of the plan" in page
    fields = answers_of(first.work, "metric") | {"thickness": ["12.1 mm"] * 5}
    ranges = page.split('name="ranges" value="')[1:]
    form: dict[str, Any] = {k: v for k, v in fields.items() if k != "name"} | {
        "ranges": [r.split('"')[0] for r in ranges], "why": WHY, "seen": "1",
        "csrf": csrf_of(lead),
    }  # fmt: skip
    shown = lead.post(f"{where}/answer", data=form).text
    assert "⌀ 10 mm × 44 mm" in shown and "Set plates and bolts</b>: changed" in shown
    assert len(_view(register, job).versions) == 1
    refused = lead.post(where, data=form | {"why": ""})
    assert refused.status_code == 422 and "say why the job is planned again" in refused.text
    wrong = lead.post(where, data=form | {"people": "many"})
    assert wrong.status_code == 422 and "no whole number of people" in wrong.text
    for _ in range(2):
        assert lead.post(where, data=form).status_code == 303
    assert len(_view(register, job).versions) == 2
    told = crew.get(f"/jobs/{job.job}").text
    assert "Version 2 of the plan: the cut showed a thinner belt" in told
    state = crew.get(f"/jobs/{job.job}/state").json()
    assert [e["why"] for e in state["again"]] == [WHY]


def test_the_crews_phone_is_told_and_goes_on(
    phone: Page, desk: Page, job: RecordedPlan, register: SqlRegister
) -> None:
    conveyor = register.conveyor(register.job(job.job).conveyor)  # type: ignore[union-attr]
    assert conveyor is not None
    keep_ranges(register, conveyor.site)
    open_job(phone, job)
    for key in ("park", "permit"):
        sign_hold(phone, key)
    for box in range(1, 6):
        write(phone, "measure", LEADING, "12.1", box)
    expect(step(phone, "measure").locator("[data-feeds]")).to_contain_text("ask a lead")
    wait_sent(phone)
    phone.context.set_offline(True)
    tick(phone, "seat")  # by version 1, and it arrives after version 2

    enter(desk, "lead")
    desk.goto(f"/jobs/{job.job}")
    ready(desk)
    step(desk, "measure").get_by_role("link", name="plan again with these").click()
    expect(desk.locator("#f-thickness-1")).to_have_value("12.1 mm")
    expect(desk.get_by_role("heading", name="What changes")).to_be_visible()
    axe(desk)
    fits(desk)
    assert not small_targets(desk)
    picture(desk, "plan-again-desk")
    desk.get_by_role("button", name="Make version 2").click()
    desk.wait_for_url(lambda url: "plan-again" not in url)
    see_new_plan(desk)
    expect(desk.locator("#moved")).to_contain_text("Version 2 of the plan")

    phone.context.set_offline(False)
    wait_sent(phone)
    expect(phone.locator("#copy")).to_contain_text("The job was planned again.")
    picture(phone, "planned-again-phone")
    see_new_plan(phone)
    expect(phone.locator("#step-park [data-state]")).to_have_text("done, signed")
    expect(phone.locator("#step-seat [data-state]")).to_have_text("open")
    expect(phone.locator("#strays")).to_contain_text("Set plates and bolts: done (Crew Example")
    phone.locator("#moved summary").first.click()
    axe(phone)
    fits(phone)
    assert not small_targets(phone)
    picture(phone, "job-version-2-phone")
    tick(phone, "seat")
    expect(phone.locator("#step-seat [data-state]")).to_have_text("done")


def test_a_job_without_a_joint_is_planned_again_as_its_own_next_version(
    register: SqlRegister,
    job: RecordedPlan,
    people: dict[str, Account],
    signed_in: Callable[[str], TestClient],
) -> None:
    """The job keeps its plans itself; nobody but a lead changes one, by whichever fact."""
    rip = planned("incline", "incline-rip")
    there = register.job(job.job)
    assert there is not None
    mend = record_job(register, rip, conveyor=there.conveyor, by="Lead Example", now=START)
    answers = answers_of(rip.work, "metric")
    longer = draft_again(
        rip, rip.conveyor, answers | {"damage_length": ["6 m"]}, "metric", RANGES
    ).plan
    assert longer is not None and longer.id != rip.id
    crew = people["crew"]
    theirs = register.said_by(Actor(crew.account, crew.name, crew.role, sites=crew.sites))
    with pytest.raises(InputError, match="leads and admins"):
        record_again(
            theirs, mend, longer, WHY, seen=1, by=crew.name, now=START, person=crew.account
        )
    digest = register.keep(longer.to_json().encode(), "application/json")
    slipped = JobOpened(mend, there.conveyor, "mend", None, digest, longer.id)
    with pytest.raises(InputError, match="leads and admins"):
        theirs.append(Fact(uuid4(), START, crew.name, slipped, crew.account, "phone"))
    renamed = JobOpened(mend, there.conveyor, "the rip")
    theirs.append(Fact(uuid4(), START, crew.name, renamed, crew.account, "phone"))
    joined = planned("incline", "incline-worn-joint")
    with pytest.raises(InputError, match="this job makes none"):
        record_again(register, mend, joined, WHY, seen=1, by="Lead Example", now=START)
    assert record_again(register, mend, longer, WHY, seen=1, by="Lead Example", now=START) == 2
    view = read_job(register, mend)
    assert view is not None and view.plan is not None
    assert view.plan.id == longer.id and [p.id for p in view.earlier] == [rip.id]
    assert view.job.name == "the rip"
    lead = signed_in("lead")
    page = lead.get(f"/jobs/{mend}").text
    assert f"/jobs/{mend}/plan-again" in page and f"/jobs/{mend}/parts" in page
    assert "Plan the rip again" in lead.get(f"/jobs/{mend}/plan-again").text
    parts = lead.get(f"/jobs/{mend}/parts")
    assert parts.status_code == 200 and "plate for repairs along the belt" in parts.text
    assert mend in {j.job for j in open_jobs(register)}
    study = plan_shutdown(register, START, [mend], "12 h", Hands(longer.work.crew))
    titles = {task.name.partition(": ")[2] for task in study.shutdown.tasks}
    assert "Plates across the rip" in titles

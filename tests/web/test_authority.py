"""Who may say what, held at every door: a table of kinds, roles and states, and the faults found.

The table is written here by hand, from docs/register.md, and not taken from `store.authority`.
"""

from __future__ import annotations

import html
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any
from uuid import UUID, uuid4

import pytest
from click.testing import CliRunner
from fastapi import FastAPI
from fastapi.testclient import TestClient

from depth import DEEP
from planned import planned
from splicewright.actions.job.read import read_job
from splicewright.actions.plan.record import RecordedPlan
from splicewright.background.requests import ask_import
from splicewright.cli import main
from splicewright.joint.inspection.verdict import PlateState, Verdict
from splicewright.joint.layout import End
from splicewright.quantities import Kind
from splicewright.store import Account, Actor, NotAllowedError, PersonRole, Scope, Stream, What
from splicewright.store.accounts.sql import SqlAccounts
from splicewright.store.authority import (
    DECIDED,
    DUE,
    LIMITS,
    MAY_RUN,
    MUST_NOT_RUN,
    REASON,
    RULES,
)
from splicewright.store.facts import job_facts as job_said
from splicewright.store.facts import joint_facts as joint_said
from splicewright.store.facts import photo_facts as photo_said
from splicewright.store.facts import plant_facts as plant_said
from splicewright.store.facts.joint_facts import (
    DueSet,
    InspectionClosed,
    JointPutToWork,
    JointRemoved,
    JointSuspended,
    Task,
)
from splicewright.store.facts.kinds import KINDS, kind_of
from splicewright.store.present.present import State
from splicewright.store.sql.register import SqlRegister
from web.authority_doors import Doors, Sends, opened
from web.calling import Office
from web.conftest import Begun, Clock, csrf_of, ready_sessions

ROLES = ("viewer", "crew", "lead", "admin")
LEADS = {
    "site added", "conveyor recorded", "fasteners recorded", "due set", "wear limit set",
    "deviation signed", "one person allowed", "job planned again",
}  # fmt: skip
"""Kinds for leads and admins; "person added" is for admins, everything else for crew too."""
PLAN = {"site added", "conveyor recorded", "fasteners recorded", "job planned again"}
"""Kinds for which a token needs the scope plan."""
DESK = LEADS | {
    "belt placed", "belt piece placed", "belt piece removed", "joint planned", "joint described",
    "joint assessed", "job opened", "person added", "photograph measured",
}  # fmt: skip
"""Kinds that no phone keeps for later."""
CORRECTED_BY_LEADS = LEADS | {"joint planned", "job opened"}
KIND_NAMES = sorted(set(KINDS) - {"correction"})


@pytest.fixture
def doors(
    app: FastAPI, register: SqlRegister, accounts: SqlAccounts, clock: Clock,
    people: dict[str, Account], begun: Begun,
) -> Iterator[Doors]:  # fmt: skip
    ready = ready_sessions(accounts, begun)
    with opened(app, register, accounts, clock, people, ready) as made:
        yield made


class World:
    """What facts of every kind are about: a conveyor, a belt, a running joint, an open job."""

    def __init__(self, doors: Doors, job: RecordedPlan) -> None:
        self.doors, self.register = doors, doors.register
        now = self.register.joint(job.joint)
        assert now is not None
        self.joint, self.job, self.conveyor = job.joint, job.job, now.conveyor
        there = self.register.conveyor(self.conveyor)
        assert there is not None
        self.site, self.name, self.file = there.site, there.name, there.file
        self.belt, self.part = uuid4(), uuid4()
        doors.console(plant_said.BeltPlaced(self.belt, self.conveyor, "main", 240.0))
        doors.console(joint_said.JointBuilt(self.joint))
        doors.console(JointPutToWork(self.joint))
        view = read_job(self.register, self.job)
        assert view is not None and view.plan is not None and now.plan is not None
        self.plan, self.digest = view.plan, now.plan
        self.photo = self.register.keep(b"as a camera made it", "image/jpeg")

    def forbid(self) -> UUID:
        """An inspection finds that the joint must not run; its fact."""
        return self.doors.console(InspectionClosed(self.joint, uuid4(), False, note="cracked"))

    def says(self, kind: str) -> What:
        """A fact of that kind as it would be said in good faith."""
        hold = next(s for s in self.plan.steps if s.hold_point is not None)
        role = "I built it"
        width = "Belt thickness, leading end"
        made: dict[str, Callable[[], What]] = {
            "site added": lambda: plant_said.SiteAdded(self.site, "Karst Hollow, renamed"),
            "conveyor recorded": lambda: plant_said.ConveyorRecorded(
                self.conveyor, self.site, self.name, self.file, 300.0, 2.0),
            "fasteners recorded": lambda: plant_said.FastenersRecorded(self.site, "range", None),
            "person added": lambda: plant_said.PersonAdded(uuid4(), "Eve Invented"),
            "belt placed": lambda: plant_said.BeltPlaced(uuid4(), self.conveyor, "new", 240.0),
            "belt piece placed": lambda: plant_said.PiecePlaced(
                self.belt, uuid4(), "piece", 1.0, 5.0),
            "belt piece removed": lambda: plant_said.PieceRemoved(self.belt, self.part),
            "damage found": lambda: plant_said.DamageFound(
                self.belt, uuid4(), 1.0, 0.1, plant_said.Grade.WATCH),
            "damage mended": lambda: plant_said.DamageMended(self.belt, self.part),
            "stock moved": lambda: plant_said.StockMoved(self.site, "bolt", 4.0),
            "joint planned": lambda: joint_said.JointPlanned(uuid4(), self.conveyor, "J99"),
            "joint described": lambda: joint_said.JointDescribed(self.joint, 22, True),
            "joint built": lambda: joint_said.JointBuilt(self.joint),
            "joint put to work": lambda: JointPutToWork(self.joint),
            "joint suspended": lambda: JointSuspended(self.joint),
            "joint removed": lambda: JointRemoved(self.joint, joint_said.Mode.RENEWED),
            "joint seen": lambda: joint_said.JointSeen(self.joint, 12.0),
            "plate inspected": lambda: joint_said.PlateInspected(
                self.joint, uuid4(), End.LEADING, 3, PlateState.WORN),
            "end inspected": lambda: joint_said.EndInspected(
                self.joint, uuid4(), End.LEADING, 22),
            "plate judged": lambda: joint_said.PlateJudged(
                self.joint, uuid4(), End.LEADING, 3, 0.5),
            "joint measured": lambda: joint_said.JointMeasured(self.joint, uuid4(), 0.011),
            "joint assessed": lambda: joint_said.JointAssessed(
                self.joint, uuid4(), Verdict.WATCH, self.digest),
            "phone verdict": lambda: joint_said.PhoneVerdict(
                self.joint, uuid4(), Verdict.WATCH, 1.2, 2.0),
            "inspection closed": lambda: InspectionClosed(self.joint, uuid4(), note="looked at"),
            "joint re-tightened": lambda: joint_said.JointRetightened(self.joint),
            "due set": lambda: DueSet(
                self.joint, Task.RENEW, self.doors.clock() + timedelta(days=9), "forecast"),
            "reading taken": lambda: joint_said.ReadingTaken(
                Stream.JOINT, self.joint, "pin", Kind.LENGTH, 0.012, "12 mm"),
            "wear limit set": lambda: joint_said.WearLimitSet(
                Stream.JOINT, self.joint, "pin", 0.003, "3 mm", "site rule"),
            "photograph added": lambda: joint_said.PhotoAdded(
                Stream.JOB, self.job, self.photo, step=hold.key),
            "photograph measured": lambda: photo_said.PhotographMeasured(
                Stream.JOB, self.job, uuid4(), self.digest, (), photo_said.TAKEN),
            "job opened": lambda: job_said.JobOpened(
                self.job, self.conveyor, "renamed", self.joint),
            "step ticked": lambda: job_said.StepTicked(self.job, hold.key),
            "value recorded": lambda: job_said.ValueRecorded(
                self.job, "measure", width, Kind.LENGTH, 0.015, "15 mm"),
            "step timed": lambda: job_said.StepTimed(self.job, hold.key, 60.0),
            "hold point signed": lambda: job_said.HoldPointSigned(
                self.job, hold.key, hold.hold_point or ""),
            "deviation signed": lambda: job_said.DeviationSigned(
                self.job, "measure", width, 1, Kind.LENGTH, 0.017, "14 to 16 mm", "so", "look",
                job_said.DEVIATION),
            "one person allowed": lambda: job_said.OnePersonAllowed(self.job, "night shift of one"),
            "job planned again": lambda: job_said.JobPlannedAgain(
                self.job, planned("incline", "incline-worn-joint").id, "measured thinner"),
            "job commented": lambda: job_said.JobCommented(self.job, "wind from the west"),
            "job handed over": lambda: job_said.JobHandedOver(self.job, "night shift"),
            "signed off": lambda: job_said.SignedOff(
                self.job, role, job_said.SIGN_OFFS[role], self.register.version(self.job)),
        }  # fmt: skip
        return made[kind]()


@pytest.fixture
def world(doors: Doors, job: RecordedPlan) -> World:
    return World(doors, job)


def may(kind: str, role: str) -> bool:
    """The table: whether a role may say a kind, whatever the door."""
    least = "admin" if kind == "person added" else "lead" if kind in LEADS else "crew"
    return ROLES.index(role) >= ROLES.index(least)


def test_every_kind_has_a_rule_and_phones_keep_what_the_table_says() -> None:
    assert set(RULES) == set(KINDS)
    assert {name for name, rule in RULES.items() if not rule.phone} == DESK
    assert {n for n, rule in RULES.items() if rule.role is not PersonRole.CREW} == (
        LEADS | {"person added"}
    )


def at_doors(doors: Doors, allowed: Callable[[str], bool]) -> Iterator[tuple[str, str, Sends]]:
    """Who tries it at which door.

    Every role where pages record, which is where the rule is asked. At the doors in front of it the
    two roles between which it changes; all of them in the deep run.
    """
    least = next(n for n, role in enumerate(ROLES) if allowed(role))
    for role in ROLES:
        edge = DEEP or role in ROLES[max(0, least - 1) : least + 1]
        for name, send in doors.all_of().items():
            if edge or name == "page":
                yield role, name, send


@pytest.mark.parametrize("kind", KIND_NAMES)
def test_who_may_say_it_at_every_door(world: World, kind: str) -> None:
    doors, what = world.doors, world.says(kind)
    signed = kind_of(what).signed
    for role, name, send in at_doors(doors, lambda role: may(kind, role)):
        who = doors.people[role]
        said = send(who, world.says(kind))
        allowed = may(kind, role)
        allowed &= not (name == "sync" and kind in DESK) and not (name == "key" and signed)
        assert (said == ()) == allowed, (kind, role, name, said)
        assert all(sentence and len(said) == 1 for sentence in said), said


@pytest.mark.parametrize("kind", [k for k in KIND_NAMES if not KINDS[k].signed])
def test_a_correction_needs_the_authority_of_what_it_corrects(world: World, kind: str) -> None:
    doors = world.doors
    # A suspension withdrawn, the joint would go back to work.
    by_leads = CORRECTED_BY_LEADS | {"joint suspended"}

    def allowed(role: str) -> bool:
        return may(kind, role) and not (role == "crew" and kind in by_leads)

    for role, name, send in at_doors(doors, allowed):
        recorded = doors.console(world.says(kind))
        said = send(doors.people[role], doors.correct(recorded))
        if said:
            doors.console(doors.correct(recorded))
        assert (said == ()) == allowed(role), (kind, role, name, said)


@pytest.mark.parametrize("kind", KIND_NAMES)
def test_nothing_that_crew_say_or_take_back_lets_a_joint_go_back_to_work(
    world: World, kind: str
) -> None:
    doors, crew = world.doors, world.doors.people["crew"]
    world.forbid()
    lead = doors.people["lead"]
    assert doors.page(lead, DueSet(world.joint, Task.RENEW, doors.clock(), "torn")) == ()
    before = _guarded(world)
    for send in doors.all_of(signed=True).values():
        doors.clock.pass_(hours=1)
        said = send(crew, world.says(kind))
        after = _guarded(world)
        assert _as_strict(before, after), (kind, said, after)
        newest = world.register.facts_since(world.register.head().seq - 1)[0].fact
        if not said and newest.kind == kind and not kind_of(newest.what).signed:
            send(crew, doors.correct(newest.id))
            assert _as_strict(before, _guarded(world)), kind


def _guarded(world: World) -> tuple[State, bool | None, Any]:
    now = world.register.joint(world.joint)
    assert now is not None
    far = world.doors.clock() + timedelta(days=9000)
    renew = [d.due for d in world.register.due(far, joint=world.joint) if d.task is Task.RENEW]
    return now.state, now.can_run, renew[0] if renew else None


def _as_strict(before: tuple[State, bool | None, Any], after: tuple[Any, ...]) -> bool:
    if after[0] is State.REMOVED:
        return True
    return after[1] is False and after[2] is not None and after[2] <= before[2]


# By state: who may say it of a joint that runs, must not run, or is suspended

STATES = ("running", "must not run", "suspended")
BY_STATE: dict[str, tuple[str, str, str]] = {
    "put to work": ("crew", "lead", "lead"),
    "may run": ("lead", "lead", "lead"),
    "must not run": ("crew", "crew", "crew"),
    "left open": ("crew", "crew", "crew"),
    "suspended": ("crew", "crew", "crew"),
    "seen": ("crew", "crew", "crew"),
    "removed": ("crew", "crew", "crew"),
    "the finding withdrawn": ("", "lead", ""),
    "the suspension withdrawn": ("", "", "lead"),
    "the suspension left open": ("", "", "crew"),
}
"""The least role in each state; empty where there is nothing to say."""


@pytest.mark.parametrize("state", STATES)
@pytest.mark.parametrize("saying", BY_STATE)
def test_who_may_say_it_by_state(world: World, saying: str, state: str) -> None:
    doors, least = world.doors, BY_STATE[saying][STATES.index(state)]
    if not least:
        return
    says: dict[str, Callable[[UUID], What]] = {
        "put to work": lambda _: JointPutToWork(world.joint, "walked it"),
        "may run": lambda _: InspectionClosed(
            world.joint, uuid4(), True, note="renewed", not_seen="under the belt"),
        "must not run": lambda _: InspectionClosed(world.joint, uuid4(), False),
        "left open": lambda _: InspectionClosed(world.joint, uuid4()),
        "suspended": lambda _: JointSuspended(world.joint),
        "seen": lambda _: joint_said.JointSeen(world.joint, 3.0),
        "removed": lambda _: JointRemoved(world.joint, joint_said.Mode.OTHER),
        "the finding withdrawn": doors.correct,
        "the suspension withdrawn": doors.correct,
        "the suspension left open": lambda fact: doors.correct(
            fact, JointSuspended(world.joint, "belt stands")),
    }  # fmt: skip
    before: UUID | None = None

    def may_say(role: str) -> bool:
        return ROLES.index(role) >= ROLES.index(least)

    for role, name, send in at_doors(doors, may_say):
        doors.clock.pass_(hours=1)
        if before is not None:
            doors.console(doors.correct(before))  # what was said counts no more
        fact = doors.console(
            InspectionClosed(
                world.joint, uuid4(), True, note="looked at", not_seen="under the belt"
            )
        )
        doors.console(JointPutToWork(world.joint, "looked at"))
        if state == "must not run":
            fact = world.forbid()
        elif state == "suspended":
            fact = doors.console(JointSuspended(world.joint, "plate lost"))
        said = send(doors.people[role], says[saying](fact))
        allowed = may_say(role)
        assert (said == ()) == allowed, (saying, state, role, name, said)
        newest = world.register.facts_since(world.register.head().seq - 1)[0].fact
        before = newest.id if allowed and newest.kind == "joint removed" else None


# What was found


def test_crew_take_no_work_off_the_due_list(world: World) -> None:
    doors, crew = world.doors, world.doors.people["crew"]
    set_by_lead = doors.console(
        DueSet(world.joint, Task.RENEW, doors.clock() + timedelta(days=3), "forecast")
    )
    for desk in (doors.page, doors.session, doors.key):
        assert desk(crew, DueSet(world.joint, Task.RENEW, None)) == (DUE,)
    late = DueSet(world.joint, Task.RENEW, doors.clock() + timedelta(days=900), "later")
    for send in doors.all_of().values():
        assert send(crew, doors.correct(set_by_lead, late)) == (DUE,)
        assert send(crew, doors.correct(set_by_lead)) == (DUE,)
    assert _guarded(world)[2] == doors.clock() + timedelta(days=3)


def test_a_due_day_is_plausible(world: World) -> None:
    doors, lead = world.doors, world.doors.people["lead"]
    far = DueSet(world.joint, Task.RENEW, datetime(2199, 1, 1, tzinfo=UTC), "never")
    fact = doors.console(DueSet(world.joint, Task.RENEW, doors.clock(), "now"))
    for send in (doors.page, doors.session, doors.key):
        (said,) = send(lead, far)
        assert said == "2199-01-01 is not accepted; accepted is up to 2046-05-19"
        assert send(lead, doors.correct(fact, far)) == (said,)


def test_no_door_lets_a_joint_run_on_that_nobody_looked_at(world: World) -> None:
    lead = world.doors.people["lead"]
    for send in world.doors.all_of().values():
        for left in ("", "nothing", " None. "):
            what = InspectionClosed(world.joint, uuid4(), True, note="fine", not_seen=left)
            (said,) = send(lead, what)
            assert said.startswith("not every plate of both ends was said to be looked at")
        left_open = world.doors.console(InspectionClosed(world.joint, uuid4()))
        run_on = InspectionClosed(world.joint, uuid4(), True)
        (said,) = send(lead, world.doors.correct(left_open, run_on))
        assert said.startswith("not every plate")


def test_that_a_joint_must_not_run_is_lifted_by_a_lead_with_a_reason(world: World) -> None:
    doors, crew, lead = world.doors, world.doors.people["crew"], world.doors.people["lead"]
    found = world.forbid()
    for send in doors.all_of().values():
        assert send(crew, doors.correct(found)) == (DECIDED,)
        assert send(
            crew, InspectionClosed(world.joint, uuid4(), True, not_seen="under the belt")
        ) == (MAY_RUN,)
        assert send(crew, JointPutToWork(world.joint, "looks fine")) == (MUST_NOT_RUN,)
        for what in (
            InspectionClosed(world.joint, uuid4(), True, not_seen="under the belt"),
            JointPutToWork(world.joint),
        ):
            (said,) = send(lead, what)
            assert said == "is empty; the joint must not run: say why it may go back to work"
        assert _guarded(world)[1] is False
    assert (
        doors.sync(
            lead,
            InspectionClosed(
                world.joint, uuid4(), True, note="pin renewed", not_seen="under the belt"
            ),
        )
        == ()
    )
    assert _guarded(world)[1:] == (True, None)


def test_an_inspection_that_decides_nothing_leaves_it_so(world: World) -> None:
    doors, crew = world.doors, world.doors.people["crew"]
    world.forbid()
    for send in doors.all_of().values():
        doors.clock.pass_(hours=1)
        assert send(crew, InspectionClosed(world.joint, uuid4())) == ()
        assert _guarded(world)[1] is False


def test_that_it_must_not_run_counts_though_it_comes_late(world: World) -> None:
    doors, crew = world.doors, world.doors.people["crew"]
    early = doors.clock()
    doors.clock.pass_(hours=5)
    assert doors.sync(crew, InspectionClosed(world.joint, uuid4())) == ()
    late = InspectionClosed(world.joint, uuid4(), False, note="seen in the pit")
    assert doors.sync(crew, late, at=early + timedelta(hours=1)) == ()
    assert _guarded(world)[1:] == (False, early + timedelta(hours=1))
    assert world.register.verify().faults == ()


def test_a_suspended_joint_goes_back_to_work_by_a_lead(world: World) -> None:
    doors, crew, lead = world.doors, world.doors.people["crew"], world.doors.people["lead"]
    assert doors.sync(crew, JointSuspended(world.joint, "plate lost")) == ()
    for send in doors.all_of().values():
        assert send(crew, JointPutToWork(world.joint, "it runs")) == (MUST_NOT_RUN,)
    assert doors.sync(lead, JointPutToWork(world.joint, "plates replaced, walked it")) == ()
    now = world.register.joint(world.joint)
    assert now is not None and now.state is State.RUNNING


def test_a_joint_never_both_must_not_run_and_is_put_to_work(world: World) -> None:
    doors, lead = world.doors, world.doors.people["lead"]
    world.forbid()
    assert [j.joint for j in world.register.barred()] == [world.joint]
    assert doors.sync(lead, JointPutToWork(world.joint, "plates replaced, walked it")) == ()
    now = world.register.joint(world.joint)
    assert now is not None and (now.state, now.can_run) == (State.RUNNING, None)
    assert world.register.barred() == ()
    due = world.register.due(doors.clock() + timedelta(days=3650), joint=world.joint)
    assert Task.RENEW not in {item.task for item in due}
    world.forbid()  # and the next look bars it anew
    assert [j.joint for j in world.register.barred()] == [world.joint]


def test_no_door_closes_a_job_that_something_keeps_open(world: World) -> None:
    doors = world.doors
    role = "I answer for the job"
    seen = world.register.version(world.job)
    off = job_said.SignedOff(world.job, role, job_said.SIGN_OFFS[role], seen, closes=True)
    for person in ("crew", "lead", "admin"):
        for send in doors.all_of(signed=True).values():
            said = send(doors.people[person], off)
            assert len(said) == 22 and said[0].startswith("the hold point of step 1, Run empty")
    now = world.register.job(world.job)
    assert now is not None and now.closed is None


def test_crew_cannot_take_the_plan_from_a_job_to_close_it(world: World) -> None:
    doors, crew = world.doors, world.doors.people["crew"]
    bare = joint_said.JointPlanned(world.joint, world.conveyor, "J7")
    alone = job_said.JobOpened(world.job, world.conveyor, "job")
    (planned,) = [
        s.fact.id for s in world.register.facts_about(world.joint) if s.fact.kind == "joint planned"
    ]
    for send in (doors.page, doors.session, doors.key):
        for what in (bare, alone, doors.correct(planned), doors.correct(planned, bare)):
            (said,) = send(crew, what)
            assert "leads and admins" in said
    assert read_job(world.register, world.job).plan == world.plan  # type: ignore[union-attr]


def test_invented_steps_statements_and_signatures(world: World) -> None:
    doors, crew = world.doors, world.doors.people["crew"]
    job, hold = world.job, next(s for s in world.plan.steps if s.hold_point is not None)
    typed = (Kind.LENGTH, 0.015, "15 mm")
    cases: tuple[tuple[What, str], ...] = (
        (job_said.StepTicked(job, "dance"), '"dance" is no step of the plan'),
        (job_said.StepTimed(job, "dance", 5.0), '"dance" is no step of the plan'),
        (job_said.ValueRecorded(job, "measure", "luck", *typed), '"luck" is not measured at step'),
        (job_said.ValueRecorded(job, "measure", "Belt thickness, leading end", *typed, box=900),
         "900 is too large"),
        (job_said.HoldPointSigned(job, hold.key, "whatever"), "is not what the plan asks to sign"),
        (job_said.SignedOff(job, "the boss", "fine", 0), '"the boss" is not signed'),
        (job_said.SignedOff(job, "I built it", "fine", 0), "is not what is signed as that"),
    )  # fmt: skip
    for what, said in cases:
        for name, send in doors.all_of(signed=kind_of(what).signed).items():
            refused = send(crew, what)
            assert len(refused) == 1 and said in refused[0], (name, refused)
    assert {s.fact.kind for s in world.register.facts_about(job)} == {"job opened"}


def test_a_fact_is_dated_plausibly_and_a_phone_loses_none(world: World) -> None:
    doors, crew = world.doors, world.doors.people["crew"]
    tick = world.says("step ticked")
    long_ago, ahead = datetime(1901, 2, 3, tzinfo=UTC), doors.clock() + timedelta(days=4000)
    for send in (doors.sync, doors.session, doors.key):
        assert send(crew, tick, at=long_ago) == (
            "1901-02-03 is not believable; accepted is 1960 or later",
        )
    # The register's own clock may be the wrong one: a year ahead is marked.
    for send in (doors.sync, doors.session, doors.key):
        assert send(crew, tick, at=doors.clock() + timedelta(days=400)) == ()
        assert world.register.facts_about(world.job)[-1].odd_date
    for at in (datetime(1970, 1, 1, tzinfo=UTC), ahead):
        for send in (doors.session, doors.key):
            assert len(send(crew, tick, at=at)) == 1
        assert doors.sync(crew, tick, at=at) == ()  # marked, and never later than it came
        newest = world.register.facts_about(world.job)[-1]
        assert newest.when <= newest.received and newest.odd_date


def test_conveyors_and_ranges_are_for_leads_with_the_scope_plan(world: World) -> None:
    doors, people = world.doors, world.doors.people
    bare = plant_said.ConveyorRecorded(world.conveyor, world.site, world.name, None, None, 99.0)
    drop = plant_said.FastenersRecorded(world.site, "range", None)
    for what in (bare, drop):
        name = kind_of(what).name
        for send in (doors.page, doors.session):
            assert send(people["crew"], what) == (
                f'"{name}" is for leads and admins to record; ask them',
            )
        for role in ("crew", "lead"):
            (said,) = doors.key(people[role], what, Scope.RECORD)
            assert said == f'"{name}" needs the scope "plan"'
        (said,) = doors.key(people["crew"], what, Scope.RECORD, Scope.PLAN)
        assert said == f'"{name}" is for leads and admins to record; ask them'
        assert doors.key(people["lead"], what, Scope.RECORD, Scope.PLAN) == ()


def test_the_documents_say_what_the_policy_says() -> None:
    """The table of docs/register.md is read; docs/api.md names what the scope `plan` is for."""
    docs = Path(__file__).parents[2] / "docs"
    table = docs.joinpath("register.md").read_text("utf-8").partition("| fact | who |")[2]
    told: dict[str, tuple[str, str]] = {}
    for line in table.partition("\n\n")[0].splitlines()[2:]:
        kinds, who, scope = (cell.strip() for cell in line.strip("|").split("|"))
        told |= dict.fromkeys(kinds.split(", "), (who.partition(",")[0].split()[0], scope))
    first = {PersonRole.CREW: "crew", PersonRole.LEAD: "leads", PersonRole.ADMIN: "admins"}
    for kind, rule in RULES.items():
        who, scope = told.get(kind, told["everything else"])
        assert who == first[rule.role], kind
        signed = kind != "correction" and KINDS[kind].signed
        assert scope == ("no token signs" if signed else f"`{rule.scope}`"), kind
    assert set(told) - {"everything else"} <= set(RULES)
    api = docs.joinpath("api.md").read_text("utf-8")
    assert "| `plan` | sites, conveyor files, fastener ranges | lead |" in api
    assert {k for k, r in RULES.items() if r.scope is Scope.PLAN} == PLAN


def test_limits_of_wear_by_correction(world: World) -> None:
    doors, crew = world.doors, world.doors.people["crew"]
    limit = doors.console(world.says("wear limit set"))
    for send in doors.all_of().values():
        assert send(crew, doors.correct(limit)) == (LIMITS,)


def test_nobody_speaks_for_somebody_else(world: World) -> None:
    doors, crew = world.doors, world.doors.people["crew"]
    lead = doors.people["lead"]
    theirs = doors.register.said_by(Actor(crew.account, crew.name, crew.role, sites=crew.sites))
    with pytest.raises(NotAllowedError, match="person: is somebody else"):
        theirs.append(doors.fact(world.says("step ticked"), lead))


def test_a_page_that_forgets_who_is_there_records_nothing(world: World) -> None:
    with pytest.raises(RuntimeError, match="said_by"):
        world.doors.app.state.room.register.append(_said(world.doors, world.says("step ticked")))


def _said(doors: Doors, what: What) -> Any:
    return doors.fact(what, doors.people["admin"])


# Tables, the command line, and forms


def _table(world: World, day: str) -> bytes:
    """A joint put to work on a day; imported again with another day, it is the same joint."""
    there = world.register.site(world.site)
    assert there is not None
    return (
        "site,conveyor,label,built,put to work\n"
        f'"{there.name}","{world.name}",J9,2026-01-05,{day}\n'
        f'"{there.name}","{world.name}",J{day[-2:]},2026-01-05,{day}\n'
    ).encode()


def _forbidden_import(world: World, desk: Any) -> UUID:
    desk(_table(world, "2026-01-06"))
    (joint,) = [j.joint for j in world.register.joints(world.conveyor) if j.label == "J9"]
    world.doors.console(InspectionClosed(joint, uuid4(), False, note="cracked"))
    return joint


def test_an_import_asks_row_by_row_as_who_asked_for_it(
    world: World, accounts: SqlAccounts, tmp_path: Path
) -> None:
    doors, crew = world.doors, world.doors.people["crew"]
    office = Office(world.register, accounts, doors.clock, tmp_path / "register.sqlite")

    def ask(data: bytes) -> Any:
        made = ask_import(
            office.background, "joints", "joints.csv", data, by=crew.name, account=crew.account,
            step="apply",
        )  # fmt: skip
        office.work()
        return office.background.tasks.task(made.task)

    joint = _forbidden_import(world, ask)
    done = ask(_table(world, "2026-02-07"))
    assert [(r["line"], r["sentence"]) for r in done.answer["refused_rows"]] == [(2, MUST_NOT_RUN)]
    now = world.register.joint(joint)
    assert now is not None and now.can_run is False
    (other,) = [j.joint for j in world.register.joints(world.conveyor) if j.label == "J07"]
    said = world.register.facts_about(other)
    assert {s.fact.person for s in said} == {crew.account} and not any(s.odd_date for s in said)
    # Who lost the role while it waited imports nothing; nor does a closed account.
    accounts.change_role(crew.account, PersonRole.VIEWER, None)
    late = ask(_table(world, "2026-03-08"))
    assert late.answer["recorded"] == 0 and "is for crew, leads and admins" in str(late.answer)
    accounts.close_account(crew.account, None)
    assert "account is closed" in ask(_table(world, "2026-03-09")).failure
    office.queue.close()


def test_the_command_line_asks_too(world: World, tmp_path: Path) -> None:
    file = tmp_path / "joints.csv"

    def run(data: bytes) -> str:
        file.write_bytes(data)
        place = str(tmp_path / "register.sqlite")
        words = ["register", "import", "joints", str(file), "--by", "Ada", "--register", place]
        done = CliRunner().invoke(main, words)
        assert done.exit_code == 0, done.output
        return done.output

    joint = _forbidden_import(world, run)
    assert f"joints.csv:2: what.why: {REASON}" in run(_table(world, "2026-02-07"))
    now = world.register.joint(joint)
    assert now is not None and now.can_run is False


def test_forms_of_pages_are_refused_by_the_same_sentences(
    world: World, signed_in: Callable[[str], TestClient]
) -> None:
    crew, lead = signed_in("crew"), signed_in("lead")
    world.forbid()

    def happened(client: TestClient, note: str) -> str:
        said = {
            "csrf": csrf_of(client), "what": "put to work", "note": note,
            "version": str(world.register.version(world.joint)),
        }  # fmt: skip
        return html.unescape(client.post(f"/joints/{world.joint}/happened", data=said).text)

    assert MUST_NOT_RUN in happened(crew, "it looks fine")
    assert REASON in happened(lead, " ")
    assert happened(lead, "pin and plates renewed") == ""
    due = {"csrf": csrf_of(crew), "task": "renew", "due": "", "why": ""}
    assert crew.post(f"/joints/{world.joint}/due", data=due).status_code == 403


def test_a_photograph_is_a_picture_at_every_door(world: World) -> None:
    """A plan named as a photograph would be a broken picture on the job's page."""
    doors, crew = world.doors, world.doors.people["crew"]
    picture = joint_said.PhotoAdded(Stream.JOB, world.job, world.photo)
    for name, send in doors.all_of().items():
        for digest in (world.digest, world.file):
            assert digest is not None
            (said,) = send(crew, joint_said.PhotoAdded(Stream.JOB, world.job, digest))
            assert said.endswith("accepted here is a photograph"), name
        assert send(crew, picture) == (), name
    kept = doors.console(picture)
    for name, send in doors.all_of().items():
        instead = joint_said.PhotoAdded(Stream.JOB, world.job, world.digest)
        (said,) = send(crew, doors.correct(kept, instead))
        assert said.endswith("accepted here is a photograph"), name


def test_a_plan_and_a_file_are_what_they_are_said_to_be(world: World) -> None:
    lead = world.doors.people["lead"]
    for what, said in (
        (joint_said.JointPlanned(uuid4(), world.conveyor, "J98", plan=world.photo), "a plan"),
        (plant_said.FastenersRecorded(world.site, "range", world.photo), "a file"),
    ):
        (refusal,) = world.doors.page(lead, what)
        assert refusal.partition("accepted here is ")[2].startswith(said)

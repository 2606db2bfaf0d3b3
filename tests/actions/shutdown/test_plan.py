"""Planned jobs of the register as one shutdown: order, what is shared, turns, times learnt."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from uuid import UUID, uuid4

import pytest

from splicewright.actions.conveyor.record import record_conveyor
from splicewright.actions.plan.plan import plan_joint
from splicewright.actions.plan.record import record_job, record_plan
from splicewright.actions.shutdown.plan import (
    HELD,
    Hands,
    jobs_called,
    open_jobs,
    plan_shutdown,
)
from splicewright.actions.shutdown.question import JobsAsked
from splicewright.errors import InputError
from splicewright.history.shutdown.study import ShutdownStudy
from splicewright.job import JointPlan
from splicewright.job import plan as plan_of
from splicewright.job.steps.timing import EFFORTS
from splicewright.plant import RoundWay, Tools, load_conveyor
from splicewright.store import Fact, What
from splicewright.store.facts.job_facts import StepTicked, StepTimed
from splicewright.store.sql.register import SqlRegister, open_register

SITE = Path(__file__).parents[3] / "examples" / "karst-hollow"
NOW = datetime(2026, 6, 1, 8, 0, tzinfo=UTC)
PLATES = ("conveyors/incline.toml", "jobs/incline-worn-joint.toml")


@pytest.fixture(scope="module")
def plan() -> JointPlan:
    return plan_joint(SITE / PLATES[0], SITE / PLATES[1])


@pytest.fixture
def register(tmp_path: Path) -> Iterator[SqlRegister]:
    with open_register(tmp_path / "register.sqlite", clock=lambda: NOW) as opened:
        record_conveyor(opened, SITE / PLATES[0], by="Ada Example", now=NOW)
        yield opened


def job(register: SqlRegister, plan: JointPlan, label: str) -> UUID:
    there = next(c for c in register.conveyors() if c.name == plan.conveyor.name)
    return record_plan(
        register, plan, conveyor=there.conveyor, label=label, by="Ada Example", now=NOW
    ).job


def say(register: SqlRegister, after: float, *whats: What) -> None:
    """Facts so many seconds later."""
    at = NOW - timedelta(days=2) + timedelta(seconds=after)
    register.append(*(Fact(uuid4(), at, "Ada Example", what, device="phone 1") for what in whats))


def ends(study: ShutdownStudy) -> dict[str, tuple[float, float]]:
    return {b.task: (b.start, b.end) for b in study.bars}


def test_clamps_and_presses_left_blank_are_one_to_each_job() -> None:
    blank = JobsAsked(conveyor="K1", window="10 h", crew=6)
    assert [blank.hands.held(tool) for tool in HELD] == [0, 0]  # of which nobody waits for one
    asked = JobsAsked(conveyor="K1", window="10 h", crew=6, clamp_sets=1, presses=2)
    assert asked.hands == Hands(6, clamp_sets=1, presses=2)
    assert [asked.hands.held(tool) for tool in HELD] == [1, 2]


def test_one_job_is_its_steps_shared_out_as_its_plan_says(
    register: SqlRegister, plan: JointPlan
) -> None:
    one = job(register, plan, "J1")
    study = plan_shutdown(register, NOW, [one], "12 h", Hands(plan.work.crew))
    assert [t.name for t in study.shutdown.tasks] == [f"J1: {s.title}" for s in plan.steps]
    for task, step in zip(study.shutdown.tasks, plan.steps, strict=True):
        assert task.likely == step.time.value
        assert task.needs == {"people": step.hands}
    assert study.bars[-1].end == pytest.approx(plan.timing.likely.value)
    spans = [(t.low / t.likely, t.high / t.likely) for t in study.shutdown.tasks]
    assert spans == [pytest.approx((0.7, 1.6))] * len(spans)
    assert study.shutdown.invented
    assert plan.work.tools is Tools.POWER
    assert [b.name for b in study.bought] == ["a second crew"], "power tools are there already"


def test_power_tools_take_the_shares_of_the_efforts(register: SqlRegister, plan: JointPlan) -> None:
    # as if planned by hand, with the fixed time and the items of the table of efforts
    cut = EFFORTS["cut"]
    ends = 2 * plan.work.joints
    by_hand = replace(
        plan,
        work=replace(plan.work, tools=Tools.HAND),
        steps=tuple(
            replace(s, time=replace(s.time, value=cut.fixed + ends * cut.each_by_hand), hands=2)
            if s.key == "cut"
            else s
            for s in plan.steps
        ),
    )
    one = job(register, by_hand, "J1")
    study = plan_shutdown(register, NOW, [one], "12 h", Hands(plan.work.crew))
    more = next(m for m in study.shutdown.more if m.name == "power tools")
    title = next(s.title for s in plan.steps if s.key == "cut")
    expected = (cut.fixed + ends * cut.each_by_power) / (cut.fixed + ends * cut.each_by_hand)
    assert more.faster[f"J1: {title}"] == pytest.approx(expected)
    assert all(0 < share < 1 for share in more.faster.values())


def test_jobs_of_one_conveyor_share_what_is_done_once(
    register: SqlRegister, plan: JointPlan
) -> None:
    jobs = [job(register, plan, label) for label in ("J1", "J2")]
    crew = plan.work.crew
    study = plan_shutdown(register, NOW, jobs, "24 h", Hands(2 * crew))
    at, titles = ends(study), {s.key: s.title for s in plan.steps}
    name = plan.conveyor.name
    for key in ("isolate", "release", "tension", "run"):
        assert f"{name}: {titles[key]}" in at
        assert f"J1: {titles[key]}" not in at
    for label in ("J1", "J2"):
        assert at[f"{label}: {titles['clamp']}"][0] >= at[f"{name}: {titles['isolate']}"][1]
        assert at[f"{label}: {titles['slack']}"][0] >= at[f"{name}: {titles['release']}"][1]
        assert at[f"{label}: {titles['check']}"][1] <= at[f"{name}: {titles['tension']}"][0]
        assert at[f"{label}: {titles['record']}"][0] >= at[f"{name}: {titles['run']}"][1]
    shared = sum(
        s.time.value
        for s in plan.steps
        if s.key in {"park", "permit", "isolate", "clear", "release", "tension", "inch", "run"}
    )
    one, both = plan.timing.likely.value, study.bars[-1].end
    assert both < 2 * one - shared
    alone = plan_shutdown(register, NOW, jobs, "24 h", Hands(crew))
    # one crew: no longer than one job after the other, no shorter than its hands allow
    work = sum(t.likely * t.needs["people"] for t in alone.shutdown.tasks)
    assert work / crew < alone.bars[-1].end <= 2 * one - shared + 1e-6


@pytest.fixture(scope="module")
def round_of_joints() -> JointPlan:
    return plan_joint(SITE / PLATES[0], SITE / "jobs/incline-round.toml")


def kept(register: SqlRegister, joint_plan: JointPlan) -> UUID:
    there = next(c for c in register.conveyors() if c.name == joint_plan.conveyor.name)
    return record_job(register, joint_plan, conveyor=there.conveyor, by="Ada Example", now=NOW)


def test_a_round_beside_a_joint_is_done_while_the_belt_can_still_be_run(
    register: SqlRegister, plan: JointPlan, round_of_joints: JointPlan
) -> None:
    """Its joints are brought past by the drive: never once the belt is clamped and open."""
    jobs = [job(register, plan, "J1"), kept(register, round_of_joints)]
    at = ends(plan_shutdown(register, NOW, jobs, "24 h", Hands(2 * plan.work.crew)))
    name, titles = plan.conveyor.name, {s.key: s.title for s in plan.steps}
    own = round_of_joints.work.name
    # Every step of the round is there once, under its own name; the joint's locks go on after it.
    for step in round_of_joints.steps:
        assert at[f"{own}: {step.title}"][1] <= at[f"{name}: {titles['isolate']}"][0]
    assert at[f"{name}: {titles['release']}"][0] >= at[f"{name}: {titles['isolate']}"][1]


def test_a_round_on_foot_shares_the_locks_and_ends_before_the_belt_moves(
    register: SqlRegister, plan: JointPlan, round_of_joints: JointPlan
) -> None:
    conveyor = load_conveyor(SITE / PLATES[0])
    work = replace(round_of_joints.work, round_way=RoundWay.FOOT)
    walked = plan_of(conveyor, work)
    jobs = [job(register, plan, "J1"), kept(register, walked)]
    at = ends(plan_shutdown(register, NOW, jobs, "24 h", Hands(2 * plan.work.crew)))
    name, own = plan.conveyor.name, walked.work.name
    titles = {s.key: s.title for s in plan.steps}
    looks = [s.title for s in walked.steps if s.key.startswith("joint_")]
    assert len(looks) == 3
    heard = next(s.title for s in walked.steps if s.key == "listen")
    assert at[f"{own}: {heard}"][1] <= at[f"{name}: {titles['isolate']}"][0]
    for look in looks:
        assert at[f"{own}: {look}"][0] >= at[f"{name}: {titles['isolate']}"][1]
        assert at[f"{own}: {look}"][1] <= at[f"{name}: {titles['release']}"][0]
    # Its own locks are those of the conveyor: put on once, taken off once.
    assert not [t for t in at if t.startswith(f"{own}: ") and "lock" in t]


def test_tracking_is_looked_at_after_the_run_in(register: SqlRegister, plan: JointPlan) -> None:
    tracking = plan_joint(SITE / PLATES[0], SITE / "jobs/incline-tracking.toml")
    jobs = [kept(register, tracking), job(register, plan, "J1")]
    at = ends(plan_shutdown(register, NOW, jobs, "24 h", Hands(2 * plan.work.crew)))
    run = next(s.title for s in plan.steps if s.key == "run")
    for step in tracking.steps:
        assert at[f"{tracking.work.name}: {step.title}"][0] >= at[f"{plan.conveyor.name}: {run}"][1]


def test_jobs_take_turns_where_clamps_are_few(register: SqlRegister, plan: JointPlan) -> None:
    jobs = [job(register, plan, label) for label in ("J1", "J2")]
    hands = Hands(2 * plan.work.crew, clamp_sets=1)
    study = plan_shutdown(register, NOW, jobs, "10 h", hands)
    at, titles = ends(study), {s.key: s.title for s in plan.steps}
    assert at[f"J2: {titles['clamp']}"][0] >= at[f"J1: {titles['check']}"][1]
    assert any(n.startswith("1 of 2 clamp sets that the jobs need") for n in study.shutdown.notes)
    more = next(b for b in study.bought if b.name == "one more set of clamps")
    free = plan_shutdown(register, NOW, jobs, "10 h", Hands(2 * plan.work.crew, clamp_sets=2))
    assert more.gain.after == free.chance
    assert more.gain.saved == pytest.approx(study.mean - free.mean)
    assert more.gain.saved > 0


def test_clamps_go_to_another_belt_only_when_theirs_is_tensioned(
    register: SqlRegister, plan: JointPlan
) -> None:
    other = plan_joint(SITE / "conveyors/flat.toml", SITE / "jobs/flat-torn-belt.toml")
    record_conveyor(register, SITE / "conveyors/flat.toml", by="Ada Example", now=NOW)
    flat = next(c for c in register.conveyors() if c.name == other.conveyor.name)
    first = job(register, plan, "J1")
    away = record_plan(
        register, other, conveyor=flat.conveyor, label="F7", by="Ada Example", now=NOW
    ).job
    second = job(register, plan, "J2")
    hands = Hands(3 * plan.work.crew, clamp_sets=1)
    at = ends(plan_shutdown(register, NOW, [first, away, second], "40 h", hands))
    titles, own = ({s.key: s.title for s in p.steps} for p in (plan, other))
    # the jobs of the incline come one after the other, though F7 was named between them
    assert at[f"J2: {titles['clamp']}"][0] >= at[f"J1: {titles['check']}"][1]
    released = at[f"{plan.conveyor.name}: {titles['tension']}"][1]
    assert at[f"F7: {own['clamp']}"][0] >= released
    assert at[f"F7: {own['park']}"][0] == 0.0


def test_one_punch_is_held_by_one_job_at_a_time(register: SqlRegister, plan: JointPlan) -> None:
    jobs = [job(register, plan, label) for label in ("J1", "J2")]
    hands = Hands(2 * plan.work.crew, tools={"punch": 1})
    at = ends(plan_shutdown(register, NOW, jobs, "10 h", hands))
    title = next(s.title for s in plan.steps if s.key == "punch")
    (first, until), (then, _) = sorted(at[f"{j}: {title}"] for j in ("J1", "J2"))
    assert then >= until > first


def test_steps_that_are_ticked_are_left_out(register: SqlRegister, plan: JointPlan) -> None:
    one = job(register, plan, "J1")
    keys = [s.key for s in plan.steps]
    say(register, 0, StepTicked(one, keys[0]), StepTicked(one, keys[1]))
    say(register, 60, StepTicked(one, keys[1], done=False))
    study = plan_shutdown(register, NOW, [one], "12 h", Hands(plan.work.crew))
    assert [t.name for t in study.shutdown.tasks] == [
        f"J1: {s.title}" for s in plan.steps if s.key != keys[0]
    ]


def test_times_of_past_jobs_count(register: SqlRegister, plan: JointPlan) -> None:
    past, one = job(register, plan, "J0"), job(register, plan, "J1")
    step = {s.key: s for s in plan.steps}
    planned = step["tighten"].time.value
    # a phone's timer: half as long again as planned; and ticks 50 min apart for the cut
    say(register, 0, StepTimed(past, "tighten", 3 * planned, 2 * planned))
    say(register, 10, StepTicked(past, "mark"))
    say(register, 10 + 3000, StepTicked(past, "cut"))
    study = plan_shutdown(register, NOW, [one], "12 h", Hands(plan.work.crew))
    seen = study.shutdown.past or {}
    assert set(seen) == {f"J1: {step['tighten'].title}", f"J1: {step['cut'].title}"}
    assert seen[f"J1: {step['tighten'].title}"] == pytest.approx((1.5 * planned,))
    assert seen[f"J1: {step['cut'].title}"] == pytest.approx((3000.0,))
    assert any("past jobs on file for 2 of " in n for n in study.shutdown.notes)
    without = plan_shutdown(register, NOW, [past], "12 h", Hands(plan.work.crew))
    title = step["tighten"].title
    assert f"J0: {title}" not in (without.shutdown.past or {}), "its own timer is no past job"


def test_jobs_are_found_by_label_or_name(register: SqlRegister, plan: JointPlan) -> None:
    first, second = job(register, plan, "J1"), job(register, plan, "J2")
    assert jobs_called(register, []) == [first, second]
    assert jobs_called(register, ["J2"]) == [second]
    assert {j.job for j in open_jobs(register)} == {first, second}
    with pytest.raises(InputError) as caught:
        jobs_called(register, ["J9", plan.work.name])
    assert str(caught.value).startswith('job: "J9" is no open job with a plan; accepted are ')
    assert "is the name of several" in str(caught.value)


def test_two_jobs_of_one_label_begun_at_once_are_both_listed(
    register: SqlRegister, plan: JointPlan
) -> None:
    """Each belt has its J1, and both were planned in the same moment."""
    other = plan_joint(SITE / "conveyors/flat.toml", SITE / "jobs/flat-torn-belt.toml")
    record_conveyor(register, SITE / "conveyors/flat.toml", by="Ada Example", now=NOW)
    assert {j.job for j in open_jobs(register)} == set()
    both = {job(register, one, "J1") for one in (plan, other)}
    assert {j.job for j in open_jobs(register)} == both


@pytest.mark.parametrize(
    ("hands", "window", "message"),
    [
        (Hands(1), "12 h", "crew: J1 is planned for "),
        (Hands(0), "12 h", "crew: 0 cannot be; accepted is 1 to 200"),
        (Hands(4, tools={"spade": 1}), "12 h", 'tool: "spade" is held by no step; accepted are '),
        (Hands(4), "12 mm", "window: "),
        (Hands(4), "0 h", 'window: "0 h" is no time above zero'),
    ],
)
def test_what_cannot_be_is_refused(
    register: SqlRegister, plan: JointPlan, hands: Hands, window: str, message: str
) -> None:
    one = job(register, plan, "J1")
    with pytest.raises(InputError) as caught:
        plan_shutdown(register, NOW, [one], window, hands)
    assert str(caught.value).startswith(message)


def test_no_job_is_refused(register: SqlRegister) -> None:
    with pytest.raises(InputError, match="job: none is chosen"):
        plan_shutdown(register, NOW, [], "12 h", Hands(2))
    with pytest.raises(InputError, match="no open job with a kept plan is on file"):
        jobs_called(register, [])
    with pytest.raises(InputError, match="has no kept plan"):
        plan_shutdown(register, NOW, [uuid4()], "12 h", Hands(2))


def test_a_press_is_kept_until_it_is_opened_and_cure_takes_its_time(register: SqlRegister) -> None:
    plan = plan_joint(SITE / PLATES[0], SITE / "jobs/incline-vulcanised.toml")
    steps = {s.key: s for s in plan.steps}
    assert "cure" in steps
    jobs = [job(register, plan, label) for label in ("V1", "V2")]
    crew = plan.work.crew
    study = plan_shutdown(register, NOW, jobs, "30 h", Hands(2 * crew, presses=1))
    at = ends(study)
    assert at[f"V2: {steps['press'].title}"][0] >= at[f"V1: {steps['unpress'].title}"][1]
    cure = next(t for t in study.shutdown.tasks if t.name == f"V1: {steps['cure'].title}")
    assert (cure.low, cure.high) == (steps["cure"].time.value,) * 2
    assert cure.needs == {"people": 1}
    assert "one more press" in [b.name for b in study.bought]

"""What past jobs say of the times of steps, at every door that plans."""

from __future__ import annotations

import json
import math
from datetime import UTC, datetime, timedelta
from pathlib import Path
from uuid import UUID, uuid4

import pytest
from click.testing import CliRunner

from planned import SITE
from splicewright.actions.conveyor.record import record_conveyor
from splicewright.actions.job.step_times import ENOUGH_JOBS, past_shares, seen_shares
from splicewright.actions.plan.again import answers_of, draft_again
from splicewright.actions.plan.plan import plan_joint
from splicewright.cli import main
from splicewright.job import JointPlan
from splicewright.job.plan_versions import Change, step_changes
from splicewright.job.steps.timing import PastShare
from splicewright.joint import load_ranges
from splicewright.sheets.crew_pack.crew import steps
from splicewright.store import Fact
from splicewright.store.facts.job_facts import JobOpened, StepTimed
from splicewright.store.sql.register import SqlRegister, open_register

NOW = datetime(2026, 9, 1, 8, tzinfo=UTC)
FILES = SITE / "conveyors" / "incline.toml", SITE / "jobs" / "incline-worn-joint.toml"
TOOK = {"punch": (2.0, 2.0, 2.0, 2.0), "cut": (3.0, 3.0)}
"""Time taken over time assumed, in each past job; too few for the cut."""


@pytest.fixture
def place(tmp_path: Path) -> Path:
    return tmp_path / "register.sqlite"


@pytest.fixture
def register(place: Path) -> SqlRegister:
    made = open_register(place, make=True)
    record_conveyor(made, FILES[0], by="Ada Example", now=NOW)
    conveyor = made.conveyors()[0].conveyor

    def say(days: int, what: JobOpened | StepTimed) -> None:
        made.append(Fact(uuid4(), NOW + timedelta(days=days), "Ada Example", what))

    for step, shares in TOOK.items():
        for day, share in enumerate(shares, 1):
            past = UUID(int=day)
            if made.job(past) is None:
                say(day, JobOpened(past, conveyor, "earlier", None))
            say(day, StepTimed(past, step, share * 600.0, 600.0))
    return made


def test_only_steps_that_enough_jobs_timed(register: SqlRegister) -> None:
    found = past_shares(register)
    assert set(found) == {"punch"}
    assert len(TOOK["cut"]) < ENOUGH_JOBS <= len(TOOK["punch"])
    # The assumption weighs as two jobs (1 each), four jobs took twice as long: geometric mean.
    assert found["punch"].likely == pytest.approx(math.exp(4 / 6 * math.log(2)))
    assert found["punch"].jobs == 4
    assert found["punch"].low < found["punch"].likely < found["punch"].high
    assert "punch" not in seen_shares(register, {UUID(int=n) for n in range(1, 5)})


def test_steps_that_took_less_than_assumed_are_learnt_from_the_phone_that_worked_longest(
    register: SqlRegister,
) -> None:
    """Three jobs, just enough: half the time each, beside a second phone that timed a little of it.
    The assumption weighs as two jobs; a step timed at nothing is none."""
    for day in (1, 2, 3):
        for phone, took in (("one", 200.0), ("other", 60.0), ("one", 100.0)):
            what = StepTimed(UUID(int=day), "break", took, 600.0)
            register.append(Fact(uuid4(), NOW, "Ada Example", what, device=phone))
        register.append(
            Fact(uuid4(), NOW, "Ada Example", StepTimed(UUID(int=day), "row", 0.0, 600.0))
        )
    assert seen_shares(register)["break"] == pytest.approx({UUID(int=n): 0.5 for n in (1, 2, 3)})
    assert past_shares(register)["break"].likely == pytest.approx(0.5 ** (3 / 5))
    assert "row" not in seen_shares(register)


def test_the_plan_takes_them_and_says_so(register: SqlRegister) -> None:
    plain, learnt = plan_joint(*FILES), plan_joint(*FILES, past=past_shares(register))
    share = 2 ** (2 / 3)
    for before, after in zip(plain.steps, learnt.steps, strict=True):
        if before.key == "punch":
            assert after.time.value == pytest.approx(share * before.time.value)
            assert after.guess.value == before.time.value
        else:
            assert after.time.value == before.time.value
    punch = next(s for s in plain.steps if s.key == "punch").time.value
    # It stands alone, so the job is longer by what it is longer.
    assert learnt.timing.likely.value == pytest.approx(
        plain.timing.likely.value + (share - 1) * punch
    )
    assert (plain.timing.learnt, learnt.timing.learnt) == (0, 1)
    assert learnt.id != plain.id
    said = {one["title"]: one["whence"] for one in steps(learnt, "metric")}
    assert said["Punch the holes"].startswith("from 4 past jobs, ")
    assert said["Cut the ends"] == "assumed"
    assert JointPlan.from_json(learnt.to_json()) == learnt
    assert {c.change for c in step_changes(plain, learnt)} == {Change.SAME}


def test_long_and_short_ends_are_those_of_the_past_where_there_are_any() -> None:
    sure = {s.key: PastShare(9, 1.0, 1.0, 1.0) for s in plan_joint(*FILES).steps}
    timing = plan_joint(*FILES, past=sure).timing
    plain = plan_joint(*FILES).timing
    assert timing.low.value == timing.likely.value == timing.high.value == plain.likely.value
    one = plan_joint(*FILES, past={"punch": sure["punch"]}).timing
    punch = next(s for s in plan_joint(*FILES).steps if s.key == "punch").time.value
    assert one.high.value == pytest.approx(1.6 * (plain.likely.value - punch) + punch)


def test_what_was_learnt_is_not_learnt_again(register: SqlRegister) -> None:
    """Timed against the plan's own longer time, each further job would pull it back."""
    learnt = plan_joint(*FILES, past=past_shares(register))
    punch = next(s for s in learnt.steps if s.key == "punch")
    for n in range(10, 20):  # as the phone sends it: exactly as long as the plan now says
        register.append(
            Fact(
                uuid4(),
                NOW + timedelta(days=n),
                "Ada Example",
                JobOpened(UUID(int=n), register.jobs()[0].conveyor, "later", None),
            )
        )
        register.append(Fact(uuid4(), NOW + timedelta(days=n), "Ada Example",
                             StepTimed(UUID(int=n), "punch", punch.time.value,
                                       punch.guess.value)))  # fmt: skip
    share = 2 ** (2 / 3)
    after = past_shares(register)["punch"].likely
    assert after == pytest.approx((2**4 * share**10) ** (1 / 16))


def test_planned_again_the_times_stay(register: SqlRegister) -> None:
    learnt = plan_joint(*FILES, past=past_shares(register))
    ranges = load_ranges((SITE / "fasteners",))
    answers = answers_of(learnt.work, "metric")
    again = draft_again(learnt, learnt.conveyor, answers, "metric", ranges)
    assert again.plan is not None
    assert again.plan.id == learnt.id


def test_the_command_takes_a_register(register: SqlRegister, place: Path) -> None:
    register.close()
    asked = ["plan", *(str(f) for f in FILES), "--json"]
    said = [CliRunner().invoke(main, [*asked, *more]) for more in ([], ["--register", str(place)])]
    assert [one.exit_code for one in said] == [0, 0], said[1].output
    plain, learnt = (json.loads(one.stdout)["plan"] for one in said)
    assert not plain["past"]
    assert learnt["past"]["punch"]["jobs"] == 4
    assert learnt["timing"]["learnt"] == 1

"""Errands on both databases: asked once, taken once, lost never, and what each kind does."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path
from uuid import UUID, uuid4

import pytest

from splicewright.background.queue import Queue
from splicewright.background.requests import (
    Desk,
    ask_bundle,
    ask_fleet,
    ask_import,
    ask_import_again,
)
from splicewright.background.worker import Worker
from splicewright.errors import InputError
from splicewright.store.background import (
    MOST_TRIES,
    CancelledError,
    Errand,
    ErrandFile,
    ErrandKind,
    Errands,
    ErrandState,
    LostError,
)
from splicewright.store.facts.joint_facts import JointPutToWork, JointRemoved, Mode
from splicewright.store.sql.register import SqlRegister
from store.making import DAY, Clock, Plant

SITE = Path(__file__).parents[2] / "examples" / "karst-hollow"
JOINTS = b"""site,conveyor,label,built,removed,mode
Karst Hollow (invented),K2,J1,2026-01-05,2026-03-01,pin worn
Karst Hollow (invented),K2,J2,2026-01-06,,
Karst Hollow (invented),K9,J3,2026-01-07,,
Karst Hollow (invented),K2,=J4,2026-01-08,,
"""


@pytest.fixture
def queue(url: str) -> Iterator[Queue]:
    made = Queue(url)
    yield made
    made.close()


@pytest.fixture
def worker(register: SqlRegister, queue: Queue, clock: Clock) -> Worker:
    return Worker(register, queue, clock=clock)


@pytest.fixture
def desk(worker: Worker, queue: Queue) -> Desk:
    return Desk(worker.errands, queue)


@pytest.fixture
def errands(register: SqlRegister) -> Errands:
    return register.errands()


def work(desk: Desk, worker: Worker, asked: Errand) -> Errand:
    """Do what waits; give the errand as it is then."""
    for errand in desk.errands.unattended():
        worker.work(errand)
    found = desk.errands.errand(asked.errand)
    assert found is not None
    return found


def asked_of(errands: Errands, id: UUID | None = None) -> Errand:
    return errands.ask(ErrandKind.FLEET, {"site": None}, label="all", by="Ada Example", id=id)


def test_asked_twice_is_asked_once(errands: Errands) -> None:
    id = uuid4()
    assert asked_of(errands, id) == asked_of(errands, id)
    assert len(errands.latest()) == 1
    with pytest.raises(InputError, match="is the id of another errand"):
        errands.ask(ErrandKind.BUNDLE, {}, label="other", by="Ada Example", id=id)


def test_one_worker_takes_it_and_says_how_far_it_is(errands: Errands) -> None:
    asked = asked_of(errands)
    assert errands.unattended() == (asked.errand,)
    taken = errands.take(asked.errand, "first")
    assert taken is not None and taken.take == 1 and taken.state is ErrandState.RUNNING
    assert errands.take(asked.errand, "second") is None
    assert errands.unattended() == ()
    errands.tell(taken, 3, 12, "third of twelve")
    now = errands.errand(asked.errand)
    assert now is not None and (now.share, now.said) == (0.25, "third of twelve")
    errands.finish(taken, {"said": "all"}, ErrandFile("a.zip", "application/zip", b"zip"))
    now = errands.errand(asked.errand)
    assert now is not None
    assert (now.state, now.answer, now.has_result) == (ErrandState.DONE, {"said": "all"}, True)
    assert errands.result(asked.errand) == ErrandFile("a.zip", "application/zip", b"zip")
    assert not errands.cancel(asked.errand)


def test_a_worker_without_a_sign_of_life_is_not_waited_for(errands: Errands, clock: Clock) -> None:
    asked = asked_of(errands)
    first = errands.take(asked.errand, "first")
    assert first is not None
    clock.pass_(10)
    errands.beat(first)
    clock.pass_(10)
    assert errands.take(asked.errand, "second") is None
    clock.pass_(6)
    second = errands.take(asked.errand, "second")
    assert second is not None and second.take == 2
    with pytest.raises(LostError):
        errands.tell(first, 1, 1, "late")
    with pytest.raises(LostError):
        errands.finish(first, {})
    with pytest.raises(LostError):
        errands.fail(first, "late")
    errands.finish(second, {"by": "second"})
    done = errands.errand(asked.errand)
    assert done is not None and done.answer == {"by": "second"}


def test_a_clock_set_back_holds_nothing_up(errands: Errands, clock: Clock) -> None:
    asked = asked_of(errands)
    assert errands.take(asked.errand, "first") is not None
    clock.pass_(-86400)
    assert errands.unattended() == (asked.errand,)
    assert errands.take(asked.errand, "second") is not None


def test_what_kills_every_worker_is_given_up(errands: Errands, clock: Clock) -> None:
    asked = asked_of(errands)
    for _ in range(MOST_TRIES):
        assert errands.take(asked.errand, "dies") is not None
        clock.pass_(16)
    assert errands.take(asked.errand, "lives") is None
    given_up = errands.errand(asked.errand)
    assert given_up is not None and given_up.state is ErrandState.FAILED
    assert given_up.failure.startswith(f"The work was begun {MOST_TRIES} times and stopped")


def test_cancelled_before_and_while_it_is_done(errands: Errands) -> None:
    waiting, running = asked_of(errands), asked_of(errands)
    assert errands.cancel(waiting.errand)
    assert errands.take(waiting.errand, "first") is None
    taken = errands.take(running.errand, "first")
    assert taken is not None
    assert errands.cancel(running.errand)
    with pytest.raises(CancelledError):
        errands.tell(taken, 1, 2, "half")
    errands.stop(taken, "Cancelled at: half.")
    assert {e.state for e in errands.latest()} == {ErrandState.CANCELLED}


def test_a_cancelled_errand_of_a_dead_worker_is_over(errands: Errands, clock: Clock) -> None:
    asked = asked_of(errands)
    assert errands.take(asked.errand, "dies") is not None
    errands.cancel(asked.errand)
    clock.pass_(16)
    assert errands.take(asked.errand, "second") is None
    over = errands.errand(asked.errand)
    assert over is not None and over.state is ErrandState.CANCELLED


def test_old_errands_go_with_their_files(errands: Errands, clock: Clock) -> None:
    asked = errands.ask(
        ErrandKind.IMPORT, {}, label="x", by="Ada Example",
        file=ErrandFile("a.csv", "text/csv", b"a"),
    )  # fmt: skip
    assert errands.given(asked.errand) is not None
    assert errands.cancel(asked.errand)
    clock.pass_(6 * 86400)
    assert errands.forget_old() == 0
    clock.pass_(2 * 86400)
    assert errands.forget_old() == 1
    assert errands.errand(asked.errand) is None
    assert errands.given(asked.errand) is None


def test_a_table_is_looked_through_then_imported(
    register: SqlRegister, plant: Plant, desk: Desk, worker: Worker
) -> None:
    looked = ask_import(desk, "joints", "../../joints.csv", JOINTS, by="Ada Example")
    assert looked.label == "Look through joints: joints.csv"
    with pytest.raises(InputError, match="is no finished look"):
        ask_import_again(desk, looked, by="Ada Example")
    looked = work(desk, worker, looked)
    assert looked.state is ErrandState.DONE, looked.failure
    assert {k: looked.answer[k] for k in ("rows", "recorded", "already", "refused")} == {
        "rows": 2, "recorded": 7, "already": 0, "refused": 2,
    }  # fmt: skip
    assert [(r["line"], r["field"]) for r in looked.answer["refused_rows"]] == [
        (4, "conveyor"), (5, "label"),
    ]  # fmt: skip
    refused = desk.errands.result(looked.errand)
    assert refused is not None and b"is a formula" in refused.data
    assert b"\r\n=" not in refused.data and b",=" not in refused.data
    assert register.joints() == ()
    applied = work(desk, worker, ask_import_again(desk, looked, by="Ada Example"))
    assert applied.state is ErrandState.DONE, applied.failure
    assert len(register.joints()) == 2
    again = work(desk, worker, ask_import_again(desk, looked, by="Eve Example"))
    assert (again.answer["recorded"], again.answer["already"]) == (0, 7)
    assert register.verify().faults == ()


def test_a_table_that_cannot_be_read_fails_in_one_sentence(
    plant: Plant, desk: Desk, worker: Worker
) -> None:
    for name, data, said in (
        ("joints.xlsx", b"PK\x03\x04 not one", "joints.xlsx: is no XLSX file"),
        ("joints.csv", b"a,b\n1,2\n", "site: is missing; the table must have this column"),
        ("joints.csv", b"\xff\xfe\x00", "joints.csv"),
    ):
        failed = work(desk, worker, ask_import(desk, "joints", name, data, by="Ada Example"))
        assert failed.state is ErrandState.FAILED
        assert said in failed.failure
    with pytest.raises(InputError, match="with the ending"):
        ask_import(desk, "joints", "joints.exe", b"MZ", by="Ada Example")
    with pytest.raises(InputError, match="accepted is more than 0"):
        ask_import(desk, "joints", "joints.csv", b"", by="Ada Example")


def test_done_twice_does_no_harm(
    register: SqlRegister, plant: Plant, desk: Desk, worker: Worker, clock: Clock
) -> None:
    looked = work(desk, worker, ask_import(desk, "joints", "j.csv", JOINTS, by="Ada Example"))
    asked = ask_import_again(desk, looked, by="Ada Example")
    dead = desk.errands.take(asked.errand, "dies before it says that it is done")
    assert dead is not None
    from splicewright.background.work import do

    given = desk.errands.given(asked.errand)
    do(register, dead, given, clock(), lambda done, total, said: None)
    clock.pass_(16)
    done = work(desk, worker, asked)
    assert done.state is ErrandState.DONE, done.failure
    assert (done.answer["recorded"], done.answer["already"]) == (0, 7)
    assert len(register.joints()) == 2


def test_job_packs_in_one_file(
    register: SqlRegister, plant: Plant, desk: Desk, worker: Worker, clock: Clock
) -> None:
    from splicewright.actions.conveyor.record import record_conveyor
    from splicewright.actions.plan.plan import plan_joint
    from splicewright.actions.plan.record import record_plan
    from splicewright.store.facts.job_facts import JobOpened

    file = SITE / "conveyors" / "flat.toml"
    conveyor = record_conveyor(register, file, by="Ada Example", now=clock()).conveyor
    made = plan_joint(file, SITE / "jobs" / "flat-torn-belt.toml")
    jobs = [
        record_plan(
            register, made, conveyor=conveyor, label="../J=1", by="Ada Example", now=clock()
        ).job
        for _ in range(2)
    ]
    bare = uuid4()
    register.append(plant.fact(JobOpened(bare, plant.conveyor, "no plan yet")))
    asked = ask_bundle(desk, [*jobs, jobs[0], bare, uuid4()], by="Ada Example")
    assert asked.label == "Job packs of 4 jobs"
    done = work(desk, worker, asked)
    assert done.state is ErrandState.DONE, done.failure
    assert len(done.answer["packs"]) == 2
    assert len(done.answer["left_out"]) == 2
    assert done.answer["left_out"][0] == "no plan yet: no plan is recorded for it."
    result = desk.errands.result(asked.errand)
    assert result is not None
    names = zipfile.ZipFile(io.BytesIO(result.data)).namelist()
    folders = {name.split("/")[0] for name in names}
    assert len(folders) == 2 and all("." not in f and "=" not in f for f in folders)
    assert all(f"{folder}/plan.json" in names for folder in folders)
    nothing = work(desk, worker, ask_bundle(desk, [bare], by="Ada Example"))
    assert nothing.failure == (
        "jobs: none of the jobs has a plan: no plan yet: no plan is recorded for it."
    )


def test_a_forecast_of_all_joints(
    register: SqlRegister, plant: Plant, desk: Desk, worker: Worker, clock: Clock
) -> None:
    for number in range(12):
        joint = plant.joint(register, f"=J{number}", 5.0 * number)
        register.append(plant.fact(JointPutToWork(joint)))
        clock.pass_(DAY * (40 + 9 * number))
        if number % 3:
            mode = Mode.PIN_WORN if number % 2 else Mode.RENEWED
            register.append(plant.fact(JointRemoved(joint, mode)))
    done = work(desk, worker, ask_fleet(desk, 60 * DAY, by="Ada Example", site=plant.site))
    assert done.state is ErrandState.DONE, done.failure
    [site] = done.answer["sites"]
    assert (site["joints"], site["failures"]) == (12, 4)
    assert 0 < site["expected"] < 4
    assert any("as if the belt never stood still" in a for a in done.answer["assumed"])
    result = desk.errands.result(done.errand)
    assert result is not None
    bundle = zipfile.ZipFile(io.BytesIO(result.data))
    assert {"site 1/joints.xlsx", "site 1/joints.csv", "site 1/life.pdf"} <= set(bundle.namelist())
    lines = bundle.read("site 1/joints.csv").decode("utf-8-sig").splitlines()
    assert len(lines) == 5
    assert all(",'=J" in line for line in lines[1:])  # no formula for a spreadsheet
    nothing = work(desk, worker, ask_fleet(desk, DAY, by="Ada Example", site=uuid4()))
    assert nothing.failure == "site: the register knows no such site"
    with pytest.raises(InputError, match="accepted are 1 day to 3653 days"):
        ask_fleet(desk, 0.0, by="Ada Example")


def test_a_fault_of_ours_is_told_without_its_insides(
    plant: Plant, desk: Desk, worker: Worker, monkeypatch: pytest.MonkeyPatch,
    caplog: pytest.LogCaptureFixture,
) -> None:  # fmt: skip
    from splicewright.background import worker as working

    def breaks(*_: object) -> None:
        msg = "secret inside"
        raise ZeroDivisionError(msg)

    monkeypatch.setattr(working, "do", breaks)
    failed = work(desk, worker, ask_fleet(desk, DAY, by="Ada Example"))
    assert failed.state is ErrandState.FAILED
    assert "secret" not in failed.failure and "nothing you did wrong" in failed.failure
    assert "secret inside" in caplog.text


def test_the_queue_carries_ids_and_no_pickles(desk: Desk, queue: Queue, plant: Plant) -> None:
    asked = ask_fleet(desk, DAY, by="Ada Example")
    [message] = queue._huey.storage.enqueued_items()
    assert message.startswith(b'{"id":') and str(asked.errand).encode() in message
    assert not queue.empty()
    with pytest.raises(ValueError, match="longer than any"):
        queue._huey.serializer.deserialize(b" " * 20_000)
    with pytest.raises(ValueError, match="can't decode"):
        queue._huey.serializer.deserialize(b"\x80\x04cos\nsystem\n.")


def test_what_was_not_queued_is_found(
    desk: Desk, queue: Queue, worker: Worker, plant: Plant, monkeypatch: pytest.MonkeyPatch
) -> None:
    def away(*_: object) -> None:
        msg = "database is locked"
        raise OSError(msg)

    with monkeypatch.context() as broken:
        broken.setattr(queue._huey.storage, "enqueue", away)
        asked = ask_fleet(desk, DAY, by="Ada Example")
    assert queue.empty()
    assert worker.look_round() == 1
    assert not queue.empty()
    assert worker.look_round() == 0  # it stands there already
    assert asked.errand in desk.errands.unattended()


def test_a_busy_register_ends_no_errand(
    desk: Desk, worker: Worker, plant: Plant, clock: Clock, monkeypatch: pytest.MonkeyPatch
) -> None:
    from splicewright.background import worker as working
    from splicewright.store import BusyError

    def busy(*_: object) -> None:
        msg = "locked"
        raise BusyError(msg)

    with monkeypatch.context() as broken:
        broken.setattr(working, "do", busy)
        asked = work(desk, worker, ask_fleet(desk, DAY, by="Ada Example"))
    assert asked.state is ErrandState.RUNNING
    clock.pass_(timedelta(seconds=16).total_seconds())
    assert work(desk, worker, asked).state is ErrandState.FAILED  # nothing was put to work

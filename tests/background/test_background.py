"""Background tasks on both databases: asked once, taken once, never lost, what each kind does."""

from __future__ import annotations

import io
import threading
import zipfile
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from pathlib import Path
from uuid import UUID, uuid4

import pytest

from depth import PATIENCE
from splicewright.background.queue import Queue
from splicewright.background.requests import (
    Background,
    ask_bundle,
    ask_fleet,
    ask_import,
    ask_import_again,
)
from splicewright.background.worker import Worker
from splicewright.errors import InputError
from splicewright.store.background import (
    MOST_TRIES,
    BackgroundTask,
    BackgroundTasks,
    CancelledError,
    LostError,
    TaskFile,
    TaskKind,
    TaskState,
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


def test_queues_that_begin_at_once_all_open(postgres_url: str) -> None:
    """Processes of two hosts on one database, in their first second: each makes the tables."""
    begins = threading.Barrier(12)

    def begin(_: int) -> bool:
        begins.wait(PATIENCE)
        queue = Queue(postgres_url)
        empty = queue.empty()
        queue.close()
        return empty

    with ThreadPoolExecutor(12) as hosts:
        assert all(hosts.map(begin, range(12)))


@pytest.fixture
def queue(url: str) -> Iterator[Queue]:
    made = Queue(url)
    yield made
    made.close()


@pytest.fixture
def worker(register: SqlRegister, queue: Queue, clock: Clock) -> Worker:
    return Worker(register, queue, clock=clock)


@pytest.fixture
def background(worker: Worker, queue: Queue) -> Background:
    return Background(worker.tasks, queue)


@pytest.fixture
def tasks(register: SqlRegister) -> BackgroundTasks:
    return register.tasks()


def work(background: Background, worker: Worker, asked: BackgroundTask) -> BackgroundTask:
    """Do what waits; give the task as it is then."""
    for task in background.tasks.unattended():
        worker.work(task)
    found = background.tasks.task(asked.task)
    assert found is not None
    return found


def asked_of(tasks: BackgroundTasks, id: UUID | None = None) -> BackgroundTask:
    return tasks.ask(TaskKind.FLEET, {"site": None}, label="all", by="Ada Example", id=id)


def test_asked_twice_is_asked_once(tasks: BackgroundTasks) -> None:
    id = uuid4()
    assert asked_of(tasks, id) == asked_of(tasks, id)
    assert len(tasks.latest()) == 1
    with pytest.raises(InputError, match="is the id of another task"):
        tasks.ask(TaskKind.BUNDLE, {}, label="other", by="Ada Example", id=id)


def test_one_worker_takes_it_and_says_how_far_it_is(tasks: BackgroundTasks) -> None:
    asked = asked_of(tasks)
    assert tasks.unattended() == (asked.task,)
    taken = tasks.take(asked.task, "first")
    assert taken is not None and taken.take == 1 and taken.state is TaskState.RUNNING
    assert tasks.take(asked.task, "second") is None
    assert tasks.unattended() == ()
    tasks.tell(taken, 3, 12, "third of twelve")
    now = tasks.task(asked.task)
    assert now is not None and (now.share, now.step) == (0.25, "third of twelve")
    tasks.finish(taken, {"step": "all"}, TaskFile("a.zip", "application/zip", b"zip"))
    now = tasks.task(asked.task)
    assert now is not None
    assert (now.state, now.answer, now.has_result) == (TaskState.DONE, {"step": "all"}, True)
    assert tasks.result(asked.task) == TaskFile("a.zip", "application/zip", b"zip")
    assert not tasks.cancel(asked.task)


def test_a_worker_without_a_sign_of_life_is_not_waited_for(
    tasks: BackgroundTasks, clock: Clock
) -> None:
    asked = asked_of(tasks)
    first = tasks.take(asked.task, "first")
    assert first is not None
    clock.pass_(10)
    tasks.beat(first)
    clock.pass_(10)
    assert tasks.take(asked.task, "second") is None
    clock.pass_(6)
    second = tasks.take(asked.task, "second")
    assert second is not None and second.take == 2
    with pytest.raises(LostError):
        tasks.tell(first, 1, 1, "late")
    with pytest.raises(LostError):
        tasks.finish(first, {})
    with pytest.raises(LostError):
        tasks.fail(first, "late")
    tasks.finish(second, {"by": "second"})
    done = tasks.task(asked.task)
    assert done is not None and done.answer == {"by": "second"}


def test_a_clock_set_back_holds_nothing_up(tasks: BackgroundTasks, clock: Clock) -> None:
    asked = asked_of(tasks)
    assert tasks.take(asked.task, "first") is not None
    clock.pass_(-86400)
    assert tasks.unattended() == (asked.task,)
    assert tasks.take(asked.task, "second") is not None


def test_what_kills_every_worker_is_given_up(tasks: BackgroundTasks, clock: Clock) -> None:
    asked = asked_of(tasks)
    for _ in range(MOST_TRIES):
        assert tasks.take(asked.task, "dies") is not None
        clock.pass_(16)
    assert tasks.take(asked.task, "lives") is None
    given_up = tasks.task(asked.task)
    assert given_up is not None and given_up.state is TaskState.FAILED
    assert given_up.failure.startswith(f"The work was begun {MOST_TRIES} times and stopped")


def test_cancelled_before_and_while_it_is_done(tasks: BackgroundTasks) -> None:
    waiting, running = asked_of(tasks), asked_of(tasks)
    assert tasks.cancel(waiting.task)
    assert tasks.take(waiting.task, "first") is None
    taken = tasks.take(running.task, "first")
    assert taken is not None
    assert tasks.cancel(running.task)
    with pytest.raises(CancelledError):
        tasks.tell(taken, 1, 2, "half")
    tasks.stop(taken, "Cancelled at: half.")
    assert {e.state for e in tasks.latest()} == {TaskState.CANCELLED}


def test_a_cancelled_task_of_a_dead_worker_is_over(tasks: BackgroundTasks, clock: Clock) -> None:
    asked = asked_of(tasks)
    assert tasks.take(asked.task, "dies") is not None
    tasks.cancel(asked.task)
    clock.pass_(16)
    assert tasks.take(asked.task, "second") is None
    over = tasks.task(asked.task)
    assert over is not None and over.state is TaskState.CANCELLED


def test_old_tasks_go_with_their_files(tasks: BackgroundTasks, clock: Clock) -> None:
    asked = tasks.ask(
        TaskKind.IMPORT, {}, label="x", by="Ada Example",
        file=TaskFile("a.csv", "text/csv", b"a"),
    )  # fmt: skip
    assert tasks.given(asked.task) is not None
    assert tasks.cancel(asked.task)
    clock.pass_(6 * 86400)
    assert tasks.forget_old() == 0
    clock.pass_(2 * 86400)
    assert tasks.forget_old() == 1
    assert tasks.task(asked.task) is None
    assert tasks.given(asked.task) is None


def test_a_table_is_looked_through_then_imported(
    register: SqlRegister, plant: Plant, background: Background, worker: Worker
) -> None:
    looked = ask_import(background, "joints", "../../joints.csv", JOINTS, by="Ada Example")
    assert looked.label == "Look through joints: joints.csv"
    with pytest.raises(InputError, match="is no finished look"):
        ask_import_again(background, looked, by="Ada Example")
    looked = work(background, worker, looked)
    assert looked.state is TaskState.DONE, looked.failure
    assert {k: looked.answer[k] for k in ("rows", "recorded", "already", "refused")} == {
        "rows": 2, "recorded": 7, "already": 0, "refused": 2,
    }  # fmt: skip
    assert [(r["line"], r["field"]) for r in looked.answer["refused_rows"]] == [
        (4, "conveyor"), (5, "label"),
    ]  # fmt: skip
    refused = background.tasks.result(looked.task)
    assert refused is not None and b"is a formula" in refused.data
    assert b"\r\n=" not in refused.data and b",=" not in refused.data
    assert register.joints() == ()
    applied = work(background, worker, ask_import_again(background, looked, by="Ada Example"))
    assert applied.state is TaskState.DONE, applied.failure
    assert len(register.joints()) == 2
    again = work(background, worker, ask_import_again(background, looked, by="Eve Example"))
    assert (again.answer["recorded"], again.answer["already"]) == (0, 7)
    assert register.verify().faults == ()


def test_a_table_that_cannot_be_read_fails_in_one_sentence(
    plant: Plant, background: Background, worker: Worker
) -> None:
    for name, data, said in (
        ("joints.xlsx", b"PK\x03\x04 not one", "joints.xlsx: is no XLSX file"),
        ("joints.csv", b"a,b\n1,2\n", "site: is missing; the table must have this column"),
        ("joints.csv", b"\xff\xfe\x00", "joints.csv"),
    ):
        failed = work(
            background, worker, ask_import(background, "joints", name, data, by="Ada Example")
        )
        assert failed.state is TaskState.FAILED
        assert said in failed.failure
    with pytest.raises(InputError, match="with the ending"):
        ask_import(background, "joints", "joints.exe", b"MZ", by="Ada Example")
    with pytest.raises(InputError, match="accepted is more than 0"):
        ask_import(background, "joints", "joints.csv", b"", by="Ada Example")


def test_done_twice_does_no_harm(
    register: SqlRegister, plant: Plant, background: Background, worker: Worker, clock: Clock
) -> None:
    looked = work(
        background, worker, ask_import(background, "joints", "j.csv", JOINTS, by="Ada Example")
    )
    asked = ask_import_again(background, looked, by="Ada Example")
    dead = background.tasks.take(asked.task, "dies before it says that it is done")
    assert dead is not None
    from splicewright.background.work import do

    given = background.tasks.given(asked.task)
    do(register, dead, given, clock(), lambda done, total, step: None)
    clock.pass_(16)
    done = work(background, worker, asked)
    assert done.state is TaskState.DONE, done.failure
    assert (done.answer["recorded"], done.answer["already"]) == (0, 7)
    assert len(register.joints()) == 2


def test_job_packs_in_one_file(
    register: SqlRegister, plant: Plant, background: Background, worker: Worker, clock: Clock
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
    asked = ask_bundle(background, [*jobs, jobs[0], bare, uuid4()], by="Ada Example")
    assert asked.label == "Job folders of 4 jobs"
    done = work(background, worker, asked)
    assert done.state is TaskState.DONE, done.failure
    assert len(done.answer["packs"]) == 2
    assert len(done.answer["left_out"]) == 2
    assert done.answer["left_out"][0] == "no plan yet: no plan is recorded for it."
    result = background.tasks.result(asked.task)
    assert result is not None
    names = zipfile.ZipFile(io.BytesIO(result.data)).namelist()
    folders = {name.split("/")[0] for name in names}
    assert len(folders) == 2 and all("." not in f and "=" not in f for f in folders)
    assert all(f"{folder}/plan.json" in names for folder in folders)
    nothing = work(background, worker, ask_bundle(background, [bare], by="Ada Example"))
    assert nothing.failure == (
        "jobs: none of the jobs has a plan: no plan yet: no plan is recorded for it."
    )


def test_a_forecast_of_all_joints(
    register: SqlRegister, plant: Plant, background: Background, worker: Worker, clock: Clock
) -> None:
    for number in range(12):
        joint = plant.joint(register, f"=J{number}", 5.0 * number)
        register.append(plant.fact(JointPutToWork(joint)))
        clock.pass_(DAY * (40 + 9 * number))
        if number % 3:
            mode = Mode.PIN_WORN if number % 2 else Mode.RENEWED
            register.append(plant.fact(JointRemoved(joint, mode)))
    done = work(
        background, worker, ask_fleet(background, 60 * DAY, by="Ada Example", site=plant.site)
    )
    assert done.state is TaskState.DONE, done.failure
    [site] = done.answer["sites"]
    assert (site["joints"], site["failures"]) == (12, 4)
    assert 0 < site["expected"] < 4
    assert any("as if the belt never stood still" in a for a in done.answer["assumed"])
    result = background.tasks.result(done.task)
    assert result is not None
    bundle = zipfile.ZipFile(io.BytesIO(result.data))
    assert {"site 1/joints.xlsx", "site 1/joints.csv", "site 1/life.pdf"} <= set(bundle.namelist())
    lines = bundle.read("site 1/joints.csv").decode("utf-8-sig").splitlines()
    assert len(lines) == 5
    assert all(",'=J" in line for line in lines[1:])  # no formula for a spreadsheet
    nothing = work(background, worker, ask_fleet(background, DAY, by="Ada Example", site=uuid4()))
    assert nothing.failure == "site: the register knows no such site"
    with pytest.raises(InputError, match="accepted are 1 day to 3653 days"):
        ask_fleet(background, 0.0, by="Ada Example")


def test_a_fault_of_ours_is_told_without_its_insides(
    plant: Plant, background: Background, worker: Worker, monkeypatch: pytest.MonkeyPatch,
    caplog: pytest.LogCaptureFixture,
) -> None:  # fmt: skip
    from splicewright.background import worker as working

    def breaks(*_: object) -> None:
        msg = "secret inside"
        raise ZeroDivisionError(msg)

    monkeypatch.setattr(working, "do", breaks)
    failed = work(background, worker, ask_fleet(background, DAY, by="Ada Example"))
    assert failed.state is TaskState.FAILED
    assert "secret" not in failed.failure and "nothing you did wrong" in failed.failure
    assert "secret inside" in caplog.text


def test_the_queue_carries_ids_and_no_pickles(
    background: Background, queue: Queue, plant: Plant
) -> None:
    asked = ask_fleet(background, DAY, by="Ada Example")
    [message] = queue._huey.storage.enqueued_items()
    assert message.startswith(b'{"id":') and str(asked.task).encode() in message
    assert not queue.empty()
    with pytest.raises(ValueError, match="longer than any"):
        queue._huey.serializer.deserialize(b" " * 20_000)
    with pytest.raises(ValueError, match="can't decode"):
        queue._huey.serializer.deserialize(b"\x80\x04cos\nsystem\n.")


def test_what_was_not_queued_is_found(
    background: Background,
    queue: Queue,
    worker: Worker,
    plant: Plant,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def away(*_: object) -> None:
        msg = "database is locked"
        raise OSError(msg)

    with monkeypatch.context() as broken:
        broken.setattr(queue._huey.storage, "enqueue", away)
        asked = ask_fleet(background, DAY, by="Ada Example")
    assert queue.empty()
    assert worker.look_round() == 1
    assert not queue.empty()
    assert worker.look_round() == 0  # it stands there already
    assert asked.task in background.tasks.unattended()


def test_a_busy_register_ends_no_task(
    background: Background,
    worker: Worker,
    plant: Plant,
    clock: Clock,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    from splicewright.background import worker as working
    from splicewright.store import BusyError

    def busy(*_: object) -> None:
        msg = "locked"
        raise BusyError(msg)

    with monkeypatch.context() as broken:
        broken.setattr(working, "do", busy)
        asked = work(background, worker, ask_fleet(background, DAY, by="Ada Example"))
    assert asked.state is TaskState.RUNNING
    clock.pass_(timedelta(seconds=16).total_seconds())
    assert work(background, worker, asked).state is TaskState.FAILED  # nothing was put to work

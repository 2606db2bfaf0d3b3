"""Background tasks: long work done apart from the page that asked for it, and how far it is.

A task is written down before anybody is told of it, so that none is lost: a worker takes it,
gives a sign of life while it works, and another takes it up when the sign stays out. Every take
has a number; what an earlier take still says after that is not listened to. So a task may run
twice, and each kind of task is such that this does no harm.

Tasks are no facts: they and their files go when they are old. Their tables keep the older word,
errand: to rename them would take a migration and change nothing that people see.
"""

from __future__ import annotations

import itertools
import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from enum import StrEnum
from typing import Any
from uuid import UUID, uuid4

from sqlalchemy import (
    BigInteger,
    Boolean,
    Column,
    ColumnElement,
    Connection,
    Engine,
    ForeignKey,
    Index,
    Integer,
    LargeBinary,
    String,
    Table,
    Text,
    and_,
    delete,
    insert,
    or_,
    select,
    update,
)

from splicewright.errors import Fault, InputError, SplicewrightError
from splicewright.store.database import opening
from splicewright.store.database.schema import METADATA, Id, Instant, Word
from splicewright.store.sites import ALL_SITES, Sites, covers, from_written, written

PATIENCE = 15.0
"""Without a sign of life for so long a background task is taken up by another worker [s]."""
MOST_TRIES = 5
"""A background task that so many workers died of is given up."""
KEPT = timedelta(days=7)
"""So long a background task and its files stay after it ended."""
LARGEST_INPUT, LARGEST_RESULT = 20_000_000, 60_000_000
"""Bytes of the file a background task is given, and of the one it makes."""
_LONGEST_SUMMARY = 1_000_000


class TaskKind(StrEnum):
    """What can be asked for."""

    IMPORT = "import"
    BUNDLE = "bundle"
    FLEET = "fleet"
    QUESTION = "question"
    MEASURE = "measure"


class TaskState(StrEnum):
    """How far a background task is."""

    WAITING = "waiting"
    RUNNING = "running"
    DONE = "done"
    FAILED = "failed"
    CANCELLED = "cancelled"

    @property
    def over(self) -> bool:
        """Whether nothing more will come of it."""
        return self in {TaskState.DONE, TaskState.FAILED, TaskState.CANCELLED}


class CancelledError(SplicewrightError):
    """Somebody cancelled the task."""


class LostError(SplicewrightError):
    """The task was taken up by another worker, or is gone."""


@dataclass(frozen=True, slots=True)
class TaskFile:
    """A file given to a background task, or made by it."""

    name: str
    media_type: str
    data: bytes


@dataclass(frozen=True, slots=True)
class BackgroundTask:
    """A background task as it stands.

    asked : what is to be done, by kind; see `splicewright.background.requests`
    label : the same for people, one line
    by, account : who asked, as it is to be read, and the account's id
    take : how often it was taken up; the number of the present take
    done, total : progress in whatever it counts (total 0: not known)
    step : the present one, or where it was cancelled
    failure : why it failed, one plain sentence; empty otherwise
    answer : what came of it, for machines; None until it is done
    has_result : whether there is a file to download
    sites : that who asked was let into; what comes of it is shown to whoever is let into all these
    """

    task: UUID
    kind: TaskKind
    asked: Mapping[str, Any]
    label: str
    by: str
    account: UUID | None
    state: TaskState
    created: datetime
    started: datetime | None
    ended: datetime | None
    take: int
    cancel: bool
    done: int
    total: int
    step: str
    failure: str
    answer: Any
    has_result: bool
    sites: Sites

    @property
    def errand(self) -> UUID:
        """Its id by its former name, which programs read in the API, as the next two."""
        return self.task

    @property
    def made(self) -> datetime:
        """When it was asked for."""
        return self.created

    @property
    def said(self) -> str:
        """Its step."""
        return self.step

    def shown_to(self, account: UUID, sites: Sites, *, everybodys: bool) -> bool:
        """Whether somebody may look at it: their own, or everybody's; never of other sites.

        account, sites : of whoever looks, at this moment; everybodys : their role lets them look
            at the tasks of others
        """
        return covers(sites, self.sites) and (everybodys or self.account == account)

    @property
    def share(self) -> float | None:
        """How much of it is done, 0 to 1; None when that is not known."""
        return min(1.0, self.done / self.total) if self.total else None


TASKS = Table(
    "errands",
    METADATA,
    Column("errand", Id, primary_key=True, key="task"),
    Column("kind", Word(TaskKind), nullable=False),
    Column("asked", Text, nullable=False),
    Column("label", Text, nullable=False),
    Column("by", Text, nullable=False),
    Column("account", Id),
    Column("state", Word(TaskState), nullable=False),
    Column("created", Instant, nullable=False),
    Column("started", Instant),
    Column("ended", Instant),
    Column("beat", Instant),
    Column("worker", String(120), nullable=False),
    Column("take", Integer, nullable=False),
    Column("cancel", Boolean, nullable=False),
    Column("done", BigInteger, nullable=False),
    Column("total", BigInteger, nullable=False),
    Column("step", Text, nullable=False),
    Column("failure", Text, nullable=False),
    Column("answer", Text),
    Column("has_result", Boolean, nullable=False),
    Column("sites", Text),
)
Index("ix_errands_created", TASKS.c.created)
Index("ix_errands_state_created", TASKS.c.state, TASKS.c.created)
TASK_FILES = Table(
    "errand_files",
    METADATA,
    Column(
        "errand", Id, ForeignKey("errands.task", ondelete="CASCADE"), primary_key=True, key="task"
    ),
    Column("part", String(40), primary_key=True),
    Column("name", Text, nullable=False),
    Column("media_type", String(80), nullable=False),
    Column("data", LargeBinary, nullable=False),
)
_SHOWN = [c for c in TASKS.c if c.name not in {"beat", "worker"}]


class BackgroundTasks:
    """The tasks of one register's database. May be used by many threads.

    Parameters
    ----------
    patience : see `PATIENCE` [s]
    """

    def __init__(
        self, engine: Engine, clock: Callable[[], datetime], patience: float = PATIENCE
    ) -> None:
        self._engine = engine
        self._writer = opening.writing(engine)
        self._clock = clock
        self.patience = patience

    # Asking

    def ask(
        self,
        kind: TaskKind,
        asked: Mapping[str, Any],
        *,
        label: str,
        by: str,
        account: UUID | None = None,
        file: TaskFile | None = None,
        id: UUID | None = None,
        sites: Sites = ALL_SITES,
    ) -> BackgroundTask:
        """Write a background task down; asked again with the same id it is the same task.

        sites : that who asks is let into; not said is all, so that few are shown what comes of it

        Raises
        ------
        InputError
            The file is empty or too large, or the id is another task's.
        """
        if file is not None and not 0 < len(file.data) <= LARGEST_INPUT:
            say = f"is {len(file.data)} bytes; accepted is more than 0 and up to 20 MB"
            raise InputError(Fault("file", say))
        id, text = id or uuid4(), json.dumps(asked, sort_keys=True)
        with opening.said_plainly(), self._writer.begin() as connection:
            there = _read(connection, id)
            if there is not None:
                if (there.account, there.kind, json.dumps(there.asked, sort_keys=True)) != (
                    account,
                    kind,
                    text,
                ):
                    raise InputError(Fault("id", "is the id of another task"))
                return there
            connection.execute(
                insert(TASKS).values(
                    task=id,
                    kind=kind,
                    asked=text,
                    label=label,
                    by=by,
                    account=account,
                    state=TaskState.WAITING,
                    created=self._now(),
                    worker="",
                    take=0,
                    cancel=False,
                    done=0,
                    total=0,
                    step="",
                    failure="",
                    has_result=False,
                    sites=written(sites),
                )
            )
            if file is not None:
                _keep(connection, id, "input", file)
            task = _read(connection, id)
        assert task is not None
        return task

    def cancel(self, task: UUID) -> bool:
        """Cancel: at once while it waits, else at the worker's next step. False when it is over."""
        open_ = and_(
            TASKS.c.task == task,
            TASKS.c.state.in_([TaskState.WAITING, TaskState.RUNNING]),
        )
        with opening.said_plainly(), self._writer.begin() as connection:
            asked = connection.execute(update(TASKS).where(open_).values(cancel=True)).rowcount
            connection.execute(
                update(TASKS)
                .where(open_, TASKS.c.state == TaskState.WAITING)
                .values(state=TaskState.CANCELLED, ended=self._now())
            )
        return bool(asked)

    # Looking

    def task(self, task: UUID) -> BackgroundTask | None:
        """One task; None when there is none, or it was old and went."""
        with opening.reading(self._engine) as connection:
            return _read(connection, task)

    def latest(
        self, limit: int = 100, account: UUID | None = None, *, sites: Sites = ALL_SITES
    ) -> tuple[BackgroundTask, ...]:
        """Background tasks of all or of one account, the newest first.

        sites : of whoever looks: those that read another site are left out
        """
        query = select(*_SHOWN).order_by(TASKS.c.created.desc(), TASKS.c.task)
        if account is not None:
            query = query.where(TASKS.c.account == account)
        with opening.reading(self._engine) as connection:
            seen = (t for t in map(_task, connection.execute(query)) if covers(sites, t.sites))
            return tuple(itertools.islice(seen, limit))

    def given(self, task: UUID) -> TaskFile | None:
        """The file the task was given."""
        return self._file(task, "input")

    def result(self, task: UUID) -> TaskFile | None:
        """The file it made."""
        return self._file(task, "result")

    # Doing

    def take(self, task: UUID, worker: str) -> BackgroundTask | None:
        """Take a task that waits, or whose worker gave no sign of life; None when it is not so.

        A background task that killed worker after worker is given up here.
        """
        mine = and_(TASKS.c.task == task, self._unattended(), TASKS.c.cancel.is_(False))
        now = self._now()
        with opening.said_plainly(), self._writer.begin() as connection:
            connection.execute(
                update(TASKS)
                .where(mine, TASKS.c.take >= MOST_TRIES)
                .values(
                    state=TaskState.FAILED,
                    ended=now,
                    failure=f"The work was begun {MOST_TRIES} times and stopped each time without "
                    "an answer; ask for less at once, or tell whoever keeps this server.",
                )
            )
            connection.execute(
                update(TASKS)
                .where(TASKS.c.task == task, self._unattended(), TASKS.c.cancel.is_(True))
                .values(state=TaskState.CANCELLED, ended=now)
            )
            taken = connection.execute(
                update(TASKS)
                .where(mine)
                .values(
                    state=TaskState.RUNNING,
                    worker=worker[:120],
                    take=TASKS.c.take + 1,
                    beat=now,
                    started=now,
                    done=0,
                    total=0,
                    step="",
                )
            ).rowcount
            return _read(connection, task) if taken else None

    def beat(self, task: BackgroundTask) -> None:
        """Give a sign of life.

        Raises
        ------
        CancelledError, LostError
            The work is to stop.
        """
        self._tell(task)

    def tell(self, task: BackgroundTask, done: int, total: int, step: str) -> None:
        """Say how far the work is; a sign of life too.

        Raises
        ------
        CancelledError, LostError
            The work is to stop.
        """
        self._tell(task, done=done, total=total, step=step)

    def finish(self, task: BackgroundTask, answer: Any, file: TaskFile | None = None) -> None:
        """The work is done; `answer` is plain data.

        Raises
        ------
        InputError
            The file is too large to be kept.
        LostError
            Another worker has it now.
        """
        text = json.dumps(answer, allow_nan=False)
        if len(text) > _LONGEST_SUMMARY or (file is not None and len(file.data) > LARGEST_RESULT):
            say = "came out larger than can be kept (60 MB); ask for less at once"
            raise InputError(Fault("", say))
        with opening.said_plainly(), self._writer.begin() as connection:
            self._end(
                connection,
                task,
                state=TaskState.DONE,
                answer=text,
                has_result=file is not None,
                failure="",
            )
            if file is not None:
                _keep(connection, task.task, "result", file)

    def fail(self, task: BackgroundTask, sentence: str) -> None:
        """The work cannot be done, and why."""
        with opening.said_plainly(), self._writer.begin() as connection:
            self._end(connection, task, state=TaskState.FAILED, failure=sentence[:4000])

    def stop(self, task: BackgroundTask, note: str) -> None:
        """The work was cancelled; `note` tells what of it was done."""
        with opening.said_plainly(), self._writer.begin() as connection:
            self._end(connection, task, state=TaskState.CANCELLED, step=note)

    def give_back(self, task: BackgroundTask) -> None:
        """The worker is stopped and has not done it: the next one takes it at once."""
        with opening.said_plainly(), self._writer.begin() as connection:
            connection.execute(
                update(TASKS).where(_same_take(task)).values(state=TaskState.WAITING)
            )

    def unattended(self, limit: int = 100) -> tuple[UUID, ...]:
        """BackgroundTasks that nobody works on, the oldest first."""
        query = select(TASKS.c.task).where(self._unattended()).order_by(TASKS.c.created)
        with opening.reading(self._engine) as connection:
            return tuple(connection.execute(query.limit(limit)).scalars())

    def forget_old(self) -> int:
        """Let go of tasks that ended long ago, with their files; gives their number."""
        old = TASKS.c.ended < self._now() - KEPT
        with opening.reading(self._engine) as connection:
            if connection.execute(select(TASKS.c.task).where(old).limit(1)).first() is None:
                return 0
        with opening.said_plainly(), self._writer.begin() as connection:
            return connection.execute(delete(TASKS).where(old)).rowcount

    def _now(self) -> datetime:
        return self._clock().astimezone(UTC)

    def _unattended(self) -> ColumnElement[bool]:
        now, patience = self._now(), timedelta(seconds=self.patience)
        # A sign of life from the future was given before the clock was set back.
        out = or_(TASKS.c.beat < now - patience, TASKS.c.beat > now + patience)
        running = and_(TASKS.c.state == TaskState.RUNNING, out)
        return or_(TASKS.c.state == TaskState.WAITING, running)

    def _tell(self, task: BackgroundTask, **values: Any) -> None:
        with opening.said_plainly(), self._writer.begin() as connection:
            statement = update(TASKS).where(_same_take(task)).values(beat=self._now(), **values)
            if not connection.execute(statement).rowcount:
                msg = "the task is another worker's now, or gone"
                raise LostError(msg)
            query = select(TASKS.c.cancel).where(TASKS.c.task == task.task)
            cancelled = connection.execute(query).scalar()
        if cancelled:
            msg = "the task was cancelled"
            raise CancelledError(msg)

    def _end(self, connection: Connection, task: BackgroundTask, **values: Any) -> None:
        ended = update(TASKS).where(_same_take(task)).values(ended=self._now(), **values)
        if not connection.execute(ended).rowcount:
            msg = "the task is another worker's now, or gone"
            raise LostError(msg)

    def _file(self, task: UUID, part: str) -> TaskFile | None:
        query = select(TASK_FILES.c.name, TASK_FILES.c.media_type, TASK_FILES.c.data)
        query = query.where(TASK_FILES.c.task == task, TASK_FILES.c.part == part)
        with opening.reading(self._engine) as connection:
            row = connection.execute(query).first()
        return None if row is None else TaskFile(row.name, row.media_type, bytes(row.data))


def _same_take(task: BackgroundTask) -> ColumnElement[bool]:
    return and_(
        TASKS.c.task == task.task,
        TASKS.c.take == task.take,
        TASKS.c.state == TaskState.RUNNING,
    )


def _keep(connection: Connection, task: UUID, part: str, file: TaskFile) -> None:
    same = and_(TASK_FILES.c.task == task, TASK_FILES.c.part == part)
    connection.execute(delete(TASK_FILES).where(same))
    connection.execute(
        insert(TASK_FILES).values(
            task=task, part=part, name=file.name, media_type=file.media_type, data=file.data
        )
    )


def _read(connection: Connection, task: UUID) -> BackgroundTask | None:
    row = connection.execute(select(*_SHOWN).where(TASKS.c.task == task)).first()
    return None if row is None else _task(row)


def _task(row: Sequence[Any]) -> BackgroundTask:
    values = dict(zip((c.key for c in _SHOWN), row, strict=True))
    values["asked"] = json.loads(values["asked"])
    values["answer"] = None if values["answer"] is None else json.loads(values["answer"])
    values["sites"] = from_written(values["sites"])
    return BackgroundTask(**values)

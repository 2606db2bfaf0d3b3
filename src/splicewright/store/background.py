"""Errands: long work done apart from the page that asked for it, and how far it is.

An errand is written down before anybody is told of it, so that none is lost: a worker takes it,
gives a sign of life while it works, and another takes it up when the sign stays out. Every take
has a number; what an earlier take still says after that is not listened to. So an errand may run
twice, and each kind of errand is such that this does no harm.

Errands are no facts: they and their files go when they are old.
"""

from __future__ import annotations

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
    Uuid,
    and_,
    delete,
    insert,
    or_,
    select,
    update,
)

from splicewright.errors import Fault, InputError, SplicewrightError
from splicewright.store.database import opening
from splicewright.store.database.schema import METADATA, Instant, Word

PATIENCE = 15.0
"""Without a sign of life for so long an errand is taken up by another worker [s]."""
MOST_TRIES = 5
"""An errand that so many workers died of is given up."""
KEPT = timedelta(days=7)
"""So long an errand and its files stay after it ended."""
LARGEST_INPUT, LARGEST_RESULT = 20_000_000, 60_000_000
"""Bytes of the file an errand is given, and of the one it makes."""
_LONGEST_SUMMARY = 1_000_000


class ErrandKind(StrEnum):
    """What can be asked for."""

    IMPORT = "import"
    BUNDLE = "bundle"
    FLEET = "fleet"


class ErrandState(StrEnum):
    """How far an errand is."""

    WAITING = "waiting"
    RUNNING = "running"
    DONE = "done"
    FAILED = "failed"
    CANCELLED = "cancelled"

    @property
    def over(self) -> bool:
        """Whether nothing more will come of it."""
        return self in {ErrandState.DONE, ErrandState.FAILED, ErrandState.CANCELLED}


class CancelledError(SplicewrightError):
    """Somebody cancelled the errand."""


class LostError(SplicewrightError):
    """The errand was taken up by another worker, or is gone."""


@dataclass(frozen=True, slots=True)
class ErrandFile:
    """A file given to an errand, or made by it."""

    name: str
    media_type: str
    data: bytes


@dataclass(frozen=True, slots=True)
class Errand:
    """An errand as it stands.

    asked : what is to be done, by kind; see `splicewright.background.requests`
    label : the same for people, one line
    by, account : who asked, as it is to be read, and the account's id
    take : how often it was taken up; the number of the present take
    done, total, said : progress in whatever it counts (total 0: not known), and the present step
    failure : why it failed, one plain sentence; empty otherwise
    answer : what came of it, for machines; None until it is done
    has_result : whether there is a file to download
    """

    errand: UUID
    kind: ErrandKind
    asked: Mapping[str, Any]
    label: str
    by: str
    account: UUID | None
    state: ErrandState
    made: datetime
    started: datetime | None
    ended: datetime | None
    take: int
    cancel: bool
    done: int
    total: int
    said: str
    failure: str
    answer: Any
    has_result: bool

    @property
    def share(self) -> float | None:
        """How much of it is done, 0 to 1; None when that is not known."""
        return min(1.0, self.done / self.total) if self.total else None


ERRANDS = Table(
    "errands",
    METADATA,
    Column("errand", Uuid, primary_key=True),
    Column("kind", Word(ErrandKind), nullable=False),
    Column("asked", Text, nullable=False),
    Column("label", Text, nullable=False),
    Column("by", Text, nullable=False),
    Column("account", Uuid),
    Column("state", Word(ErrandState), nullable=False),
    Column("made", Instant, nullable=False),
    Column("started", Instant),
    Column("ended", Instant),
    Column("beat", Instant),
    Column("worker", String(120), nullable=False),
    Column("take", Integer, nullable=False),
    Column("cancel", Boolean, nullable=False),
    Column("done", BigInteger, nullable=False),
    Column("total", BigInteger, nullable=False),
    Column("said", Text, nullable=False),
    Column("failure", Text, nullable=False),
    Column("answer", Text),
    Column("has_result", Boolean, nullable=False),
)
Index("ix_errands_made", ERRANDS.c.made)
Index("ix_errands_state_made", ERRANDS.c.state, ERRANDS.c.made)
ERRAND_FILES = Table(
    "errand_files",
    METADATA,
    Column("errand", Uuid, ForeignKey("errands.errand", ondelete="CASCADE"), primary_key=True),
    Column("part", String(40), primary_key=True),
    Column("name", Text, nullable=False),
    Column("media_type", String(80), nullable=False),
    Column("data", LargeBinary, nullable=False),
)
_SHOWN = [c for c in ERRANDS.c if c.name not in {"beat", "worker"}]


class Errands:
    """The errands of one register's database. May be used by many threads.

    Parameters
    ----------
    engine : of that database, migrated
    clock : what the time is
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
        kind: ErrandKind,
        asked: Mapping[str, Any],
        *,
        label: str,
        by: str,
        account: UUID | None = None,
        file: ErrandFile | None = None,
        id: UUID | None = None,
    ) -> Errand:
        """Write an errand down; asked again with the same id it is the same errand.

        Raises
        ------
        InputError
            The file is empty or too large, or the id is another errand's.
        """
        if file is not None and not 0 < len(file.data) <= LARGEST_INPUT:
            say = f"is {len(file.data)} bytes; accepted is more than 0 and up to 20 MB"
            raise InputError(Fault("file", say))
        id, text = id or uuid4(), json.dumps(asked, sort_keys=True)
        with opening.said_plainly(), self._writer.begin() as connection:
            there = _read(connection, id)
            if there is not None:
                if (there.kind, json.dumps(there.asked, sort_keys=True)) != (kind, text):
                    raise InputError(Fault("id", "is the id of another errand"))
                return there
            connection.execute(
                insert(ERRANDS).values(
                    errand=id, kind=kind, asked=text, label=label, by=by, account=account,
                    state=ErrandState.WAITING, made=self._now(), worker="", take=0, cancel=False,
                    done=0, total=0, said="", failure="", has_result=False,
                )
            )  # fmt: skip
            if file is not None:
                _keep(connection, id, "input", file)
            made = _read(connection, id)
        assert made is not None
        return made

    def cancel(self, errand: UUID) -> bool:
        """Cancel: at once while it waits, else at the worker's next step. False when it is over."""
        open_ = and_(
            ERRANDS.c.errand == errand,
            ERRANDS.c.state.in_([ErrandState.WAITING, ErrandState.RUNNING]),
        )
        with opening.said_plainly(), self._writer.begin() as connection:
            asked = connection.execute(update(ERRANDS).where(open_).values(cancel=True)).rowcount
            connection.execute(
                update(ERRANDS)
                .where(open_, ERRANDS.c.state == ErrandState.WAITING)
                .values(state=ErrandState.CANCELLED, ended=self._now())
            )
        return bool(asked)

    # Looking

    def errand(self, errand: UUID) -> Errand | None:
        """One errand; None when there is none, or it was old and went."""
        with opening.reading(self._engine) as connection:
            return _read(connection, errand)

    def latest(self, limit: int = 100, account: UUID | None = None) -> tuple[Errand, ...]:
        """Errands of all or of one account, the newest first."""
        query = select(*_SHOWN).order_by(ERRANDS.c.made.desc(), ERRANDS.c.errand).limit(limit)
        if account is not None:
            query = query.where(ERRANDS.c.account == account)
        with opening.reading(self._engine) as connection:
            return tuple(_errand(row) for row in connection.execute(query))

    def given(self, errand: UUID) -> ErrandFile | None:
        """The file the errand was given."""
        return self._file(errand, "input")

    def result(self, errand: UUID) -> ErrandFile | None:
        """The file it made."""
        return self._file(errand, "result")

    # Doing

    def take(self, errand: UUID, worker: str) -> Errand | None:
        """Take an errand that waits, or whose worker gave no sign of life; None when it is not so.

        An errand that killed worker after worker is given up here.
        """
        mine = and_(ERRANDS.c.errand == errand, self._unattended(), ERRANDS.c.cancel.is_(False))
        now = self._now()
        with opening.said_plainly(), self._writer.begin() as connection:
            connection.execute(
                update(ERRANDS)
                .where(mine, ERRANDS.c.take >= MOST_TRIES)
                .values(
                    state=ErrandState.FAILED, ended=now,
                    failure=f"The work was begun {MOST_TRIES} times and stopped each time without "
                    "an answer; ask for less at once, or tell whoever keeps this server.",
                )
            )  # fmt: skip
            connection.execute(
                update(ERRANDS)
                .where(ERRANDS.c.errand == errand, self._unattended(), ERRANDS.c.cancel.is_(True))
                .values(state=ErrandState.CANCELLED, ended=now)
            )
            taken = connection.execute(
                update(ERRANDS)
                .where(mine)
                .values(
                    state=ErrandState.RUNNING, worker=worker[:120], take=ERRANDS.c.take + 1,
                    beat=now, started=now, done=0, total=0, said="",
                )
            ).rowcount  # fmt: skip
            return _read(connection, errand) if taken else None

    def beat(self, errand: Errand) -> None:
        """Give a sign of life.

        Raises
        ------
        CancelledError, LostError
            The work is to stop.
        """
        self._tell(errand)

    def tell(self, errand: Errand, done: int, total: int, said: str) -> None:
        """Say how far the work is; a sign of life too.

        Raises
        ------
        CancelledError, LostError
            The work is to stop.
        """
        self._tell(errand, done=done, total=total, said=said)

    def finish(self, errand: Errand, answer: Any, file: ErrandFile | None = None) -> None:
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
                connection, errand, state=ErrandState.DONE, answer=text,
                has_result=file is not None, failure="",
            )  # fmt: skip
            if file is not None:
                _keep(connection, errand.errand, "result", file)

    def fail(self, errand: Errand, sentence: str) -> None:
        """The work cannot be done, and why."""
        with opening.said_plainly(), self._writer.begin() as connection:
            self._end(connection, errand, state=ErrandState.FAILED, failure=sentence[:4000])

    def stop(self, errand: Errand, said: str) -> None:
        """The work was cancelled; `said` tells what of it was done."""
        with opening.said_plainly(), self._writer.begin() as connection:
            self._end(connection, errand, state=ErrandState.CANCELLED, said=said)

    def give_back(self, errand: Errand) -> None:
        """The worker is stopped and has not done it: the next one takes it at once."""
        with opening.said_plainly(), self._writer.begin() as connection:
            connection.execute(
                update(ERRANDS).where(_same_take(errand)).values(state=ErrandState.WAITING)
            )

    def unattended(self, limit: int = 100) -> tuple[UUID, ...]:
        """Errands that nobody works on, the oldest first."""
        query = select(ERRANDS.c.errand).where(self._unattended()).order_by(ERRANDS.c.made)
        with opening.reading(self._engine) as connection:
            return tuple(connection.execute(query.limit(limit)).scalars())

    def forget_old(self) -> int:
        """Let go of errands that ended long ago, with their files; gives their number."""
        old = ERRANDS.c.ended < self._now() - KEPT
        with opening.reading(self._engine) as connection:
            if connection.execute(select(ERRANDS.c.errand).where(old).limit(1)).first() is None:
                return 0
        with opening.said_plainly(), self._writer.begin() as connection:
            return connection.execute(delete(ERRANDS).where(old)).rowcount

    def _now(self) -> datetime:
        return self._clock().astimezone(UTC)

    def _unattended(self) -> ColumnElement[bool]:
        now, patience = self._now(), timedelta(seconds=self.patience)
        # A sign of life from the future was given before the clock was set back.
        out = or_(ERRANDS.c.beat < now - patience, ERRANDS.c.beat > now + patience)
        running = and_(ERRANDS.c.state == ErrandState.RUNNING, out)
        return or_(ERRANDS.c.state == ErrandState.WAITING, running)

    def _tell(self, errand: Errand, **values: Any) -> None:
        with opening.said_plainly(), self._writer.begin() as connection:
            told = update(ERRANDS).where(_same_take(errand)).values(beat=self._now(), **values)
            if not connection.execute(told).rowcount:
                msg = "the errand is another worker's now, or gone"
                raise LostError(msg)
            query = select(ERRANDS.c.cancel).where(ERRANDS.c.errand == errand.errand)
            cancelled = connection.execute(query).scalar()
        if cancelled:
            msg = "the errand was cancelled"
            raise CancelledError(msg)

    def _end(self, connection: Connection, errand: Errand, **values: Any) -> None:
        ended = update(ERRANDS).where(_same_take(errand)).values(ended=self._now(), **values)
        if not connection.execute(ended).rowcount:
            msg = "the errand is another worker's now, or gone"
            raise LostError(msg)

    def _file(self, errand: UUID, part: str) -> ErrandFile | None:
        query = select(ERRAND_FILES.c.name, ERRAND_FILES.c.media_type, ERRAND_FILES.c.data)
        query = query.where(ERRAND_FILES.c.errand == errand, ERRAND_FILES.c.part == part)
        with opening.reading(self._engine) as connection:
            row = connection.execute(query).first()
        return None if row is None else ErrandFile(row.name, row.media_type, bytes(row.data))


def _same_take(errand: Errand) -> ColumnElement[bool]:
    return and_(
        ERRANDS.c.errand == errand.errand,
        ERRANDS.c.take == errand.take,
        ERRANDS.c.state == ErrandState.RUNNING,
    )


def _keep(connection: Connection, errand: UUID, part: str, file: ErrandFile) -> None:
    same = and_(ERRAND_FILES.c.errand == errand, ERRAND_FILES.c.part == part)
    connection.execute(delete(ERRAND_FILES).where(same))
    connection.execute(
        insert(ERRAND_FILES).values(
            errand=errand, part=part, name=file.name, media_type=file.media_type, data=file.data
        )
    )


def _read(connection: Connection, errand: UUID) -> Errand | None:
    row = connection.execute(select(*_SHOWN).where(ERRANDS.c.errand == errand)).first()
    return None if row is None else _errand(row)


def _errand(row: Sequence[Any]) -> Errand:
    values = dict(zip((c.name for c in _SHOWN), row, strict=True))
    values["asked"] = json.loads(values["asked"])
    values["answer"] = None if values["answer"] is None else json.loads(values["answer"])
    return Errand(**values)

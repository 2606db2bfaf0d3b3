"""Opening a database for the register: where it is, how it is kept safe, what is refused."""

from __future__ import annotations

import contextlib
import os
import re
import sqlite3
import sys
from collections.abc import Iterator
from contextvars import ContextVar
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event, inspect, make_url, text
from sqlalchemy.engine import URL
from sqlalchemy.exc import ArgumentError, DBAPIError, InterfaceError, NoSuchModuleError
from sqlalchemy.exc import TimeoutError as PoolTimeoutError

from splicewright.errors import Fault, InputError
from splicewright.store.database import schema
from splicewright.store.progress import Tell, tell_nobody
from splicewright.store.refusals import BusyError, DamagedError, FullError

BUSY_SECONDS = 10.0
"""How long a writer waits for another before it gives up."""
LARGE_FILE = 500_000_000
"""Bytes from which on checking the file at opening is told: it takes seconds."""
CONNECTIONS = 10
"""Connections that one process keeps open."""
CACHE = 4_096
"""Of the file, that each of them holds [KiB]; the system's own cache holds it for all of them, and
the register of a million facts takes no more of a core than with 8 MB."""
_MIGRATING = 7_304_221
"""PostgreSQL advisory lock under which one process migrates and the others wait."""
_HELD: ContextVar[tuple[Engine, Connection] | None] = ContextVar("held", default=None)
_ADVICE = "restore the newest backup with: splicewright register restore"


def data_folder() -> Path:
    """Where this system keeps a user's data, by its own custom."""
    if sys.platform == "win32":
        home = os.environ.get("LOCALAPPDATA", "")
        return Path(home or Path.home() / "AppData" / "Local") / "splicewright"
    if sys.platform == "darwin":
        return Path.home() / "Library" / "Application Support" / "splicewright"
    home = os.environ.get("XDG_DATA_HOME", "")
    return (Path(home) if home else Path.home() / ".local" / "share") / "splicewright"


def read_url(where: str | Path) -> URL:
    """The database that a path or URL names.

    Raises
    ------
    InputError
        It is neither a file nor a SQLite or PostgreSQL URL.
    """
    accepted = "accepted is a file, sqlite:///FILE or postgresql://USER@HOST/DATABASE"
    if isinstance(where, Path) or "://" not in where:
        if not str(where).strip():
            raise InputError(Fault("register", f"is empty; {accepted}"))
        return URL.create("sqlite", database=str(Path(where).absolute()))
    try:
        url = make_url(where)
    except (ArgumentError, ValueError):
        raise InputError(Fault("register", f"cannot be read as a URL; {accepted}")) from None
    if url.drivername in {"postgresql", "postgres", "postgresql+psycopg"}:
        return url.set(drivername="postgresql+psycopg")
    if url.drivername == "sqlite" and url.database and url.database != ":memory:":
        return url.set(database=str(Path(url.database).absolute()))
    masked = url.render_as_string(hide_password=True)
    raise InputError(Fault("register", f'"{masked}" cannot be used; {accepted}'))


def queue_place(where: str | Path) -> tuple[str, str]:
    """Where the queue of a register's tasks lies: ("sqlite", file) or ("postgresql", URL).

    Raises
    ------
    InputError
        As `read_url`.
    """
    url = read_url(where)
    if url.drivername == "sqlite":
        return "sqlite", f"{url.database}-queue"
    return "postgresql", url.set(drivername="postgresql").render_as_string(hide_password=False)


def key_place(url: URL) -> Path:
    """Where the key of sealed secrets lies: beside the register's file, else in the user's data.

    SPLICEWRIGHT_KEY_FILE names another place, such as one that several hosts share.
    """
    named = os.environ.get("SPLICEWRIGHT_KEY_FILE", "")
    if named:
        return Path(named).absolute()
    if url.drivername == "sqlite":
        return Path(f"{url.database}-key")
    where = re.sub(
        r"[^A-Za-z0-9.-]+", "_", f"{url.host or 'here'}-{url.port or 5432}-{url.database}"
    )
    return data_folder() / f"{where}-key"


def connect(url: URL, busy_seconds: float = BUSY_SECONDS, *, reads_only: bool = False) -> Engine:
    """An engine whose connections are set up for durable work, or to write nothing at all."""
    if url.drivername == "sqlite":
        _make_private(Path(str(url.database)))
        engine = create_engine(
            url,
            connect_args={"timeout": busy_seconds},
            hide_parameters=True,
            # More threads wait for one of these: opening one more costs more than waiting.
            pool_size=CONNECTIONS,
            max_overflow=0,
            execution_options={"splicewright_reads": reads_only},
        )
        event.listen(engine, "connect", _set_up_sqlite)
        if reads_only:
            event.listen(engine, "connect", _refuse_writes)
        event.listen(engine, "begin", _begin_sqlite)
        return engine
    try:
        engine = create_engine(
            url,
            pool_pre_ping=True,
            hide_parameters=True,
            connect_args={"connect_timeout": 10, "prepare_threshold": 1},
            pool_size=CONNECTIONS,
            # A few that know the tables and have their plans, rather than all in turn.
            pool_use_lifo=True,
            max_overflow=0,
        )
    except (ModuleNotFoundError, NoSuchModuleError):
        sentence = "PostgreSQL needs the extra: pip install splicewright[postgres]"
        raise InputError(Fault("register", sentence)) from None
    wait = f"SET lock_timeout = {int(1000 * busy_seconds)}"

    @event.listens_for(engine, "connect")
    def _(connection: Any, record: object) -> None:
        with connection.cursor() as cursor:
            cursor.execute(wait)
            # An acknowledged fact must survive a power cut even where the server is set lax.
            cursor.execute("SET synchronous_commit = on")
            # Nothing asked here lasts long enough to be compiled first: 0.15 s with a log in parts.
            cursor.execute("SET jit = off")
            if reads_only:
                cursor.execute("SET default_transaction_read_only = on")
        connection.commit()

    return engine


@contextlib.contextmanager
def planned_once(connection: Connection) -> Iterator[None]:
    """Where PostgreSQL keeps its plan of what is asked within, and plans it for no value.

    Of a log in parts it thinks for 10 to 40 ms about what it reads in one. Only for questions that
    an index answers whatever the values are, and whose indexes of some rows are named in full.
    """
    if connection.dialect.name == "sqlite":
        yield
        return
    connection.exec_driver_sql("SET LOCAL plan_cache_mode = force_generic_plan")
    yield
    connection.exec_driver_sql("SET LOCAL plan_cache_mode = auto")


def writing(engine: Engine) -> Engine:
    """The same engine, whose transactions take SQLite's write lock when they begin."""
    return engine.execution_options(splicewright_writes=True)


@contextlib.contextmanager
def reading(engine: Engine) -> Iterator[Connection]:
    """A transaction that sees the register as it was at its first query, and writes nothing.

    Within `at_one_moment` it is that one's.
    """
    held = _HELD.get()
    if held is not None and held[0] is engine:
        with said_plainly():
            yield held[1]
        return
    with said_plainly(), engine.connect() as connection:
        if engine.dialect.name == "sqlite":
            yield connection
            return
        connection.execution_options(isolation_level="REPEATABLE READ")
        yield connection
        # After a rollback the driver forgets what it has prepared, and every question is parsed
        # and planned anew.
        connection.commit()


@contextlib.contextmanager
def at_one_moment(engine: Engine) -> Iterator[None]:
    """Every `reading` inside, in this thread, is one transaction: it begins and ends once.

    Nothing may be written inside: it would not be seen, and hold a second connection.
    """
    with reading(engine) as connection:
        before = _HELD.set((engine, connection))
        try:
            yield
        finally:
            _HELD.reset(before)


def _set_up_sqlite(connection: sqlite3.Connection, record: object) -> None:
    connection.isolation_level = None  # we begin transactions ourselves
    for pragma in (
        "journal_mode = WAL",
        "synchronous = FULL",
        "foreign_keys = ON",
        "trusted_schema = OFF",
        f"cache_size = -{CACHE}",
    ):
        connection.execute(f"PRAGMA {pragma}")


def _refuse_writes(connection: sqlite3.Connection, record: object) -> None:
    connection.execute("PRAGMA query_only = ON")


def _begin_sqlite(connection: Connection) -> None:
    options = connection.get_execution_options()
    # Who may not write at all is told so at once, and waits for no other writer.
    writes = options.get("splicewright_writes", False) and not options.get("splicewright_reads")
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")


def _make_private(path: Path) -> None:
    """Make the file before SQLite does, readable by its owner only."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        with contextlib.suppress(FileExistsError):
            os.close(os.open(path, os.O_CREAT | os.O_EXCL | os.O_RDWR, 0o600))
        with path.open("rb+"):
            pass
    except OSError as error:
        sentence = f"{path} cannot be opened: {error.strerror}"
        raise InputError(Fault("register", sentence)) from None


def migrate(engine: Engine, to: str = "head") -> None:
    """Bring the tables to the newest migration, in one transaction.

    Raises
    ------
    DamagedError
        The register was made by a newer Splicewright, or is no register.
    """
    with writing(engine).begin() as connection:
        if engine.dialect.name == "postgresql":
            connection.execute(text("SELECT pg_advisory_xact_lock(:n)"), {"n": _MIGRATING})
        there = revision(connection)
        if there == schema.REVISION and to == "head":
            return
        # Imported only when there is something to migrate: it takes long to load.
        from alembic import command
        from alembic.config import Config
        from alembic.script import ScriptDirectory

        config = Config()
        config.set_main_option("script_location", str(Path(__file__).parents[1] / "migrations"))
        config.set_main_option("path_separator", "os")
        config.attributes["connection"] = connection
        known = {s.revision for s in ScriptDirectory.from_config(config).walk_revisions()}
        if there is not None and there not in known:
            msg = (
                f"the register has version {there} of its tables and this Splicewright knows up to "
                f"{schema.REVISION}: it was written by a newer one; install that"
            )
            raise DamagedError(msg)
        if there is None and inspect(connection).get_table_names():
            msg = "the database holds other tables; the register needs one of its own"
            raise DamagedError(msg)
        command.upgrade(config, to)


def revision(connection: Connection) -> str | None:
    """The newest migration that its tables went through; None where there are none."""
    if not inspect(connection).has_table("alembic_version"):
        return None
    version: str | None = connection.execute(
        text("SELECT version_num FROM alembic_version")
    ).scalar()
    return version


@contextlib.contextmanager
def disposed_of_where_it_fails(engine: Engine) -> Iterator[None]:
    """Leaves no connection open where what is inside does not succeed."""
    try:
        yield
    except BaseException:
        engine.dispose()
        raise


def check_sqlite(engine: Engine, tell: Tell = tell_nobody) -> None:
    """SQLite's own check of the file; told where that takes long.

    Raises
    ------
    DamagedError
        It found something.
    """
    if Path(str(engine.url.database)).stat().st_size > LARGE_FILE:
        tell(0, 0, "checking its file")
    with engine.connect() as connection:
        finding = connection.exec_driver_sql("PRAGMA quick_check(1)").scalar()
    if finding != "ok":
        msg = f"the register's file is damaged ({finding}); keep it as it is and {_ADVICE}"
        raise DamagedError(msg)


@contextlib.contextmanager
def said_plainly() -> Iterator[None]:
    """Turn what the database refuses into one sentence of ours."""
    try:
        yield
    except DBAPIError as error:
        raise _plain(error) from error
    except PoolTimeoutError as error:
        msg = "the register is busy (no connection is free); try again: what was recorded is not "
        raise BusyError(msg + "recorded twice") from error


_FULL = ("full", "no space left", "disk i/o error", "file too large")
_DAMAGED = ("malformed", "not a database", "corrupt", "invalid page", "checksum")
_BUSY = (
    "locked",
    "busy",
    "lock timeout",
    "canceling statement due to lock",
    "shutting down",
    "starting up",
    "connection",
    "terminating",
    "server closed",
    "too many clients",
    "in recovery",
)


def _plain(error: DBAPIError) -> Exception:
    lines = str(error.orig).strip().splitlines()
    first = lines[0] if lines else type(error.orig).__name__
    low = str(error.orig).lower()
    if any(sign in low for sign in _DAMAGED):
        return DamagedError(
            f"the register's file is damaged ({first}); keep it as it is and {_ADVICE}"
        )
    if any(sign in low for sign in _FULL):
        return FullError(f"the disk took nothing more ({first}); nothing was recorded; make room")
    if "readonly" in low or "read-only" in low or "permission denied" in low:
        return FullError(f"the register cannot be written ({first}); nothing was recorded")
    if (
        error.connection_invalidated
        or isinstance(error, InterfaceError)
        or any(sign in low for sign in _BUSY)
    ):
        return BusyError(
            f"the register is busy or away ({first}); try again: what was recorded is not "
            "recorded twice"
        )
    return DamagedError(f"the register's database refused: {first}")

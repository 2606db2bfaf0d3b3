"""PostgreSQL copied by its own means, as docs/register.md has it: base backup and archived log.

The server is the one installed on this machine (PostgreSQL 15 and newer were tried); without one,
or where nobody but root could run it, there is nothing to try.
"""

from __future__ import annotations

import getpass
import os
import pwd
import shutil
import socket
import subprocess
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest

from depth import PATIENCE
from splicewright.store.facts.plant_facts import StockMoved
from splicewright.store.sql.register import open_register
from store.making import Clock, Plant

_PLACES = sorted(Path("/usr/lib/postgresql").glob("*/bin"), reverse=True)


def _user() -> str | None:
    """Who runs the server: PostgreSQL refuses root."""
    if os.getuid():
        return getpass.getuser()
    try:
        return pwd.getpwnam("postgres").pw_name
    except KeyError:
        return None


def _as() -> str | None:
    """Whom a process of the server is started as; None for whoever runs the tests."""
    return None if os.getuid() else _user()


_BIN = next((p for p in _PLACES if (p / "pg_basebackup").exists()), None)
pytestmark = pytest.mark.skipif(
    _BIN is None or _user() is None, reason="needs a PostgreSQL server of the system"
)


def _own(path: Path) -> None:
    """Give a path to whoever runs the server."""
    user = _user()
    assert user is not None
    shutil.chown(path, user)


class Cluster:
    """A server of its own in a folder."""

    def __init__(self, folder: Path, name: str) -> None:
        self.folder, self.data = folder, folder / name
        with socket.socket() as found:
            found.bind(("127.0.0.1", 0))
            self.port = found.getsockname()[1]

    @property
    def url(self) -> str:
        return f"postgresql://{_user()}@127.0.0.1:{self.port}/belts"

    def run(self, program: str, *words: str) -> None:
        assert _BIN is not None
        done = subprocess.run(
            [str(_BIN / program), *words], check=False, user=_as(),
            cwd=self.folder, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT, timeout=2 * PATIENCE,
        )  # fmt: skip
        assert done.returncode == 0, (program, done.stdout)

    def control(self, *words: str) -> None:
        log = str(self.folder / f"{self.data.name}.log")
        assert _BIN is not None
        with Path(log).open("ab") as said:
            done = subprocess.run(
                [str(_BIN / "pg_ctl"), "-w", "-D", str(self.data), *words],
                check=False, user=_as(), cwd=self.folder, stdin=subprocess.DEVNULL,
                stdout=said, stderr=said, timeout=2 * PATIENCE,
            )  # fmt: skip
        assert done.returncode == 0, Path(log).read_text()

    def start(self) -> None:
        self.control(
            "-o", f"-p {self.port} -k {self.folder} -c listen_addresses=127.0.0.1", "start"
        )

    def sql(self, text: str, database: str = "belts") -> None:
        self.run("psql", "-h", "127.0.0.1", "-p", str(self.port), "-d", database, "-c", text)


@pytest.fixture
def folder() -> Iterator[Path]:
    # Not in pytest's own folder, which only root may enter when root runs the tests.
    made = Path(tempfile.mkdtemp(prefix="splicewright-archive-"))
    _own(made)
    yield made
    shutil.rmtree(made)


def test_base_backup_and_archive_give_every_archived_fact_back(folder: Path) -> None:
    first, clock, archive = Cluster(folder, "first"), Clock(), folder / "archive"
    archive.mkdir()
    _own(archive)
    first.run("initdb", "-D", str(first.data), "-A", "trust", "-E", "UTF8", "--no-sync")
    with (first.data / "postgresql.conf").open("a") as settings:
        settings.write(
            "archive_mode = on\narchive_timeout = 60\n"
            f"archive_command = 'test ! -f {archive}/%f && cp %p {archive}/%f'\n"
        )
    first.start()
    try:
        first.sql("CREATE DATABASE belts", "postgres")
        with open_register(first.url, clock=clock) as register:
            plant = Plant(clock)
            plant.begin(register)
            for _ in range(50):
                register.append(plant.fact(StockMoved(plant.site, "bolt", 1.0)))
            first.run("pg_basebackup", "-h", "127.0.0.1", "-p", str(first.port), "-D",
                      str(folder / "base"), "-X", "stream", "-c", "fast")  # fmt: skip
            first.run("pg_verifybackup", str(folder / "base"))
            for _ in range(50):
                register.append(plant.fact(StockMoved(plant.site, "bolt", 1.0)))
            kept = list(register.dump())
            first.sql("SELECT pg_switch_wal()")
            waits = "SELECT 1 FROM pg_ls_archive_statusdir() WHERE name LIKE '%.ready'"
            _until(first, f"NOT EXISTS ({waits})")
    finally:
        first.control("-m", "immediate", "stop")
    shutil.rmtree(first.data)  # the disk is gone; base backup and archive lay elsewhere
    again = Cluster(folder, "base")
    with (again.data / "postgresql.conf").open("a") as settings:
        settings.write(f"restore_command = 'cp {archive}/%f %p'\narchive_mode = off\n")
    (again.data / "recovery.signal").touch()
    _own(again.data / "recovery.signal")
    again.start()
    try:
        # It answers reads while it takes the log; then it is a server like any other.
        _until(again, "NOT pg_is_in_recovery()")
        with open_register(again.url, clock=clock) as register:
            assert list(register.dump()) == kept
            assert register.verify().faults == ()
            register.append(plant.fact(StockMoved(plant.site, "bolt", 1.0)))
    finally:
        again.control("-m", "immediate", "stop")


def _until(cluster: Cluster, so: str) -> None:
    """Wait until the server says that it is so."""
    turns = int(PATIENCE * 10)
    cluster.sql(
        f"DO $$ BEGIN FOR i IN 1..{turns} LOOP EXIT WHEN {so}; PERFORM pg_sleep(0.1); "
        f"PERFORM pg_stat_clear_snapshot(); END LOOP; IF NOT ({so}) THEN "
        "RAISE EXCEPTION 'it never came to be'; END IF; END $$"
    )

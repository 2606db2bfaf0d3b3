"""Kill, crowd, lock, fill and spoil: no acknowledged fact is lost, none is there twice."""

from __future__ import annotations

import os
import signal
import sqlite3
import subprocess
import sys
import threading
from pathlib import Path
from uuid import UUID

import psycopg
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from depth import examples, next_line, sized
from splicewright.store import BusyError, DamagedError, FullError
from splicewright.store.database import opening
from splicewright.store.facts.plant_facts import StockMoved
from splicewright.store.sql.register import SqlRegister, open_register
from store.making import Clock, Plant, Server
from store.writer import numbered

ROOT = Path(__file__).parents[3]
WRITES = sized(80, deep=1000)
ENDLESS = 1_000_000


def _start(url: str, site: UUID, first: int, last: int, limit: str = "") -> subprocess.Popen[bytes]:
    words = [sys.executable, "-m", "store.writer", url, str(site), str(first), str(last), limit]
    paths = os.pathsep.join([str(ROOT / "src"), str(ROOT / "tests")])
    return subprocess.Popen(
        [word for word in words if word],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        env={**os.environ, "PYTHONPATH": paths},
    )


def _numbers(register: SqlRegister) -> list[int]:
    """The numbers of the writer's facts, in the order of arrival."""
    whats = [s.what for s in register.facts_since(0, 100_000, ("stock moved",))]
    return [int(w.why.removeprefix("number ")) for w in whats if isinstance(w, StockMoved)]


def test_kill_in_the_middle_of_many_writes(register: SqlRegister, plant: Plant, url: str) -> None:
    acknowledged: list[int] = []
    for after in (3, WRITES * 2 // 5):
        # It has more to write than any machine gets done: whenever the kill comes, it is writing.
        writer = _start(url, plant.site, 0, ENDLESS)
        assert writer.stdout is not None
        # Each writer sends everything again from the first, as a phone does.
        for line in writer.stdout:
            acknowledged.append(int(line))
            if acknowledged[-1] == after:
                break
        writer.send_signal(signal.SIGKILL)
        acknowledged += [int(n) for n in writer.communicate()[0].split()]
        assert writer.returncode == -signal.SIGKILL
    there = _numbers(register)
    assert set(acknowledged) <= set(there)
    assert there == list(range(len(there)))
    end = max(WRITES, len(there) + 10)
    done = _start(url, plant.site, 0, end)
    said, trouble = done.communicate()
    assert done.returncode == 0, trouble.decode()
    assert len(said.split()) == end
    assert _numbers(register) == list(range(end))
    assert register.stock(plant.site)[0].count == end
    assert register.verify().faults == ()


def test_processes_that_send_the_same_at_once(
    register: SqlRegister, plant: Plant, url: str
) -> None:
    each = sized(40, deep=100)
    writers = [_start(url, plant.site, first, first + each) for first in (0, each // 2, each // 2)]
    for writer in writers:
        said, trouble = writer.communicate()
        assert writer.returncode == 0, trouble.decode()
        assert len(said.split()) == each
    sent = each + each // 2
    assert sorted(_numbers(register)) == list(range(sent))
    assert register.stock(plant.site)[0].count == float(sent)
    assert register.verify().faults == ()


def test_threads_that_send_the_same_at_once(register: SqlRegister, plant: Plant) -> None:
    receipts: list[list[int]] = [[] for _ in range(6)]
    failures: list[BaseException] = []

    def send(number: int) -> None:
        try:
            for n in range(40):
                fact = numbered((n * 7 + number) % 40, plant.site)
                receipts[number].append(register.append(fact)[0].seq)
        except BaseException as error:  # told below, in the test's own thread
            failures.append(error)

    threads = [threading.Thread(target=send, args=(number,)) for number in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert failures == []
    assert {frozenset(r) for r in receipts} == {frozenset(range(4, 44))}
    assert sorted(_numbers(register)) == list(range(40))
    assert register.verify().faults == ()


def test_two_threads_keep_the_same_photograph(register: SqlRegister) -> None:
    photo, kept, failures = os.urandom(200_000), [], []

    def keep() -> None:
        try:
            kept.append(register.keep(photo, "image/jpeg"))
        except BaseException as error:
            failures.append(error)

    threads = [threading.Thread(target=keep) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert failures == [] and len(set(kept)) == 1 and len(kept) == 4


@settings(
    max_examples=examples(15), deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)  # fmt: skip
@given(data=st.data())
def test_any_order_in_any_pieces_any_number_of_times(
    register: SqlRegister, plant: Plant, data: st.DataObject
) -> None:
    """An outbox is emptied in pieces, some sent twice, by two phones at their own pace."""
    start = len(_numbers(register))
    facts = [numbered(start + n, plant.site) for n in range(12)]
    order = data.draw(st.lists(st.sampled_from(facts), min_size=1, max_size=30))
    order += data.draw(st.permutations(facts))
    cuts = data.draw(st.lists(st.integers(1, 5), min_size=len(order), max_size=len(order)))
    while order:
        piece, order = order[: cuts[0]], order[cuts.pop(0) :]
        register.append(*piece)
    assert sorted(_numbers(register)) == list(range(start + 12))
    assert register.stock(plant.site)[0].count == start + 12
    assert register.verify().faults == ()


def test_a_full_disk(tmp_path: Path, clock: Clock) -> None:
    path = tmp_path / "register.sqlite"
    plant = Plant(clock)
    with open_register(path) as register:
        plant.begin(register)
    # The file system refuses to let any file grow beyond this: as full to SQLite.
    limit = path.stat().st_size + 200_000
    writer = _start(str(path), plant.site, 0, 5000, str(limit))
    said, trouble = writer.communicate()
    acknowledged = [int(n) for n in said.split()]
    assert writer.returncode == 1
    assert "FullError: the disk took nothing more" in trouble.decode()
    assert "nothing was recorded; make room" in trouble.decode()
    assert acknowledged
    with open_register(path) as register:
        assert _numbers(register) == acknowledged
        assert register.verify().faults == ()
        register.append(numbered(acknowledged[-1] + 1, plant.site))  # room was made


def test_a_full_database_file(tmp_path: Path, clock: Clock) -> None:
    with open_register(tmp_path / "register.sqlite", clock=clock) as register:
        plant = Plant(clock)
        plant.begin(register)
        with register._engine.connect() as connection:
            connection.exec_driver_sql("PRAGMA max_page_count = 60")
        facts = [numbered(n, plant.site) for n in range(2000)]
        before = register.head()
        with pytest.raises(FullError, match="database or disk is full"):
            register.append(*facts)
        assert register.head() == before
        assert register.verify().faults == ()


def test_locked_by_another_process(tmp_path: Path, clock: Clock) -> None:
    path = tmp_path / "register.sqlite"
    with open_register(path, clock=clock, busy_seconds=0.2) as register:
        plant = Plant(clock)
        plant.begin(register)
        hold = (
            "import sqlite3, sys; c = sqlite3.connect(sys.argv[1], isolation_level=None); "
            "c.execute('BEGIN IMMEDIATE'); print('held', flush=True); sys.stdin.read()"
        )
        other = subprocess.Popen(
            [sys.executable, "-c", hold, str(path)], stdin=subprocess.PIPE, stdout=subprocess.PIPE
        )
        assert next_line(other) == b"held\n"
        with pytest.raises(BusyError) as refused:
            register.append(numbered(0, plant.site))
        assert str(refused.value) == (
            "the register is busy or away (database is locked); try again: what was recorded is "
            "not recorded twice"
        )
        assert register.head().seq == 3  # reading goes on
        other.communicate()
        register.append(numbered(0, plant.site))
        assert _numbers(register) == [0]


def test_locked_by_another_session(postgres_url: str, clock: Clock) -> None:
    with open_register(postgres_url, clock=clock, busy_seconds=0.2) as register:
        plant = Plant(clock)
        plant.begin(register)
        with psycopg.connect(postgres_url) as other:
            other.execute("SELECT * FROM register FOR UPDATE")
            with pytest.raises(BusyError, match="try again: what was recorded is not recorded"):
                register.append(numbered(0, plant.site))
        register.append(numbered(0, plant.site))
        assert _numbers(register) == [0]


def test_the_server_drops_its_connections(postgres_url: str, clock: Clock) -> None:
    """As when PostgreSQL is restarted: what is under way fails plainly, then work goes on."""
    with open_register(postgres_url, clock=clock) as register:
        plant = Plant(clock)
        plant.begin(register)
        for number in range(60):
            if number % 20 == 10:
                _drop_connections(postgres_url)
            fact = numbered(number, plant.site)
            try:
                register.append(fact)
            except BusyError:
                register.append(fact)
        assert _numbers(register) == list(range(60))
        assert register.verify().faults == ()


def test_the_server_crashes_and_comes_back(server: Server, postgres_url: str, clock: Clock) -> None:
    with open_register(postgres_url, clock=clock) as register:
        plant = Plant(clock)
        plant.begin(register)
        writer = _start(postgres_url, plant.site, 0, ENDLESS)
        assert writer.stdout is not None
        said = [int(line) for line, _ in zip(writer.stdout, range(50), strict=False)]
        server.crash()
        rest, trouble = writer.communicate()
        acknowledged = [*said, *(int(n) for n in rest.split())]
        assert writer.returncode == 1 and "BusyError" in trouble.decode()
        there = _numbers(register)  # by a connection made anew
        assert there == list(range(len(there)))
        assert len(acknowledged) <= len(there) <= len(acknowledged) + 1
        register.append(*(numbered(n, plant.site) for n in range(60)))  # sent again: once
        assert len(_numbers(register)) == max(60, len(there))
        assert register.verify().faults == ()


def test_the_server_goes_away_in_the_middle(postgres_url: str, clock: Clock) -> None:
    with open_register(postgres_url, clock=clock) as register:
        plant = Plant(clock)
        plant.begin(register)
        with register._writer.connect() as connection:  # a transaction under way is cut off
            connection.exec_driver_sql("SELECT 1")
            _drop_connections(postgres_url)
            with pytest.raises(BusyError, match="busy or away"), opening.said_plainly():
                connection.exec_driver_sql("SELECT 1")
        register.append(numbered(0, plant.site))
        assert _numbers(register) == [0]


def _drop_connections(url: str) -> None:
    with psycopg.connect(url, autocommit=True) as server:
        server.execute(
            "SELECT pg_terminate_backend(pid) FROM pg_stat_activity "
            "WHERE datname = current_database() AND pid <> pg_backend_pid()"
        )


@pytest.mark.parametrize("where", [0, 20 * 4096, -3000])
def test_a_spoilt_file_is_refused_with_advice(where: int, tmp_path: Path, clock: Clock) -> None:
    path = tmp_path / "register.sqlite"
    with open_register(path, clock=clock) as register:
        plant = Plant(clock)
        plant.begin(register)
        register.append(*(numbered(n, plant.site) for n in range(300)))
    with sqlite3.connect(path) as whole:
        whole.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    whole.close()
    with path.open("r+b") as file:
        file.seek(where, os.SEEK_SET if where >= 0 else os.SEEK_END)
        file.write(os.urandom(2500))
    before = path.read_bytes()
    with pytest.raises(DamagedError) as refused:
        open_register(path)
    assert "keep it as it is and restore the newest backup with: splicewright register restore" in (
        str(refused.value)
    )
    assert path.read_bytes() == before


def test_one_changed_letter_is_found_by_verify(tmp_path: Path, clock: Clock) -> None:
    # SQLite has no checksums: its own check passes, the chain does not.
    path = tmp_path / "register.sqlite"
    with open_register(path, clock=clock) as register:
        plant = Plant(clock)
        plant.begin(register)
        register.append(*(numbered(n, plant.site) for n in range(300)))
    raw = path.read_bytes()
    path.write_bytes(raw.replace(b'"why":"number 150"', b'"why":"number 250"'))
    with open_register(path) as register:
        assert register.verify().faults == (
            "fact 154 is not what was recorded: its hash does not fit",
        )


def test_a_foreign_file_is_refused(tmp_path: Path) -> None:
    text = tmp_path / "notes.txt"
    text.write_text("not a register, but somebody's notes\n" * 50)
    with pytest.raises(DamagedError, match="file is not a database"):
        open_register(text)
    other = tmp_path / "other.sqlite"
    with sqlite3.connect(other) as made:
        made.execute("CREATE TABLE photos (id INTEGER)")
    made.close()
    with pytest.raises(DamagedError, match="holds other tables; the register needs one of its own"):
        open_register(other)

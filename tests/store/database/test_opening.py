"""Where the register is, how SQLite is set up, and migrations from an old file with data."""

from __future__ import annotations

import json
import os
import sqlite3
import stat
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from sqlalchemy import (
    Connection,
    Engine,
    MetaData,
    Table,
    Uuid,
    func,
    insert,
    inspect,
    select,
    text,
    update,
)
from sqlalchemy.exc import IntegrityError

from splicewright.errors import InputError
from splicewright.store import BusyError, DamagedError, FullError, PersonRole, State
from splicewright.store.accounts.schema import ACCOUNTS
from splicewright.store.database import opening
from splicewright.store.database.schema import (
    DERIVATION,
    FACTS,
    METADATA,
    REGISTER,
    REVISION,
    SHOWN_SINCE,
    TABLES,
)
from splicewright.store.present.present import ConveyorNow, Row
from splicewright.store.progress import Tell
from splicewright.store.sql import life_counts, verifying
from splicewright.store.sql.appending import fact_values
from splicewright.store.sql.register import SqlRegister, open_as_it_stands, open_register
from store.making import Clock, Plant


def test_sqlite_is_set_up_for_durable_work(tmp_path: Path) -> None:
    path = tmp_path / "new" / "folder" / "register.sqlite"
    with open_register(path) as register, register._engine.connect() as connection:

        def pragma(name: str) -> Any:
            return connection.exec_driver_sql(f"PRAGMA {name}").scalar()

        assert pragma("journal_mode") == "wal"
        assert pragma("synchronous") == 2  # FULL
        assert pragma("foreign_keys") == 1
        assert pragma("busy_timeout") == 10_000
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert stat.S_IMODE(path.parent.stat().st_mode) == 0o700


@pytest.mark.parametrize(
    ("where", "sentence"),
    [
        ("", "register: is empty; accepted is a file, sqlite:///FILE or postgresql://"),
        ("mysql://a:geheim@b/c", r'register: "mysql://a:\*\*\*@b/c" cannot be used; accepted is'),
        ("sqlite://", 'register: "sqlite://" cannot be used'),
        ("sqlite:///:memory:", "cannot be used"),
        ("http://[bad", "cannot be used"),
        ("postgresql://host:port/name", "cannot be read as a URL"),
    ],
)
def test_places_that_are_refused(where: str, sentence: str) -> None:
    with pytest.raises(InputError, match=sentence):
        open_register(where)


def test_a_folder_and_a_missing_file_are_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="cannot be opened: Is a directory"):
        open_register(tmp_path)
    with pytest.raises(InputError, match="there is no register at"):
        open_register(tmp_path / "no.sqlite", make=False)
    assert not (tmp_path / "no.sqlite").exists()


def test_a_server_that_is_away() -> None:
    with pytest.raises(BusyError, match="the register is busy or away"):
        open_register("postgresql://nobody@127.0.0.1:1/none")


def test_the_data_folder_follows_the_system(monkeypatch: pytest.MonkeyPatch) -> None:
    # XDG Base Directory Specification 0.8: $XDG_DATA_HOME, else $HOME/.local/share.
    monkeypatch.setattr(sys, "platform", "linux")
    monkeypatch.setenv("XDG_DATA_HOME", "/data")
    assert opening.data_folder() == Path("/data/splicewright")
    monkeypatch.delenv("XDG_DATA_HOME")
    monkeypatch.setenv("HOME", "/home/ada")
    assert opening.data_folder() == Path("/home/ada/.local/share/splicewright")


def test_importing_opens_nothing(tmp_path: Path) -> None:
    code = (
        "import splicewright.store.sql.register, splicewright.cli.register, sys; "
        "print(*sorted(m for m in ('alembic', 'xlsxwriter', 'python_calamine', 'psycopg') "
        "if m in sys.modules))"
    )
    environment = {**os.environ, "HOME": str(tmp_path), "XDG_DATA_HOME": str(tmp_path)}
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, env=environment
    )
    assert done.stdout.strip() == ""
    assert list(tmp_path.iterdir()) == []


def test_tables_are_what_the_migrations_make(register: SqlRegister) -> None:
    with register._engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": False})
        assert ACCOUNTS.metadata is METADATA
        assert _differences(compare_metadata(context, METADATA)) == []
        there = connection.execute(text("SELECT version_num FROM alembic_version")).scalar()
        assert there == REVISION


def _differences(found: Any) -> list[Any]:
    """What differs, but for what migrations add by hand: foreign keys and the partial index."""
    return [
        d
        for d in found
        if not (
            d[0] == "remove_fk" or (d[0] == "remove_index" and d[1].name == "ix_facts_corrects")
        )
    ]


def test_every_constraint_has_a_name(register: SqlRegister) -> None:
    found = inspect(register._engine)
    for table in METADATA.tables:
        checks = found.get_check_constraints(table)
        for constraint in (*checks, *found.get_foreign_keys(table)):
            assert constraint["name"]
        assert found.get_pk_constraint(table)["name"] == f"pk_{table}"


@pytest.mark.parametrize(
    ("statement", "name"),
    [
        ("UPDATE register SET one = 2", "ck_register_one"),
        ("UPDATE register SET seq = -1", "ck_register_seq"),
        ("UPDATE joints SET state = 'lost'", "ck_joints_state"),
        ("UPDATE joints SET state = 'removed'", "ck_joints_removed"),
        ("UPDATE joints SET seen = 5", "ck_joints_seen"),
        ("UPDATE belts SET length = -1", "ck_belts_length"),
        ("UPDATE conveyors SET file_version = 0", "ck_conveyors_file_version"),
        ("UPDATE subjects SET stream = 'dream'", "ck_subjects_stream"),
    ],
)
def test_checks_hold(register: SqlRegister, plant: Plant, statement: str, name: str) -> None:
    # Autogenerate loses CHECK constraints: these are written by hand and tried here.
    plant.joint(register)
    with pytest.raises(IntegrityError, match=name), register._writer.begin() as connection:
        connection.execute(text(statement))


def test_foreign_keys_hold(register: SqlRegister, plant: Plant) -> None:
    with (
        pytest.raises(IntegrityError, match=r"(?i)foreign key"),
        register._writer.begin() as connection,
    ):
        connection.execute(text("DELETE FROM subjects"))


@pytest.fixture
def old(url: str, second: Callable[..., str], clock: Clock) -> str:
    """A register as its first version of the tables left it: the log with facts, nothing else."""
    where = second(bare=True)
    with open_register(url, clock=clock) as source:
        plant = Plant(clock)
        plant.begin(source)
        plant.joint(source)
        stored = source.facts_since(0)
    engine = opening.connect(opening.read_url(where))
    opening.migrate(engine, "0001")
    with opening.writing(engine).begin() as connection:
        rows = [fact_values(s, s.fact.to_json()) for s in stored]
        connection.execute(insert(FACTS), rows)
        connection.execute(
            text("UPDATE register SET seq = :seq, hash = :hash"),
            {"seq": stored[-1].seq, "hash": stored[-1].hash},
        )
    assert set(inspect(engine).get_table_names()) == {
        "alembic_version", "contents", "facts", "register",
    }  # fmt: skip
    engine.dispose()
    return where


def test_an_old_register_is_brought_up_with_its_data(old: str) -> None:
    with open_register(old) as register:
        assert register.verify().faults == ()
        assert [j.state for j in register.joints()] == [State.PLANNED]
        assert [b.length for b in register.belts(register.conveyors()[0].conveyor)] == [240.0]
        assert register.head().seq == 4
    with open_register(old) as again:
        assert again.head().seq == 4


def _row_of(table: Table, keys: dict[str, Any]) -> dict[str, Any]:
    """A row with something in every column; what refers to another table takes its row."""
    made = {}
    for n, column in enumerate(table.columns):
        others = [f"{k.column.table.name}.{k.column.name}" for k in column.foreign_keys]
        kept = keys.get(others[0]) if others else None
        kind = column.type.python_type
        value: Any = {int: n + 1, float: 1.0, bool: True, bytes: b"x" * 32}.get(kind, "x" * 20)
        if isinstance(column.type, Uuid):
            value = uuid4()
        elif getattr(column.type, "length", None) == 32:
            value = uuid4().hex  # as SQLite keeps a UUID
        made[column.name] = value if kept is None else kept
    return made


@pytest.mark.parametrize("since", ["0002", "0003", "0004", "0005", "0006", "0009", "0017"])
def test_a_register_with_rows_in_every_table_is_brought_up(tmp_path: Path, since: str) -> None:
    """As it stands on disks: every table of an older version holds rows that others refer to.

    SQLite, which makes a table anew for what it cannot alter, and then cannot drop the old one.
    """
    engine = opening.connect(opening.read_url(tmp_path / "old.sqlite"))
    opening.migrate(engine, since)
    then = MetaData()
    then.reflect(engine)
    keys: dict[str, Any] = {}
    filled = [t for t in then.sorted_tables if t.name not in {"alembic_version", "register"}]
    with opening.writing(engine).begin() as connection:
        connection.exec_driver_sql("PRAGMA ignore_check_constraints = ON")
        for table in filled:
            row = _row_of(table, keys)
            connection.execute(insert(table).values(row))
            keys |= {f"{table.name}.{name}": value for name, value in row.items()}
        connection.exec_driver_sql("PRAGMA ignore_check_constraints = OFF")
    opening.migrate(engine)
    now = MetaData()
    now.reflect(engine)
    counted = {"life_counts"}  # made anew from the facts when the register is opened
    with engine.connect() as connection:
        for table in (t for t in filled if t.name not in counted):
            count = connection.execute(select(func.count()).select_from(now.tables[table.name]))
            assert count.scalar() == 1, table.name
        assert connection.exec_driver_sql("PRAGMA foreign_key_check").all() == []
    engine.dispose()


_CALLED_ANEW = {
    "accounts": {"made": "created"},
    "api_tokens": {"made": "created"},
    "errands": {"made": "created", "said": "step"},
    "hooks": {"made": "created", "told": "last_delivery", "said": "failure"},
    "hook_letters": {"said": "failure"},
    "invitations": {"made": "created"},
    "passkey_challenges": {"made": "created"},
    "passkeys": {"made": "created"},
    "phones": {"made": "entries"},
    "push_keys": {"made": "created"},
    "second_factors": {"made": "created"},
}
"""Columns of 0017 that 0018 calls by another name, by table."""
_ALLOWED = {"role": "admin", "units": "metric", "state": "done", "part": "input"}


def _kept(engine: Engine, tables: list[Table]) -> dict[str, list[dict[str, Any]]]:
    with engine.connect() as connection:
        return {t.name: [dict(r._mapping) for r in connection.execute(select(t))] for t in tables}


def test_columns_called_anew_keep_what_they_hold(second: Callable[..., str]) -> None:
    """A register of the version before, with a row in each table, on both databases."""
    where, then, keys = second(bare=True), MetaData(), dict[str, Any]()
    engine = opening.connect(opening.read_url(where))
    opening.migrate(engine, "0017")
    then.reflect(engine)
    needed = {*_CALLED_ANEW, "errand_files"}
    filled = [table for table in then.sorted_tables if table.name in needed]
    with opening.writing(engine).begin() as connection:
        for table in filled:
            row = _row_of(table, keys)
            row |= {name: word for name, word in _ALLOWED.items() if name in row}
            connection.execute(insert(table).values(row))
            keys |= {f"{table.name}.{name}": value for name, value in row.items()}
    before = _kept(engine, filled)
    opening.migrate(engine)
    now = MetaData()
    now.reflect(engine)
    after = _kept(engine, [now.tables[table.name] for table in filled])
    engine.dispose()
    assert set(_CALLED_ANEW) < set(before)
    for name, rows in before.items():
        called = _CALLED_ANEW.get(name, {})
        assert set(called) <= set(rows[0])
        assert after[name] == [{called.get(k, k): v for k, v in row.items()} for row in rows]


def test_a_file_written_by_the_first_version(tmp_path: Path) -> None:
    """A file kept from the first migration, with data in it, opens in every later version."""
    path = tmp_path / "old.sqlite"
    script = (Path(__file__).parents[1] / "old_register.sql").read_text("utf-8")
    with sqlite3.connect(path) as made:
        made.executescript(script)
    made.close()
    with open_register(path) as register:
        assert register.verify().faults == ()
        (joint,) = register.joints()
        assert (joint.label, joint.state) == ("J1", State.RUNNING)
        assert [s.count for s in register.stock(register.sites()[0].site)] == [80.0]
        assert json.loads(next(register.dump()))["facts"] == register.head().seq == 8


def test_a_register_of_the_future_is_refused(register: SqlRegister, url: str) -> None:
    with register._writer.begin() as connection:
        connection.execute(text("UPDATE alembic_version SET version_num = '9999'"))
    with pytest.raises(DamagedError) as refused:
        open_register(url)
    assert str(refused.value) == (
        f"the register has version 9999 of its tables and this Splicewright knows up to {REVISION}"
        ": it was written by a newer one; install that"
    )


def test_many_open_a_new_register_at_once(second: Callable[[], str]) -> None:
    import threading

    where, opened, failures = second(), [], []

    def open_it() -> None:
        try:
            opened.append(open_register(where, busy_seconds=30))
        except BaseException as error:
            failures.append(error)

    threads = [threading.Thread(target=open_it) for _ in range(5)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    for register in opened:
        register.close()
    assert failures == [] and len(opened) == 5


@pytest.mark.parametrize("row", list(TABLES), ids=lambda row: row.__name__)
def test_rows_have_a_column_for_each_field(row: type[Row]) -> None:
    assert [c.name for c in TABLES[row].c] == list(row.__dataclass_fields__)


def test_it_is_read_as_it_stood_while_the_state_is_derived_anew(
    register: SqlRegister, plant: Plant, url: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Readers wait for nobody, and write nothing."""
    monkeypatch.setattr(verifying, "DERIVATION", DERIVATION + 1)  # of the next release
    with register._writer.begin() as connection:
        connection.execute(update(TABLES[ConveyorNow]).values(name="as it stood"))
    seen, count = list[str](), life_counts.count_anew

    def counted(connection: Connection, tell: Tell) -> None:
        with open_as_it_stands(url) as reads:
            seen.extend(c.name for c in reads.conveyors())
            with pytest.raises(FullError, match="cannot be written"):
                plant.joint(reads)
            with pytest.raises(FullError, match="cannot be written"):
                reads.accounts().invite("Ada", PersonRole.ADMIN, None)
        count(connection, tell)

    monkeypatch.setattr(verifying, "count_anew", counted)
    with open_register(url) as anew:
        assert [c.name for c in anew.conveyors()] == ["K2"]
        assert anew.verify().faults == ()
    assert seen == ["as it stood"]


@pytest.mark.parametrize("derivation", [SHOWN_SINCE - 1, DERIVATION + 1])
def test_rows_of_another_derivation_are_not_shown(
    register: SqlRegister, url: str, derivation: int
) -> None:
    with register._writer.begin() as connection:
        connection.execute(update(REGISTER).values(derivation=derivation))
    with pytest.raises(BusyError, match="is being brought up to date"):
        open_as_it_stands(url)


def test_postgresql_compiles_no_query_of_a_page(postgres_url: str) -> None:
    """With a log in parts it took 0.15 s to compile what is answered in 0.01 s."""
    with open_register(postgres_url) as register, register._engine.connect() as connection:
        assert connection.execute(text("SHOW jit")).scalar() == "off"


def test_tables_of_another_release_are_not_shown(register: SqlRegister, url: str) -> None:
    with register._writer.begin() as connection:
        connection.execute(text("UPDATE alembic_version SET version_num = '0015'"))
    with pytest.raises(BusyError, match="is being brought up to date"):
        open_as_it_stands(url)


def test_the_check_of_a_large_file_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Six gigabytes are read for half a minute before the app opens: whoever waits is told."""
    told: list[str] = []

    def tell(done: int, total: int, step: str) -> None:
        told.append(step)

    open_register(tmp_path / "register.sqlite", tell=tell).close()
    assert not told
    monkeypatch.setattr(opening, "LARGE_FILE", 1)
    open_register(tmp_path / "register.sqlite", tell=tell).close()
    assert told == ["checking its file"]

"""Dump and load, backup and restore, and finding out what somebody changed."""

from __future__ import annotations

import json
import os
import sqlite3
import stat
from collections.abc import Callable
from pathlib import Path
from uuid import uuid4

import pytest
from sqlalchemy import create_engine, make_url, text
from sqlalchemy.exc import DBAPIError

from splicewright.errors import InputError, OutputError
from splicewright.store import Correction, DamagedError, Head, Stream
from splicewright.store.facts.joint_facts import (
    JointBuilt,
    JointPlanned,
    JointPutToWork,
    PhotoAdded,
)
from splicewright.store.facts.plant_facts import StockMoved
from splicewright.store.sql.register import SqlRegister, open_register
from splicewright.store.sql.restoring import restore
from store.making import DAY, Clock, Plant


@pytest.fixture
def filled(register: SqlRegister, plant: Plant) -> SqlRegister:
    """A register with a bit of everything: a plan, a photograph, a correction."""
    plan = register.keep(json.dumps({"plan": "ä" * 500}).encode(), "application/json")
    photo = register.keep(os.urandom(3000), "image/jpeg")
    joint = uuid4()
    register.append(
        plant.fact(
            JointPlanned(joint, plant.conveyor, "J1", plant.belt, 60.0, plan, "AB", 9.0, DAY)
        ),
        plant.fact(PhotoAdded(Stream.JOINT, joint, photo, "before")),
    )
    plant.clock.pass_(DAY)
    wrong = plant.fact(StockMoved(plant.site, "bolt", 1000.0))
    register.append(plant.fact(JointBuilt(joint)), plant.fact(JointPutToWork(joint)), wrong)
    right = StockMoved(plant.site, "bolt", 100.0)
    register.append(plant.fact(Correction(Stream.SITE, plant.site, wrong.id, right, "slip")))
    return register


def test_a_dump_gives_the_register_back(filled: SqlRegister, second: Callable[[], str]) -> None:
    lines = list(filled.dump())
    with open_register(second()) as copy:
        assert copy.load(lines) == filled.head()
        assert list(copy.dump()) == lines
        assert copy.verify().faults == ()
        assert copy.facts_since(0) == filled.facts_since(0)
        assert copy.sites() == filled.sites()
        assert copy.joints() == filled.joints()
        assert copy.stock(filled.sites()[0].site) == filled.stock(filled.sites()[0].site)
        with pytest.raises(InputError, match="is not empty; a dump is loaded into an empty one"):
            copy.load(lines)


@pytest.mark.parametrize(
    ("spoil", "sentence"),
    [
        (lambda d: [], "is no dump of a register"),
        (lambda d: ["{}"], "is no dump of a register"),
        (lambda d: [d[0].replace('"format":1', '"format":9'), *d[1:]], "is a dump of format 9"),
        (lambda d: d[:-1], "the dump is cut off or altered: it says 9 facts and 2 contents and"),
        (lambda d: [*d[:-1], d[-1][:100]], "is no JSON: the dump is cut off or damaged"),
        (lambda d: [*d[:4], *d[5:]], "fact 2 is missing"),
        (lambda d: [*d[:2], *d[3:]], "the dump is cut off or altered"),
        (lambda d: [x.replace("1000.0", "10.0") for x in d], "its hash does not fit"),
        (lambda d: [x.replace('"data":"', '"data":"AAAA') for x in d], "not what its digest says"),
        (lambda d: [*d, d[-1]], "fact 10 is missing"),
        (lambda d: [d[0], d[1], d[1], *d[2:]], "the content is there twice"),
        (lambda d: [d[0], "[]"], "is no line of a dump"),
        (lambda d: [d[0], '{"seq":1}'], "is no fact of a dump"),
    ],
)
def test_a_spoilt_dump_changes_nothing(
    filled: SqlRegister,
    second: Callable[[], str],
    spoil: Callable[[list[str]], list[str]],
    sentence: str,
) -> None:
    lines = spoil(list(filled.dump()))
    with open_register(second()) as copy:
        with pytest.raises(InputError, match=sentence):
            copy.load(lines)
        assert copy.head().seq == 0
        assert copy.verify() == copy.verify(Head(0, bytes(32)))


def test_backup_and_restore(filled: SqlRegister, second: Callable[[], str], tmp_path: Path) -> None:
    backup = tmp_path / "backup"
    head = filled.back_up(backup)
    assert head == filled.head()
    assert stat.S_IMODE(backup.stat().st_mode) == 0o600
    assert [p.name for p in tmp_path.iterdir() if "backup" in p.name] == ["backup"]
    with pytest.raises(OutputError, match=r"^backup is already there; it was not touched$"):
        filled.back_up(backup)
    with pytest.raises(OutputError, match="cannot be written: No such file or directory"):
        filled.back_up(tmp_path / "nowhere" / "backup")
    where = second()
    assert restore(backup, where) == (head, None)
    with open_register(where) as restored:
        assert restored.facts_since(0) == filled.facts_since(0)
        assert restored.verify(head).faults == ()
        assert list(restored.dump()) == list(filled.dump())
    with pytest.raises(InputError):
        restore(backup, where)  # never over what is there


def test_a_backup_is_taken_while_others_write(filled: SqlRegister, tmp_path: Path) -> None:
    lines = filled.dump()
    first = next(lines)  # a dump sees the register as it was when it began
    site = filled.sites()[0].site
    plant = Plant(clock=filled._clock, site=site)  # type: ignore[arg-type]
    filled.append(plant.fact(StockMoved(site, "nut", 1.0)))
    assert json.loads(first)["facts"] == sum('"seq":' in line for line in lines) == 9


def test_restore_puts_the_old_file_aside(
    tmp_path: Path, plant: Plant, register: SqlRegister
) -> None:
    backup, there = tmp_path / "backup", tmp_path / "there.sqlite"
    with open_register(there) as old:
        Plant(plant.clock).begin(old)
        before = old.head()
    head = register.back_up(backup)
    with pytest.raises(
        InputError, match=r"there\.sqlite is already there; --replace puts it aside"
    ):
        restore(backup, there)
    got, aside = restore(backup, there, replace=True)
    assert got == head and aside is not None and aside.name.startswith("there.sqlite.before-")
    with open_register(there) as new, open_register(aside) as old:
        assert (new.head(), old.head()) == (head, before)


@pytest.mark.parametrize(
    "content", [b"", b"not a backup", b"\xff\xfe\x00", b"SQLite format 3\x00" * 99]
)
def test_restore_refuses_what_is_no_backup(content: bytes, tmp_path: Path) -> None:
    backup = tmp_path / "backup"
    backup.write_bytes(content)
    with pytest.raises((InputError, DamagedError)):
        restore(backup, tmp_path / "new.sqlite")
    assert not (tmp_path / "new.sqlite").exists()
    with pytest.raises(InputError, match="there is no file missing"):
        restore(tmp_path / "missing", tmp_path / "new.sqlite")


def test_a_dump_moves_between_databases(filled: SqlRegister, other_kind: str) -> None:
    lines = list(filled.dump())
    with open_register(other_kind) as copy:
        copy.load(lines)
        assert list(copy.dump()) == lines
        assert copy.verify(filled.head()).faults == ()


def test_restore_refuses_a_tampered_backup(tmp_path: Path) -> None:
    there = tmp_path / "there.sqlite"
    with open_register(there) as register:
        Plant(Clock()).begin(register)
        register.back_up(tmp_path / "backup")
    with sqlite3.connect(tmp_path / "backup") as forger:
        forger.execute("DROP TRIGGER facts_no_update")
        forger.execute("UPDATE facts SET body = replace(body, 'K2', 'K3')")
    forger.close()
    with pytest.raises(DamagedError, match="backup is not as it was written: fact 2 is not what"):
        restore(tmp_path / "backup", tmp_path / "new.sqlite")
    assert not (tmp_path / "new.sqlite").exists()


def _forge(url: str, *statements: str) -> None:
    """Change the database past the register, as its owner can."""
    engine = create_engine(make_url(url).set(drivername="postgresql+psycopg")
                           if url.startswith("postgres") else url)  # fmt: skip
    with engine.begin() as connection:
        for name in ("facts", "contents"):
            if engine.dialect.name == "sqlite":
                connection.execute(text(f"DROP TRIGGER IF EXISTS {name}_no_update"))
                connection.execute(text(f"DROP TRIGGER IF EXISTS {name}_no_delete"))
            else:
                connection.execute(text(f"DROP TRIGGER IF EXISTS {name}_never_changed ON {name}"))
        for statement in statements:
            connection.execute(text(statement))
    engine.dispose()


@pytest.mark.parametrize(
    ("statement", "faults"),
    [
        ("UPDATE facts SET body = replace(body, '1000.0', '10.0') WHERE seq = 8",
         ["fact 8 is not what was recorded: its hash does not fit"]),
        ("DELETE FROM facts WHERE seq = 5", ["fact 5 is missing"]),
        ("DELETE FROM facts WHERE seq IN (5, 6)", ["facts 5 to 6 are missing"]),
        ("DELETE FROM facts WHERE seq = 9", ["the chain ends at fact 8 and should end at fact 9"]),
        ("UPDATE facts SET received = received + 1 WHERE seq = 3",
         ["fact 3 is not what was recorded: its hash does not fit"]),
        ("UPDATE facts SET kind = 'stock lost' WHERE seq = 8",
         ['fact 8: column "kind" is not what the fact says']),
        ("UPDATE facts SET at = at - 1 WHERE seq = 8",
         ['fact 8: column "at" is not what the fact says']),
        ("UPDATE stock SET count = 5", ["present state of stock"]),
        ("DELETE FROM due", ["present state of due", "present state of due"]),
        ("DELETE FROM contents WHERE media_type = 'image/jpeg'", ["of fact 5 is missing"]),
        ("UPDATE contents SET packed = (packed = false)",
         ["is not what was kept", "is not what was kept"]),
    ],
)  # fmt: skip
def test_tampering_is_located(
    filled: SqlRegister, url: str, statement: str, faults: list[str]
) -> None:
    assert filled.verify().faults == ()
    _forge(url, statement)
    found = filled.verify().faults
    assert len(found) == len(faults)
    assert all(part in said for part, said in zip(faults, found, strict=True))


def test_a_fact_swapped_for_another_is_located(filled: SqlRegister, url: str) -> None:
    _forge(url, "UPDATE facts SET body = (SELECT body FROM facts WHERE seq = 5) WHERE seq = 4")
    assert filled.verify().faults == ("fact 4 is not what was recorded: its hash does not fit",)


def test_a_head_written_down_finds_a_chain_worked_anew(filled: SqlRegister, url: str) -> None:
    written_down = filled.head()
    _forge(
        url,
        "DELETE FROM facts WHERE seq = 9",
        "UPDATE register SET seq = 8, hash = (SELECT hash FROM facts WHERE seq = 8)",
    )
    filled.rebuild()
    assert filled.verify().faults == ()  # this is the limit of a chain without a head
    assert filled.verify(written_down).faults == (
        "fact 9 of the head written down earlier is missing",
    )
    other = Head(8, bytes(32))
    assert filled.verify(other).faults == (
        "fact 8 has another hash than the head written down earlier",
    )


def test_the_database_itself_refuses_changes(filled: SqlRegister, url: str) -> None:
    engine = create_engine(make_url(url).set(drivername="postgresql+psycopg")
                           if url.startswith("postgres") else url)  # fmt: skip
    for statement in (
        "UPDATE facts SET body = '{}'", "DELETE FROM facts", "DELETE FROM contents",
        "UPDATE contents SET size = 1",
    ):  # fmt: skip
        with pytest.raises(DBAPIError, match="are never changed"), engine.begin() as connection:
            connection.execute(text(statement))
    engine.dispose()
    assert filled.verify().faults == ()


def test_opening_refuses_a_log_cut_off(filled: SqlRegister, url: str) -> None:
    _forge(url, "DELETE FROM facts WHERE seq = 9")
    with pytest.raises(DamagedError, match="should end at fact 9 and the log ends at 8"):
        open_register(url)


def test_rebuild_gives_the_same_state(filled: SqlRegister, url: str) -> None:
    joints, due = filled.joints(), filled.due(filled.joints()[0].planned.replace(year=2100))
    _forge(url, "DELETE FROM due", "UPDATE joints SET label = 'X'")
    filled.rebuild()
    assert filled.joints() == joints
    assert filled.due(filled.joints()[0].planned.replace(year=2100)) == due
    assert len(due) == 2

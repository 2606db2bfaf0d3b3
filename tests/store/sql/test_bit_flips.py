"""One bit turned over anywhere in a register's file: verify says so, in sentences.

The pages and cells are found by SQLite's published file format (sqlite.org/fileformat2.html,
sections 1.3, 1.6 and 2.1), read here by hand; nothing of the register tells where they lie.
"""

from __future__ import annotations

import random
import shutil
import sqlite3
import struct
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from click.testing import CliRunner

from depth import sized
from splicewright.cli import main
from splicewright.store.refusals import DamagedError
from splicewright.store.sql.register import open_register
from store.making import Clock, Plant
from store.writer import numbered

_KINDS = {2: "index, inner", 5: "table, inner", 10: "index, leaf", 13: "table, leaf"}
_BESIDE = {"alembic_version", "content_senders", "sqlite_sequence"}
"""Tables without derived state or hashes; accounts and tasks hold no row here."""


@dataclass(frozen=True)
class Cell:
    """The bytes of one cell: of which table or index, of which kind of page."""

    of: str
    kind: str
    at: int
    size: int


def _varint(raw: bytes, at: int) -> tuple[int, int]:
    value = 0
    for n in range(9):
        byte = raw[at + n]
        if n == 8:
            return value << 8 | byte, at + 9
        value = value << 7 | byte & 0x7F
        if byte < 0x80:
            return value, at + n + 1
    raise AssertionError


def cells(path: Path) -> Iterator[Cell]:
    """Every cell of every table and index."""
    raw = path.read_bytes()
    (page_size,) = struct.unpack(">H", raw[16:18])
    connection = sqlite3.connect(path)
    roots = connection.execute(
        "SELECT name, rootpage FROM sqlite_master WHERE rootpage > 1"
    ).fetchall()
    connection.close()
    for name, root in roots:
        todo = [root]
        while todo:
            number = todo.pop()
            start = (number - 1) * page_size
            kind = raw[start]
            inner = kind in {2, 5}
            (count,) = struct.unpack(">H", raw[start + 3 : start + 5])
            pointers = start + (12 if inner else 8)
            if inner:
                todo.append(struct.unpack(">I", raw[start + 8 : start + 12])[0])
            for n in range(count):
                (offset,) = struct.unpack(">H", raw[pointers + 2 * n : pointers + 2 * n + 2])
                here = at = start + offset
                if inner:
                    todo.append(struct.unpack(">I", raw[at : at + 4])[0])
                    at += 4
                if kind == 5:
                    _, at = _varint(raw, at)
                    yield Cell(name, _KINDS[kind], here, at - here)
                    continue
                payload, at = _varint(raw, at)
                if kind == 13:
                    _, at = _varint(raw, at)
                # Section 1.6: what spills goes to overflow pages, which the last 4 bytes name.
                most = page_size - 35 if kind == 13 else (page_size - 12) * 64 // 255 - 23
                least = (page_size - 12) * 32 // 255 - 23
                kept = payload
                if payload > most:
                    kept = least + (payload - least) % (page_size - 4)
                    kept = (kept if kept <= most else least) + 4
                yield Cell(name, _KINDS[kind], here, at + kept - here)


@pytest.fixture(scope="module")
def sound(tmp_path_factory: pytest.TempPathFactory, migrated_file: Path) -> Path:
    """A small register in one file; inner pages of tables and indexes are there too."""
    path = tmp_path_factory.mktemp("sound") / "register.sqlite"
    shutil.copy(migrated_file, path)
    clock = Clock()
    with open_register(path, clock=clock) as register:
        plant = Plant(clock)
        plant.begin(register)
        register.keep(b'{"plan": 1}' * 900, "application/json")
        register.append(*(numbered(n, plant.site) for n in range(400)))
        assert register.verify().faults == ()
    with sqlite3.connect(path) as connection:
        connection.execute("PRAGMA journal_mode = DELETE")
    connection.close()
    return path


def _said(path: Path) -> tuple[str, ...]:
    """What verify says; only what is refused in a sentence counts, anything else is raised."""
    try:
        with open_register(path, check=False) as register:
            return register.verify().faults
    except DamagedError as error:
        return (str(error),)


def _dump(path: Path) -> str:
    connection = sqlite3.connect(path)
    text = "\n".join(connection.iterdump())
    connection.close()
    return text


def test_the_pages_are_all_there(sound: Path) -> None:
    found = list(cells(sound))
    assert {c.kind for c in found} == set(_KINDS.values())
    with sqlite3.connect(sound) as connection:
        (facts,) = connection.execute("SELECT count(*) FROM facts").fetchone()
    connection.close()
    assert sum(c.of == "facts" and c.kind == "table, leaf" for c in found) == facts
    in_index = sum(c.of == "ix_facts_subject_seq" and c.kind.startswith("index") for c in found)
    assert in_index == facts


@pytest.mark.parametrize("kind", sorted(_KINDS.values()))
def test_a_flipped_bit_is_told_in_sentences(sound: Path, tmp_path: Path, kind: str) -> None:
    draw = random.Random(kind)
    by_name: dict[str, list[Cell]] = {}
    for cell in cells(sound):
        if cell.kind == kind and cell.of not in _BESIDE:
            by_name.setdefault(cell.of, []).append(cell)
    raw = sound.read_bytes()
    path = tmp_path / "register.sqlite"
    missed = []
    for n in range(sized(14, deep=150)):
        name = draw.choice(sorted(by_name))
        cell = draw.choice(by_name[name])
        at, bit = cell.at + draw.randrange(cell.size), draw.randrange(8)
        path.write_bytes(raw[:at] + bytes([raw[at] ^ 1 << bit]) + raw[at + 1 :])
        for left in tmp_path.glob("register.sqlite-*"):
            left.unlink()
        told = _said(path)
        # Only the mark of how the present state was derived heals by itself: it is derived anew.
        if not told and not (name == "register" and _dump(path) == _dump(sound)):
            missed.append((n, name, at - cell.at, bit, cell.size))
    assert not missed, missed


def test_a_row_that_its_index_misses_is_told_and_made_anew(sound: Path, tmp_path: Path) -> None:
    path = tmp_path / "register.sqlite"
    shutil.copy(sound, path)
    with sqlite3.connect(path) as connection:
        # An index over fewer rows, under the name and with the root of the whole one.
        (sql,) = connection.execute(
            "SELECT sql FROM sqlite_master WHERE name = 'ix_facts_subject_seq'"
        ).fetchone()
        connection.execute("DROP INDEX ix_facts_subject_seq")
        connection.execute(f"{sql} WHERE seq <> 200")
        connection.execute("PRAGMA writable_schema = ON")
        connection.execute(
            "UPDATE sqlite_master SET sql = ? WHERE name = 'ix_facts_subject_seq'", (sql,)
        )
    connection.close()
    words = ["register", "verify", "--register", str(path)]
    run = CliRunner().invoke(main, words)
    assert run.exit_code == 1
    assert "row 200 missing from index ix_facts_subject_seq" in run.output
    assert "restore the newest backup" in run.output
    assert "Traceback" not in run.output
    assert "all as recorded" in CliRunner().invoke(main, [*words, "--rebuild"]).output


@pytest.mark.parametrize(
    ("statement", "message"),
    [
        ("UPDATE facts SET id = 'no id at all' WHERE seq = 9", "fact 9 cannot be read"),
        ("UPDATE facts SET stream = 'strem' WHERE seq = 9", "fact 9 cannot be read"),
        ("UPDATE facts SET received = 9e18 WHERE seq = 9", "fact 9 cannot be read"),
        ("UPDATE facts SET received = 'noon' WHERE seq = 9", "fact 9 cannot be read"),
        ("UPDATE facts SET body = x'ff00' WHERE seq = 9", "fact 9 cannot be read"),
        ("UPDATE facts SET hash = 'abc' WHERE seq = 9", "fact 9 "),
        ("UPDATE facts SET body = CAST(x'7bff7d' AS TEXT) WHERE seq = 9", "fact 9 cannot be read"),
        ("UPDATE sites SET site = 'xyz'", "present state of sites cannot be read"),
        ("UPDATE subjects SET version = 'no' WHERE rowid = 1", "present state of subjects"),
        ("UPDATE contents SET data = x'00'", "is not what was kept"),
        ("UPDATE contents SET size = 3", "is not what was kept"),
        ("UPDATE contents SET media_type = 'image/gif'", "is not what was kept"),
        ("INSERT INTO account_log (at, change, note) VALUES (1, 'was sold', '')", "account_log"),
    ],
)
def test_a_value_of_no_kind_is_told(
    sound: Path, tmp_path: Path, statement: str, message: str
) -> None:
    path = tmp_path / "register.sqlite"
    shutil.copy(sound, path)
    with sqlite3.connect(path) as connection:
        triggers = "SELECT name FROM sqlite_master WHERE type = 'trigger'"
        for (name,) in connection.execute(triggers).fetchall():
            connection.execute(f"DROP TRIGGER {name}")
        connection.execute("PRAGMA ignore_check_constraints = ON")
        connection.execute(statement)
    connection.close()
    assert any(message in fault for fault in _said(path)), _said(path)
    run = CliRunner().invoke(main, ["register", "joints", "--register", str(path)])
    assert run.exception is None or isinstance(run.exception, SystemExit)

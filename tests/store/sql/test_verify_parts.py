"""A chain checked in parts: each goes on where the last ended; a fault is in its own part."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner
from sqlalchemy import text

from splicewright.cli import main
from splicewright.store import Head
from splicewright.store.facts.facts import FIRST_HASH
from splicewright.store.sql.register import SqlRegister, open_register
from store.making import Clock, Plant

START = Head(0, FIRST_HASH)


@pytest.fixture
def filled(register: SqlRegister, plant: Plant) -> SqlRegister:
    plant.begin(register)
    for _ in range(5):
        plant.joint(register)
    return register


def _parts(register: SqlRegister, size: int) -> list[tuple[int, tuple[str, ...]]]:
    """Where each part ended, and what it found."""
    found, since = [], START
    while True:
        part = register.verify_part(since, size)
        found.append((part.head.seq, part.faults))
        if part.faults or part.head == register.head():
            return found
        since = part.head


@pytest.mark.parametrize("size", [1, 3, 7, 1000])
def test_parts_cover_the_whole_chain(filled: SqlRegister, size: int) -> None:
    last = filled.head().seq
    ends = [*range(size, last, size), last]
    assert _parts(filled, size) == [(end, ()) for end in ends]


def test_a_changed_fact_is_found_in_its_part(filled: SqlRegister, url: str, clock: Clock) -> None:
    last = filled.head().seq
    assert last >= 6
    with filled._writer.begin() as connection:
        if connection.dialect.name == "sqlite":
            connection.execute(text("DROP TRIGGER facts_no_update"))
        else:
            connection.execute(text("ALTER TABLE facts DISABLE TRIGGER ALL"))
        changed = "UPDATE facts SET body = replace(body, 'Example', 'Exemple') WHERE seq = 5"
        connection.execute(text(changed))
    parts = _parts(filled, 2)
    assert [end for end, _ in parts] == [2, 4, 6]
    assert parts[:2] == [(2, ()), (4, ())]
    assert parts[2][1][0] == "fact 5 is not what was recorded: its hash does not fit"
    wrong = Head(4, bytes(32))
    told = filled.verify_part(wrong, 2)
    assert told.faults == ("fact 4 has another hash than the head written down earlier",)
    assert filled.verify_part(Head(last + 9, bytes(32)), 2).faults


def test_on_the_command_line(tmp_path: Path, clock: Clock) -> None:
    path = tmp_path / "register.sqlite"
    with open_register(path, clock=clock) as register:
        plant = Plant(clock)
        plant.begin(register)
        plant.joint(register)
        head = register.head()
    run = ["register", "verify", "--register", str(path)]
    first = CliRunner().invoke(main, [*run, "--part", "3"])
    assert (
        first.exit_code == 0 and "Chain up to fact 3: as recorded; 1 facts are left" in first.output
    )
    since = first.output.rpartition("--since ")[2].strip()
    second = CliRunner().invoke(main, [*run, "--part", "3", "--since", since, "--json"])
    assert json.loads(second.output) == {"checked_to": str(head), "left": 0, "faults": []}
    for words, said in (
        (["--since", since], "goes with --part"),
        (["--part", "3", "--head", since], "goes with --since only"),
        (["--part", "3", "--since", since[:24]], "accepted is"),
        (["--part", "0"], "--part"),
    ):
        assert said in CliRunner().invoke(main, [*run, *words]).output, words

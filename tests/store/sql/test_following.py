"""A copy that follows: the same chain, whatever the database, whenever it is killed."""

from __future__ import annotations

import json
import random
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from uuid import uuid4

import pytest
from click.testing import CliRunner
from sqlalchemy import create_engine, make_url, text

from depth import sized
from splicewright.cli import main
from splicewright.errors import InputError
from splicewright.store import Correction, DamagedError, PersonRole, Stream
from splicewright.store.facts.joint_facts import JointPlanned
from splicewright.store.facts.plant_facts import StockMoved
from splicewright.store.sql.register import SqlRegister, open_register
from splicewright.store.sql.restoring import restore
from store.making import Clock, Plant


def same(register: SqlRegister, where: str | Path) -> None:
    """The copy is the register, down to every fact, content and row of the present state."""
    with open_register(where) as copy:
        assert list(copy.dump()) == list(register.dump())
        assert copy.verify(register.head()).faults == ()
        assert copy.joints() == register.joints()
        assert copy.stock(copy.sites()[0].site) == register.stock(copy.sites()[0].site)


def test_a_copy_gets_what_it_lacks_and_is_the_register(
    register: SqlRegister, plant: Plant, second: Callable[..., str], other_kind: str
) -> None:
    for where in (second(bare=True), other_kind):
        head, came = register.follow(where)
        assert (head, came) == (register.head(), register.head().seq)
        assert register.follow(where) == (head, 0)
        plan = register.keep(json.dumps({"plan": str(uuid4())}).encode(), "application/json")
        joint, wrong = uuid4(), plant.fact(StockMoved(plant.site, "bolt", 9.0))
        planned = JointPlanned(joint, plant.conveyor, str(joint), plant.belt, 60.0, plan)
        register.append(plant.fact(planned), wrong)
        right = StockMoved(plant.site, "bolt", 7.0)
        register.append(plant.fact(Correction(Stream.SITE, plant.site, wrong.id, right, "slip")))
        register.keep(str(uuid4()).encode() * 50, "application/json")  # named by no fact yet
        assert register.follow(where) == (register.head(), 3)
        same(register, where)


def test_what_is_no_copy_is_left_as_it_is(
    register: SqlRegister, plant: Plant, second: Callable[..., str], clock: Clock
) -> None:
    where = second()
    with open_register(where, clock=clock) as other:
        Plant(clock).begin(other)
        before = list(other.dump())
    with pytest.raises(InputError, match="is no copy of this register: its fact 3"):
        register.follow(where)
    ahead = second()
    register.follow(ahead)
    with open_register(ahead, clock=clock) as other:
        other.append(plant.fact(StockMoved(plant.site, "bolt", 1.0)))
    with pytest.raises(InputError, match="its fact 4 is not there, or is another"):
        register.follow(ahead)
    register.append(plant.fact(StockMoved(plant.site, "bolt", 2.0)))
    with pytest.raises(InputError, match="its fact 4 is not there, or is another"):
        register.follow(ahead)
    with open_register(where, clock=clock) as other:
        assert list(other.dump()) == before


def test_damage_is_not_copied(
    register: SqlRegister, plant: Plant, second: Callable[..., str], url: str
) -> None:
    where = second()
    register.follow(where)
    register.append(plant.fact(StockMoved(plant.site, "bolt", 1000.0)))
    engine = create_engine(make_url(url).set(drivername=register._engine.url.drivername))
    with engine.begin() as raw:  # as somebody would who has the database in hand
        if url.startswith("sqlite"):
            raw.execute(text("DROP TRIGGER facts_no_update"))
        else:
            raw.execute(text("ALTER TABLE facts DISABLE TRIGGER ALL"))
        raw.execute(text("UPDATE facts SET body = replace(body, '1000.0', '10.0')"))
    engine.dispose()
    with pytest.raises(DamagedError, match="fact 4 is missing or is not what was recorded"):
        register.follow(where)
    with open_register(where) as copy:
        assert copy.head().seq == 3 and copy.verify().faults == ()


def test_a_backup_and_the_copy_give_all_back(tmp_path: Path) -> None:
    """As docs/register.md has it: accounts from the backup, facts since then from the copy."""
    place, copy, back = (tmp_path / f"{name}.sqlite" for name in ("there", "copy", "back"))
    clock = Clock()
    with open_register(place, clock=clock) as register:
        plant = Plant(clock)
        plant.begin(register)
        accounts = register.accounts(hash_memory=64)
        invited = accounts.invite("Ada Example", PersonRole.LEAD, None)
        accounts.accept(invited, "ada", "three wet stones")
        register.back_up(tmp_path / "backup")
        joint = plant.joint(register)
        register.follow(copy)
        kept = list(register.dump())
    for ending in ("", "-wal", "-shm"):
        Path(f"{place}{ending}").unlink(missing_ok=True)  # the disk is gone
    restore(tmp_path / "backup", back)
    words = ["register", "follow", str(back), "--register", str(copy), "--json"]
    done = CliRunner().invoke(main, words)
    assert done.exit_code == 0 and json.loads(done.output)["came"] == 1
    with open_register(back, clock=clock) as again:
        assert list(again.dump()) == kept and again.joint(joint) is not None
        assert [a.login for a in again.accounts(hash_memory=64).accounts()] == ["ada"]
        assert again.verify().faults == ()


def test_killed_at_any_moment_the_copy_is_a_beginning(tmp_path: Path) -> None:
    place, copy = tmp_path / "register.sqlite", tmp_path / "copy.sqlite"
    clock, draw = Clock(), random.Random(5)
    words = [sys.executable, "-m", "splicewright", "register", "follow", str(copy),
             "--register", str(place), "--every", "1 s"]  # fmt: skip
    with open_register(place, clock=clock) as register:
        plant = Plant(clock)
        plant.begin(register)
        register.follow(copy)
        for _ in range(sized(2, deep=40)):
            many = [plant.fact(StockMoved(plant.site, "bolt", 1.0)) for _ in range(4000)]
            with subprocess.Popen(words, stdout=subprocess.DEVNULL) as going:
                register.append(*many)
                time.sleep(draw.uniform(0.3, 2.5))
                going.kill()
            with open_register(copy, check=False) as there:
                seq = there.head().seq
                assert there.head().seq <= register.head().seq
                assert there.facts_since(seq - 1) == register.facts_since(seq - 1, 1)
        register.follow(copy)
        same(register, copy)


def test_the_command_says_what_came(tmp_path: Path) -> None:
    place, copy, clock = tmp_path / "register.sqlite", tmp_path / "copy.sqlite", Clock()
    with open_register(place, clock=clock) as register:
        Plant(clock).begin(register)
        head = register.head()
    words = ["register", "follow", str(copy), "--register", str(place)]
    assert f"3 facts came; the copy ends at {head}" in CliRunner().invoke(main, words).output
    assert "0 facts came" in CliRunner().invoke(main, words).output
    refused = CliRunner().invoke(main, [*words, "--every", "0.1 s"])
    assert refused.exit_code == 2 and "accepted is 1 s to 24 h" in refused.output

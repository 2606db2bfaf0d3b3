"""The log of a register in PostgreSQL in parts: the same register, and what no part keeps apart."""

from __future__ import annotations

from uuid import uuid4

import pytest
from sqlalchemy import text

from splicewright.errors import InputError
from splicewright.store import ConflictError, Fact
from splicewright.store.facts.joint_facts import JointBuilt, JointPlanned, JointSeen
from splicewright.store.facts.plant_facts import StockMoved
from splicewright.store.sql.partitioning import number_of_parts
from splicewright.store.sql.register import SqlRegister
from store.making import Clock, Plant


def _filled(register: SqlRegister, plant: Plant) -> list[Fact]:
    plant.begin(register)
    facts = []
    for n in range(40):
        joint = uuid4()
        facts += [
            plant.fact(JointPlanned(joint, plant.conveyor, f"J{n}")),
            plant.fact(JointBuilt(joint)),
            plant.fact(StockMoved(plant.site, "bolt", -16.0)),
        ]
    register.append(*facts)
    return facts


def _in_postgresql(register: SqlRegister) -> bool:
    return register._engine.dialect.name == "postgresql"


def test_it_is_the_same_register_in_parts(register: SqlRegister, clock: Clock) -> None:
    plant = Plant(clock)
    facts = _filled(register, plant)
    if not _in_postgresql(register):
        with pytest.raises(InputError, match="accepted is a register in PostgreSQL"):
            register.partition(4)
        return
    joint = facts[0].subject
    before = (
        register.head(), register.facts_since(0), register.facts_about(joint), register.joints(),
        register.fact(facts[7].id), register.newest_about([joint, plant.site], 9),
    )  # fmt: skip
    register.partition(4)
    with register._engine.connect() as connection:
        assert number_of_parts(connection) == 4
        held = [connection.execute(text(f"SELECT count(*) FROM facts_{n}")).scalar_one()
                for n in range(4)]  # fmt: skip
        found = connection.execute(
            text("EXPLAIN SELECT * FROM facts WHERE subject = :s"), {"s": joint}
        )
        plan = "\n".join(found.scalars())
    assert sum(held) == before[0].seq and sum(n > 0 for n in held) > 1
    assert sum(f" on facts_{n} " in plan for n in range(4)) == 1, plan  # one part is read
    assert before == (
        register.head(), register.facts_since(0), register.facts_about(joint), register.joints(),
        register.fact(facts[7].id), register.newest_about([joint, plant.site], 9),
    )  # fmt: skip
    assert register.verify().faults == ()
    (again,) = register.append(facts[3])
    assert again.again
    with pytest.raises(ConflictError):
        register.append(Fact(facts[3].id, clock(), "Ada Example", JointSeen(joint, 1.0)))
    (receipt,) = register.append(plant.fact(JointSeen(joint, 5.0)))
    assert receipt.seq == before[0].seq + 1
    assert register.verify().faults == ()
    with pytest.raises(InputError, match="is parted already, into 4"):
        register.partition(8)


def test_no_part_is_changed_and_a_doubled_id_is_found(register: SqlRegister, clock: Clock) -> None:
    if not _in_postgresql(register):
        return
    facts = _filled(register, Plant(clock))
    for parts in (1, 1000):
        with pytest.raises(InputError, match="accepted is 2 to 256"):
            register.partition(parts)
    register.partition(3)
    for table in ("facts", "facts_0", "facts_2"):
        for act in (f"DELETE FROM {table}", f"UPDATE {table} SET kind = kind", f"TRUNCATE {table}"):
            with register._engine.connect() as connection, pytest.raises(Exception, match="never"):
                connection.execute(text(act))
    # The database no longer sees an id that stands in two parts.
    twice = facts[0].id
    with register._engine.begin() as connection:
        connection.execute(
            text(
                "INSERT INTO facts SELECT max(seq) OVER () + 1, :id, subject, stream, kind, "
                "corrects, at, received, body, hash FROM facts ORDER BY (id = :id), seq LIMIT 1"
            ),
            {"id": twice},
        )
    said = "\n".join(register.verify().faults)
    assert f"two facts have the id {twice}" in said

"""What is asked of one conveyor: the same facts by whatever index, and by the index made for it."""

from __future__ import annotations

from typing import Any
from uuid import uuid4

import pytest
from sqlalchemy import event

from splicewright.joint.inspection.verdict import PlateState
from splicewright.joint.layout import End
from splicewright.quantities import Kind
from splicewright.store import Correction, Stream
from splicewright.store.facts.job_facts import JobOpened
from splicewright.store.facts.joint_facts import (
    InspectionClosed,
    PlateInspected,
    ReadingTaken,
)
from splicewright.store.facts.plant_facts import StockMoved
from splicewright.store.sql.register import SqlRegister
from store.making import Plant

MILLION = {
    "ix_facts_telling": "203001 10 2",
    "ix_facts_kind_seq": "1003001 91182 1",
    "ix_facts_subject_seq": "1003001 46 1",
}
"""What SQLite notes of a register of a million facts: rows, and rows for each thing or kind."""
KINDS = ("plate inspected", "inspection closed", "reading taken")


def _inspected(register: SqlRegister, plant: Plant) -> tuple[Any, list[Any]]:
    """A joint with sound plates, one worn, one worn by correction and one sound by it."""
    joint, inspection = plant.joint(register), uuid4()

    def plate(number: int, state: PlateState) -> PlateInspected:
        note = '"state":"ok"' if state is not PlateState.OK else ""
        return PlateInspected(joint, inspection, End.LEADING, number, state, note)

    plates = [plant.fact(plate(n, PlateState.OK)) for n in range(1, 6)]
    plates += [plant.fact(plate(n, PlateState.WORN)) for n in (6, 7)]
    register.append(
        *plates,
        plant.fact(ReadingTaken(Stream.JOINT, joint, "pin", Kind.LENGTH, 2e-3, "2 mm")),
        plant.fact(InspectionClosed(joint, inspection, False)),
    )
    for number, state in ((1, PlateState.WORN), (7, PlateState.OK)):
        fact, said = plates[number - 1], plate(number, state)
        register.append(plant.fact(Correction(Stream.JOINT, joint, fact.id, said, "slip")))
    return joint, plates


@pytest.mark.parametrize("kinds", [KINDS, KINDS[1:], KINDS[:1], ()])
def test_sound_plates_alone_are_left_out(
    register: SqlRegister, plant: Plant, kinds: tuple[str, ...]
) -> None:
    joint, plates = _inspected(register, plant)
    whole = register.facts_of_things([joint], kinds)
    assert [s.fact.kind for s in whole if s.fact.kind in kinds] == [
        s.fact.kind for s in register.facts_about(joint) if s.fact.kind in kinds
    ]
    some = register.facts_of_things([joint], kinds, sound=False)
    left_out = {f.id for f in plates[1:5]} if "plate inspected" in kinds else set()
    told = {s.fact.id: s.what for s in whole if s.fact.kind in kinds}
    assert {s.fact.id: s.what for s in some if s.fact.kind in kinds} == {
        key: what for key, what in told.items() if key not in left_out
    }


def test_they_are_not_even_looked_at(register: SqlRegister, plant: Plant) -> None:
    """Its own index serves the question, statistics or not, in either database."""
    joint, _ = _inspected(register, plant)
    asked: list[tuple[str, Any]] = []
    event.listen(
        register._engine,
        "before_cursor_execute",
        lambda *a: asked.append((a[2], a[3])),
        named=False,
    )
    things = [joint, plant.conveyor, plant.belt]
    register.facts_of_things(things, KINDS, sound=False)
    register.facts_of_things(things, KINDS[1:])
    questions = [(sql, given) for sql, given in asked if "UNION ALL" in sql or "LATERAL" in sql]
    assert len(questions) == 2
    sqlite = register._engine.dialect.name == "sqlite"
    with register._engine.connect() as connection:
        for setting in () if sqlite else ("enable_seqscan", "enable_sort"):
            connection.exec_driver_sql(f"SET {setting} = off")  # so small a table is read whole
        for sql, given in questions:
            plan = connection.exec_driver_sql(
                f"EXPLAIN {'QUERY PLAN ' if sqlite else ''}{sql}", given
            )
            assert "ix_facts_telling" in str(plan.all())


def test_postgresql_plans_what_is_asked_of_a_conveyor_once(
    register: SqlRegister, plant: Plant
) -> None:
    """With a log in 16 parts it planned for 10 to 40 ms what it answered in one, page by page."""
    if register._engine.dialect.name == "sqlite":
        pytest.skip("SQLite plans in no time")
    joint, _ = _inspected(register, plant)
    for things in ([joint], [joint, plant.belt], [joint, plant.belt, plant.conveyor], [joint]):
        register.facts_of_things(things, KINDS)
        register.facts_of_things(things, KINDS[1:])
    kept = "SELECT generic_plans, custom_plans FROM pg_prepared_statements WHERE statement LIKE %s"
    with register._engine.connect() as connection:
        plans = connection.exec_driver_sql(kept, ("%LATERAL%",)).all()
    # However many things and kinds: one question, prepared when it is asked again.
    assert len(plans) == 1
    assert plans[0].generic_plans >= 6
    assert plans[0].custom_plans == 0


def test_the_movements_of_a_store_cost_a_question_about_a_conveyor_nothing(
    register: SqlRegister, plant: Plant
) -> None:
    """A site is among the things of each of its conveyors; its store grows with every job."""
    if register._engine.dialect.name != "sqlite":
        pytest.skip("SQLite counts the steps of a question; PostgreSQL takes both lists anyway")
    joint, _ = _inspected(register, plant)
    things = [plant.site, joint, *(uuid4() for _ in range(20))]
    steps = 0

    def one_more() -> int:
        nonlocal steps
        steps += 1
        return 0

    def asked() -> int:
        nonlocal steps
        with register._engine.connect() as connection:
            connection.exec_driver_sql("ANALYZE")
            for name, told in MILLION.items():
                connection.exec_driver_sql(
                    "UPDATE sqlite_stat1 SET stat = ? WHERE idx = ?", (told, name)
                )
            connection.commit()
            connection.exec_driver_sql("ANALYZE sqlite_schema")
            connection.connection.set_progress_handler(one_more, 1)
        steps = 0
        assert register.facts_of_things(things, KINDS[2:], sound=False)
        return steps

    movements = [plant.fact(StockMoved(plant.site, "bolt", 1.0)) for _ in range(600)]
    register.append(*movements[:20])
    asked()  # so that every connection knows what is noted
    few = asked()
    register.append(*movements[20:])
    assert asked() < 2 * few, few


def test_any_part_of_a_label_is_found_by_its_index(register: SqlRegister, plant: Plant) -> None:
    for label in ("J12-north", "J21", "j120", "100%", "100x"):
        plant.joint(register, label)

    def found(*like: str) -> list[str]:
        return [j.label for j in register.joints(like=like)]

    assert found("j12") == ["J12-north", "j120"]
    assert found("J12", "NORTH") == ["J12-north"]
    assert found("%") == ["100%"]
    assert found("J12", "21") == []
    if register._engine.dialect.name == "sqlite":
        return
    with register._engine.connect() as connection:
        if not connection.exec_driver_sql(
            "SELECT 1 FROM pg_available_extensions WHERE name = 'pg_trgm'"
        ).first():
            pytest.skip("this PostgreSQL has no pg_trgm; labels are looked through one by one")
        connection.exec_driver_sql("SET enable_seqscan = off")
        connection.exec_driver_sql("SET enable_indexscan = off")
        plan = connection.exec_driver_sql(
            "EXPLAIN SELECT * FROM joints WHERE label ILIKE '%%j12%%'"
        )
        assert "ix_joints_label_parts" in str(plan.all())


def test_sqlite_takes_letters_alike_as_far_as_it_did(register: SqlRegister, plant: Plant) -> None:
    """Each label was made small before it was looked at, which took as long again."""
    if register._engine.dialect.name != "sqlite":
        pytest.skip("PostgreSQL has ILIKE, and an index for it")
    labels = ["J1-Norden", "j1-NORDEN", "Süd", "SÜD", "süd", "50%", "a_b", "a/b", "[x]", "ﬀ", "K"]
    for label in labels:
        plant.joint(register, label)
    asked: list[str] = []
    event.listen(
        register._engine, "before_cursor_execute", lambda *a: asked.append(a[2]), named=False
    )
    small = "SELECT label FROM joints WHERE lower(label) LIKE '%' || lower(?) || '%' ESCAPE '/'"
    for part in ("norden", "NORDEN", "ü", "Ü", "s", "%", "_", "/", "[", "ﬀ", "k", "\u212a"):
        with register._engine.connect() as connection:
            escaped = part.translate({ord(c): f"/{c}" for c in "%_/"})
            before = connection.exec_driver_sql(f"{small} ORDER BY label, joint", (escaped,))
            assert [j.label for j in register.joints(like=[part])] == [*before.scalars()]
    assert not [sql for sql in asked if "lower(" in sql and sql[:30] != small[:30]]


def test_what_lies_at_a_conveyor(register: SqlRegister, plant: Plant) -> None:
    joint, job = plant.joint(register), uuid4()
    register.append(plant.fact(JobOpened(job, plant.conveyor, "renew J1", joint)))
    elsewhere = Plant(plant.clock)
    elsewhere.begin(register)
    elsewhere.joint(register)
    assert register.lies_at(plant.conveyor) == {plant.belt, joint, job}
    assert register.lies_at(uuid4()) == frozenset()

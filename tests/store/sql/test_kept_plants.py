"""Conveyors that are kept until a fact changes one: what is read stands, whoever wrote it."""

from __future__ import annotations

from uuid import uuid4

from sqlalchemy import event

from splicewright.store import Correction, Fact
from splicewright.store.authority import CONSOLE, Actor
from splicewright.store.facts.plant_facts import ConveyorRecorded, PersonRole, SiteAdded, StockMoved
from splicewright.store.sql.register import SqlRegister, open_register
from store.making import Clock, Plant


def test_every_change_is_seen_at_once_by_every_process(
    register: SqlRegister, url: str, plant: Plant, clock: Clock
) -> None:
    with open_register(url, clock=clock, check=False) as other:  # as another process has it

        def names() -> list[list[str]]:
            return [[c.name for c in r.conveyors()] for r in (register, other)]

        plant.begin(register)
        (there,) = register.conveyors()
        assert names() == [[there.name]] * 2
        new = ConveyorRecorded(there.conveyor, there.site, "K1 renamed", None, 240.0, 2.0)
        renamed = plant.fact(new)
        other.append(renamed)
        assert names() == [["K1 renamed"]] * 2
        back = Correction(renamed.stream, renamed.subject, renamed.id, None, "slip")
        register.append(plant.fact(back))
        assert names() == [[there.name]] * 2
        # Taken back within a transaction that fails, nothing is kept of it.
        second, site = uuid4(), uuid4()
        wrong = ConveyorRecorded(second, site, "nowhere", None, 1.0, 1.0)
        try:
            register.append(plant.fact(wrong))
        except Exception as error:
            assert "knows no site" in str(error)
        assert names() == [[there.name]] * 2
        register.append(plant.fact(SiteAdded(site, "Slate Point (invented)")), plant.fact(wrong))
        assert names() == [sorted([there.name, "nowhere"])] * 2
        register.append(plant.fact(StockMoved(site, "bolt", 1.0)))
        for sites, seen in ((None, 2), (frozenset({site}), 1), (frozenset({uuid4()}), 0)):
            who = Actor(uuid4(), "Ada Example", PersonRole.CREW, sites=sites)
            assert len(register.said_by(who).conveyors()) == seen
            assert len(register.said_by(who).conveyors(site)) == (0 if seen == 0 else 1)
        assert len(register.said_by(CONSOLE).conveyors(there.site)) == 1


def test_no_register_reads_what_another_keeps(
    register: SqlRegister, plant: Plant, clock: Clock
) -> None:
    plant.begin(register)
    for n in range(40):  # more than are kept
        name = f"K{n} of many"
        fact = ConveyorRecorded(plant.conveyor, plant.site, name, None, 240.0, 2.0)
        register.append(Fact(uuid4(), clock(), "Ada Example", fact))
        assert [c.name for c in register.conveyors()] == [name]
    register.rebuild()
    assert [c.name for c in register.conveyors()] == ["K39 of many"]


def test_the_log_is_asked_once_for_a_new_fact_and_not_by_every_page(
    register: SqlRegister, plant: Plant
) -> None:
    plant.begin(register)
    register.conveyors()
    asked: list[str] = []
    event.listen(register._engine, "before_cursor_execute", lambda *a: asked.append(a[2]))
    register.conveyors()
    register.append(plant.fact(StockMoved(plant.site, "bolt", 1.0)))
    for facts in (1, 0, 0):  # of another kind: followed once, and nothing read anew
        asked.clear()
        register.conveyors()
        assert sum("FROM facts" in sql for sql in asked) == facts
        assert not any("FROM conveyors" in sql for sql in asked)

"""Facts with numbers that nothing can be are refused; what was recorded before stays readable."""

from __future__ import annotations

from dataclasses import is_dataclass
from typing import Any, get_args, get_type_hints
from uuid import uuid4

import pytest

from splicewright.errors import InputError
from splicewright.quantities import Kind
from splicewright.store import Stream, What
from splicewright.store.facts.facts import Correction, Fact
from splicewright.store.facts.joint_facts import JointMeasured, ReadingTaken
from splicewright.store.facts.kinds import KINDS
from splicewright.store.facts.photo_facts import PhotographMeasured, ValueTaken
from splicewright.store.facts.plant_facts import BeltPlaced, StockMoved
from splicewright.store.facts.sizes import KIND_OF_FIELD, beyond_its_kind
from splicewright.store.sql.register import SqlRegister
from store.making import Clock, Plant


def _told(plant: Plant) -> list[tuple[What, str]]:
    reading = ReadingTaken(Stream.BELT, plant.belt, "cover", Kind.LENGTH, 1e300, "1e300 m")
    return [
        (StockMoved(plant.site, "bolt", 1e308), "what.count: 1e+308 cannot be a count"),
        (StockMoved(plant.site, "bolt", -1e308), "what.count: -1e+308 cannot be a count"),
        (BeltPlaced(uuid4(), plant.conveyor, "B2", 1e-300), "what.length: 1e-300 cannot be"),
        (reading, "what.value: 1e+300 cannot be a length"),
    ]  # fmt: skip


def test_they_are_refused_where_facts_are_appended(register: SqlRegister, clock: Clock) -> None:
    plant = Plant(clock)
    plant.begin(register)
    head = register.head()
    for what, said in _told(plant):
        with pytest.raises(InputError) as refused:
            register.append(plant.fact(what))
        assert said in str(refused.value)
    moved = plant.fact(StockMoved(plant.site, "bolt", 5.0))
    register.append(moved)
    wrong = StockMoved(plant.site, "bolt", 1e200)
    with pytest.raises(InputError, match=r"what\.instead\.count: 1e\+200 cannot be a count"):
        register.append(
            plant.fact(Correction(Stream.SITE, plant.site, moved.id, wrong, "miscounted"))
        )
    assert register.head().seq == head.seq + 1
    # What arithmetic leaves of zero is zero.
    register.append(plant.fact(BeltPlaced(uuid4(), plant.conveyor, "B3", 0.1 + 0.2 - 0.3)))


def test_what_was_recorded_before_is_read(clock: Clock) -> None:
    plant = Plant(clock)
    for what, _ in _told(plant):
        fact = plant.fact(what)
        assert Fact.from_json(fact.to_json()) == fact


def test_numbers_within_a_fact_are_asked_too() -> None:
    """Fault found: of the values of a measured photograph none was asked."""
    taken = ValueTaken("square", "out of square", Kind.LENGTH, 1e-300, 0.001, 1e300)
    measured = PhotographMeasured(
        Stream.JOB, uuid4(), uuid4(), "0" * 64, (taken,), "read and taken"
    )
    (first, second) = beyond_its_kind(measured)
    assert first.key == "what.values.0.measured" and second.key == "what.values.0.taken"
    assert "cannot be a length" in first.sentence


def _dataclasses() -> set[Any]:
    """Those of all kinds of facts, and those within them."""
    found, waiting = set[Any](), [kind.made_by for kind in KINDS.values()]
    while waiting:
        made_by = waiting.pop()
        found.add(made_by)
        within = _named_in(get_type_hints(made_by))
        waiting += [other for other in within if other not in found]
    return {made_by for made_by in found if is_dataclass(made_by)}


def _named_in(hints: Any) -> list[Any]:
    inner = hints.values() if isinstance(hints, dict) else get_args(hints)
    return [one for hint in inner for one in ([hint] if is_dataclass(hint) else _named_in(hint))]


def test_every_number_of_a_fact_says_what_it_measures() -> None:
    """A field of a new kind of fact without one would be recorded whatever its size."""
    without = {
        f"{made_by.__name__}: {name}"
        for made_by in _dataclasses()
        for name, field in made_by.__dataclass_fields__.items()
        if str(field.type).partition(" | ")[0] in {"Number", "Amount"}
        and name not in KIND_OF_FIELD
        and "measure" not in made_by.__dataclass_fields__
    }
    assert not without
    assert ValueTaken in _dataclasses()
    measured = JointMeasured.__dataclass_fields__
    assert {"pin_now", "torn_left"} <= set(measured)
    assert not beyond_its_kind(StockMoved(uuid4(), "bolt", 0.0))

"""Parts of pages that are kept: never stale, never another's, never too many."""

from __future__ import annotations

import time
from collections.abc import Callable
from datetime import datetime, timedelta
from functools import partial
from pathlib import Path
from threading import Barrier, Thread
from uuid import uuid4

import pytest
from fastapi.testclient import TestClient
from markupsafe import Markup

from splicewright.store import Fact, State, Stream
from splicewright.store.facts.facts import Correction
from splicewright.store.facts.joint_facts import DueSet, JointPlanned, JointSeen, Task
from splicewright.store.facts.kinds import What
from splicewright.store.facts.plant_facts import StockMoved
from splicewright.store.register import Head
from splicewright.store.sql.register import SqlRegister, open_register
from splicewright.web.app.answer_cache import Kept, LastAnswers, Touches, always, of_conveyor
from splicewright.web.app.list_marks import due_when, state
from web.conftest import START, Clock

SignedIn = Callable[[str], TestClient]


@pytest.fixture
def register(example_register: SqlRegister) -> SqlRegister:
    """The invented site with its past."""
    return example_register


def test_a_part_is_made_once_and_the_least_wanted_goes_first() -> None:
    made: list[str] = []

    def part(key: str) -> Markup:
        def make() -> Markup:
            made.append(key)
            return Markup(key * 4)

        return kept.part(key, make)

    kept = Kept(most=8)
    assert [part("a"), part("b"), part("a"), part("c"), part("a"), part("b")] == [
        Markup(key * 4) for key in "abacab"
    ]
    assert made == ["a", "b", "c", "b"]
    assert Kept(most=2).part("k", lambda: Markup("more than fits")) == "more than fits"


def test_the_due_list_tells_a_new_fact_at_once_and_the_time_by_the_minute(
    signed_in: SignedIn, register: SqlRegister, clock: Clock
) -> None:
    viewer, crew = signed_in("viewer"), signed_in("crew")
    joint = register.joints(states=[State.RUNNING])[0]

    def due(at: datetime, why: str) -> None:
        what = DueSet(joint.joint, Task.INSPECT, at, why)
        register.append(Fact(uuid4(), clock(), "Ada Example", what))

    due(clock() + timedelta(hours=2), "a first reason")
    for _ in range(2):
        text = viewer.get("/due").text
        assert "a first reason" in text
        assert "Inspect now" not in text
        assert "Inspect now" in crew.get("/due").text
    assert "a first reason" not in viewer.get("/due?ahead=now").text
    due(clock() + timedelta(hours=2), "another reason")
    assert "another reason" in viewer.get("/due").text
    assert "a first reason" not in crew.get("/due").text
    assert "another reason" not in viewer.get("/due?ahead=now").text
    clock.pass_(hours=3)  # nothing is recorded meanwhile
    assert "another reason" in viewer.get("/due?ahead=now").text
    assert viewer.get("/due").text.count("Viewer Example") == 1
    assert "Viewer Example" not in crew.get("/due").text


@pytest.mark.parametrize(
    ("hours", "words"),
    [
        (-25, "2 days overdue"),
        (-1, "1 day overdue"),
        (1, "within a day"),
        (25, "in 1 day<"),
        (24 * 7 + 1, "in 7 days<"),
        (24 * 8 + 1, "in 8 days, <time"),
    ],
)
def test_when_a_task_is_due(hours: int, words: str) -> None:
    assert words in due_when(START + timedelta(hours=hours), START)


def test_a_joint_that_must_not_run_says_so_while_it_is_in_the_belt() -> None:
    assert "must not run" in state(State.SUSPENDED, can_run=False)
    assert "must not run" in state(State.RUNNING, can_run=False)
    assert "must not run" not in state(State.RUNNING, can_run=True)
    assert "must not run" not in state(State.RUNNING)
    assert "must not run" not in state(State.REMOVED, can_run=False)


def _recorded(register: SqlRegister, clock: Clock, *whats: What) -> None:
    register.append(*(Fact(uuid4(), clock(), "Ada Example", what) for what in whats))


def test_an_answer_lasts_until_a_fact_that_touches_it(register: SqlRegister, clock: Clock) -> None:
    kept, made = LastAnswers[int](2), list[int]()
    joint, other = register.joints()[0], register.joints()[-1]
    assert joint.conveyor != other.conveyor
    site = register.sites()[0].site

    def asked(touches: Callable[[int], Touches]) -> int:
        def make() -> int:
            made.append(len(made))
            return made[-1]

        return kept.answer(register, START.date(), "asked", make, touches)

    def here(_: int) -> Touches:
        return of_conveyor(register, joint.conveyor)

    assert [asked(here), asked(here)] == [0, 0]
    _recorded(register, clock, JointSeen(other.joint, 5.0), StockMoved(site, "bolt", 1.0))
    assert asked(here) == 0
    conveyor = register.conveyor(joint.conveyor)
    assert conveyor is not None
    elsewhere = JointPlanned(uuid4(), joint.conveyor, "J900")
    for number, touching in enumerate(
        (
            JointSeen(joint.joint, 5.0),
            elsewhere,  # of no thing that was there
            JointSeen(elsewhere.joint, 5.0),  # of one that has come since
        ),
        1,
    ):
        _recorded(register, clock, touching)
        assert [asked(here), asked(here)] == [number, number]
    # A joint of elsewhere that was recorded wrongly comes here by a correction.
    seen = Fact(uuid4(), clock(), "Ada Example", JointSeen(other.joint, 6.0))
    register.append(seen)
    wrong = Correction(Stream.JOINT, other.joint, seen.id, None, "another joint")
    _recorded(register, clock, wrong)
    assert asked(here) == 4
    # Kept by anything else, it lasts until any fact.
    kept = LastAnswers[int](2)
    assert asked(lambda _: always) == 5
    _recorded(register, clock, StockMoved(site, "bolt", 1.0))
    assert asked(lambda _: always) == 6


def test_an_answer_of_another_register_is_none_of_this(
    register: SqlRegister, clock: Clock, tmp_path: Path
) -> None:
    """A backup put in its place holds other facts under the same numbers."""
    kept = LastAnswers[str](2)
    never: Touches = lambda kind, subject: False  # noqa: E731
    with open_register(tmp_path / "other.sqlite", clock=clock) as other:
        for there, said in ((register, "this"), (other, "that")):
            made = partial(str, said)
            got = kept.answer(there, START.date(), "asked", made, lambda _: never)
            assert got == said
        assert other.since(register.head(), 10) is None
    assert register.since(register.head(), 10) == ()
    first = register.facts_since(0, 1)[0]
    head = Head(1, first.hash)
    assert register.since(head, 10) is None  # more have come than are looked through
    come = register.since(head, 100_000)
    assert come is not None and len(come) == register.head().seq - 1
    facts = register.facts_since(1, 100_000)
    assert come == tuple((s.fact.kind, s.fact.subject) for s in facts)


def test_many_who_ask_at_once_have_it_made_once(register: SqlRegister) -> None:
    """Fault found: fifty people on the page Fleet after a fact had it worked fifty times."""
    kept, made, got = LastAnswers[int](2), list[int](), list[int]()
    together = Barrier(8)

    def make() -> int:
        made.append(1)
        time.sleep(0.2)
        return len(made)

    def ask() -> None:
        together.wait()
        got.append(kept.answer(register, START.date(), "asked", make))

    threads = [Thread(target=ask) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert made == [1] and got == [1] * 8
    with pytest.raises(ZeroDivisionError):  # who fails holds nobody else
        kept.answer(register, START.date(), "other", lambda: 1 // 0)
    assert kept.answer(register, START.date(), "other", lambda: 7) == 7
